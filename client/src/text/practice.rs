//! The words of the practice bay, in every language; a missing one does not compile.

use super::{Language, words};

words! {
    Practice;
    why begin cars number vehicle only_phone
    tape_shows read_tape tape_off
    compare_first show_truth
    used slips spread honest nothing_judged
    found missed open alarms straight none
    in_truth not_settled
    struck named named_other named_none
    bent bent_seen bent_unseen
}

const ENGLISH: Practice = Practice {
    why: "An invented car with an invented hit. A pretend tape shows what yours would, a little off as every hand is, and now and then misread. Find what is out with as few readings as you can, then compare with the truth.",
    begin: "A new practice car",
    cars: "Practice cars on this phone",
    number: "Practice {}",
    vehicle: "invented car",
    only_phone: "Practice cars stay on this phone: they are not shared, not signed and not counted.",
    tape_shows: "The tape shows {}",
    read_tape: "Read the tape",
    tape_off: "Choose a point and a set-up; the pretend tape shows it then.",
    compare_first: "Look at Findings first: what is out, what carried it, which readings do you doubt? Then see how close it came.",
    show_truth: "Compare with the truth",
    used: "Readings that count: {}",
    slips: "Misread: {}, of which {} still count",
    spread: "Spread that the book gave: {}; how far it really was off: {}",
    honest: "{} of {} values lie within twice their spread; of honest spreads about 19 in 20 do.",
    nothing_judged: "The readings settle nothing yet.",
    found: "Out, and found",
    missed: "Out, but called straight",
    open: "Out, and not settled by the readings",
    alarms: "Straight, but called out",
    straight: "Straight, and called straight: {}",
    none: "None.",
    in_truth: "in truth",
    not_settled: "the readings say {}",
    struck: "The blow moved {}: {}",
    named: "The book names it first as the cause.",
    named_other: "The book names {} first.",
    named_none: "The book names no cause yet.",
    bent: "{} was bent by {} before the hit, and marked as trusted.",
    bent_seen: "The book doubts it, or you stopped trusting it.",
    bent_unseen: "Nobody noticed. More readings of trusted points would tell.",
};

const SPANISH: Practice = Practice {
    why: "Un coche inventado con un golpe inventado. Una cinta simulada muestra lo que mostraría la suya, algo desviada como toda mano y a veces mal leída. Encuentre lo que está fuera con las menos lecturas posibles y compare después con la verdad.",
    begin: "Un coche de práctica nuevo",
    cars: "Coches de práctica en este teléfono",
    number: "Práctica {}",
    vehicle: "coche inventado",
    only_phone: "Los coches de práctica se quedan en este teléfono: no se comparten, no se firman y no cuentan.",
    tape_shows: "La cinta muestra {}",
    read_tape: "Leer la cinta",
    tape_off: "Elija un punto y una posición; entonces la cinta simulada lo muestra.",
    compare_first: "Mire primero los hallazgos: ¿qué está fuera, qué lo arrastró, de qué lecturas duda? Vea después cuánto se acercó.",
    show_truth: "Comparar con la verdad",
    used: "Lecturas que cuentan: {}",
    slips: "Mal leídas: {}, de las que aún cuentan {}",
    spread: "Dispersión que dio el libro: {}; lo que se desvió de verdad: {}",
    honest: "{} de {} valores están dentro del doble de su dispersión; con dispersiones honestas son unos 19 de cada 20.",
    nothing_judged: "Las lecturas aún no resuelven nada.",
    found: "Fuera, y encontrado",
    missed: "Fuera, pero dado por recto",
    open: "Fuera, y sin resolver por las lecturas",
    alarms: "Recto, pero señalado como fuera",
    straight: "Recto, y dado por recto: {}",
    none: "Nada.",
    in_truth: "en realidad",
    not_settled: "las lecturas dicen {}",
    struck: "El golpe movió {}: {}",
    named: "El libro lo nombra primero como causa.",
    named_other: "El libro nombra primero {}.",
    named_none: "El libro aún no nombra ninguna causa.",
    bent: "{} ya estaba doblado {} antes del golpe, y marcado como de confianza.",
    bent_seen: "El libro lo pone en duda, o usted dejó de confiar en él.",
    bent_unseen: "Nadie se dio cuenta. Más lecturas de puntos de confianza lo dirían.",
};

/// The words of a language.
pub(super) fn words(language: Language) -> &'static Practice {
    match language {
        Language::English => &ENGLISH,
        Language::Spanish => &SPANISH,
    }
}
