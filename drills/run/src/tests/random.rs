//! Whatever people type and whenever they do, nothing breaks and the log replays.

use super::kit::{SHIP, Scene, ada, bo, instructor};
use crate::condition::{Condition, Names};
use crate::envelope::Envelope;
use crate::replay::verify;
use crate::words::{Line, Vocabulary, WORDS, parse};
use deadship_plant::Plant;
use proptest::prelude::*;
use std::sync::OnceLock;

/// The small drill, opened once: opening it anew for each case takes most of the time.
fn crewed() -> Scene {
    static SCENE: OnceLock<(crate::Recorder, Vec<Envelope>)> = OnceLock::new();
    let (recorder, log) = SCENE.get_or_init(|| {
        let scene = Scene::crewed();
        (scene.recorder, scene.log)
    });
    Scene { recorder: recorder.clone(), log: log.clone() }
}

/// Words that mean something, in any order.
fn lines() -> impl Strategy<Value = String> {
    let names = [
        "header.valve",
        "header.tank",
        "pump",
        "shore",
        "pump-room",
        "deck",
        "control-room",
        "pumps",
        "boards",
        "position",
        "control",
        "local",
        "remote",
        "30 %",
        "1",
        "all",
        "4",
        "to pumps: now",
        "header.low",
        "supply",
        "pump.seized",
        "header.tank.leaks",
        "over 3 s",
        "when time > 9 s",
        "slip",
        "3 s ago",
        "on 4: hm",
        "50 %",
        "é",
        "pump.*",
    ];
    let verbs = WORDS.map(|(word, _, _)| word);
    (prop::sample::select(verbs.to_vec()), prop::collection::vec(prop::sample::select(names.to_vec()), 0..4))
        .prop_map(|(verb, rest)| format!("{verb} {}", rest.join(" ")))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_line_is_read_or_refused(line in prop_oneof![".{0,80}", lines()]) {
        let scene = crewed();
        let setup = scene.recorder.run().setup.clone();
        if let Ok(Line::Command(command)) = parse(&line, &Vocabulary::from(setup.as_ref())) {
            let wording = command.wording(&setup);
            let again = parse(&wording, &Vocabulary::from(setup.as_ref()));
            prop_assert_eq!(again, Ok(Line::Command(command)), "{}", wording);
        }
    }

    #[test]
    fn any_condition_is_read_or_refused(text in condition_text()) {
        let files = [("s".to_owned(), SHIP.to_owned())];
        static PLANT: OnceLock<Plant> = OnceLock::new();
        let plant = PLANT.get_or_init(|| {
            let spec = deadship_plant::file::read_ship(deadship_plant::kinds::REGISTRY, &files).unwrap();
            Plant::new(spec, None).unwrap()
        });
        let dones = ["aim".to_owned()];
        let names = Names { compiled: &plant.compiled, dones: &dones, decisions: &[] };
        match Condition::new(&text, &names) {
            Ok(condition) => {
                let now = crate::condition::Instant { plant, time_s: 1.0, done: &[false], decided: &[] };
                prop_assert!(condition.holds(&now).is_ok());
            }
            Err(wrongs) => prop_assert!(!wrongs.is_empty()),
        }
    }

    #[test]
    fn an_envelope_comes_back_as_it_was(value in any::<f64>(), text in ".{0,40}", number in any::<u64>()) {
        let mut scene = crewed();
        let mut envelope = scene.log.remove(0);
        let value = if value.is_finite() { value } else { 1.0 };
        envelope.seq = number;
        envelope.command_id = Some(uuid::Uuid::from_u128(u128::from(number)));
        envelope.event = crate::Event::ActDone {
            component: text.clone(), verb: text.clone(), setting: text.clone(), value, shown: text, remote: true,
            busy_until_tick: number,
        };
        envelope.kind = envelope.event.kind();
        prop_assert_eq!(Envelope::decode(&envelope.encode()), Ok(envelope));
    }
}

fn condition_text() -> impl Strategy<Value = String> {
    let parts = [
        "[pump.running]",
        "[header.tank.level]",
        "==",
        "<",
        ">",
        "&&",
        "||",
        "!",
        "(",
        ")",
        "\"yes\"",
        "\"no\"",
        "50 %",
        "10 s",
        "3",
        "1.5e3",
        "time",
        "alert(\"header.low\")",
        "fault(\"pump.seized\")",
        "done(\"aim\")",
        "true",
        "false",
        "+",
        "-",
        "*",
        "/",
        "?",
        ":",
        "%",
        "x",
        "[",
        "]",
        "'",
        "2 bar",
        "e",
        ".",
    ];
    prop_oneof![
        prop::collection::vec(prop::sample::select(parts.to_vec()), 0..40).prop_map(|parts| parts.join(" ")),
        ".{0,60}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn whatever_was_done_replays(acts in prop::collection::vec((0usize..3, lines(), 0u8..60), 1..40)) {
        let mut scene = crewed();
        let people = [ada(), bo(), instructor()];
        for (who, line, ticks) in acts {
            let setup = scene.recorder.run().setup.clone();
            match parse(&line, &Vocabulary::from(setup.as_ref())) {
                Ok(Line::Command(command)) => {
                    scene.command(&people[who], &command);
                }
                Ok(Line::Question(question)) => {
                    scene.ask(&people[who], question);
                }
                Err(_) => {}
            }
            scene.run(f64::from(ticks) * 0.05);
            let run = scene.recorder.run();
            for (alert, life) in run.state.alerts.iter().enumerate() {
                let known = life.listed() || life.shelved || life.suppressed;
                prop_assert_eq!(life.raised(), run.plant.alert_on(alert));
                prop_assert!(known || !run.plant.alert_on(alert), "lost: {:?}", life);
            }
        }
        for envelope in &scene.log {
            let back = Envelope::decode(&envelope.encode());
            prop_assert_eq!(back.as_ref(), Ok(envelope));
        }
        let verified = verify(&scene.log);
        prop_assert!(verified.is_ok(), "{:?}", verified);
    }
}
