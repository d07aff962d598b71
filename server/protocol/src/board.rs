//! The board: every team of every class at a glance, for those who run them.

use crate::server::RunState;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// A class on the board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BoardClass {
    /// Class.
    pub class: Uuid,
    /// Title.
    pub title: String,
    /// The instructor who holds it: the only one whose orders its runs take.
    pub holder: String,
    /// Its teams, in the order of opening.
    pub teams: Vec<BoardTeam>,
}

/// A team on the board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BoardTeam {
    /// How its run is.
    pub state: RunState,
    /// What an instructor would like to know of it.
    pub pulse: Pulse,
    /// People on a link, for people: `Ada (engine)`.
    pub people: Vec<String>,
}

/// What an instructor would like to know of a run without looking at it. All times are the ship's.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Pulse {
    /// Alerts on the list.
    pub alerts: u32,
    /// Of them, waiting to be acknowledged.
    pub unacknowledged: u32,
    /// Priority of the most urgent on the list (of what stands; else of what has gone): `alarm`, `warning`, `caution`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub worst: Option<String>,
    /// Its text.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub worst_text: Option<String>,
    /// Faults that are set, by name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<String>,
    /// What the drill expects: met so far.
    pub met: u32,
    /// Missed.
    pub missed: u32,
    /// Still open.
    pub open: u32,
    /// Is the aim reached?
    pub aim: bool,
    /// Time since somebody of the team last did something, or a hold ended, s; left out: neither yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub idle_s: Option<u64>,
    /// Orders of the team that were refused within the last five minutes.
    pub refused: u32,
    /// What last happened that matters, one line for people.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub latest: Option<String>,
}
