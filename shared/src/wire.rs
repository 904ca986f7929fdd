//! HTTP bodies and error codes that server and client share.
//!
//! Routes (JSON unless said otherwise). `M` needs an access token of a member, `O` of an owner.
//!
//! | route | who | body → answer |
//! |---|---|---|
//! | `POST /api/setup` | set-up link | [`SetUpShop`] → [`Session`] |
//! | `POST /api/session` | anyone | [`SignIn`] → [`Session`] and the refresh cookie |
//! | `POST /api/session/refresh` | refresh cookie | → [`Session`], cookie rotated |
//! | `DELETE /api/session` | refresh cookie | signs this device out |
//! | `GET /api/me` | M | → [`Me`] |
//! | `POST /api/invitations` | O | [`Invite`] → [`Invitation`] (the link to hand over) |
//! | `POST /api/invitations/accept` | invitation | [`AcceptInvitation`] → [`Session`] |
//! | `GET /api/people` | O | → `Vec<`[`Person`]`>` |
//! | `POST /api/people/{user}/role` | O | [`ChangeRole`] → nothing |
//! | `DELETE /api/people/{user}` | O | their sessions, tickets, keys and lines end at once |
//! | `POST /api/people/{user}/reset` | O | → [`ResetLink`] (to hand over) |
//! | `POST /api/reset` | reset link | [`ChooseReset`] → [`Session`]; all earlier sessions end |
//! | `GET /api/devices` | M | → `Vec<`[`DeviceLine`]`>`, one's own |
//! | `DELETE /api/devices/{device}` | M | one's own: its sessions, keys and lines end at once |
//! | `GET /api/people/{user}/devices` | O | → `Vec<`[`DeviceLine`]`>` |
//! | `DELETE /api/people/{user}/devices/{device}` | O | the same for anybody |
//! | `GET /api/rules` | M | → [`ShopRules`] |
//! | `POST /api/rules` | O | [`ShopRules`] → nothing |
//! | `GET /api/log?job=&person=&kind=&before=&after=&below=&limit=` | O | → `proof::page::LogPage` |
//! | `OPTIONS`, `POST /api/jobs/{book}/photos` | M | a photo that the book refers to, by the tus protocol |
//! | `HEAD`, `PATCH /api/jobs/{book}/photos/uploads/{upload}` | M | one's own upload of it |
//! | `GET /api/jobs/{book}/photos/{digest}` | M | → the photo |
//! | `GET /api/follow/photos/{digest}` | adjuster | → the photo |
//! | `POST /api/jobs/{book}/links` | M | [`MakeLink`] → [`AdjusterLink`] |
//! | `GET /api/jobs/{book}/links` | M | → `Vec<`[`LinkLine`]`>` |
//! | `GET /api/links` | O | → `Vec<`[`LinkLine`]`>` of all jobs |
//! | `DELETE /api/links/{link}` | M | ends it, and every line opened with it, at once |
//! | `POST /api/follow` | adjuster link | [`FollowWith`] → [`Follow`] |
//! | `GET /api/follow/statements` | adjuster | → `Vec<String>`, texts of the job's signed statements |
//! | `GET /api/jobs` | M | → `Vec<`[`JobLine`]`>` |
//! | `GET /api/overview` | O | → `Vec<`[`JobOverview`]`>`, the job with the latest activity first |
//! | `POST /api/ticket` | M | [`AskTicket`] → [`Ticket`] for `GET /sync?ticket=…` (WebSocket) |
//! | `POST /api/keys` | M | [`RegisterKey`] → nothing |
//! | `POST /api/statements` | M | [`KeepStatement`] → [`KeptStatement`] |
//! | `GET /api/jobs/{book}/statements` | M | → `Vec<String>`, texts of signed statements |
//! | `GET /api/signed-jobs` | O | → `Vec<`[`SignedJob`]`>` |
//! | `GET /api/jobs/{book}/since?language=&unit=` | O | → [`ChangesSince`] its last sign-off |
//! | `GET /api/backup` | O | → [`BackupState`] |
//! | `GET /api/due-tools` | O | → `Vec<`[`DueTool`]`>` |
//! | `GET /api/sheets` | M | → `Vec<library::SheetLine>`, the newest revision of each |
//! | `POST /api/sheets` | O | a sheet file → `library::SheetLine`, revision 1 |
//! | `GET /api/sheets/{sheet}/revisions` | M | → `Vec<library::SheetLine>`, the newest first |
//! | `POST /api/sheets/{sheet}/revisions?after=` | O | a sheet file → `library::SheetLine` |
//! | `GET /api/sheets/{sheet}/revisions/{revision}` | M | → the sheet file |
//! | `GET /api/sheets/{sheet}/revisions/{revision}/start` | M | → `Vec<book::Intention>` of a new book |
//! | `POST /api/sheets/{sheet}/published` | O | [`PublishSheet`] → nothing |
//! | `DELETE /api/sheets/{sheet}/published` | O | other shops no longer see it |
//! | `GET /api/shared-sheets` | M | → `Vec<library::SheetLine>` of other shops |
//! | `GET /api/shared-sheets/{sheet}` | M | → the sheet file |
//! | `GET /api/shared-sheets/{sheet}/start` | M | → `Vec<book::Intention>` of a new book |
//! | `GET /api/openapi.json` | anyone | the API in the OpenAPI form |
//! | `GET /health` | anyone | `ok` |
//! | `GET /ready` | anyone | whether the server should be sent anybody, 200 or 503 |

mod changes;
mod desk;
mod links;
mod people;

pub use changes::{BookDeed, BookEntry, ChangesSince, DeedKind};
pub use desk::{BackupState, DueTool, LastBackup};
pub use links::{AdjusterLink, Follow, FollowWith, LinkLine, MakeLink};
pub use people::{ChangeRole, ChooseReset, DeviceLine, PublishSheet, ResetLink, ShopRules};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Role in a shop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// Runs the shop: everything a technician may do, people and settings.
    Owner,
    /// Measures and repairs.
    Technician,
}

/// First start: makes the shop and its owner.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SetUpShop {
    /// Token of the one-time link.
    pub token: String,
    /// Name of the shop.
    #[schemars(length(min = 1, max = 200))]
    pub shop: String,
    /// Name of the owner.
    #[schemars(length(min = 1, max = 200))]
    pub name: String,
    /// E-mail, used to sign in.
    #[schemars(email, length(min = 3, max = 254))]
    pub email: String,
    /// Password, at least 10 characters.
    #[schemars(length(min = 10, max = 1024))]
    pub password: String,
}

/// Sign-in.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SignIn {
    /// E-mail.
    pub email: String,
    /// Password.
    pub password: String,
}

/// A session: a short-lived access token, and who it is.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Session {
    /// JWT (EdDSA), sent as `Authorization: Bearer …`.
    pub access_token: String,
    /// Seconds until it expires.
    pub expires_in_s: u64,
    /// Who it is.
    pub me: Me,
}

/// The signed-in person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Me {
    /// User id.
    pub user: String,
    /// Name as shown to people.
    pub name: String,
    /// E-mail.
    pub email: String,
    /// Role.
    pub role: Role,
    /// Shop id.
    pub shop: String,
    /// Shop name.
    pub shop_name: String,
}

/// Ask for an invitation link.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Invite {
    /// Role of the new person.
    pub role: Role,
}

/// An invitation link, shown once.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Invitation {
    /// Path with the secret in the fragment, to be put behind the server's address.
    pub link: String,
    /// RFC 3339.
    pub expires_at: String,
}

/// Accept an invitation.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AcceptInvitation {
    /// Token of the link.
    pub token: String,
    /// Name.
    #[schemars(length(min = 1, max = 200))]
    pub name: String,
    /// E-mail.
    #[schemars(email, length(min = 3, max = 254))]
    pub email: String,
    /// Password, at least 10 characters.
    #[schemars(length(min = 10, max = 1024))]
    pub password: String,
}

/// One person of the shop.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Person {
    /// User id.
    pub user: String,
    /// Name.
    pub name: String,
    /// E-mail.
    pub email: String,
    /// Role.
    pub role: Role,
    /// RFC 3339 time since when they are no member any more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub removed_at: Option<String>,
}

/// One job in the shop's list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct JobLine {
    /// Document id (bs58check of 16 bytes, as in the automerge-repo protocol).
    pub book: String,
    /// Number.
    pub number: String,
    /// Vehicle.
    pub vehicle: String,
    /// The latest stage that has verdicts, else the latest, if there is any. It follows the book
    /// within seconds.
    pub stage: Option<StageOverview>,
    /// RFC 3339 time of the last accepted change.
    pub last_activity: String,
}

/// One job as its owner sees it. It follows the book within seconds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct JobOverview {
    /// Document id.
    pub book: String,
    /// Number.
    pub number: String,
    /// Vehicle.
    pub vehicle: String,
    /// Vehicle identification number, if known.
    pub vin: Option<String>,
    /// Readings, whether they count or not.
    pub readings: u64,
    /// Readings that the others contradict.
    pub suspects: u64,
    /// The latest stage and its verdicts, if there is any.
    pub stage: Option<StageOverview>,
    /// RFC 3339 time of the last accepted change.
    pub last_activity: String,
    /// Who made it.
    pub last_by: Option<String>,
    /// The latest sign-off of any stage.
    pub sign_off: Option<SignOffOverview>,
    /// False while the newest changes are still being worked out.
    pub is_up_to_date: bool,
}

/// A stage and its verdicts: coordinates of points and quantities of pairs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct StageOverview {
    /// Stage id.
    pub id: String,
    /// What it is called.
    pub label: String,
    /// Readings that count.
    pub readings: u64,
    /// Proven inside the tolerance.
    pub within: u64,
    /// Proven outside.
    pub outside: u64,
    /// Not proven either way.
    pub unproven: u64,
}

/// A sign-off and what came since.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SignOffOverview {
    /// The signed stage.
    pub stage: String,
    /// Who signed.
    pub by: String,
    /// RFC 3339 time, as the signer's device saw it.
    pub at: String,
    /// The signed statement's digest.
    pub digest: String,
    /// Who joined it.
    pub countersigned_by: Vec<String>,
    /// Readings that the job has got since.
    pub readings_since: u64,
    /// Is the book still exactly what was signed?
    pub is_current: bool,
}

/// Ask for a WebSocket ticket, and say which document actors this device writes under.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AskTicket {
    /// The device (ULID, made by the client once).
    #[schemars(extend("pattern" = "^[0-7][0-9A-HJKMNP-TV-Z]{25}$"))]
    pub device: String,
    /// Actor ids (hex) that this device has changes of; each belongs to one user for ever.
    #[schemars(length(max = 1000), inner(regex(pattern = "^([0-9a-f]{2}){1,32}$")))]
    pub actors: Vec<String>,
}

/// A one-use ticket for the WebSocket.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Ticket {
    /// The ticket.
    pub ticket: String,
    /// Seconds until it expires.
    pub expires_in_s: u64,
}

/// Register the key with which a device signs statements.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RegisterKey {
    /// The device; it has had a ticket before.
    pub device: String,
    /// Base64 of its Ed25519 public key.
    pub key: String,
    /// Base64 of the key's signature over `proof::statement::possession`.
    pub signature: String,
}

/// Keep a signed statement: a sign-off or a countersignature.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct KeepStatement {
    /// Its canonical text.
    pub text: String,
}

/// A statement that is kept, in the shop's log.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct KeptStatement {
    /// Its digest.
    pub digest: String,
    /// The short code to read out.
    pub code: String,
}

/// The last sign-off of a job.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SignedJob {
    /// The job's document.
    pub book: String,
    /// Text of the signed sign-off.
    pub signed: String,
    /// Text of the countersignature that joins it, if there is one.
    pub countersigned: Option<String>,
    /// How many entries the book has had since, at least.
    pub entries_since: u64,
}

/// Every error answer: a stable code and the subject; words live in the client.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Refusal {
    /// What went wrong.
    pub code: Code,
    /// What it is about (a field, an id), if anything.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub subject: Option<String>,
}

/// Stable error codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Code {
    /// The body or a field of it is not of the form.
    BadRequest,
    /// Not signed in, or the token has expired.
    SignInNeeded,
    /// E-mail or password is wrong.
    WrongCredentials,
    /// Signed in, but not allowed.
    NotAllowed,
    /// No such thing, or not for you.
    NotFound,
    /// The link was used, has expired, or never existed.
    LinkInvalid,
    /// Something with this name exists.
    Taken,
    /// The shop would be without an owner.
    LastOwner,
    /// Too many tries; wait.
    TooMany,
    /// The server has too much heavy work at the moment; ask again.
    Busy,
    /// Larger than allowed.
    TooLarge,
    /// The server's own fault; nothing was changed.
    Internal,
}
