//! The words of a laser's checks, in every language; a missing one does not compile.

use super::{Language, words};

words! {
    Laser;
    lasers lasers_why name add
    level_beam plumb_beam not_checked
    check_level check_plumb level_how plumb_how
    apart near midway_a midway_b near_a near_b
    height first turned
    climbs falls leans_right leans_left straight
    record by
    no_number too_close too_much
    of_setup none stands stands_why stands_at stands_unknown forget
    before_front behind_front right_of_middle left_of_middle
}

const ENGLISH: Laser = Laser {
    lasers: "Lasers",
    lasers_why: "What a check finds corrects the heights of set-ups that say where the laser stands. All others it makes less sure.",
    name: "What the laser is called",
    add: "Add a laser",
    level_beam: "level beam",
    plumb_beam: "plumb beam",
    not_checked: "not checked",
    check_level: "Check the level beam",
    check_plumb: "Check the plumb beam",
    level_how: "Choose two firm marks, A and B, at least 4 m apart. Set the laser midway between them and read the height of its beam over each. Then set it on their line, near A, and read both again.",
    plumb_how: "Put the beam on a mark on the floor and read where it crosses a scale held level, high above the mark, numbers growing to the right. Turn the laser by half a turn (one that shines only forward goes to the other side and faces back), put its beam on the same mark, and read the scale again.",
    apart: "From A to B",
    near: "From A to the laser that stands near it",
    midway_a: "Midway: beam over A",
    midway_b: "Midway: beam over B",
    near_a: "Near A: beam over A",
    near_b: "Near A: beam over B",
    height: "Scale above the mark",
    first: "First reading",
    turned: "After the half turn",
    climbs: "The beam climbs {} mm per metre (± {}).",
    falls: "The beam falls {} mm per metre (± {}).",
    leans_right: "The beam leans to the right, {} mm per metre (± {}).",
    leans_left: "The beam leans to the left, {} mm per metre (± {}).",
    straight: "No error that this check can see (± {} mm per metre).",
    record: "Record the check",
    by: "by",
    no_number: "Fill in every field with a length above zero, as 1204.5.",
    too_close: "The two places tell the same. Near A means at least 2 m nearer to A than to B.",
    too_much: "More than a laser can be off. Read again, and see that it levelled itself.",
    of_setup: "Which laser",
    none: "another",
    stands: "Where the laser stands",
    stands_why: "Tap the plan, front of the car up; roughly is enough. Arrow keys move the mark.",
    stands_at: "{} and {}",
    stands_unknown: "not marked",
    forget: "Take the mark away",
    before_front: "{} in front of the car's foremost point",
    behind_front: "{} behind the car's foremost point",
    right_of_middle: "{} right of the middle",
    left_of_middle: "{} left of the middle",
};

const SPANISH: Laser = Laser {
    lasers: "Láseres",
    lasers_why: "Lo que encuentra una comprobación corrige las alturas de las posiciones que dicen dónde está el láser. A las demás les quita certeza.",
    name: "Cómo se llama el láser",
    add: "Añadir un láser",
    level_beam: "haz horizontal",
    plumb_beam: "haz vertical",
    not_checked: "sin comprobar",
    check_level: "Comprobar el haz horizontal",
    check_plumb: "Comprobar el haz vertical",
    level_how: "Elija dos marcas firmes, A y B, separadas al menos 4 m. Ponga el láser a media distancia y lea la altura del haz sobre cada una. Después póngalo en la misma línea, cerca de A, y lea las dos otra vez.",
    plumb_how: "Ponga el haz sobre una marca en el suelo y lea dónde cruza una regla a nivel, muy por encima de la marca, con números que crecen hacia la derecha. Gire el láser media vuelta (el que solo alumbra hacia delante pasa al otro lado y mira hacia atrás), ponga el haz en la misma marca y lea la regla otra vez.",
    apart: "De A a B",
    near: "De A al láser que está cerca",
    midway_a: "En medio: haz sobre A",
    midway_b: "En medio: haz sobre B",
    near_a: "Cerca de A: haz sobre A",
    near_b: "Cerca de A: haz sobre B",
    height: "Altura de la regla sobre la marca",
    first: "Primera lectura",
    turned: "Tras la media vuelta",
    climbs: "El haz sube {} mm por metro (± {}).",
    falls: "El haz baja {} mm por metro (± {}).",
    leans_right: "El haz se inclina a la derecha, {} mm por metro (± {}).",
    leans_left: "El haz se inclina a la izquierda, {} mm por metro (± {}).",
    straight: "Ningún error que esta comprobación pueda ver (± {} mm por metro).",
    record: "Anotar la comprobación",
    by: "por",
    no_number: "Rellene cada campo con una longitud mayor que cero, como 1204,5.",
    too_close: "Los dos lugares dicen lo mismo. Cerca de A significa al menos 2 m más cerca de A que de B.",
    too_much: "Más de lo que un láser puede desviarse. Lea otra vez y compruebe que se niveló.",
    of_setup: "Qué láser",
    none: "otro",
    stands: "Dónde está el láser",
    stands_why: "Toque el plano, con el frente del coche arriba; a ojo basta. Las flechas mueven la marca.",
    stands_at: "{} y {}",
    stands_unknown: "sin marcar",
    forget: "Quitar la marca",
    before_front: "{} delante del punto más adelantado",
    behind_front: "{} detrás del punto más adelantado",
    right_of_middle: "{} a la derecha del centro",
    left_of_middle: "{} a la izquierda del centro",
};

/// The words of a laser's checks.
pub(super) fn words(language: Language) -> &'static Laser {
    match language {
        Language::English => &ENGLISH,
        Language::Spanish => &SPANISH,
    }
}
