//! Expected values from outside: RFC 8032, RFC 8785, RFC 6962, C2SP; properties against plain
//! definitions; a whole shop's log, and what happens when somebody alters it.

mod log;
mod keys;
mod canonical;
mod tree;
mod note;
mod statement;
mod roster;
mod bundle;
