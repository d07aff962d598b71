//! Going through a log forth and back.

use super::kit::{Scene, ada, bo, instructor};
use crate::event::Event;
use crate::replay::{Reel, ReplayError, Until, rebuild, visit};

fn scene() -> Scene {
    let mut scene = Scene::crewed();
    scene.run(2.0);
    scene.ok(&bo(), "close shore");
    scene.ok(&ada(), "set header.valve position 30 %");
    scene.run(11.0);
    scene.ok(&bo(), "start pump");
    scene.ok(&instructor(), "hold");
    scene.ok(&instructor(), "resume");
    scene.ok(&instructor(), "fault pump.stiff 50 % over 10 s");
    scene.run(40.0);
    scene
}

fn loaded(scene: &Scene, every: u64) -> Reel {
    let mut reel = Reel::open(scene.log.clone(), every).unwrap();
    while reel.load() {}
    reel
}

#[test]
fn forth_and_back_is_as_straight_on() {
    let scene = scene();
    let mut digests = Vec::new();
    visit(&scene.log, Until::End, &mut |run| digests.push(run.digest())).unwrap();
    let mut reel = loaded(&scene, 130);
    let last = reel.last_tick();
    assert_eq!((reel.loaded_tick(), last), (last, digests.len() as u64 - 1));
    for tick in [last, 0, 131, 129, 130, 262, 700, 699, 40, 41, last - 1, last + 500] {
        let tick_there = tick.min(last);
        assert_eq!(reel.seek(tick).digest(), digests[tick_there as usize], "at {tick}");
        assert!(reel.is_there());
    }
    assert_eq!(reel.difference(), None);
    assert_eq!(reel.kept().count() as u64, 1 + last.div_ceil(130));
    let kept: Vec<String> = reel.kept().map(crate::Run::digest).collect();
    assert_eq!(kept[1], digests[130]);
}

#[test]
fn what_was_done_at_a_tick_belongs_to_it() {
    let scene = scene();
    let act = scene.log.iter().find(|envelope| envelope.event.name() == "hold-set").unwrap();
    let mut reel = loaded(&scene, 100);
    let expected = rebuild(&scene.log, Until::Tick(act.tick)).unwrap();
    assert_eq!(reel.seek(act.tick).last_seq, expected.recorder.run().last_seq);
}

#[test]
fn it_can_be_looked_at_while_it_is_replayed() {
    let scene = scene();
    let mut reel = Reel::open(scene.log.clone(), 200).unwrap();
    assert_eq!(reel.seek(900).tick(), 0, "nothing has been replayed yet");
    assert!(reel.load());
    assert_eq!(reel.seek(900).tick(), 200);
    let early = reel.seek(150).digest();
    while reel.load() {}
    assert!(!reel.load());
    reel.seek(900);
    assert_eq!(reel.seek(150).digest(), early);
}

#[test]
fn where_it_differs_is_told_and_the_record_goes_on() {
    let mut scene = scene();
    let at = scene.log.iter().rposition(|envelope| envelope.event.name() == "digest").unwrap();
    scene.log[at].event = Event::Digest { digest: "0123456789abcdef".to_owned() };
    let mut reel = loaded(&scene, 100);
    assert_eq!(reel.difference().unwrap().seq, scene.log[at].seq);
    let last = reel.last_tick();
    assert_eq!(reel.seek(last).tick(), last);
}

#[test]
fn a_run_that_stops_before_its_record_is_not_there() {
    let mut scene = scene();
    let at = scene.log.iter().position(|envelope| envelope.event.name() == "hold-lifted").unwrap();
    let tick = scene.log[at].tick;
    scene.log[at].event = Event::HoldSet { reason: "tampered".to_owned() };
    let mut reel = loaded(&scene, 100);
    reel.seek(tick);
    assert!(reel.is_there());
    reel.seek(tick + 10);
    assert!(!reel.is_there());
    assert_eq!(reel.run().tick(), tick);
}

#[test]
fn what_is_no_log_is_refused() {
    let scene = scene();
    assert!(matches!(Reel::open(Vec::new(), 1), Err(ReplayError::Empty)));
    assert!(matches!(Reel::open(scene.log[1..].to_vec(), 1), Err(ReplayError::NoOpening)));
    let mut gap = scene.log.clone();
    gap.remove(3);
    assert!(matches!(Reel::open(gap, 1), Err(ReplayError::Gap { .. })));
}
