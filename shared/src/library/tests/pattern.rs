//! Patterns of identification numbers, model years, and the order of what is found.

use proptest::prelude::*;

use super::any::hatch;
use crate::library::{Pattern, PatternError, Sheet, find, model_year};

/// Sample number of 49 CFR 565, table V.
const SAMPLE: &str = "1G4AH59H45G118341";

fn pattern(text: &str) -> Pattern {
    text.parse().unwrap()
}

#[test]
fn a_pattern_fits_what_it_says() {
    for text in [
        "*",
        SAMPLE,
        "1G4*",
        "[1-5]g4 ah??? ?[4-6] *",
        "?????????????????",
        "1G[3-5]*",
    ] {
        assert!(pattern(text).fits(SAMPLE), "{text}");
        assert!(pattern(text).fits(&SAMPLE.to_lowercase()), "{text}");
    }
    for text in ["2*", "1G4AH59H45G118342", "1G[A-Z]*", "1G[5-9]*"] {
        assert!(!pattern(text).fits(SAMPLE), "{text}");
    }
    for number in [
        "",
        "1G4",
        "1G4AH59H45G1183411",
        "IG4AH59H45G118341",
        "1G4AH59H45G11834é",
    ] {
        assert!(!pattern("*").fits(number), "{number}");
    }
}

#[test]
fn what_is_no_pattern_says_why() {
    let check = |text: &str, error| assert_eq!(text.parse::<Pattern>(), Err(error), "{text}");
    check("", PatternError::Length(0));
    check("1G4", PatternError::Length(3));
    check("??????????????????", PatternError::Length(18));
    check("1O*", PatternError::Character('O', 2));
    check("1[AQ]*", PatternError::Character('Q', 2));
    check("[*", PatternError::Character('*', 1));
    check("1[", PatternError::Set(2));
    check("1[]*", PatternError::Set(2));
    check("1[C-A]*", PatternError::Set(2));
    check("1[5-B]*", PatternError::Set(2));
    check("1[A-]*", PatternError::Set(2));
    check("1*2", PatternError::BehindStar);
    check(&"[".repeat(2000), PatternError::TooLong);
}

#[test]
fn there_is_one_way_to_write_a_pattern() {
    let check = |text: &str, written: &str| assert_eq!(pattern(text).to_string(), written);
    check(" 1g4 ?[cab]*", "1G4?[A-C]*");
    check("[12][129][8-9A-B]*", "[12][129][89AB]*");
    check("[H-P]*", "[H-P]*");
    check("1G4AH59H45G11834?", "1G4AH59H45G11834?");
}

/// 49 CFR 565.15: the code of place 10, and place 7 for light vehicles; from memory. The first number
/// is NHTSA's sample, the others are it with another place 7 or 10.
#[test]
fn model_years_come_round_every_thirty() {
    assert_eq!(model_year(SAMPLE), Some((2005, 2035)));
    assert_eq!(model_year("1G4AH5AH45G118341"), Some((2035, 2005)));
    assert_eq!(model_year("1G4AH59H4AG118341"), Some((1980, 2010)));
    assert_eq!(model_year("1G4AH5AH4AG118341"), Some((2010, 1980)));
    assert_eq!(model_year("1G4AH59H4YG118341"), Some((2000, 2030)));
    assert_eq!(model_year("1G4AH59H49G118341"), Some((2009, 2039)));
    // Never used in place 10.
    for code in ["0", "U", "Z"] {
        assert_eq!(model_year(&format!("1G4AH59H4{code}G118341")), None);
    }
    assert_eq!(model_year("1G4"), None);
}

#[test]
fn the_best_fitting_sheet_comes_first() {
    let sheet = |name: &str, revision, vin: Option<&str>| Sheet {
        name: name.into(),
        revision,
        ..{
            let mut sheet = hatch();
            sheet.body.vin = vin.map(pattern);
            sheet
        }
    };
    let sheets = [
        sheet("any", 1, None),
        sheet("maker", 1, Some("1G4*")),
        sheet("closer", 1, Some("1G4 A[HJ] *")),
        sheet("closer", 2, Some("1G4 A[HJ] *")),
        sheet("other", 1, Some("WVW*")),
    ];
    let found = |text: &str, vin| -> Vec<usize> {
        find(&sheets, text, vin)
            .iter()
            .map(|hit| hit.index)
            .collect()
    };
    assert_eq!(found("", Some(SAMPLE)), [3, 2, 1, 0]);
    assert_eq!(found("CLOSER invented", Some(SAMPLE)), [3, 2]);
    assert_eq!(found("hatch", None), [0, 3, 2, 1, 4]);
    assert_eq!(found("hatch 2019", None), [0, 3, 2, 1, 4]);
    assert_eq!(found("van", None), [0_usize; 0]);
    // 2005 or 2035 by the number, 2019 to 2024 by the sheet.
    assert_eq!(find(&sheets, "", Some(SAMPLE))[0].year, Some(false));
}

proptest! {
    #[test]
    fn whatever_is_written_is_a_pattern_or_an_error(text in "\\PC{0,30}|[0-9A-Z\\[\\]?* -]{0,40}") {
        if let Ok(pattern) = text.parse::<Pattern>() {
            let written = pattern.to_string();
            prop_assert_eq!(written.parse::<Pattern>(), Ok(pattern));
            prop_assert!(pattern.specificity() >= 0.0);
        }
    }

    #[test]
    fn any_set_is_written_and_read(sets in prop::collection::vec("[0-9A-HJ-NPR-Z]{1,30}", 17)) {
        let text: String = sets.iter().map(|set| format!("[{set}]")).collect();
        let pattern: Pattern = text.parse().unwrap();
        prop_assert_eq!(pattern.to_string().parse::<Pattern>(), Ok(pattern));
        let number: String = sets.iter().filter_map(|set| set.chars().last()).collect();
        prop_assert!(pattern.fits(&number));
    }
}
