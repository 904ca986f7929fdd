//! A walk through every screen and its main states, for whatever wants to look at all of them.
//!
//! The car is the demo's. Each state has a name; the visitor is called once for each.

use anyhow::{Context, Result};
use base64::prelude::{BASE64_STANDARD, Engine as _};
use server::demo::{DemoPerson, PEOPLE};
use thirtyfour::By;

use crate::bay::{enter, fill_sign_in, open_car, wait_until_shared};
use crate::line::Line;
use crate::phone::Phone;

/// A technician, for tests of the bay.
pub const PERSON: DemoPerson = PEOPLE[1];

/// Looks at one state of one screen, by its name.
pub trait Visitor {
    /// Called when the state is on the screen.
    fn visit(&mut self, phone: &Phone, name: &str) -> impl Future<Output = Result<()>>;
}

/// Goes to an address within the app.
///
/// # Errors
/// When the browser is gone.
pub async fn go(phone: &Phone, address: &str) -> Result<()> {
    let script = "location.hash = arguments[0]";
    phone.driver.execute(script, vec![address.into()]).await?;
    Ok(())
}

/// Chooses the language that people see.
///
/// # Errors
/// When the browser is gone.
pub async fn speak(phone: &Phone, line: &Line, language: &str) -> Result<()> {
    phone.driver.goto(format!("{}/", line.url())).await?;
    let script = "localStorage.setItem('language', arguments[0])";
    phone.driver.execute(script, vec![language.into()]).await?;
    phone.driver.refresh().await?;
    Ok(())
}

/// Signing in, well and badly.
///
/// # Errors
/// What the visitor says, or a screen that does not come.
pub async fn entrance(phone: &Phone, line: &Line, seen: &mut impl Visitor) -> Result<()> {
    phone.driver.goto(format!("{}/", line.url())).await?;
    phone.see("input[name=email]").await?;
    seen.visit(phone, "sign-in").await?;
    phone.fill("input[name=email]", PEOPLE[0].email).await?;
    phone.fill("input[name=password]", "not this one").await?;
    phone.tap("button.primary").await?;
    phone.see("form .error:not(:empty)").await?;
    seen.visit(phone, "sign-in-wrong").await?;
    fill_sign_in(phone, &PEOPLE[0]).await?;
    phone.see("[data-test=car]").await?;
    Ok(())
}

/// Everything that the bay needs.
///
/// # Errors
/// As [`entrance`].
pub async fn bay(phone: &Phone, line: &Line, seen: &mut impl Visitor) -> Result<()> {
    around(phone, seen).await.context("around the books")?;
    go(phone, "/").await?;
    open_car(phone).await?;
    read(phone, seen).await.context("Read")?;
    judge(phone, seen)
        .await
        .context("Body, Findings, Pull, More")?;
    offline(phone, line, seen).await.context("without signal")?;
    empty(phone, seen)
        .await
        .context("a book without anything")?;
    practice(phone, seen).await.context("the practice bay")
}

async fn around(phone: &Phone, seen: &mut impl Visitor) -> Result<()> {
    seen.visit(phone, "jobs").await?;
    go(phone, "/new").await?;
    phone.fill("input[name=number]", "77").await?;
    phone.fill("input[name=vin]", "1M8GDM9AXKP042788").await?;
    phone.tap(".spot").await?;
    seen.visit(phone, "new-job").await?;
    go(phone, "/settings").await?;
    phone.see("[data-test=storage]").await.ok();
    phone.see("[data-test=sign-out]").await?;
    seen.visit(phone, "settings").await?;
    go(phone, "/waiting").await?;
    phone.see("[data-test=waiting-why]").await?;
    seen.visit(phone, "waiting-none").await
}

async fn read(phone: &Phone, seen: &mut impl Visitor) -> Result<()> {
    phone.see("[data-test=task]").await?;
    seen.visit(phone, "read").await?;
    phone.tap("button.task").await?;
    phone.see("[data-test=choose] li").await?;
    seen.visit(phone, "read-choose").await?;
    phone.tap("button.task").await?;
    enter(phone, "251.5").await?;
    seen.visit(phone, "read-answer").await?;
    // What no reading before it supports.
    let page = phone.driver.find(By::Css("body")).await?;
    page.send_keys("1963\u{e007}").await?;
    phone.see("[data-test=keep]").await?;
    seen.visit(phone, "read-question").await?;
    phone.tap("[data-test=read-again]").await?;
    page.send_keys("1//2\u{e007}").await?;
    phone.see(".read .error:not(:empty)").await?;
    seen.visit(phone, "read-wrong").await?;
    page.send_keys("\u{e00c}").await?;
    Ok(())
}

async fn judge(phone: &Phone, seen: &mut impl Visitor) -> Result<()> {
    phone.tap("[data-test=tab-body]").await?;
    phone.see(".body-view .point-mark").await?;
    seen.visit(phone, "body").await?;
    // One that was judged: what lies furthest from the eye is drawn first.
    let judged = "document.querySelector('.point-mark:has(.mark-within, .mark-outside)')
      .dispatchEvent(new MouseEvent('click', { bubbles: true }))";
    phone.driver.execute(judged, vec![]).await?;
    phone.see(".numbers table").await?;
    seen.visit(phone, "body-point").await?;
    phone.tap("[data-test=tab-findings]").await?;
    phone.see(".concern").await?;
    seen.visit(phone, "findings").await?;
    let all = "document.querySelectorAll('details').forEach((fold) => { fold.open = true; })";
    phone.driver.execute(all, vec![]).await?;
    seen.visit(phone, "findings-open").await?;
    phone.tap("[data-test=tab-pull]").await?;
    phone.see("[data-test=begin-load]").await?;
    seen.visit(phone, "pull").await?;
    phone.tap(".pull .choices button:nth-of-type(2)").await?;
    phone.see(".over-stages").await?;
    seen.visit(phone, "stages").await?;
    phone.tap("[data-test=tab-more]").await?;
    phone.see("[data-test=begin-stage]").await?;
    seen.visit(phone, "more").await
}

async fn offline(phone: &Phone, line: &Line, seen: &mut impl Visitor) -> Result<()> {
    phone.tap("[data-test=tab-read]").await?;
    phone.see("[data-test=enter]").await?;
    line.cut();
    phone.see(".bar .badge.offline").await?;
    enter(phone, "263").await?;
    phone.see(".bar .badge.waiting").await?;
    seen.visit(phone, "read-offline").await?;
    let back = phone.driver.current_url().await?;
    go(phone, "/waiting").await?;
    phone.see("[data-test=waiting-book]").await?;
    seen.visit(phone, "waiting").await?;
    go(phone, "/").await?;
    phone.see("[data-test=car]").await?;
    seen.visit(phone, "jobs-offline").await?;
    line.mend();
    go(phone, back.fragment().unwrap_or("/")).await?;
    phone.see("[data-test=enter]").await?;
    wait_until_shared(phone).await
}

async fn empty(phone: &Phone, seen: &mut impl Visitor) -> Result<()> {
    go(phone, "/new").await?;
    phone.fill("input[name=number]", "78").await?;
    phone.tap(".choices button:last-of-type").await?;
    phone.tap("button.primary").await?;
    phone.see("[data-test=enter]").await?;
    seen.visit(phone, "read-empty").await?;
    phone.tap("[data-test=tab-findings]").await?;
    phone.see(".empty").await?;
    seen.visit(phone, "findings-empty").await?;
    phone.tap("[data-test=tab-body]").await?;
    seen.visit(phone, "body-empty").await
}

async fn practice(phone: &Phone, seen: &mut impl Visitor) -> Result<()> {
    go(phone, "/practice").await?;
    phone
        .tap("[data-test=begin-practice]:not(:disabled)")
        .await?;
    phone.see("[data-test=read-tape]").await?;
    for _ in 0..4 {
        read_tape(phone).await?;
    }
    phone
        .driver
        .execute("window.scrollTo(0, 0)", vec![])
        .await?;
    seen.visit(phone, "practice-read").await?;
    phone.tap("[data-test=tab-truth]").await?;
    phone.see("[data-test=show-truth]").await?;
    seen.visit(phone, "practice-before").await?;
    phone.tap("[data-test=show-truth]").await?;
    phone.see("[data-test=told]").await?;
    seen.visit(phone, "practice-truth").await?;
    go(phone, "/practice").await?;
    phone.see("[data-test=practice-car]").await?;
    seen.visit(phone, "practice").await
}

/// Reads the pretend tape and enters what it gives, whatever the book says to that.
///
/// # Errors
/// When the book has no answer.
pub async fn read_tape(phone: &Phone) -> Result<()> {
    let count = "return document.querySelectorAll('.readings .reading').length";
    let before: usize = phone.driver.execute(count, vec![]).await?.convert()?;
    phone.see("[data-test=read-tape]").await?;
    // Wherever an answer above it has moved it meanwhile.
    let press = "document.querySelector('[data-test=read-tape]').click()";
    phone.driver.execute(press, vec![]).await?;
    phone.see("[data-test=entry][data-unfinished]").await?;
    phone.tap("[data-test=enter]").await?;
    for _ in 0..800 {
        if let Ok(keep) = phone.driver.find(By::Css("[data-test=keep]")).await {
            keep.click().await.ok();
        }
        let now: usize = phone.driver.execute(count, vec![]).await?.convert()?;
        if now > before {
            return Ok(());
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    anyhow::bail!("not recorded; the page shows:\n{}", phone.text().await?)
}

/// A car's photos: none yet, some, one of them large.
async fn photos(phone: &Phone, book: &str, seen: &mut impl Visitor) -> Result<()> {
    // A camera hands its picture over as a chosen file.
    let hand_over = "const [text] = arguments;
      const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
      const chosen = new DataTransfer();
      chosen.items.add(new File([bytes], 'camera.jpg', { type: 'image/jpeg' }));
      const field = document.querySelector('[data-test=take-photo]');
      field.files = chosen.files;
      field.dispatchEvent(new Event('change', { bubbles: true }));";
    go(phone, &format!("{book}/photos")).await?;
    phone.see(".photos .camera").await?;
    seen.visit(phone, "photos-empty").await?;
    for number in [1, 2] {
        phone.tap(".photos .camera").await?;
        let picture = BASE64_STANDARD.encode(crate::photo::picture(number)?);
        phone
            .driver
            .execute(hand_over, vec![picture.into()])
            .await?;
        let shown = format!(".photo-grid li:nth-child({number}) img");
        phone.see(&shown).await?;
    }
    seen.visit(phone, "photos").await?;
    phone.tap("[data-test=photo]").await?;
    phone.see("[data-test=photo-large] img").await?;
    seen.visit(phone, "photos-large").await?;
    phone.tap("[data-test=photo-close]").await
}

/// The office's screens, for somebody who is signed in as the owner; and the adjuster's, in the same
/// window.
///
/// # Errors
/// As [`entrance`].
pub async fn office(phone: &Phone, line: &Line, seen: &mut impl Visitor) -> Result<()> {
    go(phone, "/").await?;
    phone.see("[data-test=car]").await?;
    let demo = "return [...document.querySelectorAll('[data-test=car]')]
      .find((car) => car.innerText.includes('2041')).getAttribute('href')";
    let book: String = phone.driver.execute(demo, vec![]).await?.convert()?;
    let book = book
        .trim_start_matches('#')
        .trim_end_matches("/read")
        .to_owned();
    for (place, shows, name) in [
        ("/office/signed", ".desk", "office-signed"),
        ("/office/people", ".people .person", "office-people"),
        ("/office/links", ".desk", "office-links"),
        ("/office/library", ".desk", "office-library"),
        ("/office/history", ".desk", "office-history"),
        ("/office/log", ".desk", "office-log"),
        ("/devices", "[data-test=devices] li", "devices"),
        ("/import", "input[name=job-file]", "import"),
        (&format!("{book}/sheet"), ".book main p", "sheet"),
        (&format!("{book}/sign"), "[data-test=claims] li", "sign"),
    ] {
        go(phone, place).await?;
        phone.see(shows).await.with_context(|| name.to_owned())?;
        seen.visit(phone, name).await?;
    }
    photos(phone, &book, seen).await.context("photos")?;
    go(phone, &format!("{book}/sign")).await?;
    phone.see("[data-test=claims] li").await?;
    wait_until_shared(phone).await?;
    phone
        .fill("input[name=link-label]", "Nordic Insurance")
        .await?;
    phone.tap("[data-test=make-link]").await?;
    let link = phone.see("[data-test=link]").await?.text().await?;
    phone.tap("[data-test=sign]").await?;
    phone.see("[data-test=sign-sure]").await?;
    seen.visit(phone, "sign-sure").await?;
    phone.tap("[data-test=sign-anyway]").await?;
    phone.see("[data-test=signed-code] b").await?;
    seen.visit(phone, "sign-done").await?;
    let (_, secret) = link.split_once("/#/").context("no fragment in the link")?;
    phone
        .driver
        .goto(format!("{}/#/{secret}", line.url()))
        .await?;
    phone.driver.refresh().await?;
    phone.see("[data-test=findings] li").await?;
    seen.visit(phone, "follow").await
}
