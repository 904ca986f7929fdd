//! Other tabs of this app in the same browser: what they say, and turns that one has at a time.
//!
//! This file refuses to know what is said and what the turns are for.

use futures_channel::oneshot;
use futures_util::future::{Either, select};
use js_sys::{Function, Object, Promise, Reflect};
use wasm_bindgen::closure::Closure;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{BroadcastChannel, MessageEvent};

/// A way to all other tabs.
#[derive(Debug)]
pub struct Channel(Option<BroadcastChannel>);

impl Channel {
    /// Opens it; `hear` gets every text that another tab says.
    #[must_use]
    pub fn open(name: &str, hear: impl Fn(String) + 'static) -> Self {
        let channel = BroadcastChannel::new(name).ok();
        let heard = Closure::<dyn Fn(MessageEvent)>::new(move |event: MessageEvent| {
            if let Some(text) = event.data().as_string() {
                hear(text);
            }
        });
        if let Some(channel) = &channel {
            channel.set_onmessage(Some(heard.as_ref().unchecked_ref()));
        }
        // The channel lives as long as the page.
        heard.forget();
        Self(channel)
    }

    /// Says a text to all other tabs.
    pub fn say(&self, text: &str) {
        if let Some(channel) = &self.0 {
            // Another tab looks at the disk again when it is looked at.
            let _ = channel.post_message(&JsValue::from_str(text));
        }
    }
}

/// A turn; it ends when this is dropped, when the page ends, or when another tab takes it.
#[derive(Debug)]
pub struct Turn {
    release: Function,
    request: Promise,
}

impl Turn {
    /// Waits until the turn is over.
    pub async fn over(&self) {
        // It is refused when another tab has taken the turn; over it is in any case.
        let _ = JsFuture::from(self.request.clone()).await;
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        // A page that ends lets everything go.
        let _ = self.release.call0(&JsValue::UNDEFINED);
    }
}

/// Can tabs take turns in this browser? (Web Locks; only on pages that came safely.)
#[must_use]
pub fn can_take_turns() -> bool {
    locks().is_some()
}

/// Waits for the turn of this name, or takes it away from whoever has it. `None` when this browser
/// knows no turns.
pub async fn turn(name: &str, take_away: bool) -> Option<Turn> {
    let locks = locks()?;
    let request = Reflect::get(&locks, &"request".into()).ok()?;
    let request: Function = request.dyn_into().ok()?;
    let options = Object::new();
    Reflect::set(&options, &"steal".into(), &take_away.into()).ok()?;
    let (granted, wait) = oneshot::channel();
    let mut granted = Some(granted);
    let callback = Closure::once_into_js(move |_lock: JsValue| -> Promise {
        Promise::new(&mut |release, _| {
            if let Some(granted) = granted.take() {
                // Nobody may be waiting any more; then the turn ends with the page.
                let _ = granted.send(release);
            }
        })
    });
    let request = request.call3(&locks, &name.into(), &options, &callback);
    let request: Promise = request.ok()?.dyn_into().ok()?;
    match select(wait, JsFuture::from(request.clone())).await {
        Either::Left((release, _)) => Some(Turn {
            release: release.ok()?,
            request,
        }),
        Either::Right(_) => None,
    }
}

fn locks() -> Option<JsValue> {
    let navigator = web_sys::window()?.navigator();
    let locks = Reflect::get(&navigator, &"locks".into()).ok()?;
    locks.is_object().then_some(locks)
}

/// Does a person see this tab?
#[must_use]
pub fn is_seen() -> bool {
    let document = web_sys::window().and_then(|window| window.document());
    document.is_some_and(|document| !document.hidden())
}
