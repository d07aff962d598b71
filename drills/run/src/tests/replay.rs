//! Replay and forks.

use super::kit::{Scene, ada, bo, instructor};
use crate::checkpoint::{seq_of, still_matters};
use crate::envelope::Envelope;
use crate::event::Event;
use crate::fork::{Change, fork};
use crate::ids::run_id;
use crate::replay::{ReplayError, Until, rebuild, rebuild_from, resume, verify, visit};
use crate::setup::Prepared;
use crate::{Command, Recorder};

/// Something of everything.
fn busy() -> Scene {
    let mut scene = Scene::crewed();
    scene.run(2.0);
    scene.ok(&bo(), "close shore");
    scene.ok(&ada(), "set header.valve position 30 %");
    scene.run(10.0);
    scene.no(&ada(), "go deck", &["busy"]);
    scene.ok(&bo(), "start pump");
    scene.ok(&instructor(), "fault pump.stiff 50 % over 10 s");
    scene.run(5.0);
    scene.ok(&instructor(), "hold");
    scene.ok(&instructor(), "speed 4");
    scene.ok(&instructor(), "resume");
    scene.ok(&bo(), "ack all");
    scene.run(60.0);
    scene.ok(&ada(), "go deck");
    scene.run(20.0);
    scene
}

#[test]
fn the_same_log_gives_the_same_state() {
    let scene = busy();
    let verified = verify(&scene.log).unwrap();
    assert_eq!(verified.ticks, scene.log.last().unwrap().tick);
    assert!(verified.digests > 10);
    let rebuilt = rebuild(&scene.log, Until::Tick(scene.recorder.run().tick())).unwrap();
    assert_eq!(rebuilt.recorder.run().digest(), scene.recorder.run().digest());
    assert_eq!(rebuilt.recorder.run().last_seq, scene.recorder.run().last_seq);
}

#[test]
fn any_instant_can_be_rebuilt() {
    let scene = busy();
    let mut digests = Vec::new();
    visit(&scene.log, Until::End, &mut |run| digests.push(run.digest())).unwrap();
    for at in [0, 1, 47, 333, 900] {
        let rebuilt = rebuild(&scene.log, Until::Tick(at)).unwrap();
        assert_eq!(rebuilt.recorder.run().tick(), at);
        assert_eq!(rebuilt.recorder.run().digest(), digests[at as usize]);
    }
    let seq = scene.find("act-done").seq;
    let rebuilt = rebuild(&scene.log, Until::Seq(seq)).unwrap();
    assert_eq!(rebuilt.recorder.run().last_seq, seq);
}

#[test]
fn readings_of_every_tick_can_be_looked_at() {
    let scene = busy();
    let mut ticks = Vec::new();
    let rebuilt = visit(&scene.log, Until::End, &mut |run| ticks.push(run.tick())).unwrap();
    let last = rebuilt.recorder.run().tick();
    assert_eq!(ticks, (0..=last).collect::<Vec<u64>>());
}

#[test]
fn what_was_rebuilt_goes_on_like_the_original() {
    let mut scene = busy();
    let mut rebuilt = rebuild(&scene.log, Until::Tick(scene.recorder.run().tick())).unwrap();
    let from = scene.log.len();
    scene.run(10.0);
    for expected in &scene.log[from..] {
        let got = loop {
            let found = rebuilt.recorder.tick("2026-01-01T00:00:02Z");
            if !found.is_empty() {
                break found;
            }
        };
        assert_eq!(got[0], *expected);
        assert_eq!(got.len(), 1);
    }
}

#[test]
fn a_changed_record_is_found() {
    let mut scene = busy();
    let at = scene.log.iter().rposition(|envelope| envelope.event.name() == "digest").unwrap();
    scene.log[at].event = Event::Digest { digest: "0123456789abcdef".to_owned() };
    let Err(ReplayError::Diverged(difference)) = verify(&scene.log) else { panic!("not found") };
    assert_eq!((difference.seq, difference.tick), (scene.log[at].seq, scene.log[at].tick));
    let versions = format!("model {0} then, {0} now", deadship_plant::MODEL_VERSION);
    assert!(difference.to_string().contains(&versions), "{difference}");
    assert!(
        rebuild(&scene.log, Until::End).unwrap().difference.is_some(),
        "the record stands, the difference is said"
    );
}

#[test]
fn a_left_out_finding_or_input_is_found() {
    for name in ["expectation-met", "act-done"] {
        let mut scene = busy();
        let at = scene.log.iter().position(|envelope| envelope.event.name() == name).unwrap();
        scene.log.remove(at);
        assert!(matches!(verify(&scene.log), Err(ReplayError::Gap { .. })));
        for (seq, envelope) in (1..).zip(&mut scene.log) {
            envelope.seq = seq;
        }
        assert!(matches!(verify(&scene.log), Err(ReplayError::Diverged(_))), "{name}");
    }
}

#[test]
fn logs_that_are_none() {
    let scene = busy();
    assert_eq!(verify(&[]), Err(ReplayError::Empty));
    assert_eq!(verify(&scene.log[1..]), Err(ReplayError::NoOpening));
}

#[test]
fn a_log_that_was_cut_short_says_what_is_missing() {
    let scene = busy();
    // The tick in which the pump is seen running brings a mark and a message; writing stopped between them.
    let met = scene.log.iter().position(|envelope| envelope.event.name() == "expectation-met").unwrap();
    let missing = &scene.log[met + 1];
    assert_eq!((missing.event.name(), missing.tick), ("said", scene.log[met].tick));
    let rebuilt = rebuild(&scene.log[..=met], Until::End).unwrap();
    assert_eq!(rebuilt.pending.len(), 1);
    assert_eq!((&rebuilt.pending[0].event, rebuilt.pending[0].seq), (&missing.event, missing.seq));
    assert_eq!(rebuilt.recorder.run().last_seq, missing.seq, "it has been applied");
    let opened = rebuild(&scene.log[..1], Until::End).unwrap();
    assert_eq!(opened.pending[0].event, scene.log[1].event, "alerts that stand from the start");
}

#[test]
fn a_command_is_remembered_over_a_rebuild() {
    let mut scene = Scene::crewed();
    let command = crate::Command::Go { place: "deck".to_owned() };
    let id = Some(uuid::Uuid::from_u128(9));
    let first = scene.recorder.command(&command, &ada(), id, "");
    scene.log.extend(first.envelopes.clone());
    let mut rebuilt = rebuild(&scene.log, Until::End).unwrap().recorder;
    let again = rebuilt.command(&command, &ada(), id, "");
    assert!(again.repeated);
    assert_eq!(again.envelopes, first.envelopes);
}

#[test]
fn a_fork_without_change_is_the_same_ship() {
    let scene = busy();
    let tick = scene.recorder.run().tick();
    let (copy, log) = fork(&scene.log, Until::Tick(tick), run_id("copy", 1), &[], &instructor(), "").unwrap();
    let Event::RunOpened(opening) = &log[0].event else { panic!("no opening") };
    let parent = opening.parent.clone().unwrap();
    assert_eq!((parent.run, parent.tick), (scene.log[0].run, tick));
    assert_eq!(copy.run().plant.digest(), scene.recorder.run().plant.digest());
    verify(&log).unwrap();
}

#[test]
fn a_fork_shows_what_would_have_been() {
    let scene = busy();
    let tick = scene.recorder.run().tick();
    let start = scene
        .log
        .iter()
        .find(|e| matches!(&e.event, Event::ActDone { verb, .. } if verb == "start"))
        .unwrap();
    let changes = [
        Change::Drop { seq: start.seq },
        Change::Add {
            tick: 400,
            who: bo(),
            command: crate::Command::Say { to: None, text: "no pump".to_owned() },
        },
    ];
    let (copy, log) =
        fork(&scene.log, Until::Tick(tick), run_id("copy", 2), &changes, &instructor(), "").unwrap();
    assert!(!log.iter().any(|e| e.event.name() == "expectation-met"), "the pump never ran");
    assert!(log.iter().any(|e| e.event.name() == "said" && e.tick == 400));
    assert_ne!(copy.run().digest(), scene.recorder.run().digest());
    verify(&log).unwrap();
    let moved = [Change::Move { seq: start.seq, tick: 600 }];
    let (_, log) = fork(&scene.log, Until::Tick(tick), run_id("copy", 3), &moved, &instructor(), "").unwrap();
    let started =
        log.iter().find(|e| matches!(&e.event, Event::ActDone { verb, .. } if verb == "start")).unwrap();
    assert_eq!(started.tick, 600);
    verify(&log).unwrap();
}

#[test]
fn a_checkpoint_gives_the_same_run_or_is_passed_over() {
    let mut scene = busy();
    // Run on to a digest that is the last event of its tick.
    let bytes = loop {
        scene.run(0.05);
        if let Some(bytes) = scene.recorder.checkpoint(scene.log.last().unwrap()) {
            break bytes;
        }
    };
    let mut later = scene.recorder.clone();
    if later.tick("t").is_empty() {
        assert!(later.checkpoint(scene.log.last().unwrap()).is_none(), "the digest is of the tick before");
    }
    let at_checkpoint = scene.log.len();
    scene.run(1.0);
    scene.ok(&bo(), "stop pump");
    scene.ok(&bo(), "say done");
    scene.run(30.0);
    let whole = rebuild(&scene.log, Until::End).unwrap();
    let fast = rebuild_from(&scene.log, &bytes).unwrap();
    assert!(fast.difference.is_none(), "{:?}", fast.difference);
    let same = |a: &crate::Recorder, b: &crate::Recorder| {
        assert_eq!(a.run().digest(), b.run().digest());
        assert_eq!((a.run().last_seq, a.run().tick()), (b.run().last_seq, b.run().tick()));
    };
    same(&fast.recorder, &whole.recorder);
    // With the events before it left out that no longer matter it is the same again.
    let Event::RunOpened(opening) = &scene.log[0].event else { panic!("no opening") };
    let prepared = Prepared::new(opening.as_ref().clone()).unwrap();
    assert_eq!(seq_of(&bytes), Some(at_checkpoint as u64));
    let (before, after) = scene.log.split_at(at_checkpoint);
    let last = before.last().unwrap();
    let few: Vec<Envelope> =
        before.iter().filter(|e| e.seq == last.seq || still_matters(&e.encode())).cloned().collect();
    assert!(few.len() < before.len() / 2, "{} of {}", few.len(), before.len());
    let mut resumed = resume(&prepared, &few, &bytes, after).unwrap().unwrap();
    assert!(resumed.difference.is_none() && resumed.pending.is_empty());
    same(&resumed.recorder, &whole.recorder);
    assert_eq!(resumed.recorder.run().links, whole.recorder.run().links);
    // A command that was given before the checkpoint, and one after it, are still known.
    for known in scene.log.iter().filter(|e| e.command_id.is_some()) {
        let again = |recorder: &mut Recorder| {
            recorder.command(&Command::Note { text: "again".into() }, &ada(), known.command_id, "t")
        };
        let (one, other) = (again(&mut resumed.recorder), again(&mut whole.recorder.clone()));
        assert!(one.repeated && one == other);
    }
    assert!(resume(&prepared, &few[..few.len() - 1], &bytes, after).unwrap().is_none());
    assert!(resume(&prepared, &few, &[7; 90], after).unwrap().is_none());
    assert!(matches!(resume(&prepared, &few, &bytes, &after[1..]), Err(ReplayError::Gap { .. })));
    // Both go on alike, with the same causes and the same memory of command ids.
    let (mut one, mut other) = (fast.recorder, whole.recorder);
    for _ in 0..200 {
        assert_eq!(one.tick("t"), other.tick("t"));
    }
    same(&one, &other);
    what_does_not_fit_is_passed_over(&scene.log, &bytes, at_checkpoint);
    // Not at a digest: no checkpoint.
    assert!(scene.recorder.checkpoint(scene.find("act-done")).is_none());
}

/// Damaged bytes, a log that ends before, another log.
fn what_does_not_fit_is_passed_over(log: &[Envelope], bytes: &[u8], at_checkpoint: usize) {
    let same = |a: &crate::Recorder, b: &crate::Recorder| {
        assert_eq!(a.run().digest(), b.run().digest());
        assert_eq!((a.run().last_seq, a.run().tick()), (b.run().last_seq, b.run().tick()));
    };
    let mut damaged = bytes.to_vec();
    let middle = damaged.len() / 2;
    damaged[middle] ^= 1;
    let damaged = rebuild_from(log, &damaged).unwrap();
    same(&damaged.recorder, &rebuild(log, Until::End).unwrap().recorder);
    let short = &log[..at_checkpoint - 1];
    same(&rebuild_from(short, bytes).unwrap().recorder, &rebuild(short, Until::End).unwrap().recorder);
    for nonsense in [&[][..], &[7; 9][..], &[255; 64][..]] {
        same(&rebuild_from(log, nonsense).unwrap().recorder, &rebuild(log, Until::End).unwrap().recorder);
    }
}
