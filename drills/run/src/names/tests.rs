//! Nobody's name is left, and nothing else is changed.

use super::*;
use crate::event::Reason;
use crate::who::Role;
use proptest::prelude::*;
use uuid::Uuid;

fn envelope(seq: u64, who: Who, event: Event) -> Envelope {
    Envelope {
        run: Uuid::nil(),
        seq,
        tick: seq,
        kind: event.kind(),
        version: 1,
        event_id: Uuid::from_u128(u128::from(seq)),
        command_id: None,
        cause: None,
        chain: Uuid::nil(),
        who,
        at: "2026-01-01T00:00:00Z".to_owned(),
        event,
    }
}

fn said(text: &str) -> Event {
    Event::Said { to: None, text: text.to_owned(), step: None, from: None }
}

fn takes(station: &str) -> Event {
    Event::StationTaken { station: station.to_owned(), place: None }
}

/// Each takes a station and says something.
fn names_of(people: &[(&str, &str)]) -> Names {
    let log: Vec<Envelope> = (1..)
        .zip(people)
        .map(|(seq, (name, station))| {
            let who = Who::person(name, Role::Trainee);
            envelope(seq, who, if station.is_empty() { said("here") } else { takes(station) })
        })
        .collect();
    Names::hidden(&log)
}

#[test]
fn people_are_called_after_the_station_that_they_held_first() {
    let ada = Who::person("Ada", Role::Trainee);
    let log = [
        envelope(1, Who::person("Iris", Role::Instructor), said("good morning")),
        envelope(2, ada.clone(), takes("engine")),
        envelope(3, Who::person("Ben", Role::Trainee), takes("engine")),
        envelope(4, ada.clone(), Event::StationLeft { station: "engine".to_owned() }),
        envelope(5, ada, takes("boards")),
        envelope(6, Who::Robot { station: "boards".to_owned() }, takes("boards")),
        envelope(7, Who::person("Otto", Role::Observer), said("well")),
    ];
    let names = Names::hidden(&log);
    let called: Vec<String> = log.iter().map(|envelope| names.hide(envelope).who.to_string()).collect();
    assert_eq!(
        called,
        ["instructor-1", "engine-1", "engine-2", "engine-1", "engine-1", "robot (boards)", "observer-1"]
    );
    assert_eq!(Names::shown().hide(&log[1]), log[1]);
}

#[test]
fn names_are_found_as_people_write_them() {
    let names = names_of(&[("Ada Byron", "engine"), ("Ben", "boards"), ("Ada Quill", ""), ("田中", "deck")]);
    let told = |text: &str| names.text(text);
    assert_eq!(told("Ada Byron, start DG 1"), "engine-1, start DG 1");
    assert_eq!(told("byron's set trips; BEN!"), "engine-1's set trips; boards-1!");
    assert_eq!(told("ask Ada"), "ask engine-1 or trainee-1");
    assert_eq!(told("bend the bent beneath"), "bend the bent beneath");
    assert_eq!(told("田中さん"), "deck-1さん");
    assert_eq!(told(""), "");
    // A pseudonym is no name, even where someone calls themselves so.
    let odd = names_of(&[("Ada", "engine"), ("engine-1", "boards"), ("Engine", "")]);
    assert_eq!(odd.text("Ada engine-1 engine"), "engine-1 boards-1 trainee-1");
}

#[test]
fn only_what_people_typed_is_searched() {
    let names = names_of(&[("Pump", "engine"), ("dg1", "boards")]);
    let who = Who::person("Pump", Role::Trainee);
    let act = Event::ActRefused {
        command: "start dg1".to_owned(),
        reasons: vec![Reason::new("station-taken", "engine is held by Pump (engine)")],
    };
    let Event::ActRefused { command, reasons } = names.hide(&envelope(9, who.clone(), act)).event else {
        panic!("it stays a refusal")
    };
    assert_eq!((command.as_str(), reasons[0].code.as_str()), ("start boards-1", "station-taken"));
    assert_eq!(reasons[0].text, "engine is held by engine-1 (engine)");
    let lost = Event::NeedLost { component: "dg1".to_owned(), need: "fuel".to_owned() };
    assert_eq!(names.hide(&envelope(10, Who::Plant, lost.clone())).event, lost);
    let note = Event::Noted {
        text: "Pump was quick".to_owned(),
        by: "instructor Pump".to_owned(),
        category: None,
        about_tick: None,
        on: None,
    };
    let Event::Noted { text, by, .. } = names.hide(&envelope(11, who, note)).event else { panic!("a note") };
    assert_eq!((text.as_str(), by.as_str()), ("engine-1 was quick", "instructor engine-1"));
    let rating = Event::Rated {
        objective: "dg1".to_owned(),
        level: "good".to_owned(),
        text: "so did Pump".to_owned(),
        by: "instructor Pump".to_owned(),
        team_sees: false,
    };
    let hidden = names.hide(&envelope(12, Who::Plant, rating)).event;
    let Event::Rated { objective, text, by, .. } = hidden else { panic!("a rating") };
    assert_eq!(
        (objective.as_str(), text.as_str(), by.as_str()),
        ("dg1", "so did engine-1", "instructor engine-1")
    );
}

proptest! {
    /// Whatever is said with whatever in between: nobody's name is left as a word, and what is no name is kept.
    #[test]
    fn no_name_is_left(
        people in prop::collection::btree_set("Zq[a-z]{2,6}( Xw[a-z]{2,6})?", 1..5),
        picks in prop::collection::vec((0usize..8, 0u8..3, "[ ,.!?:;()'\"\n-]"), 0..12),
        rest in "[a-p0-9 ]{0,20}",
    ) {
        let people: Vec<&str> = people.iter().map(String::as_str).collect();
        let stations: Vec<(&str, &str)> = people.iter().map(|name| (*name, "engine")).collect();
        let names = names_of(&stations);
        let mut text = String::new();
        for (pick, case, after) in &picks {
            let name = people[pick % people.len()];
            text += &match case { 0 => name.to_owned(), 1 => name.to_lowercase(), _ => name.to_uppercase() };
            text += after;
        }
        let end = format!(" {rest}");
        text += &end;
        let hidden = names.text(&text).to_lowercase();
        for part in people.iter().flat_map(|name| name.split(' ')) {
            let part = part.to_lowercase();
            prop_assert!(hidden.split(|c: char| !c.is_alphanumeric()).all(|word| word != part), "{hidden}");
        }
        prop_assert!(hidden.ends_with(&end));
        prop_assert_eq!(hidden.matches("engine-").count() >= picks.len(), true);
    }
}
