//! Readings as they stand: each legible for ever, with who read it.

use std::hash::{Hash, Hasher};
use std::sync::Arc;

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
    job: Arc<Job>,
    /// The language.
    voice: Voice,
) -> impl IntoView {
    let lines = lines.iter().map(|line| reading_line(voice, &job, line));
    view! { <ul class="readings">{lines.collect_view()}</ul> }
}

/// Lines of readings while readings come in: a line that stays as it is stays in the page.
#[component]
pub fn GrowingLines(
    /// The lines.
    lines: Memo<Vec<Arc<Line>>>,
    /// The car.
    job: RwSignal<Arc<Job>>,
    /// The language.
    voice: Signal<Voice>,
) -> impl IntoView {
    // What a line says of its points changes more rarely than readings come.
    let points = Memo::new(move |_| job.read().points.clone());
    move || {
        points.track();
        let voice = voice.get();
        view! {
            <ul class="readings">
                <For
                    each=move || lines.get().into_iter().map(Same)
                    key=Same::clone
                    children=move |Same(line)| reading_line(voice, &job.read_untracked(), &line)
                />
            </ul>
        }
    }
}

/// A line as the list knows it again: by all that it says. After a refusal another reading may stand
/// under the name of one of this phone.
#[derive(Debug, Clone, PartialEq)]
struct Same(Arc<Line>);

// A reading's numbers are finite.
impl Eq for Same {}

impl Hash for Same {
    fn hash<H: Hasher>(&self, state: &mut H) {
        self.0.reading.id.hash(state);
    }
}

fn reading_line(voice: Voice, job: &Job, line: &Line) -> AnyView {
    let words = voice.measuring;
    let (class, standing) = match &line.standing {
        Standing::Counts => ("", String::new()),
        Standing::Suspect => ("doubt", words.suspect.to_owned()),
        Standing::Waits => ("doubt", words.waits.to_owned()),
        Standing::Replaced { by } => ("gone", format!("{} {by}", words.replaced_by)),
        Standing::SetAside { why, by } => {
            let why = voice.why_aside(why);
            ("gone", format!("{} {by}: {why}", words.set_aside_by))
        }
    };
    view! {
        <li class=format!("reading {class}")>
            <span class="what">{voice.reading(job, &line.reading)}</span>
            <small>{line.reading.by.clone()} " " {standing} " " {line.reading.note.clone()}</small>
        </li>
    }
    .into_any()
}
