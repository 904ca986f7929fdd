//! The server from outside: a real one on a free port, on both databases.

mod server {
    mod people;
    mod members;
    mod links;
    mod log;
    mod access;
    mod headers;
    mod record;
    mod audit;
    mod signoff;
    mod sync;
    mod hostile;
    mod nodes;
    mod revoked;
    mod projections;
    mod sheets;
    mod report;
    mod photos;
    mod desk;
}
