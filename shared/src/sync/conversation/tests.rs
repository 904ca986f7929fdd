//! A pretend network: phones, a server that loses power, lines that are cut, messages that are lost,
//! doubled and held up. Seeded, without sleeping; whatever happens, nothing is lost.

use automerge::ActorId;
use proptest::prelude::*;

use super::*;
use crate::book::{self, Intention, Stamp};
use crate::sync::gate::weigh;

/// Small and repeatable: a linear congruential generator (Knuth's MMIX constants, from memory).
struct Dice(u64);

impl Dice {
    fn below(&mut self, sides: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }
}

type Messages = Vec<Vec<u8>>;

struct Phone {
    number: u8,
    doc: Automerge,
    guest: Guest,
    /// Messages on their way to the host and back; `None` without signal.
    line: Option<(Messages, Messages)>,
    /// Something on this line was lost, doubled or overtaken.
    mangled: bool,
    /// Highest peer number so far: every line is a new peer.
    peer: u64,
}

impl Phone {
    fn new(number: u8) -> Self {
        Self {
            number,
            doc: book::start().with_actor(actor(number)),
            guest: Guest::default(),
            line: None,
            mangled: false,
            peer: u64::from(number) << 32,
        }
    }

    fn note(&mut self, id: String) {
        let stamp = Stamp {
            by: format!("person {}", self.number),
            at: "2026-03-02T09:14:00Z".into(),
            at_ms: 0,
            record: format!("record-{id}"),
        };
        let text = "reads as before".into();
        book::edit::apply(&mut self.doc, &stamp, &Intention::WriteNote { id, text }).unwrap();
    }
}

fn actor(number: u8) -> ActorId {
    ActorId::from(&[number; 16][..])
}

struct Network {
    phones: Vec<Phone>,
    host: Host,
    /// What the server's disk holds: the chunks of changes, and nothing else.
    disk: Vec<Vec<u8>>,
}

impl Network {
    fn new(phones: u8) -> Self {
        Self {
            phones: (1..=phones).map(Phone::new).collect(),
            host: Host::new(Automerge::new()),
            disk: Vec::new(),
        }
    }

    fn connect(&mut self, at: usize) {
        let phone = &mut self.phones[at];
        phone.guest = Guest::new(phone.guest.shared().to_vec());
        phone.line = Some((Vec::new(), Vec::new()));
        phone.mangled = false;
        phone.peer += 1;
        self.host.join(phone.peer, Role::Write);
    }

    fn cut(&mut self, at: usize) {
        self.phones[at].line = None;
        self.host.leave(self.phones[at].peer);
    }

    /// Everything in memory is gone; what is on disk comes back.
    fn cut_power(&mut self) {
        for at in 0..self.phones.len() {
            self.cut(at);
        }
        self.host = Host::new(Automerge::load(&self.disk.concat()).unwrap());
    }

    fn say(&mut self, at: usize) {
        let phone = &mut self.phones[at];
        if let Some((up, _)) = &mut phone.line {
            let saved = phone.doc.get_heads();
            up.extend(phone.guest.next_message(&phone.doc, &saved));
        }
    }

    /// The oldest message of a phone reaches the host; `fails` is a disk that does not take it.
    fn deliver_up(&mut self, at: usize, fails: bool) {
        let Phone {
            line: Some((up, _)),
            peer,
            number,
            ..
        } = &mut self.phones[at]
        else {
            return;
        };
        if up.is_empty() {
            return;
        }
        let (data, peer, own) = (up.remove(0), *peer, actor(*number));
        let question = self.host.question(peer, data).unwrap();
        let admitted = weigh(question, |who| *who == own).unwrap();
        if fails {
            return self.cut(at);
        }
        self.disk
            .extend(admitted.changes.iter().map(|change| change.bytes.clone()));
        self.host.commit(peer, admitted);
        for phone in &mut self.phones {
            if let Some((_, down)) = &mut phone.line {
                down.extend(self.host.next_message(phone.peer));
            }
        }
    }

    fn deliver_down(&mut self, at: usize) {
        let phone = &mut self.phones[at];
        let Some((_, down)) = &mut phone.line else {
            return;
        };
        if !down.is_empty() {
            let data = down.remove(0);
            phone.guest.receive(&mut phone.doc, &data).unwrap();
        }
    }

    /// Every line is up and nothing is lost any more, until nobody has anything to say.
    fn run_until_quiet(&mut self) {
        for at in 0..self.phones.len() {
            // A line on which something was lost is taken up anew, as a phone does after silence.
            if self.phones[at].mangled {
                self.cut(at);
            }
            if self.phones[at].line.is_none() {
                self.connect(at);
            }
        }
        for _ in 0..1_000 {
            for at in 0..self.phones.len() {
                self.say(at);
            }
            let busy = self.phones.iter().any(|phone| {
                let line = phone.line.as_ref();
                line.is_some_and(|(up, down)| !up.is_empty() || !down.is_empty())
            });
            if !busy {
                return;
            }
            for at in 0..self.phones.len() {
                self.deliver_up(at, false);
                self.deliver_down(at);
            }
        }
        panic!("the line never falls quiet");
    }

    /// What a phone was told to be shared is on the disk.
    fn check_promises(&self) {
        let disk = Automerge::load(&self.disk.concat()).unwrap();
        for phone in &self.phones {
            for head in phone.guest.shared() {
                assert!(disk.get_change_meta_by_hash(head).is_some());
            }
        }
    }

    fn check_together(&self, notes: usize) {
        let heads = self.host.doc().get_heads();
        for phone in &self.phones {
            assert_eq!(phone.doc.get_heads(), heads);
            assert_eq!(phone.guest.unshared(&phone.doc), 0);
        }
        // Every note is one change, and the first is the book's own.
        assert_eq!(self.disk.len(), notes + 1);
        let disk = Automerge::load(&self.disk.concat()).unwrap();
        assert_eq!(disk.get_heads(), heads);
        assert_eq!(book::read(&disk).1, Vec::new());
    }
}

#[test]
fn two_phones_that_began_offline_come_together() {
    let mut network = Network::new(2);
    for round in 0..20 {
        network.phones[0].note(format!("left-{round}"));
        network.phones[1].note(format!("right-{round}"));
    }
    assert_eq!(network.phones[0].guest.unshared(&network.phones[0].doc), 21);
    network.run_until_quiet();
    network.check_together(40);
}

/// A summary of two changes takes about one other in twenty for its own: then the newest of three
/// comes alone, because the host has seen its name, and waits for those before it.
#[test]
fn a_summary_that_errs_holds_nothing_up() {
    let mut came_alone = 0;
    for story in 0..300 {
        let mut network = Network::new(2);
        network.phones[1].note(format!("first {story}"));
        network.connect(1);
        network.run_until_quiet();
        network.cut(0);
        for note in 0..3 {
            network.phones[0].note(format!("{note} of {story}"));
        }
        network.connect(0);
        while network.host.doc().get_heads() != network.phones[0].doc.get_heads() {
            network.say(0);
            network.deliver_up(0, false);
            let waiting = &network.host.peers[&network.phones[0].peer].1.waiting;
            came_alone += usize::from(!waiting.is_empty());
            network.deliver_down(0);
            assert!(came_alone < 1_000, "both say the same for ever");
        }
        network.run_until_quiet();
        network.check_together(4);
    }
    assert!(came_alone > 0, "no summary has erred: nothing was tried");
}

#[test]
fn what_is_not_on_its_own_disk_is_not_told() {
    let mut phone = Phone::new(1);
    let saved = phone.doc.get_heads();
    phone.note("n".into());
    assert_eq!(phone.guest.next_message(&phone.doc, &saved), None);
    let saved = phone.doc.get_heads();
    assert!(phone.guest.next_message(&phone.doc, &saved).is_some());
}

#[test]
fn what_the_servers_disk_did_not_take_is_never_acknowledged() {
    let mut network = Network::new(1);
    network.run_until_quiet();
    network.phones[0].note("n".into());
    network.say(0);
    network.deliver_up(0, true);
    network.deliver_down(0);
    assert_eq!(network.phones[0].guest.unshared(&network.phones[0].doc), 1);
    network.run_until_quiet();
    network.check_together(1);
}

/// Stories per run: few every day, and as many as `BAYBOOK_SOAK` says.
fn stories() -> ProptestConfig {
    let asked = std::env::var("BAYBOOK_SOAK");
    ProptestConfig::with_cases(asked.map_or(64, |count| count.parse().expect("a number")))
}

proptest! {
    #![proptest_config(stories())]

    #[test]
    fn whatever_the_line_does_nothing_is_lost(seed in any::<u64>(), steps in 20..200_usize) {
        let (mut network, mut dice) = (Network::new(3), Dice(seed));
        let mut notes = 0;
        for step in 0..steps {
            let at = dice.below(3) as usize;
            match dice.below(12) {
                0 | 1 => {
                    notes += 1;
                    network.phones[at].note(format!("n{step}"));
                }
                2 => network.connect(at),
                3 => network.cut(at),
                4..=6 => network.say(at),
                7 | 8 => network.deliver_up(at, dice.below(8) == 0),
                9 => network.deliver_down(at),
                10 => mangle(&mut network.phones[at], &mut dice),
                _ if dice.below(10) == 0 => network.cut_power(),
                _ => {}
            }
            network.check_promises();
        }
        network.run_until_quiet();
        network.check_together(notes);
    }
}

/// Loses, doubles or overtakes a message of a line, one way or the other.
fn mangle(phone: &mut Phone, dice: &mut Dice) {
    let Some((up, down)) = &mut phone.line else {
        return;
    };
    let messages = if dice.below(2) == 0 { up } else { down };
    let Some(first) = messages.first().cloned() else {
        return;
    };
    phone.mangled = true;
    match dice.below(3) {
        0 => drop(messages.remove(0)),
        1 => messages.push(first),
        _ => messages.rotate_left(1),
    }
}

#[test]
fn another_session_of_the_phone_knows_what_was_confirmed_and_no_more() {
    let mut network = Network::new(1);
    let phone = &mut network.phones[0];
    phone.note("a".into());
    let confirmed = phone.doc.get_heads();
    phone.note("b".into());
    let mut other = Guest::default();
    assert_eq!(other.unshared(&phone.doc), 3);
    other.learn(&phone.doc, &confirmed);
    assert_eq!(other.unshared(&phone.doc), 1);
    // Heads of which nothing is here say nothing.
    other.learn(&phone.doc, &[ChangeHash([7; 32])]);
    assert_eq!(other.unshared(&phone.doc), 1);
    other.learn(&phone.doc, &phone.doc.get_heads());
    assert_eq!(other.unshared(&phone.doc), 0);
    assert!(
        !other.is_in_step(&phone.doc),
        "nothing was heard on this line"
    );
}
