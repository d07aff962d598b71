//! The drills that come with the program.

mod common;

use common::{deadship, folder};
use deadship_run::library::Library;
use proptest::prelude::*;
use std::fs;

#[test]
fn every_drill_can_be_rehearsed_and_gives_the_same_twice() {
    for drill in Library::built_in().drills() {
        let folder = folder();
        let record = folder.path().join("run.jsonl");
        let record = record.to_str().unwrap();
        let first = deadship(&["rehearse", drill, "--record", record, "--quiet"]);
        assert!(first.status <= 1, "{drill}: {}", first.talk);
        let second = deadship(&["rehearse", drill, "--quiet"]);
        assert_eq!(first.out, second.out, "{drill}");
        let verified = deadship(&["replay", record, "--verify"]);
        assert_eq!(verified.status, 0, "{drill}: {}{}", verified.out, verified.talk);
        assert_eq!(deadship(&["rehearse", drill, "--crew", "idle", "--quiet"]).status, 1, "{drill}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// Whatever an action file holds: it is done, refused, or told with its line.
    #[test]
    fn no_action_file_is_too_odd(
        lines in prop::collection::vec(
            ("[0-4](\\.[0-9])?", "(open|close|start|stop|reset|set|fault|lift|ack|note|shelve)", 0usize..400, "( remote| auto| 50 %| 440 V| mode automatic|\\.stuck|\\.seized 80 %)?"),
            0..12,
        )
    ) {
        let opening = Library::built_in().ship("quillmere").unwrap();
        let files: Vec<(String, String)> = opening.into_iter().map(|f| (f.name, f.text)).collect();
        let spec = deadship_plant::file::read_ship(deadship_plant::kinds::REGISTRY, &files).unwrap();
        let text: Vec<String> = lines
            .into_iter()
            .map(|(at, verb, component, rest)| {
                let component = &spec.components[component % spec.components.len()].name;
                format!("at {at}s: {verb} {component}{rest}")
            })
            .collect();
        let folder = folder();
        let file = folder.path().join("actions.txt");
        let args = ["trial", "quillmere", "--state", "dead ship", "--for", "5s", "--readings", "*"];
        // Lines that mean nothing are told, all at once; those that mean something are done one by one.
        fs::write(&file, text.join("\n")).unwrap();
        let told = deadship(&[&args[..], &["--actions", file.to_str().unwrap()]].concat());
        prop_assert!(told.status <= 2);
        let wrong: Vec<usize> = told
            .talk
            .lines()
            .filter_map(|line| line.strip_prefix(file.to_str().unwrap())?.split(':').nth(1)?.parse().ok())
            .collect();
        if told.status == 2 {
            let kept: Vec<&str> = (1..).zip(&text).filter(|(i, _)| !wrong.contains(i)).map(|(_, t)| t.as_str()).collect();
            fs::write(&file, kept.join("\n")).unwrap();
            let told = deadship(&[&args[..], &["--actions", file.to_str().unwrap()]].concat());
            prop_assert!(told.status <= 1, "{}", told.talk);
        }
    }
}
