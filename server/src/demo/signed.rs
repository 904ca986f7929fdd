//! What became of the demo car after its readings: a technician signed a stage off, a colleague set a
//! reading of it aside. Kept as what people do is kept, so that the shop's log holds.

use anyhow::Context;
use shared::book::edit::apply;
use shared::book::{self, Automerge, Intention, Stamp};
use shared::demo::{Correction, correction, language_of, signed_stage};
use shared::proof::Seed;
use shared::proof::leaf::Who;
use shared::proof::statement::{Claims, Deed, SignedStatement, Statement, StatementFormat};
use shared::solve::solve;
use tokio::task::spawn_blocking;

use super::Hand;
use crate::clock::rfc3339;
use crate::config::Config;
use crate::live::admit::{heads, new_changes, projection};
use crate::store::{Batch, DocKey, Kept, Store};

/// Signs the book as it is, with a key that nobody has afterwards.
pub(super) async fn sign_off(
    config: &Config,
    store: &Store,
    key: &DocKey,
    hand: &Hand,
    doc: Automerge,
) -> anyhow::Result<Automerge> {
    let (doc, claims) = spawn_blocking(move || {
        let (job, _) = book::read(&doc);
        let claims = Claims::of(&job, &solve(&job), &signed_stage());
        (doc, claims)
    })
    .await?;
    let mut heads = heads(&doc);
    heads.sort();
    let now_ms = config.clock.now_ms();
    let statement = Statement {
        format: StatementFormat::V1,
        deed: Deed::SignOff,
        shop: key.shop.parse()?,
        job: key.doc.parse()?,
        heads,
        claims: claims.context("the demo car has no stage to sign off")?,
        who: Who {
            user: hand.me.user.parse()?,
            name: hand.me.name.clone(),
            device: Some(hand.device.parse()?),
        },
        at_ms: now_ms,
    };
    // Another server on this database may have made it meanwhile.
    if !store.statements(key).await?.is_empty() {
        return Ok(doc);
    }
    let seed = Seed::new(&rand::random());
    store
        .register_key(&hand.me, &hand.device, &seed.public(), now_ms)
        .await?;
    let signed = SignedStatement::sign(statement, &seed)?;
    store.keep_statement(&hand.me, &signed, now_ms).await?;
    Ok(doc)
}

/// Sets a reading of the stage aside, after the sign-off.
pub(super) async fn correct(
    config: &Config,
    store: &Store,
    (key, after_seq): (DocKey, i64),
    hand: &Hand,
    doc: Automerge,
) -> anyhow::Result<()> {
    let language = language_of(&book::read(&doc).0.card.vehicle);
    let language = language.unwrap_or(config.demo_language);
    let found = correction(language).context("the demo car has no such reading")?;
    let Correction { reading, why, .. } = found;
    let now_ms = config.clock.now_ms();
    let stamp = Stamp {
        by: hand.me.name.clone(),
        at: rfc3339(now_ms),
        at_ms: now_ms,
        record: config.clock.mint(),
    };
    let signed = doc.get_heads();
    let mut doc = doc.with_actor(hand.actor.clone());
    let aside = Intention::SetReadingAside { reading, why };
    apply(&mut doc, &stamp, &aside).context("correcting the demo car's book")?;
    let batch = Batch {
        key,
        sender: hand.sender(),
        after_seq,
        changes: new_changes(&doc, &signed)?,
        heads: heads(&doc),
        projection: projection(book::read(&doc).0),
    };
    if store.keep_changes(&batch, now_ms).await? == Kept::MovedOn {
        tracing::info!("another server on this database has made the demo car");
    }
    Ok(())
}
