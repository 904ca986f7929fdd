//! A new job on the body of a sheet.
//!
//! Millimetres.

use super::content::pinned;
use super::sheet::Sheet;
use crate::book::Intention;
use crate::job::{Card, Job, Member, Point};

/// What makes a new book one of this body: its card, members and points, judged by the sheet.
///
/// No point is trusted yet: which of them the frame is taken from is for whoever sees the car.
#[must_use]
pub fn starting(sheet: &Sheet) -> Vec<Intention> {
    let body = &sheet.body;
    let words = [&body.maker, &body.model, &body.style].map(String::as_str);
    let words: Vec<&str> = words.into_iter().filter(|word| !word.is_empty()).collect();
    let card = Card {
        vehicle: match words.is_empty() {
            true => sheet.name.clone(),
            false => words.join(" "),
        },
        ..Card::default()
    };
    let mut job = Job::default();
    for (id, member) in &sheet.members {
        let member = Member {
            label: member.label.clone(),
            carried_by: member.carried_by.clone(),
        };
        job.members.insert(id.clone(), member);
    }
    for (id, point) in &sheet.points {
        let new = Point {
            label: point.label.clone(),
            side: point.side,
            mirror: point.mirror.clone(),
            place_mm: point.target_mm,
            place_sigma_mm: None,
            trusted: false,
            member: point.member.clone(),
        };
        job.points.insert(id.clone(), new);
    }
    let copy = pinned(sheet, &job).sheet;
    let members = job
        .members
        .into_iter()
        .map(|(id, member)| Intention::AddMember { id, member });
    let points = job
        .points
        .into_iter()
        .map(|(id, point)| Intention::AddPoint { id, point });
    let pin = Intention::PinSheet { sheet: Some(copy) };
    [Intention::DescribeJob { card }]
        .into_iter()
        .chain(members)
        .chain(points)
        .chain([pin])
        .collect()
}
