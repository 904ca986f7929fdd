//! Sign-offs: what is signed, and that the same book gives the same claims however it is computed.

use crate::book;
use crate::ids::{ReadingId, StageId, ToolId};
use crate::job::{Job, Tool, ToolKind};
use crate::proof::canonical::Difference;
use crate::proof::statement::{
    Checked, Claims, Deed, SignedStatement, StatementError, ToolCheck, digest_of_result,
};
use crate::proof::{Digest, Seed, Signature, read_code};
use crate::result::JobResult;
use crate::solve::{Solver, solve};
use crate::tools::Check;

use super::log::{book_of, car, key, stage, statement};

fn signed() -> SignedStatement {
    let statement = statement("ana", Deed::SignOff, &book_of(&car()));
    SignedStatement::sign(statement, &key("ana")).unwrap()
}

#[test]
fn what_is_signed_is_read_and_verified() {
    let signed = signed();
    let read = SignedStatement::parse(signed.text()).unwrap();
    assert_eq!(read, signed);
    assert_eq!(read.verify(), Ok(()));
    assert_eq!(read.digest(), signed.digest());
    let code = signed.code();
    assert!(
        code.len() == 14 && code.split('-').all(|group| group.len() == 4),
        "{code}"
    );
    assert!(!code.contains(['I', 'L', 'O', 'U']), "{code}");
    // The first four digits are the first 20 bits of the digest: base 32 and hexadecimal agree there.
    let letters = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
    let bits = code[..4]
        .chars()
        .fold(0, |sum, c| sum * 32 + letters.find(c).unwrap());
    assert_eq!(format!("{bits:05x}"), signed.digest().to_string()[..5]);
}

/// A browser signs with a key that never leaves it; only the signature comes back.
#[test]
fn a_signature_made_elsewhere_is_put_together() {
    let statement = signed().statement().clone();
    let signature = key("ana").sign(statement.to_sign().unwrap().as_bytes());
    let whole = SignedStatement::assemble(statement.clone(), key("ana").public(), signature);
    assert_eq!(whole.unwrap(), signed());
    let other = SignedStatement::assemble(statement.clone(), key("ben").public(), signature);
    assert_eq!(other, Err(StatementError::Signature));
    let none = SignedStatement::assemble(statement, key("ana").public(), Signature([0; 64]));
    assert_eq!(none, Err(StatementError::Signature));
}

#[test]
fn unsound_statements_are_not_signed() {
    let sound = signed().statement().clone();
    let refuses = |change: fn(&mut crate::proof::statement::Statement), error: StatementError| {
        let mut statement = sound.clone();
        change(&mut statement);
        assert_eq!(
            SignedStatement::sign(statement, &Seed::new(&[1; 32])),
            Err(error)
        );
    };
    refuses(|s| s.heads.clear(), StatementError::Heads);
    refuses(|s| s.heads.push(s.heads[0]), StatementError::Heads);
    refuses(|s| s.claims.grid.shift_pm = 1_000_000, StatementError::Grid);
    refuses(|s| s.claims.grid.shift_pm = -1, StatementError::Grid);
    let mut huge = sound.clone();
    huge.at_ms = i64::MAX;
    let error = SignedStatement::sign(huge, &Seed::new(&[1; 32])).unwrap_err();
    assert!(error.to_string().starts_with(".at_ms"), "{error}");
}

/// The lasers behind the readings that count, with what the book has of their checks.
#[test]
fn the_checks_of_the_lasers_that_were_used_are_claimed() {
    let mut job = car();
    let laser = |label: &str, level_check| Tool {
        kind: ToolKind::Laser,
        label: label.to_owned(),
        sigma_mm: 0.5,
        per_m_mm: 0.1,
        level_check,
        plumb_check: None,
    };
    let found = Check {
        mm_per_m: 0.0404,
        sigma_mm_per_m: 0.02,
        at: "2026-03-01T07:30:00Z".to_owned(),
        by: "ANA".to_owned(),
    };
    let id = |text: &str| ToolId::parse(text).unwrap();
    let tools = [
        (id("used"), laser("cross-line", Some(found))),
        (id("other"), laser("spare", None)),
    ];
    job.tools = tools.into_iter().collect();
    let claims = |job: &Job| Claims::of(job, &solve(job), &stage()).unwrap().tools;
    assert_eq!(claims(&job), []);
    for setup in job.setups.values_mut() {
        setup.tool = Some(id("used"));
    }
    let checked = Checked {
        at: "2026-03-01T07:30:00Z".to_owned(),
        by: "ANA".to_owned(),
        found_um_per_m: 40,
        sigma_um_per_m: 20,
    };
    let expected = ToolCheck {
        tool: id("used"),
        label: "cross-line".to_owned(),
        level: Some(checked),
        plumb: None,
    };
    assert_eq!(claims(&job), [expected]);
    job.readings
        .retain(|reading| reading.taken.setup().is_none());
    assert_eq!(claims(&job), [], "no reading, no laser");
}

/// Every field of the statement is under the signature.
#[test]
fn no_field_can_be_changed() {
    let text = signed().text().to_owned();
    let mut tried = 0;
    for at in 0..text.len() {
        let old = text.as_bytes()[at];
        let new = match old {
            b'0'..=b'8' | b'a'..=b'y' | b'A'..=b'Y' => old + 1,
            b'9' => b'8',
            _ => continue,
        };
        let mut other = text.clone().into_bytes();
        other[at] = new;
        let other = String::from_utf8(other).unwrap();
        let holds = SignedStatement::parse(&other).is_ok_and(|read| read.verify().is_ok());
        assert!(!holds, "byte {at} of {text}");
        tried += 1;
    }
    assert!(tried > 500, "{tried}");
}

fn claims(result: &JobResult) -> Claims {
    Claims::of(&car(), result, &stage()).unwrap()
}

#[test]
fn claims_say_what_the_result_says() {
    let mut job = car();
    let aside = job.readings[3].id.clone();
    job.readings[3].set_aside = Some(crate::job::SetAside {
        why: "tape slipped".to_owned(),
        by: "ANA".to_owned(),
    });
    let result = solve(&job);
    let claims = Claims::of(&job, &result, &stage()).unwrap();
    assert_eq!(claims.rule.tolerance_um, 3_000);
    assert_eq!(claims.rule.conformity_ppm, 950_000);
    assert_eq!(claims.readings, job.readings.len() as u64 - 1);
    assert_eq!(claims.aside.len(), 1);
    assert_eq!(claims.aside[0].reading, aside);
    let json = serde_json::to_value(&result.stages[0]).unwrap().to_string();
    let count = |word: &str| json.matches(&format!("\"{word}\"")).count() as u64;
    let counts = claims.counts;
    assert_eq!(counts.within, count("within"));
    assert_eq!(counts.outside, count("outside"));
    assert_eq!(counts.unproven, count("unproven"));
    assert!(counts.within > 0 && counts.outside > 0);
    assert!(Claims::of(&job, &result, &"none".parse().unwrap()).is_none());
}

/// The readings in another order, a solution that went on from an earlier one, and a book that was
/// read from its document: sums round differently everywhere, and the claims are the same.
#[test]
fn the_same_readings_give_the_same_claims() {
    let job = car();
    let first = claims(&solve(&job));
    let mut turned = job.clone();
    turned.readings.reverse();
    assert_ne!(turned.readings, job.readings);
    let again = first.again(&turned, &solve(&turned)).unwrap();
    assert_eq!(first.first_difference(&again), None);
    let mut solver = Solver::default();
    let mut fewer = job.clone();
    fewer.readings.truncate(60);
    solver.solve(&fewer);
    let warm = first.again(&job, &solver.solve(&job)).unwrap();
    assert_eq!(first.first_difference(&warm), None);
    let (read, _) = book::read(&book_of(&job));
    let from_book = first.again(&read, &solve(&read)).unwrap();
    assert_eq!(first.first_difference(&from_book), None);
}

#[test]
fn a_moved_reading_gives_other_claims_and_says_where() {
    let job = car();
    let first = claims(&solve(&job));
    let mut moved = job.clone();
    if let crate::job::Taken::Height { value_mm, .. } = &mut moved.readings[0].taken {
        *value_mm += 0.5;
    }
    let again = first.again(&moved, &solve(&moved)).unwrap();
    let difference = first.first_difference(&again).unwrap();
    assert_eq!(difference.field, "result");
    let mut other = first.clone();
    other.suspects.push(ReadingId::parse("d999").unwrap());
    let expected = Difference {
        field: format!("suspects[{}]", first.suspects.len()),
        expected: "null".to_owned(),
        found: "\"d999\"".to_owned(),
    };
    assert_eq!(first.first_difference(&other), Some(expected));
}

/// The whole demo car, whose values move by 1.6e-9 mm when its readings are added up in another order.
#[test]
fn every_stage_of_the_demo_car_gives_the_same_claims() {
    let job = crate::demo::job();
    let result = solve(&job);
    let mut turned = job.clone();
    turned.readings.reverse();
    let again = solve(&turned);
    assert_ne!(result, again);
    for stage in &job.stages {
        let first = Claims::of(&job, &result, &stage.id).unwrap();
        let second = first.again(&turned, &again).unwrap();
        assert_eq!(first.first_difference(&second), None, "{}", stage.id);
    }
}

/// What is doubted in another stage is no matter of the one that is signed. Sign-offs that name all of
/// the job, as they once did, still follow from the book.
#[test]
fn what_is_doubted_is_the_stages_own_and_older_sign_offs_still_hold() {
    let job = crate::demo::job();
    let result = solve(&job);
    let doubted_in = |stage: &StageId| {
        let readings = || job.readings.iter().filter(|one| one.stage == *stage);
        let suspects = result.suspects.iter().map(|suspect| &suspect.reading);
        let suspects: Vec<_> = suspects.collect();
        (
            readings().filter(|one| one.set_aside.is_some()).count(),
            readings().filter(|one| suspects.contains(&&one.id)).count(),
        )
    };
    let mut whole = (Vec::new(), Vec::new());
    let mut named = Vec::new();
    for stage in &job.stages {
        let claims = Claims::of(&job, &result, &stage.id).unwrap();
        let told = (claims.aside.len(), claims.suspects.len());
        assert_eq!(told, doubted_in(&stage.id), "{}", stage.id);
        assert_eq!(claims.doubted_elsewhere(&job), [0, 0]);
        named.push(told);
        whole.0.extend(claims.aside);
        whole.1.extend(claims.suspects);
    }
    let (first, later) = named.split_first().unwrap();
    assert!(first.0 > 0 && first.1 > 0, "{named:?}");
    assert!(later.contains(&(0, 0)), "{named:?}");
    whole.0.sort_by(|a, b| a.reading.cmp(&b.reading));
    whole.1.sort();
    for stage in &job.stages {
        let now = Claims::of(&job, &result, &stage.id).unwrap();
        let mut older = now.clone();
        (older.aside, older.suspects) = whole.clone();
        assert_eq!(older.again(&job, &result).as_ref(), Some(&older));
        let elsewhere = older.doubted_elsewhere(&job);
        let of_stage = [now.aside.len(), now.suspects.len()];
        let all = [whole.0.len(), whole.1.len()];
        let said: [usize; 2] = std::array::from_fn(|at| elsewhere[at] + of_stage[at]);
        assert_eq!(said, all);
    }
    // Half of it is neither the stage nor the job.
    let mut half = Claims::of(&job, &result, &job.stages[1].id).unwrap();
    half.aside = whole.0[..1].to_vec();
    let again = half.again(&job, &result).unwrap();
    assert!(half.first_difference(&again).is_some());
}

/// A thousandth of a millimetre more in one quantity, and a verdict that turned: both change the digest.
#[test]
fn the_digest_holds_values_and_verdicts() {
    let result = solve(&car());
    let first = claims(&result);
    let digest = |result: &JobResult| digest_of_result(result, &stage(), first.grid).unwrap();
    assert_eq!(digest(&result), first.result);
    let mut moved = result.clone();
    let pair = &mut moved.stages[0].pairs[0].right_higher_mm;
    pair.value = pair.value.map(|value| value + 0.001);
    assert_ne!(digest(&moved), first.result);
    let mut turned = result.clone();
    let pair = &mut turned.stages[0].pairs[0].right_higher_mm;
    pair.verdict = match pair.verdict {
        Some(crate::verdict::Verdict::Within) => Some(crate::verdict::Verdict::Outside),
        _ => Some(crate::verdict::Verdict::Within),
    };
    assert_ne!(digest(&turned), first.result);
    // What was not measured is not claimed.
    let mut unread = result.clone();
    for point in unread.stages[0].points.values_mut() {
        for axis in 0..3 {
            if !point.measured[axis] {
                point.xyz_mm[axis] += 1.0;
            }
        }
    }
    assert_ne!(unread, result);
    assert_eq!(digest(&unread), first.result);
}

#[test]
fn a_code_is_read_as_people_type_it() {
    let code = Digest::of(b"abc").code();
    // SHA-256 of "abc" (FIPS 180-4, B.1) begins ba7816bf 8f01cfea; its first 60 bits in groups of 5.
    assert_eq!(code, "Q9W1-DFWF-077Y");
    assert_eq!(read_code("q9wi dfwf-o77y").as_deref(), Some(code.as_str()));
    assert_eq!(read_code("Q9W1DFWF077Y").as_deref(), Some(code.as_str()));
    for none in [
        "",
        "Q9W1-DFWF-075",
        "Q9W1-DFWF-075U",
        "Q9W1-DFWF-077YZ",
        "ñ9W1-DFWF-077Y",
    ] {
        assert_eq!(read_code(none), None, "{none}");
    }
}
