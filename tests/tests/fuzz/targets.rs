//! What reads text from outside: ships, drills, procedures, lines of words, frames, archives, events.

use crate::mutate::{Dice, damaged};
use deadship_plant::file::read_ship;
use deadship_plant::kinds::REGISTRY;
use deadship_protocol::{decode_client, decode_server};
use deadship_run::library::Library;
use deadship_run::opening::{Opening, TextFile};
use deadship_run::setup::Setup;
use deadship_run::words::{Vocabulary, parse};
use deadship_run::{Envelope, timeline};
use deadship_server::Document;
use deadship_store::archive::{ArchiveReader, ArchiveWriter};
use deadship_store::{NewRecord, StreamId};
use deadship_tests::{run, top};
use serde_json::Value;
use std::io::Cursor;
use uuid::Uuid;

/// Something that reads text. Gives whether it was taken.
pub struct Target {
    pub name: &'static str,
    /// How many executions are of this one, beside 1,000 of ships, drills, lines and frames together: what costs more is
    /// done less often.
    pub share: u64,
    seeds: Vec<String>,
    read: Box<dyn Fn(&str) -> bool>,
}

impl Target {
    fn new(
        name: &'static str,
        share: u64,
        seeds: Vec<String>,
        read: impl Fn(&str) -> bool + 'static,
    ) -> Target {
        assert!(!seeds.is_empty(), "{name} has no seeds");
        Target { name, share, seeds, read: Box::new(read) }
    }

    /// The text of an execution.
    pub fn text(&self, number: u64) -> String {
        damaged(&mut Dice(number), &self.seeds)
    }

    /// Reads a text.
    pub fn read(&self, text: &str) -> bool {
        (self.read)(text)
    }

    /// Every undamaged seed is taken: what is damaged begins as something good.
    pub fn check_seeds(&self) {
        for seed in &self.seeds {
            assert!(self.read(seed), "{}: this seed is refused:\n{seed}", self.name);
        }
    }
}

/// All of them.
pub fn all() -> Vec<Target> {
    let events: Vec<String> = archive().lines().filter_map(payload).collect();
    let read_event = |text: &str| Envelope::decode(text).map(|event| timeline::what(&event.event)).is_ok();
    vec![
        Target::new("ship files", 100, ships(), |text| {
            read_ship(REGISTRY, &[("ship.toml".to_owned(), text.to_owned())]).is_ok()
        }),
        Target::new("drill files", 100, vec![tender("drill.toml")], read_drill),
        words(),
        Target::new("frames of clients", 350, examples("client"), |text| decode_client(text).is_ok()),
        Target::new("frames of the server", 150, examples("server"), |text| decode_server(text).is_ok()),
        Target::new("archives", 50, vec![small_archive(&events)], read_archive),
        Target::new("events", 100, events, read_event),
    ]
}

fn tender(file: &str) -> String {
    let path = top().join("server/app/tests/fixtures").join(file);
    std::fs::read_to_string(path).expect("a fixture of the server's tests")
}

/// Rigs are small ships; with the tender there is a ship with places and states.
fn ships() -> Vec<String> {
    let library = Library::built_in();
    let rigs = library.rigs();
    let text = |rig: &&str| library.ship(rig).expect("a rig").into_iter().map(|file| file.text).collect();
    let short = |text: &String| text.len() < 6_000;
    let mut texts: Vec<String> = rigs.iter().map(text).filter(short).collect();
    texts.push(tender("ship.toml"));
    texts
}

fn read_drill(text: &str) -> bool {
    thread_local! {
        static SHIP: String = tender("ship.toml");
    }
    let ship = SHIP.with(|ship| TextFile::new("ships/tender/ship.toml", ship.clone()));
    let drill = TextFile::new("library/tank.toml", text);
    Setup::new(Opening::new(drill, "tender", vec![ship], Vec::new(), 7)).is_ok()
}

fn words() -> Target {
    let library = Library::built_in();
    let opening = library.opening("first-light", None).expect("a drill");
    let (setup, _) = Setup::new(opening).expect("a good drill");
    let typed = [
        "open sea.chest.low.valve",
        "set dg1.generator voltage 440 V",
        "set dg1.controls turning-gear out",
        "read dg1.*",
        "look *valve*",
        "ack all",
        "ack 3",
        "say to boards: DG 1 runs",
        "fault dg1.engine.governor-sticks 50 % over 2 min every 10 min for 30 s",
        "fault dg1.engine.governor-sticks over 2 min when [dg1.engine.speed] > 850 rpm && time > 60 s",
        "mark slip 10 s ago the valve was left open",
        "note on 17: the valve was left open",
        "lift dg1.engine.governor-sticks",
        "speed 10",
        "note the watch is set",
        "shelve dg1.sump.low",
        "procedure",
        "help set",
    ];
    let read = move |text: &str| parse(text, &Vocabulary::from(&setup)).is_ok();
    Target::new("lines of words", 300, typed.map(str::to_owned).to_vec(), read)
}

/// Examples of the described link.
fn examples(side: &str) -> Vec<String> {
    let document: Value = serde_json::from_str(Document::Asyncapi.text()).expect("JSON");
    let messages = document["components"]["messages"].as_object().expect("messages");
    let of_side = messages.iter().filter(|(name, _)| name.starts_with(side));
    of_side
        .flat_map(|(_, message)| message["examples"].as_array().expect("examples").clone())
        .map(|example| example["payload"].to_string())
        .collect()
}

/// A whole archive, as the terminal writes it.
fn archive() -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("run.jsonl").display().to_string();
    let args = ["rehearse", "first-light", "--crew", "expert", "--quiet", "--record", &file];
    let said = run(env!("CARGO_BIN_EXE_deadship-under-test"), &args);
    std::fs::read_to_string(&file).unwrap_or_else(|error| panic!("{error}: {}{}", said.out, said.err))
}

/// An archive of a few events, small enough to be damaged all over.
fn small_archive(events: &[String]) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let file = folder.path().join("small.jsonl");
    let mut writer = ArchiveWriter::create(&file, StreamId(Uuid::from_u128(7))).expect("created");
    for (number, pair) in (1..).zip(events.chunks(2).take(6)) {
        let record = |(part, payload): (usize, &String)| NewRecord {
            event_id: Uuid::from_u128((number * 2 + part) as u128),
            payload: payload.clone(),
        };
        let records: Vec<NewRecord> = pair.iter().enumerate().map(record).collect();
        writer.append(&records).expect("written");
    }
    writer.finish().expect("finished");
    std::fs::read_to_string(&file).expect("read")
}

fn read_archive(text: &str) -> bool {
    match ArchiveReader::new("fuzz", Cursor::new(text.as_bytes())) {
        Ok(records) => records.into_iter().all(|record| record.is_ok()),
        Err(_) => false,
    }
}

/// The event in a line of an archive.
fn payload(line: &str) -> Option<String> {
    let (_, payload) = line.split_once(",\"payload\":")?;
    // The opening holds a whole ship: other targets read those.
    payload.strip_suffix('}').filter(|payload| payload.len() < 4_000).map(str::to_owned)
}
