//! What the routes of the dimension library take and answer.

use serde_json::{Map, Value};
use shared::library::{SheetLine, file_schema};
use shared::wire::PublishSheet;

use super::Access::{Member, Owner};
use super::route::{NOTHING, gives, makes, route};
use super::{Operation, of};

/// Routes of sheets, in the order of `routes`.
pub(super) const SHEETS: [Operation; 11] = [
    route(
        "get",
        "/api/sheets",
        "The shop's sheets, the newest revision of each",
        Member,
        gives(of::<Vec<SheetLine>>),
    ),
    route(
        "post",
        "/api/sheets",
        "Make a sheet",
        Owner,
        makes(of::<SheetLine>),
    )
    .taking(file_schema)
    .refusing(&[409]),
    route(
        "get",
        "/api/sheets/{sheet}/revisions",
        "A sheet's revisions, the newest first",
        Member,
        gives(of::<Vec<SheetLine>>),
    )
    .refusing(&[404]),
    route(
        "post",
        "/api/sheets/{sheet}/revisions",
        "Revise a sheet",
        Owner,
        makes(of::<SheetLine>),
    )
    .asked(&[("after", "integer", true)])
    .taking(file_schema)
    .refusing(&[404, 409]),
    route(
        "get",
        "/api/sheets/{sheet}/revisions/{revision}",
        "A revision",
        Member,
        gives(file_schema),
    )
    .refusing(&[404]),
    route(
        "get",
        "/api/sheets/{sheet}/revisions/{revision}/start",
        "What makes a new book one of this body: intentions, in their order",
        Member,
        gives(of::<Vec<Map<String, Value>>>),
    )
    .refusing(&[404]),
    route(
        "post",
        "/api/sheets/{sheet}/published",
        "Publish a revision to all shops of this server, in the place of any other of the sheet",
        Owner,
        NOTHING,
    )
    .taking(of::<PublishSheet>)
    .refusing(&[404]),
    route(
        "delete",
        "/api/sheets/{sheet}/published",
        "Withdraw a sheet from the other shops",
        Owner,
        NOTHING,
    )
    .refusing(&[404]),
    route(
        "get",
        "/api/shared-sheets",
        "What other shops of this server have published",
        Member,
        gives(of::<Vec<SheetLine>>),
    ),
    route(
        "get",
        "/api/shared-sheets/{sheet}",
        "Another shop's published sheet",
        Member,
        gives(file_schema),
    )
    .refusing(&[404]),
    route(
        "get",
        "/api/shared-sheets/{sheet}/start",
        "What makes a new book one of its body: intentions, in their order",
        Member,
        gives(of::<Vec<Map<String, Value>>>),
    )
    .refusing(&[404]),
];
