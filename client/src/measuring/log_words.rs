//! Entries of the shop's log, and of a book since its sign-off, in plain words.

use std::collections::HashMap;

use shared::ids::{BookId, UserId};
use shared::proof::leaf::{Event, Leaf};
use shared::wire::{BookDeed, BookEntry, DeedKind, Role};

use crate::text::Words;
use crate::text::desk::Desk;
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

/// The word of what was done to a book.
#[must_use]
pub fn deed_kind(desk: &'static Desk, kind: DeedKind) -> &'static str {
    match kind {
        DeedKind::ReadingRecorded => desk.reading_recorded,
        DeedKind::ReadingReplaced => desk.reading_replaced,
        DeedKind::ReadingSetAside => desk.reading_set_aside,
        DeedKind::ReadingBroughtBack => desk.reading_brought_back,
        DeedKind::PointAdded => desk.point_added,
        DeedKind::PointRenamed => desk.point_renamed,
        DeedKind::PointChanged => desk.point_changed,
        DeedKind::StageBegun => desk.stage_begun,
        DeedKind::StageChanged => desk.stage_changed,
        DeedKind::SetupAdded => desk.setup_added,
        DeedKind::SetupChanged => desk.setup_changed,
        DeedKind::ToolAdded => desk.tool_added,
        DeedKind::ToolChanged => desk.tool_changed,
        DeedKind::MemberChanged => desk.member_changed,
        DeedKind::NoteWritten => desk.note_written,
        DeedKind::PhotoAdded => desk.photo_added,
        DeedKind::PhotoHidden => desk.photo_hidden,
        DeedKind::CardChanged => desk.card_changed,
        DeedKind::RuleChanged => desk.rule_changed,
        DeedKind::SheetChanged => desk.sheet_changed,
        DeedKind::Other => desk.other_change,
    }
}

/// What somebody did to a book: `Reading set aside: height · tower · left · 96.0 mm, because: tape sagged`.
#[must_use]
pub fn entry(desk: &'static Desk, entry: &BookEntry) -> String {
    let deed = |deed: &BookDeed| {
        let mut said = deed_kind(desk, deed.kind).to_owned();
        let parts = [
            (": ", "", &deed.about),
            (", ", desk.before, &deed.was),
            (", ", desk.because, &deed.why),
        ];
        for (mark, word, text) in parts {
            if !text.is_empty() {
                let space = if word.is_empty() { "" } else { " " };
                said.push_str(&format!("{mark}{word}{space}{text}"));
            }
        }
        said
    };
    let mut deeds: Vec<String> = entry.deeds.iter().map(deed).collect();
    deeds.extend(more(desk, entry.more));
    match deeds.is_empty() {
        true => desk.other_change.to_owned(),
        false => deeds.join("; "),
    }
}

/// `and 5 more`; nothing when there are none.
#[must_use]
pub fn more(desk: &'static Desk, count: u64) -> Option<String> {
    (count > 0).then(|| desk.and_more.replacen("{}", &count.to_string(), 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_done_has_words_in_both_languages() {
        for language in [Language::English, Language::Spanish] {
            let desk = crate::text::desk::words(language);
            let words: std::collections::HashSet<&str> = DeedKind::ALL
                .iter()
                .map(|kind| deed_kind(desk, *kind))
                .collect();
            assert_eq!(words.len(), DeedKind::ALL.len(), "each has its own");
        }
    }

    #[test]
    fn an_entry_of_a_book_is_a_sentence() {
        let desk = crate::text::desk::words(Language::English);
        let deed = |kind, about: &str, was: &str, why: &str| BookDeed {
            kind,
            about: about.to_owned(),
            was: was.to_owned(),
            why: why.to_owned(),
        };
        let mut one = BookEntry {
            by: "Jonas".to_owned(),
            at: String::new(),
            deeds: vec![deed(
                DeedKind::ReadingSetAside,
                "height · 96.0 mm",
                "",
                "tape sagged",
            )],
            more: 0,
        };
        assert_eq!(
            entry(desk, &one),
            "Reading set aside: height · 96.0 mm, because: tape sagged"
        );
        one.deeds = vec![
            deed(DeedKind::PointRenamed, "bolt", "hole", ""),
            deed(DeedKind::RuleChanged, "", "", ""),
        ];
        one.more = 7;
        assert_eq!(
            entry(desk, &one),
            "Point renamed: bolt, before: hole; Tolerance or rule changed; and 7 more"
        );
        one.deeds.clear();
        one.more = 0;
        assert_eq!(entry(desk, &one), "Another entry");
    }
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
