//! Notes and marks.

use super::kit::{Scene, ada, bo, instructor};
use crate::command::Command;
use crate::debrief::Debrief;
use crate::envelope::Envelope;
use crate::event::{Category, Event};
use crate::fork::{Change, fork};
use crate::ids::run_id;
use crate::replay::{Until, rebuild, rebuild_from, verify};
use crate::timeline;
use crate::who::{Role, Who};

fn facilitator() -> Who {
    Who::person("Fay", Role::Facilitator)
}

/// The event of a note that must be possible.
fn noted(scene: &mut Scene, line: &str) -> Envelope {
    scene.ok(&instructor(), line);
    scene.log.last().unwrap().clone()
}

/// What a note says besides who noted it.
fn fields(event: &Event) -> (&str, Option<Category>, Option<u64>, Option<u64>) {
    let Event::Noted { text, category, about_tick, on, .. } = event else { panic!("{event:?}") };
    (text, *category, *about_tick, *on)
}

#[test]
fn a_mark_is_dated_back_in_ships_time() {
    let mut scene = Scene::crewed();
    scene.run(20.0);
    let mark = noted(&mut scene, "mark slip 10 s ago the valve was left open");
    assert_eq!(fields(&mark.event), ("the valve was left open", Some(Category::Slip), Some(200), None));
    assert_eq!(mark.tick, 400);
    assert_eq!(timeline::what(&mark.event), "marks slip, at 0:10.0: the valve was left open");
    let mark = noted(&mut scene, "mark discuss 10 min ago");
    assert_eq!(fields(&mark.event), ("", Some(Category::Discuss), Some(0), None), "not before the start");
    let mark = noted(&mut scene, "mark well-done");
    assert_eq!(fields(&mark.event), ("", Some(Category::WellDone), None, None));
    assert_eq!(timeline::what(&mark.event), "marks well-done");
    scene.ok(&facilitator(), "mark unsafe 1 min ago");
}

#[test]
fn what_marks_are_refused_for() {
    let mut scene = Scene::crewed();
    scene.no(&ada(), "mark slip", &["not-your-role"]);
    scene.no(&ada(), "note on 1: hm", &["not-your-role"]);
    for ago in ["10.1 min", "-1 s"] {
        scene.no(&instructor(), &format!("mark slip {ago} ago"), &["value-out-of-range"]);
    }
    let long = Command::Mark { category: Category::Slip, ago_s: None, text: "x".repeat(501) };
    assert!(scene.command(&instructor(), &long).refusal.unwrap().has("text-length"));
    let nan = Command::Mark { category: Category::Slip, ago_s: Some(f64::NAN), text: String::new() };
    assert!(scene.command(&instructor(), &nan).refusal.unwrap().has("value-out-of-range"));
    let none = scene.no(&instructor(), "note on 2: hm", &["unknown-note"]);
    assert_eq!(none.to_string(), "event 2 is not a note; nothing has been noted yet");
    let seq = noted(&mut scene, "note one").seq;
    let none = scene.no(&instructor(), "note on 2: hm", &["unknown-note"]);
    assert_eq!(none.to_string(), format!("event 2 is not a note; the latest notes are events {seq}"));
}

#[test]
fn a_text_is_added_to_a_mark_even_when_the_run_is_over() {
    let mut scene = Scene::crewed();
    let mark = noted(&mut scene, "mark communication");
    scene.ok(&instructor(), "end");
    let added = noted(&mut scene, &format!("note on {}: nobody read it back", mark.seq));
    assert_eq!(fields(&added.event), ("nobody read it back", None, None, Some(mark.seq)));
    assert_eq!(added.cause, Some(mark.seq));
    let what = timeline::what(&added.event);
    assert_eq!(what, format!("adds to note {}: nobody read it back", mark.seq));
    let more = noted(&mut scene, &format!("note on {}: twice", added.seq));
    assert_eq!(fields(&more.event).3, Some(mark.seq), "what is added to an addition belongs to the mark");
    noted(&mut scene, "mark discuss 5 s ago the end");
    verify(&scene.log).unwrap();
}

#[test]
fn the_report_has_notes_by_what_they_are_about() {
    let mut scene = Scene::crewed();
    scene.run(20.0);
    noted(&mut scene, "note they look first");
    let mark = noted(&mut scene, "mark slip 10 s ago").seq;
    noted(&mut scene, "mark unsafe 15 s ago hand in the belt");
    noted(&mut scene, &format!("note on {mark}: the valve"));
    noted(&mut scene, &format!("note on {mark}: and the pump"));
    noted(&mut scene, "mark well-done");
    let report = Debrief::of(&scene.log);
    let text = report.to_text();
    let lines: Vec<&str> = text.lines().filter(|line| line.starts_with("Note")).collect();
    assert_eq!(
        lines,
        [
            "Note: 0:05.0 unsafe: hand in the belt",
            "Note: 0:10.0 slip: the valve; and the pump",
            "Note: 0:20.0 they look first",
            "Note: 0:20.0 well-done",
        ]
    );
    assert_eq!((report.notes[1].seq, report.notes[1].tick, report.notes[1].about_tick), (mark, 400, 200));
    let back: Debrief = serde_json::from_str(&report.to_json()).unwrap();
    assert_eq!(back, report);
}

#[test]
fn a_note_of_version_1_is_read_and_written_as_ever() {
    let mut scene = Scene::crewed();
    let note = noted(&mut scene, "note good");
    let line = note.encode();
    assert!(line.contains(r#""event":{"by":"instructor Iris","text":"good"}"#), "{line}");
    let old = line.replace("\"version\":2", "\"version\":1");
    assert_ne!(old, line);
    assert_eq!(Envelope::decode(&old), Ok(note));
}

#[test]
fn notes_change_no_digest_and_are_known_after_a_checkpoint() {
    let mut scene = Scene::crewed();
    let before = scene.recorder.run().digest();
    let mark = noted(&mut scene, "mark slip").seq;
    assert_eq!(scene.recorder.run().digest(), before);
    let bytes = loop {
        scene.run(0.05);
        if let Some(bytes) = scene.recorder.checkpoint(scene.log.last().unwrap()) {
            break bytes;
        }
    };
    let mut fast = rebuild_from(&scene.log, &bytes).unwrap().recorder;
    let mut whole = rebuild(&scene.log, Until::End).unwrap().recorder;
    let add = Command::NoteOn { number: mark, text: "hm".to_owned() };
    let made = fast.command(&add, &instructor(), None, "t");
    assert_eq!(made.refusal, None);
    assert_eq!(made, whole.command(&add, &instructor(), None, "t"));
}

#[test]
fn in_a_fork_texts_stay_with_their_marks() {
    let mut scene = Scene::crewed();
    // Holds are left out of a fork, so that its events have other numbers.
    scene.ok(&instructor(), "hold");
    scene.ok(&instructor(), "resume");
    scene.run(20.0);
    let mark = noted(&mut scene, "mark slip 10 s ago").seq;
    noted(&mut scene, &format!("note on {mark}: the valve"));
    scene.ok(&bo(), "close shore");
    let drop = [Change::Drop { seq: scene.find("act-done").seq }];
    for changes in [&[][..], &drop] {
        let (_, log) = fork(&scene.log, Until::End, run_id("copy", 1), changes, &instructor(), "").unwrap();
        let notes: Vec<&Envelope> = log.iter().filter(|e| e.event.name() == "noted").collect();
        assert_ne!(notes[0].seq, mark);
        assert_eq!(fields(&notes[0].event), ("", Some(Category::Slip), Some(200), None));
        assert_eq!(fields(&notes[1].event), ("the valve", None, None, Some(notes[0].seq)));
        verify(&log).unwrap();
    }
    let drop = [Change::Drop { seq: mark }];
    let (_, log) = fork(&scene.log, Until::End, run_id("copy", 2), &drop, &instructor(), "").unwrap();
    let alone = log.iter().find(|e| e.event.name() == "noted").unwrap();
    assert_eq!(fields(&alone.event), ("the valve", None, None, None));
}
