//! Sheets, tables, learning and history, from outside.
