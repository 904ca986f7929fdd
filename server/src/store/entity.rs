//! One row type per table; private to the store.

pub(super) mod actor;
pub(super) mod adjuster_link;
pub(super) mod device;
pub(super) mod device_key;
pub(super) mod doc;
pub(super) mod doc_change;
pub(super) mod doc_snapshot;
pub(super) mod invitation;
pub(super) mod job_line;
pub(super) mod log_entry;
pub(super) mod log_head;
pub(super) mod log_key;
pub(super) mod log_leaf;
pub(super) mod quarantine;
pub(super) mod refresh_token;
pub(super) mod reset_link;
pub(super) mod session;
pub(super) mod session_device;
pub(super) mod set_up_link;
pub(super) mod shop;
pub(super) mod statement;
pub(super) mod token_key;
pub(super) mod user;
