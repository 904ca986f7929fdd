//! Any job survives a book and its file; any harm done to a document is read without a panic.

use automerge::transaction::Transactable;
use automerge::{Automerge, ObjId, ObjType, Prop, ROOT, ReadDoc, ScalarValue, Value};
use proptest::prelude::*;
use proptest::sample::Index;

use super::super::*;
use super::{actor, stamp};
use crate::finding::FindingCode;
use crate::job::any::{any_job, any_number, config};

/// What is put in place of a value; `None` takes it out.
#[derive(Debug, Clone)]
enum Put {
    Scalar(ScalarValue),
    Object(ObjType),
    Nothing,
}

fn put() -> impl Strategy<Value = Put> {
    let texts = vec![
        "",
        "r0",
        "left",
        "height",
        "fix",
        "lengthwise",
        "a b",
        "\u{202e}\n",
        "yesterday",
    ];
    let scalar = prop_oneof![
        Just(ScalarValue::Null),
        any::<bool>().prop_map(ScalarValue::Boolean),
        any::<i64>().prop_map(ScalarValue::Int),
        any::<u64>().prop_map(ScalarValue::Uint),
        any_number().prop_map(ScalarValue::F64),
        any::<i64>().prop_map(ScalarValue::Timestamp),
        any::<i64>().prop_map(ScalarValue::counter),
        prop::collection::vec(any::<u8>(), 0..4).prop_map(ScalarValue::Bytes),
        prop::sample::select(texts).prop_map(|text| ScalarValue::Str(text.into())),
    ];
    prop_oneof![
        6 => scalar.prop_map(Put::Scalar),
        1 => prop::sample::select(vec![ObjType::Map, ObjType::List, ObjType::Text]).prop_map(Put::Object),
        2 => Just(Put::Nothing),
    ]
}

/// Every place of a document.
fn places(doc: &impl ReadDoc, object: &ObjId, found: &mut Vec<(ObjId, Prop)>) {
    let mut below = Vec::new();
    if doc.object_type(object).is_ok_and(|kind| kind.is_sequence()) {
        for index in 0..doc.length(object) {
            below.push(Prop::Seq(index));
        }
    } else {
        below.extend(doc.keys(object).map(Prop::Map));
    }
    for prop in below {
        found.push((object.clone(), prop.clone()));
        if let Ok(Some((Value::Object(_), id))) = doc.get(object, prop) {
            places(doc, &id, found);
        }
    }
}

/// Replaces one value of the document.
fn harm(doc: &mut Automerge, at: &Index, put: &Put) {
    let mut found = Vec::new();
    places(doc, &ROOT, &mut found);
    if found.is_empty() {
        return;
    }
    let (object, prop) = at.get(&found).clone();
    let mut tx = doc.transaction();
    match put {
        Put::Scalar(value) => tx.put(object, prop, value.clone()).unwrap(),
        Put::Object(kind) => drop(tx.put_object(object, prop, *kind).unwrap()),
        Put::Nothing => tx.delete(object, prop).unwrap(),
    }
    tx.commit();
}

proptest! {
    #![proptest_config(config(192))]

    #[test]
    fn any_job_becomes_a_book_and_comes_back(job in any_job()) {
        let doc = import(&job, actor(1), &stamp("i")).unwrap();
        let again = Automerge::load(&doc.save()).unwrap();
        let (read, findings) = read(&again);
        prop_assert_eq!(&read, &job);
        let order = |job: &Job| job.points.keys().cloned().collect::<Vec<_>>();
        prop_assert_eq!(order(&read), order(&job));
        // All that is said of a sound job: that two corrected the same reading.
        prop_assert_eq!(findings.len(), job.corrected_twice().count());
        prop_assert!(findings.iter().all(|f| f.code == FindingCode::CorrectedTwice));
    }

    #[test]
    fn any_book_goes_out_as_a_file_and_comes_in_again(job in any_job()) {
        let doc = import(&job, actor(1), &stamp("i")).unwrap();
        let (text, _) = export(&doc).unwrap();
        let other = import_file(text.as_bytes(), actor(2), &stamp("j")).unwrap();
        prop_assert_eq!(read(&other).0, job);
        // The sheet's targets have no order in a document; a second export is the same text.
        let (again, _) = export(&other).unwrap();
        prop_assert_eq!(again, text);
    }

    #[test]
    fn whatever_is_done_to_a_document_its_job_holds_together(
        job in any_job(),
        harms in prop::collection::vec((any::<Index>(), put()), 1..6),
    ) {
        let mut doc = import(&job, actor(1), &stamp("i")).unwrap();
        for (at, put) in &harms {
            harm(&mut doc, at, put);
        }
        let (job, findings) = read(&doc);
        let text = crate::jobfile::write(&job);
        match crate::jobfile::parse(&text) {
            Ok(again) => prop_assert_eq!(again, job),
            Err(refusals) => prop_assert!(false, "{:?}\n{:?}", refusals, findings),
        }
    }
}
