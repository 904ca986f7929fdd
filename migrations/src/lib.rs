//! Database schema, one change per file, SQLite and PostgreSQL alike.
//!
//! Times are milliseconds since 1970 (UTC) in `…_at_ms`; ids are text; secrets are stored only as
//! SHA-256. Every table that belongs to a shop carries `shop_id` first in its primary key, so that
//! the schema can be distributed by shop. A merged file is never edited: a change is a new file.

mod helpers;
mod m0001_shop;
mod m0002_user;
mod m0003_device;
mod m0004_invitation;
mod m0005_refresh_token;
mod m0006_doc;
mod m0007_quarantine;
mod m0008_audit_event;
mod m0009_job_line;
mod m0010_log;
mod m0011_projection;
mod m0013_people;
mod m0014_adjuster_link;
mod m0015_log_entry;
mod m0016_sheet;
mod m0017_photo;
mod m0018_sheet_publication;
mod m0019_backup_state;
mod m0020_tool_state;

pub use sea_orm_migration::MigratorTrait;
use sea_orm_migration::prelude::*;

/// All changes in order.
#[derive(Debug)]
pub struct Migrator;

#[async_trait::async_trait]
impl MigratorTrait for Migrator {
    fn migrations() -> Vec<Box<dyn MigrationTrait>> {
        vec![
            Box::new(m0001_shop::Migration),
            Box::new(m0002_user::Migration),
            Box::new(m0003_device::Migration),
            Box::new(m0004_invitation::Migration),
            Box::new(m0005_refresh_token::Migration),
            Box::new(m0006_doc::Migration),
            Box::new(m0007_quarantine::Migration),
            Box::new(m0008_audit_event::Migration),
            Box::new(m0009_job_line::Migration),
            Box::new(m0010_log::Migration),
            Box::new(m0011_projection::Migration),
            Box::new(m0013_people::Migration),
            Box::new(m0014_adjuster_link::Migration),
            Box::new(m0015_log_entry::Migration),
            Box::new(m0016_sheet::Migration),
            Box::new(m0017_photo::Migration),
            Box::new(m0018_sheet_publication::Migration),
            Box::new(m0019_backup_state::Migration),
            Box::new(m0020_tool_state::Migration),
        ]
    }
}
