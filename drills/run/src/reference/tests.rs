//! The references of runs of the library, and of one whose drill has no expert.

use super::{Hands, ReferenceError, both, reference, table};
use crate::debrief::Outcome;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::ids::run_id;
use crate::library::Library;
use crate::measures::{MeasureInput, Measures};
use crate::recorder::Recorder;
use crate::whatif::Side;
use crate::who::{Role, Who};
use deadship_plant::MODEL_VERSION;

const AT: &str = "2026-01-01T00:00:00Z";

/// A minute in which nobody does anything.
fn a_minute(drill: &str, seed: u64) -> Vec<Envelope> {
    let opening = Library::built_in().opening(drill, Some(seed)).unwrap();
    let id = run_id(&opening.drill, seed);
    let (mut recorder, mut log) =
        Recorder::open(id, opening, &Who::person("Bo", Role::Instructor), AT).unwrap();
    while recorder.run().tick() < 1_200 {
        log.extend(recorder.tick(AT));
    }
    log
}

fn opening(log: &mut [Envelope]) -> &mut crate::Opening {
    let Event::RunOpened(opening) = &mut log[0].event else { panic!("a run begins with its opening") };
    opening
}

#[test]
fn expert_and_idle_crew_stand_beside_a_run() {
    let log = a_minute("vacuum-lost", 7);
    let mut seen = 0;
    let expert = reference(&log, Hands::Expert, &mut |_| seen += 1).unwrap();
    let idle = reference(&log, Hands::Idle, &mut |_| {}).unwrap();
    assert!(seen > 1_200, "the expert's run was not shown tick by tick");
    assert_eq!(expert.side.report.aim.as_ref().unwrap().outcome, Outcome::Met);
    assert_ne!(idle.side.report.aim.as_ref().unwrap().outcome, Outcome::Met);
    assert!(idle.side.report.ended.is_some() && idle.side.report.acts.is_empty());
    let lines = table(&[&Side::of(&log), &expert.side, &idle.side]);
    assert!(lines.iter().all(|line| line.cells.len() == 3));
    let aim = lines.iter().find(|line| line.what == "aim").unwrap();
    assert!(aim.cells[0] == "open" && aim.cells[1].starts_with("met "), "{aim:?}");
    // What is of one group stands together.
    let mut groups: Vec<&str> = lines.iter().map(|line| line.group.as_str()).collect();
    groups.dedup();
    let mut once = groups.clone();
    once.sort_unstable();
    once.dedup();
    assert_eq!(once.len(), groups.len(), "{groups:?}");
}

#[test]
fn a_run_looked_at_while_it_goes_is_measured_as_one_that_is_replayed() {
    let mut log = a_minute("vacuum-lost", 1);
    let expert = reference(&log, Hands::Expert, &mut |_| {}).unwrap();
    // The same once more, kept as a log.
    opening(&mut log).parent = None;
    let opened = opening(&mut log).clone();
    let kept = super::work(&log[0], opened, Hands::Expert, &mut |_| {}).unwrap();
    let replayed = Measures::of(&MeasureInput::replayed(&kept));
    assert_eq!(replayed.not_computed, Vec::<String>::new());
    assert_eq!(expert.side.measures, replayed);
}

#[test]
fn texts_of_the_log_are_taken_and_not_those_of_the_library() {
    let mut log = a_minute("vacuum-lost", 1);
    let text = &mut opening(&mut log).drill_file.text;
    let limit = text.lines().find(|line| line.starts_with("limit")).unwrap().to_owned();
    *text = text.replace(&limit, "limit = \"90 s\"");
    let idle = reference(&log, Hands::Idle, &mut |_| {}).unwrap();
    assert_eq!(idle.side.report.ticks, 1_800);
}

#[test]
fn what_cannot_be_had_is_said() {
    let error = |log: &[Envelope], hands| reference(log, hands, &mut |_| {}).err();
    assert_eq!(error(&[], Hands::Idle), Some(ReferenceError::NoOpening));
    let mut log = a_minute("vacuum-lost", 1);
    opening(&mut log).procedures.clear();
    let none = ReferenceError::NoExpert { drill: "vacuum-lost".to_owned() };
    assert_eq!(error(&log, Hands::Expert), Some(none.clone()));
    assert!(none.to_string().contains("names no expert"));
    let [expert, idle] = both(|hands| error(&log, hands));
    assert!(expert.is_some() && idle.is_none());
    opening(&mut log).model = MODEL_VERSION + 1;
    let newer = ReferenceError::Model { recorded: MODEL_VERSION + 1, model: MODEL_VERSION };
    assert_eq!(error(&log, Hands::Idle), Some(newer));
    opening(&mut log).model = MODEL_VERSION;
    opening(&mut log).ship_files.clear();
    assert!(matches!(error(&log, Hands::Idle), Some(ReferenceError::Open(_))));
}
