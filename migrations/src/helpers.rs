//! Small helpers so that each change reads like a list of columns.

use sea_orm_migration::prelude::*;

/// Primary key over the named columns.
pub(crate) fn key(columns: &[&'static str]) -> IndexCreateStatement {
    let mut index = Index::create();
    for &column in columns {
        index.col(column);
    }
    index
}

/// Named index over the named columns of a table.
pub(crate) fn index(
    name: &'static str,
    table: &'static str,
    columns: &[&'static str],
) -> IndexCreateStatement {
    let mut index = key(columns);
    index.name(name).table(table);
    index
}

/// Named unique index over the named columns of a table.
pub(crate) fn unique(
    name: &'static str,
    table: &'static str,
    columns: &[&'static str],
) -> IndexCreateStatement {
    let mut index = index(name, table, columns);
    index.unique();
    index
}

/// Reference to rows of another table; both column lists start with the shop.
pub(crate) fn refers(
    name: &'static str,
    from: (&'static str, &[&'static str]),
    to: (&'static str, &[&'static str]),
) -> ForeignKeyCreateStatement {
    let mut reference = ForeignKey::create();
    reference.name(name).from_tbl(from.0).to_tbl(to.0);
    for &column in from.1 {
        reference.from_col(column);
    }
    for &column in to.1 {
        reference.to_col(column);
    }
    reference
}
