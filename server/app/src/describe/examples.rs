//! Examples of what goes over the wire, made from the types themselves. Ids, codes and tokens are invented.

use super::events;
use deadship_protocol::{
    BeginFrom, BoardClass, BoardTeam, ByeCode, ClientMessage, DialPosition, DrillInfo, ErrorCode, Gauge,
    GaugesMessage, Identity, OpenedRun, Pulse, Reason, Role, RunInfo, RunState, ServerMessage, StationInfo,
    TeamReply, VERSION, WelcomeMessage,
};
use deadship_run::view::{Chart, Situation};
use uuid::Uuid;

/// The class of the examples.
pub(super) const CLASS: &str = "5b0c6a52-6a0e-4f57-9d5c-0d6f2a3c1e01";
/// The run of the examples.
pub(super) const RUN: &str = "5b0c6a52-6a0e-4f57-9d5c-0d6f2a3c1e02";

/// Lines of every sort: acts, readings, alerts, orders and reports between stations. Each works after those before it,
/// for one of those who are there: Ada at `engine`, Ben at `boards`, or the instructor.
const LINES: [&str; 19] = [
    "start dg1.priming",
    "open sea.chest.low.valve",
    "set dg1.engine speed 900 rpm",
    "watch dg1.*",
    "unwatch",
    "read dg1.*",
    "alerts",
    "silence",
    "ack all",
    "shelve dg1.sump.low for 10 min",
    "unshelve dg1.sump.low",
    "order boards within 5 min: measure the insulation of the main switchboard",
    "orders",
    "asked",
    "repeat 1 measure the insulation of the main switchboard",
    "report 1 the insulation is good",
    "report to bridge: the engine room is standing by",
    "say to boards: stand by to close DG 1",
    "bridge order all: report when there is light",
];

const CODE: &str = "K7QM42";
const KEY: &str = "AAAA-BBBB-CCCC-DDDD-EEEE";

fn id(text: &str) -> Uuid {
    // The constants above are ids.
    Uuid::try_parse(text).unwrap_or_default()
}

/// Ids of lines and requests, told apart by a number.
pub(super) fn line_id(number: u8) -> Uuid {
    Uuid::from_u128(0x5b0c_6a52_6a0e_4f57_9d5c_0d6f_2a3c_1f00 + u128::from(number))
}

/// Every message of a client, in the order of [`ClientMessage::TYPES`]; several of the same type stand together.
pub(super) fn client() -> Vec<ClientMessage> {
    let (class, run) = (id(CLASS), id(RUN));
    let hello = |identity, run, last_seq| ClientMessage::Hello { version: VERSION, identity, run, last_seq };
    let (code, name) = (CODE.to_owned(), "Ada".to_owned());
    let join = Identity::Join { code: code.clone(), name, station: Some("engine".to_owned()) };
    let key = KEY.to_owned();
    let mut messages = vec![
        hello(join, None, None),
        hello(Identity::Token { token: "3f".repeat(32) }, None, Some(41)),
        hello(Identity::Teach { key: key.clone(), name: Some("Iris".to_owned()) }, Some(run), Some(0)),
        hello(Identity::LookOn { code }, None, None),
        hello(Identity::Watch { key, name: None }, None, None),
    ];
    let line =
        |(number, text): (u8, &&str)| ClientMessage::Line { id: line_id(number), text: (*text).to_owned() };
    messages.extend((100..).zip(&LINES).map(line));
    messages.extend([
        ClientMessage::Open {
            id: line_id(3),
            drill: "first-light".to_owned(),
            teams: vec!["Red".to_owned(), "Blue".to_owned()],
            title: Some("Watch A".to_owned()),
            seed: None,
            difficulty: None,
            stress: Some(DialPosition::High),
            hold: true,
            crew: None,
            from: None,
        },
        ClientMessage::Open {
            id: line_id(7),
            drill: "first-light".to_owned(),
            teams: vec!["Red again".to_owned()],
            title: None,
            seed: None,
            difficulty: None,
            stress: None,
            hold: true,
            crew: None,
            from: Some(BeginFrom { run, tick: 15_600 }),
        },
        ClientMessage::Use { run, last_seq: Some(0) },
        ClientMessage::ClassLine {
            id: line_id(4),
            class,
            teams: vec!["Red".to_owned()],
            text: "resume".to_owned(),
        },
        ClientMessage::Hand { id: line_id(5), class, to: "Iris".to_owned() },
        ClientMessage::Board { on: true },
        ClientMessage::Chart {},
        ClientMessage::Screen { on: true },
        ClientMessage::Drills {},
        ClientMessage::Runs {},
        ClientMessage::Archive { run },
        ClientMessage::Ping {},
    ]);
    messages
}

/// Every message of the server, in the order of [`ServerMessage::TYPES`].
pub(super) fn server() -> Vec<ServerMessage> {
    let mut messages = answers();
    messages.extend(untold());
    messages.extend(events::examples());
    let place =
        |message: &ServerMessage| ServerMessage::TYPES.iter().position(|kind| *kind == type_of(message));
    messages.sort_by_key(place);
    messages
}

/// The `type` of a message.
pub(super) fn type_of(message: &impl serde::Serialize) -> String {
    let value = serde_json::to_value(message).unwrap_or_default();
    value["type"].as_str().unwrap_or_default().to_owned()
}

fn answers() -> Vec<ServerMessage> {
    let (class, run) = (id(CLASS), id(RUN));
    let accepted = ServerMessage::Accepted { id: line_id(1), seq: 42 };
    vec![
        ServerMessage::Welcome(Box::new(WelcomeMessage {
            version: VERSION,
            server: env!("CARGO_PKG_VERSION").to_owned(),
            role: Role::Trainee,
            name: "Ada".to_owned(),
            station: Some("engine".to_owned()),
            token: Some("3f".repeat(32)),
            run: Some(run_state()),
            stations: drill_info().stations,
            brief: "What the team is told.".to_owned(),
        })),
        ServerMessage::Opened {
            id: line_id(3),
            class,
            title: "Watch A".to_owned(),
            runs: vec![opened_run()],
        },
        ServerMessage::ClassAnswer {
            id: line_id(4),
            replies: vec![TeamReply { run, team: "Red".to_owned(), reply: Box::new(accepted.clone()) }],
        },
        ServerMessage::Handed { id: line_id(5), class, holder: "Iris".to_owned() },
        ServerMessage::Answer { id: line_id(2), lines: vec!["watching 14 readings".to_owned()] },
        accepted,
        ServerMessage::Refused {
            id: line_id(1),
            reasons: vec![Reason { code: "not-here".to_owned(), text: "you are not there".to_owned() }],
        },
        ServerMessage::Busy { id: line_id(1) },
        ServerMessage::Error {
            id: Some(line_id(3)),
            code: ErrorCode::UnknownDrill,
            text: "there is no drill `first-lihgt`".to_owned(),
            remedy: "list the drills to see which there are".to_owned(),
        },
        ServerMessage::Drills { drills: vec![drill_info()] },
        ServerMessage::Runs { runs: vec![run_info()] },
        ServerMessage::Archive { run, text: "{\"format\":\"…\"}\n".to_owned(), last: true },
        ServerMessage::Pong {},
    ]
}

/// What comes without being asked for.
fn untold() -> Vec<ServerMessage> {
    let run = id(RUN);
    vec![
        ServerMessage::Board { classes: vec![board_class()] },
        ServerMessage::Chart { run, chart: serde_json::to_value(chart()).unwrap_or_default() },
        ServerMessage::Situation {
            run,
            tick: 4_000,
            situation: serde_json::to_value(Situation::default()).unwrap_or_default(),
        },
        ServerMessage::Gauges(GaugesMessage {
            run,
            tick: 4_000,
            time: "3:20.0".to_owned(),
            base: 4_000,
            readings: vec![Gauge { name: "dg1.engine.speed".to_owned(), text: "720 rpm".to_owned() }],
        }),
        ServerMessage::State(run_state()),
        ServerMessage::Lagging { run, from_seq: 42 },
        ServerMessage::Bye { code: ByeCode::Stopping, reason: "the server is stopping".to_owned() },
    ]
}

/// A drawing with nothing on it.
fn chart() -> Chart {
    Chart {
        ship: "Quillmere".to_owned(),
        about: "Invented.".to_owned(),
        drill: "First light".to_owned(),
        brief: "What the team is told.".to_owned(),
        limit_s: Some(2_700.0),
        places: Vec::new(),
        nodes: Vec::new(),
        kinds: Vec::new(),
        components: Vec::new(),
        lists: Vec::new(),
        dials: Some("difficulty usual, stress high".to_owned()),
        steps: Vec::new(),
        expects: Vec::new(),
        objectives: Vec::new(),
    }
}

/// A run just opened.
pub(super) fn opened_run() -> OpenedRun {
    OpenedRun { run: id(RUN), team: "Red".to_owned(), code: CODE.to_owned() }
}

fn run_state() -> RunState {
    RunState {
        run: id(RUN),
        team: "Red".to_owned(),
        drill: "first-light".to_owned(),
        last_seq: 42,
        tick: 4_000,
        time: "3:20.0".to_owned(),
        speed: 1.0,
        reached_speed: None,
        hold: Some("the instructor talks".to_owned()),
        ended: None,
        failed: None,
    }
}

/// A run in a list.
pub(super) fn run_info() -> RunInfo {
    RunInfo {
        class_id: Some(id(CLASS)),
        class: "Watch A".to_owned(),
        holder: "instructor".to_owned(),
        state: run_state(),
        code: None,
        people: vec!["Ada (engine)".to_owned()],
    }
}

/// A class on the board.
pub(super) fn board_class() -> BoardClass {
    let pulse = Pulse { alerts: 2, unacknowledged: 1, open: 4, idle_s: Some(35), ..Pulse::default() };
    let team = BoardTeam { state: run_state(), pulse, people: run_info().people };
    BoardClass {
        class: id(CLASS),
        title: "Watch A".to_owned(),
        holder: "instructor".to_owned(),
        teams: vec![team],
    }
}

/// A drill in the list.
pub(super) fn drill_info() -> DrillInfo {
    let title = "Engine room".to_owned();
    DrillInfo {
        name: "first-light".to_owned(),
        title: "First light".to_owned(),
        ship: "quillmere".to_owned(),
        stations: vec![StationInfo { name: "engine".to_owned(), title, seats: 2 }],
        crews: vec!["expert".to_owned()],
    }
}
