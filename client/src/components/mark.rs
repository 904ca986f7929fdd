//! The verdict marks: never colour alone.

use leptos::prelude::*;
use shared::verdict::Verdict;

use crate::text::Words;

/// The word of a verdict.
#[must_use]
pub fn verdict_word(words: &'static Words, verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => words.within,
        Verdict::Outside => words.outside,
        Verdict::Unproven => words.unproven,
    }
}

/// The mark alone, for where the word stands beside it: solid blue disc, orange diamond, hollow
/// dashed ring.
#[component]
pub fn Mark(
    /// The verdict.
    verdict: Verdict,
) -> impl IntoView {
    let shape = match verdict {
        Verdict::Within => {
            view! { <circle cx="12" cy="12" r="8" class="mark-within" /> }.into_any()
        }
        Verdict::Outside => {
            view! { <path d="M12 2 22 12 12 22 2 12Z" class="mark-outside" /> }.into_any()
        }
        Verdict::Unproven => {
            view! { <circle cx="12" cy="12" r="8" class="mark-unproven" /> }.into_any()
        }
    };
    view! { <svg class="mark" viewBox="0 0 24 24" aria-hidden="true">{shape}</svg> }
}

/// A count with its mark and word.
#[component]
pub fn Count(
    /// The verdict.
    verdict: Verdict,
    /// How many.
    count: usize,
    /// The word.
    word: &'static str,
) -> impl IntoView {
    view! {
        <span class="count" class:none=move || count == 0>
            <Mark verdict />
            <b>{count}</b>
            " "
            {word}
        </span>
    }
}
