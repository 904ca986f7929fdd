//! Tables both ways: as spreadsheet programs write them, and broken in every way.

use proptest::prelude::*;

use super::any::{any_sheet, hatch};
use crate::jobfile::{MAX_REFUSALS, Refusal};
use crate::library::{Sheet, read_table, write_table};

fn read(text: &str) -> Result<Sheet, Vec<Refusal>> {
    read_table(text.as_bytes(), &hatch())
}

#[track_caller]
fn refused(text: &str, place: &str, says: &str) {
    let refusals = read(text).unwrap_err();
    let found = refusals
        .iter()
        .any(|r| r.place == place && r.says.contains(says));
    assert!(found, "{refusals:?}");
}

#[test]
fn a_plain_list_of_points_is_enough() {
    let sheet = read("id,x_mm,y_mm,z_mm\ntower-L,-61,-545.25,838.7\nnotch,400,0,900\n").unwrap();
    assert_eq!(sheet.points.len(), 2);
    assert_eq!(sheet.points[0].target_mm, [-61.0, -545.25, 838.7]);
    assert_eq!(sheet.points[0].spread_mm, [1.0; 3]);
    assert_eq!(
        format!("{:?} {:?}", sheet.points[0].side, sheet.points[1].side),
        "Left Centre"
    );
    assert_eq!((sheet.name.as_str(), sheet.revision), ("hatch", 3));
}

#[test]
fn semicolons_commas_marks_line_ends_and_inches_are_read() {
    let same = read("id,x,y,z,spread\na,-61.5,-545.25,838.7,0.5\nb,1,2,3,0.25\n").unwrap();
    for text in [
        "id;x;y;z;spread\na;-61,5;-545,25;838,7;0,5\nb;1;2;3;0,25\n",
        "\u{feff}id;X mm;Y_MM;z-mm;Spread mm\r\na;-61,5 mm;−545,25;838,7;0,5\r\n\r\n;;;;\r\nb;1;+2;3;0,25",
        "sep=;\r\nid;x;y;z;spread\r\na;-61,5;-545,25;838,7;0,5\r\nb;1;2;3;0,25\r\n",
        "id\tx\ty\tz\tspread\ra\t-61.5\t-545.25\t838.7\t0.5\rb\t1\t2\t3\t0.25\r",
        "id,x,y,z,spread\na,\"-61,5\",\"-545,25\",\"838,7\",\"0,5\"\nb,1,2,3,\"0,25\"\n",
        "z,spread,y,x,id,,\n838.7,0.5,-545.25,-61.5,a,,\n3,0.25,2,1,b\n"
            .replace(",,\n", "\n")
            .as_str(),
    ] {
        assert_eq!(read(text).as_ref(), Ok(&same), "{text:?}");
    }
    let inches = read("id,x_in,y_in,z_mm,spread_x_in\na,1/64,-16 1/4,3,0.02\n").unwrap();
    assert_eq!(inches.points[0].target_mm, [0.396_875, -412.75, 3.0]);
    assert_eq!(inches.points[0].spread_mm, [0.508, 1.0, 1.0]);
}

#[test]
fn everything_wrong_is_named_by_row_and_column() {
    refused("", "", "nothing is in it");
    refused("id,x,y\n", "row 1", "z_mm");
    refused(
        "id,x,y,z,colour\n",
        "row 1, column 5",
        "\"colour\" is no column",
    );
    refused("id,x,y,z,X_mm\n", "row 1, column 5", "stands twice");
    refused("id,x,y,z,label_mm\n", "row 1, column 5", "no column");
    refused("id,x,y,z,spread,spread_x\n", "row 1", "use either");
    refused("id,x,y,z\na,1,2\n", "row 2, column z", "nothing is here");
    refused("id,x,y,z\n\n\na,1,2,3,4\n", "row 4", "5 cells");
    refused(
        "id,x,y,z\na,1,two,3\n",
        "row 2, column y",
        "'two' is not a length",
    );
    refused("id,x,y,z\na,1,2,1e3\n", "row 2, column z", "'1e3'");
    refused(
        "id,x,y,z\na,\"1,234\",2,3\n",
        "row 2, column x",
        "thousands",
    );
    refused("id;x;y;z\na;1,5;2.5;3\n", "row 2, column y", "decimal mark");
    refused("id;x;y;z\na;1.234,5;2;3\n", "row 2, column x", "'1.234,5'");
    refused("id,x,y,z\na b,1,2,3\n", "row 2, column id", "no spaces");
    refused("id,x,y,z\n,1,2,3\n", "row 2, column id", "empty");
    refused(
        "id,x,y,z\na,1,2,3\na,1,2,3\n",
        "row 3, column id",
        "another row",
    );
    refused(
        "id,side,x,y,z\na,top,1,2,3\n",
        "row 2, column side",
        "left, right or centre",
    );
    refused(
        "id,x,y,z,asymmetric\na,1,2,3,maybe\n",
        "row 2, column asymmetric",
        "yes nor no",
    );
    refused(
        "id,x,y,z,cars\na,1,2,3,1.5\n",
        "row 2, column cars",
        "whole",
    );
    refused(
        "row,id,x,y,z\nplace,a,1,2,3\n",
        "row 2, column row",
        "sheet, member or point",
    );
    refused(
        "row,id,x,y,z,value\nsheet,colour,,,,red\n",
        "row 2, column id",
        "nothing that a sheet says",
    );
    refused(
        "row,id,x,y,z,value\nsheet,vin,,,,1O*\n",
        "row 2, column value",
        "in no VIN",
    );
    refused(
        "row,id,x,y,z,value\nsheet,years,,,,soon\n",
        "row 2, column value",
        "2019 to 2024",
    );
    refused(
        "row,id,x,y,z,value\nsheet,revision,,,,x\n",
        "row 2, column value",
        "whole number",
    );
    refused(
        "row,id,x,y,z,value\nsheet,name,,,,\npoint,a,1,2,3,\n",
        "row 2, column value",
        "needs a name",
    );
    // What only holds together in the whole sheet has its row too.
    refused(
        "id,x,y,z,member\nok,1,0,3,\na,1,2,3,roof\n",
        "row 3, column member",
        "no member",
    );
    refused(
        "id,x,y,z,mirror\na,1,2,3,b\n",
        "row 2, column mirror",
        "no point",
    );
    refused("id,x,y,z_mm\na,1,2,99999\n", "row 2, column z_mm", "50000");
    refused(
        "id,x,y,z,spread\na,1,2,3,0\n",
        "row 2, column spread",
        "0.001",
    );
    refused(
        "id,x,y,z,mirror\na,1,-200,3,b\nb,1,300,3,a\n",
        "row 2, column y",
        "100.0 mm",
    );
    refused(
        "id,x,y,z,label\na,1,2,3,\"left open\nb,1,2,3,\n",
        "row 2, column label",
        "line ends",
    );
}

#[test]
fn errors_are_collected_and_bounded() {
    let refusals = read("id,x,y,z\na,one,2,3\nb,1,two,3\nc,1,2,three\n").unwrap_err();
    let places: Vec<&str> = refusals.iter().map(|r| r.place.as_str()).collect();
    assert_eq!(
        places,
        ["row 2, column x", "row 3, column y", "row 4, column z"]
    );
    let many = format!("id,x,y,z\n{}", "a,?,?,?\n".repeat(10_000));
    assert_eq!(read(&many).unwrap_err().len(), MAX_REFUSALS);
    let rows: String = (0..5000).map(|n| format!("p{n},1,2,3\n")).collect();
    assert!(
        read(&format!("id,x,y,z\n{rows}")).unwrap_err()[0]
            .says
            .contains("too many rows")
    );
    let wide = "id,".repeat(5000);
    assert!(
        read(&wide).unwrap_err()[0]
            .says
            .contains("too many columns")
    );
    assert!(
        read_table(&[b'a'; 5_000_000], &hatch()).unwrap_err()[0]
            .says
            .contains("longer")
    );
    assert!(
        read_table(b"id,x,y,z\n\xe4,1,2,3", &hatch()).unwrap_err()[0]
            .says
            .contains("UTF-8")
    );
}

/// No cell begins with what spreadsheet programs take for a formula, whichever of the usual separators
/// they cut at.
fn is_guarded(table: &str) -> bool {
    let formula = |text: &str| text.starts_with(['=', '+', '@', '＝', '＋', '－', '＠']);
    let text = table.trim_start_matches('\u{feff}');
    [',', ';', '\t', '|'].into_iter().all(|separator| {
        text.split(['\r', '\n'])
            .flat_map(|line| line.split(separator))
            .all(|cell| {
                let cell = cell.trim_start_matches(|c: char| c == '"' || c.is_whitespace());
                // A minus may begin a number.
                let minus = cell
                    .strip_prefix('-')
                    .is_some_and(|rest| !rest.starts_with(|c: char| c.is_ascii_digit()));
                !formula(cell) && !minus
            })
    })
}

#[test]
fn nothing_in_a_table_is_a_formula() {
    let mut sheet = hatch();
    sheet.name = "=cmd|' /C calc'!A0".into();
    sheet.body.maker = "a;=HYPERLINK(\"x\")".into();
    sheet.body.model = "x,\"=1+1".into();
    sheet.points[0].label = "@SUM(A1)".into();
    sheet.points[1].label = "-2+3".into();
    let table = write_table(&sheet);
    assert!(table.contains("'=cmd|''"), "{table}");
    assert!(is_guarded(&table), "{table}");
    assert_eq!(read(&table), Ok(sheet));
}

proptest! {
    #[test]
    fn what_is_written_is_read_back_the_same(sheet in any_sheet()) {
        let table = write_table(&sheet);
        prop_assert!(is_guarded(&table), "{}", table);
        prop_assert_eq!(read(&table), Ok(sheet));
    }

    #[test]
    fn a_broken_table_is_read_or_refused(
        sheet in any_sheet(),
        cuts in prop::collection::vec((any::<prop::sample::Index>(), "\\PC{0,3}|[\",;'\r\n=]{1,3}"), 1..6),
    ) {
        let mut text = write_table(&sheet);
        for (at, with) in cuts {
            let places: Vec<usize> = text.char_indices().map(|(at, _)| at).collect();
            if places.is_empty() { break; }
            text.insert_str(*at.get(&places), &with);
        }
        match read(&text) {
            Ok(read_sheet) => prop_assert_eq!(read(&write_table(&read_sheet)), Ok(read_sheet)),
            Err(refusals) => prop_assert!(!refusals.is_empty() && refusals.len() <= MAX_REFUSALS),
        }
    }

    #[test]
    fn any_bytes_do_no_harm(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let _ = read_table(&bytes, &hatch());
    }
}
