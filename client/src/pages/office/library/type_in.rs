//! A sheet typed at the desk: a grid that goes on by Tab and down by Enter, and takes pasted cells.

use leptos::prelude::*;
use shared::library::{OriginKind, Sheet, SheetLine, read_table};
use wasm_bindgen::JsCast;

use super::take::KeepSheet;
use crate::components::refusals::Refusals;
use crate::platform;
use crate::state::person::person;

/// Columns of the grid.
const COLUMNS: [&str; 6] = ["id", "label", "x_mm", "y_mm", "z_mm", "spread_mm"];
/// Rows at the start.
const ROWS: usize = 6;

type Row = [String; COLUMNS.len()];

/// The section.
#[component]
pub fn TypeSheet(
    /// Sheets that are there.
    known: Signal<Vec<SheetLine>>,
    /// Asks for them anew.
    fetch: Callback<()>,
) -> impl IntoView {
    let person = person();
    let rows = RwSignal::new(vec![Row::default(); ROWS]);
    let sheet = RwSignal::new(None::<Sheet>);
    let refused = RwSignal::new(Vec::<String>::new());
    let look = move |_| match read(&rows.get_untracked()) {
        Ok(read) => {
            refused.set(Vec::new());
            sheet.set(Some(read));
        }
        Err(lines) => {
            sheet.set(None);
            refused.set(lines);
        }
    };
    let count = Memo::new(move |_| rows.read().len());
    let grid = move || {
        let row = |index: usize| view! { <GridRow index rows /> };
        (0..count.get()).map(row).collect_view()
    };
    view! {
        <section>
            <h2>{person.library_word(|library| library.type_title)}</h2>
            <p class="quiet">{person.library_word(|library| library.type_why)}</p>
            <div class="wide">
                <table class="grid" data-test="type-grid">
                    <thead>
                        <tr>
                            <th scope="col">{person.library_word(|library| library.type_id)}</th>
                            <th scope="col">{person.library_word(|library| library.type_label)}</th>
                            <th scope="col">"x (mm)"</th>
                            <th scope="col">"y (mm)"</th>
                            <th scope="col">"z (mm)"</th>
                            <th scope="col">{person.library_word(|library| library.type_spread)}</th>
                        </tr>
                    </thead>
                    <tbody>{grid}</tbody>
                </table>
            </div>
            <button type="button" data-test="type-look" on:click=look>{person.library_word(|library| library.type_look)}</button>
            <Refusals heading=person.library_word(|library| library.type_rows) lines=refused />
            {move || sheet.get().map(|sheet| view! { <KeepSheet sheet known done=fetch /> })}
        </section>
    }
}

/// One row; the last one makes another when it is written in.
#[component]
fn GridRow(index: usize, rows: RwSignal<Vec<Row>>) -> impl IntoView {
    let cell = move |column: usize| {
        let value = move || rows.read().get(index).map(|row| row[column].clone());
        let put = move |event: leptos::ev::Event| {
            let text = event_target_value(&event);
            rows.update(|rows| write(rows, index, column, text));
        };
        let down = move |event: leptos::ev::KeyboardEvent| {
            if event.key() == "Enter" {
                event.prevent_default();
                platform::focus(&name_of(index + 1, column));
            }
        };
        let paste = move |event: leptos::ev::Event| {
            let event: &web_sys::ClipboardEvent = event.unchecked_ref();
            let data = event.clipboard_data();
            let text = data.and_then(|data| data.get_data("text/plain").ok());
            let text = text.unwrap_or_default();
            if text.contains(['\t', '\n']) {
                event.prevent_default();
                rows.update(|rows| pour(rows, index, column, &text));
            }
        };
        let label = format!("{} {}", COLUMNS[column], index + 1);
        let mode = if column < 2 { "text" } else { "decimal" };
        view! {
            <td><input id=name_of(index, column) aria-label=label inputmode=mode autocomplete="off" prop:value=value on:input=put on:keydown=down on:paste=move |event| paste(event.into()) /></td>
        }
    };
    view! { <tr>{(0..COLUMNS.len()).map(cell).collect_view()}</tr> }
}

fn name_of(row: usize, column: usize) -> String {
    format!("cell-{row}-{column}")
}

/// Writes a cell; there is always an empty row below.
fn write(rows: &mut Vec<Row>, index: usize, column: usize, text: String) {
    while rows.len() <= index + 1 {
        rows.push(Row::default());
    }
    rows[index][column] = text;
}

/// Cells of a spreadsheet, from this one on to the right and down.
fn pour(rows: &mut Vec<Row>, index: usize, column: usize, text: &str) {
    for (down, line) in text.trim_end_matches(['\r', '\n']).lines().enumerate() {
        for (right, cell) in line.split('\t').enumerate() {
            if column + right < COLUMNS.len() {
                write(rows, index + down, column + right, cell.trim().to_owned());
            }
        }
    }
}

/// Reads the grid as the table that it is; its rows are numbered as on the screen.
fn read(rows: &[Row]) -> Result<Sheet, Vec<String>> {
    let is_written = |row: &&Row| row.iter().any(|cell| !cell.trim().is_empty());
    let ids: Vec<&str> = rows.iter().map(|row| row[0].trim()).collect();
    let mut table = COLUMNS.join("\t") + "\tmirror\n";
    let mut mirrored = String::new();
    for row in rows.iter().filter(is_written) {
        let id = row[0].trim();
        let other = match id.strip_suffix("-L") {
            Some(stem) => Some(format!("{stem}-R")),
            None => id.strip_suffix("-R").map(|stem| format!("{stem}-L")),
        };
        let has_row = |id: &String| ids.contains(&id.as_str());
        let is_left = id.ends_with("-L");
        let mirror = other.filter(|other| is_left || has_row(other));
        table += &line(row, mirror.as_deref().unwrap_or_default());
        if let Some(right) = mirror.filter(|right| is_left && !has_row(right)) {
            let mut copy = row.clone();
            copy[0].clone_from(&right);
            copy[3] = opposite(&row[3]);
            mirrored += &line(&copy, id);
        }
    }
    table += &mirrored;
    let mut head = Sheet::blank("–", OriginKind::Manual);
    // Both are asked for before the sheet is kept.
    head.body.model = String::from("–");
    let read = read_table(table.as_bytes(), &head).map(|mut sheet| {
        sheet.name.clear();
        sheet.body.model.clear();
        sheet
    });
    read.map_err(|refusals| refusals.iter().map(ToString::to_string).collect())
}

fn line(row: &Row, mirror: &str) -> String {
    // A tab or a quote in a cell would begin another.
    let cells = row.iter().map(|cell| cell.trim().replace(['\t', '"'], " "));
    cells.collect::<Vec<_>>().join("\t") + "\t" + mirror + "\n"
}

/// The number on the other side of the middle.
fn opposite(text: &str) -> String {
    let text = text.trim();
    match text.strip_prefix(['-', '−']) {
        Some(rest) => rest.trim().to_owned(),
        None => format!("-{}", text.trim_start_matches('+')),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(cells: [&str; 6]) -> Row {
        cells.map(str::to_owned)
    }

    #[test]
    fn a_left_row_is_mirrored_unless_the_right_has_its_own() {
        let sheet = read(&[
            row(["tower-L", "strut tower", "-61", "-545,5", "838", "1,5"]),
            row(["rail-L", "rail", "-700", "-420", "310", ""]),
            row(["rail-R", "rail", "-702", "421", "311", ""]),
            Row::default(),
        ]);
        let points = sheet.unwrap().points;
        let targets: Vec<(&str, [f64; 3])> = points
            .iter()
            .map(|(id, point)| (id.as_str(), point.target_mm))
            .collect();
        assert_eq!(
            targets,
            [
                ("tower-L", [-61.0, -545.5, 838.0]),
                ("rail-L", [-700.0, -420.0, 310.0]),
                ("rail-R", [-702.0, 421.0, 311.0]),
                ("tower-R", [-61.0, 545.5, 838.0]),
            ]
        );
        assert!(points.values().all(|point| point.mirror.is_some()));
    }

    #[test]
    fn what_is_wrong_is_told_by_row_and_column() {
        let wrong = read(&[row(["tower-L", "", "-61", "left", "838", ""])]).unwrap_err();
        assert!(
            wrong[0].contains("row 2") && wrong[0].contains("y_mm"),
            "{wrong:?}"
        );
    }

    #[test]
    fn pasted_cells_make_rows() {
        let mut rows = vec![Row::default(); 1];
        pour(&mut rows, 0, 2, "1\t2\t3\r\n4\t5\t6\t7\t8\n");
        assert_eq!(rows.len(), 3);
        assert_eq!(rows[0][2..5], ["1", "2", "3"]);
        assert_eq!(rows[1][2..6], ["4", "5", "6", "7"]);
    }
}
