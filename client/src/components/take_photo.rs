//! A button that takes a photo with the phone's camera, or chooses one.

use leptos::prelude::*;
use wasm_bindgen::JsCast;

/// The button.
#[component]
pub fn TakePhoto(
    /// What stands on it.
    #[prop(into)]
    label: Signal<String>,
    /// Straight to the camera at the back, where the device has one?
    camera: bool,
    /// Called with what was taken.
    taken: Callback<web_sys::File>,
) -> impl IntoView {
    let changed = move |event: web_sys::Event| {
        let field = event.target().and_then(|field| field.dyn_into().ok());
        let Some(field): Option<web_sys::HtmlInputElement> = field else {
            return;
        };
        if let Some(file) = field.files().and_then(|files| files.get(0)) {
            taken.run(file);
        }
        // The same picture may be chosen again.
        field.set_value("");
    };
    view! {
        <label class="button camera">
            <input
                type="file"
                name="photo"
                accept="image/*"
                capture=camera.then_some("environment")
                data-test="take-photo"
                on:change=changed
            />
            {label}
        </label>
    }
}
