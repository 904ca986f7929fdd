//! Readings as they stand: each legible for ever, with who read it.

use leptos::prelude::*;

use crate::measuring::history::{Line, Standing};
use crate::measuring::sentences::Voice;
use shared::job::Job;

/// Lines of readings.
#[component]
pub fn ReadingLines(
    /// The lines.
    lines: Vec<Line>,
    /// The car.
    job: std::sync::Arc<Job>,
    /// The language.
    voice: Voice,
) -> impl IntoView {
    let line = move |line: &Line| {
        let words = voice.measuring;
        let (class, standing) = match &line.standing {
            Standing::Counts => ("", String::new()),
            Standing::Suspect => ("doubt", words.suspect.to_owned()),
            Standing::Waits => ("doubt", words.waits.to_owned()),
            Standing::Replaced { by } => ("gone", format!("{} {by}", words.replaced_by)),
            Standing::SetAside { why, by } => {
                ("gone", format!("{} {by}: {why}", words.set_aside_by))
            }
        };
        view! {
            <li class=format!("reading {class}")>
                <span class="what">{voice.reading(&job, &line.reading)}</span>
                <small>{line.reading.by.clone()} " " {standing} " " {line.reading.note.clone()}</small>
            </li>
        }
    };
    view! { <ul class="readings">{lines.iter().map(line).collect_view()}</ul> }
}
