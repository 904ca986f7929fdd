//! The open JSON form of a job: reading, writing, its schema and its errors.
