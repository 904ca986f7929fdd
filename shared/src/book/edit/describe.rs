//! What is said of a set-up or a stage that is there already, field by field: what somebody else said
//! of it meanwhile stays.

use automerge::ReadDoc;
use automerge::transaction::Transaction;
use serde_json::{Value as Json, json};

use super::{Done, EditError, find, possible, root, set_field, text};
use crate::book::intention::{SetupPart, StagePart};
use crate::book::mend::run;
use crate::book::record::to_json;
use crate::ids::SetupId;
use crate::job::rules;
use crate::job::{Plumb, Setup, StageKind};

/// Says something of a set-up, by the rules of a new one.
pub(super) fn setup(tx: &mut Transaction<'_>, id: &SetupId, says: &[SetupPart]) -> Done {
    for part in says {
        let (field, value) = match part {
            SetupPart::Label(label) => ("label", named(label)?),
            SetupPart::Plumb(plumb) => {
                stays_as_read(tx, id, *plumb)?;
                ("plumb", to_json(plumb))
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
/// right of a beam is not behind it. Where two people have meant different runs, the one that more
/// readings were taken by can be put right.
fn stays_as_read(tx: &Transaction<'_>, id: &SetupId, plumb: Option<Plumb>) -> Done {
    let record = find(tx, "setups", id.as_str())?;
    let known = text(tx, &record, "plumb")?.and_then(|known| from_json(&known));
    if known == plumb {
        return Ok(());
    }
    let readings = root(tx, "readings")?;
    let (mut runs, mut has_split) = (Vec::new(), false);
    for key in tx.keys(&readings).collect::<Vec<_>>() {
        let Some((_, reading)) = tx.get(&readings, key.as_str())? else {
            continue;
        };
        let Some((_, taken)) = tx.get(&reading, "taken")? else {
            continue;
        };
        if text(tx, &taken, "setup")?.as_deref() != Some(id.as_str()) {
            continue;
        }
        match text(tx, &taken, "kind")?.as_deref() {
            Some("offset") => {
                let side = text(tx, &taken, "side")?.and_then(|side| from_json(&side));
                runs.extend(side.map(run));
            }
            // It says nothing of how the beam ran.
            Some("split") => has_split = true,
            _ => {}
        }
    }
    let fits = |plumb: Option<Plumb>| runs.iter().filter(|run| Some(**run) == plumb).count();
    let is_right = match runs.is_empty() {
        true => !has_split,
        false => fits(plumb) == runs.len() || fits(plumb) > fits(known),
    };
    match is_right {
        true => Ok(()),
        false => Err(EditError::ReadFrom(format!("setups/{id}"))),
    }
}

/// A word of the job file's own; `None` for any other.
fn from_json<T: serde::de::DeserializeOwned>(word: &str) -> Option<T> {
    serde_json::from_value(json!(word)).ok()
}
