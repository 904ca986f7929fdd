//! One entry, one transaction; and what the screen says while it is not on disk.

use anyhow::{Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{demo_server, enter, open_car, picture, sign_in};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};

/// Notes every transaction that writes, and can hold its `complete` event back.
const WATCH: &str = r#"
  window.written = []; window.hold = false; window.heldBack = [];
  const transaction = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (stores, mode, options) {
    const made = transaction.call(this, stores, mode, options);
    if (mode === "readwrite") {
      made.note = { durability: made.durability, puts: [] };
      window.written.push(made.note);
    }
    return made;
  };
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (value, key) {
    this.transaction.note.puts.push(key);
    return put.call(this, value, key);
  };
  const complete = Object.getOwnPropertyDescriptor(IDBTransaction.prototype, "oncomplete");
  Object.defineProperty(IDBTransaction.prototype, "oncomplete", {
    get: complete.get,
    set(listener) {
      complete.set.call(this, listener && function (event) {
        if (window.hold && this.mode === "readwrite") {
          window.heldBack.push(() => listener.call(this, event));
        } else {
          listener.call(this, event);
        }
      });
    },
  });
"#;

#[tokio::test(flavor = "multi_thread")]
async fn an_entry_is_one_strict_transaction_and_saved_here_waits_for_its_end() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("saving", PHONE).await?;
    phone.prepare(WATCH).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    line.cut();
    phone.read("no signal").await?;

    phone
        .ask("window.written = []; window.hold = true;")
        .await?;
    enter(&phone, "251.5").await?;
    phone
        .ask("while (!window.heldBack.length) await new Promise((next) => setTimeout(next, 10));")
        .await?;
    // The transaction has ended, but the app has not heard of it.
    phone.read("251.5 mm").await?;
    phone.read("saving …").await?;
    ensure!(!phone.text().await?.contains("saved here"));
    phone
        .ask("window.hold = false; window.heldBack.forEach((complete) => complete());")
        .await?;
    phone.read("saved here").await?;

    let written = phone.ask("return window.written").await?;
    let written = written.as_array().map(Vec::as_slice).unwrap_or_default();
    ensure!(written.len() == 1, "not one transaction: {written:?}");
    ensure!(written[0]["durability"] == "strict", "{written:?}");
    let puts = written[0]["puts"].to_string();
    for part in ["/change/", "/intent/", "meta/"] {
        ensure!(puts.contains(part), "no {part} in {puts}");
    }
    phone.close().await?;
    server.stop().await
}

/// What a phone keeps for a site in these tests: the app itself, a book, and little more.
const ROOM_BYTES: u64 = 20_000_000;

/// Fills what room is left, as a film would.
const FILL: &str = r#"
  const opening = indexedDB.open("film", 1);
  opening.onupgradeneeded = () => opening.result.createObjectStore("parts");
  await new Promise((done) => { opening.onsuccess = done; });
  const put = (bytes) => new Promise((done) => {
    const adding = opening.result.transaction("parts", "readwrite", { durability: "strict" });
    const part = new Uint8Array(bytes);
    for (let at = 0; at < bytes; at += 60000) crypto.getRandomValues(part.subarray(at, at + 60000));
    adding.objectStore("parts").put(part, Math.random());
    adding.oncomplete = () => done(true);
    adding.onabort = () => done(false);
  });
  for (let bytes = 4000000; bytes > 100;) {
    if (!(await put(bytes))) bytes = Math.floor(bytes / 2);
  }
"#;

/// Counts what the app wrote in vain.
const REFUSALS: &str = r#"
  window.refusals = 0;
  const transaction = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (stores, mode, options) {
    const made = transaction.call(this, stores, mode, options);
    if (this.name !== "film") made.addEventListener("abort", () => { window.refusals += 1; });
    return made;
  };
"#;

/// Waits until the app has heard of a write in vain, counted from the start of the page.
async fn refused(phone: &Phone, times: u32) -> Result<()> {
    let wait = format!(
        "while (window.refusals < {times}) await new Promise((next) => setTimeout(next, 10));"
    );
    phone.ask(&wait).await?;
    Ok(())
}

/// Fills the phone. The browser tidies up behind itself, so each step needs it anew.
async fn fill(phone: &Phone, line: &Line) -> Result<()> {
    phone.ask(FILL).await?;
    phone.room(&line.url(), Some(1)).await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_full_phone_says_so_and_nothing_leaves_the_screen() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("full", PHONE).await?;
    phone.prepare(REFUSALS).await?;
    phone.room(&line.url(), Some(ROOM_BYTES)).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    line.cut();
    phone.read("no signal").await?;

    fill(&phone, &line).await?;
    enter(&phone, "251.5").await?;
    phone.read("This phone's storage is full or fails").await?;
    phone.read("not saved here").await?;
    fill(&phone, &line).await?;
    enter(&phone, "263").await?;
    refused(&phone, 2).await?;
    picture(&phone, "full").await?;
    for text in ["251.5 mm", "263.0 mm", "not saved here", "2 not shared yet"] {
        phone.read(text).await?;
    }

    // Still full: trying again changes nothing, and says so.
    fill(&phone, &line).await?;
    phone.tap("[data-test=try-again]").await?;
    refused(&phone, 3).await?;
    phone.read("This phone's storage is full or fails").await?;
    phone.read("not saved here").await?;

    phone.room(&line.url(), None).await?;
    phone.tap("[data-test=try-again]").await?;
    phone.read_until_gone("not saved here").await?;
    phone.read("saved here").await?;
    ensure!(!phone.text().await?.contains("storage is full"));
    phone.driver.refresh().await?;
    for text in ["251.5 mm", "263.0 mm", "2 not shared yet"] {
        phone.read(text).await?;
    }
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_full_phone_with_signal_is_safe_on_the_server() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("full-online", PHONE).await?;
    phone.room(&line.url(), Some(ROOM_BYTES)).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    fill(&phone, &line).await?;
    enter(&phone, "251.5").await?;
    phone.read("not saved here").await?;

    let other = Phone::start("other", PHONE).await?;
    sign_in(&other, &line, &PEOPLE[2]).await?;
    open_car(&other).await?;
    other.read("251.5 mm").await?;
    other.close().await?;
    // It is on the server, and only there.
    phone.read_until_gone("not shared yet").await?;
    phone.read("not saved here").await?;
    phone.close().await?;
    server.stop().await
}
