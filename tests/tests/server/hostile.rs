//! Every hostile message that is known, over a real line, by somebody who may write: it is refused
//! with its reason, and the server goes on serving an honest phone on the same book.

use std::num::NonZeroU64;

use anyhow::{Result, ensure};
use automerge::sync::{Message, MessageVersion};
use automerge::transaction::Transactable;
use automerge::{ActorId, AutoCommit, Change, ChangeHash, ExpandedChange, ROOT};
use server::live::MAX_FRAME_BYTES;
use server::live::frame::Frame;
use sha2::{Digest, Sha256};
use shared::book::Intention;
use shared::wire::Role;
use tests::database::Engine;
use tests::device::{Device, document_id};
use tests::shop::{Person, Shop};
use tokio_tungstenite::tungstenite::Message as Socket;
use tokio_tungstenite::tungstenite::protocol::frame::Frame as Part;
use tokio_tungstenite::tungstenite::protocol::frame::coding::{Data, OpCode};

/// A book, the honest phone on it, and the other one with a line.
struct Scene {
    shop: Shop,
    ana: Person,
    ben: Person,
    honest: Device,
    hostile: Device,
    notes: usize,
}

impl Scene {
    async fn new() -> Result<Self> {
        let shop = Shop::start(Engine::Sqlite).await?;
        let marta = shop.set_up().await?;
        let ana = shop.join(&marta, "ana", Role::Technician).await?;
        let ben = shop.join(&marta, "ben", Role::Technician).await?;
        let mut honest = Device::new(&document_id());
        honest.start_book()?;
        honest.connect(&ana).await?;
        honest.share().await?;
        let mut hostile = Device::new(&honest.book);
        hostile.connect(&ben).await?;
        hostile.share().await?;
        Ok(Self {
            shop,
            ana,
            ben,
            honest,
            hostile,
            notes: 0,
        })
    }

    /// Sends a sync message that must be refused, then sees that all is well.
    async fn refuses(&mut self, data: Vec<u8>, reason: &str) -> Result<()> {
        self.hostile.say("sync", data).await?;
        while self.hostile.hear().await? != "error" {}
        let refused = self.hostile.refused.pop();
        ensure!(
            refused.as_deref() == Some(reason),
            "{refused:?} in the place of {reason}"
        );
        self.all_is_well().await
    }

    /// The honest phone writes and shares, and a phone that knows nothing gets it all.
    async fn all_is_well(&mut self) -> Result<()> {
        self.notes += 1;
        self.honest.mean(&Intention::WriteNote {
            id: format!("n{}", self.notes),
            text: "left tower looks pushed back".into(),
        })?;
        self.honest.share().await?;
        let mut fresh = Device::new(&self.honest.book);
        fresh.connect(&self.ana).await?;
        fresh.share().await?;
        ensure!(
            fresh.doc.get_heads() == self.honest.doc.get_heads(),
            "the book is another one"
        );
        let rows = "SELECT COUNT(*) FROM doc_change";
        let rows = self.shop.scratch.number(rows).await?;
        ensure!(
            usize::try_from(rows)? == self.notes + 1,
            "{rows} changes in the record, {} honest ones",
            self.notes + 1
        );
        Ok(())
    }

    /// Ben's next change as it might be, honest or not.
    fn forged(&mut self, alter: impl FnOnce(&mut ExpandedChange)) -> Result<Change> {
        let mut doc = AutoCommit::load(&self.honest.doc.save())?
            .with_actor(self.hostile.doc.get_actor().clone());
        let before = doc.get_heads();
        doc.put(ROOT, "a", 1)?;
        doc.put(ROOT, "b", 1)?;
        doc.commit();
        let mut expanded = doc.get_changes(&before).remove(0).decode();
        alter(&mut expanded);
        Ok(Change::from(expanded))
    }
}

fn message(chunks: Vec<Vec<u8>>) -> Vec<u8> {
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

fn carry(changes: &[Change]) -> Vec<u8> {
    message(changes.iter().map(|c| c.raw_bytes().to_vec()).collect())
}

/// A chunk around contents of fewer than 16,384 bytes, with its right checksum.
fn chunk(kind: u8, contents: &[u8]) -> Vec<u8> {
    let length = contents.len();
    let mut hashed = vec![kind];
    if length > 0x7f {
        hashed.push(length as u8 | 0x80);
        hashed.push((length >> 7) as u8);
    } else {
        hashed.push(length as u8);
    }
    hashed.extend(contents);
    let hash = Sha256::digest(&hashed);
    [&[0x85, 0x6f, 0x4a, 0x83], &hash[..4], &hashed[..]].concat()
}

/// Contents of a change of Ben's with one column of actions.
fn one_column(specification: u8, data: &[u8]) -> Vec<u8> {
    let length = data.len() as u8;
    let head = [0, 1, 7, 1, 1, 0, 0, 0, 1, specification, length];
    [&head[..], data].concat()
}

#[tokio::test(flavor = "multi_thread")]
async fn summaries_that_kill() -> Result<()> {
    let mut scene = Scene::new().await?;
    // Ten bytes that divide by nothing: one entry of no bits and seven probes.
    let no_bits = vec![0x42, 0, 0, 1, 0, 3, 1, 0, 7, 0];
    scene.refuses(no_bits, "summary").await?;
    // Four thousand million probes per entry.
    let probes = vec![
        0x42, 0, 0, 1, 0, 9, 1, 8, 0xff, 0xff, 0xff, 0xff, 0x0f, 0xff, 0, 0,
    ];
    scene.refuses(probes, "summary").await?;
    // More entries than bits are there for, and more summaries and hashes than anybody has.
    let entries = vec![0x42, 0, 0, 1, 0, 4, 0x7f, 10, 7, 0, 0];
    scene.refuses(entries, "unreadable").await?;
    let million_million = [0x80, 0x80, 0x80, 0x80, 0x80, 0x20];
    for zeros in 0..4 {
        let data = [&[0x42], &vec![0; zeros][..], &million_million].concat();
        scene.refuses(data, "too-large").await?;
    }
    scene.shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn changes_that_claim_more_than_they_hold() -> Result<()> {
    let mut scene = Scene::new().await?;
    // Run lengths: 2^40 times the same action.
    let run = one_column(0x42, &[0x80, 0x80, 0x80, 0x80, 0x80, 0x20, 1]);
    scene
        .refuses(message(vec![chunk(1, &run)]), "too-large")
        .await?;
    // A name of a kilobyte, said a million times (0x15: names of fields).
    let mut name = vec![0xc0, 0x84, 0x3d, 0x80, 0x08];
    name.extend([b'n'; 1024]);
    let mut names = vec![0, 1, 7, 1, 1, 0, 0, 0, 1, 0x15];
    names.extend([(name.len() & 0x7f) as u8 | 0x80, (name.len() >> 7) as u8]);
    names.extend(name);
    scene
        .refuses(message(vec![chunk(1, &names)]), "too-large")
        .await?;
    // Deflated: eight megabytes of the same letter in a few kilobytes.
    let mut doc = AutoCommit::new().with_actor(scene.hostile.doc.get_actor().clone());
    doc.put(ROOT, "vehicle", "a".repeat(8 * 1024 * 1024))?;
    doc.commit();
    let packed = doc.get_changes(&[]).remove(0).bytes().into_owned();
    ensure!(packed.len() < 64 * 1024 && packed[8] == 2);
    scene.refuses(message(vec![packed]), "not-plain").await?;
    // One column deflated (0x4a), in a chunk that says that it is plain.
    let column = one_column(0x4a, &[0x4b, 4, 0]);
    scene
        .refuses(message(vec![chunk(1, &column)]), "unreadable")
        .await?;
    // A whole document in the place of a change, and in a message of the second version.
    let whole = scene.honest.doc.save();
    scene
        .refuses(message(vec![whole.clone()]), "not-plain")
        .await?;
    let mut second = message(vec![whole]);
    second[0] = 0x43;
    scene.refuses(second, "unreadable").await?;
    scene.shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn changes_that_are_not_what_they_should_be() -> Result<()> {
    let mut scene = Scene::new().await?;
    let honest = scene.forged(|_| ())?;
    // Two runs of one in the place of one run of two: taken by the engine, and never loads again.
    let odd = oddly_written(honest.raw_bytes())?;
    scene.refuses(message(vec![odd]), "not-canonical").await?;
    // A wrong checksum, or other bytes under a right one.
    let mut wrong = honest.raw_bytes().to_vec();
    wrong[4] ^= 1;
    scene.refuses(message(vec![wrong]), "checksum").await?;
    let mut other = honest.raw_bytes().to_vec();
    let end = other.len() - 1;
    other[end] ^= 1;
    scene.refuses(message(vec![other]), "checksum").await?;
    // Under the actor of somebody else, and under nobody's.
    let ana = scene.honest.doc.get_actor().clone();
    let reason = format!("actor {}", ana.to_hex_string());
    let foreign = scene.forged(|change| change.actor_id = ana)?;
    scene.refuses(carry(&[foreign]), &reason).await?;
    let nobodys = scene.forged(|change| change.actor_id = ActorId::from([0; 16]))?;
    scene.refuses(carry(&[nobodys]), "first-change").await?;
    // Out of turn, and with operation numbers that leave none for anybody else.
    let reason = format!("sequence {}", scene.hostile.actor());
    let out_of_turn = scene.forged(|change| change.seq = 7)?;
    scene.refuses(carry(&[out_of_turn]), &reason).await?;
    let poison = NonZeroU64::new(u64::from(u32::MAX)).expect("it is not nothing");
    let poison = scene.forged(|change| change.start_op = poison)?;
    scene.refuses(carry(&[poison]), &reason).await?;
    scene.shop.running.stop().await
}

/// The same change, its actions written as two runs of one.
fn oddly_written(plain: &[u8]) -> Result<Vec<u8>> {
    // Behind the container (magic, checksum, kind, length of one or two bytes).
    let contents = &plain[10 + usize::from(plain[9] > 0x7f)..];
    // Columns are announced as pairs of specification and length; 0x42 are the actions.
    let announced = contents
        .windows(4)
        .position(|four| four[..2] == [0x42, 2] && four[2] == 0x56);
    let Some(announced) = announced else {
        anyhow::bail!("no column of actions of two bytes");
    };
    // The actions are the only run of two with value 1 that is not in the head.
    let data = contents[announced..]
        .windows(2)
        .position(|two| two == [2, 1])
        .map(|at| announced + at);
    let Some(data) = data else {
        anyhow::bail!("no run of two");
    };
    let mut odd = contents[..data].to_vec();
    odd.extend([1, 1, 1, 1]);
    odd.extend(&contents[data + 2..]);
    odd[announced + 1] = 4;
    Ok(chunk(1, &odd))
}

#[tokio::test(flavor = "multi_thread")]
async fn a_flood_of_changes_that_build_on_nothing() -> Result<()> {
    let mut scene = Scene::new().await?;
    let orphan = |seq: u64| {
        move |change: &mut ExpandedChange| {
            change.deps = vec![ChangeHash([9; 32])];
            change.seq = seq;
        }
    };
    let flood: Vec<Change> = (2..1202)
        .map(|seq| scene.forged(orphan(seq)))
        .collect::<Result<_>>()?;
    scene.refuses(carry(&flood), "too-many-waiting").await?;
    // In small pieces it comes to the same.
    let (first, rest) = flood.split_at(600);
    scene.hostile.say("sync", carry(first)).await?;
    scene.refuses(carry(rest), "too-many-waiting").await?;
    scene.shop.running.stop().await
}

#[tokio::test(flavor = "multi_thread")]
async fn frames_that_are_too_large() -> Result<()> {
    let mut scene = Scene::new().await?;
    // In one piece. The line is closed, perhaps while the bytes are still on their way.
    let huge = vec![0; MAX_FRAME_BYTES + 1];
    let _ = scene.hostile.send_bytes(huge).await;
    ensure!(until_the_end(&mut scene.hostile).await, "the line is open");
    scene.all_is_well().await?;
    // In pieces that are each allowed.
    scene.hostile.connect(&scene.ben).await?;
    for (number, kind) in [Data::Binary, Data::Continue, Data::Continue]
        .into_iter()
        .enumerate()
    {
        let piece = vec![0; MAX_FRAME_BYTES / 2];
        let part = Part::message(piece, OpCode::Data(kind), number == 2);
        if scene
            .hostile
            .send_message(Socket::Frame(part))
            .await
            .is_err()
        {
            break;
        }
    }
    ensure!(until_the_end(&mut scene.hostile).await, "the line is open");
    scene.all_is_well().await?;
    // A message that fits in a frame and is more than a book needs.
    scene.hostile.connect(&scene.ben).await?;
    let long = vec![0x42; shared::sync::gate::MAX_MESSAGE_BYTES + 1];
    scene.refuses(long, "too-large").await?;
    scene.shop.running.stop().await
}

/// Did the server end the line, without an answer that lets it go on?
async fn until_the_end(device: &mut Device) -> bool {
    while let Ok(frame) = device.next().await {
        if frame.kind == "error" {
            return false;
        }
    }
    true
}

#[tokio::test(flavor = "multi_thread")]
async fn a_flood_of_messages() -> Result<()> {
    let mut scene = Scene::new().await?;
    // Nothing in them to refuse: nobody has to wait long for it.
    for _ in 0..2_000 {
        scene.hostile.say("sync", vec![0x42, 0, 0, 0, 0]).await?;
    }
    scene.all_is_well().await?;
    // Nonsense: after a few refusals the line ends, so that nobody fills the quarantine.
    scene.hostile.connect(&scene.ben).await?;
    for _ in 0..500 {
        if scene
            .hostile
            .say("sync", b"nonsense".to_vec())
            .await
            .is_err()
        {
            break;
        }
    }
    while scene.hostile.next().await.is_ok() {}
    scene.all_is_well().await?;
    let aside = "SELECT COUNT(*) FROM quarantine";
    let aside = scene.shop.scratch.number(aside).await?;
    ensure!((1..=50).contains(&aside), "{aside} kept aside");
    // Other documents by the hundred, none of which is there.
    scene.hostile.connect(&scene.ben).await?;
    for _ in 0..400 {
        let frame = Frame {
            kind: "request".into(),
            sender: Some("phone".into()),
            document: Some(document_id()),
            data: Some(vec![0x42, 0, 0, 0, 0]),
            ..Frame::default()
        };
        scene.hostile.send(&frame).await?;
    }
    for _ in 0..400 {
        ensure!(scene.hostile.next().await?.kind == "doc-unavailable");
    }
    scene.all_is_well().await?;
    let books = scene
        .shop
        .scratch
        .number("SELECT COUNT(*) FROM doc")
        .await?;
    ensure!(books == 1, "{books} books");
    scene.shop.running.stop().await
}

/// Presence is worth nothing late: nobody's line ends because somebody else talks too much.
#[tokio::test(flavor = "multi_thread")]
async fn a_flood_of_presence() -> Result<()> {
    let mut scene = Scene::new().await?;
    for count in 0..3_000 {
        let frame = Frame {
            kind: "ephemeral".into(),
            sender: Some("phone".into()),
            document: Some(scene.honest.book.clone()),
            session: Some("s".into()),
            count: Some(count),
            data: Some(vec![0x61; 8 * 1024]),
            ..Frame::default()
        };
        scene.hostile.send(&frame).await?;
    }
    // The honest phone has not listened all the while, and still has its line.
    scene.honest.mean(&Intention::WriteNote {
        id: "in the noise".into(),
        text: "rail reads as before".into(),
    })?;
    scene.notes += 1;
    while !scene.honest.is_shared() {
        scene.honest.offer().await?;
        scene.honest.hear().await?;
    }
    scene.all_is_well_in_the_noise().await?;
    scene.shop.running.stop().await
}

impl Scene {
    /// As [`Scene::all_is_well`], for a phone that also hears presence.
    async fn all_is_well_in_the_noise(&mut self) -> Result<()> {
        let mut fresh = Device::new(&self.honest.book);
        fresh.connect(&self.ana).await?;
        fresh.share().await?;
        ensure!(fresh.doc.get_heads() == self.honest.doc.get_heads());
        Ok(())
    }
}
