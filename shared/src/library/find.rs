//! The best fitting sheet first.
//!
//! This file refuses to know where the sheets are kept.

use std::cmp::Ordering;

use super::pattern::model_year;
use super::sheet::Sheet;
use crate::adjust::sorting::sort_by;

/// A sheet that was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hit {
    /// Its place in the list that was searched.
    pub index: usize,
    /// What its VIN pattern says, in bits, when the number fits it.
    pub vin_bits: Option<f64>,
    /// Does the model year of the number lie in the sheet's years? `None` when either is not known.
    pub year: Option<bool>,
}

/// Sheets that every word of `text` and the number fit, best first: by how much their pattern says of
/// the number, then by model year, then the newest revision.
///
/// A sheet whose pattern the number does not fit is left out; one without a pattern stays, behind
/// those that fit. Capitals count as small letters. An empty text or no number asks for nothing.
#[must_use]
pub fn find<'a>(
    sheets: impl IntoIterator<Item = &'a Sheet>,
    text: &str,
    vin: Option<&str>,
) -> Vec<Hit> {
    let text = text.to_lowercase();
    let words: Vec<&str> = text.split_whitespace().collect();
    let vin = vin.map(str::trim).filter(|vin| !vin.is_empty());
    let years = vin.and_then(model_year);
    let mut hits: Vec<(Hit, &Sheet)> = Vec::new();
    for (index, sheet) in sheets.into_iter().enumerate() {
        let body = &sheet.body;
        let shown = format!(
            "{}\n{}\n{}\n{}\n{}",
            sheet.name,
            body.maker,
            body.model,
            body.style,
            body.years
                .map(|years| format!("{} {}", years.from, years.to))
                .unwrap_or_default()
        )
        .to_lowercase();
        let fits = vin.zip(body.vin).map(|(vin, pattern)| pattern.fits(vin));
        if fits == Some(false) || !words.iter().all(|word| shown.contains(word)) {
            continue;
        }
        let year = years.zip(body.years).map(|((likely, other), years)| {
            let within = |year: u16| (years.from..=years.to).contains(&year);
            within(likely) || within(other)
        });
        let vin_bits = body
            .vin
            .filter(|_| fits == Some(true))
            .map(|p| p.specificity());
        let hit = Hit {
            index,
            vin_bits,
            year,
        };
        hits.push((hit, sheet));
    }
    sort_by(&mut hits, order);
    hits.into_iter().map(|(hit, _)| hit).collect()
}

fn order((a, one): &(Hit, &Sheet), (b, other): &(Hit, &Sheet)) -> Ordering {
    let bits = |hit: &Hit| hit.vin_bits.unwrap_or(-1.0);
    // A year that fits, then one that is not known, then one that does not.
    let year = |hit: &Hit| match hit.year {
        Some(true) => 0,
        None => 1,
        Some(false) => 2,
    };
    bits(b)
        .total_cmp(&bits(a))
        .then(year(a).cmp(&year(b)))
        .then(one.name.cmp(&other.name))
        .then(other.revision.cmp(&one.revision))
        .then(a.index.cmp(&b.index))
}
