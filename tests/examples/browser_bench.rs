//! How fast the phone's app is in a real Chromium of phone size: `cargo xtask bench` runs it.
//!
//! Measures; gates nothing. The processor is slowed four times for the last figures, as a phone's.

use std::collections::BTreeMap;

use anyhow::{Context, Result};
use server::demo::PEOPLE;
use shared::figures::Figures;
use shared::ids::PointId;
use shared::job::{Beam, Taken};
use shared::solve::Solver;
use shared::speech::Speech;
use tests::bay::{demo_server, open_car, sign_in, wait_for_worker};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};

/// Readings that are entered, and starts that are timed, for a figure.
const ROUNDS: usize = 9;

const SOLVE: &str = "const done = arguments[arguments.length - 1];
const app = performance.getEntriesByType('resource').map((entry) => entry.name).find((name) => /\\/app-[0-9a-f]+\\.js$/.test(name));
import(app).then((module) => done(Array.from(module.measure_solve(25))));";

/// Types what a tape would show there, all but Enter, and watches how long the next key takes.
const TYPE: &str = "
const type = (key) => document.body.dispatchEvent(new KeyboardEvent('keydown', { key, bubbles: true }));
window.says = () => document.querySelector('[data-test=answer]').textContent;
const shown = document.querySelector('[data-test=task]').innerText.trim();
// Of some points nothing is expected yet.
for (const digit of HEIGHTS[shown] ?? '261') { type(digit); }
await new Promise((done) => setTimeout(done, 500));
window.before = says();
window.keys = [];
window.watch ??= new PerformanceObserver((list) => keys.push(...list.getEntries()));
watch.observe({ type: 'event', durationThreshold: 16 });
window.stood = undefined;
// Handlers and what follows from them come before the next task.
window.addEventListener('keydown', () => { setTimeout(() => { stood = says() !== before; }, 0); }, { once: true });
return [];";

/// When the answer stood in the page, and when it was painted, milliseconds from the key (W3C Event
/// Timing, which counts in steps of 8 ms and tells nothing under 16).
const TOOK: &str = "
for (let turns = 0; (stood === undefined || says() === before) && turns < 1000; turns += 1) {
  await new Promise((done) => setTimeout(done, 10));
}
// The explanation, and what is written to the disk, are not part of the next figure.
await new Promise((done) => setTimeout(done, 1500));
const key = keys.find((entry) => entry.name === 'keydown');
document.querySelector('[data-test=keep]')?.click();
await new Promise((done) => setTimeout(done, 1500));
if (!stood) { throw new Error('the answer did not come with the key'); }
return key ? [key.processingEnd - key.startTime, key.duration] : [16, 16];";

/// Milliseconds from the start of the page to a keypad that takes a key, as the page saw it.
const USABLE: &str = "
while (!document.querySelector('[data-test=enter]') || !document.querySelector('[data-test=task]')) {
  await new Promise((done) => setTimeout(done, 5));
}
await new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0)));
return [performance.now()];";

/// What every point of the demo car would read where its page opens, to the half millimetre, by its name
/// there.
fn heights() -> Result<BTreeMap<String, String>> {
    let job = shared::demo::job();
    let stage = &job.stages.last().context("no stage")?.id;
    let setup = job.setups.keys().last().context("no set-up")?;
    let mut solver = Solver::default();
    solver.answer(&job);
    let speech = Speech::of(Figures::default());
    let height = |point: &PointId| {
        let taken = Taken::Height {
            setup: setup.clone(),
            point: point.clone(),
            beam: Beam::Above,
            value_mm: 0.0,
        };
        let expected = solver.expect(&job, stage, &taken, None)?;
        let half = (2.0 * expected.value_mm).round() / 2.0;
        Some((speech.point(&job, point), half.to_string()))
    };
    Ok(job.points.keys().filter_map(height).collect())
}

#[tokio::main]
async fn main() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("bench", PHONE).await?;
    sign_in(&phone, &line, &PEOPLE[1]).await?;
    open_car(&phone).await?;
    wait_for_worker(&phone).await?;
    let heights = format!("const HEIGHTS = {};", serde_json::to_string(&heights()?)?);
    let type_in = format!("{heights}{TYPE}");
    for slower in [1, 4] {
        slow_down(&phone, slower).await?;
        let times: Vec<f64> = phone.driver.execute_async(SOLVE, vec![]).await?.convert()?;
        let [cold, warm, reasons] = times[..] else {
            anyhow::bail!("three figures are expected: {times:?}")
        };
        println!(
            "processor slowed {slower} times: solve 80 points, 400 readings {cold:.1} ms; one more reading {warm:.1} ms; with reasons and next readings {reasons:.1} ms"
        );
        let mut answers = Vec::new();
        for _ in 0..ROUNDS {
            phone.ask(&type_in).await.context("typing")?;
            enter(&phone).await?;
            let took = phone.ask(TOOK).await.context("entering")?;
            answers.push(serde_json::from_value(took).context("no figures")?);
        }
        let [stands, painted] = [0, 1].map(|which| said(&answers, which));
        println!(
            "processor slowed {slower} times: demo car, Enter to the answer in the page {stands}; painted {painted}"
        );
    }
    // No network from here on: the worker's files and the phone's own store.
    line.cut();
    for slower in [1, 4] {
        slow_down(&phone, slower).await?;
        let times = starts(&phone).await.context("starting")?;
        println!(
            "processor slowed {slower} times: demo car, start to a usable keypad without network {}",
            said(&times, 0)
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

/// Presses Enter as a keyboard, or a tape, does: only what a person does is timed by the browser.
async fn enter(phone: &Phone) -> Result<()> {
    let key = |kind: &str| serde_json::json!({ "type": kind, "key": "Enter", "code": "Enter", "windowsVirtualKeyCode": 13 });
    for kind in ["rawKeyDown", "keyUp"] {
        let method = "Input.dispatchKeyEvent";
        phone.driver.cdp().send_raw(method, key(kind)).await?;
    }
    Ok(())
}

async fn starts(phone: &Phone) -> Result<Vec<Vec<f64>>> {
    let mut times = Vec::new();
    for _ in 0..ROUNDS {
        phone.driver.refresh().await?;
        let time = phone.ask(USABLE).await?;
        times.push(serde_json::from_value(time).context("no figures")?);
    }
    Ok(times)
}

fn said(times: &[Vec<f64>], which: usize) -> String {
    let mut times: Vec<f64> = times.iter().map(|round| round[which]).collect();
    times.sort_by(f64::total_cmp);
    let (median, most) = (times[times.len() / 2], times[times.len() - 1]);
    format!(
        "{median:.1} ms (median of {}; at most {most:.1} ms)",
        times.len()
    )
}
