//! The words of the owner's desk about changes, backups and tools, in every language; a missing one does
//! not compile.

use super::{Language, words};

words! {
    Desk;
    what_changed changes_none and_more before because
    reading_recorded reading_replaced reading_set_aside reading_brought_back
    point_added point_renamed point_changed stage_begun stage_changed setup_added setup_changed
    tool_added tool_changed member_changed note_written photo_added photo_hidden
    card_changed rule_changed sheet_changed other_change
    backups backup_none backup_last backup_good backup_old
    tools_due tools_why tools_none never_checked checked_on in_book
}

const ENGLISH: Desk = Desk {
    what_changed: "What changed",
    changes_none: "Nothing has come into the book since.",
    and_more: "and {} more",
    before: "before:",
    because: "because:",
    reading_recorded: "Reading recorded",
    reading_replaced: "Reading replaced",
    reading_set_aside: "Reading set aside",
    reading_brought_back: "Reading counts again",
    point_added: "Point added",
    point_renamed: "Point renamed",
    point_changed: "Point changed",
    stage_begun: "Stage begun",
    stage_changed: "Stage changed",
    setup_added: "Set-up added",
    setup_changed: "Set-up changed",
    tool_added: "Tool added",
    tool_changed: "Tool changed or checked",
    member_changed: "Member added or changed",
    note_written: "Note written",
    photo_added: "Photo added",
    photo_hidden: "Photo hidden",
    card_changed: "Number, vehicle or damage changed",
    rule_changed: "Tolerance or rule changed",
    sheet_changed: "Dimension sheet changed",
    other_change: "Another entry",
    backups: "Backup",
    backup_none: "No backup yet. Whoever runs the server finds in the operations guide how to make one every night.",
    backup_last: "Last backup: {} · {}",
    backup_good: "Written, and read again.",
    backup_old: "That is more than two days ago: whoever runs the server should see why.",
    tools_due: "Lasers due for a check",
    tools_why: "Every 12 months is common practice where the maker or the shop asks for no other time, and after every fall. Lasers are checked in a job, under More. The book keeps no checks of tapes and rods: compare them with a good tape as often.",
    tools_none: "No laser is due.",
    never_checked: "no check is written down",
    checked_on: "last checked {}",
    in_book: "newest job with it: {}",
};

const SPANISH: Desk = Desk {
    what_changed: "Qué cambió",
    changes_none: "No ha entrado nada en el libro desde entonces.",
    and_more: "y {} más",
    before: "antes:",
    because: "porque:",
    reading_recorded: "Lectura anotada",
    reading_replaced: "Lectura sustituida",
    reading_set_aside: "Lectura apartada",
    reading_brought_back: "Lectura que vuelve a contar",
    point_added: "Punto añadido",
    point_renamed: "Punto con otro nombre",
    point_changed: "Punto cambiado",
    stage_begun: "Etapa empezada",
    stage_changed: "Etapa cambiada",
    setup_added: "Posición añadida",
    setup_changed: "Posición cambiada",
    tool_added: "Herramienta añadida",
    tool_changed: "Herramienta cambiada o comprobada",
    member_changed: "Pieza añadida o cambiada",
    note_written: "Nota escrita",
    photo_added: "Foto añadida",
    photo_hidden: "Foto oculta",
    card_changed: "Número, vehículo o daño cambiado",
    rule_changed: "Tolerancia o regla cambiada",
    sheet_changed: "Ficha de medidas cambiada",
    other_change: "Otra entrada",
    backups: "Copia de seguridad",
    backup_none: "Aún no hay ninguna copia. Quien lleva el servidor encuentra en la guía de operación cómo hacer una cada noche.",
    backup_last: "Última copia: {} · {}",
    backup_good: "Escrita y leída de nuevo.",
    backup_old: "De eso hace más de dos días: quien lleva el servidor debería ver por qué.",
    tools_due: "Láseres que toca comprobar",
    tools_why: "Cada 12 meses es la práctica común cuando el fabricante o el taller no piden otro plazo, y después de cada caída. Los láseres se comprueban en un trabajo, en Más. El libro no guarda comprobaciones de cintas ni varas: compárelas con una cinta buena con la misma frecuencia.",
    tools_none: "No toca comprobar ningún láser.",
    never_checked: "no hay ninguna comprobación anotada",
    checked_on: "última comprobación {}",
    in_book: "trabajo más reciente con él: {}",
};

/// The words of a language.
#[must_use]
pub fn words(language: Language) -> &'static Desk {
    match language {
        Language::English => &ENGLISH,
        Language::Spanish => &SPANISH,
    }
}
