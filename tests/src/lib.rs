//! Helpers that the black-box tests share.

pub mod line;
pub mod phone;
