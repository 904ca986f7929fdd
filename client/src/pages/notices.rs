//! What a person should know, until they have read it, and what they can do about it.

use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::JsCast;

use super::new_version::NewVersion;
use crate::platform;
use crate::state::person::person;
use crate::state::photos::NoPhoto;
use crate::state::shelf::{DAMAGED, Notice, Shelf, shelf};
use crate::store::StoreError;
use crate::text::Words;

/// All notices, the newest last. They stand over the page's head, and what was under the finger stays
/// there: the page is scrolled by as much as it grew.
#[component]
pub fn NoticeBar() -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    let notices = move || {
        let one = |notice: Notice| view! { <Bar notice words=person.words() /> };
        shelf.notices.get().into_iter().map(one).collect_view()
    };
    let bar = NodeRef::<leptos::html::Div>::new();
    let height = StoredValue::new(0);
    let keep_place = move || {
        let Some(bar) = bar.try_get_untracked().flatten() else {
            return;
        };
        let bar: &web_sys::HtmlElement = bar.unchecked_ref();
        let (before, now) = (height.get_value(), bar.offset_height());
        height.set_value(now);
        platform::scroll_by(now - before);
        platform::keep_clear_above(now);
    };
    Effect::new(move || {
        shelf.notices.track();
        request_animation_frame(keep_place);
    });
    view! {
        <div class="notices" node_ref=bar>
            <div aria-live="assertive">{notices}</div>
            <NewVersion on_change=Callback::new(move |()| request_animation_frame(keep_place)) />
        </div>
    }
}

#[component]
fn Bar(notice: Notice, words: &'static Words) -> impl IntoView {
    let shelf = shelf();
    let is_unsaved = matches!(notice, Notice::NotSaved(_));
    let text = notice_text(words, &notice);
    let close = move |_| {
        shelf
            .notices
            .update(|notices| notices.retain(|known| *known != notice))
    };
    view! {
        <div class="notice" role="alert" data-test="notice">
            <p>{text}</p>
            <Show when=move || is_unsaved>
                <button type="button" data-test="save-unshared" on:click=move |_| save_unshared(shelf)>{words.save_unshared}</button>
                <button type="button" data-test="try-again" on:click=move |_| shelf.flush_all()>{words.try_again}</button>
            </Show>
            <button type="button" on:click=close>{words.close}</button>
        </div>
    }
}

/// Everything that only this phone has, as a file.
pub fn save_unshared(shelf: Shelf) {
    spawn_local(async move {
        let now = platform::now_text();
        let day = now.get(..10).unwrap_or_default();
        let file = shelf.parcel(&now).await;
        // A browser that refuses a download says so itself.
        let _ = platform::save_file(&format!("baybook-not-shared-{day}.json"), &file);
    });
}

/// A notice in words.
fn notice_text(words: &Words, notice: &Notice) -> String {
    let fill = |text: &str, values: &[&str]| {
        let put = |text: String, value: &&str| text.replacen("{}", value, 1);
        values.iter().fold(text.to_owned(), put)
    };
    match notice {
        Notice::NotSaved(StoreError::NoRoom) => words.not_saved_room.to_owned(),
        Notice::NotSaved(StoreError::None) => words.not_saved_none.to_owned(),
        Notice::NotSaved(error) => fill(words.not_saved_other, &[&error.to_string()]),
        Notice::NotRead(error) => fill(words.not_read, &[&error.to_string()]),
        Notice::Damaged {
            number,
            parts,
            has_gaps,
        } => {
            let rest = match has_gaps {
                true => words.damaged_gaps,
                false => words.damaged_whole,
            };
            let parts = parts.to_string();
            format!("{} {rest}", fill(words.damaged, &[number, &parts]))
        }
        Notice::NoPhoto(NoPhoto::Unreadable) => words.photo_unreadable.to_owned(),
        Notice::NoPhoto(NoPhoto::NotSaved) => words.photo_not_saved.to_owned(),
        Notice::Unavailable => words.unavailable.to_owned(),
        Notice::Refused {
            number,
            reason,
            redone,
            left,
        } => {
            let redone = redone.to_string();
            let first = match reason.as_str() {
                DAMAGED => fill(words.damaged_redone, &[number, &redone]),
                reason => fill(
                    words.refused,
                    &[number, reason_text(words, reason), &redone],
                ),
            };
            match left {
                0 => first,
                left => format!("{first} {}", fill(words.refused_left, &[&left.to_string()])),
            }
        }
    }
}

/// The server's reason in words; one that has none is shown as it is.
pub fn reason_text<'a>(words: &'a Words, reason: &'a str) -> &'a str {
    match reason.split(' ').next() {
        Some("record") => words.reason_record,
        Some("actor") => words.reason_actor,
        _ => reason,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Language, Speaks};

    #[test]
    fn every_notice_says_what_happened_and_leaves_no_blank() {
        let refused = |reason: &str, left| Notice::Refused {
            number: "4711".into(),
            reason: reason.into(),
            redone: 2,
            left,
        };
        let notices = [
            Notice::NotSaved(StoreError::NoRoom),
            Notice::NotSaved(StoreError::None),
            Notice::NotSaved(StoreError::Other("odd".into())),
            Notice::NotRead(StoreError::Other("odd".into())),
            Notice::Damaged {
                number: "4711".into(),
                parts: 3,
                has_gaps: true,
            },
            Notice::Unavailable,
            refused("record readings/1", 0),
            refused("sequence", 1),
            refused(DAMAGED, 1),
        ];
        for words in [Language::English.words(), Language::Spanish.words()] {
            for notice in &notices {
                let text = notice_text(words, notice);
                assert!(!text.is_empty() && !text.contains("{}"), "{text}");
            }
        }
        assert_eq!(
            notice_text(Language::English.words(), &notices[7]),
            "Job 4711: the server refused what this phone wrote (sequence). Entries written again: 2; \
             the old copy is kept on this phone. 1 could not be written again: see 'Not shared yet'."
        );
    }
}
