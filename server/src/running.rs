//! A running server: starting it, its address, stopping it.

use std::net::{SocketAddr, TcpListener};
use std::time::Duration;

use actix_web::dev::{Server, ServerHandle};
use actix_web::{HttpServer, web};
use anyhow::Context;
use tokio::time::timeout;

use crate::App;
use crate::auth::access::AccessKey;
use crate::auth::limit::Limit;
use crate::auth::password::Passwords;
use crate::auth::secret::Secret;
use crate::config::Config;
use crate::demo::{self, DemoPerson};
use crate::handlers::metrics::show_metrics;
use crate::live::Live;
use crate::metrics::Metrics;
use crate::report::Press;
use crate::routes::app;
use crate::store::{Serving, Store};

/// Ten tries at once per account, then one a minute.
const ACCOUNT_TRIES: (u32, u32) = (10, 60_000);
/// Thirty tries at once per address (a shop is one address), then one every ten seconds.
const ADDRESS_TRIES: (u32, u32) = (30, 10_000);
/// Seconds that open requests may take when the server stops.
const PATIENCE_S: u64 = 10;
/// Books may take as long for the batches that they have in hand.
const BOOKS_PATIENCE: Duration = Duration::from_secs(PATIENCE_S);

/// A running server.
#[derive(Debug)]
pub struct Running {
    /// Where it listens.
    pub addr: SocketAddr,
    /// Where it shows its figures.
    pub metrics_addr: Option<SocketAddr>,
    /// What its handlers share.
    pub app: web::Data<App>,
    /// The one-time link, as long as there is no shop.
    pub set_up_link: Option<String>,
    /// The people of the demo shop, if there is one.
    pub demo: Vec<DemoPerson>,
    /// Given back when the server has ended.
    serving: Serving,
    http: Http,
    figures: Option<Http>,
}

/// Something that listens.
#[derive(Debug)]
struct Http {
    handle: ServerHandle,
    task: tokio::task::JoinHandle<std::io::Result<()>>,
}

impl Http {
    fn run(server: Server) -> Self {
        Self {
            handle: server.handle(),
            task: tokio::spawn(server),
        }
    }

    async fn stop(self) -> anyhow::Result<()> {
        self.handle.stop(true).await;
        Ok(self.task.await??)
    }

    async fn kill(self) {
        self.handle.stop(false).await;
        self.task.abort();
    }
}

/// Opens the database, brings it up to date, and listens.
///
/// # Errors
/// When the database cannot be opened or the address is not free; the text says what to change.
pub async fn start(config: Config) -> anyhow::Result<Running> {
    let listener = listen(config.listen, "--listen")?;
    let for_figures = config.metrics_listen;
    let for_figures = for_figures.map(|addr| listen(addr, "--metrics-listen"));
    let for_figures = for_figures.transpose()?;
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
    let live = Live::new(store.clone(), config.clock.clone());
    let shared = web::Data::new(App {
        metrics: Metrics::new(&live),
        access: AccessKey::from_seed(&seed)?,
        passwords,
        live,
        press: Press::default(),
        tries_by_address: Limit::new(ADDRESS_TRIES.0, ADDRESS_TRIES.1),
        tries_by_account: Limit::new(ACCOUNT_TRIES.0, ACCOUNT_TRIES.1),
        store,
        config,
    });
    shared.live.attend().await.context(
        "the other servers on this database cannot be listened to; a pooler in front of it has to pass LISTEN on",
    )?;
    let metrics_addr = for_figures.as_ref().map(TcpListener::local_addr);
    let metrics_addr = metrics_addr.transpose()?;
    let figures = for_figures.map(|listener| serve_figures(&shared, listener));
    let figures = figures.transpose()?.map(Http::run);
    let state = shared.clone();
    let server = HttpServer::new(move || app(state.clone()))
        .disable_signals()
        .shutdown_timeout(PATIENCE_S)
        .listen(listener)?
        .run();
    let address = address(&shared.config, addr);
    Ok(Running {
        addr,
        metrics_addr,
        set_up_link: set_up_token.map(|token| format!("{address}/#/setup/{}", token.reveal())),
        demo,
        app: shared,
        serving,
        http: Http::run(server),
        figures,
    })
}

fn listen(addr: SocketAddr, setting: &str) -> anyhow::Result<TcpListener> {
    TcpListener::bind(addr).with_context(|| {
        format!(
            "{addr} cannot be listened on; is another server running there? Choose another with {setting}"
        )
    })
}

/// The figures alone, on an address of their own.
fn serve_figures(shared: &web::Data<App>, listener: TcpListener) -> std::io::Result<Server> {
    let state = shared.clone();
    let server = HttpServer::new(move || {
        actix_web::App::new()
            .app_data(state.clone())
            .route("/metrics", web::get().to(show_metrics))
    });
    let server = server.workers(1).disable_signals();
    Ok(server.shutdown_timeout(1).listen(listener)?.run())
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

    /// Stops: no new connections, lines are told to go elsewhere, open requests end and books keep
    /// the batches that they have in hand, both within a bounded time; then the database is closed.
    ///
    /// # Errors
    /// When the database does not close.
    pub async fn stop(self) -> anyhow::Result<()> {
        let books = timeout(BOOKS_PATIENCE, self.app.live.stop());
        let (books, http) = tokio::join!(books, self.http.stop());
        if books.is_err() {
            // Nobody was told that these are kept, so the phones have them still.
            tracing::warn!("some books did not come to an end in time");
            self.app.live.kill();
        }
        http?;
        if let Some(figures) = self.figures {
            figures.stop().await?;
        }
        self.app.store.close().await?;
        drop(self.serving);
        Ok(())
    }

    /// Ends at once, as a power cut would: nothing is finished or said.
    pub async fn kill(self) {
        self.app.live.kill();
        self.http.kill().await;
        if let Some(figures) = self.figures {
            figures.kill().await;
        }
    }
}
