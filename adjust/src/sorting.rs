//! Sorting with one copy of the algorithm for all kinds of records.
//!
//! The library's sort is compiled anew for every kind, five thousand bytes each on the phone. Here
//! places are sorted, which are all of one kind, and the records then moved; for the few hundred
//! that a car has, as fast.

use std::cmp::Ordering;

/// Sorts, keeping equal ones in their order.
pub fn sort_by<T>(items: &mut Vec<T>, mut compare: impl FnMut(&T, &T) -> Ordering) {
    let places = sorted(items.len(), &mut |a, b| compare(&items[a], &items[b]));
    let mut taken: Vec<Option<T>> = items.drain(..).map(Some).collect();
    items.extend(places.into_iter().filter_map(|place| taken[place].take()));
}

/// Gathers items one by one: a map or set in order that is collected at once is sorted first, by a
/// copy of the library's sort for its kind.
pub fn gather<C: Default + Extend<T>, T>(items: impl IntoIterator<Item = T>) -> C {
    let mut all = C::default();
    all.extend(items);
    all
}

/// The places 0 to `count`, sorted.
fn sorted(count: usize, compare: &mut dyn FnMut(usize, usize) -> Ordering) -> Vec<usize> {
    let mut places: Vec<usize> = (0..count).collect();
    places.sort_by(|a, b| compare(*a, *b));
    places
}

#[cfg(test)]
mod tests {
    use rand::rngs::StdRng;
    use rand::{Rng as _, SeedableRng as _};

    use super::*;

    #[test]
    fn sorts_as_the_library_does() {
        let mut random = StdRng::seed_from_u64(7);
        for count in 0..60 {
            let mut ours: Vec<(u8, usize)> =
                (0..count).map(|n| (random.random_range(0..9), n)).collect();
            let mut theirs = ours.clone();
            sort_by(&mut ours, |a, b| a.0.cmp(&b.0));
            theirs.sort_by_key(|item| item.0);
            assert_eq!(ours, theirs);
        }
    }
}
