//! What the office asks the server about sheets.

use gloo_net::http::Method;
use serde_json::Value;
use shared::library::{Sheet, SheetLine, parse, write};
use shared::wire::{Code, PublishSheet, Refusal};

use super::session::Session;
use crate::net::NetError;

/// Where a revision goes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// A new sheet.
    New,
    /// After this revision of a sheet.
    After(String, u32),
}

#[expect(
    clippy::missing_errors_doc,
    reason = "all of them answer with NetError"
)]
impl Session {
    /// The newest revision of every sheet.
    pub async fn sheets(self) -> Result<Vec<SheetLine>, NetError> {
        self.api()
            .call(Method::GET, "/api/sheets", None::<&()>)
            .await
    }

    /// What the other shops of the server have published.
    pub async fn shared_sheets(self) -> Result<Vec<SheetLine>, NetError> {
        self.api()
            .call(Method::GET, "/api/shared-sheets", None::<&()>)
            .await
    }

    /// Publishes a revision of a sheet to all shops of the server.
    pub async fn publish_sheet(self, sheet: &str, revision: u32) -> Result<(), NetError> {
        let path = format!("/api/sheets/{sheet}/published");
        let body = PublishSheet { revision };
        self.api()
            .call::<Option<()>>(Method::POST, &path, Some(&body))
            .await?;
        Ok(())
    }

    /// Ends it.
    pub async fn withdraw_sheet(self, sheet: &str) -> Result<(), NetError> {
        let path = format!("/api/sheets/{sheet}/published");
        self.api()
            .call::<Option<()>>(Method::DELETE, &path, None::<&()>)
            .await?;
        Ok(())
    }

    /// All revisions of a sheet, the newest first.
    pub async fn revisions(self, sheet: &str) -> Result<Vec<SheetLine>, NetError> {
        let path = format!("/api/sheets/{sheet}/revisions");
        self.api().call(Method::GET, &path, None::<&()>).await
    }

    /// What a revision says.
    pub async fn sheet(self, sheet: &str, revision: u32) -> Result<Sheet, NetError> {
        self.file_of(&format!("/api/sheets/{sheet}/revisions/{revision}"))
            .await
    }

    /// What a listed sheet says, this shop's or another's.
    pub async fn sheet_of(self, line: &SheetLine) -> Result<Sheet, NetError> {
        match line.shared_by {
            Some(_) => {
                self.file_of(&format!("/api/shared-sheets/{}", line.id))
                    .await
            }
            None => self.sheet(&line.id, line.revision).await,
        }
    }

    async fn file_of(self, path: &str) -> Result<Sheet, NetError> {
        let file: Value = self.api().call(Method::GET, path, None::<&()>).await?;
        // The digest in the file is checked: a sheet that was changed on its way is none.
        parse(&file.to_string()).map_err(|_| {
            NetError::Refused(Refusal {
                code: Code::Internal,
                subject: None,
            })
        })
    }

    /// Keeps a revision.
    pub async fn keep_sheet(self, place: &Place, sheet: &Sheet) -> Result<SheetLine, NetError> {
        let path = match place {
            Place::New => "/api/sheets".to_owned(),
            Place::After(id, revision) => {
                format!("/api/sheets/{id}/revisions?after={revision}")
            }
        };
        let file: Value = serde_json::from_str(&write(sheet)).unwrap_or_default();
        self.api().call(Method::POST, &path, Some(&file)).await
    }
}
