//! Signing in, setting up a shop, accepting an invitation.

use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::wire::{AcceptInvitation, ChooseReset, Code, SetUpShop, SignIn};

use super::head::UnsharedBadge;
use crate::components::field::Field;
use crate::components::safety::Safety;
use crate::net::NetError;
use crate::platform;
use crate::state::person::person;
use crate::state::route::Route;
use crate::state::session::session;
use crate::state::shelf::{Errand, shelf};
use crate::text::Words;

/// What went wrong, in words.
#[must_use]
pub fn error_text(words: &Words, error: &NetError) -> String {
    let NetError::Refused(refusal) = error else {
        return words.error_offline.to_owned();
    };
    let text = match refusal.code {
        Code::WrongCredentials => words.error_credentials,
        Code::TooMany | Code::Busy => words.error_too_many,
        Code::LinkInvalid => words.error_link,
        Code::Taken => words.error_taken,
        Code::BadRequest | Code::TooLarge | Code::NotFound => words.error_bad,
        Code::NotAllowed | Code::SignInNeeded => words.error_not_allowed,
        Code::LastOwner => words.error_last_owner,
        Code::Internal => words.error_internal,
    };
    let about = refusal.subject.as_deref();
    // What a right is called inside says nothing more.
    match about.filter(|_| refusal.code != Code::NotAllowed) {
        Some(subject) => format!("{text} ({})", field_name(words, subject)),
        None => text.to_owned(),
    }
}

/// A field as the form calls it; what no person fills in keeps the server's word, for whoever helps.
fn field_name(words: &Words, subject: &str) -> String {
    match subject {
        "email" => words.email,
        "name" => words.name,
        "shop" => words.shop,
        "password" => return format!("{}: {}", words.password, words.password_hint),
        other => other,
    }
    .to_owned()
}

/// A form whose sending may fail, with its error below it.
#[component]
fn Entrance(
    title: Signal<&'static str>,
    why: Signal<&'static str>,
    button: Signal<&'static str>,
    error: RwSignal<Option<NetError>>,
    busy: RwSignal<bool>,
    send: Callback<()>,
    children: Children,
) -> impl IntoView {
    let (person, shelf) = (person(), shelf());
    view! {
        <main class="page entrance">
            <h1 class="brand">"Baybook"</h1>
            <Show when=move || { shelf.unshared_in_all() + shelf.photos.read().len() > 0 }>
                <UnsharedBadge />
            </Show>
            <h2>{title}</h2>
            <p>{why}</p>
            <form on:submit=move |event| {
                event.prevent_default();
                if !busy.get_untracked() {
                    send.run(());
                }
            }>
                {children()}
                <p role="alert" class="error">
                    {move || error.get().map(|error| error_text(person.words(), &error))}
                </p>
                <button class="primary" disabled=move || busy.get()>{button}</button>
            </form>
            <Safety />
        </main>
    }
}

/// Waits for an answer, then goes to the cars or shows the error.
fn enter(
    busy: RwSignal<bool>,
    error: RwSignal<Option<NetError>>,
    answer: impl Future<Output = Result<(), NetError>> + 'static,
) {
    let shelf = shelf();
    busy.set(true);
    error.set(None);
    spawn_local(async move {
        match answer.await {
            Ok(()) => {
                shelf.tell(Errand::TryNow);
                // Some browsers ask the person; what was answered stands in the settings.
                spawn_local(async {
                    platform::ask_to_persist().await;
                });
                Route::Jobs.go();
            }
            Err(refused) => error.set(Some(refused)),
        }
        busy.set(false);
    });
}

/// Sign-in.
#[component]
pub fn SignInPage() -> impl IntoView {
    let (person, session) = (person(), session());
    let (email, password) = (RwSignal::new(String::new()), RwSignal::new(String::new()));
    let (busy, error) = (RwSignal::new(false), RwSignal::new(None));
    let owner = Owner::current();
    let send = Callback::new(move |()| {
        let form = SignIn {
            email: email.get_untracked(),
            password: password.get_untracked(),
        };
        if let Some(owner) = &owner {
            owner.with(|| enter(busy, error, session.sign_in(form)));
        }
    });
    view! {
        <Entrance
            title=person.word(|words| words.sign_in)
            why=person.word(|words| words.sign_in_why)
            button=person.word(|words| words.sign_in)
            error
            busy
            send
        >
            <Field name="email" kind="email" autocomplete="username" label=person.word(|words| words.email) value=email />
            <Field
                name="password"
                kind="password"
                autocomplete="current-password"
                label=person.word(|words| words.password)
                value=password
            />
        </Entrance>
    }
}

/// First start of a server.
#[component]
pub fn SetUpPage(
    /// Token of the one-time link.
    token: String,
) -> impl IntoView {
    let (person, session) = (person(), session());
    let [shop, name, email, password] = [(); 4].map(|()| RwSignal::new(String::new()));
    let (busy, error) = (RwSignal::new(false), RwSignal::new(None));
    let owner = Owner::current();
    let send = Callback::new(move |()| {
        let form = SetUpShop {
            token: token.clone(),
            shop: shop.get_untracked(),
            name: name.get_untracked(),
            email: email.get_untracked(),
            password: password.get_untracked(),
        };
        if let Some(owner) = &owner {
            owner.with(|| enter(busy, error, session.set_up(form)));
        }
    });
    view! {
        <Entrance
            title=person.word(|words| words.set_up_title)
            why=person.word(|words| words.set_up_why)
            button=person.word(|words| words.create)
            error
            busy
            send
        >
            <Field name="shop" label=person.word(|words| words.shop) value=shop />
            <NewPerson name email password />
        </Entrance>
    }
}

/// An invitation.
#[component]
pub fn JoinPage(
    /// Token of the link.
    token: String,
) -> impl IntoView {
    let (person, session) = (person(), session());
    let [name, email, password] = [(); 3].map(|()| RwSignal::new(String::new()));
    let (busy, error) = (RwSignal::new(false), RwSignal::new(None));
    let owner = Owner::current();
    let send = Callback::new(move |()| {
        let form = AcceptInvitation {
            token: token.clone(),
            name: name.get_untracked(),
            email: email.get_untracked(),
            password: password.get_untracked(),
        };
        if let Some(owner) = &owner {
            owner.with(|| enter(busy, error, session.join(form)));
        }
    });
    view! {
        <Entrance
            title=person.word(|words| words.join_title)
            why=person.word(|words| words.join_why)
            button=person.word(|words| words.create)
            error
            busy
            send
        >
            <NewPerson name email password />
        </Entrance>
    }
}

/// A link to choose a new password.
#[component]
pub fn ResetPage(
    /// Token of the link.
    token: String,
) -> impl IntoView {
    let (person, session) = (person(), session());
    let password = RwSignal::new(String::new());
    let (busy, error) = (RwSignal::new(false), RwSignal::new(None));
    let owner = Owner::current();
    let send = Callback::new(move |()| {
        let form = ChooseReset {
            token: token.clone(),
            password: password.get_untracked(),
        };
        if let Some(owner) = &owner {
            owner.with(|| enter(busy, error, session.choose_password(form)));
        }
    });
    view! {
        <Entrance
            title=person.office_word(|office| office.reset_title)
            why=person.office_word(|office| office.reset_text)
            button=person.word(|words| words.sign_in)
            error
            busy
            send
        >
            <Field
                name="password"
                kind="password"
                autocomplete="new-password"
                label=person.word(|words| words.password)
                hint=Signal::derive(move || person.words().password_hint.to_owned())
                value=password
            />
        </Entrance>
    }
}

/// Name, e-mail and a new password.
#[component]
fn NewPerson(
    name: RwSignal<String>,
    email: RwSignal<String>,
    password: RwSignal<String>,
) -> impl IntoView {
    let person = person();
    view! {
        <Field name="name" autocomplete="name" label=person.word(|words| words.name) value=name />
        <Field name="email" kind="email" autocomplete="username" label=person.word(|words| words.email) value=email />
        <Field
            name="password"
            kind="password"
            autocomplete="new-password"
            label=person.word(|words| words.password)
            hint=Signal::derive(move || person.words().password_hint.to_owned())
            value=password
        />
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Language, Speaks};
    use shared::wire::Refusal;

    #[test]
    fn a_refused_field_has_the_name_that_the_form_has() {
        let say = |language: Language, code, subject: &str| {
            let subject = Some(subject.to_owned());
            let refused = NetError::Refused(Refusal { code, subject });
            error_text(language.words(), &refused)
        };
        assert_eq!(
            say(Language::Spanish, Code::BadRequest, "password"),
            "Algo en este formulario no está bien. Revise cada campo. (Contraseña: al menos 10 caracteres)"
        );
        assert_eq!(
            say(Language::English, Code::Taken, "email"),
            "Somebody has this already. Choose another. (E-mail)"
        );
        let not_allowed = say(Language::English, Code::NotAllowed, "two-people");
        assert_eq!(not_allowed, Language::English.words().error_not_allowed);
    }
}
