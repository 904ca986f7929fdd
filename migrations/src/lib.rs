//! Database schema, one change per file, both engines.
