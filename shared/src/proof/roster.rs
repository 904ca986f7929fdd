//! Who was a member, with which role and which device keys, at any time: replayed from the log.
//!
//! This file refuses to know what is signed.

use std::collections::HashMap;

use super::PublicKey;
use super::leaf::{Event, Leaf};
use crate::ids::{DeviceId, UserId};
use crate::wire::Role;

/// Members and keys as a log tells them.
#[derive(Debug, Clone, Default)]
pub struct Roster {
    /// Per person each change of role, oldest first; `None` after leaving.
    roles: HashMap<UserId, Vec<(i64, Option<Role>)>>,
    keys: HashMap<PublicKey, Vec<Held>>,
}

/// A key in the hand of one person on one device.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Held {
    user: UserId,
    device: DeviceId,
    from_ms: i64,
    until_ms: Option<i64>,
}

/// Why somebody could not sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum CannotSign {
    /// Not a member at that time.
    #[error("was no member at that time")]
    NoMember,
    /// The key was registered to nobody, or to somebody else.
    #[error("had no such key at that time")]
    NotTheirKey,
    /// The key's device was revoked or had another key by then.
    #[error("the key was no longer good at that time")]
    KeyEnded,
}

/// An entry that contradicts what the log has told before.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Contradiction {
    /// Somebody who is a member joins.
    #[error("somebody joins who is a member already")]
    JoinsTwice,
    /// About somebody who is no member.
    #[error("is about somebody who is no member")]
    NoMember,
    /// A key that somebody else holds or has held.
    #[error("gives somebody a key that was another's")]
    AnothersKey,
}

impl Roster {
    /// Takes note of an entry, in the order of the log.
    ///
    /// # Errors
    /// [`Contradiction`] when it cannot follow what the log has told before; nothing changes then.
    pub fn tell(&mut self, leaf: &Leaf) -> Result<(), Contradiction> {
        let at_ms = leaf.at_ms;
        match &leaf.event {
            Event::PersonJoined { user, role, .. } => {
                if self.role(user, at_ms).is_some() {
                    return Err(Contradiction::JoinsTwice);
                }
                self.set_role(user, at_ms, Some(*role));
            }
            Event::RoleChanged { user, role } => {
                self.need_member(user, at_ms)?;
                self.set_role(user, at_ms, Some(*role));
            }
            Event::PersonRemoved { user } => {
                self.need_member(user, at_ms)?;
                self.set_role(user, at_ms, None);
                self.end_keys(at_ms, |held| held.user == *user);
            }
            Event::DeviceRegistered { user, device, key } => {
                self.need_member(user, at_ms)?;
                if let Some(key) = key {
                    self.register(user, device, key, at_ms)?;
                }
            }
            Event::DeviceRevoked { user, device } => {
                self.need_member(user, at_ms)?;
                self.end_keys(at_ms, |held| held.user == *user && held.device == *device);
            }
            _ => {}
        }
        Ok(())
    }

    /// The role of a person at a time; `None` when they were no member.
    #[must_use]
    pub fn role(&self, user: &UserId, at_ms: i64) -> Option<Role> {
        let changes = self.roles.get(user)?;
        changes.iter().rev().find(|(from, _)| *from <= at_ms)?.1
    }

    /// Could this person sign with this key at this time? Their role then, and the key's device.
    ///
    /// # Errors
    /// [`CannotSign`] with the reason.
    pub fn may_sign(
        &self,
        user: &UserId,
        key: &PublicKey,
        at_ms: i64,
    ) -> Result<(Role, &DeviceId), CannotSign> {
        let role = self.role(user, at_ms).ok_or(CannotSign::NoMember)?;
        let held = self.keys.get(key).into_iter().flatten();
        let theirs = held.filter(|held| held.user == *user && held.from_ms <= at_ms);
        let mut ended = false;
        for held in theirs {
            if held.until_ms.is_none_or(|until| at_ms < until) {
                return Ok((role, &held.device));
            }
            ended = true;
        }
        Err(match ended {
            true => CannotSign::KeyEnded,
            false => CannotSign::NotTheirKey,
        })
    }

    fn need_member(&self, user: &UserId, at_ms: i64) -> Result<(), Contradiction> {
        self.role(user, at_ms)
            .map(|_| ())
            .ok_or(Contradiction::NoMember)
    }

    fn set_role(&mut self, user: &UserId, at_ms: i64, role: Option<Role>) {
        self.roles
            .entry(user.clone())
            .or_default()
            .push((at_ms, role));
    }

    fn register(
        &mut self,
        user: &UserId,
        device: &DeviceId,
        key: &PublicKey,
        at_ms: i64,
    ) -> Result<(), Contradiction> {
        let held = self.keys.get(key);
        if held.is_some_and(|held| held.iter().any(|held| held.user != *user)) {
            return Err(Contradiction::AnothersKey);
        }
        self.end_keys(at_ms, |held| held.user == *user && held.device == *device);
        self.keys.entry(*key).or_default().push(Held {
            user: user.clone(),
            device: device.clone(),
            from_ms: at_ms,
            until_ms: None,
        });
        Ok(())
    }

    fn end_keys(&mut self, at_ms: i64, whose: impl Fn(&Held) -> bool) {
        for held in self.keys.values_mut().flatten() {
            if held.until_ms.is_none() && whose(held) {
                held.until_ms = Some(at_ms);
            }
        }
    }
}
