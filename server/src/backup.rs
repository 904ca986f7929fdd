//! The file of a backup: all rows of a database, the same for every engine.
//!
//! Compressed lines (gzip, RFC 1952) of JSON: a header with the schema and how many rows there are,
//! one line per row, and an end with the SHA-256 of everything before it. A file that was cut short,
//! altered or spliced does not read to its end. This file refuses to know databases.

use std::io::{BufRead, BufReader, Read, Write};

use base64::prelude::{BASE64_STANDARD, Engine as _};
use flate2::Compression;
use flate2::bufread::GzDecoder;
use flate2::write::GzEncoder;
use serde::{Deserialize, Serialize};
use serde_json::Value as Json;
use sha2::{Digest as _, Sha256};
use thiserror::Error;

/// `format` of a backup.
pub const FORMAT: &str = "baybook-backup/1";
/// Longest line: a row holds at most one message of a book, and a log's entry may name many changes.
const MAX_LINE_BYTES: u64 = 256 * 1024 * 1024;

/// What is in a backup.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Header {
    /// Always [`FORMAT`].
    pub format: String,
    /// RFC 3339 time.
    pub made_at: String,
    /// The changes of the schema that the database had, oldest first.
    pub schema: Vec<String>,
    /// The tables; each refers to earlier ones only.
    pub tables: Vec<Table>,
}

/// One table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Table {
    /// Its name.
    pub name: String,
    /// Its columns, in the order of every row.
    pub columns: Vec<Column>,
    /// How many rows there are.
    pub rows: u64,
}

/// One column.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Column {
    /// Its name.
    pub name: String,
    /// What it holds.
    pub kind: Kind,
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[expect(missing_docs, reason = "the names say it")]
pub enum Kind {
    Text,
    Integer,
    Real,
    Boolean,
    /// In base64 (RFC 4648, section 4).
    Bytes,
}

/// One value of a row; `Null` stands in any column.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Value {
    Null,
    Text(String),
    Integer(i64),
    Real(f64),
    Boolean(bool),
    Bytes(Vec<u8>),
}

/// The last line.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct End {
    rows: u64,
    sha256: String,
}

/// Why a backup cannot be read.
#[derive(Debug, Error)]
pub enum Fault {
    /// The file itself.
    #[error("cannot be read: {0}")]
    File(std::io::Error),
    /// It is something else.
    #[error("is no backup of Baybook")]
    NoBackup,
    /// A form that this program does not know.
    #[error("is of the form {0}; this program reads {FORMAT}: use a newer program")]
    Newer(String),
    /// Bytes that were altered or are missing.
    #[error("is damaged: {0}; use another copy")]
    Damaged(String),
}

/// Writes a backup.
#[derive(Debug)]
pub struct Writer<W: Write> {
    out: GzEncoder<W>,
    digest: Sha256,
    rows: u64,
}

impl<W: Write> Writer<W> {
    /// Begins with the header.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn begin(out: W, header: &Header) -> std::io::Result<Self> {
        let mut writer = Self {
            out: GzEncoder::new(out, Compression::default()),
            digest: Sha256::new(),
            rows: 0,
        };
        writer.line(&serde_json::to_string(header)?)?;
        Ok(writer)
    }

    fn line(&mut self, text: &str) -> std::io::Result<()> {
        for bytes in [text.as_bytes(), b"\n"] {
            self.digest.update(bytes);
            self.out.write_all(bytes)?;
        }
        Ok(())
    }

    /// Adds a row of the table that is not complete yet.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn row(&mut self, values: &[Value]) -> std::io::Result<()> {
        let values: Vec<Json> = values.iter().map(to_json).collect();
        self.rows += 1;
        self.line(&serde_json::to_string(&values)?)
    }

    /// Ends with the digest.
    ///
    /// # Errors
    /// When it cannot be written.
    pub fn end(mut self) -> std::io::Result<W> {
        let end = End {
            rows: self.rows,
            sha256: hex(self.digest.finalize_reset().as_ref()),
        };
        let text = serde_json::to_string(&end)?;
        self.line(&text)?;
        self.out.finish()
    }
}

fn to_json(value: &Value) -> Json {
    match value {
        Value::Null => Json::Null,
        Value::Text(text) => Json::from(text.as_str()),
        Value::Integer(number) => Json::from(*number),
        Value::Real(number) => Json::from(*number),
        Value::Boolean(truth) => Json::from(*truth),
        Value::Bytes(bytes) => Json::from(BASE64_STANDARD.encode(bytes)),
    }
}

fn from_json(json: Json, kind: Kind) -> Option<Value> {
    Some(match (kind, json) {
        (_, Json::Null) => Value::Null,
        (Kind::Text, Json::String(text)) => Value::Text(text),
        (Kind::Bytes, Json::String(text)) => Value::Bytes(BASE64_STANDARD.decode(text).ok()?),
        (Kind::Integer, Json::Number(number)) => Value::Integer(number.as_i64()?),
        (Kind::Real, Json::Number(number)) => Value::Real(number.as_f64()?),
        (Kind::Boolean, Json::Bool(truth)) => Value::Boolean(truth),
        _ => return None,
    })
}

fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        // Writing to a text cannot fail.
        let _ = write!(text, "{byte:02x}");
    }
    text
}

/// Reads a backup, row by row.
#[derive(Debug)]
pub struct Reader<R: BufRead> {
    input: BufReader<GzDecoder<R>>,
    digest: Sha256,
    header: Header,
    /// The table whose row comes next, and how many of its rows came.
    at: (usize, u64),
    rows: u64,
}

impl<R: BufRead> Reader<R> {
    /// Reads the header.
    ///
    /// # Errors
    /// [`Fault`].
    pub fn open(input: R) -> Result<Self, Fault> {
        let mut reader = Self {
            input: BufReader::new(GzDecoder::new(input)),
            digest: Sha256::new(),
            header: Header {
                format: String::new(),
                made_at: String::new(),
                schema: Vec::new(),
                tables: Vec::new(),
            },
            at: (0, 0),
            rows: 0,
        };
        let line = reader.line().map_err(|fault| match fault {
            Fault::Damaged(_) => Fault::NoBackup,
            fault => fault,
        })?;
        reader.digest.update(&line);
        let json: Json = serde_json::from_slice(&line).map_err(|_| Fault::NoBackup)?;
        match json["format"].as_str() {
            Some(FORMAT) => {}
            Some(other) if other.starts_with("baybook-backup/") => {
                return Err(Fault::Newer(other.chars().take(100).collect()));
            }
            _ => return Err(Fault::NoBackup),
        }
        reader.header = serde_json::from_value(json)
            .map_err(|error| Fault::Damaged(format!("its header is not of the form ({error})")))?;
        Ok(reader)
    }

    /// What is in it.
    #[must_use]
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// The next row and the place of its table; `None` at the end, which has been verified then.
    ///
    /// # Errors
    /// [`Fault`].
    pub fn next_row(&mut self) -> Result<Option<(usize, Vec<Value>)>, Fault> {
        while let Some(table) = self.header.tables.get(self.at.0) {
            if self.at.1 < table.rows {
                break;
            }
            self.at = (self.at.0 + 1, 0);
        }
        if self.at.0 == self.header.tables.len() {
            self.check_end()?;
            return Ok(None);
        }
        let line = self.line()?;
        self.digest.update(&line);
        let place = self.at.0;
        let table = &self.header.tables[place];
        self.at.1 += 1;
        self.rows += 1;
        let wrong = || Fault::Damaged(format!("row {} of {}", self.at.1, table.name));
        let values: Vec<Json> = serde_json::from_slice(&line).map_err(|_| wrong())?;
        if values.len() != table.columns.len() {
            return Err(wrong());
        }
        let row = values
            .into_iter()
            .zip(&table.columns)
            .map(|(json, column)| from_json(json, column.kind))
            .collect::<Option<Vec<Value>>>();
        Ok(Some((place, row.ok_or_else(wrong)?)))
    }

    fn check_end(&mut self) -> Result<(), Fault> {
        let line = self.line()?;
        let wrong = |what: &str| Fault::Damaged(what.to_owned());
        let end: End =
            serde_json::from_slice(&line).map_err(|_| wrong("its end is not of the form"))?;
        if end.rows != self.rows || end.sha256 != hex(self.digest.finalize_reset().as_ref()) {
            return Err(wrong("its digest is another"));
        }
        let mut more = [0];
        match self.input.read(&mut more) {
            Ok(0) => Ok(()),
            Ok(_) => Err(wrong("something stands after its end")),
            Err(error) => Err(broken(error)),
        }
    }

    fn line(&mut self) -> Result<Vec<u8>, Fault> {
        let mut line = Vec::new();
        self.input
            .by_ref()
            .take(MAX_LINE_BYTES)
            .read_until(b'\n', &mut line)
            .map_err(broken)?;
        match line.last() {
            Some(b'\n') => Ok(line),
            _ => Err(Fault::Damaged("it ends too early".to_owned())),
        }
    }
}

/// A decoder says with an error of these kinds that the bytes are wrong.
fn broken(error: std::io::Error) -> Fault {
    use std::io::ErrorKind::{InvalidData, InvalidInput, UnexpectedEof};
    match error.kind() {
        UnexpectedEof => Fault::Damaged("it ends too early".to_owned()),
        InvalidData | InvalidInput => Fault::Damaged(error.to_string()),
        _ => Fault::File(error),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn header() -> Header {
        let column = |name: &str, kind| Column {
            name: name.to_owned(),
            kind,
        };
        Header {
            format: FORMAT.to_owned(),
            made_at: "2027-01-15T08:00:00Z".to_owned(),
            schema: vec!["m0001".to_owned()],
            tables: vec![
                Table {
                    name: "none".to_owned(),
                    columns: Vec::new(),
                    rows: 0,
                },
                Table {
                    name: "all".to_owned(),
                    columns: vec![
                        column("a", Kind::Text),
                        column("b", Kind::Integer),
                        column("c", Kind::Real),
                        column("d", Kind::Boolean),
                        column("e", Kind::Bytes),
                    ],
                    rows: 2,
                },
            ],
        }
    }

    fn rows() -> [Vec<Value>; 2] {
        [
            vec![
                Value::Text("line\nbreak \u{1F697}".to_owned()),
                Value::Integer(i64::MIN),
                Value::Real(0.1 + 0.2),
                Value::Boolean(true),
                Value::Bytes(vec![0, 255, 10]),
            ],
            vec![Value::Null; 5],
        ]
    }

    fn written() -> Vec<u8> {
        let mut writer = Writer::begin(Vec::new(), &header()).unwrap();
        for row in rows() {
            writer.row(&row).unwrap();
        }
        writer.end().unwrap()
    }

    fn read(bytes: &[u8]) -> Result<Vec<Vec<Value>>, Fault> {
        let mut reader = Reader::open(bytes)?;
        let mut rows = Vec::new();
        while let Some((table, row)) = reader.next_row()? {
            assert_eq!(table, 1);
            rows.push(row);
        }
        Ok(rows)
    }

    #[test]
    fn reads_what_it_wrote() {
        assert_eq!(read(&written()).unwrap(), rows());
        assert_eq!(Reader::open(&written()[..]).unwrap().header(), &header());
    }

    /// Cut anywhere, or with any one bit turned, it is not read to its end.
    #[test]
    fn damage_is_seen() {
        let whole = written();
        for end in 0..whole.len() {
            assert!(read(&whole[..end]).is_err(), "cut at {end}");
        }
        // Bytes 3 to 9 of gzip are flags, time and system, which say nothing of the content.
        for place in (0..whole.len()).filter(|place| !(3..10).contains(place)) {
            let mut bytes = whole.clone();
            bytes[place] ^= 1;
            assert!(read(&bytes).is_err(), "altered at {place}");
        }
        let mut more = whole.clone();
        more.extend(whole);
        assert!(
            read(&more).is_ok_and(|rows| rows.len() == 2),
            "one file after the other is read once"
        );
    }

    #[test]
    fn says_what_it_is_not() {
        assert!(matches!(read(b"PK"), Err(Fault::NoBackup)));
        let newer = Header {
            format: "baybook-backup/2".to_owned(),
            ..header()
        };
        let bytes = Writer::begin(Vec::new(), &newer).unwrap().end().unwrap();
        assert!(matches!(read(&bytes), Err(Fault::Newer(form)) if form == "baybook-backup/2"));
    }
}
