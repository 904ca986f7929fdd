//! Figures for an operator (`GET /metrics` on an address of its own), in the open text format.
//!
//! Labels come from fixed lists (routes, statuses, stable words), so that nobody who asks can make
//! them grow, and no figure tells of a person or a car. Seconds and bytes, as the format asks.

mod live;
mod process;

use std::sync::atomic::AtomicU64;

use prometheus_client::encoding::EncodeLabelSet;
use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::metrics::info::Info;
use prometheus_client::registry::Registry;

use crate::live::Live;
use crate::live::lines::Open;
pub use live::LiveFigures;

/// Media type of the answer (OpenMetrics 1.0).
pub const MEDIA_TYPE: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

/// Upper ends of the latency buckets, in seconds: a list answers in milliseconds, a password takes
/// a tenth of a second, a large sheet seconds.
const LATENCY_S: [f64; 11] = [
    0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 5.0,
];

/// A route as it is listed, never the path that was asked for.
#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
pub struct Route {
    /// The request's method, or `other`.
    pub method: &'static str,
    /// The route, `/api/jobs/{book}/links`; `app` for a file of the app or nothing at all.
    pub route: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Answered {
    method: &'static str,
    route: String,
    status: u16,
}

#[derive(Debug, Clone, PartialEq, Eq, Hash, EncodeLabelSet)]
struct Kind {
    kind: &'static str,
}

/// A histogram of latencies.
pub(crate) fn latencies() -> Histogram {
    Histogram::new(LATENCY_S)
}

/// All figures of a server.
#[derive(Debug)]
pub struct Metrics {
    registry: Registry,
    requests: Family<Answered, Counter>,
    request_seconds: Family<Route, Histogram, fn() -> Histogram>,
    lines: Family<Kind, Gauge>,
    documents: Gauge,
    memory: Gauge,
    files: Gauge,
    processor: Counter<f64, AtomicU64>,
}

impl Metrics {
    /// Figures of this server; those of the open books are counted where they come about.
    #[must_use]
    pub fn new(live: &Live) -> Self {
        let new = Self {
            registry: Registry::default(),
            requests: Family::default(),
            request_seconds: Family::new_with_constructor(latencies),
            lines: Family::default(),
            documents: Gauge::default(),
            memory: Gauge::default(),
            files: Gauge::default(),
            processor: Counter::default(),
        };
        new.registered(live)
    }

    fn registered(mut self, live: &Live) -> Self {
        let all = &mut self.registry;
        let version = Info::new([("version", env!("CARGO_PKG_VERSION"))]);
        all.register("baybook_build", "The program", version);
        let ours = all.sub_registry_with_prefix("baybook");
        ours.register(
            "http_requests",
            "Answered requests by route and status",
            self.requests.clone(),
        );
        ours.register(
            "http_request_duration_seconds",
            "From a request to its answer",
            self.request_seconds.clone(),
        );
        ours.register("lines_open", "Open lines (WebSockets)", self.lines.clone());
        ours.register("documents_open", "Open books", self.documents.clone());
        live.figures.register(ours);
        ours.register(
            "notices_sent",
            "Notices told to the other servers",
            live.store.notices_sent().clone(),
        );
        let process = all.sub_registry_with_prefix("process");
        process.register(
            "resident_memory_bytes",
            "Memory that the process holds",
            self.memory.clone(),
        );
        process.register("open_fds", "Open files and sockets", self.files.clone());
        process.register(
            "cpu_seconds",
            "Processor time of the process",
            self.processor.clone(),
        );
        self
    }

    /// Counts an answered request.
    pub fn answered(&self, route: Route, status: u16, seconds: f64) {
        let answered = Answered {
            method: route.method,
            route: route.route.clone(),
            status,
        };
        self.requests.get_or_create(&answered).inc();
        self.request_seconds.get_or_create(&route).observe(seconds);
    }

    /// The figures as text.
    ///
    /// # Errors
    /// When they cannot be written.
    pub fn text(&self, live: &Live) -> Result<String, std::fmt::Error> {
        for (kind, count) in live.open_lines() {
            let kind = Kind { kind };
            self.lines.get_or_create(&kind).set(count);
        }
        let open = live.open_documents().len();
        self.documents.set(i64::try_from(open).unwrap_or(i64::MAX));
        // Where the system does not tell, the figures stay 0.
        if let Some(process) = process::look() {
            self.memory.set(process.resident_bytes);
            self.files.set(process.open_files);
            let more = process.processor_s - self.processor.get();
            if more > 0.0 {
                self.processor.inc_by(more);
            }
        }
        let mut text = String::new();
        encode(&mut text, &self.registry)?;
        Ok(text)
    }
}

impl Live {
    /// How many lines of each kind are open.
    fn open_lines(&self) -> [(&'static str, i64); 2] {
        let mut counts = [("member", 0), ("follower", 0)];
        self.each_line(|line: &Open| counts[usize::from(line.is_follower())].1 += 1);
        counts
    }
}
