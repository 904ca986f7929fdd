//! What the routes of photos take and answer.

use super::Access::{Follower, Member, Open};
use super::Operation;
use super::route::{NOTHING, TUS, TUS_BEGIN, TUS_PART, file, route};

/// The routes of photos, in the order of `routes`.
pub(super) const PHOTOS: [Operation; 6] = [
    route(
        "options",
        "/api/jobs/{book}/photos",
        "What of the tus protocol (1.0.0) is spoken here",
        Open,
        NOTHING,
    ),
    route(
        "post",
        "/api/jobs/{book}/photos",
        "Begin to send a photo that the book refers to (tus creation; metadata: digest, type)",
        Member,
        (201, "", None),
    )
    .told(&TUS_BEGIN)
    .refusing(&[400, 404, 413]),
    route(
        "head",
        "/api/jobs/{book}/photos/uploads/{upload}",
        "How much of an upload is here (tus)",
        Member,
        (200, "", None),
    )
    .told(&TUS)
    .refusing(&[404]),
    route(
        "patch",
        "/api/jobs/{book}/photos/uploads/{upload}",
        "What comes next of an upload (tus)",
        Member,
        NOTHING,
    )
    .told(&TUS_PART)
    .refusing(&[400, 404, 409, 413, 415]),
    route(
        "get",
        "/api/jobs/{book}/photos/{digest}",
        "A job's photo, JPEG or PNG",
        Member,
        (200, "image/*", Some(file)),
    )
    .refusing(&[404]),
    route(
        "get",
        "/api/follow/photos/{digest}",
        "A photo of the followed job, JPEG or PNG",
        Follower,
        (200, "image/*", Some(file)),
    )
    .refusing(&[404]),
];
