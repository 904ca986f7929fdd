//! The numbers of the generic bodies: invented, millimetres, left side only; the names in every
//! language beside each other.

use crate::figures::Language;

/// What a point or a member is called, in the order of [`Language::ALL`].
pub(super) type Names = [&'static str; Language::ALL.len()];
/// Left point of a pair: stem, names, x, distance from the centre, z, member.
pub(super) type Pair = (&'static str, Names, f64, f64, f64, &'static str);
/// Member: stem, names, what carries it. A stem with `-*` stands on both sides.
pub(super) type Carried = (&'static str, Names, &'static [&'static str]);

/// Rows of pairs: the numbers on one line, the names on the next.
macro_rules! pairs {
    ($($stem:literal $x:literal $y:literal $z:literal $member:literal: $english:literal, $spanish:literal;)+) => {
        &[$(($stem, [$english, $spanish], $x, $y, $z, $member),)+]
    };
}

pub(super) const UNITISED: &[Pair] = pairs! {
    "rail-front" -640.0 430.0 480.0 "front-rail-*":
        "front rail, front hole", "larguero delantero, orificio delantero";
    "rail-mid" -40.0 420.0 430.0 "front-rail-*":
        "front rail, under the tower", "larguero delantero, bajo la torre";
    "rail-rear" 420.0 410.0 300.0 "front-rail-*":
        "front rail, kick-up hole", "larguero delantero, orificio del codo";
    "support" -700.0 560.0 800.0 "apron-*":
        "radiator support, upper corner", "soporte del radiador, esquina superior";
    "apron-front" -450.0 640.0 830.0 "apron-*":
        "apron, front bolt", "pase de rueda, tornillo delantero";
    "apron-rear" 180.0 690.0 900.0 "apron-*":
        "apron, rear bolt", "pase de rueda, tornillo trasero";
    "tower-front" -110.0 560.0 850.0 "tower-*":
        "strut tower, front bolt", "torre de suspensión, tornillo delantero";
    "tower-rear" 50.0 575.0 855.0 "tower-*":
        "strut tower, rear bolt", "torre de suspensión, tornillo trasero";
    "carrier" -150.0 390.0 230.0 "carrier":
        "engine carrier, front bolt", "cuna del motor, tornillo delantero";
    "carrier-rear" 330.0 380.0 220.0 "carrier":
        "engine carrier, rear bolt", "cuna del motor, tornillo trasero";
    "cowl" 430.0 700.0 930.0 "cell":
        "cowl, hinge bolt", "vierteaguas, tornillo de la bisagra";
    "hinge-upper" 560.0 760.0 820.0 "cell":
        "front post, upper hinge", "pilar delantero, bisagra superior";
    "hinge-lower" 560.0 770.0 480.0 "cell":
        "front post, lower hinge", "pilar delantero, bisagra inferior";
    "sill-front" 760.0 720.0 210.0 "cell":
        "rocker, front jacking point", "estribo, apoyo delantero del gato";
    "floor" 1150.0 400.0 190.0 "cell":
        "floor rail hole, under the front seat", "larguero del piso, orificio bajo el asiento delantero";
    "sill-rear" 1960.0 720.0 220.0 "cell":
        "rocker, rear jacking point", "estribo, apoyo trasero del gato";
    "floor-rear" 2050.0 480.0 260.0 "cell":
        "floor rail hole, before the rear axle", "larguero del piso, orificio delante del eje trasero";
    "rear-rail" 2350.0 500.0 380.0 "rear-rail-*":
        "rear rail, front hole", "larguero trasero, orificio delantero";
    "rear-tower" 2600.0 530.0 760.0 "rear-rail-*":
        "rear damper, upper bolt", "amortiguador trasero, tornillo superior";
    "rear-end" 3150.0 500.0 430.0 "rear-rail-*":
        "rear rail, rear hole", "larguero trasero, orificio trasero";
};

pub(super) const UNITISED_MEMBERS: &[Carried] = &[
    ("cell", ["passenger cell", "habitáculo"], &[]),
    (
        "front-rail-*",
        ["front rail", "larguero delantero"],
        &["cell"],
    ),
    ("apron-*", ["apron", "pase de rueda"], &["tower-*", "cell"]),
    (
        "tower-*",
        ["strut tower", "torre de suspensión"],
        &["front-rail-*", "cell"],
    ),
    (
        "carrier",
        ["engine carrier", "cuna del motor"],
        &["front-rail-L", "front-rail-R"],
    ),
    ("rear-rail-*", ["rear rail", "larguero trasero"], &["cell"]),
];

pub(super) const PICKUP: &[Pair] = pairs! {
    "horn" -760.0 430.0 560.0 "front-frame-*":
        "frame horn, front hole", "punta del bastidor, orificio delantero";
    "frame-front" -250.0 420.0 520.0 "front-frame-*":
        "frame, before the front axle", "bastidor, delante del eje delantero";
    "arm-front" -120.0 400.0 430.0 "front-frame-*":
        "lower arm, front bolt", "brazo inferior, tornillo delantero";
    "arm-rear" 210.0 400.0 430.0 "front-frame-*":
        "lower arm, rear bolt", "brazo inferior, tornillo trasero";
    "frame-cab" 700.0 460.0 500.0 "frame":
        "frame, under the cab's front", "bastidor, bajo el frente de la cabina";
    "frame-mid" 1700.0 500.0 500.0 "frame":
        "frame, under the cab's rear", "bastidor, bajo la trasera de la cabina";
    "spring-front" 2450.0 520.0 520.0 "frame":
        "rear spring, front hanger", "ballesta trasera, anclaje delantero";
    "spring-rear" 3700.0 520.0 620.0 "rear-frame-*":
        "rear spring, shackle", "ballesta trasera, gemela";
    "frame-end" 4150.0 500.0 640.0 "rear-frame-*":
        "frame, rear end", "bastidor, extremo trasero";
    "cab-front" 450.0 600.0 640.0 "cab":
        "cab, front mount", "cabina, soporte delantero";
    "cab-rear" 1900.0 620.0 640.0 "cab":
        "cab, rear mount", "cabina, soporte trasero";
    "cowl" 350.0 700.0 1150.0 "cab":
        "cowl, hinge bolt", "vierteaguas, tornillo de la bisagra";
};

pub(super) const PICKUP_MEMBERS: &[Carried] = &[
    ("frame", ["frame, middle", "bastidor, centro"], &[]),
    (
        "front-frame-*",
        ["front frame", "bastidor delantero"],
        &["frame"],
    ),
    (
        "rear-frame-*",
        ["rear frame", "bastidor trasero"],
        &["frame"],
    ),
    ("cab", ["cab", "cabina"], &["frame"]),
];

pub(super) const VAN: &[Pair] = pairs! {
    "rail-front" -680.0 450.0 520.0 "front-rail-*":
        "front rail, front hole", "larguero delantero, orificio delantero";
    "rail-mid" -60.0 440.0 470.0 "front-rail-*":
        "front rail, under the tower", "larguero delantero, bajo la torre";
    "tower" 0.0 640.0 950.0 "tower-*":
        "strut tower, rear bolt", "torre de suspensión, tornillo trasero";
    "cowl" 300.0 780.0 1050.0 "cell":
        "cowl, hinge bolt", "vierteaguas, tornillo de la bisagra";
    "sill-front" 750.0 800.0 300.0 "cell":
        "rocker, front jacking point", "estribo, apoyo delantero del gato";
    "floor" 1200.0 450.0 320.0 "cell":
        "floor rail hole, under the seat", "larguero del piso, orificio bajo el asiento";
    "door-track" 1850.0 860.0 420.0 "cell":
        "sliding door, lower track end", "puerta corredera, final de la guía inferior";
    "sill-rear" 2450.0 800.0 310.0 "cell":
        "rocker, rear jacking point", "estribo, apoyo trasero del gato";
    "rear-rail" 2900.0 520.0 420.0 "rear-rail-*":
        "rear rail, before the axle", "larguero trasero, delante del eje";
    "rear-end" 4050.0 520.0 480.0 "rear-rail-*":
        "rear rail, rear hole", "larguero trasero, orificio trasero";
    "rear-post" 4150.0 820.0 700.0 "rear-rail-*":
        "rear post, lower hinge", "pilar trasero, bisagra inferior";
};

pub(super) const VAN_MEMBERS: &[Carried] = &[
    ("cell", ["cell", "habitáculo"], &[]),
    (
        "front-rail-*",
        ["front rail", "larguero delantero"],
        &["cell"],
    ),
    (
        "tower-*",
        ["strut tower", "torre de suspensión"],
        &["front-rail-*", "cell"],
    ),
    ("rear-rail-*", ["rear rail", "larguero trasero"], &["cell"]),
];
