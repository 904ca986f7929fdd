//! The shop's log on both databases: whole, verified elsewhere, and altered behind the server's back.

use anyhow::{Context, Result, bail};
use server::store::{Exported, Store};
use shared::book::Intention;
use shared::job::Card;
use shared::proof::bundle::{Bundle, Fault, FaultKind, extends};
use shared::proof::checkpoint::Checkpoint;
use shared::proof::leaf::{Event, Leaf};
use shared::sync::replay::verify;
use shared::wire::Role;
use sqlx::{AssertSqlSafe, Connection, Executor};
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::shop::{Person, Shop};

async fn export(store: &Store) -> Result<Bundle> {
    match store.export_log(None).await? {
        Exported::Bundle(bundle) => Ok(*bundle),
        Exported::NoSuchShop(shops) => bail!("one of {shops:?}"),
    }
}

/// What does not hold, after the file was written and read again as it would be elsewhere.
fn fault(bundle: &Bundle) -> Result<Option<Fault>> {
    match Bundle::parse(&bundle.to_lines()?) {
        Ok(read) => Ok(verify(&read).fault),
        Err(fault) => Ok(Some(*fault)),
    }
}

fn kinds(bundle: &Bundle) -> Result<Vec<&'static str>> {
    let parse = |text: &str| Ok(Leaf::parse(text.as_bytes())?.event.kind());
    bundle.leaves.iter().map(|leaf| parse(&leaf.text)).collect()
}

/// A phone with a book of one card, shared; then something that is no change.
async fn work(who: &Person, book: &str) -> Result<Device> {
    let mut phone = Device::new(book);
    phone.start_book()?;
    let card = Card {
        number: "2041".into(),
        vehicle: "estate, silver".into(),
        ..Card::default()
    };
    phone.mean(&Intention::DescribeJob { card })?;
    phone.connect(who).await?;
    phone.share().await?;
    phone.say("sync", vec![1, 2, 3]).await?;
    while phone.hear().await? != "error" {}
    Ok(phone)
}

/// Everything that happens is an entry, in order, and somebody elsewhere can check it.
async fn log_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let store = &shop.running.app.store;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let book = document_id();
    let mut phone = work(&ana, &book).await?;
    let first = export(store).await?;
    assert_eq!(fault(&first)?, None);
    assert_eq!(
        kinds(&first)?,
        [
            "shop-set-up",
            "person-joined",
            "signed-in",
            "person-invited",
            "person-joined",
            "signed-in",
            "device-registered",
            "job-created",
            "changes-accepted",
            "changes-refused",
        ]
    );
    assert_eq!(first.changes.len(), 2, "the first change and the card");
    let names: Vec<String> = first
        .leaves
        .iter()
        .filter_map(|leaf| Leaf::parse(leaf.text.as_bytes()).ok()?.who)
        .map(|who| who.name)
        .collect();
    assert_eq!(names[0], "Marta");
    assert_eq!(names.last().map(String::as_str), Some("ana"));
    let searched = "SELECT COUNT(*) FROM log_entry";
    assert_eq!(
        shop.scratch.number(searched).await?,
        10,
        "one row to search per entry"
    );

    // Later: a wrong password, more work, and the log goes on from where it was.
    let wrong = serde_json::json!({ "email": "ana@shop.example", "password": "not the level" });
    assert!(
        !ana.post("/api/session", &wrong)
            .await?
            .status()
            .is_success()
    );
    let note = Intention::WriteNote {
        id: "n1".into(),
        text: "left tower looks pushed back".into(),
    };
    phone.mean(&note)?;
    phone.share().await?;
    let failed = "SELECT COUNT(*) FROM log_entry WHERE kind = 'sign-in-failed'";
    // The entry is written beside the answer.
    while shop.scratch.number(failed).await? == 0 {
        tokio::task::yield_now().await;
    }
    let second = export(store).await?;
    assert_eq!(fault(&second)?, None);
    assert_eq!(second.leaves[..10], first.leaves[..]);
    assert_eq!(second.leaves.len(), 12);
    let key = second.key.parse()?;
    let older = Checkpoint::open(&first.checkpoint, &key)?;
    extends(&older, &second).map_err(|fault| *fault)?;
    let head = Checkpoint::open(&second.checkpoint, &key)?;
    assert_eq!(
        extends(&head, &first).map_err(|fault| fault.kind),
        Err(FaultKind::Past)
    );

    // After a power cut the same log goes on under the same key.
    let shop = shop.cut_power().await?;
    let ana = ana.moved_to(shop.running.addr);
    let mut other = Device::new(&document_id());
    other.start_book()?;
    other.connect(&ana).await?;
    other.share().await?;
    let third = export(&shop.running.app.store).await?;
    assert_eq!((fault(&third)?, &third.key), (None, &second.key));
    extends(&head, &third).map_err(|fault| *fault)?;
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn log_on_sqlite() -> Result<()> {
    log_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn log_on_postgres() -> Result<()> {
    log_story(Engine::Postgres).await
}

/// Somebody with access to the database alters it, in one statement each time.
async fn altered_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let store = &shop.running.app.store;
    let marta = shop.set_up().await?;
    work(&marta, &document_id()).await?;
    assert_eq!(fault(&export(store).await?)?, None);
    let mut database = shop.scratch.connect().await?;
    let broken_bytes = match engine {
        Engine::Sqlite => "UPDATE doc_change SET bytes = X'856f4a83' WHERE seq = 2",
        Engine::Postgres => r"UPDATE doc_change SET bytes = '\x856f4a83' WHERE seq = 2",
    };
    let places: [(&str, FaultKind, &str); 8] = [
        // The head's line is the third; entries follow, then changes.
        (
            "UPDATE log_leaf SET body = REPLACE(body, 'Marta', 'Maria') WHERE place = 1",
            FaultKind::Root,
            "line 3, root",
        ),
        (
            "UPDATE log_leaf SET body = body || ' ' WHERE place = 2",
            FaultKind::Leaf,
            "line 6, entry 2, text",
        ),
        (
            "DELETE FROM log_leaf WHERE place = 6",
            FaultKind::Root,
            "line 3, size",
        ),
        (
            "DELETE FROM log_leaf WHERE place = 3",
            FaultKind::Leaf,
            "line 7, entry 3, index",
        ),
        (
            "UPDATE log_head SET checkpoint = REPLACE(checkpoint, '7', '6')",
            FaultKind::Checkpoint,
            "line 3, note",
        ),
        (broken_bytes, FaultKind::Change, "line 12"),
        (
            "DELETE FROM doc_change WHERE seq = 2",
            FaultKind::Change,
            "line 9",
        ),
        (
            "UPDATE log_leaf SET body = '' WHERE place = 4",
            FaultKind::Leaf,
            "line 8, entry 4, text",
        ),
    ];
    for (statement, kind, place) in places {
        let mut transaction = Backup::of(&mut database).await?;
        transaction.alter(statement).await?;
        let found = fault(&export(store).await?)?.with_context(|| statement.to_owned())?;
        assert_eq!(found.kind, kind, "{statement}: {found}");
        assert!(
            found.place.to_string().starts_with(place),
            "{statement}: {found}"
        );
        transaction.restore().await?;
        assert_eq!(fault(&export(store).await?)?, None, "after {statement}");
    }
    shop.running.stop().await
}

/// The tables as they were, so that each alteration stands alone.
struct Backup<'a> {
    database: &'a mut sqlx::AnyConnection,
}

const TABLES: [&str; 3] = ["log_head", "log_leaf", "doc_change"];

impl<'a> Backup<'a> {
    async fn of(database: &'a mut sqlx::AnyConnection) -> Result<Self> {
        for table in TABLES {
            let copy = format!("CREATE TABLE kept_{table} AS SELECT * FROM {table}");
            database.execute(AssertSqlSafe(copy)).await?;
        }
        Ok(Self { database })
    }

    async fn alter(&mut self, statement: &str) -> Result<()> {
        let done = self
            .database
            .execute(AssertSqlSafe(statement.to_owned()))
            .await?;
        anyhow::ensure!(done.rows_affected() == 1, "{statement}: {done:?}");
        Ok(())
    }

    async fn restore(self) -> Result<()> {
        for table in TABLES.iter().rev() {
            let empty = format!("DELETE FROM {table}");
            self.database.execute(AssertSqlSafe(empty)).await?;
        }
        for table in TABLES {
            let fill = format!("INSERT INTO {table} SELECT * FROM kept_{table}");
            self.database.execute(AssertSqlSafe(fill)).await?;
            let drop = format!("DROP TABLE kept_{table}");
            self.database.execute(AssertSqlSafe(drop)).await?;
        }
        Ok(())
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn altered_on_sqlite() -> Result<()> {
    altered_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn altered_on_postgres() -> Result<()> {
    altered_story(Engine::Postgres).await
}

/// A database from before the log: the log begins with what is there, and whoever kept a head of an
/// earlier log sees that it is another.
async fn older_story(engine: Engine) -> Result<()> {
    let shop = Shop::start(engine).await?;
    let marta = shop.set_up().await?;
    let ana = shop.join(&marta, "ana", Role::Technician).await?;
    let book = document_id();
    let mut first = work(&ana, &book).await?;
    let mut second = Device::new(&book);
    second.start_book()?;
    second.mean(&Intention::WriteNote {
        id: "n2".into(),
        text: "apron bent".into(),
    })?;
    second.connect(&marta).await?;
    second.share().await?;
    let before = export(&shop.running.app.store).await?;
    let mut database = shop.scratch.connect().await?;
    database.execute("DELETE FROM log_leaf").await?;
    database.execute("DELETE FROM log_head").await?;
    database.close().await?;
    let shop = shop.cut_power().await?;
    let store = &shop.running.app.store;
    let begun = export(store).await?;
    assert_eq!(fault(&begun)?, None);
    assert_eq!(
        kinds(&begun)?,
        [
            "shop-set-up",
            "person-joined",
            "person-joined",
            "device-registered",
            "device-registered",
            "job-created",
            "changes-accepted",
            "changes-accepted",
        ]
    );
    let senders: Vec<String> = begun.leaves[6..]
        .iter()
        .filter_map(|leaf| Leaf::parse(leaf.text.as_bytes()).ok()?.who)
        .map(|who| who.name)
        .collect();
    assert_eq!(senders, ["ana", "Marta"]);
    let key = before.key.parse()?;
    let head = Checkpoint::open(&before.checkpoint, &key)?;
    assert!(extends(&head, &begun).is_err(), "another past");
    // It goes on as any log does.
    first.connect(&ana.moved_to(shop.running.addr)).await?;
    first.mean(&Intention::WriteNote {
        id: "n3".into(),
        text: "and twisted".into(),
    })?;
    first.share().await?;
    let later = export(store).await?;
    assert_eq!(fault(&later)?, None);
    let last = later.leaves.last().context("no entry")?;
    let last = Leaf::parse(last.text.as_bytes())?;
    assert!(matches!(last.event, Event::ChangesAccepted { hashes, .. } if hashes.len() == 1));
    shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn older_on_sqlite() -> Result<()> {
    older_story(Engine::Sqlite).await
}

#[tokio::test(flavor = "multi_thread")]
async fn older_on_postgres() -> Result<()> {
    older_story(Engine::Postgres).await
}

/// Two shops on one server: neither log names the other's doings.
#[tokio::test(flavor = "multi_thread")]
async fn shops_keep_their_own_logs() -> Result<()> {
    let shop = Shop::start(Engine::Sqlite).await?;
    let store = &shop.running.app.store;
    let marta = shop.set_up().await?;
    let olga = shop.other_shop("Other Works", "olga@other.example").await?;
    work(&marta, &document_id()).await?;
    work(&olga, &document_id()).await?;
    let Exported::NoSuchShop(shops) = store.export_log(None).await? else {
        bail!("one of two was chosen");
    };
    assert_eq!(shops.len(), 2);
    let nowhere = store.export_log(Some("nowhere")).await?;
    assert!(matches!(nowhere, Exported::NoSuchShop(_)));
    for (id, _) in shops {
        let Exported::Bundle(bundle) = store.export_log(Some(&id)).await? else {
            bail!("no log of {id}");
        };
        assert_eq!(fault(&bundle)?, None);
        assert_eq!(bundle.changes.len(), 2);
        assert_eq!(bundle.shop.as_str(), id);
    }
    shop.running.stop().await
}
