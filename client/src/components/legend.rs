//! What the marks of a drawing mean.

use leptos::prelude::*;
use shared::verdict::Verdict;

use super::mark::{Mark, verdict_word};
use crate::measuring::sentences::Voice;

/// One line of marks with their words.
#[component]
pub fn Legend(
    /// The language.
    voice: Voice,
) -> impl IntoView {
    let verdict =
        |verdict: Verdict| view! { <li><Mark verdict /> {verdict_word(voice.words, verdict)}</li> };
    let verdicts = [Verdict::Outside, Verdict::Unproven, Verdict::Within].map(verdict);
    let drawn = |path: &'static str, word: &'static str| {
        view! { <li><svg class="mark" viewBox="0 0 24 24" aria-hidden="true"><path class="pencil" d=path /></svg> {word}</li> }
    };
    view! {
        <ul class="legend">
            {verdicts.collect_view()}
            {drawn("M4 4H20V20H4Z", voice.words.trusted)}
            {drawn("M5 5 19 19M19 5 5 19", voice.measuring.missing_axes)}
        </ul>
    }
}
