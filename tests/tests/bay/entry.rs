//! The number being entered: whose it is, and that it stays that.

use anyhow::{Result, ensure};
use server::Running;
use server::demo::PEOPLE;
use tests::bay::{apart, demo_server, enter, open_car_with_reasons, picture, sign_in, task};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};
use thirtyfour::By;

/// The demo car on Ana's phone, with the point that is to be read.
async fn ana_reads(scratch: &Scratch, name: &str) -> Result<(Running, Phone, String)> {
    let server = demo_server(scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start(name, PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car_with_reasons(&phone).await?;
    let task = task(&phone).await?;
    Ok((server, phone, task))
}

async fn typed(phone: &Phone) -> Result<String> {
    let shown = phone.see("[data-test=entry]").await?.text().await?;
    Ok(shown.trim_end_matches("mm").trim().to_owned())
}

async fn type_keys(phone: &Phone, keys: &str) -> Result<()> {
    let page = phone.driver.find(By::Css("body")).await?;
    Ok(page.send_keys(keys).await?)
}

async fn is_asked(phone: &Phone) -> bool {
    phone.driver.find(By::Css("[data-test=keep]")).await.is_ok()
}

/// A number that no point of this car has.
const FAR: &str = "1963\u{e007}";

#[tokio::test(flavor = "multi_thread")]
async fn a_number_that_is_asked_about_stays_with_its_point() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let (server, phone, point) = ana_reads(&scratch, "asked").await?;
    type_keys(&phone, FAR).await?;
    phone.see("[data-test=keep]").await?;
    let question = phone.see("[data-test=answer]").await?.text().await?;
    ensure!(question.contains(&point), "what is asked about: {question}");
    picture(&phone, "asked").await?;
    // What a tape types now is the number as it was read again.
    type_keys(&phone, "25").await?;
    ensure!(typed(&phone).await? == "25", "{}", typed(&phone).await?);
    ensure!(!is_asked(&phone).await, "still asked about what is gone");
    ensure!(task(&phone).await? == point, "another point");
    // Another kind is another number.
    type_keys(&phone, "\u{e00c}").await?;
    type_keys(&phone, FAR).await?;
    phone.see("[data-test=keep]").await?;
    let choose = "const kind = document.querySelector('select[name=kind]');
      kind.value = 'span'; kind.dispatchEvent(new Event('change', { bubbles: true }))";
    phone.driver.execute(choose, vec![]).await?;
    phone.see("[data-test=task]").await?;
    ensure!(!is_asked(&phone).await, "asked about another kind");
    ensure!(typed(&phone).await?.is_empty(), "{}", typed(&phone).await?);
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn a_half_entered_number_stays_while_somebody_looks_elsewhere() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let (server, phone, point) = ana_reads(&scratch, "half-entered").await?;
    // It settles something although it was read before: nobody else has read it meanwhile.
    type_keys(&phone, "25").await?;
    let why = phone.see(".task").await?.text().await?;
    ensure!(why.contains("settles what is open"), "{why}");
    for tab in ["findings", "body"] {
        let go = format!(".tabs a[href$='/{tab}']");
        phone.tap(&go).await?;
        phone.see(&format!("{go}[aria-current]")).await?;
        phone.tap(".tabs a[href$='/read']").await?;
        phone.see("[data-test=entry]").await?;
        ensure!(typed(&phone).await? == "25", "{}", typed(&phone).await?);
        ensure!(task(&phone).await? == point, "another point");
        let why = phone.see(".task").await?.text().await?;
        ensure!(why.contains("settles what is open"), "{why}");
    }
    enter(&phone, "1.5").await?;
    let said = phone.see("[data-test=answer]").await?.text().await?;
    ensure!(said.contains(&point) && said.contains("251.5"), "{said}");
    // Once entered it is nobody's any more.
    phone.tap(".tabs a[href$='/body']").await?;
    phone.see(".tabs a[href$='/body'][aria-current]").await?;
    phone.tap(".tabs a[href$='/read']").await?;
    ensure!(typed(&phone).await?.is_empty(), "{}", typed(&phone).await?);
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_taken_back_is_read_anew() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let (server, phone, point) = ana_reads(&scratch, "taken-back").await?;
    enter(&phone, "251.5").await?;
    apart(&phone, &point).await?;
    // By now another one is in hand.
    tokio::time::sleep(std::time::Duration::from_millis(2_500)).await;
    ensure!(task(&phone).await? != point, "sent back to {point}");
    phone.tap("[data-test=undo]").await?;
    phone.read("taken back, to be read anew").await?;
    ensure!(task(&phone).await? == point, "another point than {point}");
    enter(&phone, "252").await?;
    let said = phone.see("[data-test=answer]").await?.text().await?;
    ensure!(said.contains(&point) && said.contains("252.0"), "{said}");
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn what_is_half_entered_does_not_go_to_what_is_taken_back() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let (server, phone, point) = ana_reads(&scratch, "half-then-undo").await?;
    enter(&phone, "251.5").await?;
    apart(&phone, &point).await?;
    // By now it is in hand.
    tokio::time::sleep(std::time::Duration::from_millis(2_500)).await;
    let next = task(&phone).await?;
    type_keys(&phone, "26").await?;
    phone.tap("[data-test=undo]").await?;
    phone.see(".reading.gone").await?;
    ensure!(task(&phone).await? == next, "another point than {next}");
    ensure!(typed(&phone).await? == "26", "{}", typed(&phone).await?);
    enter(&phone, "1").await?;
    let said = phone.see("[data-test=answer]").await?.text().await?;
    ensure!(said.contains(&next) && said.contains("261.0"), "{said}");
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn two_people_are_sent_to_two_points() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let (server, ana, point) = ana_reads(&scratch, "ana-first").await?;
    let line = Line::to(server.addr).await?;
    let jonas = Phone::start("jonas-second", PHONE).await?;
    sign_in(&jonas, &line, &PEOPLE[2]).await?;
    open_car_with_reasons(&jonas).await?;
    // Whoever comes later is told at once where she is.
    jonas.read(&format!("Ana Lind is at {point}")).await?;
    apart(&jonas, &point).await?;
    enter(&ana, "251.5").await?;
    let next = apart(&ana, &point).await?;
    jonas.read(&format!("Ana Lind is at {next}")).await?;
    apart(&jonas, &next).await?;
    ana.close().await?;
    jonas.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn the_keys_stay_under_the_finger() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let (server, phone, _) = ana_reads(&scratch, "keys-stay").await?;
    let top = async || -> Result<f64> {
        let script = "return document.querySelector('.keypad').getBoundingClientRect().top";
        Ok(phone.driver.execute(script, vec![]).await?.convert()?)
    };
    let first = top().await?;
    for number in ["251.5", "262", "240", "261"] {
        enter(&phone, number).await?;
        // What the book says grows for a moment, and the page follows with the next frame. Less than a
        // sixth of a key is under the same finger.
        let mut now = top().await?;
        for _ in 0..80 {
            if (now - first).abs() < 8.0 {
                break;
            }
            tokio::time::sleep(std::time::Duration::from_millis(50)).await;
            now = top().await?;
        }
        picture(&phone, "keys-stay").await?;
        ensure!(
            (now - first).abs() < 8.0,
            "the keys went from {first} to {now}"
        );
    }
    phone.close().await?;
    server.stop().await
}
