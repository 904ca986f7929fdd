//! The stock tus client sends photos to our server: the protocol is the open one, also after a cut.
//!
//! Needs `cargo xtask test`, which installs the client; without it each test says that it was skipped.

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};
use shared::proof::Digest;
use shared::wire::Role;
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::line::Line;
use tests::photo::{picture, record, refer};
use tests::shop::{Person, Shop};
use tests::stock::{StockSender, node};

/// A shop whose book refers to a photo, and the photo as a file.
struct Bay {
    shop: Shop,
    ana: Person,
    book: String,
    bytes: Vec<u8>,
    file: std::path::PathBuf,
}

async fn bay() -> Result<Bay> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let mut phone = Device::new(&document_id());
    phone.start_book()?;
    phone.connect(&ana).await?;
    let bytes = picture(7)?;
    refer(&mut phone, record("p1", &bytes)?).await?;
    let file = shop.scratch.folder.join("photo.jpg");
    std::fs::write(&file, &bytes)?;
    Ok(Bay {
        shop,
        ana,
        book: phone.book,
        bytes,
        file,
    })
}

impl Bay {
    fn wish(&self, origin: &str, chunk: Option<usize>) -> Result<Value> {
        let session = self.ana.session.as_ref().context("not signed in")?;
        Ok(json!({
            "endpoint": format!("{origin}/api/jobs/{}/photos", self.book),
            "file": self.file,
            "token": session.access_token,
            "metadata": { "digest": Digest::of(&self.bytes).to_string(), "type": "image/jpeg" },
            "chunk": chunk,
            "retries": [100, 300, 1000, 3000],
            "known": null,
        }))
    }

    async fn is_there(&self) -> Result<bool> {
        let path = format!("/api/jobs/{}/photos/{}", self.book, Digest::of(&self.bytes));
        let answer = self.ana.get(&path).await?;
        Ok(answer.status().is_success() && answer.bytes().await? == self.bytes)
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn it_sends_a_photo_whole_and_in_parts() -> Result<()> {
    let Some(node) = node() else { return Ok(()) };
    let bay = bay().await?;
    let origin = bay.shop.url("");
    for chunk in [None, Some(30_000)] {
        let said = StockSender::start(&node, &bay.wish(&origin, chunk)?)?
            .ends()
            .await?;
        ensure!(said.get("done").is_some(), "{said}");
        ensure!(bay.is_there().await?, "the photo is not there");
    }
    bay.shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn it_goes_on_after_a_cut() -> Result<()> {
    let Some(node) = node() else { return Ok(()) };
    let bay = bay().await?;
    let line = Line::to(bay.shop.running.addr).await?;
    // Cut in the middle: it tries again by itself, and goes on where the server is.
    let mut sender = StockSender::start(&node, &bay.wish(&line.url(), Some(20_000))?)?;
    let begun = sender.says().await?;
    ensure!(begun["at"].is_string(), "{begun}");
    let at = loop {
        let said = sender.says().await?;
        ensure!(said.get("failed").is_none(), "{said}");
        if let Some(accepted) = said["accepted"]
            .as_u64()
            .filter(|accepted| *accepted >= 40_000)
        {
            break accepted;
        }
    };
    line.cut();
    tokio::time::sleep(std::time::Duration::from_millis(300)).await;
    line.mend();
    // What was under way when the line was cut may have arrived; the upload is the same.
    let next = loop {
        match sender.says().await? {
            again if again == begun => {}
            said => break said,
        }
    };
    ensure!(next["accepted"].as_u64() > Some(at), "begun anew: {next}");
    let said = sender.ends().await?;
    ensure!(said.get("done").is_some(), "{said}");
    ensure!(bay.is_there().await?, "the photo is not there");
    bay.shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn another_process_goes_on_and_wrong_bytes_are_told() -> Result<()> {
    let Some(node) = node() else { return Ok(()) };
    let bay = bay().await?;
    let origin = bay.shop.url("");
    let mut sender = StockSender::start(&node, &bay.wish(&origin, Some(20_000))?)?;
    let mut known = Value::Null;
    loop {
        let said = sender.says().await?;
        if let Some(at) = said.get("at") {
            known = at.clone();
        }
        if said.get("accepted").is_some() {
            break;
        }
    }
    // The process ends; another one knows the upload's address alone.
    drop(sender);
    let mut wish = bay.wish(&origin, Some(20_000))?;
    wish["known"] = known;
    let said = StockSender::start(&node, &wish)?.ends().await?;
    ensure!(said.get("done").is_some(), "{said}");
    ensure!(bay.is_there().await?, "the photo is not there");

    // The right length, another byte at the end.
    let mut wrong = bay.bytes.clone();
    *wrong.last_mut().context("empty")? ^= 1;
    std::fs::write(&bay.file, &wrong)?;
    let said = StockSender::start(&node, &bay.wish(&origin, None)?)?
        .ends()
        .await?;
    ensure!(said["status"] == 400, "{said}");
    bay.shop.running.stop().await
}
