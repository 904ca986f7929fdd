//! Where the changes are: on this phone, with everybody, or waiting.

use leptos::prelude::*;

use crate::state::book::Badge;
use crate::text::Words;

/// What the badge says.
#[must_use]
pub fn badge_text(words: &Words, badge: Badge) -> String {
    match badge {
        Badge {
            saved_here: false, ..
        } => words.saving.to_owned(),
        Badge {
            unshared: 0,
            online: true,
            ..
        } => words.shared_all.to_owned(),
        Badge {
            unshared: 0,
            online: false,
            ..
        } => format!("{} · {}", words.shared_all, words.offline),
        Badge {
            unshared,
            online: false,
            ..
        } => format!("{} · {unshared} {}", words.offline, words.unshared),
        Badge {
            unshared,
            online: true,
            ..
        } => format!("{unshared} {}", words.unshared),
    }
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
        let say = |saved_here, unshared, online| {
            badge_text(
                Language::English.words(),
                Badge {
                    saved_here,
                    unshared,
                    online,
                },
            )
        };
        assert_eq!(say(true, 0, true), "shared");
        assert_eq!(say(true, 3, true), "3 not shared yet");
        assert_eq!(say(true, 3, false), "no signal · 3 not shared yet");
        assert_eq!(say(false, 0, true), "saving …");
    }
}
