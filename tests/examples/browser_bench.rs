//! How fast the phone's app is in a real Chromium of phone size: `cargo xtask bench` runs it.
//!
//! Measures; gates nothing. The processor is slowed four times for the last figures, as a phone's.

use anyhow::{Context, Result};
use server::demo::PEOPLE;
use tests::bay::{demo_server, open_car, sign_in, wait_for_worker};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};

/// Readings that are entered, and starts that are timed, for a figure.
const ROUNDS: usize = 7;

const SOLVE: &str = "const done = arguments[arguments.length - 1];
const app = performance.getEntriesByType('resource').map((entry) => entry.name).find((name) => /\\/app-[0-9a-f]+\\.js$/.test(name));
import(app).then((module) => done(Array.from(module.measure_solve(25))));";

/// Types a number that nothing contradicts badly enough, or keeps it, and waits for the picture after
/// the answer: the list of readings has one more, or the book asks.
const ENTER: &str = "
const type = (key) => document.body.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
const count = () => document.querySelectorAll('.readings .reading').length;
const painted = () => new Promise((done) => requestAnimationFrame(() => {
  // A message that is sent while a frame is made comes right after the frame.
  const { port1, port2 } = new MessageChannel();
  port1.onmessage = done;
  port2.postMessage(0);
}));
for (const digit of '261') { type(digit); }
await painted();
const before = count();
const start = performance.now();
type('Enter');
let frames = 0;
do { await painted(); frames += 1; } while (count() === before && !document.querySelector('[data-test=keep]') && frames < 1000);
const took = performance.now() - start;
document.querySelector('[data-test=keep]')?.click();
// The explanation, and what is written to the disk, are not part of the next figure.
await new Promise((done) => setTimeout(done, 1500));
return took;";

/// Milliseconds from the start of the page to a keypad that takes a key, as the page saw it.
const USABLE: &str = "
while (!document.querySelector('[data-test=enter]') || !document.querySelector('[data-test=task]')) {
  await new Promise((done) => setTimeout(done, 5));
}
await new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0)));
return performance.now();";

#[tokio::main]
async fn main() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("bench", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    wait_for_worker(&phone).await?;
    for slower in [1, 4] {
        slow_down(&phone, slower).await?;
        let times: Vec<f64> = phone.driver.execute_async(SOLVE, vec![]).await?.convert()?;
        let [cold, warm, reasons] = times[..] else {
            anyhow::bail!("three figures are expected: {times:?}")
        };
        println!(
            "processor slowed {slower} times: solve 80 points, 400 readings {cold:.1} ms; one more reading {warm:.1} ms; with reasons and next readings {reasons:.1} ms"
        );
        let answers = rounds(&phone, ENTER, false).await.context("entering")?;
        println!(
            "processor slowed {slower} times: demo car, Enter to the answer drawn {}",
            said(&answers)
        );
    }
    // No network from here on: the worker's files and the phone's own store.
    line.cut();
    for slower in [1, 4] {
        slow_down(&phone, slower).await?;
        let starts = rounds(&phone, USABLE, true).await.context("starting")?;
        println!(
            "processor slowed {slower} times: demo car, start to a usable keypad without network {}",
            said(&starts)
        );
    }
    phone.close().await?;
    server.stop().await
}

async fn slow_down(phone: &Phone, times: u32) -> Result<()> {
    let rate = serde_json::json!({ "rate": times });
    let method = "Emulation.setCPUThrottlingRate";
    phone.driver.cdp().send_raw(method, rate).await?;
    Ok(())
}

async fn rounds(phone: &Phone, script: &str, anew: bool) -> Result<Vec<f64>> {
    let mut times = Vec::new();
    for _ in 0..ROUNDS {
        if anew {
            phone.driver.refresh().await?;
        }
        let time = phone.ask(script).await?;
        times.push(time.as_f64().context("no figure")?);
    }
    times.sort_by(f64::total_cmp);
    Ok(times)
}

fn said(times: &[f64]) -> String {
    let (median, most) = (times[times.len() / 2], times[times.len() - 1]);
    format!(
        "{median:.1} ms (median of {}; at most {most:.1} ms)",
        times.len()
    )
}
