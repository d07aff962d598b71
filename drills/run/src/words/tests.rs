use super::{Line, Question, Vocabulary, WORDS, parse};
use crate::command::Command;
use crate::event::CATEGORIES;
use crate::tests::kit::Scene;
use deadship_plant::kind::Verb;

fn read(lines: &[&str]) -> Vec<String> {
    let scene = Scene::new();
    let setup = scene.recorder.run().setup.clone();
    let said = |line: &&str| match parse(line, &Vocabulary::from(setup.as_ref())) {
        Ok(Line::Command(command)) => command.wording(&setup),
        Ok(Line::Question(question)) => format!("{question:?}"),
        Err(error) => format!("ERROR {error}"),
    };
    lines.iter().map(said).collect()
}

#[test]
fn lines_that_mean_something() {
    let same = [
        "station pumps",
        "leave",
        "go deck",
        "open header.valve",
        "close header.valve",
        "start pump",
        "stop pump",
        "reset pump",
        "set pump control local",
        "ack 17",
        "ack all",
        "silence",
        "shelve header.low",
        "shelve header.low for 7200 s",
        "unshelve header.low",
        "say all is well",
        "say to boards: pump on, please",
        "say to bridge: hello",
        "order pumps: open the valve",
        "order all within 90 s: report your station",
        "repeat 3",
        "repeat 3 open the valve",
        "report 3",
        "report 3 the valve is open",
        "report to bridge: water on deck",
        "bridge order pumps: how long: minutes?",
        "bridge say to pumps: thank you",
        "tick supply",
        "skip supply",
        "fault pump.seized",
        "fault header.tank.leaks 30 % over 5 s",
        "fault header.tank.leaks every 20 s for 5 s",
        "fault header.tank.leaks 30 % over 5 s every 20 s for 5 s",
        "fault pump.seized when [pump.speed] > 3 rpm",
        "fault header.tank.leaks 30 % over 5 s every 20 s for 5 s when time > 5 s && alert('header.low')",
        "lift pump.seized",
        "hold",
        "resume",
        "speed 4",
        "note good",
        "note on the whole good: they ask",
        "note on 17: good",
        "mark slip",
        "mark unsafe 10 s ago",
        "mark well-done 90 s ago they asked long ago",
        "mark discuss what they said two minutes ago",
        "mark communication 2 pumps were ordered long ago",
        "end",
    ];
    for line in same {
        assert_eq!(read(&[line]), [line]);
    }
}

#[test]
fn other_ways_to_say_it() {
    assert_eq!(
        read(&[
            "  GO   to deck ",
            "set pump local",
            "set header.valve 30 %",
            "set header.valve position 0.3 %",
            "speed x2",
            "fault pump.seized over 1 min",
            "fault pump.seized  when   time > 5 s",
            "say to the boards: hm",
            "note  good",
            "note on 17 : good",
            "mark Slip  1.5 min ago  hm",
        ]),
        [
            "go deck",
            "set pump control local",
            "set header.valve position 30 %",
            "set header.valve position 0.3 %",
            "speed 2",
            "fault pump.seized over 60 s",
            "fault pump.seized when time > 5 s",
            "say to the boards: hm",
            "note good",
            "note on 17: good",
            "mark slip 90 s ago hm",
        ]
    );
}

#[test]
fn questions() {
    let scene = Scene::new();
    let line = |text| scene.line(text);
    assert_eq!(line("read pump.*"), Line::Question(Question::Read("pump.*".to_owned())));
    assert_eq!(line("look"), Line::Question(Question::Look(None)));
    assert_eq!(line("look dg1"), Line::Question(Question::Look(Some("dg1".to_owned()))));
    assert_eq!(line("who"), Line::Question(Question::Who));
    assert_eq!(line("alerts"), Line::Question(Question::Alerts));
    assert_eq!(line("procedure"), Line::Question(Question::Procedure(None)));
    assert_eq!(line("help go"), Line::Question(Question::Help(Some("go".to_owned()))));
    assert_eq!(scene.ask(&crate::tests::kit::ada(), Question::Help(Some("go".to_owned()))).len(), 1);
}

#[test]
fn lines_that_mean_nothing_say_what_could_be_meant() {
    insta::assert_snapshot!(
        read(&[
            "",
            "opn header.valve",
            "op header.valve",
            "open header.valv",
            "open valve",
            "open header",
            "open",
            "open header.valve now",
            "go dek",
            "go",
            "set pump",
            "set pump control",
            "set pump control backwards",
            "set pump 5",
            "set header.valve position 30",
            "set header.valve position 30 bar",
            "set header.tank 5",
            "ack x",
            "fault pump.siezed",
            "fault pump.seized 5",
            "fault pump.seized 5 % over 3",
            "fault pump.seized when",
            "fault pump.seized 5 when time > 5 s",
            "speed fast",
            "say",
            "say to mast: hello",
            "order mast: hello",
            "order pumps",
            "order pumps within 3 bar: go",
            "report pump",
            "bridge start pump",
            "tick suply",
            "shelve header.lo",
            "shelve header.low for 3 bar",
            "look here",
            "note",
            "note on 17:",
            "mark",
            "mark slp",
            "mark praise",
            "mark slip 10 ago",
            "mark slip 10 bar ago",
        ])
        .join("\n")
    );
    let scene = Scene::new();
    let setup = scene.recorder.run().setup.clone();
    assert!(parse(&"x".repeat(700), &Vocabulary::from(setup.as_ref())).is_err());
}

#[test]
fn the_help_names_every_category() {
    let (_, _, help) = WORDS.iter().find(|known| known.0 == "mark").unwrap();
    for (word, _) in CATEGORIES {
        assert!(help.contains(word), "{word}");
    }
}

#[test]
fn a_quantity_is_taken_in_any_unit_of_its_dimension() {
    let scene = Scene::new();
    let Line::Command(Command::Act { verb, setting, value, .. }) =
        scene.line("set header.valve position 30 %")
    else {
        panic!("not an act")
    };
    assert_eq!((verb, setting.as_str(), value), (Verb::Set, "position", 0.3));
}
