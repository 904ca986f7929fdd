//! A second record of a name, however either was written, wherever the document has been.

use automerge::hydrate::Value;

use super::*;

/// Writes a record field by field, or as one.
fn record(doc: &mut Automerge, name: &str, as_one: bool) {
    let mut tx = doc.transaction();
    let (_, readings) = tx.get(ROOT, "readings").unwrap().unwrap();
    let fields = [("kind", "span"), ("by", "somebody")];
    if as_one {
        let fields = fields.map(|(field, text)| (field, Value::from(text)));
        let fields = Value::from(std::collections::HashMap::from(fields));
        tx.batch_create_object(&readings, name, &fields, false)
            .unwrap();
    } else {
        let record = tx.put_object(&readings, name, ObjType::Map).unwrap();
        for (field, text) in fields {
            tx.put(&record, field, text).unwrap();
        }
    }
    tx.commit();
}

/// Where a document has been before the changes of others come.
const WAYS: [fn(&Automerge, &mut Automerge) -> Automerge; 3] = [
    |_, here| here.clone(),
    |_, here| Automerge::load(&here.save()).unwrap(),
    |base, here| {
        let mut other = base.clone();
        other.merge(here).unwrap();
        other
    },
];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]
    #[test]
    fn a_second_record_of_a_name_is_refused_however_it_was_written(
        as_one in any::<[bool; 2]>(),
        first_is_lower in any::<bool>(),
        way in 0..WAYS.len(),
        before in 0..4_u8,
        after in 0..4_u8,
    ) {
        let base = import(&job(), actor(1), &stamp("i")).unwrap();
        let (one, other) = if first_is_lower { (2, 9) } else { (9, 2) };
        let mut here = base.fork().with_actor(actor(one));
        let mut there = base.fork().with_actor(actor(other));
        record(&mut here, "mine", as_one[0]);
        // What else is in the same batch changes which operations the engine compares.
        let others = |moment: &'static str, count| (0..count).map(move |n| format!("{moment}{n}"));
        let names = others("a", before).chain(["mine".to_owned()]).chain(others("z", after));
        for name in names {
            record(&mut there, &name, as_one[1]);
        }
        let here = WAYS[way](&base, &mut here);
        prop_assert_eq!(
            arrives(&here, &mut there),
            Err(Breach("readings/mine".to_owned()))
        );
    }
}
