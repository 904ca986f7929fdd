//! Everybody can use the app: no barriers by the rules of WCAG 2.2 AA, the keyboard alone, fingers in
//! gloves, eyes closed, motion off. Real browsers.
//!
//! Needs `cargo xtask test`, which installs the rules and finds the browser.

#[path = "accessibility/keyboard.rs"]
mod keyboard;
#[path = "accessibility/fingers.rs"]
mod fingers;
#[path = "accessibility/ears.rs"]
mod ears;

use anyhow::{Result, ensure};
use tests::barriers::barriers;
use tests::bay::demo_server;
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone, Screen};
use tests::walk::{self, Visitor};

/// Gathers what the rules find, so that one run tells all of it.
#[derive(Default)]
struct Rules {
    found: Vec<String>,
    visited: usize,
}

impl Visitor for Rules {
    async fn visit(&mut self, phone: &Phone, name: &str) -> Result<()> {
        self.visited += 1;
        // A notice is still for a moment.
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
        for line in barriers(phone).await? {
            self.found.push(format!("{name}: {line}"));
        }
        // WCAG 2.4.2: a title that says where one is; the rules only ask for any.
        let title = phone.driver.title().await?;
        if !title.ends_with(" · Baybook") {
            self.found
                .push(format!("{name}: the page is titled '{title}'"));
        }
        Ok(())
    }
}

/// Walks through everything on a screen, in a language.
async fn walk_all(name: &str, screen: Screen, language: &str) -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start(name, screen).await?;
    walk::speak(&phone, &line, language).await?;
    let mut rules = Rules::default();
    walk::entrance(&phone, &line, &mut rules).await?;
    walk::bay(&phone, &line, &mut rules).await?;
    walk::office(&phone, &line, &mut rules).await?;
    phone.close().await?;
    server.stop().await?;
    rules.found.sort();
    rules.found.dedup();
    ensure!(rules.visited > 30, "only {} screens", rules.visited);
    ensure!(
        rules.found.is_empty(),
        "{} barriers:\n{}",
        rules.found.len(),
        rules.found.join("\n")
    );
    Ok(())
}

const DESK: Screen = Screen {
    width: 1280,
    height: 800,
    dark: false,
};

fn dark(screen: Screen) -> Screen {
    Screen {
        dark: true,
        ..screen
    }
}

/// The rules themselves: a picture without a name and grey on grey are found.
#[tokio::test(flavor = "multi_thread")]
async fn the_rules_see_a_barrier_that_is_there() -> Result<()> {
    let scratch = Scratch::new(Engine::Sqlite).await?;
    let server = demo_server(&scratch).await?;
    let line = Line::to(server.addr).await?;
    let phone = Phone::start("axe-itself", PHONE).await?;
    phone.driver.goto(format!("{}/", line.url())).await?;
    phone.see("input[name=email]").await?;
    ensure!(barriers(&phone).await?.is_empty(), "a barrier already");
    let build = "const page = document.querySelector('main');
      page.append(Object.assign(new Image(), { src: '/icon.svg' }));
      const line = page.appendChild(document.createElement('p'));
      line.textContent = 'grey on grey';
      line.style.color = '#bbb';";
    phone.driver.execute(build, vec![]).await?;
    let found = barriers(&phone).await?;
    for rule in ["image-alt", "color-contrast"] {
        ensure!(
            found.iter().any(|line| line.starts_with(rule)),
            "no {rule} in {found:?}"
        );
    }
    phone.close().await?;
    server.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn no_screen_of_a_phone_has_a_barrier_in_daylight() -> Result<()> {
    walk_all("axe-phone", PHONE, "en").await
}

#[tokio::test(flavor = "multi_thread")]
async fn no_screen_of_a_phone_has_a_barrier_in_a_dark_bay() -> Result<()> {
    walk_all("axe-phone-dark", dark(PHONE), "es").await
}

#[tokio::test(flavor = "multi_thread")]
async fn no_screen_of_a_desk_has_a_barrier_in_daylight() -> Result<()> {
    walk_all("axe-desk", DESK, "es").await
}

#[tokio::test(flavor = "multi_thread")]
async fn no_screen_of_a_desk_has_a_barrier_in_the_dark() -> Result<()> {
    walk_all("axe-desk-dark", dark(DESK), "en").await
}
