//! What is carried by what: from each point along the members down to the passenger cell.
//!
//! Millimetres. A member is carried by the first of its carriers that does not stand on the other
//! side of the point: an engine carrier between two rails goes, left, with the left one. This file
//! refuses to know what moved.

use crate::geometry::Vec3;

/// A point as the damage sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Best place, millimetres.
    pub place: Vec3,
    /// −1 left, +1 right, 0 in the middle.
    pub side: i8,
    /// The member that carries it.
    pub member: Option<usize>,
    /// The matching point on the other side.
    pub mirror: Option<usize>,
}

/// Points, members and their carriers.
#[derive(Debug, Clone, PartialEq)]
pub struct Structure {
    spots: Vec<Spot>,
    carried_by: Vec<Vec<usize>>,
    chains: Vec<Vec<usize>>,
    carries: Vec<Vec<usize>>,
    sides: Vec<i8>,
    mirrors: Vec<Option<usize>>,
}

impl Structure {
    /// Points, and per member what carries it (nearest first, empty for the passenger cell).
    /// Members out of range and circles end a chain; they are no error here.
    #[must_use]
    pub fn new(spots: Vec<Spot>, carried_by: Vec<Vec<usize>>) -> Self {
        let members = carried_by.len();
        let sides = (0..members).map(|m| side_of(&spots, m)).collect::<Vec<_>>();
        let mirrors = (0..members).map(|m| mirror_of(&spots, m)).collect();
        let chains: Vec<Vec<usize>> = spots
            .iter()
            .map(|spot| chain(spot, &carried_by, &sides))
            .collect();
        let mut carries = vec![Vec::new(); members];
        for (point, chain) in chains.iter().enumerate() {
            for &member in chain {
                carries[member].push(point);
            }
        }
        Self {
            spots,
            carried_by,
            chains,
            carries,
            sides,
            mirrors,
        }
    }

    /// The points.
    #[must_use]
    pub fn spots(&self) -> &[Spot] {
        &self.spots
    }

    /// Number of members.
    #[must_use]
    pub fn members(&self) -> usize {
        self.carried_by.len()
    }

    /// Is it the passenger cell, or whatever else nothing carries?
    #[must_use]
    pub fn is_root(&self, member: usize) -> bool {
        self.carried_by[member].is_empty()
    }

    /// Points that move when the member moves.
    #[must_use]
    pub fn carries(&self, member: usize) -> &[usize] {
        &self.carries[member]
    }

    /// Members under a point, its own first.
    #[must_use]
    pub fn chain(&self, point: usize) -> &[usize] {
        &self.chains[point]
    }

    /// −1 when all points of the member stand left, +1 right, else 0.
    #[must_use]
    pub fn side(&self, member: usize) -> i8 {
        self.sides[member]
    }

    /// The member of the matching points on the other side.
    #[must_use]
    pub fn mirror(&self, member: usize) -> Option<usize> {
        self.mirrors[member]
    }

    /// How many members lie between this one and the cell; 0 for the cell.
    #[must_use]
    pub fn depth(&self, member: usize) -> usize {
        self.carriers(member).len()
    }

    /// Members that carry this one, nearest first, as most of its points see it.
    #[must_use]
    pub fn carriers(&self, member: usize) -> &[usize] {
        self.carries[member]
            .iter()
            .map(|&point| {
                let chain = &self.chains[point];
                let at = chain.iter().position(|&m| m == member).unwrap_or(0);
                &chain[at + 1..]
            })
            .max_by_key(|carriers| carriers.len())
            .unwrap_or(&[])
    }

    /// Middle of the points that a member carries, and their root mean square distance from it.
    #[must_use]
    pub fn middle(&self, member: usize) -> (Vec3, f64) {
        let points = &self.carries[member];
        let count = points.len().max(1) as f64;
        let mut middle = [0.0; 3];
        for &point in points {
            for (sum, value) in middle.iter_mut().zip(self.spots[point].place) {
                *sum += value / count;
            }
        }
        let square: f64 = points
            .iter()
            .flat_map(|&point| {
                let place = self.spots[point].place;
                [0, 1, 2].map(|axis| (place[axis] - middle[axis]).powi(2))
            })
            .sum();
        (middle, (square / count).sqrt())
    }
}

fn side_of(spots: &[Spot], member: usize) -> i8 {
    let mut sides = spots
        .iter()
        .filter(|spot| spot.member == Some(member))
        .map(|spot| spot.side);
    let first = sides.next().unwrap_or(0);
    if sides.all(|side| side == first) {
        first
    } else {
        0
    }
}

fn mirror_of(spots: &[Spot], member: usize) -> Option<usize> {
    spots
        .iter()
        .filter(|spot| spot.member == Some(member))
        .find_map(|spot| spots.get(spot.mirror?)?.member)
        .filter(|&mirror| mirror != member)
}

fn chain(spot: &Spot, carried_by: &[Vec<usize>], sides: &[i8]) -> Vec<usize> {
    let mut chain = Vec::new();
    let mut next = spot.member;
    while let Some(member) = next.filter(|&m| m < carried_by.len() && !chain.contains(&m)) {
        chain.push(member);
        let fits = |carrier: &&usize| {
            let side = sides.get(**carrier).copied().unwrap_or(0);
            i32::from(side) * i32::from(spot.side) >= 0
        };
        let carriers = &carried_by[member];
        next = carriers.iter().find(fits).or(carriers.first()).copied();
    }
    chain
}
