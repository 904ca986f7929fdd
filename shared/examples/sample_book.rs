//! Makes the sample of a book as this program's schema writes it.
//!
//! Every schema version that was ever released keeps its sample in `shared/samples`, and a test opens
//! all of them. A sample is made once, when its schema is new, and never again:
//! `cargo run -p shared --example sample_book > shared/samples/book-schema-N.automerge`

use std::io::Write as _;

use shared::book::{ActorId, Intention, Stamp, edit, import_file};
use shared::ids::{PointId, ReadingId};
use shared::job::{Beam, Reading, Taken};

/// An invented car with one of everything.
const CAR: &str = r#"{
  "format": "baybook-job/1",
  "job": {"number": "4117", "vehicle": "five-door hatch, invented", "vin": "INVENTED", "impact": {"zone": "front-left", "direction_deg": 200}},
  "tolerance_mm": 2.5, "conformity": 0.9, "build_spread_mm": 1.5,
  "points": {
    "tower-L": {"label": "strut tower", "side": "left", "mirror": "tower-R", "place": [-60, -545, 840], "member": "left-tower"},
    "tower-R": {"label": "strut tower", "side": "right", "mirror": "tower-L", "place": [-60, 545, 840]},
    "notch": {"label": "cowl", "side": "centre", "place": [400.25, 0, 900], "place_sigma_mm": 50, "trusted": true, "member": "cell"}
  },
  "members": {"cell": {"label": "passenger cell"}, "left-tower": {"carried_by": ["cell"]}},
  "sheet": {"name": "own", "revision": 3, "spread_mm": 0.5, "points": {"tower-L": [-61.0, -545.2, 838.7]}},
  "tools": {"tape-1": {"kind": "tape", "label": "yellow tape", "sigma_mm": 1.0, "per_m_mm": 0.2}},
  "setups": {"s1": {"label": "front of bay", "plumb": "lengthwise", "tool": "tape-1"}},
  "stages": [{"id": "as-received", "label": "as received"}, {"id": "pull-1", "label": "pull 1", "of": "pull", "load": "released"}],
  "readings": [
    {"id": "r1", "stage": "as-received", "kind": "height", "setup": "s1", "point": "tower-L", "beam": "above", "value_mm": 96.5, "sigma_mm": 0.7},
    {"id": "r2", "stage": "as-received", "kind": "offset", "setup": "s1", "point": "tower-L", "side": "left", "value_mm": 541.5},
    {"id": "r3", "stage": "as-received", "kind": "split", "setup": "s1", "from": "tower-L", "to": "tower-R", "value_mm": 545.0},
    {"id": "r4", "stage": "as-received", "kind": "span", "from": "tower-L", "to": "notch", "value_mm": 717.0, "tool": "tape-1", "origin_mm": 100},
    {"id": "r5", "stage": "pull-1", "kind": "datum_span", "from": "tower-L", "to": "tower-R", "value_mm": 1090.5},
    {"id": "r6", "stage": "pull-1", "kind": "fix", "frame": "arm", "point": "notch", "xyz_mm": [1502.1, -219.8, 91.0]},
    {"id": "r7", "stage": "as-received", "kind": "height", "setup": "s1", "point": "tower-R", "beam": "below", "value_mm": 91.0,
     "by": "Ana", "at": "2026-03-02T09:14:00Z", "entered": "91 mm", "note": "rusty", "set_aside": {"why": "tape slipped", "by": "Ben"}}
  ]
}"#;

fn stamp(by: &str, minute: u8) -> Stamp {
    Stamp {
        by: by.to_owned(),
        at: format!("2026-03-02T10:{minute:02}:00Z"),
        at_ms: 1_772_445_600_000 + i64::from(minute) * 60_000,
        record: format!("record-{minute}"),
    }
}

fn actor(number: u8) -> ActorId {
    ActorId::from(&[number; 16][..])
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut ana = import_file(CAR.as_bytes(), actor(1), &stamp("Ana", 0))?;
    let mut ben = ana.fork().with_actor(actor(2));
    let notch = PointId::parse("notch")?;
    let name = |label: &str| Intention::RenamePoint {
        id: notch.clone(),
        label: label.to_owned(),
    };
    let (r1, r2) = (ReadingId::parse("r1")?, ReadingId::parse("r2")?);
    let read_again = Reading {
        id: ReadingId::parse("r8")?,
        stage: shared::ids::StageId::parse("as-received")?,
        taken: Taken::Height {
            setup: shared::ids::SetupId::parse("s1")?,
            point: PointId::parse("tower-L")?,
            beam: Beam::Above,
            value_mm: 95.5,
        },
        sigma_mm: None,
        tool: None,
        origin_mm: 0.0,
        by: "Ben".to_owned(),
        at: "2026-03-02T10:02:00Z".to_owned(),
        entered: "95,5".to_owned(),
        note: String::new(),
        set_aside: None,
        replaces: Some(r1),
    };
    // Two phones, both out of sight of the server: a conflict, a correction, a second thought.
    edit::apply(&mut ana, &stamp("Ana", 1), &name("cowl notch"))?;
    edit::apply(&mut ben, &stamp("Ben", 2), &name("wiper notch"))?;
    let reading = read_again;
    edit::apply(
        &mut ben,
        &stamp("Ben", 3),
        &Intention::RecordReading { reading },
    )?;
    let why = "not plumb".to_owned();
    let aside = Intention::SetReadingAside {
        reading: r2.clone(),
        why,
    };
    edit::apply(&mut ana, &stamp("Ana", 4), &aside)?;
    let why = "it was plumb".to_owned();
    let back = Intention::BringReadingBack { reading: r2, why };
    edit::apply(&mut ana, &stamp("Ana", 5), &back)?;
    let note = Intention::WriteNote {
        id: "first".to_owned(),
        text: "Left wheel came off the hub.".to_owned(),
    };
    edit::apply(&mut ana, &stamp("Ana", 6), &note)?;
    ana.merge(&mut ben)?;
    std::io::stdout().write_all(&ana.save())?;
    Ok(())
}
