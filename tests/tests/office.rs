//! Signing, countersigning, and an adjuster who follows: real browsers, one server.
//!
//! Needs `cargo xtask test`, which builds the phone's app and finds the browser. With
//! `BAYBOOK_TEST_PICTURES` set to a folder, the screens are kept there as pictures.

use anyhow::{Context, Result, ensure};
use server::demo::PEOPLE;
use server::store::Exported;
use shared::sync::replay::verify;
use tests::bay::{demo_server, enter, fill_sign_in, open_car, picture, sign_in, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone, Screen};

const DESK: Screen = Screen {
    width: 1280,
    height: 800,
    dark: false,
};

/// Opens the page where the open car is signed off and shared.
async fn open_signing(phone: &Phone) -> Result<()> {
    phone.tap("[data-test=tab-more]").await?;
    phone.tap("[data-test=go-sign]").await?;
    phone.see("[data-test=claims] li").await?;
    // The page started anew: what is not shared yet cannot be signed.
    wait_until_shared(phone).await
}

/// Is the page no wider than the screen?
async fn fits(phone: &Phone, name: &str) -> Result<()> {
    let script =
        "return document.documentElement.scrollWidth > document.documentElement.clientWidth";
    let wide: bool = phone.driver.execute(script, vec![]).await?.convert()?;
    ensure!(!wide, "{name}: the page is wider than the screen");
    Ok(())
}

#[tokio::test(flavor = "multi_thread")]
async fn a_stage_is_signed_countersigned_and_read_on() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let (line_a, line_m) = (Line::to(server.addr).await?, Line::to(server.addr).await?);
    let (ana, marta) = (
        Phone::start("ana-signs", PHONE).await?,
        Phone::start("marta-signs", DESK).await?,
    );
    sign_in(&ana, &line_a, &PEOPLE[1]).await?;
    sign_in(&marta, &line_m, &PEOPLE[0]).await?;
    open_car(&ana).await?;
    open_car(&marta).await?;

    // Without signal nothing can be signed, and the page says so.
    open_signing(&ana).await?;
    ana.see("[data-test=open-checks] li").await?;
    line_a.cut();
    ana.read("Signing needs the server").await?;
    let button = ana.see("[data-test=sign]").await?;
    ensure!(!button.is_enabled().await?, "signs without signal");
    line_a.mend();
    ana.read_until_gone("Signing needs the server").await?;
    picture(&ana, "sign").await?;
    fits(&ana, "sign").await?;

    // The technician signs; the owner, in another window, joins.
    ana.tap("[data-test=sign]").await?;
    let code = ana.see("[data-test=signed-code] b").await?.text().await?;
    ensure!(code.len() == 14, "a code: {code}");
    ana.read("Unchanged since.").await?;
    let none = ana
        .driver
        .find_all(thirtyfour::By::Css("[data-test=countersign]"))
        .await?;
    ensure!(none.is_empty(), "a technician is offered to countersign");
    picture(&ana, "sign-done").await?;
    open_signing(&marta).await?;
    marta.read(&code).await?;
    marta.tap("[data-test=countersign]").await?;
    marta.read("Countersigned by").await?;
    picture(&marta, "desk-sign").await?;
    fits(&marta, "desk-sign").await?;
    ana.read("Countersigned by Marta Weide").await?;

    // One more reading, and both are told.
    ana.tap("[data-test=tab-read]").await?;
    enter(&ana, "251.5").await?;
    wait_until_shared(&ana).await?;
    open_signing(&ana).await?;
    for phone in [&ana, &marta] {
        phone.read("1 reading since sign-off").await?;
    }

    // The owner's desk says the same; somebody else finds that everything holds.
    marta
        .driver
        .goto(format!("{}/#/office/signed", line_m.url()))
        .await?;
    marta.read("1 entry since sign-off").await?;
    marta
        .driver
        .goto(format!("{}/#/office/log", line_m.url()))
        .await?;
    marta.read("Countersigned").await?;
    let Exported::Bundle(bundle) = server.app.store.export_log(None).await? else {
        anyhow::bail!("no log");
    };
    let report = verify(&bundle);
    ensure!(report.fault.is_none(), "{:?}", report.fault);
    ensure!(
        (report.sign_offs, report.countersignatures) == (1, 1),
        "{report:?}"
    );
    ana.close().await?;
    marta.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn an_adjuster_follows_live_until_the_link_is_taken_back() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let (line_a, line_h) = (Line::to(server.addr).await?, Line::to(server.addr).await?);
    let ana = Phone::start("ana-shares", PHONE).await?;
    sign_in(&ana, &line_a, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    open_signing(&ana).await?;
    ana.tap("[data-test=sign]").await?;
    ana.see("[data-test=signed-code]").await?;
    ana.fill("input[name=link-label]", "Nordic Insurance, B. Holm")
        .await?;
    ana.tap("[data-test=make-link]").await?;
    let link = ana.see("[data-test=link]").await?.text().await?;
    picture(&ana, "share").await?;
    let (_, secret) = link.split_once("/#/").context("no fragment in the link")?;

    // No account, another window: the page opens from the fragment and goes on by itself.
    let holm = Phone::start("holm-follows", PHONE).await?;
    holm.driver
        .goto(format!("{}/#/{secret}", line_h.url()))
        .await?;
    holm.read("live").await?;
    holm.see("[data-test=progress] li").await?;
    holm.see("[data-test=findings] li").await?;
    holm.read("Ana Lind").await?;
    holm.read("Unchanged since.").await?;
    picture(&holm, "follow").await?;
    fits(&holm, "follow").await?;
    // The field for a code is only compared with what is on the page.
    let writes = "return [...document.querySelectorAll('input:not([name=code]), textarea, form, [data-test=sign], [data-test=enter]')].length";
    let writes: i64 = holm.driver.execute(writes, vec![]).await?.convert()?;
    ensure!(writes == 0, "{writes} controls that write");
    for form in ["pdf", "page", "readings", "results"] {
        holm.tap(&format!("[data-test=report-{form}]")).await?;
        holm.see("[data-test=report-done]").await.context(form)?;
    }
    ana.tap("[data-test=tab-read]").await?;
    enter(&ana, "251.5").await?;
    holm.read("1 reading since sign-off").await?;

    // Out of reach, and back.
    line_h.cut();
    holm.read("no signal").await?;
    line_h.mend();
    holm.read_until_gone("no signal").await?;
    holm.read("live").await?;

    // Taken back: the page says so, and a fresh one opens nothing.
    open_signing(&ana).await?;
    ana.tap("[data-test=revoke-link]").await?;
    holm.see("[data-test=ended]").await?;
    picture(&holm, "follow-ended").await?;
    holm.driver.refresh().await?;
    holm.read("This link was taken back or has run out").await?;
    ana.close().await?;
    holm.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_desk_and_the_adjusters_page_fit_every_screen() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    for (name, screen) in [
        ("phone", PHONE),
        (
            "phone-dark",
            Screen {
                dark: true,
                ..PHONE
            },
        ),
        ("desk", DESK),
        ("desk-dark", Screen { dark: true, ..DESK }),
    ] {
        let phone = Phone::start(&format!("office-{name}"), screen).await?;
        sign_in(&phone, &line, &PEOPLE[0]).await?;
        phone.tap("[data-test=office]").await?;
        phone.see("[data-test=signed-jobs] li").await?;
        picture(&phone, &format!("{name}-office")).await?;
        fits(&phone, name).await?;
        phone.tap("[data-test=desk-people]").await?;
        phone
            .tap("[data-test=people] .person:nth-child(2) .head")
            .await?;
        phone.see("[data-test=devices]").await?;
        phone.tap("[data-test=reset]").await?;
        phone.see("[data-test=link]").await?;
        picture(&phone, &format!("{name}-people")).await?;
        fits(&phone, name).await?;
        phone.tap("[data-test=desk-log]").await?;
        phone.see("[data-test=log] li").await?;
        picture(&phone, &format!("{name}-log")).await?;
        fits(&phone, name).await?;
        phone.driver.goto(format!("{}/#/", line.url())).await?;
        open_car(&phone).await?;
        open_signing(&phone).await?;
        phone
            .fill("input[name=link-label]", "Nordic Insurance, B. Holm")
            .await?;
        phone.tap("[data-test=make-link]").await?;
        let link = phone.see("[data-test=link]").await?.text().await?;
        picture(&phone, &format!("{name}-sign")).await?;
        fits(&phone, name).await?;
        let (_, secret) = link.split_once("/#/").context("no fragment in the link")?;
        phone
            .driver
            .goto(format!("{}/#/{secret}", line.url()))
            .await?;
        phone.see("[data-test=progress] li").await?;
        picture(&phone, &format!("{name}-follow")).await?;
        fits(&phone, name).await?;
        phone
            .driver
            .goto(format!("{}/#/office/links", line.url()))
            .await?;
        phone.see("[data-test=links] li").await?;
        picture(&phone, &format!("{name}-links")).await?;
        fits(&phone, name).await?;
        phone.close().await?;
    }
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn who_is_removed_shares_no_more_and_loses_nothing() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let (line_a, line_m) = (Line::to(server.addr).await?, Line::to(server.addr).await?);
    let (ana, marta) = (
        Phone::start("ana-leaves", PHONE).await?,
        Phone::start("marta-removes", DESK).await?,
    );
    sign_in(&ana, &line_a, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    sign_in(&marta, &line_m, &PEOPLE[0]).await?;
    marta
        .driver
        .goto(format!("{}/#/office/people", line_m.url()))
        .await?;
    marta.see("[data-test=people] .person").await?;

    // A device that is taken away signs in again, and all that was entered meanwhile is shared.
    let ana_opens = "for (const head of document.querySelectorAll('[data-test=people] .head')) \
                     if (head.innerText.includes('ana@')) head.click();";
    marta.driver.execute(ana_opens, vec![]).await?;
    marta.tap("[data-test=revoke-device]").await?;
    marta.see("[data-test=devices] .gone").await?;
    enter(&ana, "251.5").await?;
    ana.read("1 not shared yet").await?;
    ana.driver.goto(format!("{}/#/", line_a.url())).await?;
    ana.read("sharing waits until you sign in again").await?;
    picture(&ana, "device-revoked").await?;
    ana.driver
        .goto(format!("{}/#/sign-in", line_a.url()))
        .await?;
    fill_sign_in(&ana, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    wait_until_shared(&ana).await?;

    // A person who is removed is shut out at once; the phone keeps and shows what it has.
    marta.tap("[data-test=ask-remove]").await?;
    picture(&marta, "desk-remove").await?;
    marta.tap("[data-test=remove]").await?;
    marta.read("Ana Lind · left").await?;
    enter(&ana, "251").await?;
    ana.read("1 not shared yet").await?;
    ana.driver
        .goto(format!("{}/#/waiting", line_a.url()))
        .await?;
    ana.see("[data-test=save-unshared]").await?;
    picture(&ana, "removed").await?;
    ana.driver
        .goto(format!("{}/#/sign-in", line_a.url()))
        .await?;
    fill_sign_in(&ana, &PEOPLE[1]).await?;
    ana.see("[role=alert].error:not(:empty)").await?;
    picture(&ana, "removed-sign-in").await?;
    ana.close().await?;
    marta.close().await?;
    server.stop().await
}

/// A browser without Ed25519 of its own (Web Cryptography API) signs with a key that the phone keeps;
/// the adjuster reads in Spanish.
#[tokio::test(flavor = "multi_thread")]
async fn an_old_browser_signs_and_the_adjuster_reads_spanish() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let ana = Phone::start("ana-old-browser", PHONE).await?;
    ana.prepare(
        "SubtleCrypto.prototype.generateKey = () => Promise.reject(new DOMException('no', 'NotSupportedError'));",
    )
    .await?;
    sign_in(&ana, &line, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    open_signing(&ana).await?;
    ana.tap("[data-test=sign]").await?;
    let code = ana.see("[data-test=signed-code] b").await?.text().await?;
    // The same key signs again after a new start.
    ana.driver.refresh().await?;
    ana.see("[data-test=claims] li").await?;
    wait_until_shared(&ana).await?;
    ana.tap("[data-test=sign]").await?;
    ana.see("[data-test=signed-code] b").await?;
    ana.fill("input[name=link-label]", "Aseguradora del Norte")
        .await?;
    ana.tap("[data-test=make-link]").await?;
    let link = ana.see("[data-test=link]").await?.text().await?;
    let (_, secret) = link.split_once("/#/").context("no fragment in the link")?;
    let Exported::Bundle(bundle) = server.app.store.export_log(None).await? else {
        anyhow::bail!("no log");
    };
    let report = verify(&bundle);
    ensure!(
        report.fault.is_none() && report.sign_offs == 2,
        "{report:?}"
    );

    let holm = Phone::start("holm-in-spanish", PHONE).await?;
    holm.driver
        .goto(format!("{}/#/{secret}", line.url()))
        .await?;
    holm.read("live").await?;
    let spanish = "for (const button of document.querySelectorAll('button')) \
                   if (button.innerText === 'Español') button.click();";
    holm.driver.execute(spanish, vec![]).await?;
    holm.read("en vivo").await?;
    holm.read("Usted solo lee").await?;
    holm.read(&code).await?;
    picture(&holm, "follow-spanish").await?;
    fits(&holm, "follow in Spanish").await?;
    let english = holm.text().await?;
    for word in ["live", "Findings", "sign-off", "outside", "within"] {
        ensure!(!english.contains(word), "'{word}' in Spanish:\n{english}");
    }
    ana.close().await?;
    holm.close().await?;
    server.stop().await
}

/// A table of the demo car's body: where its points roughly are; left a little higher than right.
fn table() -> String {
    let mut table = "id,label,x_mm,y_mm,z_mm,spread_mm\r\n".to_owned();
    for (id, point) in shared::demo::job().points {
        let [x, y, z] = point.place_mm;
        table += &format!("{id},\"{}\",{x},{y},{z},1.5\r\n", point.label);
    }
    table
}

#[tokio::test(flavor = "multi_thread")]
async fn a_sheet_is_taken_in_revised_learned_and_pinned() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let marta = Phone::start("marta-library", DESK).await?;
    sign_in(&marta, &line, &PEOPLE[0]).await?;
    open_car(&marta).await?;
    let library = format!("{}/#/office/library", line.url());
    marta.driver.goto(&library).await?;
    marta.read("No sheet yet.").await?;

    // A table with mistakes is told where, by row and column; the mended one is shown and kept.
    let choose = async |text: &str| -> Result<()> {
        let file = scratch.folder.join("demo hatch.csv");
        std::fs::write(&file, text)?;
        let field = marta.see("input[name=sheet-file]").await?;
        field.send_keys(file.display().to_string()).await?;
        Ok(())
    };
    choose(&table().replacen(",1.5\r\n", ",wide\r\n", 1)).await?;
    marta.see("[data-test=refusals]").await?;
    marta.read("row 2").await?;
    marta.read("spread_mm").await?;
    picture(&marta, "desk-library-refused").await?;
    choose(&table()).await?;
    marta.see("[data-test=sheet-table] td").await?;
    marta.tap("[data-test=keep-revision]").await?;
    marta.read("Kept: demo hatch, revision 1.").await?;
    picture(&marta, "desk-library-kept").await?;
    fits(&marta, "desk-library").await?;

    // A second revision says what it changes before it is kept.
    let lifted = table().replacen(",1.5\r\n", ",2.5\r\n", 1);
    choose(&lifted).await?;
    let first = "const place = document.querySelector('[name=sheet-place]'); \
                 place.selectedIndex = 1; place.dispatchEvent(new Event('change', { bubbles: true }));";
    marta
        .see("select[name=sheet-place] option:nth-child(2)")
        .await?;
    marta.driver.execute(first, vec![]).await?;
    marta.read("1 points say something else").await?;
    marta.tap("[data-test=keep-revision]").await?;
    marta.read("Kept: demo hatch, revision 2.").await?;
    marta.driver.refresh().await?;
    marta.tap("[data-test=sheets] .head").await?;
    marta.see("[data-test=revisions] li:nth-child(2)").await?;
    let saved = marta.download("[data-test=as-table]", "csv").await?;
    let saved = String::from_utf8(saved)?;
    ensure!(saved.contains("tower") && saved.contains("2.5"), "{saved}");

    // Learned from one car: it says that one car is not enough.
    marta.tap("[data-test=learn-cars] input").await?;
    marta.tap("[data-test=learn]").await?;
    marta.see("[data-test=learned] li").await?;
    marta.read("One car alone").await?;
    picture(&marta, "desk-library-learned").await?;

    // Typed: a left row makes its right one; a second try says where the first was wrong.
    let typed = [
        ("#cell-0-0", "nose-L"),
        ("#cell-0-2", "-900"),
        ("#cell-0-3", "left"),
        ("#cell-0-4", "500"),
    ];
    for (cell, text) in typed {
        marta.fill(cell, text).await?;
    }
    marta.tap("[data-test=type-look]").await?;
    marta.see("[data-test=refusals]").await?;
    marta.read("y_mm").await?;
    marta.fill("#cell-0-3", "-400").await?;
    marta.tap("[data-test=type-look]").await?;
    marta.read("nose-R").await?;
    picture(&marta, "desk-library-typed").await?;

    // The book: what the sheet would change, then judged by it, on every phone.
    let ana = Phone::start("ana-sheet", PHONE).await?;
    sign_in(&ana, &line, &PEOPLE[1]).await?;
    open_car(&ana).await?;
    ana.tap("[data-test=tab-more]").await?;
    ana.tap("[data-test=go-sheet]").await?;
    ana.read("judged by symmetry alone").await?;
    ana.tap("[data-test=look]").await?;
    ana.see("[data-test=effects]").await?;
    picture(&ana, "sheet-effects").await?;
    fits(&ana, "sheet").await?;
    ana.tap("[data-test=pin]").await?;
    ana.read("This book is judged by demo hatch, revision 2")
        .await?;
    wait_until_shared(&ana).await?;
    picture(&ana, "sheet-pinned").await?;
    let there = ana.driver.current_url().await?;
    let (_, place) = there.as_str().split_once("/#/").context("no place")?;
    marta
        .driver
        .goto(format!("{}/#/{place}", line.url()))
        .await?;
    marta
        .read("This book is judged by demo hatch, revision 2")
        .await?;

    // A second job on the same body: it begins with the sheet, and the two have a history.
    marta.driver.goto(&library).await?;
    marta.tap("[data-test=sheets] .head").await?;
    marta.tap("[data-test=begin-job]").await?;
    marta.see("[data-test=go-sheet]").await?;
    marta
        .driver
        .goto(format!("{}/#/office/history", line.url()))
        .await?;
    let chosen = "const body = document.querySelector('[name=body]'); \
                  body.selectedIndex = 1; body.dispatchEvent(new Event('change', { bubbles: true }));";
    marta.see("select[name=body] option:nth-child(2)").await?;
    marta.driver.execute(chosen, vec![]).await?;
    marta.see("[data-test=plots] .series svg").await?;
    marta.read("Nothing differs between visits").await?;
    picture(&marta, "desk-history").await?;
    fits(&marta, "desk-history").await?;
    ana.close().await?;
    marta.close().await?;
    server.stop().await
}

/// Addresses that nobody writes, at either app: each leads to a page, and none to the next start
/// without end.
#[tokio::test(flavor = "multi_thread")]
async fn odd_addresses_lead_to_a_page_of_the_right_app() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let marta = Phone::start("marta-astray", DESK).await?;
    sign_in(&marta, &line, &PEOPLE[0]).await?;
    let (cars, desk) = ("[data-test=car]", "[data-test=signed-jobs] li");
    for (address, shown) in [
        ("#office", desk),
        ("#/follow", cars),
        ("#/office/", desk),
        ("#/office/nowhere", desk),
        ("#/office/signed/1", cars),
        ("#/import/1", cars),
        ("#/book//sign", ".book"),
        ("#/", cars),
        ("#/follow/nonsense", "[data-test=ended]"),
        ("#/settings", "[data-test=sign-out]"),
        ("#/import", "input[name=job-file]"),
        ("#/book/nonsense/sheet", ".book"),
        ("#//book//nonsense//sign//", cars),
    ] {
        let url = format!("{}/{address}", line.url());
        marta.driver.goto(url).await?;
        marta.see(shown).await.context(address)?;
        // It stays.
        let mark = "window.here = true";
        marta.driver.execute(mark, vec![]).await?;
        tokio::time::sleep(std::time::Duration::from_millis(400)).await;
        let stays = marta.driver.execute("return window.here === true", vec![]);
        let stays: bool = stays.await?.convert()?;
        ensure!(stays, "{address} started the page once more");
    }
    marta.close().await?;
    server.stop().await
}
