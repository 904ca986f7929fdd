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
        (OnDisk::Saved, 0) if badge.photos == 0 => words.shared_all,
        (OnDisk::Saved, _) => words.saved_here,
    };
    let signal = (!badge.online).then(|| words.offline.to_owned());
    let mut photos = photos_text(words, badge.photos);
    let waiting = match (badge.unshared, badge.unshared_in_all) {
        (_, 0) => None,
        // One number beside the other: the badge has little room.
        (here, all) if here == all && photos.is_some() => {
            photos.take().map(|photos| format!("{here} + {photos}"))
        }
        (here, all) if here == all => Some(format!("{here} {}", words.unshared)),
        (here, all) => Some(format!("{here} {} {all} {}", words.of_all, words.unshared)),
    };
    let parts = [Some(here.to_owned()), signal, waiting, photos];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" · ")
}

/// What is said of photos that only this phone has; nothing when there are none.
#[must_use]
pub fn photos_text(words: &Words, photos: usize) -> Option<String> {
    match photos {
        0 => None,
        1 => Some(words.photo_unshared.to_owned()),
        many => Some(words.photos_unshared.replacen("{}", &many.to_string(), 1)),
    }
}

/// The badge, read out when it changes; a way to what waits.
#[component]
pub fn ShareBadge(
    /// Where that is shown.
    #[prop(into)]
    href: String,
    /// Where the changes are.
    #[prop(into)]
    badge: Signal<Badge>,
    /// The words.
    #[prop(into)]
    words: Signal<&'static Words>,
) -> impl IntoView {
    view! {
        <a
            class="badge"
            aria-live="polite"
            data-test="unshared"
            href=href
            class:waiting=move || badge.get().unshared_in_all + badge.get().photos != 0
            class:offline=move || !badge.get().online
        >
            {move || badge_text(words.get(), badge.get())}
        </a>
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Language, Speaks};

    #[test]
    fn the_badge_never_says_shared_of_what_is_not() {
        let say = |on_disk, unshared, online| {
            badge_text(
                Language::English.words(),
                Badge {
                    on_disk,
                    unshared,
                    unshared_in_all: unshared,
                    photos: 0,
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
        let elsewhere = Badge {
            on_disk: Saved,
            unshared: 0,
            unshared_in_all: 4,
            photos: 0,
            online: true,
        };
        let text = badge_text(Language::English.words(), elsewhere);
        assert_eq!(text, "shared · 0 of 4 not shared yet");
        let say = |photos| {
            let badge = Badge {
                unshared_in_all: 0,
                photos,
                ..elsewhere
            };
            badge_text(Language::English.words(), badge)
        };
        assert_eq!(say(1), "saved here · 1 photo not shared yet");
        assert_eq!(say(3), "saved here · 3 photos not shared yet");
        let both = Badge {
            unshared: 2,
            unshared_in_all: 2,
            photos: 1,
            ..elsewhere
        };
        let text = badge_text(Language::English.words(), both);
        assert_eq!(text, "saved here · 2 + 1 photo not shared yet");
    }
}
