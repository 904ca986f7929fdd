//! The server from outside: a real one on a free port, on both databases.

mod server {
    mod people;
    mod headers;
    mod record;
    mod audit;
    mod signoff;
    mod sync;
    mod nodes;
    mod revoked;
    mod projections;
}
