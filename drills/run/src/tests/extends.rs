//! A drill that extends another, and what it takes over, leaves out and puts in its place.

use super::kit::{DRILL, PROCEDURE, SHIP, instructor, said};
use crate::drill_file::outline;
use crate::ids::run_id;
use crate::library::Library;
use crate::opening::Opening;
use crate::recorder::Recorder;
use crate::replay::verify;
use crate::setup::Setup;

const HARDER: &str = r#"
format = 1

[drill]
title = "Small drill, with less time"
extends = "small"
without = ["alert-answered", "hello"]
limit = "10 min"

[[expect]]
name = "pump-on"
text = "The pump runs soon"
when = '[pump.running] == "yes"'
within = "1 min"

[[message]]
name = "hurry"
text = "Bridge: be quick"
at = "20 s"

[aim]
hold = "5 s"
"#;

const BOOK: &str = r#"
format = 1
[procedure]
title = "Small drill, with less time, by the book"
drill = "harder"
extends = "small"
without = ["empty"]

[[step]]
name = "empty-at-once"
station = "pumps"
title = "Empty the tank"
do = ["open header.valve"]
"#;

/// The opening of the drill that extends the small one.
fn opening(base: &str, harder: &str, book: &str) -> Opening {
    let files = [
        ("library/small.toml", base),
        ("library/harder.toml", harder),
        ("procedures/small.toml", PROCEDURE),
        ("procedures/small-other.toml", PROCEDURE),
        ("procedures/harder.toml", book),
        ("ships/lighter/ship.toml", SHIP),
    ];
    let library = Library::default().with(files.map(|(name, text)| (name.to_owned(), text.to_owned())));
    library.opening("harder", None).unwrap()
}

#[test]
fn what_a_drill_does_not_say_is_as_in_the_one_that_it_extends() {
    let opening = opening(DRILL, HARDER, BOOK);
    assert_eq!((opening.ship.as_str(), opening.seed), ("lighter", 7));
    // Only what is extended is kept.
    let kept: Vec<&str> = opening.base.iter().flat_map(|base| &base.procedures).map(|f| f.stem()).collect();
    assert_eq!(kept, ["small"]);

    let (setup, _) = Setup::new(opening.clone()).unwrap();
    let drill = &setup.drill;
    assert_eq!(drill.title, "Small drill, with less time");
    assert_eq!((drill.start.as_deref(), drill.limit_s, drill.settle_s), (Some("cold"), Some(600.0), 1.0));
    let names: Vec<(&str, Option<f64>)> =
        drill.expects.iter().map(|expect| (expect.name.as_str(), expect.within_s)).collect();
    assert_eq!(names, [("pump-on", Some(60.0))]);
    let messages: Vec<&str> = drill.messages.iter().map(|message| message.name.as_str()).collect();
    assert_eq!(messages, ["pump-seen", "hurry"]);
    let aim = drill.aim.as_ref().unwrap();
    assert_eq!((aim.text.as_str(), aim.hold_s, aim.ends), ("Tank empty with the pump running", 5.0, true));
    let steps: Vec<&str> = setup.procedures[0].steps.iter().map(|step| step.name.as_str()).collect();
    assert_eq!((setup.procedures.len(), steps), (1, vec!["supply", "pump", "empty-at-once"]));

    let outline = outline(&opening);
    assert_eq!(outline.title, drill.title);
    assert_eq!(outline.aim.as_deref(), Some("Tank empty with the pump running"));
    assert_eq!(outline.expects, [("pump-on".to_owned(), "The pump runs soon".to_owned())]);
}

#[test]
fn its_log_stands_alone() {
    let opening = opening(DRILL, HARDER, BOOK);
    let (mut recorder, mut log) = Recorder::open(run_id("x", 1), opening, &instructor(), "").unwrap();
    for _ in 0..600 {
        log.extend(recorder.tick(""));
    }
    // Through text and back, as it is stored.
    let stored = log.iter().map(|envelope| crate::Envelope::decode(&envelope.encode()).unwrap());
    let verified = verify(&stored.collect::<Vec<_>>()).unwrap();
    assert!(verified.digests > 0 && verified.ticks == 600, "{verified:?}");
}

#[test]
fn a_mistake_is_told_in_the_file_in_which_it_stands() {
    let base =
        DRILL.replace("[pump.running] == \"yes\"'\n\n[[expect]]", "[pump.runing] == \"yes\"'\n\n[[expect]]");
    let harder = HARDER.replace("limit = \"10 min\"", "limit = \"10 bar\"");
    let told = said(opening(&base, &harder, &BOOK.replace("\"pumps\"", "\"pump\"")));
    let files: Vec<&str> = told.iter().filter_map(|line| line.split(':').next()).collect();
    assert_eq!(files, ["library/harder.toml", "library/small.toml", "procedures/harder.toml"], "{told:#?}");
}

#[test]
fn what_something_needs_cannot_be_left_out() {
    let told = |without: &str| {
        let harder = HARDER.replace("\"alert-answered\", \"hello\"", without);
        said(opening(DRILL, &harder, BOOK))
    };
    // It names a station that a message of the base goes to, and which the procedures hold.
    let station = told("\"pumps\"");
    let of_drill: Vec<&String> = station.iter().filter(|line| line.starts_with("library/harder")).collect();
    assert!(
        of_drill.iter().any(|line| line.contains("`pumps` cannot be left out: library/small.toml:")),
        "{station:#?}"
    );
    // The aim of the base waits for it; that there is one of its own in its place would be well.
    let harder = HARDER
        .replace("\"alert-answered\", \"hello\"", "\"pump-on\"")
        .replace("name = \"pump-on\"", "name = \"own\"");
    let told_done = said(opening(DRILL, &harder, BOOK));
    assert_eq!(told_done.len(), 1, "{told_done:#?}");
    assert!(
        told_done[0]
            .starts_with("library/harder.toml:7:12: `pump-on` cannot be left out: library/small.toml:59:8"),
        "{told_done:#?}"
    );
    let unknown = told("\"helo\"");
    assert!(unknown.len() == 1 && unknown[0].contains("did you mean `hello`"), "{unknown:#?}");
    let named = told("\"message/hello\"");
    assert!(named.is_empty(), "{named:#?}");
}

#[test]
fn one_level_only() {
    let own = HARDER.replace("extends = \"small\"", "extends = \"harder\"");
    let told = said(opening(DRILL, &own, BOOK));
    assert!(told.iter().any(|line| line.contains("cannot extend itself")), "{told:#?}");

    let files = [
        ("library/small.toml", DRILL.to_owned()),
        ("library/harder.toml", HARDER.to_owned()),
        (
            "library/hardest.toml",
            "format = 1\n[drill]\ntitle = 'x'\nextends = 'harder'\nship = 'lighter'\nbrief = 'x'\n"
                .to_owned(),
        ),
        ("ships/lighter/ship.toml", SHIP.to_owned()),
    ];
    let library = Library::default().with(files.map(|(name, text)| (name.to_owned(), text)));
    let told = said(library.opening("hardest", None).unwrap());
    assert!(
        told.iter().any(|line| line.starts_with("library/hardest.toml:4:11: `harder` extends `small`")),
        "{told:#?}"
    );
    let missing = Library::default()
        .with([("library/x.toml".to_owned(), "format = 1\n[drill]\nextends = 'smal'\n".to_owned())]);
    assert!(missing.opening("x", None).unwrap_err().to_string().contains("`smal`"));
    // What leaves something out must extend something.
    let told = said(opening(DRILL, &HARDER.replace("extends = \"small\"\n", "ship = \"lighter\"\n"), BOOK));
    assert!(told.iter().any(|line| line.contains("`without`")), "{told:#?}");
}
