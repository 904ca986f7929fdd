//! A broken dimension sheet: a target, a spread or a tolerance that is none takes no other with it.

use super::*;

#[test]
fn a_sheet_with_numbers_that_are_none() {
    let not_there = (
        Unreadable,
        Left,
        "sheet/points/notch",
        "invalid type: null, expected f64",
    );
    let job = check(
        |tx| {
            let target = at(tx, "sheet/points/notch");
            tx.put(target, 1, f64::NAN).unwrap();
        },
        &[
            (OutOfBounds, Ask, "sheet/points/notch/1", "NaN"),
            not_there,
            (Dangling, Left, "sheet/spreads/notch", "notch"),
            (Dangling, Left, "sheet/tolerances/notch", "notch"),
        ],
    );
    assert_eq!(job.sheet.unwrap().points.len(), 2);
    let job = check(
        |tx| {
            let target = at(tx, "sheet/points/notch");
            tx.put(target, 2, 1e9).unwrap();
        },
        &[(OutOfBounds, Left, "sheet/points/notch/2", "1e9")],
    );
    let sheet = job.sheet.unwrap();
    assert_eq!(
        (
            sheet.points.len(),
            sheet.spreads.len(),
            sheet.tolerances.len()
        ),
        (2, 2, 2)
    );
    // A spread or tolerance that is none falls back to the one of all; the target stays.
    let job = check(
        |tx| {
            let spread = at(tx, "sheet/spreads/notch");
            tx.put(spread, 2, 0.0).unwrap();
            put(tx, "sheet/tolerances/notch", -1.0);
            put(tx, "sheet/tolerances/tower-L", "much");
            put(tx, "sheet/tolerances/tower-R", f64::NAN);
            put(tx, "sheet/tolerances/gone", 2.0);
        },
        &[
            (OutOfBounds, Ask, "sheet/tolerances/tower-R", "NaN"),
            (
                Unreadable,
                Left,
                "sheet/tolerances/tower-L",
                "invalid type: string \"much\", expected f64",
            ),
            (OutOfBounds, Left, "sheet/spreads/notch/2", "0"),
            (Dangling, Left, "sheet/tolerances/gone", "gone"),
            (OutOfBounds, Left, "sheet/tolerances/notch", "-1"),
        ],
    );
    let sheet = job.sheet.as_ref().unwrap();
    assert_eq!((sheet.points.len(), sheet.spreads.len()), (3, 2));
    assert!(sheet.tolerances.is_empty());
    assert_eq!(sheet.spread_of(&PointId::parse("notch").unwrap()), [0.5; 3]);
    // What is no map at all is as if it were not there, and is said.
    let job = check(
        |tx| put(tx, "sheet/spreads", 0.25),
        &[(
            Unreadable,
            Left,
            "sheet/spreads",
            "invalid type: floating point `0.25`, expected a map",
        )],
    );
    let sheet = job.sheet.unwrap();
    assert_eq!((sheet.points.len(), sheet.spreads.len()), (3, 0));
    // A sheet that knows more points than this car has is no fault of the sheet.
    let job = check(
        |tx| {
            let targets = at(tx, "sheet/points");
            for id in ["apron-L", "apron-R"] {
                let target = tx.put_object(&targets, id, ObjType::List).unwrap();
                for axis in 0..3 {
                    tx.insert(&target, axis, 1.0).unwrap();
                }
            }
        },
        &[(Dangling, Note, "sheet/points", "apron-L apron-R")],
    );
    assert_eq!(job.sheet.unwrap().points.len(), 3);
}
