//! Bodies of the REST interface, beside those that it shares with the link.

use crate::code::ErrorCode;
use crate::server::OpenedRun;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// How the server and its store are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HealthBody {
    /// Can everything be kept and read?
    pub ok: bool,
    /// Version of the server.
    pub version: String,
    /// Runs that are known.
    pub runs: usize,
    /// Runs whose task is alive.
    pub live: usize,
    /// Runs that cannot go on.
    pub failed: usize,
    /// The store.
    pub store: StoreHealthBody,
}

/// How the store is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct StoreHealthBody {
    /// Why nothing can be kept now; null: everything is kept.
    pub poisoned: Option<String>,
    /// Logs.
    pub streams: usize,
    /// Records in all of them.
    pub records: u64,
    /// Bytes of all records.
    pub bytes: u64,
    /// Logs that cannot be read, and why.
    pub refused: Vec<String>,
}

/// Where a dial of a drill stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum DialPosition {
    /// Less than usual.
    Low,
    /// The drill as it was written.
    Usual,
    /// More than usual.
    High,
}

/// Opens a class.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OpenBody {
    /// Name of the drill in the library.
    pub drill: String,
    /// Names of the teams: one run for each.
    pub teams: Vec<String>,
    /// Title of the class; left out: the drill's.
    pub title: Option<String>,
    /// Seed for whatever the model draws by lot; left out: the drill's.
    pub seed: Option<u64>,
    /// The dial for difficulty (the plant, and what must be found out); left out: as the drill was written.
    pub difficulty: Option<DialPosition>,
    /// The dial for stress (calls, orders, interruptions); left out: as the drill was written.
    pub stress: Option<DialPosition>,
    /// Do the runs begin on hold? Left out: yes.
    pub hold: Option<bool>,
    /// Name of the procedure that a robot crew performs; left out: people only.
    pub crew: Option<String>,
    /// Name of the instructor who holds the class; left out: `instructor`.
    pub by: Option<String>,
    /// The instant of a run at which each team begins, to try again from there; left out: at the drill's own start.
    pub from: Option<BeginFrom>,
}

/// An instant of a run. The drill is that of the run, whatever is named beside it, and the class begins on hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BeginFrom {
    /// The run.
    pub run: Uuid,
    /// Ticks of 50 ms since its start; not beyond its last event.
    pub tick: u64,
}

/// A class that was opened.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct OpenedBody {
    /// Class.
    pub class: Uuid,
    /// Its title.
    pub title: String,
    /// Its runs, in the order of the teams.
    pub runs: Vec<OpenedRun>,
}

/// Which part of a log.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct EventsQuery {
    /// Number of the first event; left out: 1.
    pub from: Option<u64>,
    /// Most events in the answer, at most 10,000; left out: 1,000.
    pub limit: Option<u32>,
}

/// A line for one run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LineBody {
    /// The line, as a person types it.
    pub text: String,
    /// The same id again is done once; left out: the server makes one.
    pub id: Option<Uuid>,
    /// Name of the instructor; left out: `instructor`.
    pub by: Option<String>,
}

/// A line for teams of a class.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClassLineBody {
    /// The line, as a person types it.
    pub text: String,
    /// Names of the teams; none: all whose run is not over.
    #[serde(default)]
    pub teams: Vec<String>,
    /// The same id again is done once by each run; left out: the server makes one.
    pub id: Option<Uuid>,
    /// Name of the instructor; left out: `instructor`.
    pub by: Option<String>,
}

/// Hands a class over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HandBody {
    /// Name of the instructor who takes it over.
    pub to: String,
    /// Name of the instructor who asks; left out: `instructor`.
    pub by: Option<String>,
}

/// A class that was handed over.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct HandedBody {
    /// Who holds it now.
    pub holder: String,
}

/// What every refusal of the REST interface says.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ErrorBody {
    /// Stable word.
    pub code: ErrorCode,
    /// What is wrong.
    pub text: String,
    /// What to do.
    pub remedy: String,
}
