//! `deadship fmt`, from the command line to the exit status.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod common;

use common::{copy_fixtures, deadship, deadship_with, folder};
use std::fs;
use std::path::Path;

/// Spoils a file without changing what it says.
fn spoil(path: &Path) -> String {
    let text = fs::read_to_string(path).unwrap();
    let spoiled = text.replacen("name = ", "name=", 1);
    assert_ne!(spoiled, text);
    fs::write(path, &spoiled).unwrap();
    spoiled
}

#[test]
fn everything_that_comes_with_the_program_is_formatted() {
    let told = deadship(&["fmt", "--check"]);
    assert_eq!((told.status, told.out.as_str()), (0, ""), "{}", told.talk);
    assert!(told.talk.contains("files looked at: nothing to format"), "{}", told.talk);
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    for part in ["drills/data", "docs/tutorial", "client-cli/tests/fixtures"] {
        let told = deadship(&["fmt", "--check", root.join(part).to_str().unwrap()]);
        assert_eq!((told.status, told.out.as_str()), (0, ""), "{part}: {}", told.talk);
    }
}

#[test]
fn what_new_writes_is_formatted() {
    let folder = folder();
    let data = folder.path().to_str().unwrap();
    for made in [
        &["new", "ship", "wagtail"][..],
        &["new", "drill", "first-pump", "--ship", "wagtail"],
        &["new", "drill", "night-watch"],
        &["new", "procedure", "night-watch-late"],
        &["new", "rig", "two-pipes"],
    ] {
        assert_eq!(deadship(&[&["--data", data], made].concat()).status, 0);
    }
    let told = deadship(&["fmt", "--check", "--data", data]);
    assert_eq!((told.status, told.out.as_str()), (0, ""), "{}", told.talk);
}

#[test]
fn a_file_is_looked_at_then_formatted_then_left_alone() {
    let folder = folder();
    copy_fixtures(folder.path());
    let data = folder.path().to_str().unwrap();
    let path = folder.path().join("library/pump-out.toml");
    let was = fs::read_to_string(&path).unwrap();
    let spoiled = spoil(&path);
    let line = 1 + was.lines().position(|line| line.starts_with("name = ")).unwrap();
    let told = deadship(&["fmt", "--check", "--data", data]);
    let place = format!("{}:{line}:1", path.display());
    assert_eq!(
        (told.status, told.out),
        (1, format!("{place}: is not formatted (becomes `name = \"deck\"`)\n")),
        "{}",
        told.talk
    );
    assert!(told.talk.contains("1 is not formatted"), "{}", told.talk);
    assert_eq!(fs::read_to_string(&path).unwrap(), spoiled, "--check writes nothing");
    let told = deadship(&["fmt", "--check", "--json", "--data", data]);
    let told: serde_json::Value = serde_json::from_str(told.out.trim()).unwrap();
    assert_eq!(told["line"], line);
    assert_eq!(told["file"].as_str(), path.to_str());

    let told = deadship(&["fmt", "--data", data]);
    assert_eq!(told.status, 0, "{}", told.talk);
    assert!(
        told.out.starts_with(&place) && told.talk.ends_with("1 formatted\n"),
        "{} {}",
        told.out,
        told.talk
    );
    assert_eq!(fs::read_to_string(&path).unwrap(), was);
    let told = deadship(&["fmt", path.to_str().unwrap()]);
    assert_eq!((told.status, told.out.as_str()), (0, ""));
    assert_eq!(told.talk, "1 file looked at: nothing to format\n");
}

#[test]
fn a_file_that_is_no_toml_is_left_alone_and_the_others_are_formatted() {
    let folder = folder();
    copy_fixtures(folder.path());
    let (broken, other) =
        (folder.path().join("library/pump-out.toml"), folder.path().join("procedures/pump-out.toml"));
    let text = fs::read_to_string(&broken).unwrap().replace("name = \"deck\"", "name=\"deck");
    fs::write(&broken, &text).unwrap();
    spoil(&other);
    let told = deadship(&["fmt", folder.path().to_str().unwrap()]);
    assert_eq!(told.status, 1);
    let checked = deadship(&["check", broken.to_str().unwrap()]);
    assert!(!checked.out.is_empty() && told.out.contains(&checked.out), "{} {}", told.out, checked.out);
    assert!(told.talk.contains("1 formatted, 1 left alone"), "{}", told.talk);
    assert_eq!(fs::read_to_string(&broken).unwrap(), text);
    assert!(fs::read_to_string(&other).unwrap().contains("name = "));
}

#[test]
fn from_the_input_to_the_output() {
    let told = deadship_with("a=1#x\n", &["fmt", "-"]);
    assert_eq!((told.status, told.out.as_str(), told.talk.as_str()), (0, "a = 1 #x\n", ""));
    let told = deadship_with("a = 1\r\n", &["fmt", "-"]);
    assert_eq!((told.status, told.out.as_str()), (0, "a = 1\r\n"));
    let told = deadship_with("a=1\n", &["fmt", "-", "--check"]);
    assert_eq!((told.status, told.out.as_str()), (1, "-:1:1: is not formatted (becomes `a = 1`)\n"));
    assert_eq!(deadship_with("a = 1\n", &["fmt", "-", "--check"]).status, 0);
    let told = deadship_with("a = \n", &["fmt", "-"]);
    assert_eq!((told.status, told.out.as_str()), (1, ""));
    assert!(told.talk.starts_with("-:1:"), "{}", told.talk);
    assert_eq!(deadship_with("", &["fmt", "-", "x.toml"]).status, 2);
}

#[test]
fn what_cannot_be_done_is_said() {
    let told = deadship(&["fmt"]);
    assert_eq!(told.status, 2);
    assert!(told.talk.contains("--data"), "{}", told.talk);
    assert_eq!(deadship(&["fmt", "no-such.toml"]).status, 2);
    let folder = folder();
    let path = folder.path().join("a.toml");
    fs::write(&path, [0x61, 0x3d, 0xff]).unwrap();
    let told = deadship(&["fmt", path.to_str().unwrap()]);
    assert!(told.status == 1 && told.out.contains("UTF-8"), "{}{}", told.out, told.talk);
    assert_eq!(fs::read(&path).unwrap(), [0x61, 0x3d, 0xff]);
}
