//! Pieces of screens: signals and callbacks in, nothing of state, store or network.

pub mod mark;
pub mod safety;
pub mod field;
pub mod badge;
pub mod plan;
pub mod stand_plan;
pub mod picture;
pub mod tape;
pub mod pick;
pub mod keypad;
pub mod readings;
pub mod rows;
pub mod point_mark;
pub mod body_view;
pub mod legend;
pub mod refusals;
pub mod series_plot;
pub mod trend_line;
pub mod stage_table;
pub mod signed;
pub mod photo_grid;
pub mod photo_large;
