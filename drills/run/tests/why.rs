//! Why, what if and the search for what would have helped, on whole drills of both ships.

use deadship_run::crew::Crew;
use deadship_run::debrief::{Debrief, is_trip};
use deadship_run::fork::{Change, fork_telling};
use deadship_run::ids::{derived_run, run_id};
use deadship_run::library::Library;
use deadship_run::opening::TextFile;
use deadship_run::replay::Until;
use deadship_run::timeline::{clock, what};
use deadship_run::whatif::{Effect, WhatIf, search};
use deadship_run::why::{Cause, Sort, Why, why};
use deadship_run::words::{Line, Vocabulary, parse};
use deadship_run::{Envelope, Event, Recorder, Role, Who};

const TICKS_A_SECOND: u64 = 20;

fn teacher() -> Who {
    Who::person("teacher", Role::Instructor)
}

/// A drill with a robot crew, to its end or so long.
fn rehearsed(drill: &str, procedure: &str, at_most_s: u64) -> Vec<Envelope> {
    rehearsed_without(drill, procedure, &[], at_most_s)
}

/// The same with some steps left out.
fn rehearsed_without(drill: &str, procedure: &str, without: &[&str], at_most_s: u64) -> Vec<Envelope> {
    let mut opening = Library::built_in().opening(drill, None).expect("the drill can be opened");
    for file in opening.procedures.iter_mut().filter(|file| file.stem() == procedure) {
        let is_out = |step: &&str| without.iter().any(|name| step.contains(&format!("name = \"{name}\"")));
        let steps = file.text.split("[[step]]").filter(|step| !is_out(step));
        *file = TextFile::new(file.name.clone(), steps.collect::<Vec<_>>().join("[[step]]"));
    }
    let (mut recorder, mut log) =
        Recorder::open(run_id(drill, 1), opening, &teacher(), "").expect("the drill can be opened");
    let mut crew = Crew::new(&recorder.run().setup, Some(procedure)).expect("the drill can be opened");
    while recorder.run().goes() && recorder.run().tick() < at_most_s * TICKS_A_SECOND {
        log.extend(crew.act(&mut recorder, ""));
        log.extend(recorder.tick(""));
    }
    log
}

/// A ship without a crew, with lines of the instructor's, each at its second.
fn directed(ship: &str, state: &str, lines: &[(u64, &str)], length_s: u64) -> Vec<Envelope> {
    let drill = format!(
        "format = 1\n[drill]\ntitle = \"Test\"\nship = \"{ship}\"\nstart = \"{state}\"\nsettle = \"60 s\"\nlimit = \
         \"2 h\"\nseed = 1\nbrief = \"Invented, for a test.\"\n[[station]]\nname = \"watch\"\ntitle = \"Watch\"\n\
         start = \"control-room\"\n"
    );
    let library = Library::built_in().with([("library/test.toml".to_owned(), drill)]);
    let opening = library.opening("test", None).expect("the drill can be opened");
    let (mut recorder, mut log) =
        Recorder::open(run_id("test", 1), opening, &teacher(), "").expect("the drill can be opened");
    while recorder.run().tick() < length_s * TICKS_A_SECOND {
        log.extend(recorder.tick(""));
        let tick = recorder.run().tick();
        let due = lines.iter().filter(|(second, _)| second * TICKS_A_SECOND == tick);
        for (_, line) in due {
            let Ok(Line::Command(command)) = parse(line, &Vocabulary::from(recorder.run().setup.as_ref()))
            else {
                panic!("{line}");
            };
            let outcome = recorder.command(&command, &teacher(), None, "");
            assert!(outcome.refusal.is_none(), "{line}: {:?}", outcome.refusal);
            log.extend(outcome.envelopes);
        }
    }
    log
}

fn find(log: &[Envelope], wanted: impl Fn(&Event) -> bool) -> u64 {
    log.iter().find(|envelope| wanted(&envelope.event)).expect("it happened").seq
}

fn trip(log: &[Envelope], of: &str, with: &str) -> u64 {
    find(log, |event| {
        matches!(event, Event::Found { component, code, text, .. }
            if component == of && is_trip(code) && text.contains(with))
    })
}

fn of_sort(why: &Why, sort: Sort) -> Vec<&Cause> {
    why.causes.iter().filter(|cause| cause.sort == sort).collect()
}

/// The pump that was not restarted after the change-over: named, with what took its supply away, who did that and when, and
/// the time that was left; restarting it in time avoids the trip, and the search finds that by itself.
#[test]
fn the_pump_that_nobody_restarted() {
    let log = rehearsed("first-light", "first-light-pump-forgotten", 35 * 60);
    let seq = trip(&log, "dg1.controls", "HT temperature");
    let came = log[seq as usize - 1].tick;
    let why = why(log.clone(), seq).unwrap();
    println!("{why}");
    documents_show(&log, &why);

    assert_eq!(why.causes.len(), 1, "{why}");
    let cause = &why.causes[0];
    assert_eq!((cause.sort, cause.later_ticks), (Sort::Omission, None));
    assert!(cause.text.contains("start sea.pump.harbour"), "{}", cause.text);
    // The way goes through the cooling water, not through the boards.
    let way: Vec<&str> = cause.way.iter().map(|step| step.component.as_str()).collect();
    assert_eq!((way.first(), way.last()), (Some(&"dg1.controls"), Some(&"sea.pump.harbour")), "{way:?}");
    assert!(way.iter().any(|name| name.starts_with("dg1.cooler")), "{way:?}");
    // The pump lost its supply when the tie was changed over, by the hand at the boards.
    let after = cause.after.as_ref().unwrap();
    assert!(after.text.contains("sea.pump.harbour has no supply"), "{}", after.text);
    let [change_over] = cause.because.as_slice() else { panic!("{:#?}", cause.because) };
    assert_eq!(change_over.sort, Sort::Act);
    assert!(change_over.text.contains("set esb.transfer supply normal"), "{}", change_over.text);
    assert!(change_over.text.contains("boards") && change_over.tick < after.tick, "{}", change_over.text);
    // There were minutes to act, and a sign of it.
    let last = cause.last_tick.unwrap();
    assert!(last > cause.tick + 600 * TICKS_A_SECOND && last < came, "{last}");
    let sign = why.first_sign.as_ref().unwrap();
    assert!(came - sign.tick > 600 * TICKS_A_SECOND, "{sign:?}");

    // At the last moment it still helps, soon after no more.
    let runs = WhatIf::open(log.clone(), came).unwrap();
    let (effect, _) = Effect::of(&log, seq).unwrap();
    let answer = search(&runs, &effect, seq);
    assert_eq!(answer.found.len(), 1, "{answer:#?}");
    assert!(answer.found[0].text.contains("start sea.pump.harbour"), "{answer:#?}");
    assert_eq!(answer.found[0].last_tick, Some(last));
    for (tick, trips) in [(last, false), (last + 3 * TICKS_A_SECOND, true)] {
        let Ok(Line::Command(command)) =
            parse("start sea.pump.harbour", &Vocabulary::from(runs.run().setup.as_ref()))
        else {
            panic!()
        };
        let add = Change::Add { tick, who: Who::Robot { station: "boards".to_owned() }, command };
        let id = derived_run(log[0].run, "started");
        let until = Until::Tick(came + 120 * TICKS_A_SECOND);
        let forked = fork_telling(&log, until, id, &[add], &teacher(), "").unwrap();
        assert_eq!(forked.impossible, []);
        let report = Debrief::of(&forked.log);
        assert_eq!(report.trips.iter().any(|trip| trip.component == "dg1.controls"), trips);
        assert_eq!(report.parent.as_ref().map(|parent| parent.run), Some(log[0].run));
    }
}

/// What README.md and docs/why.md print of this run is what it is.
fn documents_show(log: &[Envelope], why: &Why) {
    let shown = |file: &str, from: &str| {
        let path = format!("{}/../../{file}", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).expect("the documents lie beside the sources");
        let (_, after) = text.split_once(from).expect("it is there");
        after.split("```").nth(1).expect("it is closed").trim_start_matches("text").trim().to_owned()
    };
    assert_eq!(shown("docs/why.md", "## An example"), why.to_string().trim(), "docs/why.md is out of date");
    for line in shown("README.md", "whose cooling was forgotten").lines() {
        let mut words = line.split_whitespace();
        let (time, seq, _) = (words.next(), words.next(), words.next());
        let seq: usize = seq.and_then(|seq| seq.parse().ok()).expect("a number stands there");
        // This run is not followed to its end.
        let Some(envelope) = log.get(seq - 1) else { continue };
        let told = words.collect::<Vec<_>>().join(" ");
        assert_eq!((time, told), (Some(clock(envelope.tick).trim()), what(&envelope.event)), "README.md");
    }
}

/// When also the emergency set is not seen to, nothing builds upon the change-over any more: it is told as what took the pump's
/// supply away, not as a second cause, and no way goes through what tripped.
#[test]
fn what_lies_behind_a_cause_is_told_once() {
    let without = ["cool-down", "stop-emergency", "ready-emergency"];
    let log = rehearsed_without("first-light", "first-light-pump-forgotten", &without, 34 * 60);
    let why = why(log.clone(), trip(&log, "dg1.controls", "HT temperature")).unwrap();
    let [cause] = why.causes.as_slice() else { panic!("{why}") };
    assert_eq!(cause.sort, Sort::Omission);
    assert!(cause.because.iter().any(|act| act.text.contains("set esb.transfer supply normal")), "{why}");
    let tripped = cause.way.iter().filter(|step| step.component == "dg1.controls");
    assert_eq!(tripped.count(), 1, "{why}");
}

/// Quite another ship and other faults: each leads to its own, and neither stands for the other.
#[test]
fn a_clogged_filter_and_a_thermostat_that_stays_shut() {
    let lines = [(10, "fault dg1.fuel.filter.clogs 100 %"), (20, "fault dg1.ht.thermostat.opens-late 100 %")];
    let log = directed("tamberwick", "at anchor", &lines, 600);
    let set =
        |of: &str| find(&log, |event| matches!(event, Event::FaultSet { component, .. } if component == of));
    let (filter, thermostat) = (set("dg1.fuel.filter"), set("dg1.ht.thermostat"));
    let alert = find(
        &log,
        |event| matches!(event, Event::AlertRaised { text, .. } if text.contains("fuel filter difference")),
    );
    let shutdown = trip(&log, "dg1.controls", "HT temperature");
    for (seq, guilty, by) in [(alert, filter, "dg1.fuel.filter"), (shutdown, thermostat, "dg1.ht.thermostat")]
    {
        let why = why(log.clone(), seq).unwrap();
        println!("{why}");
        let faults: Vec<Option<u64>> = of_sort(&why, Sort::Fault).iter().map(|cause| cause.seq).collect();
        assert_eq!(faults, [Some(guilty)], "{why}");
        let cause = of_sort(&why, Sort::Fault)[0];
        assert!(cause.way.iter().any(|step| step.component == by), "{:?}", cause.way);
        assert!(cause.last_tick.is_some_and(|last| last > cause.tick), "{why}");
    }
}

/// Two faults of which each is enough are told as such; a third that has nothing to do with it is not.
#[test]
fn each_of_two_is_enough() {
    let lines = [
        (10, "fault dg1.breaker.trips"),
        (10, "fault dg1.breaker.busbar-short-circuit"),
        (5, "fault dg2.fuel.filter.element-torn"),
    ];
    let log = directed("quillmere", "at anchor", &lines, 30);
    let lost = find(
        &log,
        |event| matches!(event, Event::NeedLost { need, component } if need == "supply" && component == "esb.transfer"),
    );
    let why = why(log.clone(), lost).unwrap();
    println!("{why}");
    let named: Vec<&str> = why.causes.iter().map(|cause| cause.text.as_str()).collect();
    assert_eq!(why.causes.len(), 2, "{named:?}");
    assert!(why.causes.iter().all(|cause| cause.one_of_several && cause.sort == Sort::Fault), "{named:?}");
    assert!(why.to_string().contains("each enough by itself"));
}

#[test]
fn what_cannot_be_asked() {
    let log = directed("quillmere", "at anchor", &[], 30);
    for seq in [1, 99_999] {
        let error = why(log.clone(), seq).unwrap_err().to_string();
        assert!(error.contains(&format!("event {seq} is none that can be asked about")), "{error}");
    }
    let mut changed = directed("quillmere", "at anchor", &[(5, "fault dg1.breaker.trips")], 30);
    let digest = changed.iter().position(|e| matches!(e.event, Event::Digest { .. })).unwrap();
    changed[digest].event = Event::Digest { digest: "0000000000000000".to_owned() };
    let last = changed.iter().rev().find(|e| Effect::of(&changed, e.seq).is_some()).unwrap();
    let (seq, said) = (last.seq, what(&last.event));
    let error = why(changed, seq).unwrap_err().to_string();
    assert!(error.contains("What was recorded stands"), "{said}: {error}");
}
