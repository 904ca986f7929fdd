//! Whole jobs through the door: a simulated hatchback, read as a technician would.

pub(crate) mod car;
mod calibration;
mod doubts;
mod invariance;
mod limits;
mod causes;
mod checks;
mod known_damage;
mod practice;
mod own;
mod hand;
mod foresee;
mod diagonals;
