//! Who is asking: passwords, tokens, limits, and the extractor arguments of protected handlers.
//!
//! This module refuses to know tables and routes.

pub mod password;
pub mod secret;
pub mod access;
pub mod limit;
pub mod proxies;
pub mod origin;
pub mod member;

pub use member::{Member, Owner, Viewer};
