//! Settings as they were given: every one is looked at before anything is opened, and all that is
//! wrong is said at once.

use std::fmt;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::str::FromStr;

use shared::figures::Language;
use tracing_subscriber::EnvFilter;

use super::{Config, database_url, public, writable};
use crate::auth::proxies::{Network, Proxies};
use crate::clock::Clock;

/// Variables that begin so are the project's own tests'.
const OF_TESTS: [&str; 2] = ["BAYBOOK_TEST_", "BAYBOOK_SOAK"];
/// What all our variables begin with.
const PREFIX: &str = "BAYBOOK_";

/// Settings as text, not yet trusted.
#[derive(Debug, Clone)]
pub struct Given {
    /// `--listen`.
    pub listen: String,
    /// `--data`.
    pub data: PathBuf,
    /// `--database-url`.
    pub database_url: Option<String>,
    /// `--database-password-file`.
    pub database_password_file: Option<PathBuf>,
    /// `--public-url`.
    pub public_url: Option<String>,
    /// `--trusted-proxy`, one or several.
    pub trusted_proxy: Vec<String>,
    /// `--metrics-listen`.
    pub metrics_listen: Option<String>,
    /// `--log`: a filter.
    pub log: String,
    /// `--demo`.
    pub demo: bool,
    /// `--demo-language`: a code.
    pub demo_language: String,
}

/// A setting that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Its option and variable.
    pub setting: &'static str,
    /// What is wrong, and what to write instead.
    pub says: String,
}

/// All settings that cannot be used, one on each line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub struct Faults(pub Vec<Fault>);

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let lines = self
            .0
            .iter()
            .map(|Fault { setting, says }| format!("{setting}: {says}"));
        f.write_str(&lines.collect::<Vec<_>>().join("\n"))
    }
}

impl Given {
    /// Checks every setting; makes the data folder.
    ///
    /// # Errors
    /// All that is wrong.
    pub fn check(self) -> Result<Config, Faults> {
        let mut faults = Vec::new();
        let mut found = Finder(&mut faults);
        let listen = found.keep("--listen (BAYBOOK_LISTEN)", address(&self.listen));
        let proxies = self.trusted_proxy.iter().map(|text| network(text));
        let proxies: Vec<Option<Network>> = proxies
            .map(|read| found.keep("--trusted-proxy (BAYBOOK_TRUSTED_PROXY)", read))
            .collect();
        let metrics = self.metrics_listen.as_deref().map(address);
        let metrics = metrics.map(|read| {
            let read = read.and_then(|own| apart(own, listen));
            found.keep("--metrics-listen (BAYBOOK_METRICS_LISTEN)", read)
        });
        let public_url = self.public_url.map(|url| {
            let read = public(url).map_err(|error| error.to_string());
            found.keep("--public-url (BAYBOOK_PUBLIC_URL)", read)
        });
        let url = database_url(
            self.database_url,
            self.database_password_file.as_deref(),
            &self.data,
            "rwc",
        );
        let url = url.map_err(|error| error.to_string());
        let url = found.keep("--database-url (DATABASE_URL)", url);
        let folder = writable(&self.data).map_err(|error| error.to_string());
        let folder = found.keep("--data (BAYBOOK_DATA)", folder);
        let demo_language = found.keep(
            "--demo-language (BAYBOOK_DEMO_LANGUAGE)",
            language(&self.demo_language),
        );
        let filter = found.keep("--log (RUST_LOG)", filter(&self.log).map(|_| ()));
        let all = (listen, url, folder, demo_language, filter);
        let (Some(listen), Some(database_url), Some(()), Some(demo_language), Some(())) = all
        else {
            return Err(Faults(faults));
        };
        if !faults.is_empty() {
            return Err(Faults(faults));
        }
        Ok(Config {
            listen,
            database_url,
            data: self.data,
            public_url: public_url.flatten(),
            proxies: Proxies::new(proxies.into_iter().flatten().collect()),
            metrics_listen: metrics.flatten(),
            demo: self.demo,
            demo_language,
            clock: Clock::system(),
        })
    }
}

struct Finder<'a>(&'a mut Vec<Fault>);

impl Finder<'_> {
    fn keep<T>(&mut self, setting: &'static str, read: Result<T, String>) -> Option<T> {
        read.map_err(|says| self.0.push(Fault { setting, says }))
            .ok()
    }
}

fn address(text: &str) -> Result<SocketAddr, String> {
    SocketAddr::from_str(text).map_err(|_| {
        format!(
            "\"{text}\" is no address with a port; write 127.0.0.1:8080 for this machine only, \
             0.0.0.0:8080 for all that reach it, [::1]:8080 for IP version 6"
        )
    })
}

fn apart(own: SocketAddr, listen: Option<SocketAddr>) -> Result<SocketAddr, String> {
    match own.port() != 0 && Some(own.port()) == listen.map(|listen| listen.port()) {
        true => Err(format!(
            "{own} has the port of --listen; figures have one of their own, such as 127.0.0.1:9464"
        )),
        false => Ok(own),
    }
}

fn network(text: &str) -> Result<Network, String> {
    text.parse()
        .map_err(|expected| format!("\"{text}\" is no proxy; write {expected}"))
}

fn language(text: &str) -> Result<Language, String> {
    Language::of_code(text).ok_or_else(|| {
        let known = Language::ALL.map(|one| format!("{} ({})", one.code(), one.own_name()));
        format!(
            "there is no demo car in \"{text}\"; write {}",
            known.join(" or ")
        )
    })
}

/// The filter of the log.
///
/// # Errors
/// What is wrong with it, and an example.
pub(crate) fn filter(text: &str) -> Result<EnvFilter, String> {
    EnvFilter::try_new(text)
        .map_err(|error| format!("\"{text}\" is no filter ({error}); write warn,server=info"))
}

/// Variables that look like settings and are none: a misspelt one would do nothing in silence.
#[must_use]
pub fn unknown_variables<'a>(
    given: impl Iterator<Item = &'a str>,
    known: &[String],
) -> Vec<&'a str> {
    let is_ours = |name: &&str| {
        name.starts_with(PREFIX) && !OF_TESTS.iter().any(|begin| name.starts_with(begin))
    };
    let mut unknown: Vec<&str> = given
        .filter(is_ours)
        .filter(|name| !known.iter().any(|known| known == name))
        .collect();
    unknown.sort_unstable();
    unknown
}

#[cfg(test)]
mod tests {
    use super::*;

    fn given() -> Given {
        Given {
            listen: "127.0.0.1:0".into(),
            data: std::env::temp_dir().join(format!("baybook-given-{}", std::process::id())),
            database_url: None,
            database_password_file: None,
            public_url: None,
            trusted_proxy: Vec::new(),
            metrics_listen: None,
            log: "warn,server=info".into(),
            demo: false,
            demo_language: "en".into(),
        }
    }

    #[test]
    fn says_all_that_is_wrong_at_once() {
        let wrong = Given {
            listen: "localhost".into(),
            database_url: Some("mysql://x".into()),
            public_url: Some("book.example".into()),
            trusted_proxy: vec!["10.0.0.7".into(), "proxy".into()],
            metrics_listen: Some("9464".into()),
            log: "server=loud".into(),
            demo_language: "fr".into(),
            data: "/proc/none".into(),
            ..given()
        };
        let Faults(faults) = wrong.check().unwrap_err();
        let settings: Vec<&str> = faults
            .iter()
            .filter_map(|fault| fault.setting.split(' ').next())
            .collect();
        assert_eq!(
            settings,
            [
                "--listen",
                "--trusted-proxy",
                "--metrics-listen",
                "--public-url",
                "--database-url",
                "--data",
                "--demo-language",
                "--log"
            ]
        );
        let says = Faults(faults).to_string();
        assert!(says.contains("write 127.0.0.1:8080"));
        assert!(says.contains("write en (English) or es (Español)"));
    }

    #[test]
    fn takes_what_is_good() {
        let config = Given {
            public_url: Some("https://book.example/".into()),
            trusted_proxy: vec!["172.16.0.0/12".into()],
            metrics_listen: Some("127.0.0.1:9464".into()),
            demo_language: "es".into(),
            ..given()
        };
        let config = config.check().unwrap();
        assert_eq!(config.demo_language, Language::Spanish);
        assert_eq!(config.public_url.as_deref(), Some("https://book.example"));
        let same = Given {
            listen: "127.0.0.1:9464".into(),
            metrics_listen: Some("0.0.0.0:9464".into()),
            ..given()
        };
        assert!(same.check().is_err(), "one port for both");
        std::fs::remove_dir_all(given().data).unwrap();
    }

    #[test]
    fn finds_misspelt_variables() {
        let known = ["BAYBOOK_LISTEN".to_owned()];
        let set = [
            "PATH",
            "BAYBOOK_LISTEN",
            "BAYBOOK_LISTENS",
            "BAYBOOK_TEST_NODE",
        ];
        assert_eq!(
            unknown_variables(set.into_iter(), &known),
            ["BAYBOOK_LISTENS"]
        );
    }
}
