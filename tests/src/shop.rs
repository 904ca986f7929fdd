//! A real server on a free port with a shop on it, and people who use it over HTTP.

use std::net::SocketAddr;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use anyhow::{Context, Result, ensure};
use reqwest::header::{COOKIE, HeaderMap, ORIGIN, SET_COOKIE};
use reqwest::{Client, Method, RequestBuilder, Response, StatusCode};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::json;
use server::auth::proxies::Proxies;
use server::clock::Clock;
use server::config::Config;
use server::store::NewUser;
use server::{Running, start};
use shared::wire::{AdjusterLink, Follow, Invitation, Refusal, Role, Session, Ticket};

use crate::database::{Engine, Scratch};

/// Password of everybody here.
pub const PASSWORD: &str = "level and plumb";

/// A clock that stands still until it is set.
#[derive(Debug, Clone)]
pub struct HandClock(Arc<AtomicI64>);

impl HandClock {
    /// 2027-01-15T08:00:00Z.
    #[must_use]
    pub fn new() -> Self {
        Self(Arc::new(AtomicI64::new(1_800_000_000_000)))
    }

    /// Turns it forward.
    pub fn turn(&self, seconds: i64) {
        self.0.fetch_add(seconds * 1000, Ordering::SeqCst);
    }

    /// For the server.
    #[must_use]
    pub fn clock(&self) -> Clock {
        let at = self.0.clone();
        Clock::new(move || at.load(Ordering::SeqCst))
    }
}

impl Default for HandClock {
    fn default() -> Self {
        Self::new()
    }
}

/// A running server over a scratch database.
#[derive(Debug)]
pub struct Shop {
    /// The database.
    pub scratch: Scratch,
    /// The server.
    pub running: Running,
    /// Its clock.
    pub clock: HandClock,
}

fn config(scratch: &Scratch, clock: &HandClock, public_url: Option<&str>) -> Result<Config> {
    let listen = "127.0.0.1:0".parse()?;
    let checked = Config::check(
        listen,
        Some(scratch.url.clone()),
        scratch.folder.clone(),
        public_url.map(str::to_owned),
    )?;
    Ok(Config {
        clock: clock.clock(),
        ..checked
    })
}

impl Shop {
    /// Starts a server over an empty database.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn start(engine: Engine) -> Result<Self> {
        Self::start_at(engine, None).await
    }

    /// Starts a server with the demo shop and its car.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn start_demo(engine: Engine) -> Result<Self> {
        let scratch = Scratch::new(engine).await?;
        let clock = HandClock::new();
        let config = Config {
            demo: true,
            ..config(&scratch, &clock, None)?
        };
        let running = start(config).await?;
        Ok(Self {
            scratch,
            running,
            clock,
        })
    }

    /// Starts a server that people reach at another address, through a proxy.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn start_at(engine: Engine, public_url: Option<&str>) -> Result<Self> {
        let scratch = Scratch::new(engine).await?;
        let clock = HandClock::new();
        let running = start(config(&scratch, &clock, public_url)?).await?;
        Ok(Self {
            scratch,
            running,
            clock,
        })
    }

    /// Starts a server behind a proxy that it believes.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn start_behind(engine: Engine, proxy: &str) -> Result<Self> {
        let scratch = Scratch::new(engine).await?;
        let clock = HandClock::new();
        let config = Config {
            proxies: Proxies::new(vec![proxy.parse()?]),
            ..config(&scratch, &clock, None)?
        };
        let running = start(config).await?;
        Ok(Self {
            scratch,
            running,
            clock,
        })
    }

    /// Cuts the power and starts again over the same database.
    ///
    /// # Errors
    /// When it does not start again.
    pub async fn cut_power(self) -> Result<Self> {
        let Self {
            scratch,
            running,
            clock,
        } = self;
        running.kill().await;
        let running = start(config(&scratch, &clock, None)?).await?;
        Ok(Self {
            scratch,
            running,
            clock,
        })
    }

    /// Starts a server over a database that may have something in it.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn over(scratch: Scratch, clock: HandClock) -> Result<Self> {
        let running = start(config(&scratch, &clock, None)?).await?;
        Ok(Self {
            scratch,
            running,
            clock,
        })
    }

    /// Starts another server on the same database.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn another_node(&self) -> Result<Running> {
        start(config(&self.scratch, &self.clock, None)?).await
    }

    /// Address of a path.
    #[must_use]
    pub fn url(&self, path: &str) -> String {
        format!("http://{}{path}", self.running.addr)
    }

    /// Sets the shop up with the link that the server printed.
    ///
    /// # Errors
    /// When the server refuses.
    pub async fn set_up(&self) -> Result<Person> {
        let link = self.running.set_up_link.as_deref().context("no link")?;
        self.nobody().set_up(link).await
    }

    /// Somebody new joins through an invitation of the owner.
    ///
    /// # Errors
    /// When the server refuses.
    pub async fn join(&self, owner: &Person, name: &str, role: Role) -> Result<Person> {
        owner.bring(name, role).await
    }

    /// The owner of another shop on the same server.
    ///
    /// # Errors
    /// When the shop cannot be made.
    pub async fn other_shop(&self, name: &str, email: &str) -> Result<Person> {
        let app = &self.running.app;
        let owner = NewUser {
            user_id: app.config.clock.mint(),
            name: "Olga".into(),
            email: email.into(),
            password_hash: app.passwords.hash(PASSWORD.into()).await?,
        };
        let (shop, now_ms) = (app.config.clock.mint(), app.config.clock.now_ms());
        app.store.make_shop(&shop, name, owner, now_ms).await?;
        let body = json!({ "email": email, "password": PASSWORD });
        self.nobody().enter("/api/session", &body).await
    }

    /// Somebody who has not signed in.
    #[must_use]
    pub fn nobody(&self) -> Person {
        Person::at(self.running.addr)
    }
}

/// Somebody with a browser that keeps its cookie by hand, so that tests can replay an old one.
#[derive(Debug, Clone)]
pub struct Person {
    /// Where the server is.
    pub addr: SocketAddr,
    client: Client,
    /// The last session.
    pub session: Option<Session>,
    /// The last refresh cookie, `name=value`.
    pub cookie: Option<String>,
    token: Option<String>,
}

impl Person {
    /// Somebody who has not signed in, before the server at this address.
    #[must_use]
    pub fn at(addr: SocketAddr) -> Self {
        Self {
            addr,
            client: Client::new(),
            session: None,
            cookie: None,
            token: None,
        }
    }

    /// Makes an adjuster's link to a job and opens it: its id, and what it gives.
    ///
    /// # Errors
    /// When either is refused.
    pub async fn link_opened(&self, book: &str) -> Result<(String, Follow)> {
        let body = json!({ "label": "B. Holm", "days": 7 });
        let path = format!("/api/jobs/{book}/links");
        let made: AdjusterLink = self.post(&path, &body).await?.json().await?;
        let token = made.link.rsplit('/').next().context("no token")?;
        let body = json!({ "token": token });
        let opened = Self::at(self.addr).post("/api/follow", &body).await?;
        Ok((made.id, opened.json().await?))
    }

    /// Somebody with a bare token, as an adjuster has one.
    #[must_use]
    pub fn with_token(&self, token: &str) -> Self {
        Self {
            token: Some(token.to_owned()),
            ..self.clone()
        }
    }

    /// The same person, at the address where the server is now.
    #[must_use]
    pub fn moved_to(&self, addr: SocketAddr) -> Self {
        Self {
            addr,
            ..self.clone()
        }
    }

    /// Sets the shop up with the link that the server printed, and becomes its owner.
    ///
    /// # Errors
    /// When the server refuses.
    pub async fn set_up(self, link: &str) -> Result<Self> {
        let token = link.rsplit('/').next().context("no token")?;
        let body = json!({
            "token": token, "shop": "Test Body Works", "name": "Marta",
            "email": "marta@shop.example", "password": PASSWORD,
        });
        self.enter("/api/setup", &body).await
    }

    /// Signs in once more, as the same person.
    ///
    /// # Errors
    /// When the server refuses.
    pub async fn sign_in_again(&self) -> Result<Self> {
        let session = self.session.as_ref().context("not signed in")?;
        let body = json!({ "email": session.me.email, "password": PASSWORD });
        Self::at(self.addr).enter("/api/session", &body).await
    }

    /// Somebody new joins this owner's shop through an invitation.
    ///
    /// # Errors
    /// When the server refuses.
    pub async fn bring(&self, name: &str, role: Role) -> Result<Self> {
        let invitation: Invitation = self
            .post("/api/invitations", &json!({ "role": role }))
            .await?
            .json()
            .await?;
        let token = invitation.link.rsplit('/').next().context("no token")?;
        let body = json!({
            "token": token, "name": name,
            "email": format!("{name}@shop.example"), "password": PASSWORD,
        });
        let new = Self::at(self.addr);
        new.enter("/api/invitations/accept", &body).await
    }

    /// Sends a request with this person's token and cookie.
    ///
    /// # Errors
    /// When the server does not answer.
    pub async fn send(
        &self,
        method: Method,
        path: &str,
        body: Option<&impl Serialize>,
        headers: HeaderMap,
    ) -> Result<Response> {
        let mut request = self.request(method, path).headers(headers);
        if let Some(body) = body {
            request = request.json(body);
        }
        Ok(request.send().await?)
    }

    /// A request with this person's token and cookie, to be filled in and sent.
    pub fn request(&self, method: Method, path: &str) -> RequestBuilder {
        let url = format!("http://{}{path}", self.addr);
        let mut request = self.client.request(method, url);
        let of_session = self.session.as_ref().map(|session| &session.access_token);
        if let Some(token) = self.token.as_ref().or(of_session) {
            request = request.bearer_auth(token);
        }
        if let Some(cookie) = &self.cookie {
            request = request.header(COOKIE, cookie);
        }
        request
    }

    /// `POST` with a body.
    ///
    /// # Errors
    /// When the server does not answer.
    pub async fn post(&self, path: &str, body: &impl Serialize) -> Result<Response> {
        self.send(Method::POST, path, Some(body), HeaderMap::new())
            .await
    }

    /// `POST` with a body from a page of another site.
    ///
    /// # Errors
    /// When the server does not answer.
    pub async fn post_from(
        &self,
        origin: &str,
        path: &str,
        body: &impl Serialize,
    ) -> Result<Response> {
        let mut headers = HeaderMap::new();
        headers.insert(ORIGIN, origin.parse()?);
        self.send(Method::POST, path, Some(body), headers).await
    }

    /// `GET`.
    ///
    /// # Errors
    /// When the server does not answer.
    pub async fn get(&self, path: &str) -> Result<Response> {
        self.send(Method::GET, path, None::<&()>, HeaderMap::new())
            .await
    }

    /// `DELETE`.
    ///
    /// # Errors
    /// When the server does not answer.
    pub async fn delete(&self, path: &str) -> Result<Response> {
        self.send(Method::DELETE, path, None::<&()>, HeaderMap::new())
            .await
    }

    /// The user id of whoever is signed in here.
    ///
    /// # Errors
    /// When nobody is.
    pub fn user(&self) -> Result<String> {
        let session = self.session.as_ref().context("not signed in")?;
        Ok(session.me.user.clone())
    }

    /// `GET` of something that must be there.
    ///
    /// # Errors
    /// When it is not, or not of the form.
    pub async fn read<T: DeserializeOwned>(&self, path: &str) -> Result<T> {
        let answer = self.get(path).await?;
        ensure!(answer.status().is_success(), "{path}: {}", answer.status());
        Ok(answer.json().await?)
    }

    /// A request that answers with a session.
    ///
    /// # Errors
    /// When the server refuses.
    pub async fn enter(mut self, path: &str, body: &impl Serialize) -> Result<Self> {
        let answer = self.post(path, body).await?;
        let status = answer.status();
        let cookie = set_cookie(&answer);
        let text = answer.text().await?;
        ensure!(status.is_success(), "{path}: {status} {text}");
        self.session = Some(serde_json::from_str(&text)?);
        self.cookie = cookie
            .as_deref()
            .and_then(|cookie| cookie.split(';').next())
            .map(str::to_owned);
        Ok(self)
    }

    /// A ticket for the WebSocket.
    ///
    /// # Errors
    /// When the server refuses.
    pub async fn ticket(&self, device: &str, actors: &[String]) -> Result<Ticket> {
        let body = json!({ "device": device, "actors": actors });
        let answer = self.post("/api/ticket", &body).await?;
        ensure!(answer.status().is_success(), "ticket: {}", answer.status());
        Ok(answer.json().await?)
    }
}

/// The `Set-Cookie` of an answer.
#[must_use]
pub fn set_cookie(answer: &Response) -> Option<String> {
    answer
        .headers()
        .get(SET_COOKIE)
        .and_then(|value| value.to_str().ok())
        .map(str::to_owned)
}

/// Status and refusal of an answer.
///
/// # Errors
/// When the body is no refusal.
pub async fn refusal(answer: Response) -> Result<(StatusCode, Refusal)> {
    Ok((answer.status(), answer.json().await?))
}
