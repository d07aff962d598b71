//! The dials of a drill: what is there with which positions.

use super::kit::{DRILL, PROCEDURE, instructor, opening, opening_with, said};
use crate::dials::{Dials, Position};
use crate::drill_file::outline;
use crate::event::Event;
use crate::fork::fork;
use crate::ids::run_id;
use crate::opening::Opening;
use crate::proof::Bench;
use crate::recorder::Recorder;
use crate::replay::Until;
use crate::setup::Setup;

const HIGH: Dials = Dials { difficulty: Position::High, stress: Position::High };
const CALM: Dials = Dials { difficulty: Position::Usual, stress: Position::Low };

/// The small drill with parts that depend on the dials.
fn dialled(dials: Dials) -> Opening {
    let drill = DRILL
        .replace("name = \"leak\"", "name = \"leak\"\ndifficulty = [\"usual\", \"high\"]")
        .replace("name = \"hello\"", "name = \"hello\"\nstress = [\"usual\", \"high\"]")
        .replace("name = \"alert-answered\"", "name = \"alert-answered\"\nstress = \"high\"");
    let book = PROCEDURE.replace("name = \"supply\"", "name = \"supply\"\nstress = [\"high\"]");
    Opening { dials, ..opening_with(&drill, &[&book]) }
}

#[test]
fn a_position_decides_what_is_there() {
    let names = |dials: Dials| {
        let (setup, _) = Setup::new(dialled(dials)).unwrap();
        let drill = &setup.drill;
        let steps = setup.procedures[0].steps.iter().map(|step| (step.name.clone(), step.after.clone()));
        let counts = (drill.faults.len(), drill.messages.len(), drill.expects.len());
        assert_eq!(outline(&setup.opening).expects.len(), counts.2);
        assert_eq!(drill.dialled.len(), 3);
        (counts, steps.collect::<Vec<_>>())
    };
    let (usual, steps) = names(Dials::default());
    assert_eq!(usual, (1, 2, 1));
    // What waited for a step that is not there waits for it no more.
    assert_eq!((steps[0].0.as_str(), steps[0].1.len()), ("pump", 0));
    let (high, steps) = names(HIGH);
    assert_eq!((high, steps.len()), ((1, 2, 2), 3));
    assert_eq!(names(CALM).0, (1, 1, 1));
    assert_eq!(names(Dials { difficulty: Position::Low, ..Dials::default() }).0, (0, 2, 1));
}

#[test]
fn nothing_may_wait_for_what_is_not_expected_with_the_same_positions() {
    let told = |drill: &str| said(opening_with(drill, &[PROCEDURE]));
    // The aim waits for it whatever the dials.
    let drill = DRILL.replace("name = \"pump-on\"", "name = \"pump-on\"\ndifficulty = [\"high\"]");
    let of_aim = told(&drill);
    assert_eq!(of_aim.len(), 1, "{of_aim:#?}");
    assert!(of_aim[0].starts_with("library/small.toml:60:8:"), "{of_aim:#?}");
    assert!(of_aim[0].contains("`pump-on`, which is not expected with difficulty usual, stress usual"));
    // The same positions for both are well, and so are fewer for what waits.
    let waits = DRILL
        .replace("done(\"pump-on\") && ", "")
        .replace("name = \"pump-on\"", "name = \"pump-on\"\nstress = [\"usual\", \"high\"]")
        .replace("from = 'alert(\"header.low\")'", "from = 'done(\"pump-on\")'\nstress = [\"high\"]");
    assert!(told(&waits).is_empty(), "{:#?}", told(&waits));
    let more = waits.replace("stress = [\"high\"]", "stress = [\"low\", \"high\"]");
    assert!(told(&more)[0].contains("with difficulty usual, stress low"), "{:#?}", told(&more));
    // So must a step of a procedure.
    let book = PROCEDURE.replace("do = \"start pump\"", "when = 'done(\"pump-on\")'\ndo = \"start pump\"");
    let of_step = said(opening_with(&waits, &[&book]));
    assert!(of_step.len() == 1 && of_step[0].starts_with("procedures/"), "{of_step:#?}");
}

#[test]
fn a_word_that_is_no_position_is_told() {
    let drill = DRILL.replace("name = \"leak\"", "name = \"leak\"\nstress = [\"hihg\"]\ndifficulty = []");
    let told = said(opening_with(&drill, &[]));
    assert_eq!(told.len(), 2, "{told:#?}");
    assert!(told[0].contains("did you mean `high`"), "{told:#?}");
}

#[test]
fn an_error_whose_miss_is_not_expected_shows_nothing_then() {
    let error = PROCEDURE.replace(
        "drill = \"small\"",
        "drill = \"small\"\nerror = \"too late\"\nmisses = [\"alert-answered\"]",
    );
    let errors = |dials: Dials| {
        let opening = dialled(dials);
        let drill = opening.drill_file.text.clone();
        let bench = Bench::new(Opening { dials, ..opening_with(&drill, &[&error]) }).unwrap();
        bench.trials(1).len() - 1
    };
    assert_eq!((errors(Dials::default()), errors(HIGH)), (0, 1));
}

#[test]
fn a_run_remembers_them_and_a_run_without_is_written_as_ever() {
    let usual = serde_json::to_value(opening()).unwrap();
    assert!(usual.get("dials").is_none() && usual.get("base").is_none());
    let (recorder, log) = Recorder::open(run_id("x", 1), dialled(HIGH), &instructor(), "").unwrap();
    let stored = crate::Envelope::decode(&log[0].encode()).unwrap();
    let Event::RunOpened(opened) = &stored.event else { panic!("{stored:?}") };
    assert_eq!((opened.dials, recorder.run().setup.drill.dials), (HIGH, HIGH));
    let (forked, _) = fork(&log, Until::End, run_id("x", 2), &[], &instructor(), "").unwrap();
    assert_eq!(forked.run().setup.drill.dials, HIGH);
}

#[test]
fn a_decision_that_is_not_in_the_run_is_not_asked_and_moves_no_other() {
    let decisions = r#"
[[decision]]
name = "first"
stress = ["high"]
text = "What first?"
options = ["a: this", "b: that"]
at = "2 s"

[[decision]]
name = "second"
text = "What then?"
options = ["a: this", "b: that"]
at = "3 s"

[[message]]
name = "of-first"
text = "not asked"
when = 'decided("first") == "not-asked" && time > 4'

[[message]]
name = "of-second"
text = "open"
when = 'decided("second") == "open"'
"#;
    let said = |dials: Dials| {
        let opening = Opening { dials, ..opening_with(&format!("{DRILL}{decisions}"), &[]) };
        let (mut recorder, mut log) = Recorder::open(run_id("x", 1), opening, &instructor(), "").unwrap();
        for _ in 0..200 {
            log.extend(recorder.tick(""));
        }
        let said = log.iter().filter_map(|envelope| match &envelope.event {
            Event::Said { step: Some(step), .. } if step.starts_with("of-") => Some(step.clone()),
            _ => None,
        });
        said.collect::<Vec<_>>()
    };
    assert_eq!(said(Dials::default()), ["of-second", "of-first"]);
    assert_eq!(said(HIGH), ["of-second"]);
}
