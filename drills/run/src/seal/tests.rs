//! What is sealed is read again, to the bit; whatever is damaged is told, and the rest is still read.

use super::*;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::replay::{ReplayError, Until, visit};
use crate::tests::kit::{Scene, ada, bo};
use proptest::prelude::*;
use std::sync::OnceLock;

/// Eleven minutes, so that there are three blocks; the run does not end.
fn log() -> &'static [Envelope] {
    static LOG: OnceLock<Vec<Envelope>> = OnceLock::new();
    LOG.get_or_init(|| {
        let mut scene = Scene::crewed();
        scene.run(2.0);
        scene.ok(&bo(), "close shore");
        scene.ok(&ada(), "set header.valve position 2 %");
        scene.run(660.0);
        scene.log
    })
}

fn sealing(log: &[Envelope]) -> Result<Written, ReplayError> {
    let texts: Vec<String> = log.iter().map(Envelope::encode).collect();
    seal(&Sealing { log, texts: &texts, by: "a test", unit: |_| "SI" })
}

fn sealed() -> &'static [u8] {
    static SEALED: OnceLock<Vec<u8>> = OnceLock::new();
    SEALED.get_or_init(|| sealing(log()).unwrap().bytes)
}

fn lines(bytes: &[u8]) -> Vec<Vec<u8>> {
    bytes.split_inclusive(|byte| *byte == b'\n').map(<[u8]>::to_vec).collect()
}

#[test]
fn what_is_sealed_is_read_again() {
    let seal = open(sealed()).unwrap();
    assert!(seal.is_whole(), "{:?}", seal.damages);
    assert!(looks_like_seal(sealed()) && !looks_like_seal(b"{\"format\":\"deadship-archive\"}"));
    let head = seal.head.as_ref().unwrap();
    assert_eq!((head.ship.as_str(), head.drill.as_str(), head.ended), ("lighter", "small", false));
    let texts: Vec<String> = log().iter().map(Envelope::encode).collect();
    assert!(seal.events.iter().map(|event| &event.text).eq(&texts));
    let rows = log().last().unwrap().tick / EVERY_TICKS + 1;
    assert_eq!((seal.rows(), seal.blocks.len()), (rows, 3));
    let mut wanted = Vec::new();
    visit(log(), Until::End, &mut |run| {
        if run.tick() == wanted.len() as u64 * EVERY_TICKS {
            wanted.push(run.plant.readings().iter().map(|value| value.to_bits()).collect::<Vec<u64>>());
        }
    })
    .unwrap();
    for (row, wanted) in (0..).zip(&wanted) {
        let (tick, values) = seal.row_at(row * EVERY_TICKS + 7).unwrap();
        let values: Vec<u64> = values.iter().map(|value| value.to_bits()).collect();
        assert_eq!((tick, &values), (row * EVERY_TICKS, wanted));
    }
    assert_eq!(seal.row_at(rows * EVERY_TICKS), None);
    let columns = seal.columns.as_ref().unwrap();
    let closed = columns.columns.iter().find(|column| column.name == "shore.closed").unwrap();
    assert_eq!(columns.word_lists[closed.words.unwrap()], ["no", "yes"]);
    assert!(seal.debrief.unwrap().contains("\"ship\":\"lighter\""));
    assert_eq!(sealing(log()).unwrap().bytes, sealed());
}

#[test]
fn a_log_that_is_no_run_is_not_sealed() {
    assert!(matches!(sealing(&[]), Err(ReplayError::Empty)));
    assert!(matches!(sealing(&log()[1..]), Err(ReplayError::NoOpening)));
    let gap: Vec<Envelope> = log().iter().filter(|envelope| envelope.seq != 3).cloned().collect();
    assert!(matches!(sealing(&gap), Err(ReplayError::Gap { .. })));
}

#[test]
fn where_the_model_differs_readings_end_before() {
    let mut other = log().to_vec();
    let digests: Vec<usize> =
        (0..other.len()).filter(|index| matches!(other[*index].event, Event::Digest { .. })).collect();
    let (equal, differs) = (digests[9], digests[10]);
    other[differs].event = Event::Digest { digest: "0123456789abcdef".to_owned() };
    let written = sealing(&other).unwrap();
    assert!(written.difference.is_some());
    let seal = open(&written.bytes).unwrap();
    assert!(seal.is_whole(), "{:?}", seal.damages);
    assert_eq!(seal.rows(), other[equal].tick / EVERY_TICKS + 1);
    assert!(seal.columns.unwrap().difference.unwrap().contains("differ"));
    assert_eq!(seal.events.len(), other.len());
    // Where nothing was proven, no reading is a fact.
    let mut other = log().to_vec();
    other[digests[0]].event = Event::Digest { digest: String::new() };
    assert_eq!(sealing(&other).unwrap().rows, 0);
}

#[test]
fn of_a_damaged_seal_the_rest_is_read() {
    let told =
        |bytes: &[u8]| open(bytes).unwrap().damages.first().map(ToString::to_string).unwrap_or_default();
    let whole = lines(sealed());
    let last = whole.len();
    // Cut short, within a line and between two.
    let cut = &sealed()[..sealed().len() / 2];
    let seal = open(cut).unwrap();
    assert!(!seal.is_whole() && seal.head.is_some() && !seal.events.is_empty());
    assert!(told(&whole[..last - 1].concat()).contains("the closing line is missing"));
    assert!(told(&sealed()[..sealed().len() - 1]).contains("its end is missing"));
    // A line taken out or moved proves itself, but not its place.
    let mut without = whole.clone();
    without.remove(3);
    assert!(told(&without.concat()).contains("missing, moved or others"));
    let mut moved = whole.clone();
    moved.swap(3, 4);
    assert!(told(&moved.concat()).contains("missing, moved or others"));
    let twice = [sealed(), &whole[1]].concat();
    assert!(told(&twice).contains("after the closing line"));
    // A block that is damaged takes only its own rows.
    let block = whole.iter().position(|line| line[17..].starts_with(b"block ")).unwrap() + 1;
    let mut spoiled = whole.clone();
    spoiled[block][60] ^= 1;
    let seal = open(&spoiled.concat()).unwrap();
    assert_eq!((seal.blocks.len(), seal.damages.len()), (2, 1));
    assert!(seal.row_at(0).is_some() && seal.row_at(400 * EVERY_TICKS).is_none());
    assert!(seal.row_at(650 * EVERY_TICKS).is_some());
}

#[test]
fn other_files_and_newer_seals_are_refused_by_name() {
    for none in [&b""[..], b"\n", b"time,speed\n0,1\n", &[0xff; 64]] {
        assert_eq!(open(none).unwrap_err(), SealError::NotASeal);
    }
    let head = format!("head {{\"format\":\"{FORMAT}\",\"version\":2,\"more\":1}}");
    let newer = format!("{} {head}\n", sum_of(head.as_bytes()));
    assert_eq!(open(newer.as_bytes()).unwrap_err(), SealError::Newer { found: 2 });
    let head = "head {\"format\":\"other\",\"version\":1}";
    let other = format!("{} {head}\n", sum_of(head.as_bytes()));
    assert!(!open(other.as_bytes()).unwrap().is_whole());
    // A block that unpacks to more than it says takes no more memory than it says.
    let mut rows = block::Rows::new(1);
    (0..1000).for_each(|_| rows.push(&[0.0]));
    let block = Block { rows: 3, ..rows.take() };
    assert_eq!(block::values(&block, 1), None);
    assert_eq!(block::values(&Block { rows: u64::MAX, ..block }, 1 << 40), None);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    /// Whatever byte is changed, taken out or put in: it is told, and nothing is read that was not written.
    #[test]
    fn no_damage_stays_unseen(place in any::<prop::sample::Index>(), byte in any::<u8>(), how in 0u8..3) {
        let mut bytes = sealed().to_vec();
        let at = place.index(bytes.len());
        match how {
            0 => bytes[at] ^= byte.max(1),
            1 => drop(bytes.remove(at)),
            _ => bytes.insert(at, byte),
        }
        prop_assume!(bytes != sealed());
        let whole = open(sealed()).unwrap();
        let seal = open(&bytes).unwrap();
        prop_assert!(!seal.is_whole());
        let known: Vec<&String> = whole.events.iter().map(|event| &event.text).collect();
        prop_assert!(seal.events.iter().all(|event| known.contains(&&event.text)));
        prop_assert!(seal.blocks.iter().all(|block| whole.blocks.contains(block)));
        prop_assert!(seal.events.len() + 2 >= whole.events.len());
    }
}
