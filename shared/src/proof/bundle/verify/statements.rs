//! Statements: whose they are, and whether they follow from the book.

use super::{Check, Checked, Entry, Replay};
use crate::ids::BookId;
use crate::proof::Digest;
use crate::proof::bundle::history::Facts;
use crate::proof::bundle::{Fault, FaultKind};
use crate::proof::canonical::{Difference, first_difference};
use crate::proof::statement::{Claims, Deed, SignedStatement, Statement};

/// Makes a fault in the line of a statement.
struct InLine<'a> {
    entry: &'a Entry,
    line: usize,
}

impl InLine<'_> {
    fn fault(
        &self,
        kind: FaultKind,
        field: &str,
        expected: impl ToString,
        found: impl ToString,
    ) -> Box<Fault> {
        let mut fault = self.entry.fault(kind, field, expected, found);
        fault.place.line = Some(self.line);
        fault
    }

    /// Refuses when two texts are not the same.
    fn same(&self, field: &str, expected: impl ToString, found: impl ToString) -> Checked {
        let (expected, found) = (expected.to_string(), found.to_string());
        match expected == found {
            true => Ok(()),
            false => Err(self.fault(FaultKind::Statement, field, expected, found)),
        }
    }

    fn differs(&self, kind: FaultKind, within: &str, difference: Difference) -> Box<Fault> {
        let Difference {
            field,
            expected,
            found,
        } = difference;
        let dot = if field.starts_with('[') { "" } else { "." };
        self.fault(kind, &format!("{within}{dot}{field}"), expected, found)
    }
}

impl<F, R> Check<'_, F, R>
where
    F: Fn(&[u8]) -> Option<Facts>,
    R: FnMut(Replay<'_>) -> Result<Claims, String>,
{
    /// The statement that an entry names; `of` is the sign-off that a countersignature joins.
    pub(super) fn statement(
        &mut self,
        entry: &Entry,
        job: &BookId,
        digest: &Digest,
        of: Option<&Digest>,
    ) -> Checked {
        self.need_job(entry, job)?;
        let Some(kept) = self.bundle.statements.get(self.next_statement) else {
            let expected = "its statement in the file";
            return Err(entry.fault(FaultKind::Statement, "event.statement", expected, digest));
        };
        let line = self.bundle.statement_line(self.next_statement);
        let place = InLine { entry, line };
        place.same("digest", digest, kept.digest)?;
        place.same("text", digest, Digest::of(kept.text.as_bytes()))?;
        let signed = SignedStatement::parse(&kept.text)
            .map_err(|error| place.fault(FaultKind::Statement, "text", "a statement", error))?;
        signed
            .verify()
            .map_err(|error| place.fault(FaultKind::Signature, "signature", signed.key(), error))?;
        let statement = signed.statement();
        place.same("statement.shop", &self.bundle.shop, &statement.shop)?;
        place.same("statement.job", job, &statement.job)?;
        self.signer(&place, &signed)?;
        self.deed(&place, statement, of)?;
        self.follows(&place, statement)?;
        if of.is_none() {
            self.sign_offs.insert(*digest, signed);
            self.report.sign_offs += 1;
        } else {
            self.report.countersignatures += 1;
        }
        self.next_statement += 1;
        Ok(())
    }

    /// The person of the entry signed it, with a key that was theirs, on the device of the key.
    fn signer(&self, place: &InLine<'_>, signed: &SignedStatement) -> Checked {
        let leaf = &place.entry.leaf;
        let who = &signed.statement().who;
        let sender = leaf.who.as_ref().map(|who| who.user.to_string());
        place.same("statement.who.user", sender.unwrap_or_default(), &who.user)?;
        let (_, device) = self
            .roster
            .may_sign(&who.user, signed.key(), leaf.at_ms)
            .map_err(|error| {
                let expected = format!("a key of {} that is good then", who.user);
                place.fault(
                    FaultKind::Signature,
                    "key",
                    expected,
                    format!("{} {error}", who.user),
                )
            })?;
        let said = who.device.as_ref().map(ToString::to_string);
        place.same("statement.who.device", device, said.unwrap_or_default())
    }

    /// It is what the entry says; a countersignature says what its sign-off says.
    fn deed(&self, place: &InLine<'_>, statement: &Statement, of: Option<&Digest>) -> Checked {
        let expected = of.map_or(Deed::SignOff, |of| Deed::Countersign { of: *of });
        if let Some(difference) = first_difference(&expected, &statement.deed) {
            return Err(place.differs(FaultKind::Statement, "statement.deed", difference));
        }
        let Some(of) = of else {
            return Ok(());
        };
        let Some(first) = self.sign_offs.get(of) else {
            let expected = "an earlier sign-off";
            return Err(place.fault(FaultKind::Statement, "statement.deed.of", expected, of));
        };
        let first = first.statement();
        place.same("statement.job", &first.job, &statement.job)?;
        if self.two_people && first.who.user == statement.who.user {
            let expected = format!("somebody else than {}", first.who.user);
            let (kind, field) = (FaultKind::Statement, "statement.who.user");
            return Err(place.fault(kind, field, expected, &statement.who.user));
        }
        let heads = first_difference(&first.heads, &statement.heads)
            .map(|difference| place.differs(FaultKind::Statement, "statement.heads", difference));
        let claims = first_difference(&first.claims, &statement.claims)
            .map(|difference| place.differs(FaultKind::Statement, "statement.claims", difference));
        heads.or(claims).map_or(Ok(()), Err)
    }

    /// Computed again from the book up to its heads, the claims are the same.
    fn follows(&mut self, place: &InLine<'_>, statement: &Statement) -> Checked {
        let book = self.need_job(place.entry, &statement.job)?;
        let places = book.up_to(&statement.heads).map_err(|head| {
            let expected = "heads that the book had";
            place.fault(FaultKind::Statement, "statement.heads", expected, head)
        })?;
        let changes = places
            .iter()
            .filter_map(|index| self.bundle.changes.get(*index));
        let replay = Replay {
            job: &statement.job,
            heads: &statement.heads,
            changes: changes.map(|change| change.bytes.as_slice()).collect(),
            claims: &statement.claims,
        };
        let computed = (self.recompute)(replay).map_err(|why| {
            let expected = "claims that can be computed again";
            place.fault(FaultKind::Claims, "statement.claims", expected, why)
        })?;
        match computed.first_difference(&statement.claims) {
            None => Ok(()),
            Some(difference) => {
                Err(place.differs(FaultKind::Claims, "statement.claims", difference))
            }
        }
    }
}
