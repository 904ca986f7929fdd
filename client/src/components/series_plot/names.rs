//! Which names stand below a plot.

use super::Place;

/// So many characters of names stand beside each other; of more, the first and the last name.
const MOST_CHARACTERS: usize = 26;

/// Where the names of visits or stages stand, each at its first value: of many, the first and the last.
pub(super) fn names(places: &[Place]) -> Vec<(usize, String)> {
    let mut begun: Vec<(usize, &Place)> = Vec::new();
    for (index, place) in places.iter().enumerate() {
        let goes_on = |(_, before): &(usize, &Place)| {
            before.visit == place.visit && before.name == place.name
        };
        if !begun.last().is_some_and(goes_on) {
            begun.push((index, place));
        }
    }
    let last = begun.len().saturating_sub(1);
    let characters: usize = begun
        .iter()
        .map(|(_, place)| place.name.chars().count())
        .sum();
    let is_few = characters <= MOST_CHARACTERS;
    begun
        .into_iter()
        .enumerate()
        .filter(|(number, _)| is_few || *number == 0 || *number == last)
        .map(|(_, (index, place))| (index, place.name.clone()))
        .collect()
}
