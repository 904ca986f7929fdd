//! Names of what is stored. A name is written once with its content, except where said otherwise.
//!
//! ```text
//! book/ID/snapshot/ULID    the whole book at some moment
//! book/ID/change/ULID      changes that were made or came since
//! book/ID/intent/ULID      what a person meant and the server has not confirmed yet
//! book/ID/shared           heads that the server has confirmed (overwritten)
//! book/ID/replica          which replica this is, once one had to be replaced (overwritten)
//! meta/ID                  what the list of cars shows (overwritten)
//! damaged/ID/…             bytes that did not verify, as they were found
//! key/USER                 the key with which this person signs on this phone (not bytes)
//! photo/ID/DIGEST          a photo that the server does not have yet
//! about/ID/DIGEST          its record, until the server has it
//! upload/ID/DIGEST         where the server takes the rest of it (overwritten)
//! seen/ULID/ID/DIGEST      a photo that the server has, for as long as there is room
//! sheets/SHOP              the sheets that a new job can begin with (overwritten)
//! sheet/SHOP/ID/REVISION   what begins a new job on the body of a sheet
//! kept/ID/ULID/…           a replica that the server refused, and its story; never thrown away
//! ```
//!
//! Snapshots and changes of a book are merged, whichever tab wrote them, so that no order of
//! writing can lose anything.

/// Heads that the server has confirmed, within a book.
pub const SHARED: &str = "shared";
/// Which replica this is, within a book.
pub const REPLICA: &str = "replica";
/// Everything of all books.
pub const BOOKS: &str = "book/";
/// What the list of cars shows, of all cars.
pub const COVERS: &str = "meta/";
/// Everything that is only kept, of all books.
pub const KEPT: &str = "kept/";
/// Everything damaged, of all books.
pub const DAMAGED: &str = "damaged/";

/// Photos that the server does not have yet, of all books.
pub const PHOTOS: &str = "photo/";
/// Photos that the server has, of all books, the oldest first.
pub const SEEN: &str = "seen/";

/// Where a photo waits for the server.
#[must_use]
pub fn photo(id: &str, digest: &str) -> String {
    format!("{PHOTOS}{id}/{digest}")
}

/// Where its record waits with it.
#[must_use]
pub fn about(id: &str, digest: &str) -> String {
    format!("about/{id}/{digest}")
}

/// Where it is written down how far its upload is.
#[must_use]
pub fn upload(id: &str, digest: &str) -> String {
    format!("upload/{id}/{digest}")
}

/// Where a photo is kept that the server has.
#[must_use]
pub fn seen(ulid: &str, id: &str, digest: &str) -> String {
    format!("{SEEN}{ulid}/{id}/{digest}")
}

/// Kinds of things within a book.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Kind {
    Snapshot,
    Change,
    Intent,
}

impl Kind {
    /// Name within the book; `ulid` makes it unique.
    #[must_use]
    pub fn named(self, ulid: &str) -> String {
        format!("{}{ulid}", self.prefix())
    }

    fn prefix(self) -> &'static str {
        match self {
            Self::Snapshot => "snapshot/",
            Self::Change => "change/",
            Self::Intent => "intent/",
        }
    }

    /// Is this the name of such a thing?
    #[must_use]
    pub fn has(self, name: &str) -> bool {
        name.starts_with(self.prefix())
    }
}

/// Before the names of everything in a book.
#[must_use]
pub fn book(id: &str) -> String {
    format!("{BOOKS}{id}/")
}

/// Where the list of cars keeps what it shows of a book.
#[must_use]
pub fn cover(id: &str) -> String {
    format!("{COVERS}{id}")
}

/// Where the list of sheets of a shop is kept.
#[must_use]
pub fn sheets(shop: &str) -> String {
    format!("sheets/{shop}")
}

/// Where it is kept what begins a new job; `name` is the sheet's id and revision.
#[must_use]
pub fn sheet(shop: &str, name: &str) -> String {
    format!("sheet/{shop}/{name}")
}

/// Where the key of a person on this phone is kept.
#[must_use]
pub fn key(user: &str) -> String {
    format!("key/{user}")
}

/// Where something damaged of a book is kept; `name` is its name within the book.
#[must_use]
pub fn damaged(id: &str, name: &str) -> String {
    format!("{DAMAGED}{id}/{name}")
}

/// Before the names of all refused replicas of a book.
#[must_use]
pub fn kept(id: &str) -> String {
    format!("{KEPT}{id}/")
}

/// The books that have something meant in them, from names behind [`BOOKS`].
#[must_use]
pub fn books_with_intents(names: &[String]) -> Vec<String> {
    let mut ids: Vec<String> = names
        .iter()
        .filter_map(|name| name.split_once('/'))
        .filter(|(_, rest)| Kind::Intent.has(rest))
        .map(|(id, _)| id.to_owned())
        .collect();
    ids.dedup();
    ids
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn books_that_wait_are_found_by_their_names() {
        let names = [
            "a/change/1",
            "a/intent/1",
            "a/intent/2",
            "b/change/3",
            "c/intent/4",
            "x",
        ];
        let names: Vec<String> = names.map(str::to_owned).into();
        assert_eq!(books_with_intents(&names), ["a", "c"]);
    }
}
