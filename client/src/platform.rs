//! What only the browser knows: time, fresh ids, the address, small keepsakes, files.
//!
//! This file refuses to know what any of it is for.

pub mod tabs;
pub mod keys;
pub mod photo;
mod frames;

pub use frames::painted;
use js_sys::{Array, Date, Uint8Array};
use wasm_bindgen::closure::Closure;
use wasm_bindgen::{JsCast, JsValue};

/// Milliseconds since 1970.
#[must_use]
pub fn now_ms() -> i64 {
    // A date is far below 2^53.
    #[expect(
        clippy::cast_possible_truncation,
        reason = "milliseconds since 1970 fit"
    )]
    let now = Date::now() as i64;
    now
}

/// Now as RFC 3339 text.
#[must_use]
pub fn now_text() -> String {
    Date::new_0().to_iso_string().into()
}

/// A moment as people of a language write it, on this phone's clock; milliseconds since 1970.
#[must_use]
pub fn moment(at_ms: i64, language: &str) -> String {
    #[expect(clippy::cast_precision_loss, reason = "milliseconds since 1970 fit")]
    let date = Date::new(&JsValue::from_f64(at_ms as f64));
    let options = js_sys::Object::new();
    for (name, value) in [("dateStyle", "medium"), ("timeStyle", "short")] {
        // A plain object takes any field.
        let _ = js_sys::Reflect::set(&options, &name.into(), &value.into());
    }
    date.to_locale_string(language, &options).into()
}

/// The same of RFC 3339 text; the text itself when it is none.
#[must_use]
pub fn moment_of(text: &str, language: &str) -> String {
    let at = Date::parse(text);
    if at.is_nan() {
        return text.to_owned();
    }
    #[expect(
        clippy::cast_possible_truncation,
        reason = "milliseconds since 1970 fit"
    )]
    let at_ms = at as i64;
    moment(at_ms, language)
}

/// Names the page by what stands on it: the part of a book that is open, the heading, the app.
pub fn entitle() {
    let Some(document) = window().document() else {
        return;
    };
    let text = |selector: &str| {
        let found = document.query_selector(selector).ok().flatten()?;
        let text = found.text_content()?.trim().to_owned();
        (!text.is_empty()).then_some(text)
    };
    let of_page = ["nav [aria-current=page]", "h1"].map(text);
    let parts = of_page.into_iter().flatten().chain(["Baybook".to_owned()]);
    document.set_title(&parts.collect::<Vec<_>>().join(" · "));
}

/// Whatever is scrolled into sight stops below what stands over the head of the page, so many pixels high.
pub fn keep_clear_above(height: i32) {
    let root = window()
        .document()
        .and_then(|document| document.document_element());
    let Some(root) = root.and_then(|root| root.dyn_into::<web_sys::HtmlElement>().ok()) else {
        return;
    };
    // The page's own head, which the style sheet knows of, is there all the same.
    let _ = match height {
        0 => root.style().remove_property("scroll-padding-top").map(drop),
        _ => root
            .style()
            .set_property("scroll-padding-top", &format!("{}px", height.max(88) + 4)),
    };
}

/// Where the keys stand at the foot of a short screen (as in the style sheet).
const SHORT: &str = "(min-height: 32.1em) and (max-height: 720px) and (max-width: 899px)";

/// Scrolls as little as shows an element whole, when it is drawn the next time. On a short screen it
/// comes right above the keys at the foot, so that they stay where they are.
pub fn bring_into_view(element: web_sys::HtmlDivElement) {
    leptos::prelude::request_animation_frame(move || {
        let window = window();
        let is_short = window.match_media(SHORT).ok().flatten();
        let is_covered = || {
            let notice = window.document()?.query_selector(".notice").ok()?;
            Some(notice.is_some())
        };
        let how = web_sys::ScrollIntoViewOptions::new();
        how.set_block(match is_short.is_some_and(|is| is.matches()) {
            true if is_covered() == Some(false) => web_sys::ScrollLogicalPosition::End,
            _ => web_sys::ScrollLogicalPosition::Nearest,
        });
        element.scroll_into_view_with_scroll_into_view_options(&how);
    });
}

/// Puts a text where the person can paste it from; says whether the browser did.
pub async fn copy(text: &str) -> bool {
    // Pages without TLS have no clipboard; the text stands on the screen to be marked.
    let navigator = window().navigator();
    let Ok(clipboard) = js_sys::Reflect::get(&navigator, &"clipboard".into()) else {
        return false;
    };
    let Ok(clipboard) = clipboard.dyn_into::<web_sys::Clipboard>() else {
        return false;
    };
    wasm_bindgen_futures::JsFuture::from(clipboard.write_text(text))
        .await
        .is_ok()
}

/// A fresh identifier that sorts by time.
#[must_use]
pub fn fresh_id() -> ulid::Ulid {
    let mut bytes = [0_u8; 16];
    bytes.copy_from_slice(&fresh_bytes());
    let time = u64::try_from(now_ms()).unwrap_or(0);
    bytes[..6].copy_from_slice(&time.to_be_bytes()[2..]);
    ulid::Ulid::from_bytes(bytes)
}

/// Sixteen bytes from the browser's own generator.
#[must_use]
pub fn fresh_bytes() -> [u8; 16] {
    automerge::ActorId::random()
        .to_bytes()
        .try_into()
        .unwrap_or([1; 16])
}

/// The part of the address behind `#`, without it.
#[must_use]
pub fn address() -> String {
    let hash = window().location().hash().unwrap_or_default();
    hash.trim_start_matches('#').to_owned()
}

/// Goes to another address within the app.
pub fn go(address: &str) {
    // A refused assignment leaves the person where they are.
    let _ = window().location().set_hash(address);
}

/// Puts the cursor into the element with this id, if there is one.
pub fn focus(id: &str) {
    let document = window().document();
    let element = document.and_then(|document| document.get_element_by_id(id));
    if let Some(element) =
        element.and_then(|element| element.dyn_into::<web_sys::HtmlElement>().ok())
    {
        // An element that takes no cursor leaves it where it is.
        let _ = element.focus();
    }
}

/// Scrolls the page down by so many pixels, or up.
pub fn scroll_by(pixels: i32) {
    if pixels != 0 {
        window().scroll_by_with_x_and_y(0.0, f64::from(pixels));
    }
}

/// Does a newer version of the app wait? The boot script says so, and says `new-version` when one comes.
#[must_use]
pub fn has_new_version() -> bool {
    let root = window().document().and_then(|page| page.document_element());
    root.is_some_and(|root| root.has_attribute("data-new-version"))
}

/// Puts the newer version in this one's place; the page starts anew.
pub fn take_new_version() {
    if let Ok(event) = web_sys::Event::new("take-new-version") {
        // The boot script does the rest.
        let _ = window().dispatch_event(&event);
    }
}

/// Is something half entered on the page? Whatever holds it says so with `data-unfinished`.
#[must_use]
pub fn is_unfinished() -> bool {
    let page = window().document();
    let found = page.map(|page| page.query_selector("[data-unfinished]"));
    matches!(found, Some(Ok(Some(_))))
}

/// Loads the page anew at an address within the app, which takes the place of the one there was.
pub fn start_anew(address: &str) {
    let location = window().location();
    // A browser that refuses leaves the page as it is; a reload by hand does the same.
    let _ = location.replace(&format!("#{address}"));
    let _ = location.reload();
}

/// The first language that the browser asks for, as `es-MX`.
#[must_use]
pub fn first_language() -> Option<String> {
    window().navigator().language()
}

/// The server's origin, as `http://host:port`.
#[must_use]
pub fn origin() -> String {
    window().location().origin().unwrap_or_default()
}

/// Something small that was kept in this browser.
#[must_use]
pub fn kept(name: &str) -> Option<String> {
    window().local_storage().ok()??.get_item(name).ok()?
}

/// Keeps something small; a browser that refuses keeps nothing.
pub fn keep(name: &str, value: &str) {
    if let Ok(Some(storage)) = window().local_storage() {
        let _ = storage.set_item(name, value);
    }
}

/// What was kept under a name since this window was opened.
#[must_use]
pub fn kept_here(name: &str) -> Option<String> {
    window().session_storage().ok()??.get_item(name).ok()?
}

/// Keeps something small until this window is closed; a browser that refuses keeps nothing.
pub fn keep_here(name: &str, value: &str) {
    if let Ok(Some(storage)) = window().session_storage() {
        let _ = storage.set_item(name, value);
    }
}

/// Forgets it.
pub fn forget(name: &str) {
    if let Ok(Some(storage)) = window().local_storage() {
        let _ = storage.remove_item(name);
    }
}

/// Sets `data-theme` and the language of the page.
pub fn dress(theme: &str, language: &str) {
    if let Some(root) = window()
        .document()
        .and_then(|document| document.document_element())
    {
        let _ = root.set_attribute("data-theme", theme);
        let _ = root.set_attribute("lang", language);
    }
}

/// Gives the person a file.
///
/// # Errors
/// When the browser refuses.
pub fn save_file(name: &str, bytes: &[u8]) -> Result<(), JsValue> {
    let parts = Array::of1(&Uint8Array::from(bytes));
    let blob = web_sys::Blob::new_with_u8_array_sequence(&parts)?;
    let url = web_sys::Url::create_object_url_with_blob(&blob)?;
    let document = window().document().ok_or(JsValue::NULL)?;
    let link: web_sys::HtmlAnchorElement = document.create_element("a")?.unchecked_into();
    link.set_href(&url);
    link.set_download(name);
    link.click();
    web_sys::Url::revoke_object_url(&url)
}

/// Prints a page that is not on the screen: `body` is HTML whose texts are escaped, `style` its rules.
///
/// The rules are adopted as a sheet of their own (CSSOM), which a page that forbids inline styles may
/// do. The page is taken away when the browser has printed.
///
/// # Errors
/// When the browser adopts no rules or does not print.
pub fn print_page(style: &str, body: &str) -> Result<(), JsValue> {
    const OTHERS: &str = "@media screen { .to-print { display: none; } } \
        @media print { body > :not(.to-print) { display: none; } html, body { background: #fff; } }";
    let document = window().document().ok_or(JsValue::NULL)?;
    let sheet = js_sys::Reflect::get(&window(), &"CSSStyleSheet".into())?;
    let sheet = js_sys::Reflect::construct(&sheet.dyn_into::<js_sys::Function>()?, &Array::new())?;
    let replace = js_sys::Reflect::get(&sheet, &"replaceSync".into())?;
    let replace: js_sys::Function = replace.dyn_into()?;
    replace.call1(&sheet, &format!("{style}\n{OTHERS}").into())?;
    let adopted = "adoptedStyleSheets".into();
    let before = js_sys::Reflect::get(&document, &adopted)?;
    let after = Array::from(&before);
    after.push(&sheet);
    let page = document.create_element("div")?;
    page.set_class_name("to-print");
    page.set_inner_html(body);
    js_sys::Reflect::set(&document, &adopted, &after)?;
    document.body().ok_or(JsValue::NULL)?.append_child(&page)?;
    let done = {
        let (document, page) = (document.clone(), page.clone());
        Closure::once_into_js(move || {
            window().set_onafterprint(None);
            page.remove();
            // A plain list is taken as it was given.
            let _ = js_sys::Reflect::set(&document, &adopted, &before);
        })
    };
    // A browser may show its dialogue and come back at once.
    window().set_onafterprint(Some(done.unchecked_ref()));
    window().print()
}

/// The bytes of the file that a person chose in a field; `None` when there is none or it cannot be
/// read.
pub async fn chosen_file(field: &web_sys::HtmlInputElement) -> Option<Vec<u8>> {
    let file = field.files()?.get(0)?;
    let buffer = wasm_bindgen_futures::JsFuture::from(file.array_buffer())
        .await
        .ok()?;
    Some(Uint8Array::new(&buffer).to_vec())
}

/// Has the browser promised never to throw this site's storage away? `None` where it does not say.
pub async fn is_persisted() -> Option<bool> {
    let promise = window().navigator().storage().persisted().ok()?;
    let answer = wasm_bindgen_futures::JsFuture::from(promise).await;
    answer.ok()?.as_bool()
}

/// Asks the browser never to throw this site's storage away; says what it answered.
pub async fn ask_to_persist() -> bool {
    let Ok(promise) = window().navigator().storage().persist() else {
        return false;
    };
    let answer = wasm_bindgen_futures::JsFuture::from(promise).await;
    answer.is_ok_and(|value| value.as_bool().unwrap_or(false))
}

/// Does the browser believe that there is a network?
#[must_use]
pub fn seems_online() -> bool {
    window().navigator().on_line()
}

fn window() -> web_sys::Window {
    web_sys::window().expect("the app runs in a window")
}
