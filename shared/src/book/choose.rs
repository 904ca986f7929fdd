//! Keeping one of the values that two people gave the same field.
//!
//! Writing a value again, after both were seen, ends the conflict on every phone. Fields that are
//! written once (readings, notes) have no conflicts and are refused.

use automerge::transaction::{Transactable, Transaction};
use automerge::{ObjId, ObjType, ROOT, ReadDoc, Value};

use super::WRITTEN_ONCE;
use super::edit::EditError;
use super::record::choice_in;

/// Keeps the value of a field that is shown like this.
pub(super) fn choose_value(
    tx: &mut Transaction<'_>,
    subject: &str,
    value: &str,
) -> Result<(), EditError> {
    let missing = || EditError::Missing(subject.to_owned());
    let (map, key) = field(tx, subject).ok_or_else(missing)?;
    let values: Vec<(Value<'static>, ObjId)> = tx
        .get_all(&map, key.as_str())?
        .into_iter()
        .map(|(value, id)| (value.into_owned(), id))
        .collect();
    let chosen = values
        .into_iter()
        .find(|(found, id)| choice_in(tx, subject, found, id) == value)
        .ok_or_else(missing)?;
    match chosen {
        (Value::Scalar(scalar), _) => tx.put(&map, key.as_str(), scalar.into_owned())?,
        (Value::Object(kind @ (ObjType::List | ObjType::Map)), old) => {
            let new = tx.put_object(&map, key.as_str(), kind)?;
            copy(tx, &old, &new, kind)?;
        }
        (Value::Object(_), _) => return Err(missing()),
    }
    Ok(())
}

/// The map and key of a path: `points/tower-L/label`, `job/number`, `sheet`. An identifier may hold a
/// slash, so what stands between the first and the last step is one key.
fn field(tx: &Transaction<'_>, subject: &str) -> Option<(ObjId, String)> {
    let Some((first, rest)) = subject.split_once('/') else {
        return Some((ROOT, subject.to_owned()));
    };
    if WRITTEN_ONCE.contains(&first) {
        return None;
    }
    let into = |parent: &ObjId, key: &str| match tx.get(parent, key) {
        Ok(Some((Value::Object(ObjType::Map), id))) => Some(id),
        _ => None,
    };
    let root = into(&ROOT, first)?;
    match rest.rsplit_once('/') {
        Some((record, key)) => Some((into(&root, record)?, key.to_owned())),
        None => Some((root, rest.to_owned())),
    }
}

/// Copies scalars and lists of scalars, which is all that a field of a book holds.
fn copy(
    tx: &mut Transaction<'_>,
    old: &ObjId,
    new: &ObjId,
    kind: ObjType,
) -> Result<(), EditError> {
    if kind == ObjType::List {
        for index in 0..tx.length(old) {
            if let Some((Value::Scalar(scalar), _)) = tx.get(old, index)? {
                let scalar = scalar.into_owned();
                tx.insert(new, index, scalar)?;
            }
        }
        return Ok(());
    }
    for key in tx.keys(old).collect::<Vec<_>>() {
        match tx.get(old, key.as_str())? {
            Some((Value::Scalar(scalar), _)) => {
                let scalar = scalar.into_owned();
                tx.put(new, key, scalar)?;
            }
            Some((Value::Object(kind @ (ObjType::List | ObjType::Map)), inner)) => {
                let made = tx.put_object(new, key, kind)?;
                copy(tx, &inner, &made, kind)?;
            }
            _ => {}
        }
    }
    Ok(())
}
