//! Pages: each reaches state and hands signals to components.

pub mod sign_in;
pub mod import;
pub mod jobs;
pub mod practice;
pub mod new_version;
pub mod new_job;
pub mod book;
pub mod photo_button;
pub mod no_points;
pub mod read;
pub mod body;
pub mod findings;
pub mod pull;
pub mod more;
pub mod sheet;
pub mod photos;
pub mod report;
pub mod sign;
pub mod links;
pub mod office;
pub mod follow;
pub mod settings;
pub mod devices;
pub mod notices;
pub mod head;
pub mod waiting;
