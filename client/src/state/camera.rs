//! The app's one field for pictures: it outlives every page.
//!
//! A person is away with the camera for as long as they like, and meanwhile others' readings come and
//! pages are drawn anew. So what the picture is of is decided when the button is pressed, and the field
//! that it comes back to stands beside the pages.

use leptos::html::Input;
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::photos::About;
use super::shelf::{Notice, Shelf};

/// What the next picture is of.
#[derive(Debug, Clone)]
pub struct Asked {
    /// The book.
    pub book: String,
    /// Who takes it.
    pub by: String,
    /// What it shows.
    pub about: About,
}

/// The field, and what was asked of it; its owner is the app's.
#[derive(Debug, Clone, Copy, Default)]
pub struct Camera {
    /// The field, hidden; [`Camera::ask`] opens it.
    pub field: NodeRef<Input>,
    /// Is a picture being drawn and saved?
    pub busy: RwSignal<bool>,
    asked: StoredValue<Option<Asked>>,
}

impl Camera {
    /// Opens the camera at the back, or the choice of a file. Browsers allow it only while a press is
    /// being answered.
    pub fn ask(self, asked: Asked, camera: bool) {
        let Some(field) = self.field.get_untracked() else {
            return;
        };
        self.asked.set_value(Some(asked));
        // Attributes of these names cannot be refused.
        let _ = match camera {
            true => field.set_attribute("capture", "environment"),
            false => field.remove_attribute("capture"),
        };
        field.click();
    }

    /// What came back.
    pub fn take(self, shelf: Shelf) {
        let Some(field) = self.field.get_untracked() else {
            return;
        };
        let file = field.files().and_then(|files| files.get(0));
        // The same picture may be chosen again.
        field.set_value("");
        let asked = self.asked.try_update_value(Option::take).flatten();
        let Some((asked, file)) = asked.zip(file) else {
            return;
        };
        // What was said of the last picture is not of this one.
        let is_other = |notice: &Notice| !matches!(notice, Notice::NoPhoto(_));
        shelf.notices.update(|all| all.retain(is_other));
        self.busy.set(true);
        spawn_local(async move {
            let done = shelf
                .take_photo(&asked.book, &asked.by, &file, asked.about)
                .await;
            self.busy.set(false);
            if let Err(why) = done {
                shelf.tell_person(Notice::NoPhoto(why));
            }
        });
    }
}

/// The field of this app.
///
/// # Panics
/// Where nobody is signed in by design (an adjuster's page), there is none.
#[must_use]
pub fn camera() -> Camera {
    expect_context()
}
