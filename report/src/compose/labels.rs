//! Numbers beside the points of a drawing: apart from each other, or left out where there is no room.

use shared::drawing::Window;

use crate::model::{Ink, NUMBER_SIZE, Shape};

/// A number and the point it belongs to.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Label {
    /// Where the point is.
    pub(super) at: [f64; 2],
    /// The number.
    pub(super) text: String,
    /// Should it stand left of the point?
    pub(super) leftward: bool,
}

/// A part of the paper: from, to.
type Area = [[f64; 2]; 2];

/// How far beside the point a number stands, hundredths of the paper.
const BESIDE: f64 = 3.0;
/// Where its foot may stand below the point, the best first; up is negative.
const FEET: [f64; 6] = [-2.0, 4.6, 1.2, -5.4, 8.0, -8.8];
/// Half the width of a point's mark.
const MARK: f64 = 2.2;
/// A number further away than this has a line to its point.
const LEADER: f64 = 4.6;
/// Both points of a pair have one number, which stands once where they are this near.
const SAME: f64 = 4.0;

/// Places numbers, those that come first at the better places.
pub(super) fn placed(labels: &[Label], marks: &[[f64; 2]], window: Window) -> Vec<Shape> {
    let unit = window.longer() / 100.0;
    let mut areas: Vec<Area> = Vec::new();
    let mut known: Vec<&Label> = Vec::new();
    let mut shapes = Vec::new();
    for label in labels {
        let is_same = |other: &&Label| {
            let [u, v] = [0, 1].map(|axis| other.at[axis] - label.at[axis]);
            other.text == label.text && u.hypot(v) < SAME * unit
        };
        if known.iter().any(is_same) {
            continue;
        }
        let sides = [label.leftward, !label.leftward];
        let places = sides.into_iter().flat_map(|leftward| {
            FEET.map(|down| {
                let aside = if leftward { -BESIDE } else { BESIDE } * unit;
                (leftward, [label.at[0] + aside, label.at[1] + down * unit])
            })
        });
        let room = places
            .map(|(leftward, foot)| (leftward, foot, area(foot, leftward, &label.text, unit)))
            .filter(|(.., area)| is_on(area, window))
            .filter(|(.., area)| !areas.iter().any(|other| overlap(area, other)));
        let room: Vec<_> = room.collect();
        // Rather beside another mark than over it.
        let covers = |area: &Area| marks.iter().any(|mark| overlap(area, &around(*mark, unit)));
        let clear = room.iter().find(|(.., area)| !covers(area));
        let Some((leftward, foot, area)) = clear.or_else(|| room.first()) else {
            continue;
        };
        areas.push(*area);
        known.push(label);
        shapes.extend(leader(label.at, *leftward, area, unit));
        shapes.push(Shape::Number {
            foot: *foot,
            text: label.text.clone(),
            leftward: *leftward,
        });
    }
    shapes
}

/// What a number covers; digits are a little more than half as wide as they are high.
fn area(foot: [f64; 2], leftward: bool, text: &str, unit: f64) -> Area {
    let size = NUMBER_SIZE * unit;
    let digits = u32::try_from(text.chars().count()).unwrap_or(u32::MAX);
    let width = size * 0.6 * f64::from(digits);
    let from = foot[0] - if leftward { width } else { 0.0 };
    [
        [from, foot[1] - size * 0.75],
        [from + width, foot[1] + size * 0.05],
    ]
}

/// A line to a number that stands where it might be another point's.
fn leader(at: [f64; 2], leftward: bool, area: &Area, unit: f64) -> Option<Shape> {
    let near = [
        area[usize::from(leftward)][0],
        f64::midpoint(area[0][1], area[1][1]),
    ];
    let way = [near[0] - at[0], near[1] - at[1]];
    let length = way[0].hypot(way[1]);
    (length > LEADER * unit).then(|| {
        let mark = MARK * unit / length;
        let from = [at[0] + way[0] * mark, at[1] + way[1] * mark];
        Shape::Line(Ink::Leader, vec![from, near])
    })
}

fn around([u, v]: [f64; 2], unit: f64) -> Area {
    let r = MARK * unit;
    [[u - r, v - r], [u + r, v + r]]
}

fn is_on([from, to]: &Area, window: Window) -> bool {
    let end = [window.u + window.width, window.v + window.height];
    from[0] >= window.u && from[1] >= window.v && to[0] <= end[0] && to[1] <= end[1]
}

fn overlap(a: &Area, b: &Area) -> bool {
    (0..2).all(|axis| a[0][axis] < b[1][axis] && b[0][axis] < a[1][axis])
}

#[cfg(test)]
mod tests {
    use super::*;

    const WINDOW: Window = Window {
        u: 0.0,
        v: 0.0,
        width: 1000.0,
        height: 1000.0,
    };

    fn label(at: [f64; 2], text: &str) -> Label {
        Label {
            at,
            text: text.to_owned(),
            leftward: false,
        }
    }

    fn areas(shapes: &[Shape]) -> Vec<Area> {
        let area = |shape: &Shape| match shape {
            Shape::Number {
                foot,
                text,
                leftward,
            } => Some(area(*foot, *leftward, text, 10.0)),
            _ => None,
        };
        shapes.iter().filter_map(area).collect()
    }

    #[test]
    fn numbers_do_not_overprint_each_other() {
        // Points in a heap, as rails and aprons are when they are seen from the front.
        let labels: Vec<Label> = (0..40)
            .map(|n| {
                let n = f64::from(n);
                let at = [500.0 + 9.0 * (n % 5.0), 500.0 + 7.0 * (n / 5.0).floor()];
                label(at, &format!("{}", 10.0 + n))
            })
            .collect();
        let shapes = placed(&labels, &[], WINDOW);
        let areas = areas(&shapes);
        for (at, one) in areas.iter().enumerate() {
            assert!(is_on(one, WINDOW));
            for other in &areas[at + 1..] {
                assert!(!overlap(one, other), "{one:?} {other:?}");
            }
        }
        assert!(areas.len() >= 12 && areas.len() < 40, "{}", areas.len());
        // Some stand away from their points; a line says whose they are.
        let lines = shapes.len() - areas.len();
        assert!(0 < lines && lines < areas.len(), "{lines}");
        assert_eq!(shapes, placed(&labels, &[], WINDOW));
    }

    #[test]
    fn both_points_of_a_pair_have_one_number_where_they_stand_together() {
        let pair = [label([300.0, 300.0], "7"), label([310.0, 305.0], "7")];
        assert_eq!(placed(&pair, &[], WINDOW).len(), 1);
        let apart = [label([300.0, 300.0], "7"), label([700.0, 300.0], "7")];
        assert_eq!(placed(&apart, &[], WINDOW).len(), 2);
    }

    #[test]
    fn a_number_stands_beside_the_marks_where_it_can() {
        let marks = [[500.0, 500.0], [540.0, 475.0]];
        let shapes = placed(&[label(marks[0], "3")], &marks, WINDOW);
        let [area] = areas(&shapes)[..] else {
            panic!("{shapes:?}")
        };
        assert!(
            marks
                .iter()
                .all(|mark| !overlap(&area, &around(*mark, 10.0)))
        );
    }
}
