//! Which events belong to which objective.

use crate::by_objective::{ByObjective, by_objective};
use crate::command::Command;
use crate::crew::Crew;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::ids::run_id;
use crate::library::Library;
use crate::recorder::Recorder;
use crate::who::{Role, Who};

const AT: &str = "2026-01-01T00:00:00Z";

/// The first two minutes of the first drill by its crew, and what someone said and rated.
fn two_minutes() -> Vec<Envelope> {
    let opening = Library::built_in().opening("first-light", None).unwrap();
    let id = run_id(&opening.drill, opening.seed);
    let bo = Who::person("Bo", Role::Instructor);
    let (mut recorder, mut log) = Recorder::open(id, opening, &bo, AT).unwrap();
    let mut crew = Crew::new(&recorder.run().setup, None).unwrap();
    while recorder.run().tick() < 2_400 {
        log.extend(crew.act(&mut recorder, AT));
        log.extend(recorder.tick(AT));
    }
    let mut does = |command: Command| log.extend(recorder.command(&command, &bo, None, AT).envelopes);
    does(Command::Note { text: "looked at dg1.sump.drain late".to_owned() });
    does(Command::Rate {
        objective: "teamwork".to_owned(),
        level: "secure".to_owned(),
        text: "good".to_owned(),
    });
    log
}

fn group<'a>(grouped: &ByObjective, log: &'a [Envelope], name: Option<&str>) -> Vec<&'a Event> {
    let is_it = |of: &&crate::by_objective::Group| {
        of.objective.as_ref().map(|course| course.objective.name.as_str()) == name
    };
    let group = grouped.groups.iter().find(is_it).unwrap();
    group.places.iter().map(|place| &log[*place].event).collect()
}

fn is_act_on_drain(event: &Event) -> bool {
    matches!(event, Event::ActDone { component, .. } if component == "dg1.sump.drain")
}

#[test]
fn an_objective_has_what_its_conditions_name() {
    let log = two_minutes();
    let grouped = by_objective(&log);
    assert_eq!((grouped.groups.len(), grouped.doubt.as_deref()), (5, None));
    let of_it = group(&grouped, &log, Some("line-up"));
    let has = |test: fn(&Event) -> bool| of_it.iter().any(|event| test(event));
    assert!(has(is_act_on_drain));
    assert!(has(|event| matches!(event, Event::FaultSet { component, .. } if component == "dg1.sump.drain")));
    assert!(has(|event| matches!(event, Event::AlertRaised { alert, .. } if alert == "dg1.sump.low")));
    assert!(has(|event| matches!(event, Event::ExpectationMet { name, .. } if name == "oil-saved")));
    assert!(has(|event| matches!(event, Event::Noted { .. })));
    let rated = group(&grouped, &log, Some("teamwork"));
    assert!(matches!(rated[..], [Event::Rated { .. }]), "{rated:?}");
    let ready = group(&grouped, &log, Some("leave-ready"));
    assert!(!ready.iter().any(|event| is_act_on_drain(event)), "the cock is no part of it");
    assert!(matches!(group(&grouped, &log, None)[0], Event::RunOpened(_)));
    let mut places: Vec<usize> = grouped.groups.iter().flat_map(|group| group.places.clone()).collect();
    places.sort_unstable();
    places.dedup();
    assert_eq!(places.len(), log.len(), "an event is lost");
}

#[test]
fn what_cannot_be_told_apart_is_said() {
    let mut log = two_minutes();
    let Event::RunOpened(opening) = &mut log[0].event else { panic!("a run begins with its opening") };
    opening.ship_files.clear();
    let grouped = by_objective(&log);
    assert!(grouped.doubt.as_deref().is_some_and(|why| why.contains("cannot read the ship")), "{grouped:?}");
    let of_it = group(&grouped, &log, Some("line-up"));
    assert!(matches!(of_it[..], [Event::ExpectationMet { .. }]), "{of_it:?}");
    let rest = group(&grouped, &log, None);
    assert!(rest.iter().any(|event| is_act_on_drain(event)));
    // Without an opening there are no objectives, and with nothing there is nothing.
    assert_eq!(by_objective(&log[1..]).groups.len(), 1);
    assert_eq!(by_objective(&[]).groups[0].places, Vec::<usize>::new());
}
