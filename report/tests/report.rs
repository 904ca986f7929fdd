//! The report from outside: what is in it is on the pages, in each form, whatever is in the names.

mod report {
    mod scene;
    mod words;
    mod page;
    mod csv;
    mod pdf;
}
