//! A photo that is taken in a dead spot: kept over a reload, sent when there is signal again, seen by
//! the others and by the adjuster, printed, and without the place where it was taken.

use std::path::{Path, PathBuf};

use anyhow::{Context, Result, ensure};
use serde_json::json;
use server::demo::PEOPLE;
use tests::bay::{demo_server, enter, open_car, picture, sign_in, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone, Screen};
use tests::shop::Person;
use thirtyfour::By;

/// What a camera writes beside a picture, in the place where it writes it.
const BESIDE: &[u8] = b"Exif\0\0GPS 48.2082 N 16.3738 E";

/// A picture as a camera gives it, 2400 × 1800 pixels, with something beside it.
fn from_camera(folder: &Path) -> Result<PathBuf> {
    let image = image::RgbImage::from_fn(2400, 1800, |u, v| {
        let shade = |value: u32| u8::try_from(value % 256).unwrap_or_default();
        image::Rgb([shade(u / 8), shade(v / 8), shade((u + v) / 16)])
    });
    let mut bytes = std::io::Cursor::new(Vec::new());
    image.write_to(&mut bytes, image::ImageFormat::Jpeg)?;
    let mut bytes = bytes.into_inner();
    let length = u16::try_from(BESIDE.len() + 2)?.to_be_bytes();
    let beside = [&[0xff, 0xe1], &length[..], BESIDE].concat();
    bytes.splice(2..2, beside);
    let path = folder.join("camera.jpg");
    std::fs::write(&path, bytes)?;
    Ok(path)
}

async fn take(phone: &Phone, file: &Path) -> Result<()> {
    phone.tap(".camera").await?;
    come_back(phone, file).await
}

/// The camera hands over what was taken.
async fn come_back(phone: &Phone, file: &Path) -> Result<()> {
    let field = phone.driver.find(By::Css("[data-test=take-photo]")).await?;
    field.send_keys(file.to_string_lossy().as_ref()).await?;
    Ok(())
}

async fn open_photos(phone: &Phone) -> Result<()> {
    phone.tap("[data-test=tab-more]").await?;
    phone.tap("[data-test=go-photos]").await?;
    phone.see(".photos").await?;
    Ok(())
}

/// Width of the first photo of the grid, once it can be seen.
async fn width(phone: &Phone) -> Result<i64> {
    phone.see(".photo-grid img").await?;
    let width = phone
        .ask("const image = document.querySelector('.photo-grid img'); await image.decode(); return image.naturalWidth;")
        .await?;
    width.as_i64().context("no width")
}

/// Widths of the pictures in a report.
fn printed(bytes: &[u8]) -> Result<Vec<i64>> {
    let file = lopdf::Document::load_mem(bytes)?;
    let streams = file
        .objects
        .values()
        .filter_map(|object| object.as_stream().ok());
    let pictures = streams.filter(|stream| {
        let of = stream.dict.get(b"Subtype").and_then(lopdf::Object::as_name);
        of.is_ok_and(|of| of == b"Image")
    });
    let widths = pictures.map(|stream| Ok(stream.dict.get(b"Width")?.as_i64()?));
    widths.collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_photo_from_a_dead_spot_arrives() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let (line_a, line_b) = (Line::to(server.addr).await?, Line::to(server.addr).await?);
    let camera = from_camera(&scratch.folder)?;
    let ana = Phone::start("photo-ana", PHONE).await?;
    sign_in(&ana, &line_a, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    ana.ask("await navigator.serviceWorker.ready;").await?;
    line_a.cut();
    ana.read("no signal").await?;
    enter(&ana, "251.5").await?;
    take(&ana, &camera).await?;
    ana.read("Photo (1)").await?;
    ana.read("saved here · no signal · 2 + 1 photo not shared yet")
        .await?;
    picture(&ana, "photo-read").await?;
    let path = "return location.hash.split('/')[2]";
    let book: String = ana.driver.execute(path, vec![]).await?.convert()?;

    // The page is closed and opened again, still without signal.
    ana.driver.refresh().await?;
    ana.read("1 photo not shared yet").await?;
    ensure!(scratch.number("SELECT COUNT(*) FROM photo").await? == 0);
    line_a.mend();
    wait_until_shared(&ana).await?;
    ensure!(scratch.number("SELECT COUNT(*) FROM photo").await? == 1);
    ensure!(scratch.number("SELECT COUNT(*) FROM photo_upload").await? == 1);

    // Somebody else sees it, scaled down; what stood beside the picture is gone.
    let ben = Phone::start("photo-ben", PHONE).await?;
    sign_in(&ben, &line_b, &PEOPLE[2]).await?;
    open_car(&ben).await?;
    open_photos(&ben).await?;
    ensure!(width(&ben).await? == 1600);
    picture(&ben, "photos").await?;
    ben.tap("[data-test=photo]").await?;
    ben.see("[data-test=photo-large] img").await?;
    picture(&ben, "photo-large").await?;
    let file = ben.download("[data-test=photo-save]", ".jpg").await?;
    ensure!(
        file.starts_with(&[0xff, 0xd8, 0xff]) && file.len() < 600_000,
        "{}",
        file.len()
    );
    ensure!(
        !file.windows(3).any(|part| part == b"GPS"),
        "the place is in it"
    );
    ben.tap("[data-test=photo-close]").await?;

    // The report has it: from the server, and from what is here without signal.
    let body = json!({ "email": PEOPLE[1].email, "password": PEOPLE[1].password });
    let member = Person::at(server.addr).enter("/api/session", &body).await?;
    let report = member.get(&format!("/api/jobs/{book}/report")).await?;
    ensure!(printed(&report.bytes().await?)? == [1600]);
    ben.tap("[data-test=tab-more]").await?;
    ben.tap("[data-test=go-sign]").await?;
    ben.see("[data-test=report-page]").await?;
    line_b.cut();
    ben.read("no signal").await?;
    let page = ben.download("[data-test=report-page]", ".html").await?;
    let page = String::from_utf8(page)?;
    ensure!(
        page.contains("<img src=\"data:image/jpeg;base64,"),
        "no photo on the page"
    );
    line_b.mend();

    // The adjuster sees it too, and it can be hidden from there on.
    let (_, follow) = member.link_opened(&book).await?;
    ensure!(follow.book == book);
    let link = json!({ "label": "Holm", "days": 7 });
    let made = member
        .post(&format!("/api/jobs/{book}/links"), &link)
        .await?;
    let made: serde_json::Value = made.json().await?;
    let secret = made["link"]
        .as_str()
        .and_then(|link| link.split("/#/").nth(1));
    let secret = secret.context("no link")?;
    let holm = Phone::start(
        "photo-holm",
        Screen {
            dark: true,
            ..PHONE
        },
    )
    .await?;
    holm.driver
        .goto(format!("{}/#/{secret}", line_a.url()))
        .await?;
    ensure!(width(&holm).await? == 1600);
    let photos = holm.see(".follow .photos").await?;
    photos.scroll_into_view().await?;
    picture(&holm, "photos-follow-dark").await?;
    let hides = holm
        .driver
        .find_all(By::Css("[data-test=photo-hide]"))
        .await?;
    ensure!(hides.is_empty(), "an adjuster hides nothing");
    holm.tap("[data-test=photo]").await?;
    holm.see("[data-test=photo-large] img").await?;
    // Somebody who is about to hide it too.
    open_photos(&ben).await?;
    ben.tap("[data-test=photo]").await?;
    ben.see("[data-test=photo-hide]").await?;
    open_photos(&ana).await?;
    ensure!(width(&ana).await? == 1600);
    ana.tap("[data-test=photo]").await?;
    ana.fill("input[name=why]", "another car").await?;
    ana.tap("[data-test=photo-hide]").await?;
    ana.read("Hidden").await?;
    // Said where it is open large, and nobody hides it twice.
    for phone in [&ben, &holm] {
        phone
            .read("Hidden by Ana Lind, because: another car")
            .await?;
        let hides = By::Css("[data-test=photo-hide]");
        ensure!(phone.driver.find_all(hides).await?.is_empty(), "twice");
        phone.tap("[data-test=photo-close]").await?;
    }
    holm.read("Hidden").await?;
    ensure!(
        holm.driver
            .find_all(By::Css(".photo-grid img"))
            .await?
            .is_empty()
    );
    let report = member.get(&format!("/api/jobs/{book}/report")).await?;
    ensure!(printed(&report.bytes().await?)?.is_empty());
    for phone in [ana, ben, holm] {
        phone.close().await?;
    }
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_picture_is_of_what_was_shown_when_the_button_was_pressed() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let camera = from_camera(&scratch.folder)?;
    let ana = Phone::start("photo-late", PHONE).await?;
    sign_in(&ana, &line, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    line.cut();
    ana.read("no signal").await?;
    enter(&ana, "251.5").await?;
    ana.tap(".camera").await?;
    // While the camera is open the page is drawn anew, and then left.
    enter(&ana, "252").await?;
    ana.read("252.0 mm").await?;
    come_back(&ana, &camera).await?;
    ana.read("saved here · no signal · 3 + 1 photo not shared yet")
        .await?;
    ensure!(!ana.text().await?.contains("Photo (1)"), "of the later one");
    ana.tap(".camera").await?;
    ana.tap("[data-test=tab-findings]").await?;
    ana.see(".concern").await?;
    let other = camera.with_file_name("no-picture.jpg");
    std::fs::write(&other, "no picture")?;
    come_back(&ana, &other).await?;
    ana.read("cannot read that picture").await?;
    ana.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn an_upload_goes_on_after_a_cut_and_two_tabs_send_once() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let camera = from_camera(&scratch.folder)?;
    let ana = Phone::start("photo-cut", PHONE).await?;
    // The first request that sends anything of a photo is broken off in the middle.
    ana.prepare(
        "const real = window.fetch; window.sent = [];
         window.fetch = async (...all) => {
           const request = all[0];
           if (request.method !== 'PATCH') return real(...all);
           window.sent.push(Number(request.headers.get('Upload-Offset')));
           if (window.sent.length > 1) return real(...all);
           const bytes = await request.clone().arrayBuffer();
           await real(request.url, { method: 'PATCH', headers: request.headers, body: bytes.slice(0, 5000) });
           throw new TypeError('cut');
         };",
    )
    .await?;
    sign_in(&ana, &line, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    enter(&ana, "251.5").await?;
    // Another tab of the same phone.
    let first = ana.driver.window().await?;
    let second = ana.driver.new_tab().await?;
    ana.driver.switch_to_window(second).await?;
    ana.driver.goto(format!("{}/", line.url())).await?;
    ana.see("[data-test=car]").await?;
    ana.driver.switch_to_window(first).await?;
    ana.see("[data-test=undo]").await?;
    take(&ana, &camera).await?;
    ana.read("Photo (1)").await?;
    wait_until_shared(&ana).await?;
    ensure!(scratch.number("SELECT COUNT(*) FROM photo").await? == 1);
    ensure!(
        scratch.number("SELECT COUNT(*) FROM photo_upload").await? == 1,
        "sent once"
    );
    ana.close().await?;
    server.stop().await
}
