//! The report from outside: what is in it is on the pages, in each form, whatever is in the names.
#![expect(clippy::unwrap_used, reason = "a test fails where it unwraps")]

mod report {
    mod scene;
    mod words;
    mod told;
    mod page;
    mod csv;
    mod pdf;
}
