//! HTTP in, HTTP out: one family of routes per file. Handlers never see tables.

pub mod form;
pub mod health;
pub mod metrics;
pub mod openapi;
pub mod app_files;
pub mod setup;
pub mod session;
pub mod people;
pub mod resets;
pub mod devices;
pub mod rules;
pub mod log;
pub mod jobs;
pub mod ticket;
pub mod sheets;
pub mod statements;
pub mod desk;
pub mod reports;
pub mod photos;
pub mod links;
pub mod follow;
pub mod sync;
