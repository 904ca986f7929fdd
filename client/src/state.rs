//! What the app knows: the person, the session, the books on this phone, the open book.
//!
//! Only pages reach these; only these reach the store and the network.

pub mod route;
pub mod person;
pub mod session;
pub mod held;
pub mod parcel;
pub mod tabs;
pub mod shelf;
pub mod practice;
pub mod sharing;
pub mod photos;
pub mod camera;
pub mod book;
pub mod signing;
pub mod report;
pub mod library;
pub mod sheets;
pub mod office;
pub mod follow;
pub mod album;
