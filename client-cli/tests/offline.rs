//! The commands that need no server, from the command line to the exit status.

mod common;

use common::{deadship, fixture, folder};
use std::fs;

#[test]
fn a_rehearsal_reaches_the_aim_and_can_be_replayed() {
    let folder = folder();
    let record = folder.path().join("run.jsonl");
    let record = record.to_str().unwrap();
    let told = deadship(&["rehearse", &fixture("library/pump-out.toml"), "--record", record]);
    assert_eq!(told.status, 0, "{}", told.talk);
    // The digest is for equality only: it changes with every change of the model.
    let (debrief, digest) = told.out.trim_end().rsplit_once("\ndigest ").unwrap();
    assert_eq!(digest.find(','), Some(16), "{digest}");
    insta::assert_snapshot!("debrief", debrief);
    insta::assert_snapshot!("events", told.talk);

    let again = deadship(&["rehearse", "pump-out", "--data", &fixture(""), "--quiet"]);
    assert_eq!((again.status, again.talk.as_str()), (0, ""));
    assert_eq!(again.out, told.out);

    let verified = deadship(&["replay", record, "--verify"]);
    assert_eq!(verified.status, 0, "{}", verified.talk);
    assert!(verified.out.ends_with("digests: all equal\n"), "{}", verified.out);

    let timeline = deadship(&["timeline", record]);
    assert_eq!(timeline.out, told.talk);
    let all = deadship(&["timeline", record, "--all"]);
    assert!(all.out.contains("digest ") && all.out.lines().count() > timeline.out.lines().count());

    let at = deadship(&["replay", record, "--at", "45s", "--readings", "shore.closed", "pump.*.running"]);
    assert_eq!(
        at.out,
        "shore.closed            yes\npump.bilge.running      yes\npump.deck-wash.running  no\n"
    );
    let late = deadship(&["replay", record, "--at", "1h"]);
    assert_eq!(late.status, 2);
    assert!(late.talk.contains("the log ends at"), "{}", late.talk);
}

#[test]
fn measures_as_text_and_as_json() {
    let folder = folder();
    let record = folder.path().join("run.jsonl");
    let record = record.to_str().unwrap();
    deadship(&["rehearse", &fixture("library/pump-out.toml"), "--record", record, "--quiet"]);
    let text = deadship(&["measures", record]);
    assert_eq!((text.status, text.talk.as_str()), (0, ""));
    assert!(text.out.starts_with("Pump out, on wherry: "), "{}", text.out);
    assert!(text.out.contains("\nMoments for the debrief\n"), "{}", text.out);
    let json = deadship(&["measures", record, "--json", "--no-replay"]);
    let json: serde_json::Value = serde_json::from_str(&json.out).unwrap();
    assert_eq!(json["measures"][0]["name"], "blackout-time");
    assert!(json["not_computed"][0].as_str().unwrap().contains("not replayed"));
}

#[test]
fn measures_beside_expert_and_idle_crew() {
    let folder = folder();
    let record = folder.path().join("run.jsonl");
    let record = record.to_str().unwrap();
    deadship(&[
        "rehearse",
        &fixture("library/pump-out.toml"),
        "--crew",
        "idle",
        "--record",
        record,
        "--quiet",
    ]);
    let text = deadship(&["measures", record, "--reference"]);
    assert_eq!((text.status, text.talk.as_str()), (0, ""));
    insta::assert_snapshot!("references", text.out);
    assert!(text.out.lines().all(|line| line.chars().count() <= 100), "{}", text.out);
    let json: serde_json::Value =
        serde_json::from_str(&deadship(&["measures", record, "--reference", "--json"]).out).unwrap();
    assert_eq!(json["idle"]["ticks"], json["run"]["ticks"]);
    assert!(json["expert"]["ticks"].as_u64() < json["run"]["ticks"].as_u64());
    assert_eq!(json["lines"][0]["cells"].as_array().unwrap().len(), 3);
    // A drill whose expert is not known.
    let other = folder.path().join("no-expert.toml");
    fs::copy(fixture("library/pump-out.toml"), &other).unwrap();
    let record = folder.path().join("other.jsonl");
    let (other, record) = (other.to_str().unwrap(), record.to_str().unwrap());
    deadship(&["rehearse", other, "--data", &fixture(""), "--crew", "idle", "--record", record, "--quiet"]);
    let text = deadship(&["measures", record, "--reference"]);
    assert!(text.out.contains("No expert: the drill names no expert"), "{} {}", text.out, text.talk);
    assert!(text.out.contains("idle crew"), "{}", text.out);
}

#[test]
fn a_timeline_is_told_by_objective_first_and_by_the_clock_on_demand() {
    let folder = folder();
    let record = folder.path().join("run.jsonl");
    let record = record.to_str().unwrap();
    deadship(&["rehearse", "first-light", "--at-most", "130s", "--record", record, "--quiet"]);
    let text = |more: &[&str]| {
        let told = deadship(&[&["timeline", record], more].concat());
        assert_eq!((told.status, told.talk.as_str()), (0, ""));
        told.out
    };
    let first = text(&[]);
    assert_eq!(first, text(&["--by-objective"]));
    let heads = first.lines().filter(|line| line.starts_with("-- "));
    let heads: Vec<&str> = heads.map(|line| line.split(':').next().unwrap()).collect();
    let expected =
        ["-- line-up", "-- restore-power", "-- leave-ready", "-- teamwork", "-- belongs to no objective"];
    assert_eq!(heads, expected);
    assert!(first.contains("\n   1 of 3 expected met; not rated\n"), "{first}");
    let clock = text(&["--by-clock"]);
    assert!(clock.lines().all(|line| first.contains(line)), "an event is lost");
    let seqs: Vec<u64> =
        clock.lines().map(|line| line[8..].split_whitespace().next().unwrap().parse().unwrap()).collect();
    assert!(seqs.is_sorted() && seqs.len() > 20, "{clock}");
    let parts = text(&["--by-expected"]);
    assert!(
        parts.starts_with("-- until ") && parts.contains(", met: The leak of the sump is stopped"),
        "{parts}"
    );
    assert!(parts.contains("after that, nothing more was decided"), "{parts}");
    // What is looked for is found by its time, unless it is wanted otherwise.
    assert!(!text(&["--find", "sump"]).contains("-- ") && !text(&["--all"]).contains("-- line-up"));
    assert!(text(&["--find", "sump", "--by-objective"]).contains("close dg1.sump.drain"));
}

#[test]
fn a_debrief_as_lines() {
    let folder = folder();
    let record = folder.path().join("run.jsonl");
    let record = record.to_str().unwrap();
    deadship(&["rehearse", &fixture("library/pump-out.toml"), "--record", record, "--quiet"]);
    let lanes = deadship(&["debrief", record, "--plain"]);
    assert_eq!((lanes.status, lanes.talk.as_str()), (0, ""));
    insta::assert_snapshot!("debrief_lanes", lanes.out);

    let seen = |name: &str| deadship(&["debrief", record, "--at", "45s", "--as", name]);
    let hold = seen("hold");
    assert_eq!(
        (hold.status, hold.talk.as_str()),
        (0, "0:45.0 of Pump out on Wherry: robot (hold), at hold\n")
    );
    assert!(hold.out.contains("pump.bilge.running "), "{}", hold.out);
    let deck = seen("deck");
    assert!(deck.out.contains("shore.closed ") && !deck.out.contains("pump."), "{}", deck.out);
    let all = seen("all");
    assert!(all.out.lines().count() > deck.out.lines().count() + hold.out.lines().count(), "{}", all.out);
    let nobody = seen("dekc");
    assert_eq!(nobody.status, 2);
    assert!(nobody.talk.contains("did you mean `deck`?"), "{}", nobody.talk);
    assert_eq!(deadship(&["debrief", record, "--at", "1h"]).status, 2);
    assert_eq!(deadship(&["debrief", "nothing.jsonl"]).status, 2);
}

#[test]
fn who_does_the_work_can_be_chosen() {
    let data = fixture("");
    let rehearse =
        |crew: &str| deadship(&["rehearse", "pump-out", "--data", &data, "--crew", crew, "--quiet"]);
    let idle = rehearse("idle");
    assert_eq!(idle.status, 1);
    assert!(idle.out.contains("time is up"), "{}", idle.out);
    assert_eq!(rehearse("pump-out-overlooked").status, 1);
    assert_eq!(rehearse(&fixture("procedures/pump-out.toml")).status, 0);
    let nobody = rehearse("pump-uot");
    assert_eq!(nobody.status, 2);
    assert!(nobody.talk.contains("did you mean `pump-out`?"), "{}", nobody.talk);
}

#[test]
fn a_rehearsal_as_json() {
    let told = deadship(&["rehearse", &fixture("library/pump-out.toml"), "--json", "--quiet", "--seed", "3"]);
    let value: serde_json::Value = serde_json::from_str(&told.out).unwrap();
    assert_eq!((&value["seed"], &value["aim_reached"]), (&3.into(), &true.into()));
    assert!(
        value["debrief"].is_object() && value["digest"].as_str().is_some_and(|digest| digest.len() == 16)
    );
}

#[test]
fn damage_is_told_with_its_line() {
    let folder = folder();
    let record = folder.path().join("run.jsonl");
    let path = record.to_str().unwrap();
    deadship(&["rehearse", &fixture("library/pump-out.toml"), "--record", path, "--quiet"]);
    let taken = deadship(&["rehearse", &fixture("library/pump-out.toml"), "--record", path, "--quiet"]);
    assert_eq!(taken.status, 2, "an existing file is never overwritten");

    let text = fs::read_to_string(&record).unwrap();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    lines[11] = lines[11].replace("tick", "tock");
    fs::write(&record, lines.join("\n") + "\n").unwrap();
    let damaged = deadship(&["timeline", path]);
    assert_eq!(damaged.status, 2);
    assert!(damaged.talk.contains("run.jsonl, line 12: the file is damaged here"), "{}", damaged.talk);
    let before = deadship(&["timeline", path, "--all", "--whole"]);
    assert_eq!(before.status, 0);
    assert!((1..=10).contains(&before.out.lines().count()), "{}", before.out);

    let cut = &text[..text.len() - 30];
    fs::write(&record, cut).unwrap();
    let torn = deadship(&["replay", path, "--verify"]);
    assert_eq!(torn.status, 2);
    assert!(torn.talk.contains("unfinished append"), "{}", torn.talk);
    assert_eq!(deadship(&["replay", path, "--verify", "--whole"]).status, 0);
    assert_eq!(deadship(&["timeline", "nothing.jsonl"]).status, 2);
}

#[test]
fn a_trial_writes_readings_in_si() {
    let folder = folder();
    let actions = folder.path().join("actions.txt");
    fs::write(
        &actions,
        "# line up\nat 1s: close shore\n at 0:02: start pump.bilge # go\nat 3s: start pump.bilge\n",
    )
    .unwrap();
    let actions = actions.to_str().unwrap();
    let ship = fixture("ships/wherry");
    let common = ["trial", &ship, "--state", "dark", "--actions", actions, "--for", "4s", "--readings"];
    let run = |more: &[&str]| deadship(&[&common[..], more].concat());
    let told = run(&["shore.closed,pump.*.running"]);
    assert_eq!(told.status, 1, "the second start is refused");
    insta::assert_snapshot!("trial", told.out);
    assert!(told.talk.contains("actions.txt:4: at 0:03.0, refused: start pump.bilge: "), "{}", told.talk);

    let display =
        run(&["pump.bilge.speed,pump.bilge.running", "--display-units", "--every", "2 s", "--events"]);
    assert!(
        display.out.starts_with("time [s],pump.bilge.speed [rpm],pump.bilge.running\n0,0,no\n2,"),
        "{}",
        display.out
    );
    assert!(display.talk.contains("pump.bilge was started"), "{}", display.talk);

    let json = run(&["pump.bilge.speed", "--format", "json", "--every", "4s"]);
    let rows: Vec<serde_json::Value> =
        json.out.lines().map(|row| serde_json::from_str(row).unwrap()).collect();
    assert_eq!(rows[0]["units"]["pump.bilge.speed"], "rad/s");
    assert!(rows[2]["pump.bilge.speed"].as_f64().is_some_and(|speed| speed > 100.0));
}

#[test]
fn a_trial_says_what_it_does_not_know() {
    let ship = fixture("ships/wherry");
    for (args, told) in [
        (vec!["--readings", "pump.blige.speed"], "did you mean `pump.bilge.speed`?"),
        (vec!["--readings", "*", "--state", "drak"], "did you mean `dark`?"),
        (vec!["--readings", "*", "--every", "0s"], "`--every` must be at least 0.05 s"),
        (vec!["--readings", "*", "--every", "5"], "is not a time"),
        (vec!["--readings", "*", "--actions", "nowhere.txt"], "nowhere.txt: reading failed"),
    ] {
        let answer = deadship(&[&["trial", &ship, "--for", "1s"][..], &args].concat());
        assert_eq!(answer.status, 2, "{args:?}");
        assert!(answer.talk.contains(told), "{args:?}: {}", answer.talk);
    }
    let unknown = deadship(&["trial", "wehrry", "--data", &fixture(""), "--for", "1s", "--readings", "*"]);
    assert_eq!(unknown.status, 2);
    assert!(unknown.talk.contains("did you mean `wherry`?"), "{}", unknown.talk);
}

#[test]
fn a_trial_of_a_built_in_rig() {
    let told = deadship(&[
        "trial",
        "electric-motor",
        "--state",
        "on shore",
        "--for",
        "1s",
        "--readings",
        "shore.closed",
    ]);
    assert_eq!((told.status, told.out.as_str()), (0, "time [s],shore.closed\n0,1\n1,1\n"), "{}", told.talk);
}

#[test]
fn everything_built_in_is_clean() {
    let told = deadship(&["check"]);
    assert_eq!((told.status, told.out.as_str()), (0, ""), "{}", told.out);
}

#[test]
fn files_are_checked_with_what_lies_beside_them() {
    assert_eq!(deadship(&["check", &fixture("")]).status, 0);
    assert_eq!(deadship(&["check", &fixture("procedures/pump-out.toml")]).status, 0);
    assert_eq!(deadship(&["check", &fixture("ships/wherry/electric.toml")]).status, 0);

    let folder = folder();
    common::copy_fixtures(folder.path());
    let edit = |file: &str, from: &str, to: &str| {
        let path = folder.path().join(file);
        let text = fs::read_to_string(&path).unwrap();
        assert!(text.contains(from));
        fs::write(path, text.replace(from, to)).unwrap();
    };
    edit("ships/wherry/electric.toml", "440 V", "440 A");
    edit("library/pump-out.toml", "time > 70", "time > 70 bar");
    edit("procedures/pump-out.toml", "go hold", "go hodl");
    let told = deadship(&["check", folder.path().to_str().unwrap()]);
    assert_eq!(told.status, 1);
    let shown = told.out.replace(folder.path().to_str().unwrap(), "HERE");
    insta::assert_snapshot!("problems", shown);
    edit("ships/wherry/electric.toml", "440 A", "440 V");
    let told = deadship(&["check", "--json", folder.path().join("library").to_str().unwrap()]);
    let problem: serde_json::Value = serde_json::from_str(told.out.lines().next().unwrap()).unwrap();
    assert!(problem["file"].as_str().is_some_and(|file| file.ends_with("pump-out.toml")));
    edit("library/pump-out.toml", "70 bar", "70");
    let told = deadship(&["check", folder.path().to_str().unwrap()]);
    let shown = told.out.replace(folder.path().to_str().unwrap(), "HERE");
    insta::assert_snapshot!("problem_of_a_procedure", shown);
    fs::write(folder.path().join("broken.toml"), "a = [").unwrap();
    assert_eq!(deadship(&["check", folder.path().join("broken.toml").to_str().unwrap()]).status, 1);
    assert_eq!(deadship(&["check", "nowhere.toml"]).status, 2);
}

#[test]
fn a_drill_is_checked_with_its_procedures() {
    let folder = folder();
    common::copy_fixtures(folder.path());
    let drill = folder.path().join("library/pump-out.toml");
    let procedure = folder.path().join("procedures/pump-out.toml");
    let text = fs::read_to_string(&procedure).unwrap();
    fs::write(&procedure, text.replace("go hold", "go hodl")).unwrap();
    let told = deadship(&["check", drill.to_str().unwrap()]);
    assert!(
        told.status == 1 && told.out.contains("pump-out.toml") && told.out.contains("hodl"),
        "{}",
        told.out
    );
    // Named both, it is told once.
    let told = deadship(&["check", drill.to_str().unwrap(), procedure.to_str().unwrap()]);
    assert_eq!(told.out.lines().count(), 1, "{}", told.out);
}

#[test]
fn a_file_that_is_no_text_stops_nobody_else() {
    let folder = folder();
    common::copy_fixtures(folder.path());
    let strange = folder.path().join("library/strange.toml");
    fs::write(&strange, b"# a comment\n[drill]\ntitle = \"K\xfchlwasser\"\n").unwrap();
    let drill = folder.path().join("library/pump-out.toml");
    let told = deadship(&["check", drill.to_str().unwrap()]);
    assert_eq!(told.status, 0, "{}{}", told.out, told.talk);
    let told = deadship(&["check", strange.to_str().unwrap()]);
    assert!(
        told.out.contains("strange.toml:3:11: what stands here is not text"),
        "{}{}",
        told.out,
        told.talk
    );
    assert!(told.status == 1 && told.out.contains("UTF-8"), "{}", told.out);
}

#[test]
fn mistakes_are_json_where_json_is_wanted() {
    let folder = folder();
    common::copy_fixtures(folder.path());
    let drill = folder.path().join("library/pump-out.toml");
    let text = fs::read_to_string(&drill).unwrap();
    fs::write(&drill, text.replace("limit =", "limti =")).unwrap();
    let drill = drill.to_str().unwrap();
    for words in [
        vec!["prove", "--json", drill],
        vec!["diff", "--json", drill, drill],
        vec!["inspect", "--form", "json", drill],
    ] {
        let told = deadship(&words);
        let problem: serde_json::Value = serde_json::from_str(told.out.lines().next().unwrap()).unwrap();
        assert!(problem["message"].as_str().unwrap().contains("limti"), "{words:?}: {}", told.out);
        assert_eq!((told.status, told.talk.as_str()), (2, ""), "{words:?}");
    }
}

#[test]
fn lists_and_references() {
    let list = deadship(&["list", "--data", &fixture("")]);
    for part in ["pump-out", "Pump out (on wherry) [data folder]", "wherry", "electric-motor", "quillmere"] {
        assert!(list.out.contains(part), "{part}: {}", list.out);
    }
    let json = deadship(&["list", "--json"]);
    assert!(json.out.lines().all(|line| serde_json::from_str::<serde_json::Value>(line).is_ok()));
    let faults = deadship(&["faults", &fixture("ships/wherry"), "pump.bilge.s*"]);
    assert!(faults.out.starts_with("pump.bilge.seized  (usually 100 %): The shaft"), "{}", faults.out);
    assert_eq!(deadship(&["faults", &fixture("ships/wherry"), "pump.bilge.siezed"]).status, 2);
    let kinds = deadship(&["kinds"]);
    assert!(kinds.out.lines().all(|line| line.chars().count() <= 100));
    assert!(deadship(&["kinds", "motor"]).out.contains("overload-relay-trips"));
    assert!(deadship(&["kinds", "--markdown"]).out.contains("\n## motor\n"));
    assert_eq!(deadship(&["kinds", "moter"]).status, 2);
}

#[test]
fn the_command_line_explains_itself() {
    let help = deadship(&["--help"]);
    assert_eq!(help.status, 0);
    assert!(help.out.contains("rehearse") && help.out.lines().all(|line| line.chars().count() <= 100));
    assert_eq!(deadship(&["dance"]).status, 2);
    assert_eq!(deadship(&["join", "host:1", "4815"]).status, 2);
}

#[test]
fn nobody_reads_any_more() {
    let told = common::deadship_to_closed(&["kinds", "--markdown"]);
    assert_eq!(told, 0);
}

#[test]
fn a_recording_overwrites_nothing() {
    let folder = folder();
    let record = folder.path().join("run.jsonl");
    fs::write(&record, "mine").unwrap();
    let told =
        deadship(&["rehearse", &fixture("library/pump-out.toml"), "--record", record.to_str().unwrap()]);
    assert_eq!(told.status, 2);
    assert!(told.talk.contains("exists already") && !told.talk.contains("server"), "{}", told.talk);
    assert_eq!(fs::read_to_string(&record).unwrap(), "mine");
}

#[test]
fn a_drill_that_is_no_toml_is_named_with_its_line() {
    let folder = folder();
    fs::create_dir(folder.path().join("library")).unwrap();
    let drill = folder.path().join("library/mine.toml");
    let data = folder.path().to_str().unwrap();
    fs::write(&drill, "format = 1\n\n[drill\n").unwrap();
    for command in [vec!["check"], vec!["rehearse", "mine", "--crew", "idle"]] {
        let told = deadship(&[command, vec!["--data", data]].concat());
        let said = format!("{}{}", told.out, told.talk);
        assert!(said.contains("mine.toml:3:") && told.status != 0, "{said}");
    }
    fs::write(&drill, "format = 1\n").unwrap();
    let told = deadship(&["check", "--data", data]);
    assert!(told.out.contains("the file has no `[drill]`"), "{}", told.out);
}
