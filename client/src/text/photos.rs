//! The words of the photos' page, in every language; a missing one does not compile.

use super::{Language, words};

words! {
    Photos;
    why of_point whole_car caption none none_there no_stage hidden hidden_by hide hide_why nowhere open save
    refused
}

const ENGLISH: Photos = Photos {
    why: "A photo is scaled down on this phone, and where it was taken is left out of it. It is kept here until the server has it. A saved job file has no photos.",
    of_point: "Point",
    whole_car: "the car",
    caption: "What it shows",
    none: "No photos yet. Take one here, or with a reading.",
    none_there: "No photos yet.",
    no_stage: "No stage",
    hidden: "Hidden",
    hidden_by: "Hidden by {}, because: {}",
    hide: "Hide this photo",
    hide_why: "Why it should be hidden; its record stays",
    nowhere: "Not here yet: it is on the phone that took it, or there is no signal.",
    open: "Show large",
    save: "Save the file",
    refused: "The server has no room for {} of these photos, or cannot read them. They stay on this phone; save the files.",
};

const SPANISH: Photos = Photos {
    why: "La foto se reduce en este teléfono y se le quita el lugar donde se tomó. Se guarda aquí hasta que el servidor la tenga. Un archivo de trabajo guardado no lleva fotos.",
    of_point: "Punto",
    whole_car: "el coche",
    caption: "Qué muestra",
    none: "Aún no hay fotos. Tome una aquí o con una lectura.",
    none_there: "Aún no hay fotos.",
    no_stage: "Sin etapa",
    hidden: "Ocultas",
    hidden_by: "Oculta por {}, porque: {}",
    hide: "Ocultar esta foto",
    hide_why: "Por qué debe ocultarse; su registro se queda",
    nowhere: "Aún no está aquí: está en el teléfono que la tomó, o no hay señal.",
    open: "Ver en grande",
    save: "Guardar el archivo",
    refused: "El servidor no tiene sitio para {} de estas fotos, o no puede leerlas. Se quedan en este teléfono; guarde los archivos.",
};

pub(super) fn words(language: Language) -> &'static Photos {
    match language {
        Language::English => &ENGLISH,
        Language::Spanish => &SPANISH,
    }
}
