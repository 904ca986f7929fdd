//! The demo shop: invented people who exist only for looking around.

mod signed;

use anyhow::Context;
use shared::book::{self, ActorId, Automerge, Stamp};
use shared::figures::Language;
use shared::wire::{Me, Role};

use crate::auth::password::Passwords;
use crate::config::Config;
use crate::live::admit::{heads, new_changes, projection};
use crate::live::load::{Loaded, load};
use crate::store::{Batch, Boarded, DocKey, Kept, NewUser, Sender, Store};

/// Document id of the demo car: the same on every demo server, so that it is made once.
const BOOK: [u8; 16] = *b"baybook-demo-car";
/// The sequence of its record when only the import stands in it: the change that every book begins
/// with, and the car.
const IMPORTED: i64 = 2;
const SHOP: &str = "Weidengrund Body Works";

/// Somebody of the demo shop; the password is public.
#[derive(Debug, Clone, Copy)]
pub struct DemoPerson {
    /// Name.
    pub name: &'static str,
    /// E-mail to sign in with.
    pub email: &'static str,
    /// Password to sign in with.
    pub password: &'static str,
    /// What they are in the shop.
    pub role: &'static str,
}

/// The owner, then the technicians.
pub const PEOPLE: [DemoPerson; 3] = [
    DemoPerson {
        name: "Marta Weide",
        email: "marta@demo.example",
        password: "plumb-and-level",
        role: "owner",
    },
    DemoPerson {
        name: "Ana Lind",
        email: "ana@demo.example",
        password: "left-tower-first",
        role: "technician",
    },
    DemoPerson {
        name: "Jonas Brandt",
        email: "jonas@demo.example",
        password: "tape-from-the-100",
        role: "technician",
    },
];

/// Makes the demo shop, once. Returns its people.
///
/// # Errors
/// When the database fails.
pub async fn make_once(
    config: &Config,
    store: &Store,
    passwords: &Passwords,
) -> anyhow::Result<Vec<DemoPerson>> {
    let shop = make_people(config, store, passwords).await?;
    park_car(config, store, &shop).await?;
    Ok(PEOPLE.to_vec())
}

/// Whoever of the demo shop is not there yet, and the shop; returns its id.
async fn make_people(
    config: &Config,
    store: &Store,
    passwords: &Passwords,
) -> anyhow::Result<String> {
    let [owner, technicians @ ..] = PEOPLE;
    let now_ms = config.clock.now_ms();
    let new = async |person: DemoPerson| {
        anyhow::Ok(NewUser {
            user_id: config.clock.mint(),
            name: person.name.to_owned(),
            email: person.email.to_owned(),
            password_hash: passwords.hash(person.password.to_owned()).await?,
        })
    };
    let shop = match store.credentials(owner.email).await? {
        Some(found) => found.shop,
        None => {
            let shop = config.clock.mint();
            let owner = new(owner).await?;
            store
                .make_shop(&shop, SHOP, owner, now_ms)
                .await
                .context("making the demo shop")?;
            shop
        }
    };
    for person in technicians {
        if store.credentials(person.email).await?.is_none() {
            let person = new(person).await?;
            store
                .add_person(&shop, person, Role::Technician, now_ms)
                .await?;
        }
    }
    Ok(shop)
}

/// Somebody of the demo shop on a device of their own, from which nobody ever signs in.
struct Hand {
    me: Me,
    device: String,
    actor: ActorId,
}

impl Hand {
    async fn of(config: &Config, store: &Store, person: DemoPerson) -> anyhow::Result<Self> {
        let known = store.credentials(person.email).await?;
        let known = known.with_context(|| format!("{} is gone from the demo", person.name))?;
        let me = store
            .me(&known.shop, &known.user)
            .await?
            .with_context(|| format!("{} is no member of the demo shop", person.name))?;
        let device = config.clock.mint();
        let hand = Self {
            me,
            actor: ActorId::from(device.as_bytes()),
            device,
        };
        let boarded = Boarded {
            shop: &hand.me.shop,
            user: &hand.me.user,
            session: None,
            device: &hand.device,
            label: "demo",
        };
        let actors = [hand.actor.to_hex_string()];
        let now_ms = config.clock.now_ms();
        store.register_actors(&boarded, &actors, now_ms).await?;
        Ok(hand)
    }

    fn sender(&self) -> Sender {
        Sender {
            user: self.me.user.clone(),
            device: self.device.clone(),
        }
    }
}

/// Puts the demo car into the shop, once: as it was read, signed off, and corrected after that.
async fn park_car(config: &Config, store: &Store, shop: &str) -> anyhow::Result<()> {
    let key = DocKey {
        shop: shop.to_owned(),
        doc: shared::sync::document_id(BOOK),
    };
    let Loaded { doc, seq, .. } = load(store, &key).await?;
    if seq > IMPORTED {
        return say_if_otherwise(config.demo_language, store, &key).await;
    }
    let ana = Hand::of(config, store, PEOPLE[1]).await?;
    let doc = match seq {
        0 => match import(config, store, &key, &ana).await? {
            Some(doc) => doc,
            // Another server on this database is making it.
            None => return Ok(()),
        },
        // A server was stopped while it made the car; what it did not get to is left.
        _ => {
            say_if_otherwise(config.demo_language, store, &key).await?;
            doc
        }
    };
    let doc = match store.statements(&key).await?.is_empty() {
        true => signed::sign_off(config, store, &key, &ana, doc).await?,
        false => doc,
    };
    let jonas = Hand::of(config, store, PEOPLE[2]).await?;
    signed::correct(config, store, (key, IMPORTED), &jonas, doc).await
}

/// The car as it was read, kept as Ana's; `None` when there is one by now.
async fn import(
    config: &Config,
    store: &Store,
    key: &DocKey,
    ana: &Hand,
) -> anyhow::Result<Option<Automerge>> {
    let job = shared::demo::job_in(config.demo_language);
    let now_ms = config.clock.now_ms();
    let stamp = Stamp {
        by: ana.me.name.clone(),
        at: job
            .readings
            .first()
            .map(|reading| reading.at.clone())
            .unwrap_or_default(),
        at_ms: now_ms,
        record: config.clock.mint(),
    };
    let doc =
        book::import(&job, ana.actor.clone(), &stamp).context("making the demo car's book")?;
    let batch = Batch {
        key: key.clone(),
        sender: ana.sender(),
        after_seq: 0,
        changes: new_changes(&doc, &[])?,
        heads: heads(&doc),
        projection: projection(job),
    };
    let kept = store.keep_changes(&batch, now_ms).await?;
    Ok((kept == Kept::UpTo(IMPORTED)).then_some(doc))
}

/// A demo car stays as it was made; whoever asks for another language is told so.
async fn say_if_otherwise(asked: Language, store: &Store, key: &DocKey) -> anyhow::Result<()> {
    let lines = store.job_lines(&key.shop).await?;
    let car = lines.iter().find(|line| line.book == key.doc);
    let written = car.and_then(|car| shared::demo::language_of(&car.vehicle));
    if let Some(written) = written.filter(|written| *written != asked) {
        tracing::warn!(
            "the demo car is here already, in the language {}, and stays as it is; for one in {} start on another folder (--data) or an empty database",
            written.code(),
            asked.code()
        );
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use ::tests::database::{Engine, Scratch};

    use super::*;

    #[tokio::test]
    async fn a_server_that_was_stopped_before_it_signed_goes_on_there() -> anyhow::Result<()> {
        goes_on_where_it_was(false).await
    }

    #[tokio::test]
    async fn a_server_that_was_stopped_after_it_signed_goes_on_there() -> anyhow::Result<()> {
        goes_on_where_it_was(true).await
    }

    async fn goes_on_where_it_was(is_signed: bool) -> anyhow::Result<()> {
        let scratch = Scratch::new(Engine::Sqlite).await?;
        let listen = "127.0.0.1:0".parse()?;
        let url = Some(scratch.url.clone());
        let config = Config::check(listen, url, scratch.folder.clone(), None)?;
        let store = Store::open(&config.database_url, rand::random()).await?;
        let passwords = Passwords::prepare().await?;
        let shop = make_people(&config, &store, &passwords).await?;
        let key = DocKey {
            shop: shop.clone(),
            doc: shared::sync::document_id(BOOK),
        };
        let ana = Hand::of(&config, &store, PEOPLE[1]).await?;
        let doc = import(&config, &store, &key, &ana).await?.context("made")?;
        assert!(import(&config, &store, &key, &ana).await?.is_none());
        assert_eq!(load(&store, &key).await?.seq, IMPORTED);
        if is_signed {
            signed::sign_off(&config, &store, &key, &ana, doc).await?;
        }
        for _ in 0..2 {
            // Asked for in Spanish by now; the car stays what it is.
            let config = Config {
                demo_language: Language::Spanish,
                ..config.clone()
            };
            make_once(&config, &store, &passwords).await?;
            assert_eq!(store.statements(&key).await?.len(), 1);
            let Loaded { doc, seq, .. } = load(&store, &key).await?;
            assert_eq!(seq, IMPORTED + 1);
            let (job, _) = book::read(&doc);
            let aside = job.readings.iter().find_map(|one| one.set_aside.as_ref());
            let why = aside.map(|aside| aside.why.as_str());
            assert_eq!(why, Some("tape lay over the exhaust hanger"));
        }
        Ok(())
    }
}
