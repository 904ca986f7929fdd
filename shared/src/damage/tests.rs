//! Explanations of displacements made up by hand.

mod regression;
mod causes;
mod pulls;
