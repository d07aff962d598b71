//! What `check` says of files with a mistake each: a folder for each sort of file, a file or a folder for each mistake. The comment at
//! its beginning says what its author did. Whoever reads the snapshots reads what an author reads.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

mod common;

use common::deadship;
use std::fmt::Write;
use std::fs;
use std::path::Path;

/// Files and folders of one sort, by name.
fn faulty(sort: &str) -> Vec<String> {
    let folder = Path::new("tests/faulty").join(sort);
    let entries = fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path());
    let mut names: Vec<String> = entries.map(|path| path.to_str().unwrap().replace('\\', "/")).collect();
    names.sort();
    names
}

/// What the author did, by the comment that the file begins with.
fn done(path: &str) -> String {
    let path = Path::new(path);
    let first = match path.is_dir() {
        false => path.to_owned(),
        true => {
            ["main.toml", "library"].iter().map(|name| path.join(name)).find(|path| path.exists()).unwrap()
        }
    };
    let file = match first.is_dir() {
        true => fs::read_dir(first).unwrap().next().unwrap().unwrap().path(),
        false => first,
    };
    let text = fs::read_to_string(file).unwrap();
    let comment = text.trim_start_matches('\u{feff}').lines().take_while(|line| line.starts_with('#'));
    comment.map(|line| line.trim_start_matches(['#', ' '])).collect::<Vec<_>>().join(" ")
}

/// Checks all of one sort: each is refused, and everything that is said of it names file, line and column.
fn told(sort: &str) -> String {
    let mut told = String::new();
    for path in faulty(sort) {
        let said = deadship(&["--data", "tests/fixtures", "check", &path]);
        assert_eq!(said.status, 1, "{path} passes, or cannot be checked: {}{}", said.out, said.talk);
        assert!(!said.out.is_empty(), "{path}: nothing is said");
        for line in said.out.lines() {
            let place = line.strip_prefix(path.as_str()).unwrap_or_else(|| panic!("{path}: {line}"));
            // Of a folder, the file comes first.
            let numbers = match place.starts_with(':') {
                true => place,
                false => place.split_once(".toml").map_or(place, |(_, after)| after),
            };
            let numbers: Vec<&str> = numbers.splitn(4, ':').collect();
            assert!(numbers.len() == 4, "{path}: {line}");
            assert!(numbers[1].parse::<u32>().is_ok_and(|line| line > 0), "{path}: {line}");
            assert!(numbers[2].parse::<u32>().is_ok_and(|column| column > 0), "{path}: {line}");
        }
        let short = path.strip_prefix(&format!("tests/faulty/{sort}/")).unwrap();
        write!(told, "== {short}: {}\n{}", done(&path), said.out.replace(&path, short)).unwrap();
    }
    told
}

#[test]
fn text_that_is_no_toml() {
    insta::assert_snapshot!("toml", told("toml"));
}

#[test]
fn drills() {
    insta::assert_snapshot!("drill", told("drill"));
}

#[test]
fn conditions() {
    insta::assert_snapshot!("condition", told("condition"));
}

#[test]
fn procedures() {
    insta::assert_snapshot!("procedure", told("procedure"));
}

#[test]
fn rigs() {
    insta::assert_snapshot!("rig", told("rig"));
}

#[test]
fn ships_of_several_files() {
    insta::assert_snapshot!("ships", told("ships"));
}

#[test]
fn folders_of_a_drill_and_its_procedures() {
    insta::assert_snapshot!("folder", told("folder"));
}
