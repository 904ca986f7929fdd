//! The Baybook phone app: offline first, one hand, sun and dark.
//!
//! Pages reach state; state reaches store and net; components take signals and callbacks. The
//! screen never waits for the network.

mod json;
pub mod platform;
pub mod text;
pub mod store;
pub mod net;
pub mod state;
pub mod measuring;
pub mod components;
pub mod pages;
pub mod app;
#[cfg(feature = "bench")]
pub mod bench;
