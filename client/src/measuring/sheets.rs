//! Sheets and what is learned from cars, in words.

use shared::ids::PointId;
use shared::job::Job;
use shared::library::{
    Comparison, Effect, Gap, Learned, Note, OriginKind, Quantity, SheetLine, Subject,
};
use shared::verdict::Verdict;

use super::figures::Figures;
use super::sentences::Voice;
use crate::components::mark::verdict_word;
use crate::text::library::Library;
use shared::speech::{Quantity as OfPair, counted, fill};

/// The axes' names.
const AXES: [&str; 3] = ["x", "y", "z"];

/// A revision in one line: `revision 3 · Weide Bach 2019–2024 · 24 points · typed from a manual`.
#[must_use]
pub fn line(words: &Library, line: &SheetLine) -> String {
    let body = &line.summary.body;
    let years = body
        .years
        .map(|years| format!("{}–{}", years.from, years.to));
    let years = years.unwrap_or_default();
    let body: Vec<&str> = [&body.maker, &body.model, &body.style, &years]
        .into_iter()
        .map(String::as_str)
        .filter(|part| !part.is_empty())
        .collect();
    let origin = match line.summary.origin {
        OriginKind::Manual => words.manual.to_owned(),
        OriginKind::Imported => words.imported.to_owned(),
        OriginKind::Measured => match line.summary.cars {
            0 => words.measured.to_owned(),
            cars => counted(words.car_one, words.cars, cars as usize),
        },
    };
    let parts = [
        fill(words.revision, &[&line.revision.to_string()]),
        body.join(" "),
        counted(words.point_one, words.points, line.summary.points),
        origin,
        line.summary.by.clone(),
        line.shared_by
            .as_ref()
            .map(|shop| fill(words.shared_by, &[shop]))
            .unwrap_or_default(),
    ];
    let parts: Vec<String> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    parts.join(" · ")
}

/// What a new revision says otherwise.
#[must_use]
pub fn comparison(words: &Library, figures: Figures, found: &Comparison) -> Vec<String> {
    let mut lines = Vec::new();
    for (count, one, many) in [
        (found.came.len(), words.came_one, words.came),
        (found.went.len(), words.went_one, words.went),
    ] {
        if count > 0 {
            lines.push(counted(one, many, count));
        }
    }
    let largest = found
        .moved
        .iter()
        .flat_map(|moved| moved.move_mm)
        .fold(0.0_f64, |largest, by| largest.max(by.abs()));
    if !found.moved.is_empty() {
        let text = match found.moved.len() {
            1 => words.moved_one,
            _ => words.moved,
        };
        let count = found.moved.len().to_string();
        lines.push(fill(text, &[&count, &figures.length(largest)]));
    }
    if *found == Comparison::default() {
        lines.push(words.same.to_owned());
    }
    lines
}

/// What was learned, and what its reader has to know.
#[must_use]
pub fn learned(words: &Library, figures: Figures, learned: &Learned) -> Vec<String> {
    let cars = learned.points.values().flat_map(|point| point.cars).max();
    let mut lines = vec![format!(
        "{} · {}",
        counted(words.point_one, words.points, learned.points.len()),
        counted(words.car_one, words.cars, cars.unwrap_or(0))
    )];
    let widest = learned
        .points
        .values()
        .flat_map(|point| point.prediction_95_mm)
        .fold(0.0_f64, f64::max);
    if widest > 0.0 {
        lines.push(fill(words.spread, &[&figures.length(widest)]));
    }
    let label = |id: &PointId| {
        let point = learned.sheet.points.get(id);
        let label = point.map(|point| point.label.clone()).unwrap_or_default();
        match label.is_empty() {
            true => id.to_string(),
            false => label,
        }
    };
    let designed: Vec<&Gap> = learned.gaps.iter().filter(|gap| gap.designed()).collect();
    if !designed.is_empty() {
        lines.push(words.gaps.to_owned());
    }
    for gap in designed {
        for (axis, value) in AXES.iter().zip(gap.value_mm) {
            if let Some(value) = value {
                let by = figures.length(value);
                let sides = [gap.left.to_string(), gap.right.to_string()];
                lines.push(fill(words.gap, &[&sides[0], &sides[1], &by, axis]));
            }
        }
    }
    if !learned.odd.is_empty() {
        lines.push(words.odd_title.to_owned());
    }
    for odd in &learned.odd {
        let by = figures.length(odd.off_mm);
        let axis = AXES.get(odd.axis).copied().unwrap_or_default();
        lines.push(fill(words.odd, &[&odd.car, &label(&odd.point), &by, axis]));
    }
    let said = |found: &Note| note(words, figures, found);
    lines.extend(learned.notes.iter().filter_map(said));
    lines.extend(left_out(words, &learned.notes));
    lines
}

/// Points that no car measured, together for each direction.
fn left_out(words: &Library, notes: &[Note]) -> Vec<String> {
    let along = |measured: &str| {
        let points = notes.iter().filter_map(|note| match note {
            Note::NotMeasured { point, axis } => measured.contains(*axis).then_some(point.as_str()),
            _ => None,
        });
        let names = points.collect::<Vec<_>>().join(", ");
        (!names.is_empty()).then(|| fill(words.note_not_measured, &[measured, &names]))
    };
    AXES.into_iter().filter_map(along).collect()
}

/// What the reader of a learned sheet has to know, in words.
fn note(words: &Library, figures: Figures, note: &Note) -> Option<String> {
    Some(match note {
        Note::NoCars => words.note_no_cars.to_owned(),
        Note::OneCar { prior_mm } => fill(words.note_one_car, &[&figures.length(*prior_mm)]),
        Note::FewCars { points, prior_mm } => fill(
            match points {
                1 => words.note_few_cars_one,
                _ => words.note_few_cars,
            },
            &[&points.to_string(), &figures.length(*prior_mm)],
        ),
        Note::NotSolved { car } => fill(words.note_not_solved, &[car]),
        Note::NotAligned { car } => fill(words.note_not_aligned, &[car]),
        Note::Disagrees { car, point } => fill(words.note_disagrees, &[car, point.as_str()]),
        // Told of all points of an axis at once.
        Note::NotMeasured { .. } => return None,
        Note::Unsettled { point } => fill(words.note_unsettled, &[point.as_str()]),
    })
}

/// A quantity of a history: `strut tower, front bolt: height`.
#[must_use]
pub fn quantity(voice: Voice, job: &Job, quantity: &Quantity) -> String {
    match quantity {
        Quantity::Pair(left, _, name) => pair(voice, job, left, name),
        Quantity::Point(id, axis) => coordinate(voice, job, id, *axis),
    }
}

fn coordinate(voice: Voice, job: &Job, id: &PointId, axis: usize) -> String {
    let axis = AXES.get(axis).copied().unwrap_or_default();
    format!("{}: {axis}", voice.point(job, id))
}

fn pair(voice: Voice, job: &Job, left: &PointId, name: &str) -> String {
    let label = job.points.get(left).map(|point| point.label.clone());
    let label = label.filter(|label| !label.is_empty());
    let name = match name {
        "right_higher_mm" => voice.quantity_name(OfPair::RightHigher),
        "centre_right_mm" => voice.quantity_name(OfPair::CentreRight),
        "right_rearward_mm" => voice.quantity_name(OfPair::RightRearward),
        _ => voice.quantity_name(OfPair::Width),
    };
    format!("{}: {name}", label.unwrap_or_else(|| left.to_string()))
}

/// One judgement that a sheet would change: `pull 1 · strut tower, z: unproven to within`.
#[must_use]
pub fn effect(voice: Voice, words: &Library, job: &Job, effect: &Effect) -> String {
    let stage = job.stages.iter().find(|stage| stage.id == effect.stage);
    let stage = stage.map(|stage| stage.label.clone()).unwrap_or_default();
    let subject = match &effect.subject {
        Subject::Point(id, axis) => coordinate(voice, job, id, *axis),
        Subject::Pair(left, _, quantity) => pair(voice, job, left, quantity),
    };
    let said = |verdict: Option<Verdict>, deviation_mm: Option<f64>| {
        let verdict = verdict.map(|verdict| verdict_word(voice.words, verdict));
        let verdict = verdict.unwrap_or(words.not_judged);
        match deviation_mm {
            Some(mm) => format!("{verdict} ({})", voice.figures.length(mm)),
            None => verdict.to_owned(),
        }
    };
    let now = said(effect.now.verdict, effect.now.deviation_mm);
    let then = said(effect.then.verdict, effect.then.deviation_mm);
    fill(
        words.change,
        &[&format!("{stage} · {subject}"), &now, &then],
    )
}

#[cfg(test)]
mod tests {
    use shared::ids::PointId;

    use super::*;
    use crate::text::{Language, Speaks};

    #[test]
    fn notes_leave_no_blank_in_any_language() {
        let (car, point) = ("2041".to_owned(), PointId::parse("tower-L").unwrap());
        let notes = [
            Note::NoCars,
            Note::OneCar { prior_mm: 1.0 },
            Note::FewCars {
                points: 3,
                prior_mm: 1.0,
            },
            Note::NotSolved { car: car.clone() },
            Note::NotAligned { car: car.clone() },
            Note::Disagrees {
                car,
                point: point.clone(),
            },
            Note::NotMeasured {
                point: point.clone(),
                axis: 'x',
            },
            Note::Unsettled { point },
        ];
        for language in [Language::English, Language::Spanish] {
            for found in &notes {
                let text = note(language.library(), Figures::default(), found);
                let together = left_out(language.library(), std::slice::from_ref(found)).pop();
                assert!(text.is_some() != together.is_some(), "{found:?}");
                let text = text.or(together).unwrap_or_default();
                assert!(!text.is_empty() && !text.contains("{}"), "{text}");
            }
        }
        let missing = [("hook-L", 'x'), ("hook-R", 'x'), ("notch", 'z')].map(|(id, axis)| {
            let point = PointId::parse(id).unwrap();
            Note::NotMeasured { point, axis }
        });
        assert_eq!(
            left_out(Language::English.library(), &missing),
            [
                "Left out, since no car measured them along x: hook-L, hook-R.",
                "Left out, since no car measured them along z: notch."
            ]
        );
        let said = note(Language::English.library(), Figures::default(), &notes[2]);
        assert_eq!(
            said.as_deref(),
            Some("3 points were seen on too few cars; 1.0 mm are assumed between cars.")
        );
    }
}
