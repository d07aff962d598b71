//! Drills that extend others or depend on dials, and ships, as authors look at them.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod common;

use common::{deadship, folder};
use std::fs;

const COUSIN: &str = r#"format = 1
[drill]
title = "Getting warm, without a call"
extends = "getting-warm"
without = ["wheelhouse-asks"]
"#;

const BOOK: &str = r#"format = 1
[procedure]
title = "Getting warm, without a call, as an expert crew does it"
drill = "quiet-warm"
extends = "getting-warm"
without = ["flow-back"]
"#;

/// A folder of one's own with a drill that extends one that is built in.
fn cousin(drill: &str) -> (tempfile::TempDir, String) {
    let folder = folder();
    for (name, text) in [("library/quiet-warm.toml", drill), ("procedures/quiet-warm.toml", BOOK)] {
        let path = folder.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }
    let path = folder.path().join("library/quiet-warm.toml").to_str().unwrap().to_owned();
    (folder, path)
}

#[test]
fn an_own_drill_may_extend_one_that_is_built_in() {
    let (folder, path) = cousin(COUSIN);
    let data = folder.path().to_str().unwrap();
    let told = deadship(&["check", &path, &path.replace("library", "procedures")]);
    assert_eq!((told.status, told.out.as_str()), (0, ""), "{}", told.talk);
    let told = deadship(&["--data", data, "list"]);
    assert!(told.out.contains("Getting warm, without a call (on wrenfold)"), "{}", told.out);
    let told = deadship(&["--data", data, "inspect", "quiet-warm"]);
    assert!(
        told.out.contains("strainer-opened") && told.out.contains("Procedure quiet-warm"),
        "{}",
        told.out
    );
    assert!(!told.out.contains("Tell me whether I can count on the winch"), "{}", told.out);
    let told = deadship(&["diff", "getting-warm", &path]);
    assert!(told.status == 1 && told.out.contains("- order wheelhouse-asks"), "{}", told.out);
}

#[test]
fn what_is_wrong_is_told_where_it_stands() {
    let (_folder, path) = cousin(&COUSIN.replace("wheelhouse-asks", "power-kept"));
    let told = deadship(&["check", &path]);
    assert_eq!(told.status, 1);
    // The aim of the other drill waits for it.
    assert!(told.out.contains("quiet-warm.toml:5:12: `power-kept` cannot be left out"), "{}", told.out);
    let (_folder, path) = cousin(&COUSIN.replace("\"getting-warm\"", "\"getting-wram\""));
    let told = deadship(&["check", &path]);
    assert!(told.out.contains("quiet-warm.toml:4:11:"), "{}", told.out);
    assert!(told.out.contains("did you mean `getting-warm`"), "{}", told.out);
}

#[test]
fn dials_are_shown_and_turned() {
    let usual = deadship(&["inspect", "lights-gone"]);
    assert!(usual.out.contains("only with stress high"), "{}", usual.out);
    assert!(!usual.out.contains("count your people below"), "{}", usual.out);
    let high = deadship(&["inspect", "lights-gone", "--stress", "high"]);
    assert!(high.out.contains("count your people below"), "{}", high.out);
    assert!(high.out.contains("difficulty usual, stress high"), "{}", high.out);
    let wrong = deadship(&["inspect", "lights-gone", "--stress", "hihg"]);
    assert!(wrong.status != 0 && wrong.talk.contains("low, usual or high"), "{}", wrong.talk);
}

#[test]
fn a_ship_is_shown_with_what_stands_where() {
    let told = deadship(&["inspect", "--ship", "wrenfold", "--only", "sea.*"]);
    assert_eq!(told.status, 0, "{}", told.talk);
    for part in ["chest-bay", "sea.port.strainer", "vent", "in service"] {
        assert!(told.out.contains(part), "{part}: {}", told.out);
    }
    assert!(!told.out.contains("dg1.engine"), "{}", told.out);
    let json = deadship(&["inspect", "--ship", "quillmere", "--form", "json"]);
    let ship: serde_json::Value = serde_json::from_str(&json.out).unwrap();
    let places = ship["places"].as_array().unwrap();
    let count: usize = places.iter().map(|place| place["components"].as_array().unwrap().len()).sum();
    assert!(count > 300, "{count}");
    let hint = deadship(&["inspect", "quillmere"]);
    assert!(hint.talk.contains("inspect --ship quillmere"), "{}", hint.talk);
    let none = deadship(&["inspect", "--ship", "wrenfold", "--only", "zzz.*"]);
    assert!(none.status != 0 && none.talk.contains("zzz"), "{}", none.talk);
}
