//! The book: one Automerge document per job.

pub mod intention;
