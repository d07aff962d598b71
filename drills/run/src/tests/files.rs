//! Drill and procedure files: everything wrong is said at once, with its place.

use super::kit::{DRILL, PROCEDURE, opening_with, said};
use crate::library::{BUILT_IN, Library};
use crate::opening::TextFile;
use crate::setup::Setup;

#[test]
fn all_mistakes_in_one_pass() {
    let drill = DRILL
        .replace("start = \"cold\"", "start = \"cald\"")
        .replace("limit = \"20 min\"", "limit = \"20 bar\"")
        .replace("start = \"pump-room\"", "start = \"pump-rom\"")
        .replace("header.tank.leaks", "header.tank.leeks")
        .replace("to = \"pumps\"", "to = \"pump\"")
        .replace("[header.valve.position]", "[header.valve.positon]")
        .replace("alert(\"header.low\")", "alert(\"header.lo\")")
        .replace("ends = true", "end = true");
    let procedure = PROCEDURE
        .replace("after = [\"supply\"]", "after = [\"suply\"]")
        .replace("open header.valve", "open header.valv")
        .replace("station = \"pumps\"", "station = \"bridge\"");
    insta::assert_snapshot!(said(opening_with(&drill, &[&procedure])).join("\n"));
}

#[test]
fn steps_cannot_wait_for_each_other() {
    let procedure =
        PROCEDURE.replace("title = \"Shore supply on\"", "title = \"Shore supply on\"\nafter = \"empty\"");
    let said = said(opening_with(DRILL, &[&procedure]));
    assert_eq!(said, ["procedures/small-book.toml:12:9: `empty` is not written before this step"]);
}

#[test]
fn what_must_be_there() {
    let said = said(opening_with(
        "format = 1\n[[fault]]\nname = 'x'\n[[station]]\n[[message]]\n[[expect]]\n[aim]\n",
        &[],
    ));
    assert!(said.len() >= 12, "{said:#?}");
    assert!(said.iter().any(|line| line.contains("the file has no `[drill]`")), "{said:#?}");
}

#[test]
fn a_newer_format_is_refused() {
    let said = said(opening_with(&DRILL.replace("format = 1", "format = 2"), &[]));
    assert_eq!(said.len(), 1);
    assert!(said[0].contains("this file is format 2, this program reads 1"), "{said:#?}");
}

#[test]
fn the_library_finds_what_belongs_together() {
    let files = [
        ("library/small.toml", DRILL),
        ("procedures/small-book.toml", PROCEDURE),
        ("procedures/other.toml", "format = 1\n[procedure]\ndrill = 'other'"),
        ("ships/lighter/b.toml", "format = 1"),
        ("ships/lighter/a.toml", super::kit::SHIP),
        ("rigs/one.toml", "format = 1"),
    ];
    let library = Library::default().with(files.map(|(name, text)| (name.to_owned(), text.to_owned())));
    assert_eq!(
        (library.drills(), library.ships(), library.rigs()),
        (vec!["small"], vec!["lighter"], vec!["one"])
    );
    let opening = library.opening("small", None).unwrap();
    assert_eq!((opening.seed, opening.drill.as_str(), opening.ship.as_str()), (7, "small", "lighter"));
    let names: Vec<&str> = opening.ship_files.iter().map(|file| file.name.as_str()).collect();
    assert_eq!(names, ["ships/lighter/a.toml", "ships/lighter/b.toml"]);
    assert_eq!(opening.procedures.iter().map(TextFile::stem).collect::<Vec<_>>(), ["small-book"]);
    assert_eq!(
        library.opening("smal", None).unwrap_err().to_string(),
        "there is no drill `smal` (did you mean `small`?)"
    );
    assert_eq!(library.ship("one").unwrap().len(), 1);
}

#[test]
fn the_built_in_table_is_sorted() {
    assert!(BUILT_IN.is_sorted_by_key(|(name, _)| name));
}

#[test]
fn every_built_in_drill_can_be_opened() {
    let library = Library::built_in();
    for drill in library.drills() {
        let said = said(library.opening(drill, None).unwrap());
        assert!(said.is_empty(), "{drill}: {said:#?}");
    }
}

#[test]
fn a_drill_that_is_no_toml_says_where() {
    let open = |text: &str| {
        let file = ("library/mine.toml".to_owned(), text.to_owned());
        let opening = Library::built_in().with([file]).opening("mine", None).unwrap();
        Setup::new(opening).err().unwrap().to_string()
    };
    assert!(open("format = 1\n[drill\n").starts_with("library/mine.toml:2:"));
    let error = open("format = 1\n");
    assert!(error.contains("library/mine.toml") && error.contains("has no `[drill]`"), "{error}");
}
