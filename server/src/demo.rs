//! The demo shop: invented people who exist only for looking around.

mod signed;

use anyhow::Context;
use shared::book::{self, ActorId, Stamp};
use shared::figures::Language;
use shared::wire::{Me, Role};

use crate::auth::password::Passwords;
use crate::config::Config;
use crate::live::admit::{heads, new_changes, projection};
use crate::store::{Batch, Boarded, DocKey, Kept, NewUser, Sender, Store};

/// Document id of the demo car: the same on every demo server, so that it is made once.
const BOOK: [u8; 16] = *b"baybook-demo-car";
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
    park_car(config, store, &shop).await?;
    Ok(PEOPLE.to_vec())
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
    if store
        .load_doc(&key)
        .await?
        .is_some_and(|stored| stored.seq > 0)
    {
        return say_if_otherwise(config.demo_language, store, &key).await;
    }
    let job = shared::demo::job_in(config.demo_language);
    let now_ms = config.clock.now_ms();
    let ana = Hand::of(config, store, PEOPLE[1]).await?;
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
    let Kept::UpTo(seq) = store.keep_changes(&batch, now_ms).await? else {
        // Another server on this database is making it.
        return Ok(());
    };
    let doc = signed::sign_off(config, store, &key, &ana, doc).await?;
    let jonas = Hand::of(config, store, PEOPLE[2]).await?;
    signed::correct(config, store, (key, seq), &jonas, doc).await
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
