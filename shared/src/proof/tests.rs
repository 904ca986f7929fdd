//! Expected values from outside: RFC 8032, RFC 6962, C2SP; properties against plain definitions.

mod keys;
mod canonical;
mod tree;
mod note;
