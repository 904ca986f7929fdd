//! Who is signed in. Work goes on offline with an expired session; only sharing waits.

use gloo_net::http::Method;
use leptos::prelude::*;
use shared::wire::{AcceptInvitation, Me, SetUpShop, SignIn};

use crate::json;
use crate::net::{Api, NetError};
use crate::platform;

const KEPT: &str = "me";

/// The session, as signals.
#[derive(Debug, Clone, Copy)]
pub struct Session {
    /// The person, remembered while offline.
    pub me: RwSignal<Option<Me>>,
    /// Does the server want a new sign-in before anything is shared?
    pub expired: RwSignal<bool>,
    api: StoredValue<Api, LocalStorage>,
}

impl Session {
    /// Remembers who was signed in last.
    #[must_use]
    pub fn remember(api: Api) -> Self {
        Self {
            me: RwSignal::new(kept()),
            expired: RwSignal::new(false),
            api: StoredValue::new_local(api),
        }
    }

    /// Who signs in or out in one tab of this phone does so in all.
    pub fn follow_other_tabs(self) {
        let changed = window_event_listener(leptos::ev::storage, move |event| {
            let me = kept();
            if event.key().as_deref() == Some(KEPT) && me != self.me.get_untracked() {
                self.api().use_session(None);
                self.me.set(me);
            }
        });
        on_cleanup(move || changed.remove());
    }

    /// Calls to the server as this person.
    #[must_use]
    pub fn api(&self) -> Api {
        self.api.get_value()
    }

    /// Signs in.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn sign_in(self, form: SignIn) -> Result<(), NetError> {
        self.begin("/api/session", &form).await
    }

    /// Makes the shop on a server's first start.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn set_up(self, form: SetUpShop) -> Result<(), NetError> {
        self.begin("/api/setup", &form).await
    }

    /// Accepts an invitation.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn join(self, form: AcceptInvitation) -> Result<(), NetError> {
        self.begin("/api/invitations/accept", &form).await
    }

    pub(in crate::state) async fn begin(
        self,
        path: &str,
        form: &impl serde::Serialize,
    ) -> Result<(), NetError> {
        let api = self.api();
        let session: shared::wire::Session = api.open(Method::POST, path, Some(form)).await?;
        api.use_session(Some(&session));
        if let Ok(text) = serde_json::to_string(&session.me) {
            platform::keep(KEPT, &text);
        }
        self.expired.set(false);
        self.me.set(Some(session.me));
        Ok(())
    }

    /// Signs out on this phone; the books stay on it.
    pub async fn sign_out(self) {
        let api = self.api();
        // Offline, the server learns of it when the cookie runs out.
        let _ = api
            .open::<Option<()>>(Method::DELETE, "/api/session", None::<&()>)
            .await;
        api.use_session(None);
        platform::forget(KEPT);
        self.me.set(None);
    }
}

fn kept() -> Option<Me> {
    platform::kept(KEPT).and_then(|text| json::read(text.as_bytes()))
}

/// The session of this app.
#[must_use]
pub fn session() -> Session {
    expect_context()
}
