//! A document walked over once, from its first operation to its last.
//!
//! The engine keeps a document as columns. Going to an object is a search in all of them, so a car of
//! a thousand readings that is read record by record costs ten times what one walk does. This file
//! refuses to know what is in a book.

use std::borrow::Cow;
use std::collections::HashMap;

use automerge::iter::DocItem;
use automerge::{Automerge, ObjId, ObjType, ReadDoc, ScalarValue, Value, ValueRef};

/// Every map and list that is in force, by its object.
pub(super) struct Tree<'a> {
    /// The document, for what is rarely asked.
    pub(super) doc: &'a Automerge,
    maps: HashMap<ObjId, Vec<Field<'a>>>,
    lists: HashMap<ObjId, Vec<Item>>,
}

/// A key of a map with the value in force.
pub(super) struct Field<'a> {
    pub(super) key: Cow<'a, str>,
    pub(super) item: Item,
    /// Did several people set it at once?
    pub(super) conflict: bool,
}

/// A value.
pub(super) enum Item {
    Scalar(ScalarValue),
    Object(ObjType, ObjId),
}

impl Item {
    fn of(value: ValueRef<'_>, id: impl FnOnce() -> ObjId) -> Self {
        match value.into_value() {
            Value::Object(kind) => Self::Object(kind, id()),
            Value::Scalar(value) => Self::Scalar(value.into_owned()),
        }
    }
}

impl<'a> Tree<'a> {
    pub(super) fn of(doc: &'a Automerge) -> Self {
        let (mut maps, mut lists) = (HashMap::new(), HashMap::new());
        // What is walked over follows its object, so one look-up does for all of it.
        let mut walk = doc.iter().peekable();
        while let Some(first) = walk.next() {
            let object = first.obj.clone();
            let (mut fields, mut items) = (Vec::new(), Vec::new());
            let mut next = Some(first.item);
            while let Some(item) = next {
                match item {
                    DocItem::Map(item) => fields.push(Field {
                        item: Item::of(item.value.clone(), || item.id()),
                        conflict: item.conflict,
                        key: item.key,
                    }),
                    DocItem::List(item) => {
                        items.push(Item::of(item.value.clone(), || item.id()));
                    }
                    // A text is asked of the document.
                    DocItem::Text(_) => {}
                }
                next = walk
                    .next_if(|next| next.obj == object)
                    .map(|next| next.item);
            }
            if !fields.is_empty() {
                maps.insert(object.as_ref().clone(), fields);
            }
            if !items.is_empty() {
                lists.insert(object.as_ref().clone(), items);
            }
        }
        Self { doc, maps, lists }
    }

    /// Fields of a map, by key.
    pub(super) fn fields(&self, map: &ObjId) -> &[Field<'a>] {
        self.maps.get(map).map_or(&[], Vec::as_slice)
    }

    /// Values of a list in their order.
    pub(super) fn items(&self, list: &ObjId) -> &[Item] {
        self.lists.get(list).map_or(&[], Vec::as_slice)
    }
}
