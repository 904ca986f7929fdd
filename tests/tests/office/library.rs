//! Dimension sheets at the desk, and the history of a body.

use anyhow::{Context, Result, ensure};
use server::demo::PEOPLE;
use tests::bay::{demo_server, open_car, picture, sign_in, wait_until_shared};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};

use crate::{DESK, fits};

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
    // The form is another one as soon as the file was read.
    marta
        .read_until_gone("Kept: demo hatch, revision 1.")
        .await?;
    let first = "const place = document.querySelector('[name=sheet-place]'); \
                 place.selectedIndex = 1; place.dispatchEvent(new Event('change', { bubbles: true }));";
    marta
        .see("select[name=sheet-place] option:nth-child(2)")
        .await?;
    marta.driver.execute(first, vec![]).await?;
    marta.read("1 point says something else").await?;
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
    marta.see("[data-test=plots-rest] .series svg").await?;
    marta.read("Nothing differs between visits").await?;
    picture(&marta, "desk-history").await?;
    fits(&marta, "desk-history").await?;
    ana.close().await?;
    marta.close().await?;
    server.stop().await
}
