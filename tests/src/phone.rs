//! A real Chromium at the size of a phone (360 × 640), driven over WebDriver.
//!
//! Elements are found by role and name or by `data-test`, as a person or a screen reader would.

use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

use anyhow::{Context, Result, bail};
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use thirtyfour::{By, ChromiumLikeCapabilities, DesiredCapabilities, WebDriver, WebElement};
use tokio::io::{AsyncBufReadExt, BufReader};
use tokio::process::{Child, Command};
use tokio::time::Instant;

/// Text stays sharp at this quality, and a screen is 20 to 60 kB.
const WEBP_QUALITY: u8 = 70;
/// How long a person would wait before giving up; a slow machine gets all of it. A phone without
/// signal tries again after half a minute at most.
const PATIENCE: Duration = Duration::from_secs(90);
/// How often the driver may lose its port to somebody else.
const DRIVER_TRIES: usize = 8;

/// Size and light of a screen.
#[derive(Debug, Clone, Copy)]
pub struct Screen {
    /// Width in CSS pixels.
    pub width: u32,
    /// Height in CSS pixels.
    pub height: u32,
    /// Dark colours preferred?
    pub dark: bool,
}

/// A phone held upright in daylight.
pub const PHONE: Screen = Screen {
    width: 360,
    height: 640,
    dark: false,
};

/// One browser with its own storage.
#[derive(Debug)]
pub struct Phone {
    /// The session, for what has no helper here.
    pub driver: WebDriver,
    _program: Child,
    profile: ProfileFolder,
}

#[derive(Debug)]
struct ProfileFolder(std::path::PathBuf);

impl Drop for ProfileFolder {
    fn drop(&mut self) {
        // A browser that is still closing may hold a file; the folder is in the temporary folder anyway.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

impl Phone {
    /// Starts a browser with empty storage.
    ///
    /// # Errors
    /// When `BAYBOOK_TEST_CHROMIUM` or `BAYBOOK_TEST_CHROMEDRIVER` is not set (run
    /// `cargo xtask test`), or the browser does not start.
    pub async fn start(name: &str, screen: Screen) -> Result<Self> {
        let chromium = program("BAYBOOK_TEST_CHROMIUM")?;
        let (child, port) = start_driver(&program("BAYBOOK_TEST_CHROMEDRIVER")?).await?;
        let profile = ProfileFolder(
            std::env::temp_dir().join(format!("baybook-{name}-{}", ulid::Ulid::generate())),
        );
        let mut wishes = DesiredCapabilities::chrome();
        wishes.set_binary(&chromium)?;
        for argument in [
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-quic",
            "--no-first-run",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--disable-dev-shm-usage",
            "--hide-scrollbars",
            "--lang=en-GB",
        ] {
            wishes.add_arg(argument)?;
        }
        wishes.add_arg(&format!("--user-data-dir={}", profile.0.display()))?;
        wishes.add_arg(&format!("--window-size={},{}", screen.width, screen.height))?;
        wishes.add_experimental_option(
            "mobileEmulation",
            serde_json::json!({ "deviceMetrics": { "width": screen.width, "height": screen.height, "pixelRatio": 2.0, "touch": screen.width < 600 } }),
        )?;
        let driver = WebDriver::new(format!("http://127.0.0.1:{port}"), wishes).await?;
        driver.set_script_timeout(PATIENCE).await?;
        if screen.dark {
            let dark = serde_json::json!({ "features": [{ "name": "prefers-color-scheme", "value": "dark" }] });
            driver
                .cdp()
                .send_raw("Emulation.setEmulatedMedia", dark)
                .await?;
        }
        Ok(Self {
            driver,
            _program: child,
            profile,
        })
    }

    /// Runs this script in every page before the page's own, from the next page on.
    ///
    /// # Errors
    /// When the browser is gone.
    pub async fn prepare(&self, script: &str) -> Result<()> {
        let wish = serde_json::json!({ "source": script });
        let method = "Page.addScriptToEvaluateOnNewDocument";
        self.driver.cdp().send_raw(method, wish).await?;
        Ok(())
    }

    /// What the body of an asynchronous function in the page returns.
    ///
    /// # Errors
    /// When it throws; the error carries what.
    pub async fn ask(&self, body: &str) -> Result<serde_json::Value> {
        let script = format!(
            "const done = arguments[0];
             (async () => {{ {body} }})().then(
               (value) => done({{ value: value === undefined ? null : value }}),
               (error) => done({{ error: String(error) }}))"
        );
        let answer = self.driver.execute_async(script, vec![]).await?;
        let mut answer = answer.json().clone();
        if let Some(error) = answer.get("error") {
            bail!("the page's script: {error}");
        }
        Ok(answer["value"].take())
    }

    /// How many bytes the phone keeps for a site; `None` for as many as there is room for. Works for
    /// sites that have kept nothing yet, or when there is no room any more.
    ///
    /// # Errors
    /// When the browser is gone.
    pub async fn room(&self, origin: &str, bytes: Option<u64>) -> Result<()> {
        let mut wish = serde_json::json!({ "origin": origin });
        if let Some(bytes) = bytes {
            wish["quotaSize"] = bytes.into();
        }
        let method = "Storage.overrideQuotaForOrigin";
        self.driver.cdp().send_raw(method, wish).await?;
        Ok(())
    }

    /// Waits for a file that the page gives to the person, whose name ends so; `tap` makes it.
    ///
    /// # Errors
    /// When none comes, or it cannot be read.
    pub async fn download(&self, tap: &str, ending: &str) -> Result<Vec<u8>> {
        let folder = self.profile.0.join("downloads");
        std::fs::create_dir_all(&folder)?;
        let wish = serde_json::json!({ "behavior": "allow", "downloadPath": folder });
        let method = "Browser.setDownloadBehavior";
        self.driver.cdp().send_raw(method, wish).await?;
        self.tap(tap).await?;
        let until = Instant::now() + PATIENCE;
        loop {
            for entry in std::fs::read_dir(&folder)? {
                let path = entry?.path();
                if path.to_string_lossy().ends_with(ending) {
                    let content = std::fs::read(&path)?;
                    std::fs::remove_file(&path)?;
                    return Ok(content);
                }
            }
            self.wait_or_give_up(until, &format!("a file …{ending}"))
                .await?;
        }
    }

    /// Waits until an element with this CSS selector is shown.
    ///
    /// # Errors
    /// When it does not come in time; the error carries what the page shows instead.
    pub async fn see(&self, selector: &str) -> Result<WebElement> {
        let until = Instant::now() + PATIENCE;
        loop {
            if let Ok(element) = self.driver.find(By::Css(selector)).await
                && element.is_displayed().await.unwrap_or(false)
            {
                return Ok(element);
            }
            self.wait_or_give_up(until, &format!("`{selector}`"))
                .await?;
        }
    }

    /// Waits until the page shows this text.
    ///
    /// # Errors
    /// As [`Phone::see`].
    pub async fn read(&self, text: &str) -> Result<()> {
        let until = Instant::now() + PATIENCE;
        while !self.text().await?.contains(text) {
            self.wait_or_give_up(until, &format!("the text '{text}'"))
                .await?;
        }
        Ok(())
    }

    /// Waits until the page shows this text no more.
    ///
    /// # Errors
    /// As [`Phone::see`].
    pub async fn read_until_gone(&self, text: &str) -> Result<()> {
        let until = Instant::now() + PATIENCE;
        while self.text().await?.contains(text) {
            self.wait_or_give_up(until, &format!("the text '{text}' to go"))
                .await?;
        }
        Ok(())
    }

    /// All text that the page shows now.
    ///
    /// # Errors
    /// When the browser is gone.
    pub async fn text(&self) -> Result<String> {
        let text = self
            .driver
            .execute(
                "return document.body ? document.body.innerText : ''",
                vec![],
            )
            .await?;
        Ok(text.convert()?)
    }

    /// Waits for an element and taps it.
    ///
    /// # Errors
    /// As [`Phone::see`], or when something covers it.
    pub async fn tap(&self, selector: &str) -> Result<()> {
        let until = Instant::now() + PATIENCE;
        loop {
            let element = self.see(selector).await?;
            element.scroll_into_view().await.ok();
            match element.click().await {
                Ok(()) => return Ok(()),
                // The page may redraw between finding and tapping.
                Err(error) if Instant::now() > until => {
                    return Err(error).with_context(|| format!("tapping {selector}"));
                }
                Err(_) => tokio::time::sleep(Duration::from_millis(50)).await,
            }
        }
    }

    /// Clears a field and types into it.
    ///
    /// # Errors
    /// As [`Phone::see`].
    pub async fn fill(&self, selector: &str, text: &str) -> Result<()> {
        let field = self.see(selector).await?;
        field.clear().await?;
        field.send_keys(text).await?;
        Ok(())
    }

    /// Presses a key with nothing else than the keyboard: it goes wherever the cursor is.
    ///
    /// # Errors
    /// When the browser is gone.
    pub async fn press(&self, keys: &str) -> Result<()> {
        let keys = keys.to_owned();
        Ok(self.driver.action_chain().send_keys(keys).perform().await?)
    }

    /// Keeps a picture of the screen; WebP where the name ends so, else PNG.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub async fn picture(&self, path: &Path) -> Result<()> {
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder)?;
        }
        if path.extension().is_some_and(|ending| ending == "webp") {
            let wish = serde_json::json!({ "format": "webp", "quality": WEBP_QUALITY });
            let method = "Page.captureScreenshot";
            let answer = self.driver.cdp().send_raw(method, wish).await?;
            let data = answer["data"].as_str().context("no picture")?;
            return Ok(std::fs::write(path, STANDARD.decode(data)?)?);
        }
        Ok(self.driver.screenshot(path).await?)
    }

    /// Closes the browser.
    ///
    /// # Errors
    /// When it is gone already.
    pub async fn close(self) -> Result<()> {
        Ok(self.driver.quit().await?)
    }

    async fn wait_or_give_up(&self, until: Instant, what: &str) -> Result<()> {
        if Instant::now() > until {
            let url = self.driver.current_url().await?;
            bail!(
                "waited {PATIENCE:?} for {what} at {url}; the page shows:\n{}",
                self.text().await?
            );
        }
        tokio::time::sleep(Duration::from_millis(50)).await;
        Ok(())
    }
}

fn program(variable: &str) -> Result<String> {
    std::env::var(variable).with_context(|| {
        format!("{variable} is not set; run `cargo xtask test`, which finds the browser")
    })
}

/// Starts the driver on a port that it chooses, and reads which.
///
/// The driver asks for a free IPv4 port and then wants the same number on IPv6; where many
/// programs start at once somebody else may have it by then, and the driver ends. Another try
/// gets another port.
async fn start_driver(path: &str) -> Result<(Child, u16)> {
    let mut said = String::new();
    for _ in 0..DRIVER_TRIES {
        let mut child = Command::new(path)
            .arg("--port=0")
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .kill_on_drop(true)
            .spawn()
            .with_context(|| format!("starting {path}"))?;
        let output = child.stdout.take().context("the driver has no output")?;
        let mut lines = BufReader::new(output).lines();
        said.clear();
        while let Some(line) = lines.next_line().await? {
            let port = line
                .split("successfully on port ")
                .nth(1)
                .map(|rest| rest.trim_end_matches('.').parse());
            if let Some(Ok(port)) = port {
                tokio::spawn(async move { while let Ok(Some(_)) = lines.next_line().await {} });
                return Ok((child, port));
            }
            said.push_str(&line);
            said.push('\n');
        }
    }
    bail!("{path} ended {DRIVER_TRIES} times before it said its port; last it said:\n{said}")
}
