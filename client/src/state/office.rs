//! What the office asks the server: people, devices, links, rules, the log. Nothing of it is kept on
//! the phone.

use gloo_net::http::Method;
use serde::de::DeserializeOwned;
use shared::figures::Figures;
use shared::proof::page::LogPage;
use shared::wire::{
    AdjusterLink, BackupState, ChangeRole, ChangesSince, ChooseReset, DeviceLine, DueTool,
    Invitation, Invite, JobLine, LinkLine, MakeLink, Person, ResetLink, Role, ShopRules, SignedJob,
};

use super::session::Session;
use crate::net::NetError;

/// What is looked for in the log; empty for everything.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LogFilter {
    /// Document id of a job.
    pub job: String,
    /// User id.
    pub person: String,
    /// Kind of entry.
    pub kind: String,
}

type Answer<T> = Result<T, NetError>;

#[expect(
    clippy::missing_errors_doc,
    reason = "all of them answer with NetError"
)]
impl Session {
    async fn get<T: DeserializeOwned>(self, path: &str) -> Answer<T> {
        self.api().call(Method::GET, path, None::<&()>).await
    }

    async fn post<T: DeserializeOwned>(
        self,
        path: &str,
        body: &impl serde::Serialize,
    ) -> Answer<T> {
        self.api().call(Method::POST, path, Some(body)).await
    }

    async fn delete(self, path: &str) -> Answer<()> {
        self.api()
            .call::<Option<()>>(Method::DELETE, path, None::<&()>)
            .await
            .map(drop)
    }

    /// Everybody who is or was in the shop.
    pub async fn people(self) -> Answer<Vec<Person>> {
        self.get("/api/people").await
    }

    /// A link for somebody new.
    pub async fn invite(self, role: Role) -> Answer<Invitation> {
        self.post("/api/invitations", &Invite { role }).await
    }

    /// Gives somebody another role.
    pub async fn change_role(self, user: &str, role: Role) -> Answer<()> {
        let path = format!("/api/people/{user}/role");
        self.post::<Option<()>>(&path, &ChangeRole { role })
            .await
            .map(drop)
    }

    /// Takes somebody out of the shop.
    pub async fn remove_person(self, user: &str) -> Answer<()> {
        self.delete(&format!("/api/people/{user}")).await
    }

    /// A link with which somebody chooses a new password.
    pub async fn reset_link(self, user: &str) -> Answer<ResetLink> {
        self.post(&format!("/api/people/{user}/reset"), &()).await
    }

    /// Chooses a new password with such a link, and signs in.
    pub async fn choose_password(self, form: ChooseReset) -> Answer<()> {
        self.begin("/api/reset", &form).await
    }

    /// Devices: one's own, or somebody's.
    pub async fn devices(self, of: Option<&str>) -> Answer<Vec<DeviceLine>> {
        match of {
            Some(user) => self.get(&format!("/api/people/{user}/devices")).await,
            None => self.get("/api/devices").await,
        }
    }

    /// Takes a device away from oneself or somebody.
    pub async fn revoke_device(self, of: Option<&str>, device: &str) -> Answer<()> {
        match of {
            Some(user) => {
                let path = format!("/api/people/{user}/devices/{device}");
                self.delete(&path).await
            }
            None => self.delete(&format!("/api/devices/{device}")).await,
        }
    }

    /// The shop's jobs, each with its latest stage.
    pub async fn job_lines(self) -> Answer<Vec<JobLine>> {
        self.get("/api/jobs").await
    }

    /// The rules of the shop.
    pub async fn rules(self) -> Answer<ShopRules> {
        self.get("/api/rules").await
    }

    /// Sets them.
    pub async fn set_rules(self, rules: ShopRules) -> Answer<()> {
        self.post::<Option<()>>("/api/rules", &rules)
            .await
            .map(drop)
    }

    /// A page of the log, newest first.
    pub async fn log(self, filter: &LogFilter, below: Option<u64>) -> Answer<LogPage> {
        let mut path = "/api/log?limit=30".to_owned();
        for (name, value) in [
            ("job", &filter.job),
            ("person", &filter.person),
            ("kind", &filter.kind),
        ] {
            if !value.is_empty() {
                path.push_str(&format!("&{name}={value}"));
            }
        }
        if let Some(below) = below {
            path.push_str(&format!("&below={below}"));
        }
        self.get(&path).await
    }

    /// Which jobs are signed off.
    pub async fn signed_jobs(self) -> Answer<Vec<SignedJob>> {
        self.get("/api/signed-jobs").await
    }

    /// What came into a job since its last sign-off.
    pub async fn since(self, book: &str, figures: Figures) -> Answer<ChangesSince> {
        let unit = figures.unit.code();
        let language = figures.language.code();
        let path = format!("/api/jobs/{book}/since?language={language}&unit={unit}");
        self.get(&path).await
    }

    /// When the server was last backed up.
    pub async fn backup(self) -> Answer<BackupState> {
        self.get("/api/backup").await
    }

    /// Which tools are due for a check.
    pub async fn due_tools(self) -> Answer<Vec<DueTool>> {
        self.get("/api/due-tools").await
    }

    /// Adjusters' links: of one job, or of all.
    pub async fn links(self, book: Option<&str>) -> Answer<Vec<LinkLine>> {
        match book {
            Some(book) => self.get(&format!("/api/jobs/{book}/links")).await,
            None => self.get("/api/links").await,
        }
    }

    /// Makes a link for an adjuster.
    pub async fn make_link(self, book: &str, link: MakeLink) -> Answer<AdjusterLink> {
        self.post(&format!("/api/jobs/{book}/links"), &link).await
    }

    /// Takes a link back.
    pub async fn revoke_link(self, link: &str) -> Answer<()> {
        self.delete(&format!("/api/links/{link}")).await
    }
}
