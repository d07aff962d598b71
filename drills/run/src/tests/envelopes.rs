//! Envelopes as text: what a log keeps for years.

use super::kit::{Scene, ada, instructor};
use crate::crew::Crew;
use crate::envelope::{DecodeError, Envelope};
use crate::event::{Event, KINDS};
use crate::{Recorder, Run};

#[test]
fn a_line_of_the_log() {
    let mut scene = Scene::crewed();
    scene.ok(&ada(), "set header.valve position 30 %");
    insta::assert_snapshot!(scene.find("act-done").encode());
}

#[test]
fn kinds_have_one_number_and_one_name() {
    for (i, kind) in KINDS.iter().enumerate() {
        assert!(KINDS[..i].iter().all(|earlier| earlier.0 < kind.0 && earlier.1 != kind.1), "{kind:?}");
    }
    assert_eq!(Event::Digest { digest: String::new() }.kind(), 109);
    assert!(Event::Digest { digest: String::new() }.is_finding());
    assert!(Event::Silenced {}.is_input());
}

#[test]
fn the_name_in_the_table_is_the_one_that_is_written() {
    let mut scene = Scene::new();
    let mut crew = Crew::new(&scene.recorder.run().setup.clone(), None).unwrap();
    for _ in 0..3000 {
        let acts = crew.act(&mut scene.recorder, "");
        scene.log.extend(acts);
        scene.run(0.05);
    }
    for line in ["silence", "shelve header.low", "unshelve header.low", "speed 2", "hold", "resume", "note x"]
    {
        scene.say(&instructor(), line);
    }
    for envelope in &scene.log {
        let written = serde_json::to_value(&envelope.event).unwrap();
        assert_eq!(written["name"], envelope.event.name());
        assert_eq!(Envelope::decode(&envelope.encode()).as_ref(), Ok(envelope));
        assert!(!envelope.encode().contains('\n'), "one line each");
    }
}

#[test]
fn what_is_not_known_is_refused_by_name() {
    let line = Scene::new().log[1].encode();
    let decode = |from: &str, to: &str| Envelope::decode(&line.replace(from, to)).unwrap_err();
    let unknown = decode("\"kind\":101", "\"kind\":777");
    assert_eq!(unknown, DecodeError::UnknownKind { seq: 2, kind: 777, name: "alert-raised".to_owned() });
    let newer = decode("\"version\":2", "\"version\":3");
    assert_eq!(
        newer.to_string(),
        "event 2 ('alert-raised') is of version 3, this version of the program reads up to 2"
    );
    assert!(matches!(decode("\"version\":2", "\"version\":0"), DecodeError::Payload { .. }));
    assert!(matches!(decode("\"occurrence\":1", "\"occurrence\":\"one\""), DecodeError::Payload { .. }));
    assert!(matches!(decode("{", "["), DecodeError::Malformed { .. }));
}

#[test]
fn a_run_can_be_sent_to_another_thread() {
    fn sendable<T: Send + Sync>() {}
    sendable::<Recorder>();
    sendable::<Run>();
    sendable::<Crew>();
}
