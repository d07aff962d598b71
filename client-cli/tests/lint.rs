//! `lint`: every rule finds what it is for, and nothing else.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod common;

use common::{copy_fixtures, deadship, folder};
use std::fs;
use std::path::Path;

/// The smallest drill with everything that the rules ask for.
const HEAD: &str = r#"
safety = "On board, the shore connection is proved dead first."
questions = ["What did you look at?"]
sources = ["common practice, no source"]
"#;

const OBJECTIVE: &str = r#"
[[objective]]
name = "pumping"
text = "Pumps out"
levels = ["not-yet: It stands still.", "secure: It runs."]
"#;

const ERROR: &str = r#"format = 1

[procedure]
title = "Pump out, the trip overlooked"
drill = "pump-out"
extends = "pump-out"
without = ["again"]
error = "Nobody looks at the pump again"
misses = ["aim"]
"#;

/// A folder with a drill in which no rule finds anything.
fn clean() -> tempfile::TempDir {
    let folder = folder();
    copy_fixtures(folder.path());
    edit(folder.path(), "library/pump-out.toml", "seed = 7\n", &format!("seed = 7\n{HEAD}"));
    edit(
        folder.path(),
        "library/pump-out.toml",
        "[[expect]]\n",
        &format!("{OBJECTIVE}\n[[expect]]\nobjective = \"pumping\"\n"),
    );
    fs::write(folder.path().join("procedures/pump-out-overlooked.toml"), ERROR).unwrap();
    folder
}

fn edit(folder: &Path, file: &str, from: &str, to: &str) {
    let path = folder.join(file);
    let text = fs::read_to_string(&path).unwrap();
    assert!(text.contains(from), "{from}");
    fs::write(path, text.replacen(from, to, 1)).unwrap();
}

/// Rule, line and message of everything found.
fn found(folder: &Path) -> Vec<(String, u64, String)> {
    let drill = folder.join("library/pump-out.toml");
    let told = deadship(&["lint", "--json", drill.to_str().unwrap()]);
    let lines = told.out.lines().map(|line| serde_json::from_str::<serde_json::Value>(line).unwrap());
    let found: Vec<_> = lines
        .map(|one| {
            let text = |key: &str| one[key].as_str().unwrap().to_owned();
            (text("rule"), one["line"].as_u64().unwrap(), text("message"))
        })
        .collect();
    assert_eq!(told.status, u8::from(!found.is_empty()), "{}", told.talk);
    found
}

/// What is found once the drill is edited so.
fn after(file: &str, from: &str, to: &str) -> Vec<String> {
    let folder = clean();
    edit(folder.path(), file, from, to);
    found(folder.path()).into_iter().map(|(rule, _, message)| format!("{rule}: {message}")).collect()
}

const DRILL: &str = "library/pump-out.toml";

#[test]
fn a_good_drill_is_clean() {
    let folder = clean();
    assert_eq!(found(folder.path()), []);
    let procedure = folder.path().join("procedures/pump-out.toml");
    assert_eq!(deadship(&["lint", procedure.to_str().unwrap()]).status, 0);
}

#[test]
fn everything_built_in_is_clean() {
    let told = deadship(&["lint"]);
    assert_eq!((told.status, told.out.as_str()), (0, ""), "{}", told.out);
}

#[test]
fn what_a_drill_must_bring_with_it() {
    let one = |from: &str, to: &str| after(DRILL, from, to);
    assert_eq!(
        one("questions = [\"What did you look at?\"]\n", ""),
        ["no-questions: it has no questions for the talk afterwards"]
    );
    assert_eq!(
        one("sources = [\"common practice, no source\"]\n", ""),
        ["no-sources: it does not say what it is drawn from"]
    );
    let found = one("safety = ", "brief-for-nobody = ");
    assert_eq!(found.len(), 1, "what check finds comes first, and is all: {found:?}");
    assert!(found[0].starts_with("check: a drill has no `brief-for-nobody`"), "{found:?}");
    let found = one("safety = \"On board, the shore connection is proved dead first.\"\n", "");
    assert_eq!(
        found,
        ["no-safety-words: no safety words of its own, though `deck` works on live boards (`shore`)"]
    );
    let state = "[[state]]\nname = \"darker\"\nabout = \"As dark.\"\nbased-on = \"dark\"\n\n[aim]\n";
    assert_eq!(
        one("[aim]\n", state),
        ["unused-start-state: the drill does not use its start state `darker`"]
    );
    let folder = clean();
    fs::remove_file(folder.path().join("procedures/pump-out-overlooked.toml")).unwrap();
    let lone = found_rules(folder.path());
    assert_eq!(lone, ["no-error-procedure"]);
}

#[test]
fn what_comes_too_late_or_is_nothing_is_found() {
    let one = |from: &str, to: &str| after(DRILL, from, to);
    let late = "[[message]]\nname = \"late\"\ntext = \"Bridge: well done\"\nat = \"5 min\"\n\n[aim]\n";
    assert_eq!(one("[aim]\n", late), ["after-the-end: the drill is over before the message `late` comes"]);
    assert_eq!(
        one("hold = \"10 s\"", "hold = \"6 min\""),
        ["after-the-end: the drill is over before the aim has held so long"]
    );
    let relay = "when = '[pump.bilge.running] == \"yes\" && time > 60'\nlift-when = \
                 '[pump.bilge.overload-tripped] == \"yes\"'";
    assert_eq!(
        one(relay, "at = \"2 min\"\nlift-at = \"1 min\""),
        ["fault-never-there: the fault `relay` is lifted before it comes"]
    );
    assert_eq!(
        one("name = \"relay\"", "name = \"relay\"\nseverity = \"0 %\""),
        ["fault-never-there: the fault `relay` is set to 0 %: nothing is wrong then"]
    );
    assert_eq!(one("text = \"The bus is live\"", "text = \" \""), ["empty-text: `text` says nothing"]);
    let questions = "questions = [\"What did you look at?\"]";
    assert_eq!(one(questions, "questions = [\"\"]"), ["empty-text: `questions` says nothing"]);
    assert_eq!(
        after("procedures/pump-out.toml", "[shore.closed]", "[pump.bilge.thermal] < 1 && [shore.closed]"),
        ["step-out-of-sight: nobody can see `pump.bilge.thermal`, for which the step `shore` waits"]
    );
}

fn found_rules(folder: &Path) -> Vec<String> {
    found(folder).into_iter().map(|(rule, ..)| rule).collect()
}

#[test]
fn what_is_expected_can_be_seen_and_met() {
    let expect = |when: &str, more: &str| {
        let text =
            format!("[[expect]]\nname = \"new\"\nobjective = \"pumping\"\nwhen = '{when}'\n{more}\n[aim]\n");
        after(DRILL, "[aim]\n", &text)
    };
    assert_eq!(expect("[pump.bilge.running] == \"yes\"", ""), Vec::<String>::new());
    assert_eq!(
        expect("[pump.bilge.running] == \"no\"", ""),
        ["expectation-true-at-start: `new` is met at the very start"]
    );
    assert_eq!(expect("[pump.bilge.running] == \"no\"", "from = 'time > 60'"), Vec::<String>::new());
    assert_eq!(
        expect("fault(\"pump.bilge.overload-relay-trips\")", ""),
        ["expectation-out-of-sight: nobody can see that `new` is met: all that it names is hidden"]
    );
    assert_eq!(
        expect("[shore.closed] == \"yes\"", "from = 'done(\"new\")'"),
        ["expectation-cannot-come: the expectation `new` cannot come: it waits for itself"]
    );
    assert_eq!(
        expect("done(\"aim\")", ""),
        [
            "expectation-cannot-come: the expectation `new` cannot come: it waits for the aim, and the aim ends the run"
        ]
    );
    assert_eq!(
        after(DRILL, "objective = \"pumping\"\n", ""),
        [
            "objective-without-expectation: no expectation belongs to the objective `pumping`",
            "expectation-without-objective: the expectation `light` belongs to no objective",
        ]
    );
    let by_people = "[[objective]]\nname = \"talk\"\ntext = \"Talks\"\nby-people = true\nlevels = [\"no: Not.\", \"yes: So.\"]\n\n[aim]\n";
    assert_eq!(after(DRILL, "[aim]\n", by_people), Vec::<String>::new());
}

#[test]
fn times_that_nobody_can_keep() {
    let expect = |within: &str| {
        let text = format!(
            "[[expect]]\nname = \"new\"\nobjective = \"pumping\"\nwhen = '[pump.bilge.running] == \"yes\"'\nwithin = \"{within}\"\n\n[aim]\n"
        );
        after(DRILL, "[aim]\n", &text)
    };
    let found = expect("1 s");
    assert!(
        found.len() == 1 && found[0].starts_with("deadline-too-short: `new` is to be met within 1 s"),
        "{found:?}"
    );
    assert_eq!(expect("2 min"), Vec::<String>::new());
    let found = after("procedures/pump-out.toml", "say = ", "timeout = \"6 min\"\nsay = ");
    assert_eq!(found, ["timeout-beyond-limit: the step `shore` waits 360 s, the drill ends after 300 s"]);
}

#[test]
fn what_people_are_told() {
    let brief = format!("brief = \"{}\"\n#", "word ".repeat(351));
    assert_eq!(
        after(DRILL, "brief = ", &brief),
        ["too-much-to-read: the brief has 351 words; 350 can be read at the start"]
    );
    let card = format!("title = \"Hold\"\ncard = \"{}\"", "word ".repeat(121));
    let found = after(DRILL, "title = \"Hold\"", &card);
    assert_eq!(
        found,
        ["too-much-to-read: the card of `hold` has 121 words; 120 can be taken in at a glance"]
    );
    let station = "[[station]]\nname = \"shed\"\ntitle = \"Shed\"\nstart = \"deck\"\n\n[[message]]\nname = \"call\"\nto = \"shed\"\ntext = \"Hallo\"\nat = \"1 s\"\n\n[aim]\n";
    let found = after(DRILL, "[aim]\n", station);
    assert_eq!(found, ["message-to-nobody: `call` goes to `shed`, which the expert crew does not hold"]);
    let found = after(DRILL, "seed = 7\n", "seed = 7\nflood = true\n");
    assert!(
        found.len() == 1 && found[0].starts_with("flood: a flood is announced, and the expert crew has "),
        "{found:?}"
    );
}

#[test]
fn what_people_are_asked() {
    let question = |asks: &str| {
        format!(
            "[[probe.question]]\nasks = \"{asks}\"\ntext = \"Does it run?\"\nanswers = [\n\
             {{ text = \"yes\", when = '[pump.bilge.running] == \"yes\"' }},\n\
             {{ text = \"no\", when = '[pump.bilge.running] != \"yes\"' }},\n]\n"
        )
    };
    let probe = |asks: &[&str]| {
        let questions: String = asks.iter().map(|asks| question(asks)).collect();
        after(DRILL, "[aim]\n", &format!("[[probe]]\nname = \"look\"\nat = \"1 s\"\n{questions}\n[aim]\n"))
    };
    assert_eq!(probe(&["now", "why", "next"]), Vec::<String>::new());
    assert_eq!(probe(&["now"]), ["probe-without-levels: the probe `look` asks nothing about: why, next"]);
    let decision = "[[decision]]\nname = \"stop\"\nat = \"1 s\"\ntext = \"Go on?\"\noptions = [\"on: Go on\", \"off: Stop\"]\n\n[aim]\n";
    assert_eq!(
        after(DRILL, "[aim]\n", decision),
        ["decision-without-effect: nothing in the drill depends on the decision `stop`"]
    );
    let message = "[[message]]\nname = \"so\"\ntext = \"So be it\"\nwhen = 'decided(\"stop\") == \"on\"'\n\n";
    assert_eq!(after(DRILL, "[aim]\n", &format!("{message}{decision}")), Vec::<String>::new());
}

#[test]
fn a_finding_names_its_place() {
    let folder = clean();
    edit(folder.path(), DRILL, "sources = [\"common practice, no source\"]\n", "");
    let drill = folder.path().join(DRILL);
    let told = deadship(&["lint", drill.to_str().unwrap()]);
    let shown = told.out.replace(folder.path().to_str().unwrap(), "HERE");
    assert_eq!(
        shown,
        "HERE/library/pump-out.toml:5:1: no-sources: it does not say what it is drawn from (name authority and number, or \
         `common practice, no source`)\n"
    );
    assert!(told.talk.ends_with("1 finding\n"), "{}", told.talk);
    assert_eq!(deadship(&["lint", "no-such-drill"]).status, 2);
}

#[test]
fn the_rules_are_listed() {
    let told = deadship(&["lint", "--rules"]);
    assert_eq!(told.status, 0);
    for id in ["objective-without-expectation", "deadline-too-short", "flood", "unused-start-state"] {
        assert!(told.out.lines().any(|line| line.starts_with(id)), "{id}");
    }
    let json = deadship(&["lint", "--rules", "--json"]);
    assert!(json.out.lines().all(|line| serde_json::from_str::<serde_json::Value>(line).is_ok()));
}
