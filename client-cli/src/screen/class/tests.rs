use super::{ClassScreen, View};
use crate::online::address::Address;
use crate::screen::Screen;
use crate::screen::browse::Browsed as _;
use crate::screen::colours::Palette;
use crate::screen::kit::{Stage, drawn, iris, never_colour_alone, press, text};
use deadship_protocol::{
    BoardClass, BoardTeam, ClientMessage, Pulse, Role, RunInfo, RunState, ServerMessage,
};
use uuid::Uuid;

fn others(stage: &Stage, alarm: bool) -> Vec<BoardTeam> {
    let of = |team: &str, pulse: Pulse| {
        let id = Uuid::from_u128(team.len() as u128);
        let state = RunState { run: id, team: team.to_owned(), ..stage.state() };
        BoardTeam { state, pulse, people: vec!["Kim (engine)".to_owned()] }
    };
    let idle_s = if alarm { Some(300) } else { Some(5) };
    vec![
        of("Blue", Pulse { met: 1, open: 3, idle_s, ..Pulse::default() }),
        of("Green", Pulse { met: 3, open: 1, idle_s: Some(2), alerts: 2, ..Pulse::default() }),
    ]
}

fn board(stage: &Stage, alarm: bool) -> ServerMessage {
    let mut pulse = Pulse { met: 1, open: 3, idle_s: Some(8), ..Pulse::default() };
    if alarm {
        pulse.idle_s = Some(45);
        (pulse.alerts, pulse.unacknowledged, pulse.refused) = (4, 3, 5);
        (pulse.worst, pulse.worst_text) = (Some("alarm".into()), Some("DG 1 lube oil pressure low".into()));
    }
    let people = vec!["Ada (engine)".to_owned(), "Ben (boards)".to_owned()];
    let mut teams = vec![BoardTeam { state: stage.state(), pulse, people }];
    teams.extend(others(stage, alarm));
    let class = BoardClass { class: Uuid::nil(), title: "Watch A".into(), holder: "Iris".into(), teams };
    ServerMessage::Board { classes: vec![class] }
}

fn screen(stage: &Stage, alarm: bool, coloured: bool) -> ClassScreen {
    let address = Address::parse("127.0.0.1").expect("an address");
    let mut screen = ClassScreen::new(address, "KEY", Some("Iris"), Palette::new(coloured));
    let mut welcome = stage.welcome(Role::Instructor, "Iris");
    welcome.run = None;
    screen.welcome(&welcome);
    screen.heard(board(stage, alarm), None);
    let run = stage.recorder.run().id;
    let info = RunInfo {
        class_id: Some(Uuid::nil()),
        class: "Watch A".into(),
        holder: "Iris".into(),
        state: stage.state(),
        code: Some("K7QM42".into()),
        people: Vec::new(),
    };
    let asked = screen.heard(ServerMessage::Runs { runs: vec![info] }, None);
    assert!(matches!(asked.as_slice(), [ClientMessage::Use { .. }]), "{asked:?}");
    screen.heard(ServerMessage::State(stage.state()), Some(&ClientMessage::Use { run, last_seq: Some(0) }));
    for message in stage.messages(&iris()) {
        screen.heard(message, None);
    }
    screen
}

fn all_views(stage: &Stage, alarm: bool, wide: u16, high: u16) -> String {
    let (mut coloured, mut plain) = (screen(stage, alarm, true), screen(stage, alarm, false));
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
    insta::assert_snapshot!("class_calm_80x24", all_views(&calm, false, 80, 24));
    insta::assert_snapshot!("class_calm_160x50", all_views(&calm, false, 160, 50));
    insta::assert_snapshot!("class_alarm_80x24", all_views(&alarm, true, 80, 24));
    insta::assert_snapshot!("class_alarm_160x50", all_views(&alarm, true, 160, 50));
}

fn line(todo: &crate::screen::Todo) -> &str {
    match todo.send.as_slice() {
        [ClientMessage::Line { text, .. } | ClientMessage::ClassLine { text, .. }] => text,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_fault_is_looked_at_then_set_for_one_or_for_all_and_lifted() {
    let stage = Stage::alarm();
    let mut screen = screen(&stage, true, true);
    press(&mut screen, &["6", "/dg3.lube.filter", "Enter", "End", "Enter"]);
    let seen = text(&drawn(&mut screen, 160, 50));
    assert!(seen.contains("sets it now, for this team"), "{seen}");
    let todo = press(&mut screen, &["Enter"]);
    assert!(line(&todo).starts_with("fault dg3.lube.filter."), "{todo:?}");
    press(&mut screen, &["Enter"]);
    let todo = press(&mut screen, &["*"]);
    assert!(matches!(todo.send.as_slice(), [ClientMessage::ClassLine { .. }]), "{todo:?}");
    press(&mut screen, &["Esc", "6"]);
    screen.here().row = 0;
    press(&mut screen, &["Enter"]);
    let todo = press(&mut screen, &["Enter"]);
    assert!(line(&todo).starts_with("lift "), "{todo:?}");
}

#[test]
fn one_key_marks_and_words_come_later() {
    let mut screen = screen(&Stage::calm(), false, true);
    let todo = press(&mut screen, &["F3"]);
    assert_eq!(line(&todo), "mark slip 10 s ago");
    let asked = todo.send.into_iter().next();
    screen.heard(ServerMessage::Accepted { id: Uuid::nil(), seq: 77 }, asked.as_ref());
    press(&mut screen, &[";"]);
    assert_eq!(screen.desk.typed.text(), "note on 77: ");
}

#[test]
fn hold_speed_and_the_next_team_are_one_key_each() {
    let mut screen = screen(&Stage::calm(), false, true);
    assert_eq!(line(&press(&mut screen, &["="])), "hold");
    assert_eq!(line(&press(&mut screen, &["+"])), "speed 2");
    // A second key before the first has come goes on from it.
    assert_eq!(line(&press(&mut screen, &["+"])), "speed 4");
    assert_eq!(line(&press(&mut screen, &["-"])), "speed 2");
    let todo = press(&mut screen, &["]"]);
    let blue = Uuid::from_u128(4);
    assert!(matches!(todo.send.as_slice(), [ClientMessage::Use { run, .. }] if *run == blue), "{todo:?}");
}

#[test]
fn what_comes_of_another_run_is_passed_over() {
    let stage = Stage::calm();
    let mut screen = screen(&stage, false, true);
    let before = text(&drawn(&mut screen, 80, 24));
    let other = RunState { run: Uuid::from_u128(9), hold: Some("another".into()), ..stage.state() };
    screen.heard(ServerMessage::State(other), None);
    assert_eq!(text(&drawn(&mut screen, 80, 24)), before);
}

#[test]
fn before_a_class_the_screen_says_how_to_open_one() {
    let address = Address::parse("127.0.0.1").expect("an address");
    let mut screen = ClassScreen::new(address, "KEY", None, Palette::new(true));
    let seen = text(&drawn(&mut screen, 80, 24));
    assert!(seen.contains("open first-light Red, Blue"), "{seen}");
    let todo = press(&mut screen, &["open first-light Red, Blue", "Enter"]);
    assert!(
        matches!(todo.send.as_slice(), [ClientMessage::Open { teams, .. }] if teams.len() == 2),
        "{todo:?}"
    );
}

#[test]
fn a_rating_and_a_class_that_begins_anew_are_completed() {
    let mut screen = screen(&Stage::calm(), false, true);
    press(&mut screen, &["rate ", "Tab"]);
    assert_eq!(screen.desk.typed.text(), "rate keep-watch ");
    press(&mut screen, &["Tab"]);
    assert_eq!(screen.desk.hint, "not-yet  with-help  secure", "the lowest level first");
    press(&mut screen, &["s", "Tab", "was first at the gauge"]);
    assert_eq!(line(&press(&mut screen, &["Enter"])), "rate keep-watch secure was first at the gauge");
    press(&mut screen, &["all rate k", "Tab"]);
    assert_eq!(screen.desk.typed.text(), "all rate keep-watch ");
    press(&mut screen, &["Esc", "aga", "Tab", "R", "Tab"]);
    assert_eq!(screen.desk.typed.text(), "again Red ");
    let todo = press(&mut screen, &["0:10", "Enter"]);
    assert!(matches!(todo.send.as_slice(), [ClientMessage::Open { from: Some(_), .. }]), "{todo:?}");
}
