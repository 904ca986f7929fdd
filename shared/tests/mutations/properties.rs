//! What must hold for any bytes from outside: no panic, bounded work, an error or something sound.
//!
//! Each function takes bytes and panics when the property does not hold. The seeded test beside this
//! file and the fuzz targets under `fuzz/` share them.

use std::sync::{Arc, OnceLock};

use automerge::legacy::{ElementId, Key, ObjectId, Op, OpId, OpType, SortedVec};
use automerge::sync::{Message, MessageVersion};
use automerge::{ActorId, Automerge, Change, ObjType, ScalarValue};
use sha2::{Digest, Sha256};
use shared::book::{self, Intention, Stamp};
use shared::job::Job;
use shared::solve::solve;
use shared::sync::conversation::Host;
use shared::sync::gate::{Admitted, Refusal, Role, weigh};
use shared::sync::{frame, replay};
use shared::{demo, jobfile, library};

/// Readings of a job that is also solved; a larger one is only read.
const SOLVED: usize = 120;

/// A frame that is read is written and read again the same.
pub(crate) fn a_frame(bytes: &[u8]) {
    let Ok(read) = frame::decode(bytes) else {
        return;
    };
    let mut again = frame::decode(&frame::encode(&read)).expect("what we write is a frame");
    // We name our own version where a frame names versions.
    again.versions.clone_from(&read.versions);
    assert_eq!(again, read);
}

/// A message to the gate: refused, or the book goes on and loads again.
pub(crate) fn a_message(bytes: &[u8]) {
    let _ = meets_the_gate(bytes.to_vec());
}

/// The contents of a change, in a chunk with its right length and checksum.
pub(crate) fn a_change(contents: &[u8]) {
    let _ = meets_the_gate(message(vec![chunk(contents)]));
}

/// A change that the engine itself writes, of operations that nobody would mean; the bytes choose.
pub(crate) fn operations(bytes: &[u8]) {
    let _ = meets_the_gate(message(vec![strange_change(&mut Choices(bytes))]));
}

/// A file that is read as a job: it is written and read again the same, makes a book that says the
/// same, and solves.
pub(crate) fn a_job_file(bytes: &[u8]) {
    let Ok(job) = jobfile::parse_bytes(bytes) else {
        return;
    };
    let again = jobfile::parse(&jobfile::write(&job)).expect("what we write is a job file");
    assert_eq!(again, job);
    if job.readings.len() <= SOLVED {
        let doc = book::import(&job, actor(ANA), &stamp("r")).expect("a job makes a book");
        let (read, findings) = book::read(&doc);
        assert!(findings.is_empty(), "{findings:?}");
        assert_eq!(read, job);
        let result = solve(&job);
        serde_json::to_string(&result).expect("a result can be written");
    }
}

/// Bytes that are read as a sheet, as JSON or as a table: each form is written and read again the same.
pub(crate) fn a_sheet(bytes: &[u8]) {
    let read = [
        library::parse_bytes(bytes),
        library::read_table(bytes, &a_small_sheet()),
    ];
    for sheet in read.into_iter().flatten() {
        let json = library::parse(&library::write(&sheet)).expect("what we write is a sheet");
        assert_eq!(json, sheet);
        let table = library::write_table(&sheet);
        let table = library::read_table(table.as_bytes(), &a_small_sheet());
        assert_eq!(table.expect("what we write is a table"), sheet);
        let _ = library::effect(&a_job(), &sheet);
    }
}

/// A sheet of the demo car's rough places.
fn a_small_sheet() -> library::Sheet {
    let text = r#"{"format": "baybook-sheet/1", "sheet": {"name": "hatch", "revision": 1,
        "body": {"model": "Hatch", "vin": "1G4 A[HJ] *"}, "origin": {"kind": "manual"},
        "members": {"cell": {}, "rail": {"label": "=rail", "carried_by": ["cell"]}},
        "points": {
            "tower-L": {"side": "left", "mirror": "tower-R", "target_mm": [-61.5, -545.25, 838.7],
                "spread_mm": [0.5, 0.5, 0.5], "member": "rail"},
            "tower-R": {"side": "right", "mirror": "tower-L", "target_mm": [-61.5, 545.25, 838.7],
                "spread_mm": [0.5, 0.5, 0.5], "tolerance_mm": 2.5},
            "notch": {"label": "-cowl; \"notch\"", "side": "centre", "target_mm": [400, 0, 900],
                "spread_mm": [1, 1, 1]}}}}"#;
    library::parse(text).expect("it is a sheet")
}

/// Sheets in both forms, and a plain list of points as somebody might type it.
pub(crate) fn sheets() -> Vec<Vec<u8>> {
    let plain = "sep=;\r\nid;x_in;y;z;spread\r\na;1/64;-2,5;3;0,5\r\n'=b;1;2;3;1\r\n";
    vec![
        library::write(&a_small_sheet()).into_bytes(),
        library::write_table(&a_small_sheet()).into_bytes(),
        plain.into(),
    ]
}

/// A single change as the log's verification opens it.
pub(crate) fn a_logged_change(bytes: &[u8]) {
    let _ = replay::facts(bytes);
}

const ANA: u8 = 1;

fn actor(number: u8) -> ActorId {
    ActorId::from(&[number; 16][..])
}

fn stamp(record: &str) -> Stamp {
    Stamp {
        by: "Ana".into(),
        at: "2026-03-02T09:15:00Z".into(),
        at_ms: 1_772_442_900_000,
        record: record.into(),
    }
}

/// The demo car with a few readings and a note, as a book of Ana's.
pub(crate) fn a_book() -> &'static Arc<Automerge> {
    static BOOK: OnceLock<Arc<Automerge>> = OnceLock::new();
    BOOK.get_or_init(|| {
        let mut doc = book::import(&a_job(), actor(ANA), &stamp("r")).expect("it is a job");
        write_note(&mut doc, "n1");
        Arc::new(doc)
    })
}

fn write_note(doc: &mut Automerge, id: &str) {
    let note = Intention::WriteNote {
        id: id.into(),
        text: "left tower looks pushed back".into(),
    };
    book::edit::apply(doc, &stamp(id), &note).expect("a note can be written");
}

/// The demo car with its first readings.
pub(crate) fn a_job() -> Job {
    let car = demo::job();
    Job {
        readings: car.readings[..20].to_vec(),
        ..car
    }
}

/// Ana's next change after [`a_book`].
pub(crate) fn next_change() -> Change {
    let mut doc = Automerge::clone(a_book());
    write_note(&mut doc, "n2");
    let newest = doc.get_changes(&[]).into_iter().max_by_key(Change::max_op);
    newest.expect("a note was written")
}

/// A message of the first version that carries these chunks.
pub(crate) fn message(chunks: Vec<Vec<u8>>) -> Vec<u8> {
    Message {
        heads: Vec::new(),
        need: Vec::new(),
        have: Vec::new(),
        changes: chunks.into(),
        flags: None,
        version: MessageVersion::V1,
    }
    .encode()
}

/// A plain chunk around contents.
pub(crate) fn chunk(contents: &[u8]) -> Vec<u8> {
    let mut hashed = vec![1];
    let mut length = contents.len();
    while length > 0x7f {
        hashed.push((length & 0x7f) as u8 | 0x80);
        length >>= 7;
    }
    hashed.push(length as u8);
    hashed.extend(contents);
    let hash = Sha256::digest(&hashed);
    [&[0x85, 0x6f, 0x4a, 0x83], &hash[..4], &hashed[..]].concat()
}

/// What the gate says; what it lets in must be sound, and answered.
fn meets_the_gate(data: Vec<u8>) -> Result<(), Refusal> {
    let mut host = Host::new(Automerge::clone(a_book()));
    host.join(1, Role::Write);
    let question = host.question(1, data).expect("it has joined");
    let admitted = weigh(question, |_| true)?;
    is_sound(&admitted);
    host.commit(1, admitted);
    let _ = host.next_message(1);
    Ok(())
}

fn is_sound(admitted: &Admitted) {
    let saved = admitted.doc.save();
    let again = Automerge::load(&saved).expect("what was let in loads again");
    assert_eq!(again.get_heads(), admitted.doc.get_heads());
    let (before, _) = book::read(a_book());
    let (after, _) = book::read(&again);
    for reading in &before.readings {
        let kept = after.readings.iter().any(|there| there.id == reading.id);
        // A point or set-up that is taken away takes its readings out of the job, not of the book.
        assert!(
            kept || !admitted.changes.is_empty(),
            "a reading is gone and nothing has changed"
        );
    }
    if admitted.changes.is_empty() {
        assert_eq!(admitted.doc.get_heads(), a_book().get_heads());
    }
    // Everybody else can take the new changes in, one after the other as they were sent.
    let mut other = Automerge::clone(a_book());
    for accepted in &admitted.changes {
        let change = Change::try_from(&accepted.bytes[..]).expect("it was read before");
        other.apply_changes([change]).expect("others take it in");
    }
    assert_eq!(other.get_heads(), admitted.doc.get_heads());
    // And they can go on writing.
    let mut other = other.with_actor(actor(2));
    write_note(&mut other, "afterwards");
    Automerge::load(&other.save()).expect("and what follows loads");
}

/// Numbers chosen by bytes; behind the last one, always the first.
pub(crate) struct Choices<'a>(pub(crate) &'a [u8]);

impl Choices<'_> {
    /// A number below `sides`.
    pub(crate) fn below(&mut self, sides: usize) -> usize {
        let wide = sides > 256;
        let byte = self.byte();
        let number = if wide { byte << 8 | self.byte() } else { byte };
        number % sides.max(1)
    }

    fn byte(&mut self) -> usize {
        let Some((first, rest)) = self.0.split_first() else {
            return 0;
        };
        self.0 = rest;
        usize::from(*first)
    }

    fn of<'t, T>(&mut self, things: &'t [T]) -> &'t T {
        &things[self.below(things.len())]
    }
}

/// A change of up to eight operations on whatever is in the book, or is not.
fn strange_change(choices: &mut Choices<'_>) -> Vec<u8> {
    let mut expanded = next_change().decode();
    let start = expanded.start_op.get();
    let ids: Vec<OpId> = (0..24)
        .map(|_| {
            let counter = choices.below(start as usize + 8) as u64;
            OpId(counter, actor([ANA, 0, 9][choices.below(3)]))
        })
        .collect();
    let names = [
        "readings", "notes", "points", "job", "schema", "text", "order", "n1", "n3", "",
    ];
    let count = 1 + choices.below(8);
    expanded.operations = (0..count)
        .map(|_| Op {
            action: action(choices),
            obj: match choices.below(4) {
                0 => ObjectId::Root,
                _ => ObjectId::Id(choices.of(&ids).clone()),
            },
            key: match choices.below(5) {
                0 => Key::Seq(ElementId::Head),
                1 => Key::Seq(ElementId::Id(choices.of(&ids).clone())),
                _ => Key::Map((*choices.of(&names)).into()),
            },
            pred: preceding(choices, &ids),
            insert: choices.below(4) == 0,
        })
        .collect();
    if choices.below(8) == 0 {
        expanded.message = Some("m".repeat(choices.below(300)));
    }
    if choices.below(8) == 0 {
        expanded.time = i64::MIN;
    }
    if choices.below(8) == 0 {
        expanded.extra_bytes = vec![7; choices.below(40)];
    }
    // The engine may not be able to write it; then there is nothing to send.
    let written = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| {
        Change::from(expanded).raw_bytes().to_vec()
    }));
    written.unwrap_or_default()
}

fn preceding(choices: &mut Choices<'_>, ids: &[OpId]) -> SortedVec<OpId> {
    let count = choices.below(3);
    let found: Vec<OpId> = (0..count).map(|_| choices.of(ids).clone()).collect();
    found.into()
}

fn action(choices: &mut Choices<'_>) -> OpType {
    match choices.below(8) {
        0 => {
            OpType::Make(*choices.of(&[ObjType::Map, ObjType::List, ObjType::Text, ObjType::Table]))
        }
        1 => OpType::Delete,
        2 => OpType::Increment([1, -1, i64::MAX, i64::MIN][choices.below(4)]),
        _ => OpType::Put(match choices.below(9) {
            0 => ScalarValue::Null,
            1 => ScalarValue::F64([0.5, f64::NAN, f64::INFINITY, -0.0][choices.below(4)]),
            2 => ScalarValue::Int([0, -1, i64::MAX, i64::MIN][choices.below(4)]),
            3 => ScalarValue::Uint(u64::MAX),
            4 => ScalarValue::counter(i64::MAX),
            5 => ScalarValue::Timestamp(i64::MIN),
            6 => ScalarValue::Boolean(true),
            7 => ScalarValue::Bytes(vec![0; choices.below(64)]),
            _ => ScalarValue::Str("t".repeat(choices.below(64)).into()),
        }),
    }
}

/// Honest inputs to begin with, for each property.
pub(crate) fn frames() -> Vec<Vec<u8>> {
    let whole = frame::Frame {
        kind: "ephemeral".into(),
        sender: Some("phone".into()),
        target: Some("baybook".into()),
        document: Some(shared::sync::document_id([7; 16])),
        data: Some(vec![0x42, 0, 0, 0, 0]),
        session: Some("s".into()),
        count: Some(70_000),
        ..frame::Frame::default()
    };
    let kinds = [
        "join",
        "peer",
        "sync",
        "request",
        "doc-unavailable",
        "error",
    ];
    let mut seeds: Vec<Vec<u8>> = kinds
        .into_iter()
        .map(|kind| {
            frame::encode(&frame::Frame {
                kind: kind.into(),
                message: Some("try-again".into()),
                ..whole.clone()
            })
        })
        .collect();
    seeds.push(frame::encode(&whole));
    // As another encoder writes it: a 16-bit length, a float, undefined, a tagged array.
    seeds.push(
        [
            b"\xb9\x00\x04\x64type\x64sync\x65count\xf9\x3e\x00".as_slice(),
            b"\x64else\xf7\x64data\xd8\x40\x43\x01\x02\x03",
        ]
        .concat(),
    );
    seeds
}

/// Messages: one change, many, and what the engine itself says.
pub(crate) fn messages() -> Vec<Vec<u8>> {
    let next = next_change().raw_bytes().to_vec();
    let mut other = Automerge::clone(a_book()).with_actor(actor(2));
    write_note(&mut other, "others");
    let mut guest = shared::sync::conversation::Guest::default();
    let heads = other.get_heads();
    let first = guest.next_message(&other, &heads);
    let all = other.get_changes(&[]);
    let all = all.iter().map(|change| change.raw_bytes().to_vec());
    let mut seeds = vec![message(vec![next]), message(all.collect())];
    seeds.extend(first);
    seeds.push(message(Vec::new()));
    seeds
}

/// Contents of honest changes.
pub(crate) fn contents() -> Vec<Vec<u8>> {
    let mut changes = vec![next_change()];
    changes.extend(a_book().get_changes(&[]));
    changes
        .iter()
        .map(|change| unwrap_chunk(change.raw_bytes()))
        .collect()
}

/// What is in a chunk.
pub(crate) fn unwrap_chunk(chunk: &[u8]) -> Vec<u8> {
    let length = 1 + chunk[9..].iter().take_while(|byte| **byte > 0x7f).count();
    chunk[9 + length..].to_vec()
}

/// Job files: the demo car, and a small one.
pub(crate) fn job_files() -> Vec<Vec<u8>> {
    let small = Job {
        readings: demo::job().readings[..3].to_vec(),
        ..demo::job()
    };
    vec![
        jobfile::write(&a_job()).into_bytes(),
        jobfile::write(&small).into_bytes(),
    ]
}
