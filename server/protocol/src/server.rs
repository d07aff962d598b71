//! What the server sends.

use crate::board::BoardClass;
use crate::code::{BadFrame, ByeCode, ErrorCode};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

/// What the server sends.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "type", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ServerMessage {
    /// The answer to `hello`. Missed events follow, then everything new.
    Welcome(Box<WelcomeMessage>),
    /// The answer to `open`.
    Opened {
        /// As in `open`.
        id: Uuid,
        /// The class.
        class: Uuid,
        /// Title of the class.
        title: String,
        /// Its runs, in the order of the teams.
        runs: Vec<OpenedRun>,
    },
    /// The answer to `class-line`: what each run said to the line.
    ClassAnswer {
        /// As in `class-line`.
        id: Uuid,
        /// In the order of the teams.
        replies: Vec<TeamReply>,
    },
    /// The answer to `hand`; those who see the class are told by an event of each run.
    Handed {
        /// As in `hand`.
        id: Uuid,
        /// The class.
        class: Uuid,
        /// Who holds it now.
        holder: String,
    },
    /// Every class that has a run which is not over.
    Board {
        /// In the order of opening.
        classes: Vec<BoardClass>,
    },
    /// The answer to `chart`.
    Chart {
        /// Run.
        run: Uuid,
        /// Places, components and what joins them, what can be done to them, the lists to work by.
        chart: Value,
    },
    /// How things stand in a run, for those who asked by `screen`. A later one replaces an earlier one.
    Situation {
        /// Run.
        run: Uuid,
        /// Ticks of 50 ms since the start.
        tick: u64,
        /// Crew, alerts, orders; for those who run the class also faults and what the drill has done.
        situation: Value,
    },
    /// Something happened in a run.
    Event(Box<EventMessage>),
    /// Readings that were asked for by `watch PATTERN…` and that this person can see now. At most ten a second; a
    /// later one replaces an earlier one. A full one comes at least every five seconds; between them come those
    /// readings alone that differ from the full one: what is true now is the full one with the latest of them over it.
    Gauges(GaugesMessage),
    /// The answer to a question.
    Answer {
        /// The line's id.
        id: Uuid,
        /// Plain lines for people.
        lines: Vec<String>,
    },
    /// An order was given, and is on disk.
    Accepted {
        /// The line's id.
        id: Uuid,
        /// The first event that it brought.
        seq: u64,
    },
    /// An order was refused, with every reason.
    Refused {
        /// The line's id.
        id: Uuid,
        /// Why, at least one.
        reasons: Vec<Reason>,
    },
    /// The run has too much to do: nothing was done, the same line can be sent again.
    Busy {
        /// The line's id.
        id: Uuid,
    },
    /// Something is wrong with what came, or it cannot be done.
    Error {
        /// The id of the message that it answers, if that had one.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        id: Option<Uuid>,
        /// Stable word.
        code: ErrorCode,
        /// What is wrong.
        text: String,
        /// What to do.
        remedy: String,
    },
    /// How a run is: after `use`, when hold, speed or end changed, when it cannot keep its speed, and after `lagging`.
    State(RunState),
    /// The client did not take its events: those from this seq on come again from the log, after which it has all of
    /// them.
    Lagging {
        /// Run.
        run: Uuid,
        /// The next event that the client will get is the first from here on that it may see.
        from_seq: u64,
    },
    /// The answer to `drills`.
    Drills {
        /// In the order of their names.
        drills: Vec<DrillInfo>,
    },
    /// The answer to `runs`.
    Runs {
        /// Those that are not over first, then in the order of their opening.
        runs: Vec<RunInfo>,
    },
    /// A part of the archive of a run: put together in order they are the archive file.
    Archive {
        /// Run.
        run: Uuid,
        /// Whole lines.
        text: String,
        /// Is it the last part?
        last: bool,
    },
    /// The link is closed now.
    Bye {
        /// Stable word.
        code: ByeCode,
        /// For people.
        reason: String,
    },
    /// The answer to `ping`.
    Pong {},
}

/// What someone is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Role {
    /// Runs the class.
    Instructor,
    /// One of the team.
    Trainee,
    /// Leads the debrief.
    Facilitator,
    /// Looks on.
    Observer,
}

/// The answer to `hello`.
#[derive(Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WelcomeMessage {
    /// Version of the protocol.
    pub version: u32,
    /// Version of the server.
    pub server: String,
    /// Role.
    pub role: Role,
    /// Name.
    pub name: String,
    /// Station held.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub station: Option<String>,
    /// To take the seat back later; for trainees only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub token: Option<String>,
    /// The run; an instructor who named none has none yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub run: Option<RunState>,
    /// Stations of the drill.
    #[serde(default)]
    pub stations: Vec<StationInfo>,
    /// What the team is told, with the safety words.
    #[serde(default)]
    pub brief: String,
}

/// Without the token, so that no log can hold it.
impl std::fmt::Debug for WelcomeMessage {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("WelcomeMessage")
            .field("role", &self.role)
            .field("name", &self.name)
            .field("station", &self.station)
            .field("run", &self.run)
            .finish_non_exhaustive()
    }
}

/// How a run is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RunState {
    /// Run.
    pub run: Uuid,
    /// Team.
    pub team: String,
    /// Drill.
    pub drill: String,
    /// Its last event.
    pub last_seq: u64,
    /// Ticks of 50 ms since the start.
    pub tick: u64,
    /// The same for people, minutes and seconds: `3:20.0`.
    pub time: String,
    /// Speed against the clock that is wanted; 1 is as on board.
    pub speed: f64,
    /// Speed that is reached, when the server cannot keep up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reached_speed: Option<f64>,
    /// Why it is on hold.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hold: Option<String>,
    /// Why it is over.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ended: Option<String>,
    /// Why it cannot go on: a plant that cannot be computed, records that cannot be written, a fault of the program.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub failed: Option<String>,
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EventMessage {
    /// Run.
    pub run: Uuid,
    /// Number in the run, ascending.
    pub seq: u64,
    /// Ticks of 50 ms since the start.
    pub tick: u64,
    /// The same for people, minutes and seconds: `3:20.0`.
    pub time: String,
    /// Who, for people: `Ada (engine)`, `robot (boards)`, `drill`, `plant`.
    pub who: String,
    /// Kind of event, e.g. `act-done`, `alert-raised`.
    pub kind: String,
    /// One plain line for people.
    pub text: String,
    /// Fields of the event, for programs; numbers are SI. Left out where there are none.
    #[serde(default, skip_serializing_if = "Value::is_null")]
    pub data: Value,
}

/// Readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct GaugesMessage {
    /// Run.
    pub run: Uuid,
    /// Ticks of 50 ms since the start.
    pub tick: u64,
    /// The same for people.
    pub time: String,
    /// Tick of the full one that this is to be laid over; the same as `tick`: this one is full. One that is laid over
    /// a full one that the client does not have is to be passed over: that one follows.
    pub base: u64,
    /// Readings, in the order of the ship's.
    pub readings: Vec<Gauge>,
}

/// One reading.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Gauge {
    /// Full name.
    pub name: String,
    /// Value for people, with its unit.
    pub text: String,
}

/// A run that was opened.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct OpenedRun {
    /// Run.
    pub run: Uuid,
    /// Team.
    pub team: String,
    /// Join code.
    pub code: String,
}

/// What one run said to a line that was for several.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TeamReply {
    /// Run.
    pub run: Uuid,
    /// Team.
    pub team: String,
    /// As it would answer `line`.
    pub reply: Box<ServerMessage>,
}

/// One reason of a refusal.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Reason {
    /// Stable word, e.g. `not-here`.
    pub code: String,
    /// What is in the way and what would allow it.
    pub text: String,
}

/// A drill of the library.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct DrillInfo {
    /// Name, as `open` takes it.
    pub name: String,
    /// Title.
    pub title: String,
    /// Ship.
    pub ship: String,
    /// Stations.
    pub stations: Vec<StationInfo>,
    /// Procedures that a robot crew can perform.
    pub crews: Vec<String>,
}

/// A station of a drill.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct StationInfo {
    /// Name: one word.
    pub name: String,
    /// For people.
    pub title: String,
    /// How many may hold it.
    pub seats: u32,
}

/// A run in a list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RunInfo {
    /// Its class; left out: it was not opened here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub class_id: Option<Uuid>,
    /// Title of its class.
    pub class: String,
    /// The instructor who holds the class.
    #[serde(default)]
    pub holder: String,
    /// How it is.
    pub state: RunState,
    /// Join code, for the instructor only.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub code: Option<String>,
    /// People on a link, for people: `Ada (engine)`.
    pub people: Vec<String>,
}

impl ServerMessage {
    /// Types of message, in the order of the documentation.
    pub const TYPES: [&'static str; 21] = [
        "welcome",
        "opened",
        "class-answer",
        "handed",
        "board",
        "chart",
        "situation",
        "event",
        "gauges",
        "answer",
        "accepted",
        "refused",
        "busy",
        "error",
        "state",
        "lagging",
        "drills",
        "runs",
        "archive",
        "bye",
        "pong",
    ];

    /// The frame.
    pub fn encode(&self) -> String {
        // Plain data with text keys always serialises.
        serde_json::to_string(self).unwrap_or_default()
    }
}

/// Reads a frame from the server. Unknown fields are passed over.
///
/// # Errors
/// What is wrong with the frame: not JSON, an unknown type, wrong fields.
pub fn decode_server(frame: &str) -> Result<ServerMessage, BadFrame> {
    let value: Value =
        serde_json::from_str(frame).map_err(|error| BadFrame::NotJson { what: error.to_string() })?;
    let Some(kind) = value.get("type").and_then(Value::as_str) else { return Err(BadFrame::NoType) };
    if !ServerMessage::TYPES.contains(&kind) {
        return Err(BadFrame::UnknownType { kind: kind.to_owned() });
    }
    let kind = kind.to_owned();
    serde_json::from_value(value).map_err(|error| BadFrame::Fields { kind, what: error.to_string() })
}
