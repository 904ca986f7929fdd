//! One entry of a shop's log: what happened, to what, by whom, when.
//!
//! Times are milliseconds since 1970 (UTC), as the server saw them. An entry is canonical text; its
//! bytes are kept, hashed and shown to anybody as they are. This file refuses to know how an entry
//! came about.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::canonical::{self, CanonicalError};
use super::{Digest, PublicKey, tree};
use crate::ids::{BookId, DeviceId, ShopId, UserId};
use crate::wire::Role;

/// Version of the form.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum LeafFormat {
    /// The first.
    #[default]
    #[serde(rename = "baybook-leaf/1")]
    V1,
}

/// One entry.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Leaf {
    /// Version of the form.
    pub format: LeafFormat,
    /// Its place in the log, from 0.
    pub index: u64,
    /// When, milliseconds since 1970; never before the entry in front of it.
    pub at_ms: i64,
    /// Whose log.
    pub shop: ShopId,
    /// Who did it; nobody when it is not known who was at the other end.
    pub who: Option<Who>,
    /// What happened.
    pub event: Event,
}

/// A person as they stood then.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Who {
    /// The account.
    pub user: UserId,
    /// The name as shown to people at that time.
    pub name: String,
    /// The device, where one was told.
    pub device: Option<DeviceId>,
}

/// What happened.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Event {
    /// The shop began.
    ShopSetUp {
        /// Its name.
        name: String,
    },
    /// A book began.
    JobCreated {
        /// The job.
        job: BookId,
    },
    /// Changes became part of a book.
    ChangesAccepted {
        /// The job.
        job: BookId,
        /// Their hashes, in the order in which they were applied.
        hashes: Vec<Digest>,
        /// The book's heads afterwards, sorted.
        heads: Vec<Digest>,
    },
    /// Something that was sent did not become part of a book.
    ChangesRefused {
        /// The job.
        job: BookId,
        /// Why, as a stable word and its subject.
        reason: String,
        /// SHA-256 of what was sent.
        sent: Digest,
    },
    /// A stage was signed off.
    SignedOff {
        /// The job.
        job: BookId,
        /// The signed statement's digest.
        statement: Digest,
    },
    /// An owner signed a sign-off as well.
    Countersigned {
        /// The job.
        job: BookId,
        /// The signed statement's digest.
        statement: Digest,
        /// The digest of the sign-off it joins.
        of: Digest,
    },
    /// A sheet of the library got a revision.
    SheetRevised {
        /// The sheet.
        sheet: String,
        /// Its revision.
        revision: u32,
        /// SHA-256 of its content.
        content: Digest,
    },
    /// An owner published a revision to all shops of the server.
    SheetPublished {
        /// The sheet.
        sheet: String,
        /// Its revision.
        revision: u32,
    },
    /// An owner ended that.
    SheetWithdrawn {
        /// The sheet.
        sheet: String,
    },
    /// An owner made an invitation.
    PersonInvited {
        /// Role of whoever accepts it.
        role: Role,
    },
    /// Somebody became a member.
    PersonJoined {
        /// The account.
        user: UserId,
        /// Name.
        name: String,
        /// Role.
        role: Role,
    },
    /// A member's role changed.
    RoleChanged {
        /// The account.
        user: UserId,
        /// The new role.
        role: Role,
    },
    /// Somebody is no member any more.
    PersonRemoved {
        /// The account.
        user: UserId,
    },
    /// An owner made a link with which a member chooses a new password.
    ResetLinkMade {
        /// The account.
        user: UserId,
    },
    /// A member chose a new password; their earlier sessions have ended.
    PasswordChosen {
        /// The account.
        user: UserId,
    },
    /// An owner said whether somebody else than the signer has to countersign.
    CountersignRule {
        /// Must they be two people?
        two_people: bool,
    },
    /// A device is used by a member, perhaps with a key for sign-offs.
    DeviceRegistered {
        /// The member.
        user: UserId,
        /// The device.
        device: DeviceId,
        /// Its key; it takes the place of an earlier one of this member on this device.
        key: Option<PublicKey>,
    },
    /// A member uses a device no more; its key signs nothing from now on.
    DeviceRevoked {
        /// The member.
        user: UserId,
        /// The device.
        device: DeviceId,
    },
    /// A link for an adjuster was made.
    LinkMade {
        /// The job it shows.
        job: BookId,
        /// The link.
        link: String,
        /// When it ends by itself, milliseconds since 1970.
        expires_at_ms: i64,
    },
    /// A link for an adjuster was taken back.
    LinkRevoked {
        /// The job it showed.
        job: BookId,
        /// The link.
        link: String,
    },
    /// A member signed in.
    SignedIn,
    /// Somebody gave a wrong password for an account.
    SignInFailed {
        /// The account.
        user: UserId,
    },
    /// A session's old token was shown again; the session has ended.
    SessionReused {
        /// The account.
        user: UserId,
    },
}

/// What an event is about, for a reader who looks for one job or one person.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject<'a> {
    /// The shop as a whole.
    Shop,
    /// One job.
    Job(&'a BookId),
    /// One person.
    Person(&'a UserId),
    /// A sheet of the library.
    Sheet(&'a str),
}

impl Event {
    /// What it is about.
    #[must_use]
    pub fn subject(&self) -> Option<Subject<'_>> {
        Some(match self {
            Self::ShopSetUp { .. } | Self::PersonInvited { .. } | Self::CountersignRule { .. } => {
                Subject::Shop
            }
            Self::JobCreated { job }
            | Self::ChangesAccepted { job, .. }
            | Self::ChangesRefused { job, .. }
            | Self::SignedOff { job, .. }
            | Self::Countersigned { job, .. }
            | Self::LinkMade { job, .. }
            | Self::LinkRevoked { job, .. } => Subject::Job(job),
            Self::SheetRevised { sheet, .. }
            | Self::SheetPublished { sheet, .. }
            | Self::SheetWithdrawn { sheet } => Subject::Sheet(sheet),
            Self::PersonJoined { user, .. }
            | Self::RoleChanged { user, .. }
            | Self::PersonRemoved { user }
            | Self::ResetLinkMade { user }
            | Self::PasswordChosen { user }
            | Self::DeviceRegistered { user, .. }
            | Self::DeviceRevoked { user, .. }
            | Self::SignInFailed { user }
            | Self::SessionReused { user } => Subject::Person(user),
            // About whoever did it.
            Self::SignedIn => return None,
        })
    }

    /// All stable words, in the order in which the kinds stand above.
    pub const KINDS: [&str; 23] = [
        "shop-set-up",
        "job-created",
        "changes-accepted",
        "changes-refused",
        "signed-off",
        "countersigned",
        "sheet-revised",
        "sheet-published",
        "sheet-withdrawn",
        "person-invited",
        "person-joined",
        "role-changed",
        "person-removed",
        "reset-link-made",
        "password-chosen",
        "countersign-rule",
        "device-registered",
        "device-revoked",
        "link-made",
        "link-revoked",
        "signed-in",
        "sign-in-failed",
        "session-reused",
    ];

    /// Its stable word: `changes-accepted`.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Self::ShopSetUp { .. } => "shop-set-up",
            Self::JobCreated { .. } => "job-created",
            Self::ChangesAccepted { .. } => "changes-accepted",
            Self::ChangesRefused { .. } => "changes-refused",
            Self::SignedOff { .. } => "signed-off",
            Self::Countersigned { .. } => "countersigned",
            Self::SheetRevised { .. } => "sheet-revised",
            Self::SheetPublished { .. } => "sheet-published",
            Self::SheetWithdrawn { .. } => "sheet-withdrawn",
            Self::PersonInvited { .. } => "person-invited",
            Self::PersonJoined { .. } => "person-joined",
            Self::RoleChanged { .. } => "role-changed",
            Self::PersonRemoved { .. } => "person-removed",
            Self::ResetLinkMade { .. } => "reset-link-made",
            Self::PasswordChosen { .. } => "password-chosen",
            Self::CountersignRule { .. } => "countersign-rule",
            Self::DeviceRegistered { .. } => "device-registered",
            Self::DeviceRevoked { .. } => "device-revoked",
            Self::LinkMade { .. } => "link-made",
            Self::LinkRevoked { .. } => "link-revoked",
            Self::SignedIn => "signed-in",
            Self::SignInFailed { .. } => "sign-in-failed",
            Self::SessionReused { .. } => "session-reused",
        }
    }
}

impl Leaf {
    /// The text that is kept and hashed.
    ///
    /// # Errors
    /// [`CanonicalError`] when a number is too large to be written.
    pub fn text(&self) -> Result<String, CanonicalError> {
        canonical::write(self)
    }

    /// Reads an entry.
    ///
    /// # Errors
    /// [`CanonicalError`] when the bytes are no entry, or not written in the one way.
    pub fn parse(bytes: &[u8]) -> Result<Self, CanonicalError> {
        canonical::parse(bytes)
    }

    /// Who it is about: the subject, or whoever did it.
    #[must_use]
    pub fn subject(&self) -> Subject<'_> {
        let who = || self.who.as_ref().map(|who| Subject::Person(&who.user));
        self.event.subject().or_else(who).unwrap_or(Subject::Shop)
    }
}

/// The hash of an entry's bytes in the tree.
#[must_use]
pub fn hash(bytes: &[u8]) -> Digest {
    tree::leaf_hash(bytes)
}
