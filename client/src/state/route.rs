//! Where in the app a person is: the part of the address behind `#`.

use leptos::prelude::*;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;

use super::practice::is_practice;
use crate::platform;

/// A place in the app.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Route {
    /// Cars in the bay.
    Jobs,
    /// A new job.
    NewJob,
    /// An open book.
    Book(String, Tab),
    /// Sign-in.
    SignIn,
    /// First start of a server, with its token.
    SetUp(String),
    /// An invitation, with its token.
    Join(String),
    /// Language, unit, light; the ways to devices and people.
    Settings,
    /// One's own devices.
    Devices,
    /// What only this phone has.
    Waiting,
    /// The practice bay.
    Practice,
    /// A link to choose a new password, with its token.
    Reset(String),
    /// One job followed with an adjuster's link, with its token.
    Follow(String),
    /// A new job from a job file.
    Import,
    /// The owner's desk.
    Office(Desk),
}

/// Which of the two apps shows a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bundle {
    /// The one in the bay: all that is needed without signal.
    Phone,
    /// The one of the desk: what needs the server anyway, and what is rare.
    Office,
}

/// A part of the owner's desk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Desk {
    Signed,
    People,
    Links,
    Library,
    History,
    Log,
}

impl Desk {
    /// All, in the order of the bar.
    pub const ALL: [Self; 6] = [
        Self::Signed,
        Self::People,
        Self::Links,
        Self::Library,
        Self::History,
        Self::Log,
    ];

    /// As it stands in the address.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Signed => "signed",
            Self::People => "people",
            Self::Links => "links",
            Self::Library => "library",
            Self::History => "history",
            Self::Log => "log",
        }
    }
}

/// A part of an open book.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Tab {
    Read,
    Body,
    Findings,
    Pull,
    More,
    Sign,
    Sheet,
    Photos,
    /// A practice car beside its truth.
    Truth,
}

impl Tab {
    /// Those of the bar, in its order.
    pub const BAR: [Self; 5] = [
        Self::Read,
        Self::Body,
        Self::Findings,
        Self::Pull,
        Self::More,
    ];
    /// Those of a practice car.
    pub const PRACTICE: [Self; 5] = [
        Self::Read,
        Self::Body,
        Self::Findings,
        Self::Truth,
        Self::More,
    ];
    /// All.
    pub const ALL: [Self; 9] = [
        Self::Read,
        Self::Body,
        Self::Findings,
        Self::Pull,
        Self::More,
        Self::Sign,
        Self::Sheet,
        Self::Photos,
        Self::Truth,
    ];

    /// As it stands in the address.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Read => "read",
            Self::Body => "body",
            Self::Findings => "findings",
            Self::Pull => "pull",
            Self::More => "more",
            Self::Sign => "sign",
            Self::Sheet => "sheet",
            Self::Photos => "photos",
            Self::Truth => "truth",
        }
    }
}

impl Route {
    /// Reads an address; what it does not know leads to the cars.
    #[must_use]
    pub fn parse(address: &str) -> Self {
        let parts: Vec<&str> = address.trim_matches('/').split('/').collect();
        match parts.as_slice() {
            ["new"] => Self::NewJob,
            ["import"] => Self::Import,
            ["sign-in"] => Self::SignIn,
            ["settings"] => Self::Settings,
            ["devices"] => Self::Devices,
            ["waiting"] => Self::Waiting,
            ["practice"] => Self::Practice,
            ["setup", token] => Self::SetUp((*token).to_owned()),
            ["reset", token] => Self::Reset((*token).to_owned()),
            ["follow", token] => Self::Follow((*token).to_owned()),
            ["office"] => Self::Office(Desk::Signed),
            ["office", desk] => {
                let known = Desk::ALL.into_iter().find(|known| known.name() == *desk);
                Self::Office(known.unwrap_or(Desk::Signed))
            }
            ["join", token] => Self::Join((*token).to_owned()),
            ["book", id] => Self::Book((*id).to_owned(), Tab::Read),
            ["book", id, tab] => {
                let tab = Tab::ALL
                    .into_iter()
                    .find(|known| known.name() == *tab)
                    .unwrap_or(Tab::Read);
                Self::Book((*id).to_owned(), tab)
            }
            _ => Self::Jobs,
        }
    }

    /// The address.
    #[must_use]
    pub fn address(&self) -> String {
        match self {
            Self::Jobs => "/".to_owned(),
            Self::NewJob => "/new".to_owned(),
            Self::Import => "/import".to_owned(),
            Self::SignIn => "/sign-in".to_owned(),
            Self::Settings => "/settings".to_owned(),
            Self::Devices => "/devices".to_owned(),
            Self::Waiting => "/waiting".to_owned(),
            Self::Practice => "/practice".to_owned(),
            Self::SetUp(token) => format!("/setup/{token}"),
            Self::Join(token) => format!("/join/{token}"),
            Self::Reset(token) => format!("/reset/{token}"),
            Self::Follow(token) => format!("/follow/{token}"),
            Self::Office(desk) => format!("/office/{}", desk.name()),
            Self::Book(id, tab) => format!("/book/{id}/{}", tab.name()),
        }
    }

    /// Who shows it; `client/assets/boot.js` goes by the same first words.
    #[must_use]
    pub fn bundle(&self) -> Bundle {
        match self {
            Self::Office(_)
            | Self::Devices
            | Self::NewJob
            | Self::Follow(_)
            | Self::Import
            | Self::SetUp(_)
            | Self::Join(_)
            | Self::Reset(_)
            | Self::Practice
            | Self::Book(_, Tab::Sign | Tab::Sheet | Tab::Photos) => Bundle::Office,
            Self::Book(id, _) if is_practice(id) => Bundle::Office,
            _ => Bundle::Phone,
        }
    }

    /// As a link.
    #[must_use]
    pub fn href(&self) -> String {
        format!("#{}", self.address())
    }

    /// Goes there.
    pub fn go(&self) {
        crate::platform::go(&self.address());
    }
}

/// Names the page anew after each change that `read` reads: each place has a title of its own, for a
/// list of tabs and for whoever cannot see the page.
pub fn entitle_after(read: impl Fn() + 'static) {
    Effect::new(move || {
        read();
        leptos::task::spawn_local(async {
            // What stands on the page is the title.
            platform::painted().await;
            platform::entitle();
        });
    });
}

/// Puts the cursor to the heading of the page that has come, else to its beginning: keys and screen
/// readers go on from there. Left on the link that led here, it would take a hardware tape's Enter.
async fn begin_at_heading() {
    platform::painted().await;
    let Some((window, document)) = web_sys::window().and_then(|w| Some((w.clone(), w.document()?)))
    else {
        return;
    };
    // A field of the new page that has taken it meanwhile keeps it.
    let is_field = |at: web_sys::Element| at.matches("input, select, textarea").unwrap_or(false);
    if document.active_element().is_some_and(is_field) {
        return;
    }
    let find = |selector| document.query_selector(selector).ok().flatten();
    let place = ["main h1", "main"].into_iter().find_map(find);
    let place = place.and_then(|place| place.dyn_into::<web_sys::HtmlElement>().ok());
    if let Some(place) = place {
        let at = window.scroll_y().unwrap_or_default();
        // An attribute of this name cannot be refused; a browser that refuses the cursor keeps it.
        let _ = place.set_attribute("tabindex", "-1");
        let _ = place.focus();
        window.scroll_to_with_x_and_y(0.0, at);
    }
}

/// Follows the address.
#[must_use]
pub fn follow_address() -> ReadSignal<Route> {
    let (route, set_route) = signal(Route::parse(&crate::platform::address()));
    let changed = Closure::<dyn Fn()>::new(move || {
        set_route.set(Route::parse(&crate::platform::address()));
        // A new page is read from its top.
        if let Some(window) = web_sys::window() {
            window.scroll_to_with_x_and_y(0.0, 0.0);
        }
        leptos::task::spawn_local(begin_at_heading());
    });
    if let Some(window) = web_sys::window() {
        window.set_onhashchange(Some(changed.as_ref().unchecked_ref()));
    }
    // The app lives as long as the page.
    changed.forget();
    route
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_are_read_as_they_are_written() {
        for route in [
            Route::Jobs,
            Route::NewJob,
            Route::Import,
            Route::SignIn,
            Route::Settings,
            Route::Devices,
            Route::Waiting,
            Route::Practice,
            Route::SetUp("abc".into()),
            Route::Join("abc".into()),
            Route::Reset("abc".into()),
            Route::Follow("abc".into()),
            Route::Office(Desk::Log),
            Route::Office(Desk::Library),
            Route::Book("b1".into(), Tab::Sheet),
            Route::Book("b1".into(), Tab::Sign),
            Route::Book("b1".into(), Tab::Photos),
            Route::Book("b1".into(), Tab::Findings),
        ] {
            assert_eq!(Route::parse(&route.address()), route);
        }
        assert_eq!(Route::parse("/nonsense/1/2/3"), Route::Jobs);
    }
}
