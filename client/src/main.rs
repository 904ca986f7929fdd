//! The Baybook phone app.

fn main() {}
