//! The words of a new job, in every language; a missing one does not compile.

use super::{Language, words};

words! {
    NewJob;
    vin_good vin_length vin_character vin_digit number_taken needs_number body_unitised body_pickup body_van
    body_none sheet_fits sheet_shared sheet_search sheet_absent impact impact_why import_why import_refused
}

const ENGLISH: NewJob = NewJob {
    vin_good: "check digit fits",
    vin_length: "{} of 17 characters",
    vin_character: "no VIN has this character: {}",
    vin_digit: "the ninth character is no check digit of this VIN (that would be {}): right for cars of Europe, else look again",
    number_taken: "This phone knows a car with this number already: {}.",
    needs_number: "The job number is missing.",
    body_unitised: "Unitised car",
    body_pickup: "Pickup on frame",
    body_van: "Van",
    body_none: "No points yet",
    sheet_fits: "fits this VIN",
    sheet_shared: "shared by {}",
    sheet_search: "Sheet: maker, model, year",
    sheet_absent: "That sheet is not on this phone any more. Choose another body, or try again with signal.",
    impact: "Where was it hit?",
    impact_why: "Tap the place on the plan. It only decides where the readings cannot.",
    import_why: "A job file (JSON) of this book or another program becomes a new book here, with its readings.",
    import_refused: "Nothing was taken over. In the file:",
};

const SPANISH: NewJob = NewJob {
    vin_good: "el dígito de control encaja",
    vin_length: "{} de 17 caracteres",
    vin_character: "ningún VIN tiene este carácter: {}",
    vin_digit: "el noveno carácter no es un dígito de control de este VIN (sería {}): correcto en coches de Europa; si no, mire otra vez",
    number_taken: "Este teléfono ya conoce un coche con este número: {}.",
    needs_number: "Falta el número de trabajo.",
    body_unitised: "Autoportante",
    body_pickup: "Camioneta con bastidor",
    body_van: "Furgoneta",
    body_none: "Sin puntos todavía",
    sheet_fits: "corresponde a este VIN",
    sheet_shared: "compartida por {}",
    sheet_search: "Ficha: fabricante, modelo, año",
    sheet_absent: "Esa ficha ya no está en este teléfono. Elija otra carrocería o inténtelo con señal.",
    impact: "¿Dónde recibió el golpe?",
    impact_why: "Toque el lugar en el plano. Solo decide donde las lecturas no pueden.",
    import_why: "Un archivo de trabajo (JSON) de este libro o de otro programa pasa a ser aquí un libro nuevo, con sus lecturas.",
    import_refused: "No se tomó nada. En el archivo:",
};

/// The words of a new job.
pub(super) fn words(language: Language) -> &'static NewJob {
    match language {
        Language::English => &ENGLISH,
        Language::Spanish => &SPANISH,
    }
}
