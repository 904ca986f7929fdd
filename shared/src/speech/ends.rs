//! What it means that a quantity of a pair is above or below where it should be.

use super::{Quantity, Speech};

impl Speech {
    /// The words at the upper and at the lower end of a graph: `right higher`, `left higher`.
    #[must_use]
    pub fn ends(self, quantity: Quantity) -> [&'static str; 2] {
        let words = self.words;
        match quantity {
            Quantity::RightHigher => [words.end_right_higher, words.end_left_higher],
            Quantity::CentreRight => [words.end_middle_right, words.end_middle_left],
            Quantity::RightRearward => [words.end_right_rearward, words.end_left_rearward],
            Quantity::Width => [words.end_wider, words.end_narrower],
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::figures::{Figures, Language};
    use crate::result::Judged;
    use crate::speech::{Quantity, Speech};

    /// A graph and the sentence beside it must not name opposite sides.
    #[test]
    fn the_ends_say_what_the_sentence_says() {
        for language in [Language::English, Language::Spanish] {
            let speech = Speech::of(Figures {
                language,
                ..Figures::default()
            });
            for quantity in Quantity::ALL {
                let ends = speech.ends(quantity);
                assert_ne!(ends[0], ends[1]);
                if quantity == Quantity::Width {
                    continue;
                }
                for (end, value) in ends.into_iter().zip([5.0, -5.0]) {
                    let judged = Judged {
                        value: Some(value),
                        ..Judged::default()
                    };
                    let said = speech.quantity(quantity, &judged);
                    assert!(said.starts_with(end), "{said} against {end}");
                }
            }
        }
    }
}
