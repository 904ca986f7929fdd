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
    /// Two stages drawn over each other: the one in ink and the one in grey.
    #[prop(optional_no_strip)]
    both: Option<(String, String)>,
) -> impl IntoView {
    let verdict =
        |verdict: Verdict| view! { <li><Mark verdict /> {verdict_word(voice.words, verdict)}</li> };
    let verdicts = [Verdict::Outside, Verdict::Unproven, Verdict::Within].map(verdict);
    let drawn = |path: &'static str, word: &'static str| {
        view! { <li><svg class="mark" viewBox="0 0 24 24" aria-hidden="true"><path class="pencil" d=path /></svg> {word}</li> }
    };
    // As they are drawn: an arrow and its ring, the one below in grey.
    let both = both.map(|(ink, grey)| {
        let stage = |class: &'static str, label: String| {
            view! { <li data-test="legend-stage"><svg class="mark" viewBox="0 0 24 24" aria-hidden="true"><path class=class d="M3 21 14 10A5 5 0 1 0 21 3 5 5 0 1 0 14 10" /></svg> {label}</li> }
        };
        [stage("pencil", ink), stage("pencil faint", grey)]
    });
    view! {
        <ul class="legend">
            {both}
            {verdicts.collect_view()}
            {drawn("M4 4H20V20H4Z", voice.words.trusted)}
            {drawn("M5 5 19 19M19 5 5 19", voice.measuring.missing_axes)}
        </ul>
    }
}
