//! Sheets, tables, patterns, learning and history, from outside.

mod any;
mod sheet;
mod pattern;
mod table;
mod revisions;
mod pool;
mod cars;
mod learn;
mod calibration;
mod history;
