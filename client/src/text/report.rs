//! The words around the report: what can be had, and why not; the report's own words are its own.

use super::{Language, words};

words! {
    Report;
    title why language paper letter pdf pdf_making print page_file readings results preparing
    pdf_offline pdf_unshared pdf_unshared_one pdf_busy pdf_failed print_failed file_failed not_here done
    code_title code_field code_why code_none code_unreadable code_found
}

const ENGLISH: Report = Report {
    title: "Report",
    why: "What was found, with views, tables, doubts, method, sign-offs and their codes.",
    language: "Language of the report",
    paper: "Paper",
    letter: "Letter",
    pdf: "Report (PDF)",
    pdf_making: "The server is making the report …",
    print: "Print",
    page_file: "Save as a page (HTML)",
    readings: "Readings (CSV)",
    results: "Results (CSV)",
    preparing: "Preparing …",
    pdf_offline: "The PDF comes from the server, and there is no signal. Printing and saving work without it, from what is here.",
    pdf_unshared_one: "{} change here is not shared yet: a PDF does not have it. What is printed or saved here does.",
    pdf_unshared: "{} changes here are not shared yet: a PDF does not have them. What is printed or saved here does.",
    pdf_busy: "The server is making other reports at the moment. Nothing is lost; try again in a few seconds.",
    pdf_failed: "There is no report.",
    print_failed: "This browser does not print from here. Save the page as a file, open that, and print it.",
    file_failed: "The browser did not take the file. Allow downloads for this page, and try again.",
    not_here: "This job is not here yet. It comes as soon as there is signal.",
    done: "The file is with your downloads.",
    code_title: "Check a code",
    code_field: "Verification code from a report",
    code_why: "Twelve letters and digits, as in Q9W1-DFWF-077Y.",
    code_none: "No signature of this job has this code. Look again at each character, and at the job's number on the report.",
    code_unreadable: "That is no code yet: twelve letters and digits, never a U.",
    code_found: "This code is of the signature by {} ({}), stage {}.",
};

const SPANISH: Report = Report {
    title: "Informe",
    why: "Lo que se halló, con vistas, tablas, dudas, método, firmas y sus códigos.",
    language: "Idioma del informe",
    paper: "Papel",
    letter: "Carta",
    pdf: "Informe (PDF)",
    pdf_making: "El servidor está haciendo el informe …",
    print: "Imprimir",
    page_file: "Guardar como página (HTML)",
    readings: "Lecturas (CSV)",
    results: "Resultados (CSV)",
    preparing: "Preparando …",
    pdf_offline: "El PDF viene del servidor y no hay señal. Imprimir y guardar funcionan sin él, con lo que hay aquí.",
    pdf_unshared_one: "{} cambio de aquí aún no se ha compartido: un PDF no lo lleva. Lo que se imprime o guarda aquí, sí.",
    pdf_unshared: "{} cambios de aquí aún no se han compartido: un PDF no los lleva. Lo que se imprime o guarda aquí, sí.",
    pdf_busy: "El servidor está haciendo otros informes en este momento. No se pierde nada; pruebe de nuevo en unos segundos.",
    pdf_failed: "No hay informe.",
    print_failed: "Este navegador no imprime desde aquí. Guarde la página como archivo, ábralo e imprímalo.",
    file_failed: "El navegador no aceptó el archivo. Permita descargas para esta página y pruebe de nuevo.",
    not_here: "Este trabajo aún no está aquí. Llega en cuanto haya señal.",
    done: "El archivo está en sus descargas.",
    code_title: "Comprobar un código",
    code_field: "Código de verificación de un informe",
    code_why: "Doce letras y cifras, como en Q9W1-DFWF-077Y.",
    code_none: "Ninguna firma de este trabajo tiene este código. Mire otra vez cada carácter, y el número de trabajo del informe.",
    code_unreadable: "Eso aún no es un código: doce letras y cifras, nunca una U.",
    code_found: "Este código es de la firma de {} ({}), etapa {}.",
};

pub(super) fn words(language: Language) -> &'static Report {
    match language {
        Language::English => &ENGLISH,
        Language::Spanish => &SPANISH,
    }
}
