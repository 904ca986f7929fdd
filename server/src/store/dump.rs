//! Out into a backup, and back into an empty database of either engine.
//!
//! Out: all rows as of one moment, beside a running server. In: the schema of the backup, its rows in
//! one transaction, then what is newer of the schema.

use std::io::{BufRead, Write};

use futures_util::TryStreamExt;
use migrations::{Migrator, MigratorTrait};
use sea_orm::sea_query::{Alias, Query, SimpleExpr};
use sea_orm::{
    AccessMode, ConnectionTrait, DatabaseConnection, DatabaseTransaction, DbBackend, DbErr,
    IsolationLevel, Statement, StreamTrait, TransactionTrait,
};
use thiserror::Error;

use super::connect::open;
use super::tables::{TableOf, applied, count, tables};
use crate::backup::{Column, FORMAT, Fault, Header, Reader, Table, Value, Writer};

/// Rows per statement, and about how many bytes.
const ROWS_AT_ONCE: usize = 200;
const BYTES_AT_ONCE: usize = 4 * 1024 * 1024;

/// Why a backup was not written or not brought back.
#[derive(Debug, Error)]
pub enum DumpError {
    /// Nothing to write.
    #[error("there is no database of Baybook here")]
    NoDatabase,
    /// Something would be mixed.
    #[error(
        "the database is not empty ({table} has {rows} rows); restore into a new one, so that nothing \
         is mixed or overwritten"
    )]
    NotEmpty {
        /// A table with rows.
        table: String,
        /// How many.
        rows: u64,
    },
    /// A schema that this program does not know.
    #[error(
        "the backup's schema has {0}, which this program does not know; restore it with the program \
         that wrote it, or a newer one"
    )]
    Newer(String),
    /// A database that is further than the backup.
    #[error(
        "the database has the schema up to {0} already, the backup is older; restore into a new database"
    )]
    Further(String),
    /// Tables or columns that are not those of the schema.
    #[error("the backup does not fit its schema: {0}; use another copy")]
    Unfit(String),
    /// The backup.
    #[error("the backup {0}")]
    Fault(#[from] Fault),
    /// The database.
    #[error("database: {0}")]
    Database(#[from] DbErr),
    /// The file.
    #[error("the backup cannot be written: {0}")]
    Write(#[from] std::io::Error),
}

/// Writes all rows of a database as they are at one moment. Writers are not held up.
///
/// # Errors
/// [`DumpError`].
pub async fn dump<W: Write>(url: &str, made_at: String, out: W) -> Result<(Header, W), DumpError> {
    let database = open(url, 1).await?;
    let dumped = dump_all(&database, made_at, out).await;
    database.close().await?;
    dumped
}

async fn dump_all<W: Write>(
    database: &DatabaseConnection,
    made_at: String,
    out: W,
) -> Result<(Header, W), DumpError> {
    let transaction = match database.get_database_backend() {
        // A transaction of SQLite sees one moment anyway.
        DbBackend::Sqlite => database.begin().await?,
        _ => {
            database
                .begin_with_config(
                    Some(IsolationLevel::RepeatableRead),
                    Some(AccessMode::ReadOnly),
                )
                .await?
        }
    };
    let schema = applied(&transaction).await?;
    if schema.is_empty() {
        return Err(DumpError::NoDatabase);
    }
    let found = tables(&transaction).await?;
    let mut header = Header {
        format: FORMAT.to_owned(),
        made_at,
        schema,
        tables: Vec::with_capacity(found.len()),
    };
    for table in &found {
        header.tables.push(Table {
            name: table.name.clone(),
            columns: table
                .fields
                .iter()
                .map(|field| field.column.clone())
                .collect(),
            rows: count(&transaction, &table.name).await?,
        });
    }
    let mut writer = Writer::begin(out, &header)?;
    for table in &found {
        let mut rows = transaction
            .stream_raw(everything(&transaction, table))
            .await?;
        while let Some(row) = rows.try_next().await? {
            let fields = table.fields.iter().enumerate();
            let values: Vec<Value> = fields
                .map(|(place, field)| field.read(&row, place))
                .collect::<Result<_, _>>()?;
            writer.row(&values)?;
        }
    }
    transaction.rollback().await?;
    Ok((header, writer.end()?))
}

fn everything(transaction: &DatabaseTransaction, table: &TableOf) -> Statement {
    let columns: Vec<String> = table
        .fields
        .iter()
        .map(|field| format!(r#""{}""#, field.column.name))
        .collect();
    let question = format!(r#"SELECT {} FROM "{}""#, columns.join(", "), table.name);
    Statement::from_string(ConnectionTrait::get_database_backend(transaction), question)
}

/// Brings a backup into an empty database. The file should have been read to its end before.
///
/// # Errors
/// [`DumpError`]; the database has no rows then, as before.
pub async fn restore<R: BufRead>(url: &str, backup: Reader<R>) -> Result<(), DumpError> {
    let database = open(url, 1).await?;
    let restored = restore_all(&database, backup).await;
    database.close().await?;
    restored
}

async fn restore_all<R: BufRead>(
    database: &DatabaseConnection,
    mut backup: Reader<R>,
) -> Result<(), DumpError> {
    let header = backup.header().clone();
    let known: Vec<String> = Migrator::migrations()
        .iter()
        .map(|change| change.name().to_owned())
        .collect();
    let strange = |name: &&String| !known.contains(name);
    if let Some(unknown) = header.schema.iter().find(strange) {
        return Err(DumpError::Newer(unknown.clone()));
    }
    if !known.starts_with(&header.schema) {
        return Err(DumpError::Unfit("changes of the schema are missing".into()));
    }
    be_empty(database).await?;
    let has = applied(database).await?;
    if has.len() > header.schema.len() {
        return Err(DumpError::Further(has.last().cloned().unwrap_or_default()));
    }
    let steps = u32::try_from(header.schema.len() - has.len()).unwrap_or(u32::MAX);
    if steps > 0 {
        Migrator::up(database, Some(steps)).await?;
    }
    let transaction = database.begin().await?;
    take_rows(&transaction, &header, &mut backup).await?;
    transaction.commit().await?;
    Ok(Migrator::up(database, None).await?)
}

async fn be_empty(database: &DatabaseConnection) -> Result<(), DumpError> {
    for table in tables(database).await? {
        let rows = count(database, &table.name).await?;
        if rows > 0 {
            let table = table.name;
            return Err(DumpError::NotEmpty { table, rows });
        }
    }
    Ok(())
}

async fn take_rows<R: BufRead>(
    transaction: &DatabaseTransaction,
    header: &Header,
    backup: &mut Reader<R>,
) -> Result<(), DumpError> {
    let found = tables(transaction).await?;
    let places = header
        .tables
        .iter()
        .map(|table| Filling::of(table, &found))
        .collect::<Result<Vec<Filling>, DumpError>>()?;
    let mut open: Option<(usize, Vec<Vec<SimpleExpr>>, usize)> = None;
    while let Some((place, row)) = backup.next_row()? {
        let is_full = |rows: &Vec<Vec<SimpleExpr>>, bytes: usize| {
            rows.len() >= ROWS_AT_ONCE || bytes >= BYTES_AT_ONCE
        };
        if let Some((other, rows, bytes)) = &mut open
            && (*other != place || is_full(rows, *bytes))
        {
            places[*other]
                .insert(transaction, std::mem::take(rows))
                .await?;
            open = None;
        }
        let (_, rows, bytes) = open.get_or_insert_with(|| (place, Vec::new(), 0));
        *bytes += row.iter().map(size).sum::<usize>();
        rows.push(places[place].written(row)?);
    }
    if let Some((place, rows, _)) = open {
        places[place].insert(transaction, rows).await?;
    }
    for table in &header.tables {
        let rows = count(transaction, &table.name).await?;
        if rows != table.rows {
            let says = format!("{rows} rows of {} instead of {}", table.name, table.rows);
            return Err(DumpError::Unfit(says));
        }
    }
    Ok(())
}

fn size(value: &Value) -> usize {
    match value {
        Value::Text(text) => text.len(),
        Value::Bytes(bytes) => bytes.len(),
        _ => 8,
    }
}

/// A table of the database with its columns in the order of the backup.
struct Filling {
    table: TableOf,
}

impl Filling {
    fn of(table: &Table, found: &[TableOf]) -> Result<Self, DumpError> {
        let unfit = |what: &str| DumpError::Unfit(format!("table {} {what}", table.name));
        let here = found
            .iter()
            .find(|here| here.name == table.name)
            .ok_or_else(|| unfit("is none of it"))?;
        if here.fields.len() != table.columns.len() {
            return Err(unfit("has other columns"));
        }
        let field = |column: &Column| {
            let mut fields = here.fields.iter();
            fields.find(|field| field.column == *column).cloned()
        };
        let fields: Option<Vec<_>> = table.columns.iter().map(field).collect();
        Ok(Self {
            table: TableOf {
                name: table.name.clone(),
                fields: fields.ok_or_else(|| unfit("has other columns"))?,
            },
        })
    }

    fn written(&self, row: Vec<Value>) -> Result<Vec<SimpleExpr>, DumpError> {
        let values = row.into_iter().zip(&self.table.fields);
        values
            .map(|(value, field)| {
                let written = field.written(value).ok_or_else(|| {
                    let (table, column) = (&self.table.name, &field.column.name);
                    DumpError::Unfit(format!("a value of {column} in {table}"))
                })?;
                Ok(SimpleExpr::from(written))
            })
            .collect()
    }

    async fn insert(
        &self,
        transaction: &DatabaseTransaction,
        rows: Vec<Vec<SimpleExpr>>,
    ) -> Result<(), DumpError> {
        let columns = self.table.fields.iter().map(|field| &field.column.name);
        let mut insert = Query::insert();
        insert
            .into_table(Alias::new(&self.table.name))
            .columns(columns.map(Alias::new));
        for row in rows {
            insert
                .values(row)
                .map_err(|error| DumpError::Unfit(error.to_string()))?;
        }
        transaction.execute(&insert).await?;
        Ok(())
    }
}
