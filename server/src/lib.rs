//! The Baybook server as a library, so that tests start the real thing.
