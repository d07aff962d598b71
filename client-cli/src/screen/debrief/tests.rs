//! The facilitator's screen on logs of two ships.

mod kit;
mod pages;

use super::lanes::{Lanes, Window};
use super::seek::{Eyes, readings};
use super::signs::Sign;
use super::{DebriefScreen, View};
use crate::screen::Palette;
use crate::screen::colours::Ink;
use crate::screen::parts::About;
use deadship_run::Event;
use deadship_run::replay::{Until, rebuild};
use kit::{ada, alarm, calm, drawn, mizuno, press, screen, text};
use ratatui::crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

#[test]
fn a_calm_run_on_both_sizes() {
    let mut screen = screen(calm());
    press(&mut screen, "g0:40⏎");
    insta::assert_snapshot!("calm_80", text(&drawn(&mut screen, (80, 24))));
    press(&mut screen, "⇥⇥⇲1");
    insta::assert_snapshot!("calm_160", text(&drawn(&mut screen, (160, 50))));
}

#[test]
fn a_run_in_alarm_on_both_sizes() {
    let mut screen = screen(alarm());
    press(&mut screen, "g1:05⏎⇥");
    insta::assert_snapshot!("alarm_80", text(&drawn(&mut screen, (80, 24))));
    press(&mut screen, "2");
    insta::assert_snapshot!("alarm_80_alerts", text(&drawn(&mut screen, (80, 24))));
    insta::assert_snapshot!("alarm_160", text(&drawn(&mut screen, (160, 50))));
}

#[test]
fn signs_have_their_inks_and_the_cursor_its_column() {
    let mut screen = screen(alarm());
    press(&mut screen, "⇲");
    let buffer = drawn(&mut screen, (80, 24));
    let style = |glyph: &str, ink: Ink| {
        let cell = buffer.content.iter().find(|cell| cell.symbol() == glyph);
        let cell = cell.unwrap_or_else(|| panic!("{glyph} is not there"));
        let wanted = Palette::new(true).style(ink);
        assert_eq!((Some(cell.fg), Some(cell.bg)), (wanted.fg, wanted.bg), "{glyph}");
    };
    style(Sign::Alarm.glyph(), Ink::Alarm);
    style(Sign::FaultSet.glyph(), Ink::Warning);
    style(Sign::Refused.glyph(), Ink::Refused);
    let axis = (0..80).find(|x| buffer[(*x, 2)].symbol() == "▼").unwrap();
    let chosen = Palette::new(true).style(Ink::Chosen);
    for lane in 3..3 + screen.lanes.names.len() as u16 {
        assert_eq!(Some(buffer[(axis, lane)].bg), chosen.bg);
    }
}

#[test]
fn every_sign_that_is_drawn_is_explained() {
    let mut screen = screen(alarm());
    let cells = screen.lanes.cells(Window { from: 0, span: screen.lanes.last + 1, cells: 100 });
    press(&mut screen, "?");
    let help: Vec<String> = screen.help_rows(78).iter().map(|row| row.line.to_string()).collect();
    for sign in cells.iter().flatten().flatten() {
        let line = format!("{}  {}", sign.glyph(), sign.words());
        assert!(help.contains(&line), "{line}");
    }
}

#[test]
fn a_mark_stands_where_it_is_about() {
    let log = alarm();
    let lanes = Lanes::of(&log);
    let mark = lanes.items.iter().find(|item| item.text.contains("started without air")).unwrap();
    let noted = log.iter().find(|envelope| envelope.seq == mark.seq).unwrap();
    assert_eq!(noted.tick - mark.tick, 600);
    assert_eq!(mark.drawn, Some((lanes.names.len() - 1, Sign::Slip)));
    let leak = lanes.bars.iter().find(|bar| bar.sign == Sign::FaultStands).unwrap();
    assert_eq!(leak.to - leak.from, 210 * 20);
    let standing: Vec<u64> =
        lanes.bars.iter().filter(|bar| bar.sign == Sign::AlarmStands).map(|bar| bar.to).collect();
    assert!(standing.contains(&lanes.last), "an alarm that was never cleared stands to the end");
}

#[test]
fn words_added_later_stand_with_the_mark_they_are_for() {
    let mut log = alarm();
    let slip = log.iter().find(|envelope| envelope.event.name() == "noted").unwrap().clone();
    let mut added = log.last().unwrap().clone();
    added.seq += 1;
    let text = "air was never looked at".to_owned();
    added.event =
        Event::Noted { text, by: "Bo".to_owned(), category: None, about_tick: None, on: Some(slip.seq) };
    log.push(added);
    let lanes = Lanes::of(&log);
    let of = |part: &str| lanes.items.iter().find(|item| item.text.contains(part)).unwrap().tick;
    assert_eq!(of("air was never looked at"), of("started without air"));
    assert_eq!(lanes.last, log.last().unwrap().tick);
}

#[test]
fn all_events_are_listed_on_request() {
    let mut screen = screen(alarm());
    let few = screen.listed.len();
    press(&mut screen, "g1:00⏎a");
    assert_eq!(screen.listed.len(), screen.lanes.items.len());
    assert!(screen.listed_item(screen.item).unwrap().tick <= 1_200);
    press(&mut screen, "a");
    assert_eq!(screen.listed.len(), few);
}

#[test]
fn cells_cover_all_of_a_window_and_no_more() {
    for (from, span, cells) in [(0, 19_801, 68), (100, 50, 70), (7, 2_400, 1), (3, 7, 7)] {
        let window = Window { from, span, cells };
        for tick in from..from + span {
            let cell = window.cell(tick).unwrap();
            assert!(window.start(cell) <= tick, "{tick} of {window:?}");
            assert!(cell + 1 == cells || tick < window.start(cell + 1) || window.start(cell) == tick);
        }
        assert_eq!((window.cell(from + span), window.start(cells)), (None, from + span));
    }
}

#[test]
fn keys_move_the_cursor() {
    let mut screen = screen(alarm());
    drawn(&mut screen, (80, 24));
    assert_eq!(screen.tick, 0);
    press(&mut screen, "→");
    let first = screen.tick;
    assert!(first > 0 && screen.window().cell(first) == Some(1));
    press(&mut screen, "←");
    assert_eq!(screen.window().cell(screen.tick), Some(0));
    press(&mut screen, "⇲");
    assert_eq!(screen.tick, screen.lanes.last);
    press(&mut screen, "→→⇱");
    assert_eq!(screen.tick, 0);
    press(&mut screen, "g1:30⏎");
    assert_eq!(screen.tick, 90 * 20);
    press(&mut screen, "gnever⏎");
    assert!(screen.hint.contains("is not a time"), "{}", screen.hint);
    press(&mut screen, "⎋g99:00⏎");
    assert_eq!((screen.tick, screen.hint.as_str()), (screen.lanes.last, "the log ends at 5:00"));
}

#[test]
fn the_next_mark_is_of_another_time() {
    let mut screen = screen(alarm());
    let mut ticks = vec![screen.tick];
    while screen.go_mark(true, false) {
        assert!(screen.listed_item(screen.item).unwrap().is_mark);
        ticks.push(screen.tick);
    }
    assert!(ticks.windows(2).all(|pair| pair[0] < pair[1]));
    let slip = screen.lanes.items.iter().find(|item| item.text.contains("started without air")).unwrap();
    let fault =
        screen.lanes.items.iter().find(|item| item.text.starts_with("sets the fault dg1.sump")).unwrap();
    assert!(ticks.contains(&slip.tick) && ticks.contains(&fault.tick), "{ticks:?}");
    let mut back = vec![screen.tick];
    while screen.go_mark(false, false) {
        back.push(screen.tick);
    }
    back.reverse();
    // The start has alerts, so going back ends there as well.
    assert_eq!(back, ticks);
}

#[test]
fn own_marks_can_be_gone_through_alone() {
    let mut screen = screen(alarm());
    let mut texts = Vec::new();
    while screen.go_mark(true, true) {
        texts.push(screen.listed_item(screen.item).unwrap().text.clone());
    }
    assert_eq!(texts[..2], ["marks slip, at 0:50.0: started without air", "notes: well spoken"]);
    assert!(texts.last().unwrap().starts_with("the run is over"), "{texts:?}");
    press(&mut screen, "N");
    assert_eq!(screen.hint, "there is no later note or expectation");
}

#[test]
fn events_are_found_by_their_words() {
    let mut screen = screen(alarm());
    let all = screen.listed.len();
    press(&mut screen, "1/ACK 水野⏎");
    assert_eq!((screen.view, screen.listed.len()), (View::Events, 9));
    press(&mut screen, "↓↓");
    assert_eq!(screen.tick, 2_800);
    press(&mut screen, "/nothing of that sort⏎");
    let page = text(&drawn(&mut screen, (80, 24)));
    assert!(page.contains("no event has that") && page.contains("Esc lists them again"), "{page}");
    press(&mut screen, "n←↑⎋");
    assert_eq!(screen.listed.len(), all);
    // Of several at one instant the chosen one stays chosen when all are listed again.
    press(&mut screen, "/insulation⏎↑");
    let chosen = screen.listed_item(screen.item).unwrap().seq;
    assert!(screen.listed.len() > 1);
    press(&mut screen, "⎋");
    assert_eq!(screen.listed_item(screen.item).unwrap().seq, chosen);
}

#[test]
fn zoom_keeps_the_cursor_in_sight() {
    let mut screen = screen(alarm());
    press(&mut screen, "g2:00⏎");
    for _ in 0..6 {
        press(&mut screen, "+");
        assert!(screen.window().cell(2_400).is_some());
    }
    assert_eq!(screen.span, super::SHORTEST);
    press(&mut screen, "⇲");
    assert!(screen.window().cell(screen.tick).is_some());
    for _ in 0..6 {
        press(&mut screen, "-");
    }
    assert_eq!((screen.from, screen.span), (0, screen.lanes.last + 1));
}

#[test]
fn playing_goes_as_fast_as_it_says_and_ends_with_the_log() {
    let mut screen = screen(alarm());
    press(&mut screen, "ss ");
    assert!(screen.plays());
    screen.pass(1.0);
    screen.pass(0.01);
    screen.pass(0.01);
    assert_eq!(screen.tick, 320 + 6, "16 times, and parts of a tick add up");
    press(&mut screen, " ");
    assert!(!screen.plays());
    press(&mut screen, " ");
    screen.pass(1e6);
    assert!(!screen.plays() && screen.tick == screen.lanes.last);
}

#[test]
fn forth_and_back_the_plant_is_as_replayed_straight() {
    let log = alarm();
    let mut screen = screen(log.clone());
    for tick in [5_000, 100, 3_333, 3_332, 0, 2_001] {
        screen.go_to(tick);
        let straight = rebuild(&log, Until::Tick(tick)).unwrap();
        let there = screen.plant.at(tick).unwrap_or_else(|why| panic!("{why}"));
        assert_eq!(there.run().digest(), straight.recorder.run().digest(), "at {tick}");
    }
}

#[test]
fn eyes_see_what_may_be_seen_and_nothing_else() {
    let log = alarm();
    let mut screen = screen(log.clone());
    // Ada stands in the generator flat by then, 水野 in the control room.
    screen.go_to(3_000);
    let straight = rebuild(&log, Until::Tick(3_000)).unwrap();
    let run = straight.recorder.run();
    let spec = &run.setup.compiled.spec;
    for (eye, who) in [(1, ada()), (2, mizuno())] {
        screen.eye = eye;
        screen.look();
        let mut seen = 0;
        for (c, component) in spec.components.iter().enumerate() {
            for (r, reading) in component.kind.readings.iter().enumerate() {
                let full = format!("{}.{}", component.name, reading.name);
                assert_eq!(screen.model.readings.contains_key(&full), run.may_see(&who, c, r), "{full}");
                seen += usize::from(run.may_see(&who, c, r));
            }
        }
        assert_eq!(screen.model.readings.len(), seen);
        assert!(seen > 0);
    }
    // A valve on the floor plates is looked at there.
    assert!(!screen.model.readings.contains_key("sea.chest.low.valve.position"));
    assert!(readings(run, &Eyes::All).contains_key("sea.chest.low.valve.position"));
    assert_eq!(screen.model.me().and_then(|me| me.station.as_deref()), Some("boards"));
}

#[test]
fn an_event_leads_to_what_was_seen_of_its_thing() {
    let mut screen = screen(calm());
    let started = screen.listed.iter().position(|item| screen.lanes.items[*item].text == "start pump.bilge");
    screen.go_to_item(started.unwrap());
    press(&mut screen, "⏎");
    let pump = screen.model.chart.as_ref().and_then(|chart| chart.component("pump.bilge"));
    assert_eq!((screen.view, screen.chosen_component()), (View::Here, pump));
    // Beside the events it is looked at without a key.
    screen.watched = None;
    press(&mut screen, "8");
    let page = text(&drawn(&mut screen, (120, 24)));
    assert!(page.lines().any(|line| line.ends_with("│ Bilge pump")), "{page}");
    // The one on deck cannot see it.
    press(&mut screen, "8⇥⏎");
    assert!(screen.hint.starts_with("pump.bilge cannot be seen"), "{}", screen.hint);
    assert_ne!(screen.chosen_component(), pump);
    // It stays looked at until another is chosen, whoever looks.
    press(&mut screen, "⇥");
    assert_eq!((screen.chosen_component(), screen.hint.as_str()), (pump, ""));
    press(&mut screen, "⇥⇥");
    assert!(screen.hint.starts_with("pump.bilge cannot be seen"), "{}", screen.hint);
}

#[test]
fn what_is_over_cannot_be_worked() {
    let mut screen = screen(alarm());
    press(&mut screen, "g1:00⏎⇥4");
    let page = text(&drawn(&mut screen, (80, 24)));
    assert!(page.contains("PLACES\n") && !page.contains("walks there"), "{page}");
    press(&mut screen, "⇱3");
    assert!(text(&drawn(&mut screen, (80, 24))).contains("no order was open then"));
    // Readings stand before what could have been done, at the smallest size that has both.
    press(&mut screen, "g1:00⏎1⏎");
    let rows = screen.pane_rows(30);
    let act = rows.iter().position(|row| matches!(row.about, About::Do(..))).unwrap();
    assert!(rows[act..].iter().all(|row| matches!(row.about, About::Do(..))));
    let page = text(&drawn(&mut screen, (120, 24)));
    assert_eq!(page.lines().nth(13).unwrap().matches('│').count(), 2, "{page}");
}

#[test]
fn a_robot_has_eyes_as_well() {
    let mut screen = screen(calm());
    screen.go_to(800);
    screen.eye = 2;
    screen.look();
    assert_eq!(screen.model.me().and_then(|me| me.station.as_deref()), Some("hold"));
    assert_eq!(screen.model.reading("pump.bilge", "running"), Some("yes"));
}

#[test]
fn a_trend_has_what_the_eyes_saw_up_to_the_cursor() {
    let mut screen = screen(calm());
    screen.go_to(1_000);
    screen.trends.push("pump.bilge.current".to_owned());
    drawn(&mut screen, (80, 24));
    let all = screen.model.trends[0].1.clone();
    assert_eq!((all.front().unwrap().0, all.back().unwrap().0), (0, 1_000));
    // The pump stands in the hold, where the robot comes at 0:31.5.
    press(&mut screen, "⇥⇥6");
    let page = text(&drawn(&mut screen, (80, 24)));
    let seen = &screen.model.trends[0].1;
    assert!(seen.front().is_some_and(|first| first.0 >= 630) && seen.len() < all.len());
    assert!(page.contains("pump.bilge.current"), "{page}");
}

#[test]
fn a_log_of_another_model_is_shown_with_a_caution() {
    let mut log = alarm();
    let at = log.iter().position(|envelope| envelope.event.name() == "digest").unwrap();
    log[at].event = Event::Digest { digest: "0123456789abcdef".to_owned() };
    let mut screen = screen(log);
    press(&mut screen, "⇲1");
    let page = text(&drawn(&mut screen, (100, 30)));
    assert!(page.contains("differs from this model from 0:05 on: ?"), "{page}");
    assert!(page.contains("computed anew: from 0:05 on"), "{page}");
    press(&mut screen, "?");
    assert!(text(&drawn(&mut screen, (100, 30))).contains("the log and the model differ at tick 100"));
}

#[test]
fn a_log_without_its_opening_still_has_lanes_and_events() {
    let mut screen = screen(alarm()[1..].to_vec());
    press(&mut screen, "n1");
    let page = text(&drawn(&mut screen, (80, 24)));
    assert!(page.contains("no plant: ?") && page.contains("alerts"), "{page}");
    assert!(page.contains("the log does not begin with the opening of a run"), "{page}");
    let mut empty = DebriefScreen::new(Vec::new(), Palette::new(false));
    press(&mut empty, "→n+-⇲ ");
    let page = text(&drawn(&mut empty, (80, 24)));
    assert!(page.contains("nothing happened in this run"), "{page}");
}

#[test]
fn any_size_and_any_moment_can_be_drawn() {
    let mut screen = DebriefScreen::new(alarm(), Palette::new(false));
    for size in [(1, 1), (60, 16), (61, 17), (59, 40), (119, 16), (120, 16), (250, 70)] {
        for key in ["1", "⇥", "8", "n", "9", "+", "?⎋", "7]"] {
            press(&mut screen, key);
            drawn(&mut screen, size);
        }
    }
    press(&mut screen, "⇲1");
    assert!(text(&drawn(&mut screen, (80, 24))).contains("being built"));
    screen.load();
    assert!(text(&drawn(&mut screen, (80, 24))).contains("replayed up to"));
    assert!(screen.key(KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL)));
}
