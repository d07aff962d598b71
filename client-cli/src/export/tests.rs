//! What every format keeps: one id an event, the same text twice, nobody's name, and its own rules.

use super::*;
use crate::screen::kit::{Stage, ada, iris};
use deadship_run::{Role, Who};
use serde_json::Value;
use std::collections::BTreeSet;
use std::sync::OnceLock;

/// Whatever is written as lines.
const LINES: [ExportFormat; 3] = [ExportFormat::Jsonl, ExportFormat::Xapi, ExportFormat::Cloudevents];

/// People who speak of each other, are refused, mark and carry out an order; the run does not end.
fn log() -> &'static [Envelope] {
    static LOG: OnceLock<Vec<Envelope>> = OnceLock::new();
    LOG.get_or_init(|| {
        let mut stage = Stage::alarm();
        let ben = Who::person("Ben", Role::Trainee);
        stage.does(&ada(), "repeat 1");
        stage.does(&ada(), "say to boards: Ben, \u{9b}2J \u{202e}look at DG 1, says \"Ada\",\nat once");
        stage.does(&ben, "station engine");
        stage.does(&iris(), "note Ben waits for Ada");
        stage.does(&ada(), "go control-room");
        stage.run(40.0);
        stage.does(&ada(), "report 1 Ben has seen to it");
        stage.run(1.0);
        stage.log
    })
}

fn exported(log: &[Envelope], format: ExportFormat, names: &Names) -> String {
    let log: Vec<Envelope> = log.iter().map(|envelope| names.hide(envelope)).collect();
    let mut bytes = Vec::new();
    let mut out = output::Output::to(&mut bytes);
    written(&mut out, format, &log, names).unwrap();
    String::from_utf8(bytes).unwrap()
}

fn values(text: &str) -> Vec<Value> {
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn all_formats() -> impl Iterator<Item = ExportFormat> {
    LINES.into_iter().chain([ExportFormat::Csv, ExportFormat::Trace])
}

#[test]
fn nobody_is_named_and_two_exports_are_equal() {
    let names = Names::hidden(log());
    for format in all_formats() {
        let text = exported(log(), format, &names);
        assert_eq!(text, exported(log(), format, &Names::hidden(log())), "{format:?}");
        for name in ["Ada", "Ben", "Iris"] {
            let word = |word: &str| word == name;
            assert!(!text.split(|c: char| !c.is_alphanumeric()).any(word), "{format:?} names {name}");
        }
        // Ben does nothing that lasts.
        let is_trace = format == ExportFormat::Trace;
        assert!(text.contains("engine-1") && (is_trace || text.contains("boards-1")), "{format:?}");
        let open = exported(log(), format, &Names::shown());
        assert!(open.contains("Ada") && open.contains("Iris") && !open.contains("engine-1"), "{format:?}");
        let commands = |c: char| c != '\r' && crate::io::commands_terminals(c);
        assert!(!text.contains(commands), "{format:?} can command a terminal");
    }
}

#[test]
fn ids_are_those_of_the_events_and_come_once() {
    let names = Names::hidden(log());
    let events: BTreeSet<String> = log().iter().map(|envelope| envelope.event_id.to_string()).collect();
    for format in LINES {
        let lines = values(&exported(log(), format, &names));
        let ids: BTreeSet<String> =
            lines.iter().map(|line| line["id"].as_str().unwrap().to_owned()).collect();
        assert_eq!(ids.len(), lines.len(), "{format:?}");
        assert!(ids.is_subset(&events), "{format:?}");
        assert!(format == ExportFormat::Xapi || ids == events, "{format:?}");
    }
    let trace = values(&exported(log(), ExportFormat::Trace, &names)).remove(0);
    let spans = trace["resourceSpans"][0]["scopeSpans"][0]["spans"].as_array().unwrap();
    let ids: BTreeSet<&str> = spans.iter().map(|span| span["spanId"].as_str().unwrap()).collect();
    assert_eq!(ids.len(), spans.len());
    assert!(ids.iter().all(|id| id.len() == 16));
}

#[test]
fn a_line_of_json_has_its_fields_whatever_the_event() {
    let lines = values(&exported(log(), ExportFormat::Jsonl, &Names::hidden(log())));
    assert_eq!(lines.len(), log().len());
    for (line, envelope) in lines.iter().zip(log()) {
        let fields: BTreeSet<&str> = line.as_object().unwrap().keys().map(String::as_str).collect();
        let known = ["run", "seq", "tick", "time_s", "at", "id", "cause", "chain", "who", "name", "event"];
        assert_eq!(fields, BTreeSet::from(known));
        assert_eq!(line["time_s"].as_f64().unwrap(), seconds(envelope.tick));
    }
    assert!(lines[0]["event"]["ship_files"].is_null() && lines[0]["event"]["seed"] == 1);
    // What could command a terminal is an escape, and nothing is lost.
    let said = lines.iter().find(|line| line["event"]["text"].as_str().unwrap_or("").contains("2J")).unwrap();
    assert!(said["event"]["text"].as_str().unwrap().contains("\u{9b}2J \u{202e}look"));
}

#[test]
fn statements_say_who_did_what_and_how_it_ended() {
    let lines = values(&exported(log(), ExportFormat::Xapi, &Names::hidden(log())));
    let with = |verb: &str| -> Vec<&Value> {
        lines
            .iter()
            .filter(|line| line["verb"]["id"].as_str().unwrap().ends_with(&format!("/{verb}")))
            .collect()
    };
    let refused = with("attempted")[0];
    assert_eq!(refused["result"]["success"], false);
    let reasons = &refused["result"]["extensions"]["https://deadship.invalid/extensions/reasons"];
    assert_eq!(reasons[0]["code"], "has-station");
    let (ordered, reported) = (with("ordered")[0], with("reported")[0]);
    assert_eq!(reported["context"]["statement"]["id"], ordered["id"]);
    assert_eq!(reported["object"]["id"], ordered["object"]["id"]);
    assert_eq!(
        (&reported["result"]["success"], &reported["result"]["completion"]),
        (&true.into(), &true.into())
    );
    assert_eq!(reported["actor"]["account"]["name"], "engine-1");
    let run = log()[0].run.to_string();
    assert!(lines.iter().all(|line| line["context"]["registration"] == run.as_str()));
    assert!(lines.iter().all(|line| line["timestamp"] == "2026-01-01T00:00:00Z"));
    let kinds: BTreeSet<&str> =
        lines.iter().map(|line| line["actor"]["objectType"].as_str().unwrap()).collect();
    assert_eq!(kinds, BTreeSet::from(["Agent", "Group"]));
}

#[test]
fn spans_last_from_their_beginning_to_their_end() {
    let trace = values(&exported(log(), ExportFormat::Trace, &Names::hidden(log()))).remove(0);
    let spans = trace["resourceSpans"][0]["scopeSpans"][0]["spans"].as_array().unwrap().clone();
    let named =
        |name: &str| spans.iter().find(|span| span["name"].as_str().unwrap().starts_with(name)).unwrap();
    let time = |span: &Value, which: &str| span[which].as_str().unwrap().parse::<u64>().unwrap();
    let lasts_s =
        |span: &Value| (time(span, "endTimeUnixNano") - time(span, "startTimeUnixNano")) as f64 / 1e9;
    let is_open = |span: &Value| span["attributes"].to_string().contains("deadship.open");
    let tick_of = |name: &str| log().iter().find(|envelope| envelope.event.name() == name).unwrap().tick;
    let order = named("order 1");
    let lasted = seconds(tick_of("order-reported") - tick_of("order-given"));
    assert_eq!((lasts_s(order), is_open(order)), (lasted, false));
    assert_eq!(order["events"][0]["name"], "read-back");
    let fault = named("fault dg1.sump.drain.works-loose");
    assert!(is_open(fault));
    // The run has not ended: all of it is one span that is open, and the others hang on it.
    let run = named("run watch");
    assert_eq!((lasts_s(run), is_open(run)), (seconds(log().last().unwrap().tick), true));
    assert_eq!(time(run, "startTimeUnixNano"), 1_767_225_600_000_000_000);
    assert_eq!(fault["parentSpanId"], run["spanId"]);
    assert!(spans.iter().all(|span| time(span, "endTimeUnixNano") >= time(span, "startTimeUnixNano")));
}

#[test]
fn tables_are_read_back_as_they_were() {
    let text = exported(log(), ExportFormat::Csv, &Names::hidden(log()));
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heads = reader.headers().unwrap().clone();
    let column = |name: &str| heads.iter().position(|head| head == name).unwrap();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), log().len());
    assert!(text.ends_with("\r\n"));
    let said = rows.iter().find(|row| row[column("text")].contains("look at DG 1")).unwrap();
    assert!(said[column("text")].ends_with("says \"engine-1\",\nat once"), "{}", &said[column("text")]);
    assert_eq!((&said[column("who")], &said[column("station")]), ("engine-1", "engine"));
}
