//! What came into a book since its last sign-off, entry by entry, for the owner's desk.
//!
//! An entry is one change of the document. What it did is the difference between the book as its
//! author had it and the same with it, whatever others did beside. Lengths come out in a person's
//! unit; what only a screen knows how to say (the kinds) stays a code.

use std::collections::{BTreeMap, BTreeSet};

use automerge::{Automerge, ChangeHash, ObjId, PatchAction, Prop, ROOT, ReadDoc};
use shared::book;
use shared::figures::Figures;
use shared::ids::{PointId, ReadingId};
use shared::job::{Job, Reading};
use shared::plain::plain;
use shared::proof::Digest;
use shared::proof::statement::sign_offs;
use shared::speech::Speech;
use shared::wire::{BookDeed, BookEntry, ChangesSince, DeedKind};
use tokio::task::spawn_blocking;

use super::Live;
use super::load::{guarded, load};
use crate::clock::rfc3339;
use crate::store::{DocKey, Received};

/// Entries that are told.
const ENTRIES: usize = 20;
/// Things of one entry that are told: one that takes over a whole job does hundreds.
const DEEDS: usize = 3;
/// Characters of a note or a reason that are told.
const TEXT: usize = 200;

/// What came since; nothing when the book was never signed off, `None` when there is no such book.
///
/// # Errors
/// When the database fails or the record does not load.
pub async fn changes_since(
    live: &Live,
    key: &DocKey,
    figures: Figures,
) -> anyhow::Result<Option<ChangesSince>> {
    // What is signed is in the book by the time that the book is read.
    let texts = live.store.statements(key).await?;
    let loaded = load(&live.store, key).await?;
    if loaded.seq == 0 {
        return Ok(None);
    }
    let Some(last) = sign_offs(&texts).into_iter().next() else {
        return Ok(Some(ChangesSince::default()));
    };
    let signed = last.signed.statement().heads.iter();
    let signed: Vec<ChangeHash> = signed.map(|head| ChangeHash(head.0)).collect();
    let received = live.store.received(key).await?;
    let tell = move || guarded(|| tell(&loaded.doc, &signed, &received, Speech::of(figures)));
    Ok(Some(spawn_blocking(tell).await??))
}

/// `received` has the newest first.
fn tell(
    doc: &Automerge,
    signed: &[ChangeHash],
    received: &[Received],
    speech: Speech,
) -> anyhow::Result<ChangesSince> {
    if book::since(doc, signed).is_none() {
        return Ok(ChangesSince::default());
    }
    let metas = doc.get_changes_meta(signed);
    let mut since: BTreeMap<Digest, Vec<ChangeHash>> = BTreeMap::new();
    for meta in metas {
        since.insert(Digest(meta.hash.0), meta.deps.to_vec());
    }
    let told: Vec<&Received> = received
        .iter()
        .filter(|one| since.contains_key(&one.hash))
        .collect();
    let (job, _) = book::read(doc);
    let entry = |one: &&Received| {
        let before = since.get(&one.hash).map_or(&[][..], Vec::as_slice);
        let teller = Teller {
            doc,
            job: &job,
            speech,
            before,
            after: [ChangeHash(one.hash.0)],
        };
        let mut deeds = teller.deeds();
        let more = deeds.len().saturating_sub(DEEDS) as u64;
        deeds.truncate(DEEDS);
        BookEntry {
            by: said(&one.by),
            at: rfc3339(one.at_ms),
            deeds,
            more,
        }
    };
    Ok(ChangesSince {
        entries: told.iter().take(ENTRIES).map(entry).collect(),
        more: told.len().saturating_sub(ENTRIES) as u64,
    })
}

/// What somebody typed, without anything that steers a page, and no longer than a line or two.
fn said(text: &str) -> String {
    match text.char_indices().nth(TEXT) {
        Some((end, _)) => format!("{}…", plain(&text[..end])),
        None => plain(text).into_owned(),
    }
}

/// One change, told.
struct Teller<'a> {
    doc: &'a Automerge,
    job: &'a Job,
    speech: Speech,
    before: &'a [ChangeHash],
    after: [ChangeHash; 1],
}

/// A root map's record and what of it was touched.
type Touched = BTreeMap<(String, String), BTreeSet<String>>;

impl Teller<'_> {
    /// Readings first, so that they are told where not everything is.
    fn deeds(&self) -> Vec<BookDeed> {
        let touched = self.touched();
        let each = touched.iter();
        let mut deeds: Vec<BookDeed> = each
            .map(|((root, record), fields)| self.deed(root, record, fields))
            .collect();
        deeds.sort_by_key(|deed| deed.kind);
        // Card, rule and sheet are touched field by field.
        let mut seen = BTreeSet::new();
        deeds.retain(|deed| !deed.about.is_empty() || seen.insert(deed.kind));
        deeds
    }

    fn touched(&self) -> Touched {
        let mut touched = Touched::new();
        for patch in self.doc.diff(self.before, &self.after) {
            let last = match patch.action {
                PatchAction::PutMap { key, .. } | PatchAction::DeleteMap { key } => Some(key),
                PatchAction::Conflict {
                    prop: Prop::Map(key),
                }
                | PatchAction::Increment {
                    prop: Prop::Map(key),
                    ..
                } => Some(key),
                _ => None,
            };
            let names = patch.path.into_iter().filter_map(|(_, prop)| match prop {
                Prop::Map(key) => Some(key),
                Prop::Seq(_) => None,
            });
            let mut names = names.chain(last);
            if let Some(root) = names.next() {
                let record = names.next().unwrap_or_default();
                touched
                    .entry((root, record))
                    .or_default()
                    .extend(names.next());
            }
        }
        touched
    }

    fn deed(&self, root: &str, record: &str, fields: &BTreeSet<String>) -> BookDeed {
        let is_new = self.record(root, record, self.before).is_none();
        let told = |kind, about: String| BookDeed {
            kind,
            about: said(&about),
            was: String::new(),
            why: String::new(),
        };
        let added_or = |added, changed| if is_new { added } else { changed };
        match root {
            "readings" => self.reading(record),
            "asides" => {
                let reading = self.now(root, record, "reading").unwrap_or_default();
                let why = self.now(root, record, "why").unwrap_or_default();
                let kind = match self.flag(root, record, "aside") {
                    Some(false) => DeedKind::ReadingBroughtBack,
                    _ => DeedKind::ReadingSetAside,
                };
                BookDeed {
                    why: said(self.speech.why_aside(&why)),
                    ..told(kind, self.reading_words(&reading))
                }
            }
            "points" => {
                let renamed = !is_new && fields.contains("label");
                let point = PointId::parse(record).ok();
                let known = || point.map(|id| self.speech.point(self.job, &id));
                let kind = match renamed {
                    true => DeedKind::PointRenamed,
                    false => added_or(DeedKind::PointAdded, DeedKind::PointChanged),
                };
                match renamed {
                    true => self.named(root, record, kind),
                    false => told(kind, known().unwrap_or_else(|| record.to_owned())),
                }
            }
            "stages" => self.named(
                root,
                record,
                added_or(DeedKind::StageBegun, DeedKind::StageChanged),
            ),
            "setups" => self.named(
                root,
                record,
                added_or(DeedKind::SetupAdded, DeedKind::SetupChanged),
            ),
            "tools" => self.named(
                root,
                record,
                added_or(DeedKind::ToolAdded, DeedKind::ToolChanged),
            ),
            "members" => self.named(root, record, DeedKind::MemberChanged),
            "notes" => told(
                DeedKind::NoteWritten,
                self.now(root, record, "text").unwrap_or_default(),
            ),
            "photos" => match self.now(root, record, "strikes") {
                Some(_) => BookDeed {
                    why: said(&self.now(root, record, "why").unwrap_or_default()),
                    ..told(DeedKind::PhotoHidden, String::new())
                },
                None => told(
                    DeedKind::PhotoAdded,
                    self.now(root, record, "caption").unwrap_or_default(),
                ),
            },
            "job" => told(DeedKind::CardChanged, String::new()),
            "settings" => told(DeedKind::RuleChanged, String::new()),
            "sheet" => told(DeedKind::SheetChanged, String::new()),
            _ => told(DeedKind::Other, String::new()),
        }
    }

    fn reading(&self, record: &str) -> BookDeed {
        let replaced = self.now("readings", record, "replaces");
        BookDeed {
            kind: match replaced {
                Some(_) => DeedKind::ReadingReplaced,
                None => DeedKind::ReadingRecorded,
            },
            about: self.reading_words(record),
            was: replaced.map_or_else(String::new, |id| self.reading_words(&id)),
            why: String::new(),
        }
    }

    /// A reading as people say it; its name when the book has none that can be read.
    fn reading_words(&self, id: &str) -> String {
        let known = ReadingId::parse(id).ok();
        let find = |known: ReadingId| self.job.readings.iter().find(|one| one.id == known);
        let found: Option<&Reading> = known.and_then(find);
        found.map_or_else(
            || said(id),
            |reading| self.speech.reading(self.job, reading),
        )
    }

    /// Something with a label, and what it was called before.
    fn named(&self, root: &str, record: &str, kind: DeedKind) -> BookDeed {
        let label = |heads: &[ChangeHash]| {
            let found = self.text(root, record, "label", heads);
            found.filter(|label| !label.trim().is_empty())
        };
        let (was, is) = (label(self.before), label(&self.after));
        let was = was.filter(|was| is.as_ref() != Some(was));
        BookDeed {
            kind,
            about: said(is.as_deref().unwrap_or(record)),
            was: was.map_or_else(String::new, |was| said(&was)),
            why: String::new(),
        }
    }

    fn record(&self, root: &str, record: &str, heads: &[ChangeHash]) -> Option<ObjId> {
        let (_, map) = self.doc.get(ROOT, root).ok()??;
        let (value, found) = self.doc.get_at(&map, record, heads).ok()??;
        value.is_object().then_some(found)
    }

    fn text(&self, root: &str, record: &str, field: &str, heads: &[ChangeHash]) -> Option<String> {
        let record = self.record(root, record, heads)?;
        let (value, _) = self.doc.get_at(&record, field, heads).ok()??;
        value.as_str().map(str::to_owned)
    }

    fn now(&self, root: &str, record: &str, field: &str) -> Option<String> {
        self.text(root, record, field, &self.after)
    }

    fn flag(&self, root: &str, record: &str, field: &str) -> Option<bool> {
        let record = self.record(root, record, &self.after)?;
        let (value, _) = self.doc.get_at(&record, field, &self.after).ok()??;
        value.as_bool()
    }
}
