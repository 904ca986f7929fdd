//! `baybook serve`: runs the server until it is told to stop.

use anyhow::Context;
use clap::Args;
use tokio::signal;

use super::database::DatabaseOptions;
use super::log::{self, LogFormat};
use super::{BadInput, known_variables, say};
use crate::auth::proxies::Proxies;
use crate::config::{Config, Given, filter, unknown_variables};
use crate::running::{Running, start};

/// Runs the server.
#[derive(Debug, Args)]
pub struct Serve {
    /// Address and port to listen on.
    #[arg(long, env = "BAYBOOK_LISTEN", default_value = "127.0.0.1:8080")]
    listen: String,
    #[command(flatten)]
    database: DatabaseOptions,
    /// Address that people use, when a proxy stands in front: https://book.example.org.
    #[arg(long, env = "BAYBOOK_PUBLIC_URL")]
    public_url: Option<String>,
    /// Proxy in front whose X-Forwarded-For is believed, as an address or a network such as
    /// 172.16.0.0/12; several are separated by commas.
    #[arg(long, env = "BAYBOOK_TRUSTED_PROXY", value_delimiter = ',')]
    trusted_proxy: Vec<String>,
    /// Address and port for a monitoring system (GET /metrics); without it there are no figures.
    #[arg(long, env = "BAYBOOK_METRICS_LISTEN")]
    metrics_listen: Option<String>,
    /// How the log is written, on the error output.
    #[arg(long, env = "BAYBOOK_LOG_FORMAT", default_value = "text", value_enum)]
    log_format: LogFormat,
    /// What is written into the log: error, warn, info or debug, also per part (server=debug).
    #[arg(long, env = "RUST_LOG", default_value = "warn,server=info")]
    log: String,
    /// Makes a demo shop with three people and the demo car.
    #[arg(long)]
    demo: bool,
    /// Language that the demo car's people write, as a code: en or es. A demo car that is there
    /// already stays as it is.
    #[arg(long, env = "BAYBOOK_DEMO_LANGUAGE", default_value = "en")]
    demo_language: String,
    /// Checks the settings and ends; nothing is opened.
    #[arg(long)]
    check_only: bool,
}

/// Runs it.
///
/// # Errors
/// [`BadInput`] with every setting that cannot be used, or when the server fails.
pub fn run(serve: Serve) -> anyhow::Result<()> {
    let Serve {
        log_format,
        check_only,
        ..
    } = serve;
    let log_filter = serve.log.clone();
    let checked = given(serve).check();
    let unknown = unknown();
    if check_only {
        return tell(checked.map_err(|faults| faults.to_string()), unknown);
    }
    let config = checked.map_err(|faults| BadInput(faults.to_string()))?;
    log::begin(log_format, filter(&log_filter).map_err(BadInput)?);
    if let Some(unknown) = unknown {
        tracing::warn!("{unknown}");
    }
    if config.behind_tls() && config.proxies == Proxies::none() {
        tracing::warn!(
            "no proxy is trusted, so all sign-in tries count as the proxy's own; name it with --trusted-proxy"
        );
    }
    tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .context("starting the runtime")?
        .block_on(until_stopped(config))
}

fn given(serve: Serve) -> Given {
    Given {
        listen: serve.listen,
        data: serve.database.data,
        database_url: serve.database.database_url,
        database_password_file: serve.database.database_password_file,
        public_url: serve.public_url,
        trusted_proxy: serve.trusted_proxy,
        metrics_listen: serve.metrics_listen,
        log: serve.log,
        demo: serve.demo,
        demo_language: serve.demo_language,
    }
}

/// What is set and does nothing, in words.
fn unknown() -> Option<String> {
    // A name that is no text is none of ours.
    let set = std::env::vars_os().filter_map(|(name, _)| name.into_string().ok());
    let (set, known) = (set.collect::<Vec<_>>(), known_variables());
    let unknown = unknown_variables(set.iter().map(String::as_str), &known);
    (!unknown.is_empty()).then(|| {
        format!(
            "{}: no such setting, so it does nothing; the settings are {}",
            unknown.join(", "),
            known.join(", ")
        )
    })
}

fn tell(checked: Result<Config, String>, unknown: Option<String>) -> anyhow::Result<()> {
    match (checked, unknown) {
        (Ok(config), None) => say(&format!(
            "The settings are good; the server would be at {}.\n",
            config
                .public_url
                .unwrap_or_else(|| format!("http://{}", config.listen))
        )),
        (Ok(_), Some(unknown)) => Err(BadInput(unknown).into()),
        (Err(faults), unknown) => {
            let lines: Vec<String> = std::iter::once(faults).chain(unknown).collect();
            Err(BadInput(lines.join("\n")).into())
        }
    }
}

async fn until_stopped(config: Config) -> anyhow::Result<()> {
    let running = start(config).await?;
    greet(&running);
    stop_asked().await?;
    tracing::info!("stopping");
    let stopped = running.stop();
    tokio::select! {
        stopped = stopped => stopped?,
        asked = stop_asked() => {
            asked?;
            anyhow::bail!("told to stop a second time: ended at once; what was acknowledged is on disk");
        }
    }
    tracing::info!("stopped");
    Ok(())
}

fn greet(running: &Running) {
    println!("Baybook is at {}", running.address());
    if let Some(link) = &running.set_up_link {
        println!("Set up the shop with this link; it works once:\n  {link}");
    }
    for person in &running.demo {
        println!(
            "  sign in as {} ({}): {}  {}",
            person.name, person.role, person.email, person.password
        );
    }
    tracing::info!(listen = %running.addr, figures = ?running.metrics_addr, "started");
}

#[cfg(unix)]
async fn stop_asked() -> anyhow::Result<()> {
    let mut terminate = signal::unix::signal(signal::unix::SignalKind::terminate())?;
    tokio::select! {
        asked = signal::ctrl_c() => Ok(asked?),
        _ = terminate.recv() => Ok(()),
    }
}

#[cfg(not(unix))]
async fn stop_asked() -> anyhow::Result<()> {
    Ok(signal::ctrl_c().await?)
}
