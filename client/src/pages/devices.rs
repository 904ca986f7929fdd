//! Devices: one's own on a page of their own, somebody's on the owner's desk. Each can be taken back.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::DeviceLine;

use super::head::PageHead;
use super::office::{BroughtList, Each};
use super::sign_in::error_text;
use crate::net::NetError;
use crate::platform;
use crate::state::person::person;
use crate::state::route::Route;
use crate::state::session::session;
use crate::state::shelf::shelf;

/// One's own devices.
#[component]
pub fn DevicesPage() -> impl IntoView {
    let person = person();
    view! {
        <main class="page">
            <PageHead back=Route::Settings title=person.word(|words| words.devices) />
            <p class="quiet">{person.office_word(|office| office.devices_why)}</p>
            <Devices of=None />
        </main>
    }
}

/// Devices: somebody's, or one's own.
#[component]
pub fn Devices(
    /// User id; none for oneself.
    of: Option<String>,
) -> impl IntoView {
    let (person, session, shelf) = (person(), session(), shelf());
    let of = StoredValue::new(of);
    let answer = RwSignal::new(None::<Result<Vec<DeviceLine>, NetError>>);
    let error = RwSignal::new(None::<NetError>);
    let fetch = move || {
        // The page may be gone by now.
        let Some(of) = of.try_get_value() else {
            return;
        };
        spawn_local(async move {
            drop(answer.try_set(Some(session.devices(of.as_deref()).await)));
        });
    };
    Effect::new(move |begun: Option<()>| {
        // The line makes this device known to the server.
        if shelf.online.get() || begun.is_none() {
            fetch();
        }
    });
    let take_back = Callback::new(move |device: String| {
        let of = of.get_value();
        spawn_local(async move {
            let done = session.revoke_device(of.as_deref(), &device).await;
            let is_done = done.is_ok();
            drop(error.try_set(done.err()));
            if is_done {
                fetch();
            }
        });
    });
    let show = move |list: Signal<Vec<DeviceLine>>| {
        let list = Memo::new(move |before: Option<&Vec<DeviceLine>>| {
            in_place(before.map_or(&[], Vec::as_slice), list.get())
        });
        let row = move |line| view! { <Line line take_back /> }.into_any();
        view! {
            <ul class="lines wraps" data-test="devices">
                <Each list=list.into() name=|line: &DeviceLine| line.device.clone() row=Callback::new(row) />
            </ul>
        }
        .into_any()
    };
    view! {
        <p role="alert" class="error">{move || error.get().map(|error| error_text(person.words(), &error))}</p>
        <BroughtList answer show=Callback::new(show) />
    }
}

/// Those that stood there before in the same order, new ones below: what was seen last changes at each
/// look.
fn in_place(before: &[DeviceLine], mut now: Vec<DeviceLine>) -> Vec<DeviceLine> {
    now.sort_by_key(|line| {
        let place = before.iter().position(|known| known.device == line.device);
        place.unwrap_or(before.len())
    });
    now
}

/// One device.
#[component]
fn Line(line: Signal<DeviceLine>, take_back: Callback<String>) -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    let office = move || person.office();
    let asks = RwSignal::new(false);
    let device = StoredValue::new(line.read_untracked().device.clone());
    let is_this = device.with_value(|device| *device == shelf.device());
    let is_good = Memo::new(move |_| line.read().revoked_at.is_none());
    let name = Memo::new(move |_| {
        let line = line.read();
        let name = match line.label.is_empty() {
            true => ending(&line.device),
            false => line.label.clone(),
        };
        match is_this {
            true => format!("{name} ({})", office().this_device),
            false => name,
        }
    });
    let when = move |text: &str| platform::moment_of(text, person.language.get().code());
    let state = move || {
        let line = line.read();
        match &line.revoked_at {
            Some(at) => format!("{} {}", office().revoked_on, when(at)),
            None => format!("{} {}", office().last_seen, when(&line.last_seen)),
        }
    };
    let key = move || {
        let has_key = line.read().has_key;
        has_key.then(|| format!(" · {}", office().with_key))
    };
    let of = move || format!("{}: {}", office().revoke, name.read());
    let question = move || office().device_sure.replacen("{}", &name.read(), 1);
    let act = move |_| {
        asks.set(false);
        take_back.run(device.get_value());
    };
    view! {
        <li class:gone=move || !is_good.get()>
            <span>
                <b>{name}</b>
                <small>{state} {key}</small>
            </span>
            <Show when=move || is_good.get()>
                <button type="button" data-test="ask-revoke-device" aria-label=of on:click=move |_| asks.set(true)>{person.office_word(|office| office.revoke)}</button>
                <Show when=move || asks.get()>
                    <div class="notice" role="alert">
                        <p>{question}</p>
                        <button type="button" data-test="revoke-device" on:click=act>{person.office_word(|office| office.revoke)}</button>
                        <button type="button" on:click=move |_| asks.set(false)>{person.word(|words| words.cancel)}</button>
                    </div>
                </Show>
            </Show>
        </li>
    }
}

/// What a device without a name is called by.
fn ending(id: &str) -> String {
    let long = id.chars().count().saturating_sub(6);
    id.chars().skip(long).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn devices_keep_their_places() {
        let line = |device: &str| DeviceLine {
            device: device.to_owned(),
            label: String::new(),
            first_seen: String::new(),
            last_seen: String::new(),
            has_key: false,
            revoked_at: None,
        };
        let list = |names: &[&str]| names.iter().copied().map(line).collect::<Vec<_>>();
        let first = in_place(&[], list(&["b", "a", "c"]));
        assert_eq!(first, list(&["b", "a", "c"]));
        let then = in_place(&first, list(&["new", "c", "a"]));
        assert_eq!(then, list(&["a", "c", "new"]));
    }

    #[test]
    fn a_device_without_a_name_is_called_by_its_ending() {
        assert_eq!(ending("01J9ZC7ABCDEF"), "ABCDEF");
        assert_eq!(ending("ab"), "ab");
    }
}
