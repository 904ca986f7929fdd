//! Every screen and its main states as pictures: `cargo xtask pictures` runs it.
//!
//! A phone by day, in a dark bay and in Spanish, and a desk; the first argument names the folder.

use std::path::PathBuf;

use anyhow::{Context, Result};
use tests::bay::demo_server;
use tests::database::{Engine, Scratch};
use tests::line::Line;
use tests::phone::{PHONE, Phone, Screen};
use tests::walk::{self, Visitor};

/// A notice is still for a moment, and a tap fades.
const STILL: std::time::Duration = std::time::Duration::from_millis(400);

struct Camera {
    folder: PathBuf,
    name: &'static str,
}

impl Visitor for Camera {
    async fn visit(&mut self, phone: &Phone, state: &str) -> Result<()> {
        tokio::time::sleep(STILL).await;
        let file = format!("{}-{state}.webp", self.name);
        phone.picture(&self.folder.join(file)).await
    }
}

#[tokio::main]
async fn main() -> Result<()> {
    let folder: PathBuf = std::env::args_os().nth(1).context("which folder?")?.into();
    let dark = Screen {
        dark: true,
        ..PHONE
    };
    let desk = Screen {
        width: 1280,
        height: 800,
        dark: false,
    };
    for (name, screen, language) in [
        ("phone", PHONE, "en"),
        ("dark", dark, "en"),
        ("es", PHONE, "es"),
        ("desk", desk, "en"),
    ] {
        let scratch = Scratch::new(Engine::Sqlite).await?;
        let server = demo_server(&scratch).await?;
        let line = Line::to(server.addr).await?;
        let phone = Phone::start(name, screen).await?;
        let mut camera = Camera {
            folder: folder.clone(),
            name,
        };
        walk::speak(&phone, &line, language).await?;
        walk::entrance(&phone, &line, &mut camera).await?;
        walk::bay(&phone, &line, &mut camera).await?;
        walk::office(&phone, &line, &mut camera).await?;
        phone.close().await?;
        server.stop().await?;
    }
    println!("pictures in {}", folder.display());
    Ok(())
}
