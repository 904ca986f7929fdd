//! Who may do what: every route as an owner, a technician, an adjuster, a stranger, and the owner of
//! another shop. `docs/who-may-do-what.md` is written from this list.
//!
//! `BAYBOOK_TEST_WRITE=1 cargo test -p tests --test server access` writes the page anew.

mod rows;

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;

use anyhow::{Context, Result, ensure};
use reqwest::Method;
use reqwest::header::HeaderMap;
use serde_json::{Value, json};
use server::routes::{API, OUTSIDE_API};
use shared::library::SheetLine;
use shared::proof::Digest;
use shared::wire::{Refusal, ResetLink, Role};
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::photo;
use tests::shop::{PASSWORD, Person, Shop};

use rows::ROWS;

/// What somebody is answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Answer {
    /// It is done.
    Yes,
    /// It is done, or answered, from their own shop only.
    OwnShop,
    /// Who are you?
    SignIn,
    /// Not with this role.
    Role,
    /// No such thing in their shop.
    NotFound,
    /// The secret in the body or cookie decides, whoever sends it.
    Secret,
}
use Answer::{NotFound, OwnShop, Role as NotThisRole, Secret, SignIn, Yes};

impl Answer {
    fn word(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::OwnShop => "own shop's",
            Self::SignIn => "no: sign in",
            Self::Role => "no: owners only",
            Self::NotFound => "no: not found",
            Self::Secret => "with the secret",
        }
    }
}

/// One route and the answers to owner, technician, adjuster, stranger, another shop's owner.
struct Row {
    method: &'static str,
    path: &'static str,
    what: &'static str,
    answers: [Answer; 5],
}

const fn row(
    method: &'static str,
    path: &'static str,
    what: &'static str,
    answers: [Answer; 5],
) -> Row {
    Row {
        method,
        path,
        what,
        answers,
    }
}

/// Members of the shop; anybody else is asked to sign in, another shop has nothing of it.
const MEMBERS: [Answer; 5] = [Yes, Yes, SignIn, SignIn, OwnShop];
const MEMBERS_ONE: [Answer; 5] = [Yes, Yes, SignIn, SignIn, NotFound];
/// Members of any shop of the server.
const ANY_MEMBER: [Answer; 5] = [Yes, Yes, SignIn, SignIn, Yes];
const OWNERS: [Answer; 5] = [Yes, NotThisRole, SignIn, SignIn, OwnShop];
/// Owners of any shop of the server.
const OWNERS_ANY: [Answer; 5] = [Yes, NotThisRole, SignIn, SignIn, Yes];
const OWNERS_ONE: [Answer; 5] = [Yes, NotThisRole, SignIn, SignIn, NotFound];
/// Whoever it belongs to: the technician.
const OWN: [Answer; 5] = [NotFound, Yes, SignIn, SignIn, NotFound];
const SECRET: [Answer; 5] = [Secret; 5];
const ANYBODY: [Answer; 5] = [Yes; 5];

fn sheet_file() -> Value {
    json!({ "format": "baybook-sheet/1", "sheet": {
        "name": "demo hatch", "revision": 1, "body": { "model": "Bach" }, "origin": { "kind": "manual" },
        "points": { "tower-L": {
            "side": "left", "target_mm": [-61.0, -545.0, 838.5], "spread_mm": [1.0, 1.0, 1.0],
        } },
    } })
}

/// A shop with something in it for every route.
struct Scene {
    shop: Shop,
    owner: Person,
    people: [Person; 5],
    book: String,
    device: String,
    link: String,
    sheet: String,
    /// A photo that is here, and an upload of the technician's of another.
    photos: [Vec<u8>; 2],
    upload: String,
    /// A second technician, for what can be done once.
    user: String,
}

async fn scene() -> Result<Scene> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let owner = shop.set_up().await?;
    let technician = shop.join(&owner, "ana", Role::Technician).await?;
    let other = shop.other_shop("Other Works", "olga@other.example").await?;
    let mut phone = Device::new(&document_id());
    phone.start_book()?;
    phone.connect(&technician).await?;
    phone.share().await?;
    let photos = [photo::picture(1)?, photo::picture(2)?];
    for (id, bytes) in ["p1", "p2"].into_iter().zip(&photos) {
        photo::refer(&mut phone, photo::record(id, bytes)?).await?;
    }
    photo::send(&technician, &phone.book, &photos[0]).await?;
    let upload = photo::begun(&technician, &phone.book, &photos[1]).await?;
    let (link, follow) = technician.link_opened(&phone.book).await?;
    let adjuster = shop.nobody().with_token(&follow.access_token);
    let sheet: SheetLine = owner
        .post("/api/sheets", &sheet_file())
        .await?
        .json()
        .await?;
    let user = technician.user()?;
    Ok(Scene {
        sheet: sheet.id,
        photos,
        upload: upload.rsplit('/').next().unwrap_or_default().to_owned(),
        people: [owner.clone(), technician, adjuster, shop.nobody(), other],
        owner,
        book: phone.book,
        device: phone.device,
        link,
        user,
        shop,
    })
}

impl Scene {
    fn fill(&self, path: &str) -> String {
        path.replace("{user}", &self.user)
            .replace("{device}", &self.device)
            .replace("{book}", &self.book)
            .replace("{link}", &self.link)
            .replace("{sheet}", &self.sheet)
            .replace("{revision}", "1")
            .replace("{upload}", &self.upload)
            .replace("{digest}", &Digest::of(&self.photos[0]).to_string())
    }

    /// A body that is good for whoever may send it; `None` when the route takes none.
    fn body(&self, path: &str) -> Option<Value> {
        Some(match path {
            "/api/people/{user}/role" => json!({ "role": "technician" }),
            "/api/people/{user}/reset" => json!({}),
            "/api/invitations" => json!({ "role": "technician" }),
            "/api/rules" => json!({ "two_people": false }),
            "/api/keys" => json!({ "device": self.device, "key": "", "signature": "" }),
            "/api/statements" => json!({ "text": "" }),
            "/api/jobs/{book}/links" => json!({ "label": "Holm", "days": 7 }),
            "/api/ticket" => json!({ "device": self.device, "actors": [] }),
            "/api/setup" => {
                json!({ "token": "", "shop": "S", "name": "N", "email": "e@x", "password": PASSWORD })
            }
            "/api/session" => json!({ "email": "nobody@x.example", "password": PASSWORD }),
            "/api/reset" => json!({ "token": "", "password": PASSWORD }),
            "/api/invitations/accept" => {
                json!({ "token": "", "name": "N", "email": "e@x", "password": PASSWORD })
            }
            "/api/follow" => json!({ "token": "" }),
            "/api/sheets/{sheet}/published" => json!({ "revision": 1 }),
            "/api/sheets" | "/api/sheets/{sheet}/revisions" => sheet_file(),
            _ => return None,
        })
    }

    /// What a request of the tus protocol carries.
    fn headers(&self, row: &Row) -> Result<HeaderMap> {
        let mut headers = HeaderMap::new();
        if !row.path.contains("/photos") || row.method == "get" {
            return Ok(headers);
        }
        headers.insert("Tus-Resumable", "1.0.0".parse()?);
        headers.insert("Upload-Offset", "0".parse()?);
        headers.insert("Content-Type", "application/offset+octet-stream".parse()?);
        headers.insert("Upload-Length", self.photos[0].len().into());
        let digest = Digest::of(&self.photos[0]).to_string();
        let metadata = photo::metadata(&digest, "image/jpeg");
        headers.insert("Upload-Metadata", metadata.parse()?);
        Ok(headers)
    }

    /// Status and stable code of what somebody is answered.
    async fn ask(&self, row: &Row, who: &Person) -> Result<(u16, String)> {
        let method = Method::from_bytes(row.method.to_uppercase().as_bytes())?;
        let query = match (row.method, row.path) {
            (_, "/sync") => "?ticket=none",
            ("post", "/api/sheets/{sheet}/revisions") => "?after=1",
            _ => "",
        };
        let path = self.fill(row.path) + query;
        let body = self.body(row.path).filter(|_| row.method == "post");
        let headers = self.headers(row)?;
        let answer = who.send(method, &path, body.as_ref(), headers).await?;
        let (status, text) = (answer.status().as_u16(), answer.text().await?);
        let code = serde_json::from_str::<Refusal>(&text).ok().map(|refusal| {
            serde_json::to_value(refusal.code)
                .ok()
                .and_then(|code| code.as_str().map(str::to_owned))
                .unwrap_or_default()
        });
        Ok((status, code.unwrap_or_default()))
    }
}

/// Does the answer mean what the list says?
fn means(row: &Row, expected: Answer, status: u16, code: &str) -> bool {
    // The bodies of these are not good for anybody: whoever is let in is told so.
    let let_in = match row.path {
        "/api/keys" | "/api/statements" => status == 400 && code == "bad-request",
        _ => (200..300).contains(&status),
    };
    // An answer to `HEAD` has a status alone.
    let code = match (row.method, status) {
        ("head", 401) => "sign-in-needed",
        ("head", 404) => "not-found",
        _ => code,
    };
    match expected {
        Yes | OwnShop => let_in,
        SignIn => status == 401 && code == "sign-in-needed",
        NotThisRole => status == 403 && code == "not-allowed",
        // A device of somebody else is named as the field that is wrong.
        NotFound if row.path == "/api/keys" => status == 400,
        NotFound => status == 404 && code == "not-found",
        // Whoever is signed in has a good cookie; the other secrets asked with here are good for nobody.
        Secret if row.path == "/api/session/refresh" => let_in || status == 401,
        Secret => matches!(
            (status, code),
            (410, "link-invalid") | (401, "wrong-credentials" | "sign-in-needed")
        ),
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn every_route_is_answered_as_the_list_says() -> Result<()> {
    const NAMES: [&str; 5] = [
        "owner",
        "technician",
        "adjuster",
        "stranger",
        "another shop",
    ];
    let mut scene = scene().await?;
    let api = server::openapi::document();
    for row in &ROWS {
        // Those who may not first, so that what is done once is still to do.
        for column in [3, 4, 2, 1, 0] {
            let who = &scene.people[column];
            let expected = row.answers[column];
            let (status, code) = scene.ask(row, who).await?;
            let described = &api["paths"][row.path][row.method]["responses"];
            ensure!(
                described.get(status.to_string()).is_some(),
                "{} {}: {status} is not described in the API",
                row.method,
                row.path
            );
            ensure!(
                means(row, expected, status, &code),
                "{} {} as {}: {status} {code}, and the list says '{}'",
                row.method,
                row.path,
                NAMES[column],
                expected.word()
            );
        }
        if row.method == "delete" {
            // Whatever it took away is there again for the next route.
            let used = std::mem::replace(&mut scene, self::scene().await?);
            used.shop.running.stop().await?;
        }
    }
    scene.shop.running.stop().await
}

/// Lists are from one's own shop, whatever is in the path.
#[tokio::test(flavor = "multi_thread")]
async fn another_shop_sees_nothing_of_this_one() -> Result<()> {
    let scene = scene().await?;
    let other = &scene.people[4];
    for path in [
        "/api/people/{user}/devices",
        "/api/devices",
        "/api/jobs",
        "/api/overview",
        "/api/jobs/{book}/statements",
        "/api/jobs/{book}/links",
        "/api/links",
        "/api/signed-jobs",
        "/api/sheets",
        "/api/shared-sheets",
    ] {
        let listed: Vec<Value> = other.read(&scene.fill(path)).await?;
        ensure!(listed.is_empty(), "{path}: {listed:?}");
    }
    let log: Value = other.read("/api/log").await?;
    ensure!(
        !log.to_string().contains(&scene.user),
        "the log of another shop"
    );
    let mut phone = Device::new(&scene.book);
    phone.connect(other).await?;
    phone.offer().await?;
    ensure!(
        phone.hear().await? == "doc-unavailable",
        "a book of another shop"
    );
    scene.shop.running.stop().await
}

/// The secrets themselves: each opens its own door, once where it says so.
#[tokio::test(flavor = "multi_thread")]
async fn secrets_open_their_own_door_only() -> Result<()> {
    let scene = scene().await?;
    let path = format!("/api/people/{}/reset", scene.user);
    let link: ResetLink = scene.owner.post(&path, &json!({})).await?.json().await?;
    let token = link.link.rsplit('/').next().context("no token")?;
    let nobody = scene.shop.nobody();
    let follow = nobody
        .post("/api/follow", &json!({ "token": token }))
        .await?;
    ensure!(follow.status() == 410, "a reset link is no adjuster's");
    let body = json!({ "token": token, "name": "N", "email": "e@x", "password": PASSWORD });
    let joined = nobody.post("/api/invitations/accept", &body).await?;
    ensure!(joined.status() == 410, "a reset link is no invitation");
    scene.shop.running.stop().await
}

/// Every route of the server is in the list, and nothing else.
#[test]
fn the_list_has_every_route() {
    let listed: BTreeSet<_> = ROWS.iter().map(|row| (row.method, row.path)).collect();
    let served: BTreeSet<_> = API.iter().chain(OUTSIDE_API).copied().collect();
    let missing: Vec<_> = served.difference(&listed).collect();
    let gone: Vec<_> = listed.difference(&served).collect();
    assert!(
        missing.is_empty() && gone.is_empty(),
        "routes that the list of this test does not have: {missing:?}; that the server does not have: {gone:?}"
    );
}

fn document() -> String {
    let mut text = String::from(
        "# Who may do what\n\n\
         Written from the list that `tests/tests/server/access.rs` checks against a running server: do not \
         edit it by hand. 'own shop's' means that the route is answered from the asker's own shop and shows \
         nothing of another; 'with the secret' means that a one-time link, a password, a cookie or a ticket \
         decides, whoever sends it. What an adjuster's line says is not taken into the book.\n\n\
         | route | what | owner | technician | adjuster's link | stranger | another shop's owner |\n\
         |---|---|---|---|---|---|---|\n",
    );
    for row in &ROWS {
        let answers = row.answers.map(Answer::word).join(" | ");
        let method = row.method.to_uppercase();
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "| `{method} {}` | {} | {answers} |",
            row.path, row.what
        );
    }
    text
}

#[test]
fn the_page_of_the_docs_is_what_the_list_says() -> Result<()> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/who-may-do-what.md");
    if std::env::var_os("BAYBOOK_TEST_WRITE").is_some() {
        std::fs::write(&path, document())?;
    }
    let found = std::fs::read_to_string(&path).unwrap_or_default();
    ensure!(
        found == document(),
        "docs/who-may-do-what.md is stale: run `BAYBOOK_TEST_WRITE=1 cargo test -p tests --test server access`"
    );
    Ok(())
}
