//! A running server: starting it, its address, stopping it.

use std::net::{SocketAddr, TcpListener};

use actix_web::dev::ServerHandle;
use actix_web::{HttpServer, web};
use anyhow::Context;

use crate::App;
use crate::auth::access::AccessKey;
use crate::auth::limit::Limit;
use crate::auth::password::Passwords;
use crate::auth::secret::Secret;
use crate::config::Config;
use crate::demo::{self, DemoPerson};
use crate::live::Live;
use crate::report::Press;
use crate::routes::app;
use crate::store::{Serving, Store};

/// Ten tries at once per account, then one a minute.
const ACCOUNT_TRIES: (u32, u32) = (10, 60_000);
/// Thirty tries at once per address (a shop is one address), then one every ten seconds.
const ADDRESS_TRIES: (u32, u32) = (30, 10_000);
/// Seconds that open requests may take when the server stops.
const PATIENCE_S: u64 = 10;

/// A running server.
#[derive(Debug)]
pub struct Running {
    /// Where it listens.
    pub addr: SocketAddr,
    /// What its handlers share.
    pub app: web::Data<App>,
    /// The one-time link, as long as there is no shop.
    pub set_up_link: Option<String>,
    /// The people of the demo shop, if there is one.
    pub demo: Vec<DemoPerson>,
    /// Given back when the server has ended.
    serving: Serving,
    http: ServerHandle,
    task: tokio::task::JoinHandle<std::io::Result<()>>,
}

/// Opens the database, brings it up to date, and listens.
///
/// # Errors
/// When the database cannot be opened or the address is not free; the text says what to change.
pub async fn start(config: Config) -> anyhow::Result<Running> {
    let listener = TcpListener::bind(config.listen).with_context(|| {
        format!(
            "{} cannot be listened on; is another server running there? Choose another with --listen",
            config.listen
        )
    })?;
    let serving = Serving::take(&config.database_url)?;
    let store = Store::open(&config.database_url, rand::random()).await.context(
        "the database cannot be opened; check DATABASE_URL, and that the server or folder is there",
    )?;
    let now_ms = config.clock.now_ms();
    let seed = store.token_seed(rand::random(), now_ms).await?;
    let addr = listener.local_addr()?;
    let passwords = Passwords::prepare().await?;
    let demo = if config.demo {
        demo::make_once(&config, &store, &passwords).await?
    } else {
        Vec::new()
    };
    let set_up_token = open_set_up(&config, &store).await?;
    let shared = web::Data::new(App {
        access: AccessKey::from_seed(&seed)?,
        passwords,
        press: Press::default(),
        live: Live::new(store.clone(), config.clock.clone()),
        tries_by_address: Limit::new(ADDRESS_TRIES.0, ADDRESS_TRIES.1),
        tries_by_account: Limit::new(ACCOUNT_TRIES.0, ACCOUNT_TRIES.1),
        store,
        config,
    });
    shared.live.attend().await.context(
        "the other servers on this database cannot be listened to; a pooler in front of it has to pass LISTEN on",
    )?;
    let state = shared.clone();
    let server = HttpServer::new(move || app(state.clone()))
        .disable_signals()
        .shutdown_timeout(PATIENCE_S)
        .listen(listener)?
        .run();
    let http = server.handle();
    let address = address(&shared.config, addr);
    Ok(Running {
        addr,
        set_up_link: set_up_token.map(|token| format!("{address}/#/setup/{}", token.reveal())),
        demo,
        app: shared,
        serving,
        http,
        task: tokio::spawn(server),
    })
}

/// A fresh set-up link's secret, as long as there is no shop.
async fn open_set_up(config: &Config, store: &Store) -> anyhow::Result<Option<Secret>> {
    if store.has_shop().await? {
        return Ok(None);
    }
    let token = Secret::random();
    let shop = config.clock.mint();
    store
        .renew_set_up_link(&shop, token.hash(), config.clock.now_ms())
        .await?;
    Ok(Some(token))
}

fn address(config: &Config, addr: SocketAddr) -> String {
    config
        .public_url
        .clone()
        .unwrap_or_else(|| format!("http://{addr}"))
}

impl Running {
    /// The address that people open.
    #[must_use]
    pub fn address(&self) -> String {
        address(&self.app.config, self.addr)
    }

    /// Stops: open requests end, the database is closed.
    ///
    /// # Errors
    /// When the database does not close.
    pub async fn stop(self) -> anyhow::Result<()> {
        self.app.live.stop().await;
        self.http.stop(true).await;
        self.task.await??;
        self.app.store.close().await?;
        drop(self.serving);
        Ok(())
    }

    /// Ends at once, as a power cut would: nothing is finished or said.
    pub async fn kill(self) {
        self.app.live.kill();
        self.http.stop(false).await;
        self.task.abort();
    }
}
