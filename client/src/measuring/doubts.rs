//! What is said of readings and references that do not fit.
//!
//! Where the readings cannot tell which of several is wrong, none of them is named alone.

use shared::job::Job;
use shared::result::{Suspect, TrustTest};

use super::sentences::Voice;

/// Between the parts of a reading in words.
const PART: &str = " · ";

/// A sentence on what does not fit.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doubted {
    /// What it is about: one, or those of which one is wrong.
    pub about: String,
    /// What is said of it.
    pub says: String,
}

impl Voice {
    /// Of a reading that the others contradict.
    #[must_use]
    pub fn suspect(self, job: &Job, suspect: &Suspect) -> Doubted {
        let words = self.measuring;
        let size = format!(
            "{} {}",
            words.error_about,
            self.figures.size(suspect.error_mm)
        );
        if let Some(group) = self.group(job, &suspect.one_of, &size) {
            return group;
        }
        let slip = suspect.slip_code.as_deref();
        let slip = slip.map(|code| format!("{PART}{} {}", words.slip, self.slip(code)));
        Doubted {
            about: self.row(job, suspect.reading.as_str()),
            says: format!(
                "{}{PART}{size}{}",
                words.suspect_says,
                slip.unwrap_or_default()
            ),
        }
    }

    /// Of a reference that does not fit.
    #[must_use]
    pub fn bent(self, job: &Job, test: &TrustTest) -> Doubted {
        let words = self.measuring;
        let size = test.error_mm.map(|error| self.figures.size(error));
        let size = size.unwrap_or_default();
        let off = format!("{} {size}", words.error_about);
        if let Some(group) = self.group(job, &test.one_of, &off) {
            return group;
        }
        let points: Vec<String> = test.points.iter().map(|id| self.point(job, id)).collect();
        Doubted {
            about: points.join(" / "),
            says: format!("{} {size} ({})", words.trust_says, self.axis(&test.axis)),
        }
    }

    /// Of several of which one is wrong; `None` where it is one alone.
    fn group(self, job: &Job, names: &[String], size: &str) -> Option<Doubted> {
        (names.len() > 1).then(|| Doubted {
            about: self.either(job, names),
            says: format!("{}{PART}{size}", self.measuring.one_wrong),
        })
    }

    /// Readings and rows of trust, one or the other; what they begin with alike is said once.
    fn either(self, job: &Job, names: &[String]) -> String {
        let rows: Vec<String> = names.iter().map(|name| self.row(job, name)).collect();
        let alike = begin_alike(&rows);
        let ends: Vec<&str> = rows.iter().map(|row| &row[alike..]).collect();
        let begin = rows.first().map_or("", |row| &row[..alike]);
        format!("{begin}{}", ends.join(&format!(" {} ", self.measuring.or)))
    }
}

/// How many bytes of whole parts all rows begin with alike; each has a part of its own left.
fn begin_alike(rows: &[String]) -> usize {
    let Some((first, rest)) = rows.split_first() else {
        return 0;
    };
    let ends = first.match_indices(PART).map(|(at, part)| at + part.len());
    let all = |end: &usize| rest.iter().all(|row| row.get(..*end) == first.get(..*end));
    ends.take_while(all).last().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measuring::concerns;
    use crate::measuring::figures::Figures;
    use crate::text::{Language, Speaks};

    fn voice() -> Voice {
        let language = Language::English;
        Voice::of(language.words(), language.measuring(), Figures::default())
    }

    fn suspect(one_of: &[&str]) -> Suspect {
        Suspect {
            reading: shared::ids::ReadingId::parse(one_of[0]).unwrap(),
            error_mm: -13.0,
            sigma_mm: 1.0,
            t: 9.0,
            one_of: one_of.iter().map(ToString::to_string).collect(),
            slip: None,
            slip_code: Some("ten".to_owned()),
            difference: Vec::new(),
        }
    }

    #[test]
    fn of_several_none_is_named_alone_and_what_they_share_is_said_once() {
        let job = shared::demo::job();
        let heights: Vec<&shared::job::Reading> = job
            .readings
            .iter()
            .filter(|reading| reading.taken.kind() == "height")
            .collect();
        let one = heights[0];
        let same = heights
            .iter()
            .find(|it| it.id != one.id && it.taken.points().next() == one.taken.points().next());
        let same = same.expect("a point is read more than once");
        let said = voice().suspect(&job, &suspect(&[one.id.as_str(), same.id.as_str()]));
        let [a, b] = [one, *same].map(|reading| voice().reading(&job, reading));
        let point = voice().point(&job, one.taken.points().next().unwrap());
        assert_eq!(said.about.matches(&point).count(), 1, "{said:?}");
        assert!(a.starts_with(&format!("height · {point} · ")), "{a}");
        let end = &b[format!("height · {point} · ").len()..];
        assert_eq!(said.about, format!("{a} or {end}"));
        assert_eq!(
            said.says,
            "contradict each other: one is wrong · off by about 13.0 mm"
        );
        let trusted = voice().suspect(
            &job,
            &suspect(&[one.id.as_str(), "sill-front-L/sill-front-R z"]),
        );
        assert!(
            trusted.about.starts_with(&format!("{a} or ")),
            "{trusted:?}"
        );
        assert!(trusted.about.ends_with("(height)"), "{trusted:?}");
    }

    #[test]
    fn one_alone_says_its_likely_slip() {
        let job = shared::demo::job();
        let id = job.readings[0].id.as_str();
        let said = voice().suspect(&job, &suspect(&[id]));
        assert_eq!(said.about, voice().row(&job, id));
        let slip = voice().slip("ten");
        assert!(
            said.says
                .ends_with(&format!("off by about 13.0 mm · likely: {slip}")),
            "{said:?}"
        );
    }

    #[test]
    fn a_group_is_known_again_whichever_of_it_is_tested_first() {
        let name = |one_of: &[&str]| {
            let concern = concerns::Concern::Suspect(suspect(one_of));
            concerns::named(vec![concern])[0].0.clone()
        };
        assert_eq!(name(&["01A", "01B"]), name(&["01B", "01A"]));
        assert_ne!(name(&["01A"]), name(&["01B"]));
    }

    #[test]
    fn rows_that_are_the_same_keep_a_part_each() {
        let rows = ["a · b · c", "a · b · c"].map(str::to_owned);
        assert_eq!(begin_alike(&rows), "a · b · ".len());
        assert_eq!(begin_alike(&["a · b", "ab · b"].map(str::to_owned)), 0);
        assert_eq!(begin_alike(&[]), 0);
    }
}
