//! How fast the phone's app is in a real Chromium of phone size: `cargo xtask bench` runs it.
//!
//! Measures; gates nothing. The processor is slowed four times for the last figures, as a phone's.

use anyhow::{Context, Result};
use server::config::Config;
use server::demo::PEOPLE;
use tests::database::{Engine, Scratch};
use tests::phone::{PHONE, Phone};

const SOLVE: &str = "const done = arguments[arguments.length - 1];
const app = performance.getEntriesByType('resource').map((entry) => entry.name).find((name) => /\\/app-[0-9a-f]+\\.js$/.test(name));
import(app).then((module) => done(Array.from(module.measure_solve(25))));";

const ENTER: &str = "const done = arguments[arguments.length - 1];
const type = (key) => document.body.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
const before = document.querySelector('[data-test=answer]').innerText;
type('2'); type('5'); type('1');
const start = performance.now();
type('Enter');
const look = () => document.querySelector('[data-test=answer]').innerText !== before
  ? requestAnimationFrame(() => done(performance.now() - start)) : setTimeout(look, 0);
look();";

#[tokio::main]
async fn main() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let checked = Config::check(
        "127.0.0.1:0".parse()?,
        Some(scratch.url.clone()),
        scratch.folder.clone(),
        None,
    )?;
    let server = server::start(Config {
        demo: true,
        ..checked
    })
    .await?;
    let phone = Phone::start("bench", PHONE).await?;
    phone
        .driver
        .goto(format!("http://{}/", server.addr))
        .await?;
    phone.fill("input[name=email]", PEOPLE[1].email).await?;
    phone
        .fill("input[name=password]", PEOPLE[1].password)
        .await?;
    phone.tap("button.primary").await?;
    phone.tap("[data-test=car]").await?;
    phone.see("[data-test=enter]").await?;
    for slower in [1, 4] {
        let rate = serde_json::json!({ "rate": slower });
        phone
            .driver
            .cdp()
            .send_raw("Emulation.setCPUThrottlingRate", rate)
            .await?;
        let times: Vec<f64> = phone.driver.execute_async(SOLVE, vec![]).await?.convert()?;
        let [cold, warm, reasons] = times[..] else {
            anyhow::bail!("three figures are expected: {times:?}")
        };
        println!(
            "processor slowed {slower} times: solve 80 points, 400 readings {cold:.1} ms; one more reading {warm:.1} ms; with reasons and next readings {reasons:.1} ms"
        );
        let answer: f64 = phone
            .driver
            .execute_async(ENTER, vec![])
            .await?
            .convert()
            .context("entering")?;
        println!(
            "processor slowed {slower} times: demo car, Enter to the answer drawn {answer:.1} ms"
        );
    }
    phone.close().await?;
    server.stop().await
}
