//! What the measuring screens work out before anything is drawn.
//!
//! Plain values in, plain values out; lengths in millimetres. Nothing here knows signals, the
//! browser, the store or the network, so that every rule is tested natively.

pub use shared::{drawing, figures};

pub mod entry;
pub mod task;
pub mod propose;
pub mod history;
pub mod sentences;
pub mod doubts;
pub mod refused;
pub mod sheets;
pub mod meant;
pub mod answer;
pub mod concerns;
pub mod conflict;
pub mod trend;
pub mod signed;
pub mod unread;
pub mod log_words;
pub mod laser_check;
pub mod trust;
pub mod carried;
