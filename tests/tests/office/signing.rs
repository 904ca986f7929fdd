//! Signing, countersigning, and an old browser that does it with a kept key.

use anyhow::{Context, Result, ensure};
use server::demo::PEOPLE;
use server::store::Exported;
use shared::sync::replay::verify;
use tests::bay::{demo_server, enter, open_car, picture, sign_in, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};

use crate::{DESK, fits, open_signing, sign};

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

    // While something is open the button asks, and nothing is signed by one tap.
    ana.tap("[data-test=sign]").await?;
    let question = ana.see("[data-test=sign-sure]").await?.text().await?;
    let open = thirtyfour::By::Css("[data-test=open-checks] li");
    let open = ana.driver.find_all(open).await?.len();
    ensure!(
        question.starts_with(&open.to_string()),
        "{open}: {question}"
    );
    picture(&ana, "sign-sure").await?;
    fits(&ana, "sign-sure").await?;

    // The technician signs; the owner, in another window, joins.
    ana.tap("[data-test=sign-anyway]").await?;
    let code = ana.see("[data-test=signed-code] b").await?.text().await?;
    ensure!(code.len() == 14, "a code: {code}");
    ana.read("Unchanged since.").await?;
    let none = ana
        .driver
        .find_all(thirtyfour::By::Css("[data-test=countersign]"))
        .await?;
    ensure!(none.is_empty(), "a technician is offered to countersign");
    ana.see("[data-test=sign]:not(.primary)").await?;
    picture(&ana, "sign-done").await?;
    open_signing(&marta).await?;
    marta.read(&code).await?;
    marta.see("[data-test=sign]:not(.primary)").await?;
    let stage = marta.see("[data-test=signed] h3").await?.text().await?;
    marta.tap("[data-test=countersign].primary").await?;
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
    // What the owner has before her is not what she began to read; she signs nothing unread.
    let button = marta.see("[data-test=sign]").await?;
    ensure!(!button.is_enabled().await?, "signs what she has not seen");
    picture(&marta, "desk-sign-changed").await?;
    marta.tap("[data-test=seen]").await?;
    marta.see("[data-test=sign]:not(:disabled)").await?;

    // The owner's desk says the same; somebody else finds that everything holds.
    marta
        .driver
        .goto(format!("{}/#/office/signed", line_m.url()))
        .await?;
    marta.read("1 entry since sign-off").await?;
    let named = marta.see("[data-test=signed-stage] b").await?;
    ensure!(named.text().await? == stage, "not {stage}");
    // What it was is told when she asks.
    marta.tap("[data-test=what-changed]").await?;
    let changes = marta.see("[data-test=changes] li").await?.text().await?;
    ensure!(
        changes.starts_with("Reading recorded: ") && changes.contains("251.5 mm"),
        "{changes}"
    );
    ensure!(changes.contains("Ana Lind"), "{changes}");
    picture(&marta, "desk-changes").await?;
    fits(&marta, "desk-changes").await?;
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
        // The demo car brings a sign-off of its own.
        (report.sign_offs, report.countersignatures) == (2, 1),
        "{report:?}"
    );
    // A stage that nobody has read says nothing that could be signed.
    ana.tap("[data-test=tab-more]").await?;
    ana.fill("input[name=stage]", "after the second pull")
        .await?;
    ana.tap("[data-test=begin-stage]").await?;
    open_signing(&ana).await?;
    ana.read("There is nothing to sign").await?;
    ana.see("[data-test=sign]:disabled").await?;
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
    let code = sign(&ana).await?;
    // The same key signs again after a new start.
    ana.driver.refresh().await?;
    ana.see("[data-test=claims] li").await?;
    wait_until_shared(&ana).await?;
    sign(&ana).await?;
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
        report.fault.is_none() && report.sign_offs == 3,
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
