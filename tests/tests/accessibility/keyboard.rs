//! The main job with nothing but a keyboard: a new job, readings, findings.

use anyhow::{Context, Result, bail, ensure};
use server::demo::PEOPLE;
use tests::bay::demo_server;
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};

const TAB: &str = "\u{e004}";
const ENTER: &str = "\u{e007}";
/// Further than any of these screens has stops.
const STOPS: usize = 80;

/// Is the cursor where this selector points, and can it be seen there?
const HERE: &str = "
const here = document.activeElement;
if (!here || here === document.body) { return [false, true, 'body']; }
const shown = here.closest('.pick') ?? here;
const style = getComputedStyle(shown);
const seen = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
return [here.matches(arguments[0]), seen, here.outerHTML.slice(0, 120)];";

/// Presses Tab until the cursor is there; each stop on the way has to be seen.
async fn tab_to(phone: &Phone, selector: &str) -> Result<()> {
    for _ in 0..STOPS {
        phone.press(TAB).await?;
        let answer = phone.driver.execute(HERE, vec![selector.into()]).await?;
        let (is_there, is_seen, what): (bool, bool, String) = answer.convert()?;
        ensure!(is_seen, "nobody sees that the cursor is at {what}");
        if is_there {
            return Ok(());
        }
    }
    bail!(
        "Tab never comes to {selector}; the page shows:\n{}",
        phone.text().await?
    )
}

#[tokio::test(flavor = "multi_thread")]
async fn the_keyboard_alone_begins_a_job_reads_and_finds() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("keyboard", PHONE).await?;
    phone.driver.goto(format!("{}/", line.url())).await?;
    phone.see("input[name=email]").await?;
    tab_to(&phone, "input[name=email]").await?;
    phone.press(PEOPLE[1].email).await?;
    tab_to(&phone, "input[name=password]").await?;
    phone.press(PEOPLE[1].password).await?;
    phone.press(ENTER).await?;
    phone.see("[data-test=car]").await?;

    tab_to(&phone, "[data-test=new-job]").await?;
    phone.press(ENTER).await?;
    phone.see("input[name=number]").await?;
    tab_to(&phone, "input[name=number]").await?;
    phone.press("771").await?;
    tab_to(&phone, ".spot[aria-label]").await?;
    phone.press(" ").await?;
    phone
        .see(".spot.chosen")
        .await
        .context("where it was hit")?;
    tab_to(&phone, "button.primary").await?;
    phone.press(ENTER).await?;

    // Kind and point are chosen by keys; numbers are typed wherever the cursor is.
    phone.see("[data-test=enter]").await?;
    tab_to(&phone, "select[name=kind]").await?;
    tab_to(&phone, "button.task").await?;
    phone.press(ENTER).await?;
    phone.see("[data-test=choose] li").await?;
    tab_to(&phone, "[data-test=choose] button").await?;
    phone.press(ENTER).await?;
    phone.read("chosen").await?;
    for number in ["412.5", "409"] {
        phone.press(number).await?;
        phone.press(ENTER).await?;
        phone.see("[data-test=undo]").await?;
        phone
            .read(&format!(
                "{number}{} mm",
                if number.contains('.') { "" } else { ".0" }
            ))
            .await?;
    }
    // The last one is taken back, with one key.
    tab_to(&phone, "[data-test=undo]").await?;
    phone.press(ENTER).await?;
    phone.see(".reading.gone").await?;

    tab_to(&phone, "[data-test=tab-findings]").await?;
    phone.press(ENTER).await?;
    phone.see(".concern").await?;
    tab_to(&phone, ".concern summary").await?;
    phone.press(ENTER).await?;
    phone.see(".concern[open]").await?;
    phone.close().await?;
    server.stop().await
}
