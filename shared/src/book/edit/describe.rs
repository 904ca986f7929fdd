//! What is said of a set-up or a stage that is there already, field by field: what somebody else said
//! of it meanwhile stays.

use automerge::transaction::Transaction;
use automerge::{ObjId, ReadDoc};
use serde_json::{Value as Json, json};

use super::{Done, EditError, find, possible, root, set_field};
use crate::book::intention::{SetupPart, StagePart};
use crate::book::record::to_json;
use crate::ids::SetupId;
use crate::job::rules;
use crate::job::{Setup, StageKind};

/// Says something of a set-up, by the rules of a new one.
pub(super) fn setup(tx: &mut Transaction<'_>, id: &SetupId, says: &[SetupPart]) -> Done {
    for part in says {
        let (field, value) = match part {
            SetupPart::Label(label) => ("label", named(label)?),
            SetupPart::Plumb(plumb) => {
                let value = to_json(plumb);
                stays_as_read(tx, id, &value)?;
                ("plumb", value)
            }
            SetupPart::Tool(tool) => {
                if let Some(tool) = tool {
                    find(tx, "tools", tool.as_str())?;
                }
                ("tool", to_json(tool))
            }
            SetupPart::Stands(stands_mm) => {
                let placed = Setup {
                    stands_mm: *stands_mm,
                    ..Setup::default()
                };
                possible(id.as_str(), rules::stands(&placed))?;
                ("stands_mm", to_json(stands_mm))
            }
        };
        set_field(tx, "setups", id.as_str(), field, &value)?;
    }
    Ok(())
}

/// Says something of a stage.
pub(super) fn stage(tx: &mut Transaction<'_>, id: &str, says: &[StagePart]) -> Done {
    for part in says {
        match part {
            StagePart::Label(label) => set_field(tx, "stages", id, "label", &named(label)?)?,
            StagePart::Kind(of, load) => {
                // Only a pull has a load.
                let load = load.filter(|_| *of == StageKind::Pull);
                set_field(tx, "stages", id, "of", &to_json(of))?;
                set_field(tx, "stages", id, "load", &to_json(&load))?;
            }
        }
    }
    Ok(())
}

fn named(label: &str) -> Result<Json, EditError> {
    let label = label.trim();
    match label.is_empty() {
        true => Err(EditError::NoName),
        false => Ok(json!(label)),
    }
}

/// Refuses another run of a plumb beam that somebody has read from, set aside or not: what was read
/// right of a beam is not behind it.
fn stays_as_read(tx: &Transaction<'_>, id: &SetupId, plumb: &Json) -> Done {
    let record = find(tx, "setups", id.as_str())?;
    let text = |map: &ObjId, field: &str| -> Result<Option<String>, EditError> {
        let found = tx.get(map, field)?;
        Ok(found.and_then(|(value, _)| value.as_str().map(str::to_owned)))
    };
    if text(&record, "plumb")?.as_deref() == plumb.as_str() {
        return Ok(());
    }
    let readings = root(tx, "readings")?;
    for key in tx.keys(&readings).collect::<Vec<_>>() {
        let Some((_, reading)) = tx.get(&readings, key.as_str())? else {
            continue;
        };
        let Some((_, taken)) = tx.get(&reading, "taken")? else {
            continue;
        };
        let of_beam = matches!(text(&taken, "kind")?.as_deref(), Some("offset" | "split"));
        if of_beam && text(&taken, "setup")?.as_deref() == Some(id.as_str()) {
            return Err(EditError::ReadFrom(format!("setups/{id}")));
        }
    }
    Ok(())
}
