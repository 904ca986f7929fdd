//! Tables for other programs: read back by a reader of RFC 4180, complete, and harmless.

use report::table;
use shared::figures::{Figures, Language, LengthUnit};
use shared::solve::solve;

fn rows(text: &str) -> (Vec<String>, Vec<Vec<String>>) {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head = reader
        .headers()
        .unwrap()
        .iter()
        .map(str::to_owned)
        .collect();
    let rows = reader
        .records()
        .map(|row| row.unwrap().iter().map(str::to_owned).collect())
        .collect();
    (head, rows)
}

#[test]
fn every_reading_is_in_the_table_with_its_value_to_the_last_digit() {
    let job = shared::demo::job();
    for (unit, factor, name) in [
        (LengthUnit::Millimetre, 1.0, "value (mm)"),
        (LengthUnit::InchFraction, 25.4, "value (in)"),
    ] {
        let figures = Figures {
            unit,
            language: Language::English,
        };
        let text = table::readings(&job, figures);
        assert!(text.contains("\r\n") && !text.replace("\r\n", "").contains('\n'));
        let (head, rows) = rows(&text);
        let column = head.iter().position(|column| column == name).unwrap();
        let counts = head.iter().position(|column| column == "counts").unwrap();
        assert_eq!(rows.len(), job.readings.len());
        for (row, reading) in rows.iter().zip(&job.readings) {
            assert_eq!(row[0], reading.id.to_string());
            let value: f64 = row[column].parse().unwrap();
            let taken = serde_json::to_value(&reading.taken).unwrap();
            let expected = taken["value_mm"].as_f64().unwrap();
            assert!((value * factor - expected).abs() < 1e-9, "{row:?}");
        }
        let counting = rows.iter().filter(|row| row[counts] == "yes").count();
        assert_eq!(counting, job.counting_readings().count());
    }
}

#[test]
fn every_determined_quantity_is_in_the_table_of_results() {
    let job = shared::demo::job();
    let result = solve(&job);
    let (head, rows) = rows(&table::results(&job, &result, Figures::default()));
    let nothing = ["-0", "-0.0000"];
    let fields = rows.iter().flatten();
    assert!(
        fields
            .clone()
            .all(|field| !nothing.contains(&field.as_str()))
    );
    assert!(fields.clone().any(|field| field == "0.0000"));
    assert_eq!(head[3], "deviation or value (mm)");
    let pairs = result.stages.iter().flat_map(|stage| &stage.pairs);
    let judged = pairs.flat_map(|pair| {
        [
            &pair.right_higher_mm,
            &pair.centre_right_mm,
            &pair.right_rearward_mm,
            &pair.width_mm,
        ]
    });
    let values: Vec<f64> = judged.filter_map(|judged| judged.value).collect();
    let of_points = result.stages.iter().flat_map(|stage| stage.points.values());
    let deviations = of_points
        .flat_map(|point| point.deviation_mm)
        .flatten()
        .count();
    assert_eq!(rows.len(), values.len() + deviations);
    let found: Vec<f64> = rows.iter().map(|row| row[3].parse().unwrap()).collect();
    for value in values {
        assert!(
            found.iter().any(|found| (found - value).abs() < 1e-3),
            "{value}"
        );
    }
}

#[test]
fn no_text_is_a_formula_and_no_number_is_touched() {
    let mut job = shared::demo::job();
    let names = [
        "=1+1", "+cmd", "-2+3", "@SUM(A1)", "\tx", "\r=x", "＝x", "a\"b,\nc", "-5",
    ];
    for (reading, name) in job.readings.iter_mut().zip(names) {
        reading.by = name.to_owned();
    }
    let (head, rows) = rows(&table::readings(&job, Figures::default()));
    let by = head.iter().position(|column| column == "read by").unwrap();
    for (row, name) in rows.iter().zip(names) {
        let expected = match name {
            "a\"b,\nc" | "-5" => name.to_owned(),
            name => format!("'{name}"),
        };
        assert_eq!(row[by], expected);
    }
}
