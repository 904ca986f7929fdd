//! The `baybook` command.

fn main() {}
