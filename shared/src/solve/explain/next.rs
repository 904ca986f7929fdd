//! What to read next in the last stage, by what each reading would settle.
//!
//! Millimetres. A reading that could be taken changes the covariance by a rank-one update; from the
//! spread it would leave follows the chance that an open verdict gets settled. Nothing is solved
//! again. A pair of which neither side was read needs two readings: each has half the worth, and the
//! second follows the first on the list.

mod candidates;
mod questions;

use super::Names;
use crate::adjust::sorting::sort_by;
use crate::adjust::{Along, Joint, Solution};
use crate::damage::{Found, Structure};
use crate::job::{Job, Taken};
use crate::result::NextReading;
use crate::solve::network::Built;
use candidates::Candidate;
use questions::Question;

/// At most this many readings on the list.
const MOST: usize = 8;
/// What a reading is worth that tells a suspect from the rest, beside one verdict settled.
const SUSPECT: f64 = 1.5;
/// A reading that settles less than this is not worth the walk to the car.
const LEAST: f64 = 0.05;
/// Worths that differ by less, relatively, are the same.
const SAME: f64 = 1e-9;
/// A chance from which a question counts as what the reading settles.
const SETTLES: f64 = 0.2;

/// A question that a listed reading asks already is worth this much of itself to the next one.
const ASKED: f64 = 0.5;

pub(super) fn readings(
    job: &Job,
    built: &Built,
    solution: &Solution,
    names: &Names,
    structure: &Structure,
    causes: &[Found],
) -> Vec<NextReading> {
    let Some(stage) = job.stages.len().checked_sub(1) else {
        return Vec::new();
    };
    if built.read[stage].is_empty() {
        return candidates::first_of_stage(job, stage);
    }
    let mut questions = questions::of_stage(job, built, solution, names, structure, causes, stage);
    let candidates = candidates::of_stage(job, built, solution, stage);
    let rows = candidates.iter().map(|candidate| &candidate.row);
    let rows = rows.chain(questions.iter().map(|question| &question.row));
    let joint = solution.joint(rows.cloned().collect());
    let asked: Vec<Along> = (0..questions.len())
        .map(|question| joint.along(candidates.len() + question))
        .collect();
    let worths: Vec<Worth> = (0..candidates.len())
        .map(|index| Worth::of(job, &candidates, index, &questions, &joint, &asked))
        .collect();
    let mut list: Vec<NextReading> = Vec::new();
    let mut taken = vec![false; candidates.len()];
    while list.len() < MOST {
        let open = (0..candidates.len()).filter(|&index| !taken[index]);
        let totals: Vec<(usize, f64)> = open
            .map(|index| (index, worths[index].total(&questions)))
            .collect();
        let worth = totals.iter().map(|(_, worth)| *worth).fold(0.0, f64::max);
        // The first of those that are worth the same; rounding must not choose.
        let best = totals
            .iter()
            .find(|(_, total)| *total >= worth * (1.0 - SAME));
        let Some(&(index, _)) = best.filter(|_| worth >= LEAST) else {
            break;
        };
        taken[index] = true;
        list.push(told(
            job,
            stage,
            &candidates[index],
            &worths[index],
            &questions,
        ));
        let partner = worths[index].partner.filter(|&partner| !taken[partner]);
        if let Some(partner) = partner.filter(|_| list.len() < MOST) {
            taken[partner] = true;
            list.push(told(
                job,
                stage,
                &candidates[partner],
                &worths[partner],
                &questions,
            ));
        }
        // What is settled by one reading need not be settled by the next.
        let share = if worths[index].partner.is_some() {
            2.0
        } else {
            1.0
        };
        for (question, chance, _) in &worths[index].settles {
            let chance = (share * chance).min(1.0);
            let asked = if chance >= SETTLES { ASKED } else { 1.0 };
            questions[*question].weight *= asked * (1.0 - chance);
        }
        if let Some(suspect) = candidates[index].suspect {
            taken
                .iter_mut()
                .zip(&candidates)
                .filter(|(_, other)| other.suspect == Some(suspect))
                .for_each(|(taken, _)| *taken = true);
        }
    }
    list
}

/// What a candidate would settle.
struct Worth {
    /// Question, chance (halved for one of two readings), spread afterwards.
    settles: Vec<(usize, f64, f64)>,
    /// The reading that has to follow.
    partner: Option<usize>,
    suspect: f64,
}

impl Worth {
    /// Rows of `joint` are the candidates'; `asked` are the questions'.
    fn of(
        job: &Job,
        candidates: &[Candidate],
        own: usize,
        questions: &[Question],
        joint: &Joint,
        asked: &[Along],
    ) -> Self {
        let candidate = &candidates[own];
        let mut settles = Vec::new();
        for (index, (question, asked)) in questions.iter().zip(asked).enumerate() {
            let variance = joint.variance_after(asked, own, candidate.partner);
            let share = if candidate.partner.is_some() {
                0.5
            } else {
                1.0
            };
            let after = (variance + question.sheet_variance).sqrt();
            let chance = share * question.chance(job, after);
            if chance > 0.01 {
                settles.push((index, chance, variance.sqrt()));
            }
        }
        Self {
            settles,
            partner: candidate.partner,
            suspect: if candidate.suspect.is_some() {
                SUSPECT
            } else {
                0.0
            },
        }
    }

    fn total(&self, questions: &[Question]) -> f64 {
        let verdicts = self.settles.iter();
        verdicts
            .map(|(question, chance, _)| questions[*question].weight * chance)
            .sum::<f64>()
            + self.suspect
    }
}

fn told(
    job: &Job,
    stage: usize,
    candidate: &Candidate,
    worth: &Worth,
    questions: &[Question],
) -> NextReading {
    let mut settles: Vec<&(usize, f64, f64)> = worth.settles.iter().collect();
    let weight = |entry: &(usize, f64, f64)| questions[entry.0].weight * entry.1;
    sort_by(&mut settles, |a, b| weight(b).total_cmp(&weight(a)));
    let share = if worth.partner.is_some() { 2.0 } else { 1.0 };
    let most = settles.first().map(|entry| (&questions[entry.0], entry.2));
    let mut why = match (candidate.suspect, most) {
        (Some(reading), _) => {
            let id = &job.readings[reading].id;
            format!("a second reading tells whether {id} is misread")
        }
        (None, Some((question, after))) => question.why(after),
        (None, None) => String::new(),
    };
    if worth.partner.is_some() && !why.is_empty() {
        why.push_str("; read both sides");
    }
    let (point, to) = candidate.ends();
    NextReading {
        kind: candidate.taken.kind().to_owned(),
        stage: job.stages[stage].id.clone(),
        setup: match &candidate.taken {
            Taken::Height { setup, .. }
            | Taken::Offset { setup, .. }
            | Taken::Split { setup, .. } => Some(setup.clone()),
            Taken::Span { .. } | Taken::DatumSpan { .. } | Taken::Fix { .. } => None,
        },
        point,
        to,
        settles: settles
            .iter()
            .filter(|entry| share * entry.1 >= SETTLES)
            .map(|entry| questions[entry.0].name.clone())
            .collect(),
        sigma_after_mm: most.map(|(_, after)| after),
        why,
    }
}
