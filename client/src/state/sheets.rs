//! Sheets of the library that this phone has seen: a new job begins with one also without signal.
//!
//! Of a sheet the phone keeps what a list shows and what makes a new book one of its body, which the
//! server makes of it; it knows no sheet. What the server no longer lists is thrown away.

use std::collections::BTreeSet;

use gloo_net::http::Method;
use serde_json::Value;
use shared::book::Intention;
use shared::library::{OriginKind, Sheet, Years};

use super::session::Session;
use super::shelf::Shelf;
use crate::json;
use crate::net::NetError;
use crate::store::{Batch, names};

/// Most sheets that are kept, the newest first: a few megabytes.
const MOST: usize = 100;

/// A sheet that a new job can begin with.
#[derive(Debug, Clone, PartialEq)]
pub struct Known {
    /// Its id and revision, as it is kept.
    pub name: String,
    /// As much of it as a search looks at.
    pub head: Sheet,
    /// The other shop that published it.
    pub shared_by: Option<String>,
}

impl Known {
    /// From a line of the server's list.
    fn of(line: &Value) -> Option<Self> {
        let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
        let year = |value: &Value| u16::try_from(value.as_u64()?).ok();
        let mut head = Sheet::blank(text(&line["name"]), OriginKind::Manual);
        head.revision = u32::try_from(line["revision"].as_u64()?).ok()?;
        let body = &line["body"];
        head.body.maker = text(&body["maker"]);
        head.body.model = text(&body["model"]);
        head.body.style = text(&body["style"]);
        head.body.vin = body["vin"].as_str().and_then(|vin| vin.parse().ok());
        let years = year(&body["years"]["from"]).zip(year(&body["years"]["to"]));
        head.body.years = years.map(|(from, to)| Years { from, to });
        Some(Self {
            name: format!("{}/{}", line["id"].as_str()?, head.revision),
            head,
            shared_by: line["shared_by"].as_str().map(str::to_owned),
        })
    }

    fn path(&self) -> String {
        let (id, revision) = self.name.split_once('/').unwrap_or_default();
        match self.shared_by {
            Some(_) => format!("/api/shared-sheets/{id}/start"),
            None => format!("/api/sheets/{id}/revisions/{revision}/start"),
        }
    }
}

impl Shelf {
    /// The sheets that are kept for a shop.
    pub async fn known_sheets(self, shop: &str) -> Vec<Known> {
        let Some(store) = self.books().store.borrow().clone() else {
            return Vec::new();
        };
        let kept = store.names(&names::sheet(shop, "")).await;
        let kept = kept.unwrap_or_default();
        let list = store.read(&names::sheets(shop), &BTreeSet::new()).await;
        let entries = list.unwrap_or_default().entries;
        let list: Option<Vec<Value>> = entries.first().and_then(|entry| json::read(&entry.bytes));
        let mut known = lines(&list.unwrap_or_default());
        known.retain(|sheet| kept.contains(&sheet.name));
        known
    }

    /// Asks the server for its list, keeps what is new in it and throws away what is not in it.
    ///
    /// # Errors
    /// [`NetError`]; what is kept then stays.
    pub async fn refresh_sheets(self, session: Session, shop: &str) -> Result<(), NetError> {
        let api = session.api();
        let mut list = Vec::new();
        for path in ["/api/sheets", "/api/shared-sheets"] {
            let some: Vec<Value> = api.call(Method::GET, path, None::<&()>).await?;
            list.extend(some);
        }
        list.truncate(MOST);
        let Some(store) = self.books().store.borrow().clone() else {
            return Ok(());
        };
        let known = lines(&list);
        let prefix = names::sheet(shop, "");
        let kept = store.names(&prefix).await.unwrap_or_default();
        let listed = |name: &String| known.iter().any(|sheet| sheet.name == *name);
        let gone = kept.iter().filter(|name| !listed(name));
        let batch = Batch {
            puts: vec![(
                names::sheets(shop),
                serde_json::to_vec(&list).unwrap_or_default(),
            )],
            deletes: gone.map(|name| names::sheet(shop, name)).collect(),
            ..Batch::default()
        };
        // Where there is no room, the list is shorter without signal.
        drop(store.write(batch).await);
        for sheet in known.iter().filter(|sheet| !kept.contains(&sheet.name)) {
            let start = match api.file(&sheet.path()).await {
                Ok(start) => start,
                Err(NetError::Offline) => return Err(NetError::Offline),
                // Withdrawn in between.
                Err(_) => continue,
            };
            let batch = Batch {
                puts: vec![(names::sheet(shop, &sheet.name), start)],
                ..Batch::default()
            };
            drop(store.write(batch).await);
        }
        Ok(())
    }

    /// What makes a new book one of this body; `None` when it is not on this phone.
    pub async fn start_of(self, shop: &str, name: &str) -> Option<Vec<Intention>> {
        let store = self.books().store.borrow().clone()?;
        let found = store
            .read(&names::sheet(shop, name), &BTreeSet::new())
            .await
            .ok()?;
        // Behind the name of revision 1 stand those of 10 as well.
        let mut entries = found.entries.into_iter();
        let entry = entries.find(|entry| entry.whole && entry.name.is_empty())?;
        json::read(&entry.bytes)
    }
}

fn lines(list: &[Value]) -> Vec<Known> {
    list.iter().filter_map(Known::of).collect()
}
