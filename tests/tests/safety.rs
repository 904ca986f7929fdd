//! What is entered on a phone is not lost: real Chromium, real IndexedDB, things going wrong.
//!
//! Needs `cargo xtask test`, which builds the phone's app and finds the browser.

#[path = "safety/saving.rs"]
mod saving;
#[path = "safety/tabs.rs"]
mod tabs;
#[path = "safety/disk.rs"]
mod disk;
#[path = "safety/damage.rs"]
mod damage;
#[path = "safety/refusal.rs"]
mod refusal;
#[path = "safety/file.rs"]
mod file;
#[path = "safety/network.rs"]
mod network;
