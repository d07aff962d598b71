//! Probes and decisions.

use super::kit::{DRILL, PROCEDURE, Scene, ada, bo, instructor, opening_with, said};
use crate::asking::Grasp;
use crate::debrief::{Debrief, rights};
use crate::event::Event;
use crate::fork::{Change, fork_telling};
use crate::ids::run_id;
use crate::replay::{Until, verify};
use crate::timeline;
use crate::who::{Role, Who};
use crate::words::Question;

const PROBE: &str = r#"
[[probe]]
name = "look-round"
when = '[pump.running] == "yes"'
to = "pumps"
[[probe.question]]
asks = "now"
text = "Does the pump run?"
answers = [
    { text = "it runs", when = '[pump.running] == "yes"' },
    { text = "it stands still", when = '[pump.running] != "yes"' },
]
[[probe.question]]
asks = "why"
text = "What feeds it?"
answers = [
    { text = "the shore", when = '[pump.running] == "yes"' },
    { text = "nothing", when = '[pump.running] != "yes"' },
]
[[probe.question]]
asks = "next"
text = "How is the tank a minute from now?"
later = "1 min"
answers = [
    { text = "full", when = '[header.tank.volume] > 1.5 m3' },
    { text = "less than half full", when = '[header.tank.volume] < 0.99 m3' },
]
"#;

const DECISION: &str = r#"
[[decision]]
name = "tank"
to = "boards"
at = "10 s"
within = "20 s"
text = "What becomes of the tank?"
options = ["empty: It is emptied", "keep: It is kept"]

[[message]]
name = "as-you-say"
text = "Bridge: then empty it"
when = 'decided("tank") == "empty"'

[[message]]
name = "nobody-said"
text = "Bridge: does nobody say anything?"
when = 'decided("tank") == "nobody"'
"#;

fn with(text: &str) -> Scene {
    Scene::of(opening_with(&format!("{DRILL}{text}"), &[PROCEDURE]))
}

/// Ada at the pumps, the pump started by Bo at the boards.
fn probed() -> Scene {
    let mut scene = with(PROBE);
    scene.ok(&ada(), "station pumps");
    scene.ok(&bo(), "station boards");
    scene.ok(&bo(), "close shore");
    scene.run(12.0);
    scene.ok(&bo(), "start pump");
    scene.run(2.0);
    scene
}

#[test]
fn a_probe_holds_the_run_until_it_is_answered() {
    let mut scene = probed();
    let held = scene.recorder.run().tick();
    assert!(scene.recorder.run().state.hold.is_some());
    insta::assert_snapshot!(scene.ask(&ada(), Question::Asked).join("\n"));
    assert_eq!(scene.ask(&bo(), Question::Asked), ["nothing is asked now"]);
    scene.no(&bo(), "answer a", &["not-asked"]);
    scene.no(&bo(), "answer look-round.1 a", &["not-your-question"]);
    scene.no(&instructor(), "answer look-round.1 a", &["not-your-question"]);
    scene.no(&ada(), "answer look-round.4 a", &["not-asked"]);
    scene.no(&ada(), "answer c", &["unknown-answer"]);
    scene.ok(&ada(), "answer a");
    scene.no(&ada(), "answer look-round.1 b", &["already-answered"]);
    scene.ok(&ada(), "answer look-round.3 b");
    assert_eq!(scene.recorder.run().tick(), held);
    // The last answer lets the run go on.
    let events = scene.ok(&ada(), "answer B");
    assert!(
        matches!(&events[..], [Event::Answered { ask, .. }, Event::HoldLifted {}] if ask == "look-round.2")
    );
    scene.no(&ada(), "answer a", &["not-asked"]);
    scene.run(70.0);
    assert!(verify(&scene.log).is_ok());
}

#[test]
fn what_was_right_is_what_the_plant_shows_then() {
    let mut scene = probed();
    for choice in ["a", "b", "b"] {
        scene.ok(&ada(), &format!("answer {choice}"));
    }
    let before = Debrief::of(&scene.log);
    assert_eq!(before.asked[2].right, None, "the minute has not passed");
    scene.ok(&ada(), "open header.valve");
    scene.run(70.0);
    let report = Debrief::of(&scene.log);
    let right: Vec<_> = report.asked.iter().map(|course| course.right.clone().unwrap()).collect();
    assert_eq!(right, [["a"], ["a"], ["b"]]);
    let known = scene.log.iter().rev().find(|e| e.event.name() == "answer-known").unwrap();
    assert_eq!(known.tick, report.asked[2].tick + 1200);
    assert_eq!(rights(&report.asked), [(Grasp::Now, 1, 1), (Grasp::Why, 0, 1), (Grasp::Next, 1, 1)]);
    insta::assert_snapshot!(report.asked.iter().map(|c| c.said()).collect::<Vec<_>>().join("\n"));
}

#[test]
fn who_does_not_know_can_say_so() {
    let mut scene = probed();
    for choice in ["a", "unsure", "a"] {
        scene.ok(&ada(), &format!("answer {choice}"));
    }
    assert_eq!(scene.recorder.run().state.hold, None);
    scene.run(70.0);
    let report = Debrief::of(&scene.log);
    assert_eq!(report.asked[1].answers_said(), "Ada (pumps): did not know");
    assert_eq!(report.asked[1].right_said(), "right: a, the shore");
    // Honest, and not right.
    assert_eq!(rights(&report.asked)[1], (Grasp::Why, 0, 1));
}

#[test]
fn a_probe_that_nobody_is_there_to_answer_holds_nothing() {
    let mut scene = with(PROBE);
    scene.ok(&bo(), "station boards");
    scene.ok(&bo(), "close shore");
    scene.run(12.0);
    scene.ok(&bo(), "start pump");
    scene.run(2.0);
    assert_eq!(scene.recorder.run().state.hold, None);
    assert_eq!(scene.count("asked"), 3);
    scene.ok(&ada(), "station pumps");
    scene.no(&ada(), "answer a", &["not-asked"]);
}

#[test]
fn who_leads_the_class_can_go_on_without_answers() {
    let mut scene = probed();
    scene.ok(&ada(), "answer a");
    scene.ok(&instructor(), "resume");
    scene.no(&ada(), "answer a", &["not-asked"]);
    scene.run(1.0);
    assert_eq!(scene.count("hold-set"), 1);
}

#[test]
fn everyone_who_is_asked_is_waited_for() {
    let mut scene = with(&PROBE.replace("to = \"pumps\"\n", ""));
    scene.ok(&ada(), "station pumps");
    scene.ok(&bo(), "station boards");
    scene.ok(&bo(), "close shore");
    scene.run(12.0);
    scene.ok(&bo(), "start pump");
    scene.run(2.0);
    for who in [ada(), bo()] {
        assert!(scene.recorder.run().state.hold.is_some());
        (0..3).for_each(|_| _ = scene.ok(&who, "answer a"));
    }
    assert_eq!(scene.recorder.run().state.hold, None);
}

#[test]
fn a_decision_turns_the_drill() {
    let mut scene = with(DECISION);
    scene.ok(&ada(), "station pumps");
    scene.ok(&bo(), "station boards");
    scene.run(12.0);
    assert_eq!(scene.recorder.run().state.hold, None, "it need not be held");
    scene.no(&ada(), "answer empty", &["not-asked"]);
    let refusal = scene.no(&bo(), "answer tank emtpy", &["unknown-answer"]);
    assert_eq!(
        refusal.to_string(),
        "`emtpy` is no answer to tank (did you mean empty?); answers are: empty, keep"
    );
    scene.ok(&bo(), "answer empty");
    scene.no(&bo(), "answer tank keep", &["not-asked"]);
    scene.run(1.0);
    assert!(scene.log.iter().any(|e| timeline::what(&e.event).contains("then empty it")));
    let report = Debrief::of(&scene.log);
    assert_eq!(
        report.asked[0].said(),
        "0:10.0 tank (decision) to boards: What becomes of the tank?: \
         Bo (boards): empty, It is emptied after 0:02.0"
    );
}

#[test]
fn what_nobody_decides_is_decided_by_nobody() {
    let mut scene = with(DECISION);
    scene.ok(&bo(), "station boards");
    scene.run(29.0);
    assert_eq!(scene.count("undecided"), 0);
    scene.run(3.0);
    assert_eq!(scene.count("undecided"), 1);
    scene.no(&bo(), "answer empty", &["not-asked"]);
    assert!(scene.log.iter().any(|e| timeline::what(&e.event).contains("does nobody say anything")));
    assert!(Debrief::of(&scene.log).asked[0].undecided);
}

#[test]
fn the_instructor_may_decide_and_nobody_else() {
    let mut scene = with(DECISION);
    scene.ok(&bo(), "station boards");
    scene.run(12.0);
    scene.no(&Who::person("Olga", Role::Observer), "answer keep", &["not-your-role"]);
    scene.ok(&instructor(), "answer tank keep");
}

#[test]
fn a_decision_can_hold_the_run() {
    let mut scene = with(&DECISION.replace("within = \"20 s\"", "hold = true"));
    scene.ok(&bo(), "station boards");
    scene.run(12.0);
    assert_eq!(scene.recorder.run().tick(), 200);
    scene.ok(&bo(), "answer keep");
    scene.run(1.0);
    assert_eq!(scene.recorder.run().tick(), 220);
}

#[test]
fn a_fork_waits_for_nobody() {
    let mut scene = probed();
    ["a", "b", "b"].iter().for_each(|choice| _ = scene.ok(&ada(), &format!("answer {choice}")));
    scene.run(30.0);
    // The pump is started later, so its probe comes later than the answers.
    let start = scene.log.iter().filter(|e| e.event.name() == "act-done").nth(1).unwrap();
    let later = Change::Move { seq: start.seq, tick: start.tick + 200 };
    for (changes, impossible) in [(vec![], 0), (vec![later], 3)] {
        let id = run_id("fork", 1);
        let forked = fork_telling(&scene.log, Until::End, id, &changes, &instructor(), "").unwrap();
        assert_eq!(forked.recorder.run().tick(), scene.log.last().unwrap().tick);
        assert_eq!(forked.impossible.len(), impossible);
        assert_eq!(forked.log.iter().filter(|e| e.event.name() == "asked").count(), 3);
        assert!(verify(&forked.log).is_ok());
    }
}

#[test]
fn what_is_wrong_with_questions_is_said_all_at_once() {
    let probe = PROBE
        .replace("asks = \"now\"", "asks = \"here\"")
        .replace("to = \"pumps\"", "to = \"pump\"")
        .replace("later = \"1 min\"", "later = \"1 bar\"");
    let decision = DECISION
        .replace("within = \"20 s\"", "within = \"20 s\"\nhold = true")
        .replace("\"keep: It is kept\"", "\"nobody: It is kept\", \"empty: again\", \"both\"")
        .replace("at = \"10 s\"\n", "")
        .replace("== \"empty\"", "== \"emty\"");
    insta::assert_snapshot!(said(opening_with(&format!("{DRILL}{probe}{decision}"), &[])).join("\n"));
}
