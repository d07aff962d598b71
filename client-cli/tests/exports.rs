//! Exports from the command line: new files, bad input, and what is said of it.

mod common;

use common::{deadship, deadship_to_closed, fixture, folder};
use std::fs;
use std::path::Path;

/// The smallest drill, rehearsed; the path of its archive.
fn rehearsed(folder: &Path) -> String {
    let record = folder.join("run.jsonl").display().to_string();
    let told = deadship(&["rehearse", &fixture("library/pump-out.toml"), "--quiet", "--record", &record]);
    assert_eq!(told.status, 0, "{}", told.talk);
    record
}

#[test]
fn every_format_goes_to_a_new_file_or_to_the_output() {
    let folder = folder();
    let record = rehearsed(folder.path());
    for format in ["jsonl", "csv", "xapi", "cloudevents", "trace"] {
        let printed = deadship(&["export", &record, "--format", format]);
        assert_eq!((printed.status, printed.talk.as_str()), (0, ""), "{format}");
        let file = folder.path().join(format);
        let file = file.to_str().unwrap();
        let told = deadship(&["export", &record, "--format", format, "-o", file]);
        assert_eq!((told.status, told.out.as_str(), told.talk.as_str()), (0, "", ""), "{format}");
        assert_eq!(fs::read_to_string(file).unwrap(), printed.out, "{format}");
        let again = deadship(&["export", &record, "--format", format, "-o", file]);
        assert_eq!(again.status, 2);
        assert!(again.talk.contains("exists already, and nothing is overwritten"), "{}", again.talk);
    }
    let nowhere = deadship(&["export", &record, "--format", "csv", "-o", "/no/such/folder/file"]);
    assert_eq!(nowhere.status, 2);
    assert!(nowhere.talk.contains("/no/such/folder/file: writing failed"), "{}", nowhere.talk);
    assert_eq!(deadship_to_closed(&["export", &record, "--format", "jsonl"]), 0);
}

#[test]
fn readings_once_a_second() {
    let folder = folder();
    let record = rehearsed(folder.path());
    let table = |more: &[&str]| {
        deadship(&[&["export", &record, "--format", "csv", "--table", "readings"], more].concat())
    };
    let told = table(&["--readings", "shore.closed", "pump.bilge.speed"]);
    assert_eq!(told.status, 0, "{}", told.talk);
    let lines: Vec<&str> = told.out.split("\r\n").collect();
    assert_eq!(lines[0], "time [s],shore.closed,pump.bilge.speed [rad/s]");
    assert_eq!((lines[1], lines[46].split(',').nth(1)), ("0,0,0", Some("1")));
    assert!(lines[46].starts_with("45,"), "{}", lines[46]);
    let all = table(&[]);
    assert!(all.out.lines().next().unwrap().split(',').count() > 10);
    let wrong = table(&["--readings", "shore.clsed"]);
    assert_eq!(wrong.status, 2);
    assert!(wrong.talk.contains("did you mean `shore.closed`?"), "{}", wrong.talk);
    for odd in [["--format", "jsonl", "--table", "events"], ["--format", "csv", "--readings", "*"]] {
        let told = deadship(&[&["export", &record][..], &odd].concat());
        assert_eq!(told.status, 2);
        assert!(told.talk.contains("only `--format csv` has tables"), "{}", told.talk);
    }
}

#[test]
fn a_damaged_or_unfinished_run_gives_what_there_is() {
    let folder = folder();
    let record = rehearsed(folder.path());
    let whole = fs::read_to_string(&record).unwrap();
    let path = folder.path().join("cut.jsonl");
    let cut = path.to_str().unwrap();
    // Cut within a line, as a crash leaves it.
    fs::write(&path, &whole[..whole.len() * 2 / 3]).unwrap();
    let refused = deadship(&["export", cut, "--format", "jsonl"]);
    assert_eq!((refused.status, refused.out.as_str()), (2, ""));
    assert!(refused.talk.contains("with `--whole`"), "{}", refused.talk);
    let events = |format: &[&str]| deadship(&[&["export", cut, "--whole", "--format"], format].concat());
    for format in ["jsonl", "csv", "xapi", "cloudevents", "trace"] {
        let told = events(&[format]);
        assert_eq!(told.status, 0, "{format}: {}", told.talk);
        assert!(!told.out.is_empty() && !told.out.contains("run-ended"), "{format}");
    }
    assert!(events(&["trace"]).out.contains("deadship.open"));
    let readings = events(&["csv", "--table", "readings", "--readings", "shore.closed"]);
    assert_eq!(readings.status, 0, "{}", readings.talk);

    // A head and nothing else; no archive at all.
    fs::write(&path, whole.lines().next().unwrap().to_owned() + "\n").unwrap();
    let empty = deadship(&["export", cut, "--format", "csv"]);
    assert_eq!(empty.status, 2);
    assert!(empty.talk.contains("the archive holds no event"), "{}", empty.talk);
    fs::write(&path, "time,speed\n0,1\n").unwrap();
    assert_eq!(deadship(&["export", cut, "--format", "csv"]).status, 2);
    let output = folder.path().join("never");
    let told = deadship(&["export", cut, "--format", "csv", "-o", output.to_str().unwrap()]);
    assert!(told.status == 2 && !output.exists());
}

/// What was recorded stands, whatever a newer model computes.
#[test]
fn a_frozen_log_of_another_model_is_exported() {
    let frozen = "../tests/fixtures/log-v1.jsonl";
    let events = deadship(&["export", frozen, "--format", "jsonl"]);
    assert_eq!(events.status, 0, "{}", events.talk);
    assert!(events.out.contains("\"run-ended\""));
    let readings = ["export", frozen, "--format", "csv", "--table", "readings", "--readings", "shore.*"];
    let readings = deadship(&readings);
    // Equal by luck, or told to differ: never in silence.
    let differs = readings.talk.contains("the readings are computed anew");
    assert_eq!(readings.status, u8::from(differs), "{}", readings.talk);
    assert!(readings.out.starts_with("time [s],shore."), "{}", readings.out);
}
