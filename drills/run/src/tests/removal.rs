//! A person can be taken out of a log, and nothing else changes.

use super::kit::{DRILL, PROCEDURE, Scene, ada, bo, instructor, opening_with};
use crate::envelope::Envelope;
use crate::event::Event;
use crate::removal::{Digests, Removal, remove_person};
use crate::replay::{ReplayError, verify};
use crate::timeline;
use crate::who::{Role, Who};

const AT: &str = "2026-11-27T10:00:00Z";

/// Ada works, is spoken of, and ends up in digests.
fn scene() -> Scene {
    let mut scene = Scene::of(opening_with(DRILL, &[PROCEDURE]));
    scene.ok(&ada(), "station pumps");
    scene.ok(&bo(), "station boards");
    scene.ok(&bo(), "close shore");
    scene.run(6.0);
    scene.ok(&bo(), "say Ada, start the pump please; ada?");
    scene.ok(&ada(), "say ADA here");
    scene.run(6.0);
    scene.ok(&instructor(), "note Ada waits for the board");
    scene.ok(&instructor(), "end");
    scene
}

fn removed(log: &[Envelope], name: &str) -> Removal {
    remove_person(log, name, AT).unwrap().unwrap()
}

fn mentions(log: &[Envelope], name: &str) -> usize {
    log.iter().filter(|envelope| envelope.encode().to_lowercase().contains(&name.to_lowercase())).count()
}

#[test]
fn nothing_of_a_name_is_left_and_the_log_proves_itself() {
    let log = scene().log;
    assert!(mentions(&log, "Ada") >= 4);
    let digests = log.iter().filter(|e| matches!(e.event, Event::Digest { .. })).count() as u64;
    assert!(digests > 1);
    let removal = removed(&log, "ada");
    assert_eq!(mentions(&removal.log, "ada"), 0);
    assert_eq!(
        (removal.pseudonym.as_str(), &removal.digests),
        ("anonymous-1", &Digests::ComputedAgain(digests))
    );
    assert_eq!(verify(&removal.log).unwrap().events, log.len() as u64 + 1);
    let last = removal.log.last().unwrap();
    assert_eq!((last.seq, last.at.as_str(), &last.who), (log.len() as u64 + 1, AT, &Who::Drill));
    assert!(timeline::what(&last.event).contains("anonymous-1 stands for it"));
    // Whoever compares finds the name, digests, and nothing else.
    let same = log.iter().zip(&removal.log).filter(|(before, after)| before == after).count() as u64;
    assert_eq!(same + removal.events + digests, log.len() as u64);
    for (before, after) in log.iter().zip(&removal.log) {
        assert_eq!(
            (before.seq, before.tick, before.event_id, before.kind),
            (after.seq, after.tick, after.event_id, after.kind)
        );
    }
}

#[test]
fn a_second_person_gets_another_pseudonym_and_who_is_not_there_changes_nothing() {
    let log = scene().log;
    let once = removed(&log, "Ada").log;
    let twice = removed(&once, "Bo");
    assert_eq!(twice.pseudonym, "anonymous-2");
    assert!(matches!(twice.digests, Digests::ComputedAgain(_)));
    assert_eq!(remove_person(&log, "Zoe", AT), Ok(None));
    assert_eq!(remove_person(&twice.log, "Ada", AT), Ok(None));
    assert_eq!(remove_person(&log, " ", AT), Ok(None));
    assert_eq!(remove_person(&[], "Ada", AT), Ok(None));
    assert!(matches!(remove_person(&log[1..], "Ada", AT), Err(ReplayError::NoOpening)));
}

#[test]
fn what_cannot_be_run_again_keeps_its_facts_and_no_digest_that_tells_the_name() {
    let mut log = scene().log;
    if let Event::RunOpened(opening) = &mut log[0].event {
        opening.model += 1;
    }
    let removal = removed(&log, "Ada");
    let Digests::Emptied { why } = &removal.digests else { panic!("{:?}", removal.digests) };
    assert!(why.contains("model"), "{why}");
    let is_empty = |envelope: &Envelope| match &envelope.event {
        Event::Digest { digest } => digest.is_empty(),
        _ => true,
    };
    assert!(removal.log.iter().all(is_empty));
    assert_eq!(mentions(&removal.log, "ada"), 0);
    // A log that somebody has changed is not made to look proved.
    let mut log = scene().log;
    let digest = log.iter_mut().find_map(|envelope| match &mut envelope.event {
        Event::Digest { digest } => Some(digest),
        _ => None,
    });
    *digest.unwrap() = "0123456789abcdef".to_owned();
    assert!(matches!(removed(&log, "Ada").digests, Digests::Emptied { .. }));
}

#[test]
fn who_shares_a_first_name_keeps_it() {
    let mut scene = Scene::of(opening_with(DRILL, &[PROCEDURE]));
    let byron = Who::person("Ada Byron", Role::Trainee);
    scene.ok(&byron, "station pumps");
    scene.ok(&ada(), "station boards");
    scene.ok(&ada(), "say Byron and Ada; Ada Byron, I mean");
    let removal = removed(&scene.log, "Ada Byron");
    let said = removal.log.iter().find_map(|envelope| match &envelope.event {
        Event::Said { text, .. } => Some(text.as_str()),
        _ => None,
    });
    assert_eq!(said, Some("anonymous-1 and Ada; anonymous-1, I mean"));
    assert!(removal.log.iter().any(|envelope| envelope.who.key().as_deref() == Some("Ada")));
}
