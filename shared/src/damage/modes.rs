//! The trade's words for damage: mash, diamond, sidesway, spread, sag, twist, per section.
//!
//! Millimetres. With the displacement d of a pair: mash (dxL + dxR)/2, diamond (dxR − dxL)/2,
//! sidesway (dyL + dyR)/2, spread (dyR − dyL)/2, sag (dzL + dzR)/2, twist (dzR − dzL)/2. What each
//! word means is common practice. This file refuses to know how a displacement was measured.

use super::structure::Structure;

/// Which section of the car a length lies in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Part {
    Front,
    Centre,
    Rear,
}

/// Where the passenger cell begins and ends, lengthwise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sections {
    front_end: f64,
    rear_begin: f64,
}

impl Sections {
    /// From the points of the cell; without any, thirds of the car.
    #[must_use]
    pub fn of(structure: &Structure) -> Self {
        let range = |only_cell: bool| {
            structure
                .spots()
                .iter()
                .filter(|spot| {
                    !only_cell || spot.member.is_some_and(|member| structure.is_root(member))
                })
                .map(|spot| spot.place[0])
                .fold(None, |range: Option<(f64, f64)>, x| {
                    let (low, high) = range.unwrap_or((x, x));
                    Some((low.min(x), high.max(x)))
                })
        };
        let (low, high) = range(false).unwrap_or((0.0, 0.0));
        let third = (high - low) / 3.0;
        let (front_end, rear_begin) = range(true)
            .filter(|(front, rear)| rear > front)
            .unwrap_or((low + third, high - third));
        Self {
            front_end,
            rear_begin,
        }
    }

    /// The section of a length.
    #[must_use]
    pub fn part(&self, x_mm: f64) -> Part {
        if x_mm < self.front_end {
            Part::Front
        } else if x_mm > self.rear_begin {
            Part::Rear
        } else {
            Part::Centre
        }
    }
}

/// Factors of (left, right) along an axis: half the sum, or half the difference right less left.
pub const SUM: [f64; 2] = [0.5, 0.5];
/// Half the difference, right less left.
pub const DIFFERENCE: [f64; 2] = [-0.5, 0.5];
