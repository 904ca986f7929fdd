//! What every route takes and answers.

use shared::proof::page::LogPage;
use shared::wire::{
    AcceptInvitation, AdjusterLink, AskTicket, BackupState, ChangeRole, ChangesSince, ChooseReset,
    DeviceLine, DueTool, Follow, FollowWith, Invitation, Invite, JobLine, JobOverview,
    KeepStatement, KeptStatement, LinkLine, MakeLink, Me, Person, RegisterKey, ResetLink, Session,
    SetUpShop, ShopRules, SignIn, SignedJob, Ticket,
};

use super::Access::{Cookie, Follower, Member, Open, Owner};
use super::route::{FIGURES, NOTHING, REPORT, file, gives, makes, route};
use super::{JSON, Operation, of};
use crate::handlers::health::Readiness;

/// Every route but those of photos and of sheets, in the order of `routes`.
pub(super) const OPERATIONS: [Operation; 41] = [
    route(
        "post",
        "/api/setup",
        "Make the shop and its owner, with the set-up link",
        Open,
        gives(of::<Session>),
    )
    .taking(of::<SetUpShop>)
    .refusing(&[403, 409, 410, 429]),
    route(
        "post",
        "/api/session",
        "Sign in",
        Open,
        gives(of::<Session>),
    )
    .taking(of::<SignIn>)
    .refusing(&[401, 403, 429]),
    route(
        "post",
        "/api/session/refresh",
        "Stay signed in; the cookie is rotated",
        Cookie,
        gives(of::<Session>),
    )
    .refusing(&[403]),
    route(
        "delete",
        "/api/session",
        "Sign this device out",
        Open,
        NOTHING,
    )
    .refusing(&[403]),
    route(
        "get",
        "/api/me",
        "Who is signed in",
        Member,
        gives(of::<Me>),
    ),
    route(
        "get",
        "/api/people",
        "The people of the shop",
        Owner,
        gives(of::<Vec<Person>>),
    ),
    route(
        "post",
        "/api/people/{user}/role",
        "Change a role",
        Owner,
        NOTHING,
    )
    .taking(of::<ChangeRole>)
    .refusing(&[404, 409]),
    route(
        "delete",
        "/api/people/{user}",
        "Remove somebody",
        Owner,
        NOTHING,
    )
    .refusing(&[404, 409]),
    route(
        "post",
        "/api/people/{user}/reset",
        "Make a link for a new password",
        Owner,
        makes(of::<ResetLink>),
    )
    .refusing(&[404]),
    route(
        "post",
        "/api/reset",
        "Choose a new password with such a link",
        Open,
        gives(of::<Session>),
    )
    .taking(of::<ChooseReset>)
    .refusing(&[403, 410, 429]),
    route(
        "get",
        "/api/people/{user}/devices",
        "Somebody's devices",
        Owner,
        gives(of::<Vec<DeviceLine>>),
    ),
    route(
        "delete",
        "/api/people/{user}/devices/{device}",
        "Take a device from somebody",
        Owner,
        NOTHING,
    )
    .refusing(&[404]),
    route(
        "get",
        "/api/devices",
        "One's own devices",
        Member,
        gives(of::<Vec<DeviceLine>>),
    ),
    route(
        "delete",
        "/api/devices/{device}",
        "Give up a device of one's own",
        Member,
        NOTHING,
    )
    .refusing(&[404]),
    route(
        "post",
        "/api/invitations",
        "Invite somebody",
        Owner,
        makes(of::<Invitation>),
    )
    .taking(of::<Invite>),
    route(
        "post",
        "/api/invitations/accept",
        "Join with an invitation",
        Open,
        gives(of::<Session>),
    )
    .taking(of::<AcceptInvitation>)
    .refusing(&[403, 409, 410, 429]),
    route(
        "get",
        "/api/rules",
        "The shop's rules",
        Member,
        gives(of::<ShopRules>),
    ),
    route("post", "/api/rules", "Set the shop's rules", Owner, NOTHING).taking(of::<ShopRules>),
    route(
        "get",
        "/api/log",
        "The shop's log, newest first",
        Owner,
        gives(of::<LogPage>),
    )
    .asked(&[
        ("job", "string", false),
        ("person", "string", false),
        ("kind", "kind", false),
        ("before", "date-time", false),
        ("after", "date-time", false),
        ("below", "integer", false),
        ("limit", "page", false),
    ])
    .refusing(&[400]),
    route(
        "get",
        "/api/jobs",
        "The shop's jobs, the latest activity first",
        Member,
        gives(of::<Vec<JobLine>>),
    ),
    route(
        "get",
        "/api/overview",
        "What the readings of all jobs say",
        Owner,
        gives(of::<Vec<JobOverview>>),
    ),
    route(
        "post",
        "/api/keys",
        "Register the key of one's own device",
        Member,
        NOTHING,
    )
    .taking(of::<RegisterKey>)
    .refusing(&[409]),
    route(
        "post",
        "/api/statements",
        "Sign off, or countersign",
        Member,
        makes(of::<KeptStatement>),
    )
    .taking(of::<KeepStatement>)
    .refusing(&[403, 404, 409]),
    route(
        "get",
        "/api/signed-jobs",
        "Which jobs are signed off",
        Owner,
        gives(of::<Vec<SignedJob>>),
    ),
    route(
        "get",
        "/api/jobs/{book}/statements",
        "A job's signed statements",
        Member,
        gives(of::<Vec<String>>),
    ),
    route(
        "get",
        "/api/jobs/{book}/since",
        "What came into a job since its last sign-off",
        Owner,
        gives(of::<ChangesSince>),
    )
    .asked(&FIGURES)
    .refusing(&[400, 404]),
    route(
        "get",
        "/api/backup",
        "When the last backup was made",
        Owner,
        gives(of::<BackupState>),
    ),
    route(
        "get",
        "/api/due-tools",
        "Tools that are due for a check",
        Owner,
        gives(of::<Vec<DueTool>>),
    ),
    route(
        "get",
        "/api/jobs/{book}/report",
        "A job's report, as PDF/A-2b",
        Member,
        (200, "application/pdf", Some(file)),
    )
    .asked(&REPORT)
    .refusing(&[400, 404, 503]),
    route(
        "post",
        "/api/jobs/{book}/links",
        "Make a link for an adjuster",
        Member,
        makes(of::<AdjusterLink>),
    )
    .taking(of::<MakeLink>)
    .refusing(&[404]),
    route(
        "get",
        "/api/jobs/{book}/links",
        "A job's links",
        Member,
        gives(of::<Vec<LinkLine>>),
    ),
    route(
        "get",
        "/api/links",
        "The links of all jobs",
        Owner,
        gives(of::<Vec<LinkLine>>),
    ),
    route(
        "delete",
        "/api/links/{link}",
        "Take a link back",
        Member,
        NOTHING,
    )
    .refusing(&[404]),
    route(
        "post",
        "/api/follow",
        "Open one job with an adjuster's link",
        Open,
        gives(of::<Follow>),
    )
    .taking(of::<FollowWith>)
    .refusing(&[403, 410, 429]),
    route(
        "get",
        "/api/follow/statements",
        "The followed job's signed statements",
        Follower,
        gives(of::<Vec<String>>),
    ),
    route(
        "get",
        "/api/follow/report",
        "The followed job's report, as PDF/A-2b",
        Follower,
        (200, "application/pdf", Some(file)),
    )
    .asked(&REPORT)
    .refusing(&[400, 404, 503]),
    route(
        "post",
        "/api/ticket",
        "A ticket for the line, good once",
        Member,
        makes(of::<Ticket>),
    )
    .taking(of::<AskTicket>)
    .refusing(&[409]),
    route(
        "get",
        "/api/openapi.json",
        "This description",
        Open,
        (200, JSON, None),
    ),
    route(
        "get",
        "/sync",
        "The line: a WebSocket of the automerge-repo protocol, version 1",
        Open,
        (101, "", None),
    )
    .asked(&[("ticket", "string", true)])
    .refusing(&[401, 403, 410]),
    route(
        "get",
        "/health",
        "Is the server alive?",
        Open,
        (200, "text/plain", Some(of::<String>)),
    ),
    route(
        "get",
        "/ready",
        "Should the server be sent anybody?",
        Open,
        gives(of::<Readiness>),
    )
    .refusing(&[503]),
];
