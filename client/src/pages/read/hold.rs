//! What a person has in hand: taken, kept under the tape, and let go.

use std::time::Duration;

use gloo_timers::future::sleep;
use leptos::prelude::*;
use leptos::task::spawn_local;
use shared::job::Reading;

use super::Reader;
use crate::measuring::entry::Entry;
use crate::measuring::propose::{InHand, Proposal, Why, answer_to, answers_to};
use crate::measuring::task::{Task, likely_side};

/// How long a fresh proposal may still change, because the solution is on its way; nobody has gone to
/// the point by then.
const SETTLES: Duration = Duration::from_secs(2);

impl Reader {
    /// Takes the task on the screen in hand, unless one is.
    pub(super) fn hold(&self) {
        let (Some(here), Some(proposal)) = (self.here(), untrack(|| self.proposal())) else {
            return;
        };
        let is_held = |held: &InHand| held.here == here && held.proposal.task == proposal.task;
        if !self.in_hand.read_untracked().as_ref().is_some_and(is_held) {
            let side = self.side_untracked();
            let job = self.book.job.read_untracked();
            let stood = answer_to(&job, &here, &proposal.task).map(|reading| reading.id.clone());
            self.in_hand.set(Some(InHand {
                here,
                proposal,
                side,
                stood,
            }));
        }
    }

    /// Another stage or set-up under a number that somebody has begun: it is of the same point there. Of
    /// another kind it is no number.
    pub(super) fn stay(&self) {
        let (Some(here), Some(held)) = (self.here(), self.in_hand.get_untracked()) else {
            self.hold();
            return;
        };
        if held.here.kind != here.kind {
            self.entry.set(Entry::default());
            self.let_go();
            return;
        }
        let stood = {
            let job = self.book.job.read_untracked();
            let stands = answer_to(&job, &here, &held.proposal.task);
            stands.map(|reading| reading.id.clone())
        };
        let stays = InHand {
            here,
            stood,
            ..held
        };
        if self.in_hand.read_untracked().as_ref() != Some(&stays) {
            self.in_hand.set(Some(stays));
        }
    }

    /// What comes next may be proposed, and is in hand a moment later.
    pub(super) fn let_go(&self) {
        self.in_hand.set(None);
        self.let_go.update_value(|count| *count += 1);
        let (reader, now) = (*self, self.let_go.get_value());
        spawn_local(async move {
            sleep(SETTLES).await;
            // The page may be gone by then.
            if reader.let_go.try_get_value() == Some(now) {
                reader.hold();
            }
        });
    }

    /// Is what was taken back in hand, for what is chosen now?
    pub(super) fn is_taken_back(&self) -> bool {
        let (here, held) = (self.here(), self.in_hand.read_untracked());
        let held = held
            .as_ref()
            .filter(|held| held.proposal.why == Why::TakenBack);
        held.is_some_and(|held| Some(&held.here) == here.as_ref())
    }

    /// What was just taken back is read anew, unless something else is half entered by now.
    pub(super) fn take_back(&self, reading: &Reading) {
        self.answered.set(None);
        if untrack(|| self.is_unfinished()) {
            return;
        }
        self.turned.set(None);
        self.let_go();
        let (Some(here), Some(task)) = (self.here(), Task::of(reading)) else {
            return;
        };
        let is_here = task.is_answered_by(reading, &here.stage, here.setup.as_ref());
        if here.kind != task.kind || !is_here {
            return;
        }
        let (side, stood) = {
            let job = self.book.job.read_untracked();
            // The book as it is read again with the next frame.
            let is_left = |other: &&Reading| other.id != reading.id;
            let stands = answers_to(&job, &here, &task).filter(is_left).last();
            let side = likely_side(&job, &task, here.setup.as_ref());
            (side, stands.map(|other| other.id.clone()))
        };
        self.in_hand.set(Some(InHand {
            here,
            proposal: Proposal {
                task,
                why: Why::TakenBack,
            },
            side,
            stood,
        }));
    }
}
