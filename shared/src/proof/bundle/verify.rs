//! The verification of a bundle, entry by entry, up to the first thing that does not hold.

use std::collections::HashMap;

use super::history::{Facts, History};
use super::{Bundle, Fault, FaultKind, Place};
use crate::ids::{BookId, ShopId};
use crate::proof::Digest;
use crate::proof::leaf::Event;
use crate::proof::roster::Roster;
use crate::proof::statement::{Claims, SignedStatement};
use crate::wire::Role;

mod entries;
mod statements;

use entries::Entry;

/// What was verified, and the first thing that does not hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Report {
    /// The log's key, as the file says it; whoever verifies compares it with the one they know.
    pub key: String,
    /// Entries that hold.
    pub leaves: u64,
    /// Root over all entries.
    pub root: Digest,
    /// Accepted changes that hold.
    pub changes: u64,
    /// Jobs.
    pub jobs: u64,
    /// Sign-offs that hold: signed by somebody who could, and following from the book.
    pub sign_offs: u64,
    /// Countersignatures that hold.
    pub countersignatures: u64,
    /// The first thing that does not hold.
    pub fault: Option<Fault>,
}

impl Report {
    /// Does everything hold?
    #[must_use]
    pub fn holds(&self) -> bool {
        self.fault.is_none()
    }
}

/// A book up to the heads of a statement, for somebody who can compute its result.
#[derive(Debug)]
pub struct Replay<'a> {
    /// The job.
    pub job: &'a BookId,
    /// The heads.
    pub heads: &'a [Digest],
    /// All changes up to them, in an order that can be applied.
    pub changes: Vec<&'a [u8]>,
    /// What was claimed: which stage, on which grid.
    pub claims: &'a Claims,
}

/// Verifies a bundle. `facts_of` asks a document engine about one change (`None` when it is none);
/// `recompute` gives the claims that follow from a book, or why there are none.
pub fn verify(
    bundle: &Bundle,
    facts_of: impl Fn(&[u8]) -> Option<Facts>,
    recompute: impl FnMut(Replay<'_>) -> Result<Claims, String>,
) -> Report {
    let mut check = Check {
        bundle,
        facts_of,
        recompute,
        roster: Roster::default(),
        books: HashMap::new(),
        sign_offs: HashMap::new(),
        two_people: false,
        last_ms: i64::MIN,
        next_change: 0,
        next_statement: 0,
        report: Report {
            key: bundle.key.clone(),
            leaves: 0,
            root: Digest::of(&[]),
            changes: 0,
            jobs: 0,
            sign_offs: 0,
            countersignatures: 0,
            fault: None,
        },
    };
    let fault = check.all().err();
    Report {
        fault: fault.map(|fault| *fault),
        ..check.report
    }
}

/// Faults are large and rare.
type Checked<T = ()> = Result<T, Box<Fault>>;

struct Check<'a, F, R> {
    bundle: &'a Bundle,
    facts_of: F,
    recompute: R,
    roster: Roster,
    books: HashMap<BookId, History>,
    /// Sign-offs that hold, by digest.
    sign_offs: HashMap<Digest, SignedStatement>,
    /// Must somebody else than the signer countersign?
    two_people: bool,
    last_ms: i64,
    next_change: usize,
    next_statement: usize,
    report: Report,
}

impl<F, R> Check<'_, F, R>
where
    F: Fn(&[u8]) -> Option<Facts>,
    R: FnMut(Replay<'_>) -> Result<Claims, String>,
{
    fn all(&mut self) -> Checked {
        let head = entries::head(self.bundle)?;
        let entries = entries::each(self.bundle)?;
        self.report.root = entries::root(self.bundle, &head)?;
        for entry in &entries {
            self.follow(entry)?;
            self.report.leaves += 1;
        }
        self.nothing_left()
    }

    /// One entry after those before it.
    fn follow(&mut self, entry: &Entry) -> Checked {
        let leaf = &entry.leaf;
        if leaf.shop != self.bundle.shop {
            return Err(entry.fault(FaultKind::Order, "shop", &self.bundle.shop, &leaf.shop));
        }
        self.time(entry)?;
        let begins = matches!(leaf.event, Event::ShopSetUp { .. });
        if begins != (entry.index == 0) {
            let expected = "shop-set-up as the first entry and nowhere else";
            return Err(entry.fault(FaultKind::Order, "event.kind", expected, leaf.event.kind()));
        }
        self.people(entry)?;
        match &leaf.event {
            Event::JobCreated { job } => {
                if self.books.insert(job.clone(), History::default()).is_some() {
                    return Err(entry.fault(FaultKind::Order, "event.job", "a new job", job));
                }
                self.report.jobs += 1;
            }
            Event::ChangesAccepted { job, hashes, heads } => {
                self.changes(entry, job, hashes, heads)?;
            }
            Event::SignedOff { job, statement } => self.statement(entry, job, statement, None)?,
            Event::Countersigned { job, statement, of } => {
                self.statement(entry, job, statement, Some(of))?;
            }
            Event::CountersignRule { two_people } => self.two_people = *two_people,
            Event::LinkMade { job, .. } | Event::LinkRevoked { job, .. } => {
                self.need_job(entry, job)?;
            }
            _ => {}
        }
        Ok(())
    }

    fn time(&mut self, entry: &Entry) -> Checked {
        let at_ms = entry.leaf.at_ms;
        if at_ms < self.last_ms {
            let expected = format!("at least {}", self.last_ms);
            return Err(entry.fault(FaultKind::Order, "at_ms", expected, at_ms));
        }
        self.last_ms = at_ms;
        Ok(())
    }

    /// Whoever did it was a member, with the role that it takes.
    fn people(&mut self, entry: &Entry) -> Checked {
        let leaf = &entry.leaf;
        let role = |roster: &Roster| {
            let who = leaf.who.as_ref()?;
            roster.role(&who.user, leaf.at_ms)
        };
        let before = role(&self.roster);
        self.roster.tell(leaf).map_err(|error| {
            entry.fault(
                FaultKind::Roster,
                "event",
                "an entry that follows from those before",
                error,
            )
        })?;
        let Some(who) = &leaf.who else {
            return Ok(());
        };
        let owners = match &leaf.event {
            Event::PersonInvited { .. }
            | Event::RoleChanged { .. }
            | Event::PersonRemoved { .. }
            | Event::ResetLinkMade { .. }
            | Event::CountersignRule { .. }
            | Event::Countersigned { .. } => true,
            // Everybody may give up a device of their own.
            Event::DeviceRevoked { user, .. } => *user != who.user,
            _ => false,
        };
        let allowed = match before {
            // Somebody joins by themselves.
            None => role(&self.roster).is_some() && !owners,
            Some(role) => role == Role::Owner || !owners,
        };
        if allowed {
            return Ok(());
        }
        let expected = if owners { "an owner" } else { "a member" };
        Err(entry.fault(FaultKind::Roster, "who.user", expected, &who.user))
    }

    fn need_job(&self, entry: &Entry, job: &BookId) -> Checked<&History> {
        let known = self.books.get(job);
        known.ok_or_else(|| {
            entry.fault(FaultKind::Order, "event.job", "a job that was created", job)
        })
    }

    /// The changes that an entry names are the next ones, and give the heads that it names.
    fn changes(
        &mut self,
        entry: &Entry,
        job: &BookId,
        hashes: &[Digest],
        heads: &[Digest],
    ) -> Checked {
        self.need_job(entry, job)?;
        for (number, hash) in hashes.iter().enumerate() {
            let index = self.next_change;
            let Some(kept) = self.bundle.changes.get(index) else {
                let field = format!("event.hashes[{number}]");
                return Err(entry.fault(FaultKind::Change, &field, "its change in the file", hash));
            };
            let fault = |field: &str, expected: String, found: String| {
                let mut fault = entry.fault(FaultKind::Change, field, expected, found);
                fault.place.line = Some(self.bundle.change_line(index));
                fault
            };
            if kept.job != *job {
                return Err(fault("job", job.to_string(), kept.job.to_string()));
            }
            if kept.hash != *hash {
                return Err(fault("hash", hash.to_string(), kept.hash.to_string()));
            }
            let Some(facts) = (self.facts_of)(&kept.bytes) else {
                return Err(fault(
                    "bytes",
                    "a whole change".into(),
                    "something else".into(),
                ));
            };
            if facts.hash != *hash {
                return Err(fault("bytes", hash.to_string(), facts.hash.to_string()));
            }
            let stands = "a new change that stands on earlier ones of its job".to_owned();
            let book = self.books.entry(job.clone()).or_default();
            if !book.add(index, facts) {
                return Err(fault("bytes", stands, hash.to_string()));
            }
            self.next_change += 1;
            self.report.changes += 1;
        }
        let found = self.need_job(entry, job)?.heads();
        match found == heads {
            true => Ok(()),
            false => Err(entry.fault(FaultKind::Heads, "event.heads", list(&found), list(heads))),
        }
    }

    /// Everything in the file is named by an entry.
    fn nothing_left(&self) -> Checked {
        let left = |kind, line, field: &str, found: &Digest| {
            let expected = "to be named by an entry";
            Err(Fault::new(kind, Place::line(line, field), expected, found))
        };
        if let Some(kept) = self.bundle.changes.get(self.next_change) {
            return left(
                FaultKind::Change,
                self.bundle.change_line(self.next_change),
                "hash",
                &kept.hash,
            );
        }
        if let Some(kept) = self.bundle.statements.get(self.next_statement) {
            return left(
                FaultKind::Statement,
                self.bundle.statement_line(self.next_statement),
                "digest",
                &kept.digest,
            );
        }
        Ok(())
    }
}

/// Name of a shop's log.
#[must_use]
pub fn origin(shop: &ShopId) -> String {
    format!("baybook/{shop}")
}

fn list(digests: &[Digest]) -> String {
    let texts: Vec<String> = digests.iter().map(Digest::to_string).collect();
    texts.join(" ")
}
