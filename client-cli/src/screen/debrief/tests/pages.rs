//! Answers and objectives beside the events.

use super::super::help::KEYS;
use super::super::page::Page;
use super::super::question::{Ask, Question};
use super::super::{DebriefScreen, View};
use super::kit::{alarm, calm, drawn, press, rated, screen, text};
use crate::screen::Palette;
use deadship_run::Event;
use deadship_run::why::Told;

/// Puts the cursor at an event of the list.
fn go(screen: &mut DebriefScreen, part: &str) {
    let has = |item: &usize| screen.lanes.items[*item].text.contains(part);
    let place = screen.listed.iter().position(has).unwrap_or_else(|| panic!("{part} is not listed"));
    screen.go_to_item(place);
}

/// Works out what the screen asks, as the program does on a thread.
fn work(screen: &mut DebriefScreen) -> bool {
    let Some(question) = screen.question() else { return false };
    screen.told(question.work_out());
    true
}

#[test]
fn why_is_asked_answered_and_leads_to_its_instants() {
    let mut screen = screen(calm());
    go(&mut screen, "was tripped by its thermal relay");
    let tripped = screen.tick;
    press(&mut screen, "w");
    insta::assert_snapshot!("why_working_80", text(&drawn(&mut screen, (80, 24))));
    assert!(work(&mut screen) && !work(&mut screen), "it is worked out once");
    insta::assert_snapshot!("why_80", text(&drawn(&mut screen, (80, 24))));
    insta::assert_snapshot!("why_160", text(&drawn(&mut screen, (160, 50))));
    // The cause is the fault; Enter takes the cursor to it, and the page stays.
    press(&mut screen, "⇲");
    assert_ne!(screen.tick, tripped);
    for _ in 0..20 {
        press(&mut screen, "↓⏎");
        if screen.listed_item(screen.item).is_some_and(|item| item.text.starts_with("sets the fault")) {
            break;
        }
    }
    let page = text(&drawn(&mut screen, (80, 24)));
    assert!(screen.listed_item(screen.item).unwrap().text.starts_with("sets the fault"), "{page}");
    assert!(page.contains("WHY #"), "{page}");
    press(&mut screen, "⎋");
    assert!(text(&drawn(&mut screen, (80, 24))).contains("[8Events]"));
    assert!(screen.pages.open.is_none());
}

#[test]
fn the_screen_lives_on_while_an_answer_is_worked_out() {
    let mut screen = screen(calm());
    go(&mut screen, "was tripped by its thermal relay");
    press(&mut screen, "w");
    let question = screen.question().unwrap();
    assert!(screen.question().is_none(), "one at a time");
    press(&mut screen, "⎋⇱→");
    let page = text(&drawn(&mut screen, (100, 30)));
    assert!(page.lines().nth(1).unwrap().contains("working out event"), "{page}");
    // Another waits for it.
    go(&mut screen, "was tripped by its thermal relay");
    press(&mut screen, "v");
    assert!(screen.question().is_none());
    let page = text(&drawn(&mut screen, (100, 30)));
    assert!(page.contains("Waits until the answer about event"), "{page}");
    let Question { ask, seq, .. } = question;
    assert_eq!(ask, Ask::Why);
    screen.told(Ok(vec![Told::of(0, "because")]));
    assert_eq!(screen.hint, format!("the answer about event {seq} is there: w on it"));
    let next = screen.question().unwrap();
    assert_eq!((next.ask, next.seq), (Ask::Avoid, seq));
    screen.told(Err("it cannot be computed".to_owned()));
    assert!(text(&drawn(&mut screen, (100, 30))).contains("it cannot be computed"));
    // What is known is not worked out again.
    press(&mut screen, "w");
    assert!(screen.question().is_none());
    assert!(text(&drawn(&mut screen, (100, 30))).contains("because"));
}

#[test]
fn what_would_have_avoided_it_is_looked_for_from_the_same_page() {
    let mut screen = screen(alarm());
    go(&mut screen, "DG 1 oil sump low");
    press(&mut screen, "v");
    assert!(work(&mut screen));
    insta::assert_snapshot!("avoid_80", text(&drawn(&mut screen, (80, 24))));
    press(&mut screen, "w");
    assert!(matches!(screen.pages.open, Some((Page::Answer(Ask::Why, _), _))));
}

#[test]
fn an_alert_of_the_list_can_be_asked_about() {
    let mut screen = screen(alarm());
    press(&mut screen, "⇲2");
    drawn(&mut screen, (80, 24));
    let rows = screen.rows_of(View::Alerts, 78);
    let low = rows.iter().position(|row| row.line.to_string().contains("oil sump low")).unwrap();
    screen.at[View::Alerts.index()].row = low;
    press(&mut screen, "w");
    let question = screen.question().unwrap();
    let raised = question.log.iter().find(|envelope| envelope.seq == question.seq).unwrap();
    assert!(matches!(&raised.event, Event::AlertRaised { alert, .. } if alert == "dg1.sump.low"));
}

#[test]
fn what_has_no_cause_in_the_plant_is_said_to_have_none() {
    let mut screen = screen(alarm());
    go(&mut screen, "notes: well spoken");
    press(&mut screen, "w");
    assert!(screen.pages.open.is_none() && screen.question().is_none());
    assert!(screen.hint.starts_with("w asks about a trip, an alert"), "{}", screen.hint);
    // Of another model nothing is computed, and it is said why.
    let mut log = alarm();
    let at = log.iter().position(|envelope| envelope.event.name() == "digest").unwrap();
    log[at].event = Event::Digest { digest: "0123456789abcdef".to_owned() };
    let mut screen = super::kit::screen(log);
    go(&mut screen, "DG 1 oil sump low");
    press(&mut screen, "w");
    assert!(work(&mut screen));
    let page = text(&drawn(&mut screen, (120, 30)));
    assert!(page.contains("other courses of this run cannot be"), "{page}");
    // Without a plant nothing can be asked.
    let mut screen = super::kit::screen(alarm()[1..].to_vec());
    go(&mut screen, "DG 1 oil sump low");
    press(&mut screen, "w");
    assert!(screen.hint.contains("without the plant"), "{}", screen.hint);
}

#[test]
fn objectives_are_listed_with_what_shows_them_and_their_ratings() {
    let mut screen = screen(rated());
    press(&mut screen, "o");
    insta::assert_snapshot!("objectives_80", text(&drawn(&mut screen, (80, 24))));
    insta::assert_snapshot!("objectives_160", text(&drawn(&mut screen, (160, 50))));
    let rows = screen.page_lines(Page::Objectives, 78).rows;
    let all: Vec<String> = rows.iter().map(|row| row.line.to_string().trim().to_owned()).collect();
    let all = all.join(" ");
    assert!(all.contains("secure by instructor Bo: the valves were found by luck"), "{all}");
    assert!(all.contains("instructor Bo and instructor Cy: 0 of 1 alike; too few items for kappa"), "{all}");
    assert!(all.contains("`rate OBJECTIVE LEVEL WORDS`"), "{all}");
    // A rating leads to its event.
    for _ in 0..20 {
        press(&mut screen, "↓⏎");
        if screen.listed_item(screen.item).is_some_and(|item| item.text.contains("line-up")) {
            break;
        }
    }
    assert!(screen.listed_item(screen.item).unwrap().text.contains("line-up"));
    press(&mut screen, "o");
    assert!(screen.pages.open.is_none());
    let mut without = super::kit::screen(calm());
    press(&mut without, "o");
    assert!(text(&drawn(&mut without, (80, 24))).contains("this drill names no objectives"));
}

#[test]
fn keys_of_the_bottom_line_stand_in_help() {
    let mut screen = screen(calm());
    let known = KEYS.map(|(keys, _)| keys).join(" ");
    let known: Vec<&str> = known.split([' ', ',']).collect();
    for keys in ["8", "1", "2", "5", "7", "9", "w", "v", "o"] {
        go(&mut screen, "was tripped by its thermal relay");
        press(&mut screen, keys);
        screen.hint.clear();
        let page = text(&drawn(&mut screen, (80, 24)));
        let line = page.lines().last().unwrap();
        for part in line.split("  ").filter(|part| !part.trim().is_empty()) {
            let key = part.split_whitespace().next().unwrap();
            let is_known = |letter: char| known.contains(&letter.to_string().as_str());
            assert!(known.contains(&key) || key.chars().all(is_known), "{key} of `{line}` is not in help");
        }
        assert!(line.chars().count() < 80 && !line.ends_with('…'), "{line}");
        press(&mut screen, "⎋");
    }
}

#[test]
fn pages_can_be_drawn_at_any_size_without_colour() {
    let mut screen = DebriefScreen::new(alarm(), Palette::new(false));
    while screen.load() {}
    go(&mut screen, "DG 1 oil sump low");
    for size in [(60, 16), (61, 17), (119, 16), (120, 16), (250, 70)] {
        for key in ["o", "↓↓⏎", "w", "↑⏎", "v", "?⎋", "⎋"] {
            press(&mut screen, key);
            drawn(&mut screen, size);
        }
    }
}
