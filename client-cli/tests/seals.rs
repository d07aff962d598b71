//! Seals from the command line: written, checked, damaged, and read in place of an archive.

mod common;

use common::{deadship, fixture, folder};
use std::fs;
use std::path::Path;

/// A seal of the first released format, never rewritten.
const FROZEN: &str = "../tests/fixtures/run-v1.seal";

/// The smallest drill, rehearsed and sealed; the paths of its archive and its seal.
fn sealed(folder: &Path) -> (String, String) {
    let path = |name: &str| folder.join(name).display().to_string();
    let (record, seal) = (path("run.jsonl"), path("run.seal"));
    let told = deadship(&["rehearse", &fixture("library/pump-out.toml"), "--quiet", "--record", &record]);
    assert_eq!(told.status, 0, "{}", told.talk);
    let told = deadship(&["seal", &record, "-o", &seal]);
    assert_eq!((told.status, told.out.as_str()), (0, ""), "{}", told.talk);
    assert!(told.talk.contains("rows of readings sealed in "), "{}", told.talk);
    (record, seal)
}

#[test]
fn a_seal_is_read_where_an_archive_is() {
    let folder = folder();
    let (record, seal) = sealed(folder.path());
    let both = |words: &[&str]| {
        let of = |run: &str| {
            let words: Vec<&str> = words.iter().map(|word| if *word == "RUN" { run } else { word }).collect();
            let told = deadship(&words);
            (told.status, told.out, told.talk)
        };
        assert_eq!(of(&record), of(&seal), "{words:?}");
        of(&seal)
    };
    for format in ["jsonl", "csv", "xapi", "cloudevents", "trace"] {
        both(&["export", "RUN", "--format", format]);
    }
    let readings = both(&["export", "RUN", "--format", "csv", "--table", "readings"]);
    assert!(readings.0 == 0 && readings.1.lines().count() > 60);
    both(&["export", "RUN", "--format", "csv", "--table", "readings", "--readings", "shore.*,pump.bilge"]);
    both(&["timeline", "RUN", "--all"]);
    both(&["replay", "RUN", "--verify"]);
    both(&["replay", "RUN", "--at", "45s", "--readings", "shore.closed"]);
    both(&["debrief", "RUN", "--plain"]);
    let wrong =
        deadship(&["export", &seal, "--format", "csv", "--table", "readings", "--readings", "shore.clsed"]);
    assert!(wrong.status == 2 && wrong.talk.contains("did you mean `shore.closed`?"), "{}", wrong.talk);

    let check = deadship(&["seal", "--check", &seal]);
    assert_eq!(check.status, 0, "{}{}", check.out, check.talk);
    assert!(check.out.contains("of pump-out on wherry") && check.out.ends_with("as it was written\n"));
    // The same run gives the same bytes; nothing is overwritten, and a seal is not sealed again.
    let again = folder.path().join("again.seal").display().to_string();
    assert_eq!(deadship(&["seal", &record, "-o", &again]).status, 0);
    assert_eq!(fs::read(&again).unwrap(), fs::read(&seal).unwrap());
    let exists = deadship(&["seal", &record, "-o", &again]);
    assert!(exists.status == 2 && exists.talk.contains("nothing is overwritten"), "{}", exists.talk);
    let twice = deadship(&["seal", &seal, "-o", "/no/such/file"]);
    assert!(twice.status == 2 && twice.talk.contains("is a seal already"), "{}", twice.talk);
}

#[test]
fn a_damaged_seal_says_what_can_still_be_read() {
    let folder = folder();
    let (_, seal) = sealed(folder.path());
    let mut bytes = fs::read(&seal).unwrap();
    // The tenth line is the ninth event.
    let ends: Vec<usize> = (0..bytes.len()).filter(|at| bytes[*at] == b'\n').collect();
    bytes[ends[8] + 40] ^= 1;
    fs::write(&seal, &bytes).unwrap();
    let check = deadship(&["seal", "--check", &seal]);
    assert_eq!(check.status, 1, "{}", check.talk);
    assert!(check.out.contains("damaged: line 10: it is not as it was written\n"), "{}", check.out);
    assert!(
        check.out.contains("events: 1 to 8, 10 to ") && check.out.ends_with("not whole\n"),
        "{}",
        check.out
    );
    let refused = deadship(&["export", &seal, "--format", "jsonl"]);
    assert_eq!((refused.status, refused.out.as_str()), (2, ""));
    assert!(refused.talk.contains("`deadship seal --check "), "{}", refused.talk);
    let before = deadship(&["export", &seal, "--format", "jsonl", "--whole"]);
    assert_eq!((before.status, before.out.lines().count()), (0, 8), "{}", before.talk);
    // The readings are whole.
    let readings = ["export", &seal, "--format", "csv", "--table", "readings", "--whole"];
    assert!(deadship(&readings).out.lines().count() > 60);
    // Cut short.
    fs::write(&seal, &bytes[..ends[ends.len() - 2]]).unwrap();
    let cut = deadship(&["seal", "--check", &seal]);
    assert!(cut.status == 1 && cut.out.contains("closing line is missing"), "{}{}", cut.out, cut.talk);
    for none in ["", "time,speed\n0,1\n"] {
        fs::write(&seal, none).unwrap();
        let told = deadship(&["seal", "--check", &seal]);
        assert!(told.status == 2 && told.talk.contains("it is not a seal"), "{}", told.talk);
    }
    assert_eq!(deadship(&["seal", "--check", "nothing.seal"]).status, 2);
}

#[test]
fn a_run_that_has_not_ended_is_sealed_only_if_that_is_meant() {
    let folder = folder();
    let (record, _) = sealed(folder.path());
    let whole = fs::read_to_string(&record).unwrap();
    let begin: Vec<&str> = whole.lines().take(20).collect();
    fs::write(&record, begin.join("\n") + "\n").unwrap();
    let path = folder.path().join("open.seal").display().to_string();
    let refused = deadship(&["seal", &record, "-o", &path]);
    assert!(refused.status == 2 && refused.talk.contains("has not ended"), "{}", refused.talk);
    let told = deadship(&["seal", &record, "-o", &path, "--whole"]);
    assert_eq!(told.status, 0, "{}", told.talk);
    let check = deadship(&["seal", "--check", &path]);
    assert!(check.status == 0 && check.out.contains("on wherry, not ended,"), "{}", check.out);
    let nothing = deadship(&["seal", &record]);
    assert!(nothing.status == 2 && nothing.talk.contains("--output"), "{}", nothing.talk);
}

/// Every later version reads it, and what it says does not change: neither events nor readings.
#[test]
fn the_frozen_seal_can_be_read() {
    let check = deadship(&["seal", "--check", FROZEN]);
    assert_eq!(check.status, 0, "{}{}", check.out, check.talk);
    let timeline = deadship(&["timeline", FROZEN, "--all"]);
    assert!(timeline.out.contains("opens the run: pump-out on wherry"), "{}", timeline.talk);
    assert!(timeline.out.contains("the run is over: the aim is reached"), "{}", timeline.out);
    let readings = ["export", FROZEN, "--format", "csv", "--table", "readings"];
    let table = deadship(&[&readings[..], &["--readings", "shore.closed", "pump.bilge.speed"]].concat());
    assert_eq!(table.status, 0, "{}", table.talk);
    insta::assert_snapshot!("frozen_readings", table.out.replace("\r\n", "\n"));
    let frozen = fs::read_to_string(FROZEN).unwrap();
    let events = frozen.lines().filter(|line| line[17..].starts_with("event ")).count();
    assert_eq!(deadship(&["export", FROZEN, "--format", "jsonl"]).out.lines().count(), events);
}
