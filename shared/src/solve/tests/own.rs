//! Spreads and tolerances of single points: what they do to rows, quantities and verdicts.

use approx::assert_abs_diff_eq;
use proptest::prelude::*;
use serde_json::json;

use super::car::{Car, id};
use crate::ids::{MemberId, PointId};
use crate::job::any::any_job;
use crate::job::{Job, Member, Sheet};
use crate::jobfile::parse;
use crate::proof::statement::Claims;
use crate::proof::statement::digest_of_result;
use crate::result::JobResult;
use crate::solve::solve;
use crate::verdict::{Verdict, conformity};

/// Two trusted points a metre apart, the one known to a thousandth of a millimetre, and a tape between
/// them that reads a millimetre more.
fn taped(b: &str) -> Job {
    let file = json!({
        "format": "baybook-job/1",
        "points": {
            "a": {"side": "centre", "place": [0, 0, 0], "trusted": true},
            "b": {"side": "centre", "place": [1000, 0, 0], "trusted": true}
        },
        "sheet": {"name": "own", "spread_mm": 0.4, "points": {"a": [0, 0, 0], "b": [1000, 0, 0]},
            "spreads": {"a": [0.001, 0.001, 0.001], "b": [0.4, 0.001, 0.001]}},
        "stages": [{"id": "s"}],
        "readings": [{"id": "r", "stage": "s", "kind": "span", "from": "a", "to": "b",
            "value_mm": 1001, "sigma_mm": 0.3}]
    });
    let file = file
        .to_string()
        .replace("}},\"stages\"", &format!("}}{b}}},\"stages\""));
    parse(&file).unwrap()
}

/// By hand: the target weighs 1/0.4², the tape 1/(0.3² + 0.001²), the rough place 1/300². The deviation
/// is the tape's share of 1 mm; its spread is that of the mean with the target's own. The probabilities
/// are scipy 1.17.1's, `norm.cdf((T - v)/s) - norm.cdf((-T - v)/s)`.
#[test]
fn a_target_s_own_spread_is_its_row_s_weight_and_its_own_tolerance_judges() {
    for (own, tolerance, probability) in [
        ("", None, 0.999_999_789_5),
        (r#","tolerances": {"b": 1.5}"#, Some(1.5), 0.967_378_092_9),
    ] {
        let result = solve(&taped(own));
        let point = &result.stages[0].points[&id("b")];
        let deviation = point.deviation_mm[0].unwrap();
        assert_abs_diff_eq!(deviation, 0.639_997_030_4, epsilon = 1e-6);
        assert_abs_diff_eq!(point.sigma_mm[0], 0.240_000_776_5, epsilon = 1e-6);
        let sigma = point.deviation_sigma_mm[0].unwrap();
        assert_abs_diff_eq!(sigma, 0.466_476_551_1, epsilon = 1e-6);
        assert_abs_diff_eq!(point.conformity[0].unwrap(), probability, epsilon = 1e-6);
        assert_eq!(point.tolerance_mm, tolerance);
    }
}

/// A car on a sheet of its true places.
fn on_sheet() -> Job {
    let mut car = Car::new(84);
    let points = car.truth.places.clone();
    car.truth.places[&id("tower-L")][2] += 15.0;
    let mut job = car.read_all().job;
    job.sheet = Some(Sheet {
        name: "own".to_owned(),
        revision: 1,
        digest: String::new(),
        spread_mm: 0.9,
        points,
        spreads: indexmap::IndexMap::new(),
        tolerances: indexmap::IndexMap::new(),
    });
    job
}

fn with(job: &Job, spreads: &[(&str, [f64; 3])], tolerances: &[(&str, f64)]) -> Job {
    let mut job = job.clone();
    let sheet = job.sheet.as_mut().unwrap();
    sheet.spreads = spreads.iter().map(|(name, own)| (id(name), *own)).collect();
    sheet.tolerances = tolerances
        .iter()
        .map(|(name, own)| (id(name), *own))
        .collect();
    job
}

#[test]
fn a_pair_is_judged_by_both_spreads_and_the_smaller_tolerance() {
    let job = with(
        &on_sheet(),
        &[("tower-L", [0.2, 0.3, 0.4]), ("tower-R", [0.5, 0.6, 0.7])],
        &[("tower-L", 24.0), ("tower-R", 30.0), ("rail-mid-L", 1.0)],
    );
    let result = solve(&job);
    let pair = |left: &str| {
        let mut pairs = result.stages[0].pairs.iter();
        pairs.find(|pair| pair.left == id(left)).unwrap().clone()
    };
    let tower = pair("tower-L");
    for (judged, factor, axis) in [
        (&tower.right_higher_mm, 1.0, 2),
        (&tower.centre_right_mm, 0.5, 1),
        (&tower.right_rearward_mm, 1.0, 0),
        (&tower.width_mm, 1.0, 1),
    ] {
        let Some(value) = judged.value else { continue };
        let left = [0.2, 0.3, 0.4][axis] * factor;
        let right = [0.5, 0.6, 0.7][axis] * factor;
        let sigma = judged.sigma.unwrap().hypot(left).hypot(right);
        let p = conformity(value - judged.target.unwrap(), sigma, 24.0);
        assert_abs_diff_eq!(judged.conformity.unwrap(), p, epsilon = 1e-12);
        assert_eq!(judged.tolerance_mm, Some(24.0));
    }
    assert_eq!(tower.right_higher_mm.verdict, Some(Verdict::Within));
    // One side alone has one of its own: the smaller is that or the shop's.
    assert_eq!(pair("rail-mid-L").right_higher_mm.tolerance_mm, Some(1.0));
    assert_eq!(pair("apron-L").right_higher_mm.tolerance_mm, None);
    let points = &result.stages[0].points;
    assert_eq!(points[&id("tower-R")].tolerance_mm, Some(30.0));
    assert_eq!(points[&id("apron-L")].tolerance_mm, None);
}

/// What explains, and what is read next, ask by the same tolerance as the verdicts.
#[test]
fn nothing_is_explained_that_its_own_tolerance_lets_pass() {
    let mut job = on_sheet();
    job.members
        .insert(MemberId::parse("cell").unwrap(), Member::default());
    job.members.insert(
        MemberId::parse("left-tower").unwrap(),
        Member {
            carried_by: vec![MemberId::parse("cell").unwrap()],
            ..Member::default()
        },
    );
    for (name, point) in &mut job.points {
        let member = if name.as_str() == "tower-L" {
            "left-tower"
        } else {
            "cell"
        };
        point.member = MemberId::parse(member).ok();
    }
    let names: Vec<String> = job.points.keys().map(ToString::to_string).collect();
    let wide: Vec<(&str, f64)> = names.iter().map(|name| (name.as_str(), 90.0)).collect();
    let (usual, wide) = (solve(&job), solve(&with(&job, &[], &wide)));
    let outside = |result: &JobResult| {
        let points = result.stages[0].points.values();
        points
            .flat_map(|point| point.verdict)
            .any(|verdict| verdict == Some(Verdict::Outside))
    };
    let tower = &usual.stages[0].points[&id("tower-L")];
    assert!(outside(&usual), "{tower:?}");
    assert!(!usual.stages[0].causes.is_empty(), "{tower:?}");
    assert!(!outside(&wide) && wide.stages[0].causes.is_empty());
    let open = |result: &JobResult| {
        result
            .next
            .iter()
            .filter(|next| next.why.starts_with("may settle"))
            .count()
    };
    assert!(open(&usual) > 0 && open(&wide) == 0);
}

/// What was signed before sheets had their own stays what it was; an own tolerance is part of it.
#[test]
fn an_own_tolerance_is_signed_and_no_other_is() {
    let job = on_sheet();
    let stage = &job.stages[0].id;
    let usual = solve(&job);
    let claims = Claims::of(&job, &usual, stage).unwrap();
    let text = serde_json::to_string(&claims).unwrap();
    assert!(!text.contains("own_um"), "{text}");
    // 90 mm or 91: the verdicts are the same, what is signed is not.
    let signed = |tolerance| {
        let job = with(&job, &[], &[("apron-L", tolerance)]);
        let result = solve(&job);
        let claims = Claims::of(&job, &result, stage).unwrap();
        assert!(claims.again(&job, &result).unwrap() == claims);
        (
            claims.rule.own_um,
            digest_of_result(&result, stage, claims.grid).unwrap(),
        )
    };
    let (one, other) = (signed(90.0), signed(91.0));
    // The pair is judged by the smaller: the shop's 3 mm for its other side.
    assert_eq!((one.0, other.0), (Some([90_000; 2]), Some([91_000; 2])));
    assert_ne!(one.1, other.1);
}

fn repeated(job: &Job) -> Job {
    let mut job = job.clone();
    let tolerance = job.settings.tolerance_mm;
    if let Some(sheet) = &mut job.sheet {
        let ids: Vec<PointId> = sheet.points.keys().cloned().collect();
        let spread = [sheet.spread_mm; 3];
        sheet.spreads = ids.iter().map(|id| (id.clone(), spread)).collect();
        sheet.tolerances = ids.into_iter().map(|id| (id, tolerance)).collect();
    }
    job
}

fn written(result: &JobResult) -> String {
    serde_json::to_string(result).unwrap()
}

#[test]
fn maps_that_repeat_what_holds_for_all_change_nothing() {
    let job = on_sheet();
    assert_eq!(written(&solve(&repeated(&job))), written(&solve(&job)));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Bit for bit, whatever the job.
    #[test]
    fn maps_that_repeat_change_no_job(mut job in any_job()) {
        if let Some(sheet) = &mut job.sheet {
            sheet.spreads.clear();
            sheet.tolerances.clear();
        }
        prop_assert_eq!(written(&solve(&repeated(&job))), written(&solve(&job)));
    }
}
