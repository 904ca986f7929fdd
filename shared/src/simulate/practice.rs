//! A practice car: an invented body with an invented hit whose truth is hidden, and the pretend tape
//! that reads it.
//!
//! Millimetres in the car's own frame. Everything follows from one number, the seed: the same seed is
//! the same car and the same tape on every phone, so nothing of the truth is stored. The trade's
//! rules of measuring are the engine's; this file only invents.

mod compare;
mod dice;

use crate::adjust::sorting::sort_by;
use indexmap::IndexMap;

use super::{Beams, Truth};
use crate::body::{Body, generic};
use crate::figures::Language;
use crate::geometry::Vec3;
use crate::ids::{MemberId, PointId, SetupId, StageId};
use crate::job::{
    Card, Impact, Job, Member, Plumb, Point, Setup, Side, Stage, StageKind, Taken, Zone,
};
pub use compare::{Compared, Comparison, Outcome, SLIP_MM, compare};
use dice::Dice;

/// Spread of a hand with a scale against a beam, as the engine expects of one.
const SCALE_SIGMA_MM: f64 = 0.6;
/// The same of a tape between two points.
const TAPE_SIGMA_MM: f64 = 0.8;
/// One reading in so many is misread.
const MISREAD_ONE_IN: u64 = 14;
/// How far sound bodies of one kind differ from each other, part of a length and per pair.
const KIND_SCALE: f64 = 0.02;
const KIND_SIGMA_MM: f64 = 12.0;
/// How far the sides of a sound body differ.
const BUILD_SIGMA_MM: f64 = 0.6;
/// Pairs that are marked as trusted to begin with.
const TRUSTED_PAIRS: usize = 4;

/// A practice car with its truth.
#[derive(Debug, Clone, PartialEq)]
pub struct Practice {
    seed: u64,
    body: Body,
    /// Points that are marked as trusted to begin with, both sides.
    trusted: Vec<PointId>,
    impact: Impact,
    truth: Truth,
    /// The member that was struck.
    pub struck: MemberId,
    /// How far its tip moved: rearward, right, up.
    pub moved_mm: Vec3,
    /// A trusted point that is bent itself, and how far up.
    pub bent: Option<(PointId, f64)>,
}

/// What the pretend tape shows.
#[derive(Debug, Clone, PartialEq)]
pub struct Shown {
    /// The reading of an attentive eye, the side of the beam included.
    pub taken: Taken,
    /// What a hasty eye reads instead, for one reading in some.
    pub misread_mm: Option<f64>,
}

impl Practice {
    /// The car of a seed.
    #[must_use]
    pub fn of(seed: u64) -> Self {
        let mut dice = Dice::of(seed);
        let body = [Body::Unitised, Body::Unitised, Body::Van, Body::Pickup][dice.below(4)];
        // Only the job's names are anybody's language.
        let (points, members) = generic(body, Language::default());
        let mut truth = Truth {
            places: sound(&points, &mut dice),
            roll: 0.01 * dice.between(-1.0, 1.0),
            pitch: 0.006 * dice.between(-1.0, 1.0),
            beams: IndexMap::new(),
        };
        for (name, low, high) in [("first", 560.0, 680.0), ("second", 690.0, 780.0)] {
            let beams = Beams {
                level_mm: dice.between(low, high),
                plumb: Plumb::Lengthwise,
                yaw: 0.006 * dice.between(-1.0, 1.0),
                offset_mm: dice.between(-40.0, 40.0),
            };
            truth.beams.insert(setup_id(name), beams);
        }
        let (is_front, side) = (dice.one_in(2), [Side::Left, Side::Right][dice.below(2)]);
        let struck = struck(body, is_front, side);
        let inward = if side == Side::Left { 1.0 } else { -1.0 };
        let rearward = if is_front { 1.0 } else { -1.0 };
        let moved_mm = [
            rearward * dice.between(9.0, 18.0),
            inward * dice.between(4.0, 12.0),
            dice.between(-8.0, 14.0),
        ];
        let hit = Hit::of(&points, &members, &struck, is_front, side);
        // Sometimes the other side was drawn along.
        let along = if dice.one_in(3) { 0.4 } else { 0.0 };
        for (id, point) in &points {
            let share = hit.share(point);
            let other = point.mirror.as_ref().and_then(|id| points.get(id));
            let drawn = along * other.map_or(0.0, |other| hit.share(other));
            if let Some(place) = truth.places.get_mut(id) {
                for (axis, moved) in place.iter_mut().zip(moved_mm) {
                    *axis += share * moved;
                }
                place[1] += drawn * moved_mm[1];
            }
        }
        let trusted = trusted(&points, &hit);
        let bent = dice.one_in(2).then(|| {
            let id = trusted[dice.below(trusted.len())].clone();
            (id, dice.between(5.0, 10.0))
        });
        if let Some((id, up)) = &bent
            && let Some(place) = truth.places.get_mut(id)
        {
            place[2] += up;
        }
        Self {
            seed,
            body,
            trusted: trusted
                .into_iter()
                .flat_map(|id| [points[&id].mirror.clone(), Some(id)])
                .flatten()
                .collect(),
            impact: impact(is_front, side),
            truth,
            struck,
            moved_mm,
            bent,
        }
    }

    /// What the apprentice is given: the body with rough places, where it was hit, two set-ups and the
    /// first stage. `card` is what the car is called, `stage` the stage; points and members are named in
    /// the language.
    #[must_use]
    pub fn job(&self, card: Card, stage: &str, language: Language) -> Job {
        let (mut points, members) = generic(self.body, language);
        for (id, point) in &mut points {
            point.trusted = self.trusted.contains(id);
        }
        let setups = self.truth.beams.iter().zip(["1", "2"]);
        let setups = setups.map(|((id, beams), label)| {
            let setup = Setup {
                label: label.to_owned(),
                plumb: Some(beams.plumb),
                tool: None,
                stands_mm: None,
            };
            (id.clone(), setup)
        });
        Job {
            card: Card {
                impact: Some(self.impact.clone()),
                ..card
            },
            points,
            members,
            setups: setups.collect(),
            stages: vec![Stage {
                id: StageId::parse("as-received").expect("a name without spaces"),
                label: stage.to_owned(),
                of: StageKind::AsReceived,
                load: None,
            }],
            ..Job::default()
        }
    }

    /// What the tape shows when it is held as asked (the asked value and side count for nothing);
    /// `number` tells one look from the next. `None` for points and set-ups that are not this car's,
    /// and for coordinates.
    #[must_use]
    pub fn show(&self, asked: &Taken, number: u64) -> Option<Shown> {
        let mut dice = Dice::of(self.seed ^ Dice::of(number).next());
        let scale = SCALE_SIGMA_MM * dice.normal();
        let tape = TAPE_SIGMA_MM * dice.normal();
        let taken = self.read(asked, scale, tape)?;
        let misread_mm = dice
            .one_in(MISREAD_ONE_IN)
            .then(|| misread(value_of(&taken), &mut dice));
        Some(Shown { taken, misread_mm })
    }

    /// What an ideal hand would read.
    #[must_use]
    pub fn ideal(&self, asked: &Taken) -> Option<Taken> {
        self.read(asked, 0.0, 0.0)
    }

    fn read(&self, asked: &Taken, scale: f64, tape: f64) -> Option<Taken> {
        let truth = &self.truth;
        match asked {
            Taken::Height { setup, point, .. } => truth.height(setup, point, scale),
            Taken::Offset { setup, point, .. } => truth.offset(setup, point, scale),
            Taken::Split {
                setup, from, to, ..
            } => truth.split(setup, from, to, scale),
            Taken::Span { from, to, .. } => truth.span(from, to, tape),
            Taken::DatumSpan { from, to, .. } => truth.datum_span(from, to, tape),
            Taken::Fix { .. } => None,
        }
    }

    /// Where a point really is.
    #[must_use]
    pub fn place(&self, point: &PointId) -> Option<Vec3> {
        self.truth.places.get(point).copied()
    }
}

/// Where an undamaged body of this kind has its points.
fn sound(points: &IndexMap<PointId, Point>, dice: &mut Dice) -> IndexMap<PointId, Vec3> {
    let scale = [(); 3].map(|()| 1.0 + KIND_SCALE * dice.normal());
    let mut places = IndexMap::new();
    for (id, point) in points.iter().filter(|(_, point)| point.side == Side::Left) {
        let mut own = point.place_mm;
        for (axis, scale) in own.iter_mut().zip(scale) {
            *axis = *axis * scale + KIND_SIGMA_MM * dice.normal();
        }
        let mut build = || [(); 3].map(|()| BUILD_SIGMA_MM * dice.normal());
        let (left, right) = (build(), build());
        let at = |sign: f64, build: Vec3| {
            [
                own[0] + build[0],
                sign * own[1].abs() + build[1],
                own[2] + build[2],
            ]
        };
        places.insert(id.clone(), at(-1.0, left));
        if let Some(mirror) = &point.mirror {
            places.insert(mirror.clone(), at(1.0, right));
        }
    }
    places
}

/// What takes the blow of a corner.
fn struck(body: Body, is_front: bool, side: Side) -> MemberId {
    let stem = match (body, is_front) {
        (Body::Pickup, true) => "front-frame",
        (Body::Pickup, false) => "rear-frame",
        (_, true) => "front-rail",
        (_, false) => "rear-rail",
    };
    let end = if side == Side::Left { "L" } else { "R" };
    MemberId::parse(&format!("{stem}-{end}")).expect("a name without spaces")
}

fn impact(is_front: bool, side: Side) -> Impact {
    let (zone, direction_deg) = match (is_front, side == Side::Left) {
        (true, true) => (Zone::FrontLeft, 200.0),
        (true, false) => (Zone::FrontRight, 160.0),
        (false, true) => (Zone::RearLeft, 340.0),
        (false, false) => (Zone::RearRight, 20.0),
    };
    Impact {
        zone,
        direction_deg,
    }
}

fn setup_id(name: &str) -> SetupId {
    SetupId::parse(name).expect("a name without spaces")
}

/// Which points a blow moved, and how much of it they took.
struct Hit<'a> {
    /// The struck member and all that it carries.
    moved: Vec<&'a MemberId>,
    side: Side,
    tip_mm: f64,
    /// Length over which the movement dies away; its sign is the way from the tip into the car.
    reach_mm: f64,
}

impl<'a> Hit<'a> {
    fn of(
        points: &IndexMap<PointId, Point>,
        members: &'a IndexMap<MemberId, Member>,
        struck: &'a MemberId,
        is_front: bool,
        side: Side,
    ) -> Self {
        let mut moved = vec![struck];
        // A chain of carriers is shorter than the list of members.
        for _ in 0..members.len() {
            let more = members.iter().filter(|(id, member)| {
                !moved.contains(id) && member.carried_by.iter().any(|by| moved.contains(&by))
            });
            let more: Vec<&MemberId> = more.map(|(id, _)| id).collect();
            moved.extend(more);
        }
        let own = points
            .values()
            .filter(|point| point.member.as_ref() == Some(struck));
        let lengths: Vec<f64> = own.map(|point| point.place_mm[0]).collect();
        let (low, high) = lengths
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
                (low.min(*x), high.max(*x))
            });
        let (tip_mm, root_mm) = if is_front { (low, high) } else { (high, low) };
        Self {
            moved,
            side,
            tip_mm,
            reach_mm: 1.8 * (root_mm - tip_mm),
        }
    }

    /// 1 at the tip, 0 where the movement has died away.
    fn by_length(&self, point: &Point) -> f64 {
        (1.0 - (point.place_mm[0] - self.tip_mm) / self.reach_mm).clamp(0.0, 1.0)
    }

    fn share(&self, point: &Point) -> f64 {
        let is_moved = point.side == self.side
            && point
                .member
                .as_ref()
                .is_some_and(|member| self.moved.contains(&member));
        if is_moved { self.by_length(point) } else { 0.0 }
    }
}

/// Left points of pairs that the blow did not reach, spread over the length of what is sound.
fn trusted(points: &IndexMap<PointId, Point>, hit: &Hit<'_>) -> Vec<PointId> {
    let is_sound = |point: &Point| {
        let member = point.member.as_ref();
        member.is_none_or(|member| !hit.moved.contains(&member))
    };
    let mut sound: Vec<(&PointId, &Point)> = points
        .iter()
        .filter(|(_, point)| point.side == Side::Left && is_sound(point))
        .filter(|(_, point)| {
            let mirror = point.mirror.as_ref().and_then(|id| points.get(id));
            mirror.is_some_and(&is_sound)
        })
        .collect();
    let far = |point: &Point| (point.place_mm[0] - hit.tip_mm).abs();
    sort_by(&mut sound, |a, b| far(b.1).total_cmp(&far(a.1)));
    // Not the pairs next to the damage.
    sound.truncate((sound.len() * 3).div_ceil(4).max(TRUSTED_PAIRS));
    let last = sound.len().saturating_sub(1);
    let mut chosen: Vec<PointId> = (0..TRUSTED_PAIRS)
        .filter_map(|index| sound.get(index * last / (TRUSTED_PAIRS - 1)))
        .map(|(id, _)| (*id).clone())
        .collect();
    chosen.dedup();
    chosen
}

/// The number of a reading; 0 for coordinates.
fn value_of(taken: &Taken) -> f64 {
    match taken {
        Taken::Height { value_mm, .. }
        | Taken::Offset { value_mm, .. }
        | Taken::Split { value_mm, .. }
        | Taken::Span { value_mm, .. }
        | Taken::DatumSpan { value_mm, .. } => *value_mm,
        Taken::Fix { .. } => 0.0,
    }
}

/// How a hasty eye misreads a value: two digits swapped, the next ten, or a tape from its 100 mark.
fn misread(value_mm: f64, dice: &mut Dice) -> f64 {
    let (whole, half) = (value_mm.trunc(), value_mm.fract());
    let (tens, ones) = ((whole / 10.0).trunc() % 10.0, whole % 10.0);
    match dice.below(3) {
        0 if tens != ones => whole + 9.0 * (ones - tens) + half,
        1 => value_mm + 100.0,
        _ => value_mm + 10.0,
    }
}

#[cfg(test)]
mod tests;
