//! Things of the bay that are felt every day: several people on one car, and what the screen does under
//! one finger.
//!
//! Needs `cargo xtask test`, which builds the phone's app and finds the browser.

#[path = "bay/together.rs"]
mod together;
#[path = "bay/entry.rs"]
mod entry;
#[path = "bay/answers.rs"]
mod answers;
