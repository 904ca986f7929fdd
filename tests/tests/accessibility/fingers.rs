//! Fingers in gloves: every target of the bay is 48 by 48 pixels or more, and motion is optional.

use anyhow::{Result, ensure};
use tests::bay::{demo_server, open_car, sign_in};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};
use tests::walk::{self, Visitor};

/// Whatever is tapped and is smaller. A field counts with its label, as a tap on either does the same;
/// a link within a sentence is as high as its line (the exception of WCAG 2.5.8). On the drawings the
/// nearest mark is taken, which has a test of its own.
const SMALL: &str = "
const least = 48;
const targets = document.querySelectorAll('a[href], button, input, select, textarea, summary, [role=button]');
const small = [];
for (const target of targets) {
  const shown = target.closest('label') ?? target;
  const box = shown.getBoundingClientRect();
  const hidden = box.width === 0 || getComputedStyle(target).visibility === 'hidden' || target.closest('details:not([open]) > :not(summary)');
  const inText = target.matches('a') && target.parentElement.matches('p, h2, li > span');
  if (hidden || inText || target.closest('.body-view')) { continue; }
  if (box.width < least - 0.5 || box.height < least - 0.5) {
    small.push(`${Math.round(box.width)} x ${Math.round(box.height)}: ${target.outerHTML.slice(0, 140)}`);
  }
}
return small;";

#[derive(Default)]
struct Targets(Vec<String>);

impl Visitor for Targets {
    async fn visit(&mut self, phone: &Phone, name: &str) -> Result<()> {
        let small: Vec<String> = phone.driver.execute(SMALL, vec![]).await?.convert()?;
        self.0
            .extend(small.into_iter().map(|line| format!("{name}: {line}")));
        let wide =
            "return document.documentElement.scrollWidth - document.documentElement.clientWidth";
        let wider: i64 = phone.driver.execute(wide, vec![]).await?.convert()?;
        if wider > 0 {
            self.0
                .push(format!("{name}: {wider} pixels wider than the screen"));
        }
        Ok(())
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn every_target_in_the_bay_is_48_pixels_and_every_screen_fits() -> Result<()> {
    for (name, language) in [("fingers", "en"), ("dedos", "es")] {
        let scratch = Scratch::new(Engine::Sqlite).await?;
        let server = demo_server(&scratch).await?;
        let line = Line::to(server.addr).await?;
        let phone = Phone::start(name, PHONE).await?;
        walk::speak(&phone, &line, language).await?;
        let mut targets = Targets::default();
        walk::entrance(&phone, &line, &mut targets).await?;
        walk::bay(&phone, &line, &mut targets).await?;
        phone.close().await?;
        server.stop().await?;
        ensure!(
            targets.0.is_empty(),
            "{language}:\n{}",
            targets.0.join("\n")
        );
    }
    Ok(())
}

/// Beside a mark is near enough: a tap on the drawing takes the nearest one within 24 pixels.
#[tokio::test(flavor = "multi_thread")]
async fn a_tap_beside_a_mark_takes_the_nearest() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("near", PHONE).await?;
    sign_in(&phone, &line, &tests::walk::PERSON).await?;
    open_car(&phone).await?;
    phone.tap("[data-test=tab-body]").await?;
    phone.see(".body-view .point-mark").await?;
    let middle = "document.querySelector('.body-view').scrollIntoView({ block: 'center' })";
    phone.driver.execute(middle, vec![]).await?;
    let tap = |away: i32| {
        format!(
            "const mark = document.querySelector('.point-mark[aria-label=\"rear rail, rear hole · right\"] .finger').getBoundingClientRect();
             const at = {{ clientX: mark.x + mark.width / 2 + {away}, clientY: mark.y + mark.height / 2, bubbles: true }};
             document.elementFromPoint(at.clientX, at.clientY).dispatchEvent(new MouseEvent('click', at));
             return mark.width"
        )
    };
    phone.driver.execute(tap(40), vec![]).await?;
    phone.read("Tap a point for its numbers.").await?;
    phone.driver.execute(tap(23), vec![]).await?;
    let chosen = phone.see(".point-mark.chosen").await?;
    let name = chosen.attr("aria-label").await?.unwrap_or_default();
    ensure!(name == "rear rail, rear hole · right", "{name}");
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn who_wants_no_motion_gets_none() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let moves = "return [...document.querySelectorAll('*')].filter((one) => {
      const style = getComputedStyle(one);
      return style.transitionDuration.split(', ').some((time) => parseFloat(time) > 0) || style.scrollBehavior === 'smooth';
    }).length";
    let phone = Phone::start("still", PHONE).await?;
    let count = async |phone: &Phone| -> Result<i64> {
        Ok(phone.driver.execute(moves, vec![]).await?.convert()?)
    };
    sign_in(&phone, &line, &tests::walk::PERSON).await?;
    open_car(&phone).await?;
    ensure!(
        count(&phone).await? > 0,
        "nothing moves for those who like it"
    );
    let still = serde_json::json!({ "features": [{ "name": "prefers-reduced-motion", "value": "reduce" }] });
    phone
        .driver
        .cdp()
        .send_raw("Emulation.setEmulatedMedia", still)
        .await?;
    ensure!(count(&phone).await? == 0, "something moves");
    phone.close().await?;
    server.stop().await
}
