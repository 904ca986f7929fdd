//! What is said aloud: the number as it is typed, the answer with its verdict, notices.

use anyhow::{Context, Result, ensure};
use tests::bay::{demo_server, open_car, sign_in};
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone};
use tests::walk::PERSON;

/// Follows everything that changes within a live region of the page, as a screen reader does.
const LISTEN: &str = "
window.said = [];
const region = (node) => (node.nodeType === 1 ? node : node.parentElement)?.closest('[aria-live], [role=status], [role=alert], output');
new MutationObserver((changes) => {
  const regions = new Set(changes.map((change) => region(change.target)).filter(Boolean));
  for (const one of regions) { window.said.push(one.innerText.replace(/\\s+/g, ' ').trim()); }
}).observe(document.body, { subtree: true, childList: true, characterData: true });";

async fn hear(phone: &Phone, wanted: &str) -> Result<()> {
    for _ in 0..800 {
        let said: Vec<String> = phone
            .driver
            .execute("return window.said", vec![])
            .await?
            .convert()?;
        if said.iter().any(|line| line.contains(wanted)) {
            return Ok(());
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    let said = phone.driver.execute("return window.said", vec![]).await?;
    anyhow::bail!("'{wanted}' was not said; said was {:?}", said.json())
}

#[tokio::test(flavor = "multi_thread")]
async fn reading_answer_and_verdict_are_said_aloud() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("ears", PHONE).await?;
    sign_in(&phone, &line, &PERSON).await?;
    open_car(&phone).await?;
    phone.driver.execute(LISTEN, vec![]).await?;
    phone.press("273").await?;
    hear(&phone, "273").await?;
    phone.press("\u{e007}").await?;
    for _ in 0..800 {
        if let Ok(keep) = phone
            .driver
            .find(thirtyfour::By::Css("[data-test=keep]"))
            .await
        {
            hear(&phone, "than the rest suggest").await?;
            keep.click().await?;
        }
        if phone
            .driver
            .find(thirtyfour::By::Css("[data-test=undo]"))
            .await
            .is_ok()
        {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(50)).await;
    }
    hear(&phone, "273.0 mm").await?;
    let answer = phone.see("[data-test=answer]").await?.text().await?;
    ensure!(
        [
            "within",
            "outside",
            "unproven",
            "not measured",
            "other side"
        ]
        .iter()
        .any(|word| answer.contains(word)),
        "no verdict: {answer}"
    );
    let first = answer.lines().next().context("an empty answer")?;
    hear(&phone, first.trim()).await?;
    // What cannot be entered is an alert.
    phone.press("1//2\u{e007}").await?;
    hear(&phone, "That is not a number.").await?;
    phone.close().await?;
    server.stop().await
}
