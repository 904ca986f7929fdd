//! Entries of the shop's log in plain words.

use std::collections::HashMap;

use shared::ids::{BookId, UserId};
use shared::proof::leaf::{Event, Leaf};
use shared::wire::Role;

use crate::text::Words;
use crate::text::office::Office;

/// What ids are called.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Names {
    /// Job numbers by document id.
    pub jobs: HashMap<String, String>,
    /// Names by user id.
    pub people: HashMap<String, String>,
}

impl Names {
    /// The number of a job; its id when it is not known here.
    #[must_use]
    pub fn job(&self, job: &BookId) -> String {
        let known = self
            .jobs
            .get(job.as_str())
            .filter(|number| !number.is_empty());
        known.cloned().unwrap_or_else(|| short(job.as_str()))
    }

    fn person(&self, user: &UserId) -> String {
        let known = self.people.get(user.as_str()).cloned();
        known.unwrap_or_else(|| short(user.as_str()))
    }
}

fn short(id: &str) -> String {
    id.chars().take(8).collect()
}

/// The word of a kind, for the filter.
#[must_use]
pub fn kind(office: &'static Office, kind: &str) -> &'static str {
    match kind {
        "shop-set-up" => office.kind_shop,
        "job-created" => office.kind_job,
        "changes-accepted" => office.kind_changes,
        "changes-refused" => office.kind_refused,
        "signed-off" => office.kind_signed,
        "countersigned" => office.kind_countersigned,
        "sheet-revised" => office.kind_sheet,
        "sheet-published" => office.kind_published,
        "sheet-withdrawn" => office.kind_withdrawn,
        "person-invited" => office.kind_invited,
        "person-joined" => office.kind_joined,
        "role-changed" => office.kind_role,
        "person-removed" => office.kind_removed,
        "reset-link-made" => office.kind_reset,
        "password-chosen" => office.kind_password,
        "countersign-rule" => office.kind_rule,
        "device-registered" => office.kind_device,
        "device-revoked" => office.kind_device_gone,
        "link-made" => office.kind_link,
        "link-revoked" => office.kind_link_gone,
        "signed-in" => office.kind_signed_in,
        "sign-in-failed" => office.kind_failed,
        "session-reused" => office.kind_reused,
        _ => office.kind_other,
    }
}

/// What happened, to what or whom: `Changes to a book: job 2041, 3 changes`.
#[must_use]
pub fn sentence(words: &Words, office: &'static Office, names: &Names, leaf: &Leaf) -> String {
    let role = |role: Role| match role {
        Role::Owner => words.owner,
        Role::Technician => words.technician,
    };
    let job = |job: &BookId| format!("{} {}", office.job, names.job(job));
    let about = match &leaf.event {
        Event::ShopSetUp { name } => name.clone(),
        Event::JobCreated { job: id }
        | Event::SignedOff { job: id, .. }
        | Event::Countersigned { job: id, .. }
        | Event::LinkMade { job: id, .. }
        | Event::LinkRevoked { job: id, .. } => job(id),
        Event::ChangesAccepted {
            job: id, hashes, ..
        } => {
            let count = match hashes.len() {
                1 => office.log_change.to_owned(),
                many => office.log_changes.replacen("{}", &many.to_string(), 1),
            };
            format!("{}, {count}", job(id))
        }
        Event::ChangesRefused {
            job: id, reason, ..
        } => format!("{}, {reason}", job(id)),
        Event::SheetRevised {
            sheet, revision, ..
        }
        | Event::SheetPublished { sheet, revision } => format!("{sheet}, {revision}"),
        Event::SheetWithdrawn { sheet } => sheet.clone(),
        Event::PersonInvited { role: of } => role(*of).to_owned(),
        Event::PersonJoined { name, role: of, .. } => format!("{name}, {}", role(*of)),
        Event::RoleChanged { user, role: of } => format!("{}: {}", names.person(user), role(*of)),
        Event::PersonRemoved { user }
        | Event::ResetLinkMade { user }
        | Event::PasswordChosen { user }
        | Event::DeviceRevoked { user, .. }
        | Event::SignInFailed { user }
        | Event::SessionReused { user } => names.person(user),
        Event::DeviceRegistered { user, key, .. } => {
            let with_key = key.map(|_| format!(", {}", office.with_key));
            format!("{}{}", names.person(user), with_key.unwrap_or_default())
        }
        Event::CountersignRule { two_people } => match two_people {
            true => office.rule_on.to_owned(),
            false => office.rule_off.to_owned(),
        },
        Event::SignedIn => String::new(),
    };
    let what = kind(office, leaf.event.kind());
    match about.is_empty() {
        true => what.to_owned(),
        false => format!("{what}: {about}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::{Language, Speaks};
    use shared::proof::Digest;

    #[test]
    fn every_kind_has_words_in_both_languages() {
        for language in [Language::English, Language::Spanish] {
            let office = language.office();
            for name in Event::KINDS {
                assert_ne!(kind(office, name), office.kind_other, "{name}");
            }
        }
    }

    #[test]
    fn an_entry_is_a_sentence() {
        let leaf = Leaf::parse(
            br#"{"at_ms":1800000000000,"event":{"job":"book-7","kind":"link-made","expires_at_ms":1,"link":"l"},"format":"baybook-leaf/1","index":3,"shop":"s","who":null}"#,
        );
        assert!(leaf.is_err(), "not written in the one way");
        let leaf = Leaf::parse(
            br#"{"at_ms":1800000000000,"event":{"expires_at_ms":1,"job":"book-7","kind":"link-made","link":"l"},"format":"baybook-leaf/1","index":3,"shop":"s","who":null}"#,
        )
        .unwrap();
        let english = Language::English;
        let mut names = Names::default();
        names.jobs.insert("book-7".to_owned(), "2041".to_owned());
        let said = sentence(english.words(), english.office(), &names, &leaf);
        assert_eq!(said, "Adjuster's link made: job 2041");

        let change = Digest([7; 32]);
        let accepted = |count: usize| {
            let mut leaf = leaf.clone();
            leaf.event = Event::ChangesAccepted {
                job: BookId::parse("book-7").unwrap(),
                hashes: vec![change; count],
                heads: vec![change],
            };
            sentence(english.words(), english.office(), &names, &leaf)
        };
        assert!(
            accepted(1).ends_with("job 2041, 1 change"),
            "{}",
            accepted(1)
        );
        assert!(
            accepted(3).ends_with("job 2041, 3 changes"),
            "{}",
            accepted(3)
        );
    }
}
