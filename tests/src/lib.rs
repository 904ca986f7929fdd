//! Helpers that the black-box tests share.

pub mod line;
pub mod phone;
pub mod database;
pub mod shop;
pub mod device;
pub mod bay;
pub mod photo;
pub mod barriers;
pub mod walk;
pub mod versions;
pub mod stock;
pub mod kill;
pub mod load;
