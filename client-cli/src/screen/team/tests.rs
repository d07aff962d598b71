use super::{SeatKeeper, TeamScreen, View};
use crate::online::address::Address;
use crate::online::seat::Seat;
use crate::screen::colours::{Ink, Palette};
use crate::screen::kit::{Stage, ada, drawn, never_colour_alone, press, text};
use crate::screen::{Linked, Screen};
use deadship_protocol::{ClientMessage, Reason, Role, ServerMessage};

fn screen(stage: &Stage, coloured: bool) -> TeamScreen {
    let address = Address::parse("127.0.0.1").expect("an address");
    let seat = Seat { code: "K7QM42".into(), name: "Ada".into(), token: "t".into(), last_seq: 0 };
    let keeper = SeatKeeper { address, folder: None, seat, looks_on: false };
    let mut screen = TeamScreen::new(keeper, Palette::new(coloured), true);
    screen.welcome(&stage.welcome(Role::Trainee, "Ada"));
    for message in stage.messages(&ada()) {
        screen.heard(message, None);
    }
    screen.desk.hint.clear();
    screen
}

/// Every view of one screen as one text.
fn all_views(stage: &Stage, wide: u16, high: u16) -> String {
    let (mut coloured, mut plain) = (screen(stage, true), screen(stage, false));
    let mut all = String::new();
    for (i, (_, name)) in View::ALL.iter().enumerate() {
        let key = (i + 1).to_string();
        press(&mut coloured, &[&key]);
        press(&mut plain, &[&key]);
        let buffer = drawn(&mut coloured, wide, high);
        never_colour_alone(&buffer, &drawn(&mut plain, wide, high));
        all.push_str(&format!("--- {name}\n{}", text(&buffer)));
    }
    all
}

#[test]
fn every_view_in_calm_and_in_alarm_at_both_sizes() {
    let (calm, alarm) = (Stage::calm(), Stage::alarm());
    insta::assert_snapshot!("team_calm_80x24", all_views(&calm, 80, 24));
    insta::assert_snapshot!("team_calm_160x50", all_views(&calm, 160, 50));
    insta::assert_snapshot!("team_alarm_80x24", all_views(&alarm, 80, 24));
    insta::assert_snapshot!("team_alarm_160x50", all_views(&alarm, 160, 50));
}

#[test]
fn an_alarm_and_the_chosen_row_have_their_inks() {
    let mut screen = screen(&Stage::alarm(), true);
    press(&mut screen, &["2"]);
    let buffer = drawn(&mut screen, 80, 24);
    let lines: Vec<String> = text(&buffer).lines().map(str::to_owned).collect();
    let chosen = lines.iter().position(|line| line.starts_with('▸')).expect("a chosen row") as u16;
    let alarm =
        (0..24).rev().find(|&y| lines[usize::from(y)].contains("▲ alarm")).expect("an alarm in the strip");
    let palette = Palette::new(true);
    let style = palette.style(Ink::Chosen);
    assert_eq!((Some(buffer[(5, chosen)].fg), Some(buffer[(5, chosen)].bg)), (style.fg, style.bg));
    let cell = (0..80).find(|&x| buffer[(x, alarm)].symbol() == "▲").expect("the sign");
    assert_eq!(Some(buffer[(cell, alarm)].fg), palette.style(Ink::Alarm).fg);
}

#[test]
fn keys_find_and_work_what_is_here() {
    let mut screen = screen(&Stage::calm(), true);
    press(&mut screen, &["1", "/dg1.priming", "Enter"]);
    let seen = text(&drawn(&mut screen, 80, 24));
    assert!(seen.contains("dg1.priming") && !seen.contains("dg2.priming"), "{seen}");
    let todo = press(&mut screen, &["Enter", "Enter"]);
    let [ClientMessage::Line { text: line, .. }] = todo.send.as_slice() else { panic!("{todo:?}") };
    assert_eq!(line, "start dg1.priming");
    // It is seen at once that it was sent.
    assert!(text(&drawn(&mut screen, 80, 24)).contains("›: start dg1.priming"));
}

#[test]
fn what_is_typed_is_completed_corrected_and_refused_in_words() {
    let mut screen = screen(&Stage::calm(), true);
    press(&mut screen, &["go con", "Tab"]);
    assert_eq!(screen.desk.typed.text(), "go control-room ");
    let todo = press(&mut screen, &["Enter"]);
    assert_eq!(todo.send.len(), 1);
    press(&mut screen, &["opne x"]);
    assert!(text(&drawn(&mut screen, 80, 24)).contains("did you mean `open`?"));
    press(&mut screen, &["Esc"]);
    let reasons = vec![Reason { code: "not-here".into(), text: "you are not there".into() }];
    screen.heard(
        ServerMessage::Refused { id: uuid::Uuid::nil(), reasons },
        Some(&ClientMessage::Line { id: uuid::Uuid::nil(), text: "open x".into() }),
    );
    assert!(text(&drawn(&mut screen, 80, 24)).contains("refused: open x: you are not there (not-here)"));
}

#[test]
fn a_lost_link_is_shown_and_nothing_typed_is_lost() {
    let mut screen = screen(&Stage::calm(), true);
    screen.linked(Linked::Lost("the server closed the link".into(), 3));
    let seen = text(&drawn(&mut screen, 80, 24));
    assert!(seen.contains("LINK LOST, try 3") && seen.contains("being taken back"), "{seen}");
    let todo = press(&mut screen, &["start dg1.priming", "Enter"]);
    assert!(todo.send.is_empty());
    assert_eq!(screen.desk.typed.text(), "start dg1.priming");
    screen.linked(Linked::Yes);
    assert_eq!(press(&mut screen, &["Enter"]).send.len(), 1);
}

#[test]
fn every_size_is_drawn_and_too_small_ones_say_so() {
    let mut screen = screen(&Stage::alarm(), true);
    for (wide, high) in [(1, 1), (20, 5), (59, 16), (60, 15)] {
        let seen = text(&drawn(&mut screen, wide, high));
        assert!(wide < 20 || seen.contains("terminal"), "{seen}");
    }
    for wide in [60, 61, 79, 80, 119, 120, 200, 300] {
        for high in [16, 17, 24, 29, 30, 60] {
            for key in ["1", "2", "3", "4", "5", "6", "7", "8", "9", "?", "Esc"] {
                press(&mut screen, &[key]);
                drawn(&mut screen, wide, high);
            }
        }
    }
}

#[test]
fn help_on_a_component_comes_from_the_ship() {
    let mut screen = screen(&Stage::calm(), true);
    press(&mut screen, &["1", "/dg1.priming", "Enter", "?"]);
    insta::assert_snapshot!("help_on_a_component", text(&drawn(&mut screen, 80, 50)));
}

#[test]
fn pasted_text_is_never_sent_by_itself() {
    let mut screen = screen(&Stage::calm(), true);
    screen.pasted("stop dg1.controls\nstop dg2.controls\n");
    assert_eq!(screen.desk.typed.text(), "stop dg1.controls stop dg2.controls");
    assert!(text(&drawn(&mut screen, 80, 24)).contains("pasted; Enter sends it"));
}

#[test]
fn a_server_without_a_drawing_is_told_from_one_that_has_it() {
    let stage = Stage::calm();
    let mut screen = screen(&stage, true);
    let error = ServerMessage::Error {
        id: None,
        code: deadship_protocol::ErrorCode::UnknownMessage,
        text: "there is no message `chart`".into(),
        remedy: String::new(),
    };
    screen.heard(error, Some(&ClientMessage::Chart {}));
    press(&mut screen, &["8"]);
    assert!(text(&drawn(&mut screen, 80, 24)).contains("has no drawing for screens"));
    let newer =
        ServerMessage::Chart { run: stage.recorder.run().id, chart: serde_json::json!({ "ship": 3 }) };
    screen.heard(newer, None);
    assert!(text(&drawn(&mut screen, 80, 24)).contains("is it newer?"));
}

#[test]
fn from_a_component_one_key_leads_to_its_system_and_back() {
    let mut screen = screen(&Stage::calm(), true);
    press(&mut screen, &["1", "/dg1.sea.inlet", "Enter", "5"]);
    let seen = text(&drawn(&mut screen, 80, 24));
    assert!(seen.contains("SEA WATER"), "{seen}");
    press(&mut screen, &["Down", "Down", "Up", "Up"]);
    let todo = press(&mut screen, &["Enter"]);
    assert!(todo.send.is_empty());
    // It stands at the floor plates: from the generator flat the way there is offered.
    assert_eq!(screen.desk.typed.text(), "go floor-plates");
}

#[test]
fn help_on_an_alert_says_what_it_is_and_what_to_type() {
    let mut screen = screen(&Stage::alarm(), true);
    press(&mut screen, &["2", "?"]);
    insta::assert_snapshot!("help_on_an_alert", text(&drawn(&mut screen, 80, 24)));
    // An alert that has gone meanwhile says so.
    screen.desk.model.situation.alerts.clear();
    assert!(text(&drawn(&mut screen, 80, 24)).contains("not on the list any more"));
    press(&mut screen, &["Esc", "8", "?"]);
    assert!(text(&drawn(&mut screen, 80, 24)).contains("KEYS, while nothing is typed"));
}

#[test]
fn a_search_keeps_what_was_chosen() {
    use crate::screen::browse::Browsed as _;
    use crate::screen::parts::About;
    let mut screen = screen(&Stage::calm(), true);
    press(&mut screen, &["1", "/priming", "Enter", "Down"]);
    let chosen = screen.about();
    assert!(matches!(chosen, About::Component(_)), "{chosen:?}");
    press(&mut screen, &["Esc"]);
    assert_eq!(screen.about(), chosen, "when all is shown again");
    press(&mut screen, &["/"]);
    assert_eq!(screen.about(), chosen, "when a search begins");
    press(&mut screen, &["p", "Enter"]);
    assert_eq!(screen.about(), chosen, "while it is still found");
    press(&mut screen, &["Esc", "/air.receiver", "Enter"]);
    let rows = screen.rows(screen.desk.room.0);
    let first = rows.iter().find(|row| row.is_choice()).expect("something is found");
    assert_eq!(screen.about(), first.about, "else the first that is found is chosen");
}

#[test]
fn a_long_refusal_is_seen_in_full_until_something_newer_comes() {
    let mut screen = screen(&Stage::calm(), true);
    let refuse = |screen: &mut crate::screen::TeamScreen, text: &str| {
        let reasons = vec![Reason { code: "blocked".into(), text: text.into() }];
        let asked = ClientMessage::Line { id: uuid::Uuid::nil(), text: "start dg1.controls".into() };
        screen.heard(ServerMessage::Refused { id: uuid::Uuid::nil(), reasons }, Some(&asked));
    };
    let long = "the turning gear is in, the starting air is shut, the lube oil has no pressure, the jacket water is cold, \
                and the set is in local control: take the gear out first";
    refuse(&mut screen, long);
    let seen = text(&drawn(&mut screen, 80, 24));
    let words = seen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("take the gear out first (blocked)"), "{seen}");
    press(&mut screen, &["say clear", "Enter"]);
    let seen = text(&drawn(&mut screen, 80, 24));
    assert!(!seen.contains("take the gear") && seen.contains("›: say clear"), "{seen}");
    assert!(seen.contains("the starting air is…"), "what is cut has a sign: {seen}");
    refuse(&mut screen, &"again and again and again ".repeat(40));
    let seen = text(&drawn(&mut screen, 60, 16));
    assert!(seen.contains("… 8 shows all of it"), "{seen}");
}
