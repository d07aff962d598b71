//! What `new` writes is right as it stands.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod common;

use common::{deadship, folder};
use std::fs;
use std::path::Path;

/// Calls the program with this folder for data.
fn at(folder: &Path, args: &[&str]) -> common::Told {
    deadship(&[&["--data", folder.to_str().unwrap()], args].concat())
}

/// The drill that was just written can be checked, is a good one, and is proved.
fn is_proved(folder: &Path, name: &str) {
    let path = folder.join("library").join(format!("{name}.toml"));
    let path = path.to_str().unwrap();
    let procedures = folder.join("procedures");
    for one in [path, procedures.to_str().unwrap()] {
        let told = at(folder, &["check", one]);
        assert_eq!((told.status, told.out.as_str()), (0, ""), "{}", told.talk);
    }
    let told = at(folder, &["lint", path]);
    assert_eq!((told.status, told.out.as_str()), (0, ""), "{}", told.talk);
    let told = at(folder, &["prove", path, "--seeds", "2"]);
    assert_eq!(told.status, 0, "{}", told.out);
    assert!(told.out.contains("2 of 2 pass") && told.out.contains("0 of 2 pass"), "{}", told.out);
}

#[test]
fn a_drill_on_the_usual_ship_is_proved_as_it_stands() {
    let folder = folder();
    let told = at(folder.path(), &["new", "drill", "night-watch"]);
    assert_eq!(told.status, 0, "{}", told.talk);
    let written: Vec<&str> = told.out.lines().filter_map(|line| line.rsplit('/').next()).collect();
    assert_eq!(written, ["night-watch.toml", "night-watch.toml", "night-watch-left-out.toml"]);
    assert!(told.talk.contains("deadship check ") && told.talk.contains("deadship prove "), "{}", told.talk);
    is_proved(folder.path(), "night-watch");
}

#[test]
fn a_drill_on_another_ship_is_about_that_ship() {
    let folder = folder();
    let told = at(folder.path(), &["new", "drill", "warm-up", "--ship", "tamberwick"]);
    assert_eq!(told.status, 0, "{}", told.talk);
    is_proved(folder.path(), "warm-up");
}

#[test]
fn a_ship_and_a_drill_on_her() {
    let folder = folder();
    let told = at(folder.path(), &["new", "ship", "wagtail"]);
    assert_eq!(told.status, 0, "{}", told.talk);
    assert_eq!(told.out.lines().count(), 4);
    let ship = folder.path().join("ships/wagtail");
    let ship = ship.to_str().unwrap();
    let told = at(folder.path(), &["check", ship]);
    assert_eq!((told.status, told.out.as_str()), (0, ""), "{}", told.talk);
    let actions = folder.path().join("actions.txt");
    fs::write(&actions, "at 5s: start pump\n").unwrap();
    let actions = actions.to_str().unwrap();
    let trial =
        ["trial", ship, "--state", "shore power", "--actions", actions, "--for", "60s", "--every", "60s"];
    let told = at(
        folder.path(),
        &[&trial[..], &["--readings", "pump.running,pump.end.flow", "--display-units"]].concat(),
    );
    let last = told.out.lines().last().unwrap();
    assert!(last.starts_with("60,yes,4"), "the pump draws and delivers: {last}");
    let told = at(folder.path(), &["new", "drill", "first-pump", "--ship", "wagtail"]);
    assert_eq!(told.status, 0, "{}", told.talk);
    is_proved(folder.path(), "first-pump");
}

#[test]
fn a_rig_shows_what_it_says() {
    let folder = folder();
    let told = at(folder.path(), &["new", "rig", "two-pipes"]);
    assert_eq!(told.status, 0, "{}", told.talk);
    let path = told.out.trim();
    assert_eq!(at(folder.path(), &["check", path]).status, 0);
    let trial =
        ["trial", path, "--for", "10s", "--every", "10s", "--readings", "gauge.pressure", "--display-units"];
    let told = at(folder.path(), &trial);
    let shown: f64 = told.out.lines().last().unwrap().split(',').nth(1).unwrap().parse().unwrap();
    assert!((shown - 1.5).abs() < 0.0015, "{shown}");
}

#[test]
fn procedures_for_drills_with_and_without_an_expert() {
    let folder = folder();
    let told = at(folder.path(), &["new", "procedure", "first-light-too-late"]);
    assert_eq!(told.status, 0, "{}", told.talk);
    assert_eq!(at(folder.path(), &["check", told.out.trim()]).status, 0);
    assert!(fs::read_to_string(told.out.trim()).unwrap().contains("extends = \"first-light\""));
    assert_eq!(at(folder.path(), &["new", "drill", "lone-watch"]).status, 0);
    for name in ["lone-watch", "lone-watch-left-out"] {
        fs::remove_file(folder.path().join(format!("procedures/{name}.toml"))).unwrap();
    }
    let told = at(folder.path(), &["new", "procedure", "lone-watch-late"]);
    assert_eq!(told.status, 2);
    assert!(told.talk.contains("new procedure lone-watch"), "{}", told.talk);
    let told = at(folder.path(), &["new", "procedure", "lone-watch"]);
    assert_eq!(told.status, 0, "{}", told.talk);
    let told = at(folder.path(), &["check", told.out.trim()]);
    assert_eq!(told.status, 0, "{}", told.out);
    let told = at(folder.path(), &["new", "procedure", "nothing-known"]);
    assert!(told.status == 2 && told.talk.contains("--drill"), "{}", told.talk);
}

#[test]
fn nothing_is_overwritten_and_no_name_is_odd() {
    let folder = folder();
    assert_eq!(at(folder.path(), &["new", "rig", "mine"]).status, 0);
    let path = folder.path().join("rigs/mine.toml");
    fs::write(&path, "# mine\n").unwrap();
    assert_eq!(at(folder.path(), &["new", "rig", "mine"]).status, 2);
    assert_eq!(fs::read_to_string(&path).unwrap(), "# mine\n");
    // One of its files is there: none is written.
    let procedures = folder.path().join("procedures");
    fs::create_dir_all(&procedures).unwrap();
    fs::write(procedures.join("half-left-out.toml"), "# mine\n").unwrap();
    assert_eq!(at(folder.path(), &["new", "drill", "half"]).status, 2);
    assert!(!folder.path().join("library/half.toml").exists());
    for name in ["Upper", "with space", "../up", "a/b", "", "7th", "ümlaut"] {
        assert_eq!(at(folder.path(), &["new", "drill", name]).status, 2, "{name}");
    }
    assert_eq!(at(folder.path(), &["new", "drill", "first-light"]).status, 2, "it is built in");
    let told = at(folder.path(), &["new", "drill", "mine", "--ship", "quilmere"]);
    assert!(told.status == 2 && told.talk.contains("quillmere"), "{}", told.talk);
}

#[test]
fn the_drill_of_the_guide_is_proved() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/tutorial");
    is_proved(&folder, "warm-harbour");
}
