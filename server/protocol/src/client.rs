//! What a client sends.

use crate::code::BadFrame;
use crate::limits::LONGEST_FRAME;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

/// What a client sends. Unknown types and unknown fields are refused.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "type", rename_all = "kebab-case", deny_unknown_fields)]
#[non_exhaustive]
pub enum ClientMessage {
    /// The first message on a link: who this is. Answered by `welcome`, or by `error` and `bye`.
    Hello {
        /// Version of the protocol that the client speaks.
        version: u32,
        /// Who, with what proves it.
        #[serde(rename = "as")]
        identity: Identity,
        /// The run to follow, for `teach` and `watch`; a join code and a token name theirs.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        run: Option<Uuid>,
        /// The last event of that run that the client has: what came after it is sent first. Left out: nothing of the
        /// past is sent; 0: everything.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        last_seq: Option<u64>,
    },
    /// A line as a person types it: an order, a question (`look`, `read`, `alerts`, `who`, `help`, …), or
    /// `watch PATTERN…` to be sent gauges. Answered by exactly one of `accepted`, `refused`, `answer`, `busy`, `error`,
    /// with the same id.
    Line {
        /// Chosen by the client, new for each line. An order sent again with the same id (after a lost link) is done
        /// once.
        id: Uuid,
        /// The line.
        text: String,
    },
    /// Instructor: opens a class. Answered by `opened` or `error`; the client then says `use`.
    Open {
        /// Chosen by the client; comes back in the answer.
        id: Uuid,
        /// Name of the drill in the library.
        drill: String,
        /// Names of the teams: one run for each.
        teams: Vec<String>,
        /// Title of the class; left out: the drill's.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        title: Option<String>,
        /// Seed for whatever the model draws by lot; left out: the drill's.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        seed: Option<u64>,
        /// The dial for difficulty (the plant, and what must be found out); left out: as the drill was written.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        difficulty: Option<crate::DialPosition>,
        /// The dial for stress (calls, orders, interruptions); left out: as the drill was written.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        stress: Option<crate::DialPosition>,
        /// Do the runs begin on hold, so that people can come in first? Left out: yes.
        #[serde(default = "yes")]
        hold: bool,
        /// Name of the procedure that a robot crew performs; left out: people only.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        crew: Option<String>,
        /// The instant of a run at which each team begins, to try again from there; left out: at the drill's own start.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from: Option<crate::BeginFrom>,
    },
    /// Instructor and facilitator: the run that lines go to and events come from, from now on. Answered by `state`
    /// (and the missed events, as after `hello`) or `error`.
    Use {
        /// The run.
        run: Uuid,
        /// As in `hello`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        last_seq: Option<u64>,
    },
    /// Instructor: the same line to some or all teams of a class. Answered by `class-answer` or `error`. A run takes a
    /// line with the same id once, as with `line`.
    ClassLine {
        /// Chosen by the client; comes back in the answer.
        id: Uuid,
        /// The class.
        class: Uuid,
        /// Names of the teams; none: all whose run is not over.
        #[serde(default)]
        teams: Vec<String>,
        /// The line.
        text: String,
    },
    /// Instructor: the class is held by this instructor from now on. May be said by whoever holds it; by others when
    /// its holder is on no link. Answered by `handed` or `error`.
    Hand {
        /// Chosen by the client; comes back in the answer.
        id: Uuid,
        /// The class.
        class: Uuid,
        /// Name of the instructor who takes it over.
        to: String,
    },
    /// Instructor and facilitator: be sent the board, at once and then as it changes, at most once a second. Answered by
    /// `board`.
    Board {
        /// From now on, or no more?
        on: bool,
    },
    /// The drawing of the ship of the run in use: what does not change while it goes on. Answered by `chart` or `error`.
    Chart {},
    /// Be sent how things stand in the run in use (crew, alerts, orders), at once and then as it changes. Holds until
    /// another run is chosen or the link ends. Answered by `situation` or `error`.
    Screen {
        /// From now on, or no more?
        on: bool,
    },
    /// Which drills there are. Answered by `drills`.
    Drills {},
    /// Which runs there are. Answered by `runs`; the join codes are in it for the instructor only.
    Runs {},
    /// Instructor and facilitator: the archive of a run, as text. Answered by `archive` parts, or `error`.
    Archive {
        /// The run.
        run: Uuid,
    },
    /// Answered by `pong`.
    Ping {},
}

/// Who is at the other end, and what proves it.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Identity {
    /// Somebody of a team, for the first time.
    Join {
        /// The run's join code.
        code: String,
        /// Name, unique within the run.
        name: String,
        /// Station to take at once, if it is free.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        station: Option<String>,
    },
    /// Somebody of a team coming back.
    Token {
        /// As given by `welcome`.
        token: String,
    },
    /// The instructor.
    Teach {
        /// The instructor's key.
        key: String,
        /// Name; left out: `instructor`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        name: Option<String>,
    },
    /// Somebody who looks on at one team, called `observer`: sees what its members are told and can ask questions; works nothing.
    LookOn {
        /// The run's join code.
        code: String,
    },
    /// The facilitator: sees all, notes, works nothing.
    Watch {
        /// The instructor's key.
        key: String,
        /// Name; left out: `facilitator`.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        name: Option<String>,
    },
}

/// Without the secrets, so that no log can hold them.
impl std::fmt::Debug for Identity {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Join { name, station, .. } => {
                f.debug_struct("Join").field("name", name).field("station", station).finish_non_exhaustive()
            }
            Self::Token { .. } => f.debug_struct("Token").finish_non_exhaustive(),
            Self::Teach { name, .. } => f.debug_struct("Teach").field("name", name).finish_non_exhaustive(),
            Self::LookOn { .. } => f.debug_struct("LookOn").finish_non_exhaustive(),
            Self::Watch { name, .. } => f.debug_struct("Watch").field("name", name).finish_non_exhaustive(),
        }
    }
}

fn yes() -> bool {
    true
}

impl ClientMessage {
    /// Types of message, in the order of the documentation.
    pub const TYPES: [&'static str; 13] = [
        "hello",
        "line",
        "open",
        "use",
        "class-line",
        "hand",
        "board",
        "chart",
        "screen",
        "drills",
        "runs",
        "archive",
        "ping",
    ];

    /// The frame.
    pub fn encode(&self) -> String {
        // Plain data with text keys always serialises.
        serde_json::to_string(self).unwrap_or_default()
    }
}

/// Reads a frame from a client.
///
/// # Errors
/// What is wrong with the frame: too long, not JSON, an unknown type, wrong fields.
pub fn decode_client(frame: &str) -> Result<ClientMessage, BadFrame> {
    if frame.len() > LONGEST_FRAME {
        return Err(BadFrame::TooLong { bytes: frame.len() });
    }
    let value: Value =
        serde_json::from_str(frame).map_err(|error| BadFrame::NotJson { what: error.to_string() })?;
    let Some(kind) = value.get("type").and_then(Value::as_str) else { return Err(BadFrame::NoType) };
    if !ClientMessage::TYPES.contains(&kind) {
        let kind = kind.chars().take(40).collect();
        return Err(BadFrame::UnknownType { kind });
    }
    let kind = kind.to_owned();
    serde_json::from_value(value).map_err(|error| BadFrame::Fields { kind, what: error.to_string() })
}
