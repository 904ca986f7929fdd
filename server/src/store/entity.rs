//! One row type per table; private to the store.

pub(super) mod actor;
pub(super) mod audit_event;
pub(super) mod device;
pub(super) mod device_key;
pub(super) mod doc;
pub(super) mod doc_change;
pub(super) mod doc_snapshot;
pub(super) mod invitation;
pub(super) mod job_line;
pub(super) mod job_state;
pub(super) mod log_head;
pub(super) mod log_key;
pub(super) mod log_leaf;
pub(super) mod pair_state;
pub(super) mod point_state;
pub(super) mod quarantine;
pub(super) mod refresh_token;
pub(super) mod set_up_link;
pub(super) mod shop;
pub(super) mod sign_off_state;
pub(super) mod stage_state;
pub(super) mod statement;
pub(super) mod token_key;
pub(super) mod user;
