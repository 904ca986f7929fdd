//! One sign-off: who, when, its code, who joined it, and what came since.

use leptos::prelude::*;
use shared::book::Since;
use shared::proof::statement::Counts;
use shared::verdict::Verdict;

use super::mark::Count;
use crate::text::Words;
use crate::text::office::Office;

/// A signature in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SignedLine {
    /// Who signed.
    pub name: String,
    /// When, as people write it.
    pub at: String,
    /// The code to read out.
    pub code: String,
}

/// `1 reading since sign-off`, or what else is to be said of what came since.
#[must_use]
pub fn since_text(office: &Office, since: Option<Since>) -> String {
    match since {
        None => office.since_unknown.to_owned(),
        Some(Since { entries: 0, .. }) => office.since_nothing.to_owned(),
        Some(Since { readings: 1, .. }) => office.since_one.to_owned(),
        Some(Since {
            readings: 0,
            entries: 1,
        }) => office.since_entry.to_owned(),
        Some(Since {
            readings: 0,
            entries,
        }) => office.since_entries.replacen("{}", &entries.to_string(), 1),
        Some(Since { readings, .. }) => office.since_many.replacen("{}", &readings.to_string(), 1),
    }
}

/// The sign-off.
#[component]
pub fn Signed(
    /// Label of the stage.
    stage: String,
    /// Who signed.
    first: SignedLine,
    /// Who joined.
    joined: Vec<SignedLine>,
    /// Verdicts as they were signed.
    counts: Counts,
    /// What came since.
    since: Option<Since>,
    /// Words of the office.
    office: &'static Office,
    /// The words.
    words: &'static Words,
) -> impl IntoView {
    let is_same = since.is_some_and(|since| since.entries == 0);
    let whole = |count: u64| usize::try_from(count).unwrap_or(usize::MAX);
    let line = |what: &'static str, line: SignedLine| {
        view! {
            <p>
                {what} " " <b>{line.name}</b> " · " {line.at} <br />
                <small>{office.code} " "</small> <code class="code">{line.code}</code>
            </p>
        }
    };
    let joined = joined
        .into_iter()
        .map(|one| line(office.countersigned_by, one))
        .collect_view();
    view! {
        <article class="signed" data-test="signed">
            <h3>{stage}</h3>
            {line(office.signed_by, first)}
            {joined}
            <p class="counts">
                <Count verdict=Verdict::Outside count=whole(counts.outside) word=words.outside_count />
                <Count verdict=Verdict::Unproven count=whole(counts.unproven) word=words.unproven_count />
                <Count verdict=Verdict::Within count=whole(counts.within) word=words.within_count />
            </p>
            <p class="since" class:changed=!is_same data-test="since">{since_text(office, since)}</p>
        </article>
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Language, Speaks};

    #[test]
    fn what_came_since_is_said() {
        let say = |readings, entries| {
            let since = Since { readings, entries };
            since_text(Language::English.office(), Some(since))
        };
        assert_eq!(say(0, 0), "Unchanged since.");
        assert_eq!(
            say(1, 1),
            "1 reading since sign-off. A new sign-off is needed."
        );
        assert_eq!(
            say(4, 6),
            "4 readings since sign-off. A new sign-off is needed."
        );
        assert_eq!(say(0, 1), "No reading, but one other entry since sign-off.");
        assert_eq!(say(0, 2), "No reading, but 2 other entries since sign-off.");
        let unknown = since_text(Language::English.office(), None);
        assert!(unknown.contains("this phone"), "{unknown}");
    }
}
