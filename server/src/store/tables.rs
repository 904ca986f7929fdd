//! The tables of a database as it describes itself, in an order in which each refers to earlier ones.
//!
//! So a backup has every table that there is, also those that were thought of after this file.

use std::collections::{BTreeMap, BTreeSet};

use sea_orm::{ConnectionTrait, DbBackend, DbErr, Statement};

use crate::backup::{Column, Kind, Value};

/// Where the changes of the schema are counted.
pub(super) const MIGRATIONS: &str = "seaql_migrations";

/// A column of this database.
#[derive(Debug, Clone)]
pub(super) struct Field {
    pub(super) column: Column,
    /// Does an integer have 32 bits? The driver of PostgreSQL asks for the exact width.
    narrow: bool,
}

/// A table of this database.
#[derive(Debug, Clone)]
pub(super) struct TableOf {
    pub(super) name: String,
    pub(super) fields: Vec<Field>,
}

/// All tables but that of the migrations, each after those that it refers to.
pub(super) async fn tables(db: &impl ConnectionTrait) -> Result<Vec<TableOf>, DbErr> {
    let mut left = BTreeMap::new();
    for name in names(db).await? {
        let refers: BTreeSet<String> = references(db, &name).await?.into_iter().collect();
        left.insert(name, refers);
    }
    let mut ordered = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let is_free = |name: &String| !left.contains_key(name);
        let next = left
            .iter()
            .find(|(name, refers)| refers.iter().all(|other| other == *name || is_free(other)))
            .map(|(name, _)| name.clone())
            .ok_or_else(|| DbErr::Custom("tables that refer to each other in a ring".into()))?;
        left.remove(&next);
        ordered.push(TableOf {
            fields: fields(db, &next).await?,
            name: next,
        });
    }
    Ok(ordered)
}

/// Names of the changes of the schema that were applied; empty without any.
pub(super) async fn applied(db: &impl ConnectionTrait) -> Result<Vec<String>, DbErr> {
    if !all_names(db).await?.iter().any(|name| name == MIGRATIONS) {
        return Ok(Vec::new());
    }
    texts(
        db,
        format!("SELECT version FROM {MIGRATIONS} ORDER BY version"),
    )
    .await
}

/// How many rows a table has.
pub(super) async fn count(db: &impl ConnectionTrait, table: &str) -> Result<u64, DbErr> {
    let question = format!(r#"SELECT COUNT(*) FROM "{table}""#);
    let row = db
        .query_one_raw(Statement::from_string(db.get_database_backend(), question))
        .await?
        .ok_or_else(|| DbErr::RecordNotFound(table.to_owned()))?;
    Ok(row.try_get_by_index::<i64>(0)?.cast_unsigned())
}

async fn texts(db: &impl ConnectionTrait, question: String) -> Result<Vec<String>, DbErr> {
    let rows = db
        .query_all_raw(Statement::from_string(db.get_database_backend(), question))
        .await?;
    rows.iter().map(|row| row.try_get_by_index(0)).collect()
}

async fn all_names(db: &impl ConnectionTrait) -> Result<Vec<String>, DbErr> {
    let question = match db.get_database_backend() {
        DbBackend::Sqlite => {
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite\\_%' \
             ESCAPE '\\' ORDER BY name"
        }
        _ => {
            "SELECT table_name::text FROM information_schema.tables \
             WHERE table_schema = current_schema() AND table_type = 'BASE TABLE' ORDER BY 1"
        }
    };
    texts(db, question.to_owned()).await
}

async fn names(db: &impl ConnectionTrait) -> Result<Vec<String>, DbErr> {
    let mut names = all_names(db).await?;
    names.retain(|name| name != MIGRATIONS);
    Ok(names)
}

async fn references(db: &impl ConnectionTrait, table: &str) -> Result<Vec<String>, DbErr> {
    let question = match db.get_database_backend() {
        DbBackend::Sqlite => {
            format!("SELECT \"table\" FROM pragma_foreign_key_list('{table}')")
        }
        _ => format!(
            "SELECT parent.relname::text FROM pg_constraint c \
             JOIN pg_class child ON child.oid = c.conrelid \
             JOIN pg_class parent ON parent.oid = c.confrelid \
             WHERE c.contype = 'f' AND c.connamespace = current_schema()::regnamespace \
             AND child.relname = '{table}'"
        ),
    };
    texts(db, question).await
}

async fn fields(db: &impl ConnectionTrait, table: &str) -> Result<Vec<Field>, DbErr> {
    let backend = db.get_database_backend();
    let question = match backend {
        DbBackend::Sqlite => {
            format!("SELECT name, lower(type) FROM pragma_table_info('{table}') ORDER BY cid")
        }
        _ => format!(
            "SELECT column_name::text, data_type::text FROM information_schema.columns \
             WHERE table_schema = current_schema() AND table_name = '{table}' \
             ORDER BY ordinal_position"
        ),
    };
    let rows = db
        .query_all_raw(Statement::from_string(backend, question))
        .await?;
    rows.iter()
        .map(|row| {
            let (name, of): (String, String) = (row.try_get_by_index(0)?, row.try_get_by_index(1)?);
            let kind = kind(&of).ok_or_else(|| {
                DbErr::Custom(format!(
                    "column {name} of {table} is of the unknown type {of}"
                ))
            })?;
            Ok(Field {
                column: Column { name, kind },
                narrow: backend != DbBackend::Sqlite && of == "integer",
            })
        })
        .collect()
}

/// What a column of this declared type holds; the words are those of both engines.
fn kind(of: &str) -> Option<Kind> {
    Some(match of.split('(').next().unwrap_or_default().trim() {
        "text" | "varchar" | "character varying" => Kind::Text,
        "integer" | "bigint" => Kind::Integer,
        "double" | "double precision" | "real" => Kind::Real,
        "boolean" => Kind::Boolean,
        "blob" | "bytea" => Kind::Bytes,
        _ => return None,
    })
}

impl Field {
    /// The value of this column in a row.
    pub(super) fn read(&self, row: &sea_orm::QueryResult, place: usize) -> Result<Value, DbErr> {
        let value = match self.column.kind {
            Kind::Text => row
                .try_get_by_index::<Option<String>>(place)?
                .map(Value::Text),
            Kind::Integer if self.narrow => row
                .try_get_by_index::<Option<i32>>(place)?
                .map(|number| Value::Integer(number.into())),
            Kind::Integer => row
                .try_get_by_index::<Option<i64>>(place)?
                .map(Value::Integer),
            Kind::Real => row.try_get_by_index::<Option<f64>>(place)?.map(Value::Real),
            Kind::Boolean => row
                .try_get_by_index::<Option<bool>>(place)?
                .map(Value::Boolean),
            Kind::Bytes => row
                .try_get_by_index::<Option<Vec<u8>>>(place)?
                .map(Value::Bytes),
        };
        Ok(value.unwrap_or(Value::Null))
    }

    /// The value as this column takes it; `None` when it is of another kind.
    pub(super) fn written(&self, value: Value) -> Option<sea_orm::Value> {
        Some(match (self.column.kind, value) {
            (Kind::Text, Value::Null) => sea_orm::Value::String(None),
            (Kind::Text, Value::Text(text)) => text.into(),
            (Kind::Integer, Value::Null) if self.narrow => sea_orm::Value::Int(None),
            (Kind::Integer, Value::Integer(number)) if self.narrow => {
                i32::try_from(number).ok()?.into()
            }
            (Kind::Integer, Value::Null) => sea_orm::Value::BigInt(None),
            (Kind::Integer, Value::Integer(number)) => number.into(),
            (Kind::Real, Value::Null) => sea_orm::Value::Double(None),
            (Kind::Real, Value::Real(number)) => number.into(),
            (Kind::Boolean, Value::Null) => sea_orm::Value::Bool(None),
            (Kind::Boolean, Value::Boolean(truth)) => truth.into(),
            (Kind::Bytes, Value::Null) => sea_orm::Value::Bytes(None),
            (Kind::Bytes, Value::Bytes(bytes)) => bytes.into(),
            _ => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn knows_the_types_of_both_engines() {
        assert_eq!(kind("double precision"), Some(Kind::Real));
        assert_eq!(kind("blob(1)"), Some(Kind::Bytes));
        assert_eq!(kind("json"), None);
    }
}
