//! Where the changes are: on this phone, with everybody, or waiting.

use leptos::prelude::*;

use crate::state::book::Badge;
use crate::state::shelf::OnDisk;
use crate::text::Words;

/// What the badge says: first where the entries are safe, then what is missing.
#[must_use]
pub fn badge_text(words: &Words, badge: Badge) -> String {
    let here = match (badge.on_disk, badge.unshared) {
        (OnDisk::Saving, _) => words.saving,
        (OnDisk::Failed, _) => words.not_saved_here,
        (OnDisk::Saved, 0) => words.shared_all,
        (OnDisk::Saved, _) => words.saved_here,
    };
    let signal = (!badge.online).then(|| words.offline.to_owned());
    let waiting = (badge.unshared > 0).then(|| format!("{} {}", badge.unshared, words.unshared));
    let parts = [Some(here.to_owned()), signal, waiting];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" · ")
}

/// The badge, read out when it changes.
#[component]
pub fn ShareBadge(
    /// Where the changes are.
    #[prop(into)]
    badge: Signal<Badge>,
    /// The words.
    #[prop(into)]
    words: Signal<&'static Words>,
) -> impl IntoView {
    view! {
        <p class="badge" role="status" class:waiting=move || badge.get().unshared != 0 class:offline=move || !badge.get().online>
            {move || badge_text(words.get(), badge.get())}
        </p>
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::Language;

    #[test]
    fn the_badge_never_says_shared_of_what_is_not() {
        let say = |on_disk, unshared, online| {
            badge_text(
                Language::English.words(),
                Badge {
                    on_disk,
                    unshared,
                    online,
                },
            )
        };
        use OnDisk::{Failed, Saved, Saving};
        assert_eq!(say(Saved, 0, true), "shared");
        assert_eq!(say(Saved, 0, false), "shared · no signal");
        assert_eq!(say(Saved, 3, true), "saved here · 3 not shared yet");
        assert_eq!(
            say(Saved, 3, false),
            "saved here · no signal · 3 not shared yet"
        );
        assert_eq!(say(Saving, 0, true), "saving …");
        assert_eq!(say(Saving, 1, true), "saving … · 1 not shared yet");
        assert_eq!(
            say(Failed, 1, false),
            "not saved here · no signal · 1 not shared yet"
        );
    }
}
