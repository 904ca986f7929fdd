//! The measuring mind of Baybook: pure functions over readings and documents.
//!
//! No I/O, no clock, no randomness, no async: time, new ids and actors are arguments.
//! Modules are declared in reading order; each may use the ones above it.

pub use adjust::{self, geometry, measure};

pub mod ids;
pub mod units;
pub mod moment;
pub mod plain;
pub mod vin;
pub mod figures;
pub mod finding;
pub mod verdict;
pub mod damage;
pub mod tools;
pub mod job;
pub mod result;
pub mod body;
pub mod drawing;
pub mod jobfile;
pub mod solve;
pub mod speech;
pub mod simulate;
pub mod demo;
pub mod text;
pub mod book;
pub mod proof;
pub mod library;
pub mod sync;
pub mod wire;
