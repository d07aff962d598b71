//! Pages of runs of every sort.

use super::beside::is_of;
use super::courses::courses;
use super::moments::moments;
use super::reasons::reasons;
use super::{Wanted, compose as composed};
use crate::library::Library;
use deadship_run::crew::Crew;
use deadship_run::debrief::Debrief;
use deadship_run::fork::{Change, fork};
use deadship_run::ids::run_id;
use deadship_run::measures::{MeasureInput, Measures};
use deadship_run::opening::Parent;
use deadship_run::replay::Until;
use deadship_run::words::{Line, Vocabulary, parse};
use deadship_run::{Envelope, Event, Recorder, Role, Who};
use std::path::Path;

const AT: &str = "2026-03-01T12:34:56Z";

/// The first drill, with people whose names are no names.
struct Class {
    recorder: Recorder,
    log: Vec<Envelope>,
}

impl Class {
    fn open() -> Class {
        let mut library = Library::new(None).unwrap();
        let drill = library.drill("first-light").unwrap();
        let opening = library.opening(drill, Vec::new(), None).unwrap();
        let id = run_id(&opening.drill, opening.seed);
        let (recorder, log) = Recorder::open(id, opening, &Who::person("Bo", Role::Instructor), AT).unwrap();
        Class { recorder, log }
    }

    fn does(&mut self, who: &Who, line: &str) {
        let parsed = parse(line, &Vocabulary::from(self.recorder.run().setup.as_ref())).unwrap();
        let Line::Command(command) = parsed else { panic!("{line} asks") };
        self.log.extend(self.recorder.command(&command, who, None, AT).envelopes);
    }

    fn waits(&mut self, seconds: u32) {
        for _ in 0..seconds * 20 {
            self.log.extend(self.recorder.tick(AT));
        }
    }
}

/// The page without what takes long.
fn compose(log: &[Envelope], names: bool) -> String {
    composed(log, &Wanted { names, ..Wanted::default() })
}

fn ada() -> Who {
    Who::person("Ada", Role::Trainee)
}

#[test]
fn what_people_type_is_text_and_nothing_else() {
    let mut class = Class::open();
    let name = Who::person("<script>alert(1)</script>", Role::Trainee);
    class.does(&name, "station engine");
    class.does(&name, "say </script><img src=x onerror=alert(2)> \" ' &amp;");
    class.does(&name, "note keep: </style><b>");
    for names in [true, false] {
        let page = compose(&class.log, names);
        assert!(!page.contains("<script>alert"), "names: {names}");
        assert!(!page.contains("<img"), "names: {names}");
        assert!(!page.contains("<b>"), "names: {names}");
        // `alert` is a part of the name, and is hidden with it; nobody has a seat under such a name.
        let said = if names { "alert(2)&gt;" } else { "trainee-1(2)&gt;" };
        assert!(page.contains(&format!("&lt;img src=x onerror={said}")), "names: {names}");
        assert_eq!(page.matches("</style>").count(), 1, "names: {names}");
    }
}

#[test]
fn people_stand_under_their_names_only_where_that_is_wanted() {
    let mut class = Class::open();
    class.does(&ada(), "station engine");
    class.does(&ada(), "say Ada is at the engine");
    let bo = Who::person("Bo", Role::Instructor);
    class.does(&bo, "mark slip Ada forgot it");
    class.does(&bo, "rate line-up secure Ada looked at all of it");
    let veiled = compose(&class.log, false);
    assert!(!veiled.contains("Ada"), "a name shows");
    assert!(veiled.contains("engine-1") && veiled.contains("engine-1 forgot it"));
    assert!(veiled.contains("<strong>secure</strong>") && veiled.contains("engine-1 looked at all of it"));
    assert!(compose(&class.log, true).contains("Ada (engine)"));
}

#[test]
fn a_run_may_be_empty_of_one_event_or_without_end() {
    let empty = compose(&[], false);
    assert!(empty.contains("A run without a drill") && empty.ends_with("</html>\n"));
    let class = Class::open();
    let one = compose(&class.log[..1], false);
    assert!(one.contains("First light") && one.contains("opens the run"));
    let mut going = Class::open();
    going.waits(30);
    let page = compose(&going.log, false);
    assert!(page.contains("the log ends before the run was over"));
    assert!(page.contains("The aim was not reached."));
}

/// The page with all that takes long.
fn whole(log: &[Envelope]) -> String {
    composed(log, &Wanted { reasons: true, references: true, ..Wanted::default() })
}

#[test]
fn a_page_of_everything_comes_of_a_run_however_little_of_it_is_there() {
    let empty = whole(&[]);
    assert!(empty.contains("A run without a drill"));
    assert!(empty.contains("No expert: the log does not begin with the opening of a run."));
    let log = pump_out();
    let one = whole(&log[..1]);
    assert!(one.contains("opens the run") && one.contains("the log ends before the run was over"));
    assert!(one.contains("met 1:20.5"), "the expert stands beside a run that has only begun");
    // Damage cuts a record off before its end; other damage leaves a gap.
    let half = whole(&log[..log.len() / 2]);
    assert!(half.contains("the log ends before the run was over") && half.contains("\"courses\":[{"));
    let mut gap = log.clone();
    gap.remove(5);
    let gap = whole(&gap);
    assert!(gap.contains("There are no readings: event 6 is missing"), "the gap is not told");
    assert!(gap.contains("this version cannot replay the record"), "nothing of what was not measured");
    assert!(
        gap.contains("was tripped by its thermal relay") && gap.ends_with("</html>\n"),
        "facts do not stand"
    );
}

#[test]
fn a_run_of_a_newer_model_keeps_its_facts_and_says_what_cannot_be_computed() {
    let mut log = pump_out();
    let Event::RunOpened(opening) = &mut log[0].event else { panic!("a run begins with its opening") };
    let newer = opening.model + 1;
    opening.model = newer;
    // It may even compute the same, as far as anyone can see.
    let page = whole(&log);
    assert!(page.contains(&format!("The run was computed by model {newer}, readings by model")));
    let no_expert = format!("No expert: the run was computed by model {newer}");
    assert!(page.contains(&no_expert) && page.contains("No idle crew: "), "references are made up");
    assert!(!page.contains("class=\"reference") && page.contains("\"references\":[]"));
    for envelope in &mut log {
        if let Event::Digest { digest } = &mut envelope.event {
            *digest = "0123456789abcdef".to_owned();
        }
    }
    let page = whole(&log);
    assert!(page.contains(&format!("(model {newer} then, ")), "the difference is not told");
    assert!(page.contains("this version cannot replay the record") && page.contains(&no_expert));
    assert!(page.contains("was tripped by its thermal relay") && !page.contains("<h4>Why</h4>"));
}

#[test]
fn expert_and_idle_crew_stand_beside_a_run_in_table_drawing_and_words() {
    let log = pump_out();
    let page = whole(&log);
    for text in [
        "Beside expert and idle crew",
        "<th scope=\"col\">This run</th><th scope=\"col\">expert</th><th scope=\"col\">idle crew</th>",
        "\"references\":[\"expert\",\"idle crew\"]",
        "name=\"reference\" value=\"1\"",
        ", expert</th>",
        ", idle crew</th>",
    ] {
        assert!(page.contains(text), "{text} is not there");
    }
    let quick = compose(&log, false);
    assert!(!quick.contains("Beside expert") && !quick.contains("name=\"reference\""));
    let mut none = log.clone();
    let Event::RunOpened(opening) = &mut none[0].event else { panic!("a run begins with its opening") };
    opening.procedures.clear();
    let none = composed(&none, &Wanted { references: true, ..Wanted::default() });
    assert!(
        none.contains("No expert: the drill names no expert")
            && none.contains("\"references\":[\"idle crew\"]")
    );
}

#[test]
fn raters_stand_with_their_words_and_how_far_they_agree() {
    let mut class = Class::open();
    let (bo, cy) = (Who::person("Bo", Role::Instructor), Who::person("Cyrus", Role::Facilitator));
    for (objective, first, second) in [
        ("line-up", "secure", "secure"),
        ("restore-power", "with-help", "secure"),
        ("leave-ready", "secure", "leading"),
    ] {
        class.does(&bo, &format!("rate {objective} {first}"));
        class.does(&cy, &format!("rate {objective} {second} Cyrus saw it"));
    }
    let page = compose(&class.log, false);
    assert!(page.contains("How far raters agree") && !page.contains("Cyrus"), "a rater shows");
    assert!(page.contains("instructor-1") && page.contains("facilitator-1 saw it"));
    assert!(
        page.contains("on scales of 4 levels: 1 of 3 alike; too few items for kappa"),
        "agreement is not there"
    );
    let alone = compose(&class.log[..class.log.len() - 5], false);
    assert!(!alone.contains("How far raters agree"), "one rater agrees with nobody");
}

#[test]
fn a_fork_says_where_it_came_from() {
    let mut log = Class::open().log;
    let Event::RunOpened(opening) = &mut log[0].event else { panic!("a run begins with its opening") };
    let parent = uuid::Uuid::from_u128(0xabc);
    opening.parent = Some(Parent { run: parent, seq: 7, tick: 12_345 });
    let page = compose(&log, false);
    assert!(page.contains(&format!("forked from run {parent} at 10:17.3")), "nothing about the fork");
}

/// The drill on the lighter, so long that it never ends by itself, and so much said that the list is as long as a class makes it.
fn four_hours() -> Vec<Envelope> {
    let mut library = Library::new(Some(Path::new("tests/fixtures"))).unwrap();
    let mut drill = library.drill("pump-out").unwrap();
    drill.text = drill.text.replace("limit = \"5 min\"", "limit = \"5 h\"");
    let opening = library.opening(drill, Vec::new(), None).unwrap();
    let id = run_id(&opening.drill, opening.seed);
    let (recorder, log) = Recorder::open(id, opening, &Who::person("Bo", Role::Instructor), AT).unwrap();
    let mut class = Class { recorder, log };
    class.does(&ada(), "station deck");
    class.does(&ada(), "close shore");
    class.waits(20);
    class.does(&ada(), "go hold");
    class.waits(120);
    for round in 0..1_440 {
        let line = if round % 2 == 0 { "start pump.bilge" } else { "stop pump.bilge" };
        class.does(&ada(), line);
        class.does(&ada(), "say the bilge pump has been worked again, and the bus is looked at");
        class.waits(10);
    }
    class.log
}

#[test]
fn a_run_of_four_hours_stays_small() {
    let log = four_hours();
    assert!(log.last().unwrap().tick >= 4 * 3_600 * 20, "the run is too short");
    let page = compose(&log, false);
    assert!(page.matches("the bus is looked at").count() >= 1_440, "something said is missing");
    assert!(page.contains("\"courses\":[{"), "there is no course");
    assert!(page.len() < 5_000_000, "{} bytes", page.len());
}

/// The robot crew that leaves the sea water pump off, until the set has shut down.
#[test]
fn a_shutdown_is_a_moment_and_shows_in_the_reading_that_was_measured() {
    let mut library = Library::new(None).unwrap();
    let drill = library.drill("first-light").unwrap();
    let procedures = library.procedures_for(drill.stem());
    let opening = library.opening(drill, procedures, None).unwrap();
    let id = run_id(&opening.drill, opening.seed);
    let (mut recorder, mut log) = Recorder::open(id, opening, &ada(), AT).unwrap();
    let mut crew = Crew::new(&recorder.run().setup, Some("first-light-pump-forgotten")).unwrap();
    while recorder.run().tick() < 35 * 60 * 20 {
        log.extend(crew.act(&mut recorder, AT));
        log.extend(recorder.tick(AT));
    }
    let debrief = Debrief::of(&log);
    let moments = moments(&log, &debrief, &Measures::of(&MeasureInput::of_log(&log)));
    assert!((3..=5).contains(&moments.len()), "{} moments", moments.len());
    let courses = courses(&log, &debrief, &moments);
    assert_eq!(courses.doubt, None);
    let at = moments.iter().position(|moment| moment.title.contains("shut down by HT temperature")).unwrap();
    let first = &courses.moments[at][0];
    assert_eq!(
        (first.name.as_str(), first.unit, first.limit),
        ("dg1.engine.ht-temperature", "°C", Some(97.0))
    );
    let trip = moments[at].tick;
    let each_tick = first.points.iter().filter(|point| (trip - 400..=trip).contains(&point.0)).count();
    assert_eq!(each_tick, 401, "not every tick before the trip is there");
    assert!(moments[at].window.0 + 10 * 60 * 20 < trip, "what led to it is not in the window");
    assert!(moments.iter().any(|moment| moment.title.starts_with("Missed: Sea water flows again")));
    let evidence = &courses.evidence["cooling-back"];
    assert!(evidence.iter().any(|(name, _)| name == "sea.header.gauge.pressure"), "{evidence:?}");
}

/// The drill on the lighter by its robot crew: the relay of the pump trips.
fn pump_out() -> Vec<Envelope> {
    let mut library = Library::new(Some(Path::new("tests/fixtures"))).unwrap();
    let drill = library.drill("pump-out").unwrap();
    let procedures = library.procedures_for(drill.stem());
    let opening = library.opening(drill, procedures, None).unwrap();
    let id = run_id(&opening.drill, opening.seed);
    let (mut recorder, mut log) = Recorder::open(id, opening, &ada(), AT).unwrap();
    let mut crew = Crew::new(&recorder.run().setup, Some("pump-out")).unwrap();
    while recorder.run().goes() {
        log.extend(crew.act(&mut recorder, AT));
        log.extend(recorder.tick(AT));
    }
    log
}

#[test]
fn a_trip_is_led_back_to_its_fault() {
    let log = pump_out();
    let measures = Measures::of(&MeasureInput::of_log(&log));
    let moments = moments(&log, &Debrief::of(&log), &measures);
    let at = moments.iter().position(|moment| moment.title.contains("thermal relay")).unwrap();
    let reasons = reasons(&log, &moments, &|text| text.replace("drill", "somebody"));
    assert_eq!(reasons.len(), moments.len());
    let fault = reasons[at].iter().find(|reason| reason.text.contains("overload-relay-trips")).unwrap();
    assert!(fault.seq.is_some() && !fault.below.is_empty());
    assert!(fault.text.contains("somebody"), "a name would show: {}", fault.text);
    let page = composed(&log, &Wanted { reasons: true, ..Wanted::default() });
    assert!(page.contains("<h4>Why</h4>") && page.contains("does not come (looked on until"));
    let ways = page.split("href=\"#e").skip(1).filter_map(|rest| rest.split('"').next()?.parse::<u64>().ok());
    let lost: Vec<u64> = ways.filter(|seq| !page.contains(&format!("<tr id=\"e{seq}\""))).collect();
    assert!(lost.is_empty(), "ways to events that have no row: {lost:?}");
}

#[test]
fn another_course_stands_beside_the_run_and_a_strange_one_does_not() {
    let log = pump_out();
    let trip = log.iter().find(|envelope| matches!(&envelope.event, Event::FaultSet { .. })).unwrap();
    let (drop, other) = (Change::Drop { seq: trip.seq }, uuid::Uuid::from_u128(1));
    let (_, other) = fork(&log, Until::End, other, &[drop], &ada(), AT).unwrap();
    assert!(is_of(&other, &log) && !is_of(&log, &log) && !is_of(&log, &other));
    let others = [other];
    let page = composed(&log, &Wanted { others: &others, ..Wanted::default() });
    assert!(page.contains("As it would have gone") && page.contains("pump.bilge tripped-overload"));
    assert!(!composed(&log, &Wanted::default()).contains("As it would have gone"));
}
