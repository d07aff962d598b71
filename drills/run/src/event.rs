//! Events: what happened in a run.
//!
//! *Inputs* drive a run and, on replay, drive it again. *Findings* are what stepping produced: they are recorded as
//! facts and compared on replay, never applied.

mod kinds;
mod mark;

pub use kinds::KINDS;
pub use mark::{CATEGORIES, Category};

use crate::asking::{Grasp, Offered};
use crate::opening::Opening;
use deadship_plant::plant::Intermittent;
use deadship_plant::spec::Priority;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One reason of a refusal.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
pub struct Reason {
    /// Stable word, e.g. `not-here`.
    pub code: String,
    /// What is in the way and what would allow it.
    pub text: String,
}

impl Reason {
    /// Code and text.
    pub fn new(code: &str, text: impl Into<String>) -> Reason {
        Reason { code: code.to_owned(), text: text.into() }
    }
}

/// Why an alert that was raised is not shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Hidden {
    /// Someone shelved it.
    Shelved,
    /// It is suppressed by design.
    Suppressed,
}

/// The plant's [`Intermittent`] as its schema says it: the plant knows nothing of schemas.
#[derive(JsonSchema)]
#[expect(dead_code, reason = "only its schema is asked for")]
struct IntermittentSchema {
    /// From one coming to the next, s.
    period_s: f64,
    /// How long of each period it is present, s.
    present_s: f64,
}

/// An event. In the log: its name in kebab case beside its payload. All physical numbers are SI.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "name", content = "event", rename_all = "kebab-case")]
pub enum Event {
    /// Input: the run begins.
    RunOpened(Box<Opening>),
    /// Input: someone took a station.
    StationTaken {
        /// Station.
        station: String,
        /// Where they stand now; `None` on ships without places.
        place: Option<String>,
    },
    /// Input: someone gave their station back.
    StationLeft {
        /// Station.
        station: String,
    },
    /// Input: someone sets out for a place.
    Moved {
        /// Place.
        place: String,
        /// Tick at which they are there.
        arrives_tick: u64,
    },
    /// Input: a hand worked something; it takes effect at once, the hand is busy for a while.
    ActDone {
        /// Component.
        component: String,
        /// Verb.
        verb: String,
        /// Setting for `set`, otherwise empty.
        setting: String,
        /// Value, SI or index of the word.
        value: f64,
        /// Value for people; empty for acts without.
        shown: String,
        /// From a remote station (`true`) or by hand at the component.
        remote: bool,
        /// Tick until which the hand is busy.
        busy_until_tick: u64,
    },
    /// Input: a command was refused. Drives nothing; the debrief wants it.
    ActRefused {
        /// The command in words.
        command: String,
        /// Why.
        reasons: Vec<Reason>,
    },
    /// Input: someone said something.
    Said {
        /// Station spoken to; `None`: all.
        to: Option<String>,
        /// Text.
        text: String,
        /// Step of the drill that said it.
        step: Option<String>,
        /// Station in whose name it was said, where that is not the one who said it.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from: Option<String>,
    },
    /// Input: an alert was acknowledged.
    Acknowledged {
        /// Alert.
        alert: String,
        /// Number of its occurrence.
        occurrence: u64,
    },
    /// Input: the sound of alerts was silenced.
    Silenced {},
    /// Input: an alert was shelved: it is not shown for a time, or until unshelved.
    Shelved {
        /// Alert.
        alert: String,
        /// Tick at which that ends by itself; `None`: not before someone says so.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        until_tick: Option<u64>,
    },
    /// Input: an alert is shown again.
    Unshelved {
        /// Alert.
        alert: String,
    },
    /// Input: a fault was set.
    FaultSet {
        /// Component.
        component: String,
        /// Fault of its kind.
        fault: String,
        /// Severity it goes to, 0 to 1.
        severity: f64,
        /// Time it takes, s; 0: at once.
        ramp_s: f64,
        /// How it comes and goes; `None`: it stays.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schemars(with = "Option<IntermittentSchema>")]
        intermittent: Option<Intermittent>,
        /// Step of the drill that set it.
        step: Option<String>,
    },
    /// Input: a fault was lifted.
    FaultLifted {
        /// Component.
        component: String,
        /// Fault of its kind.
        fault: String,
        /// Step of the drill that lifted it.
        step: Option<String>,
    },
    /// Input: the run is on hold.
    HoldSet {
        /// Why.
        reason: String,
    },
    /// Input: the run goes on.
    HoldLifted {},
    /// Input: how fast the run goes against the clock; the plant does not know it.
    SpeedSet {
        /// 1 is as on board.
        factor: f64,
    },
    /// Input: a note for the debrief; a mark, where it has a category.
    Noted {
        /// Text; may be empty for a mark.
        text: String,
        /// Who noted it.
        by: String,
        /// What it is about.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        category: Option<Category>,
        /// Tick that it is about; `None`: the one at which it was noted.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        about_tick: Option<u64>,
        /// The note to which this adds its text: the number of its event.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        on: Option<u64>,
    },
    /// Input: a step of a procedure was ticked off.
    StepTicked {
        /// Procedure.
        procedure: String,
        /// Step.
        step: String,
        /// Was it done, or given up after refusals or a time-out?
        done: bool,
    },
    /// Input: the run is over.
    RunEnded {
        /// Why.
        reason: String,
    },
    /// Input: an order was given; it is open until it is reported.
    OrderGiven {
        /// Its number in the run.
        number: u64,
        /// Station that gave it.
        from: String,
        /// Station it is for; `None`: all.
        to: Option<String>,
        /// Text.
        text: String,
        /// Tick until which it should be reported.
        due_tick: Option<u64>,
        /// Step of the drill that gave it.
        step: Option<String>,
    },
    /// Input: an order was read back.
    OrderRepeated {
        /// Order.
        number: u64,
        /// Station that read it back.
        from: String,
        /// How; empty when it was repeated word for word.
        text: String,
    },
    /// Input: an order was reported to whoever gave it: it is closed.
    OrderReported {
        /// Order.
        number: u64,
        /// Station that reports.
        from: String,
        /// Station that gave the order.
        to: String,
        /// Text; empty: done.
        text: String,
    },
    /// Input: something was reported that nobody had ordered.
    Reported {
        /// Station that reports.
        from: String,
        /// Station reported to.
        to: String,
        /// Text.
        text: String,
    },
    /// Input: a fault is to strike when a condition is true.
    FaultPlanned {
        /// Component.
        component: String,
        /// Fault of its kind.
        fault: String,
        /// Severity it goes to, 0 to 1.
        severity: f64,
        /// Time it takes, s; 0: at once.
        ramp_s: f64,
        /// How it comes and goes; `None`: it stays.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[schemars(with = "Option<IntermittentSchema>")]
        intermittent: Option<Intermittent>,
        /// The condition, as written.
        when: String,
    },
    /// Input: a planned fault is not to strike any more.
    FaultPlanDropped {
        /// Component.
        component: String,
        /// Fault of its kind.
        fault: String,
    },
    /// Input: an objective was rated; of each rater the last rating counts.
    Rated {
        /// Objective of the drill.
        objective: String,
        /// Word of the level on its scale.
        level: String,
        /// Words to it; may be empty.
        text: String,
        /// Who rated.
        by: String,
        /// Is the team shown it: was it given when the run was over, in a drill that allows it?
        team_sees: bool,
    },
    /// Input: a person's name was taken out of this record, which was written anew. Drives nothing.
    PersonRemoved {
        /// What stands in its place.
        pseudonym: String,
        /// Events that were changed by that, without digests.
        events: u64,
    },
    /// Input: the drill asks a question.
    Asked {
        /// Name of the question.
        ask: String,
        /// Station that is asked; `None`: all.
        to: Option<String>,
        /// Text.
        text: String,
        /// What can be answered.
        choices: Vec<Offered>,
        /// What a probe asks about; `None`: it is a decision.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        grasp: Option<Grasp>,
        /// Is the run on hold until it is answered?
        holds: bool,
        /// Tick until which it must be decided.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        due_tick: Option<u64>,
        /// Step of the drill that asks.
        step: String,
    },
    /// Input: somebody answers.
    Answered {
        /// Name of the question.
        ask: String,
        /// Word of the choice.
        choice: String,
        /// Its text.
        text: String,
        /// Is it a decision? It is closed by this, and the team is told.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        decides: bool,
    },
    /// Finding: an alert's condition became true.
    AlertRaised {
        /// Alert.
        alert: String,
        /// Number of this occurrence.
        occurrence: u64,
        /// Priority.
        #[schemars(with = "String", extend("enum" = ["alarm", "warning", "caution"]))]
        priority: Priority,
        /// Text on the alert list.
        text: String,
        /// Full name of the reading.
        reading: String,
        /// Value.
        measured: f64,
        /// Limit.
        limit: f64,
        /// Value and limit for people.
        shown: String,
        /// Tick since which the limit was passed.
        since_tick: u64,
        /// Why it is not shown; `None`: it is.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        hidden: Option<Hidden>,
    },
    /// Finding: an alert's condition became false.
    AlertCleared {
        /// Alert.
        alert: String,
        /// Number of the occurrence.
        occurrence: u64,
        /// Value.
        measured: f64,
        /// Limit.
        limit: f64,
        /// Why it is not shown; `None`: it is.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        hidden: Option<Hidden>,
    },
    /// Finding: something that a component needs is not there.
    NeedLost {
        /// Component.
        component: String,
        /// Need of its kind.
        need: String,
    },
    /// Finding: a need is met again.
    NeedMet {
        /// Component.
        component: String,
        /// Need of its kind.
        need: String,
        /// Tick since which it was unmet.
        since_tick: u64,
    },
    /// Finding: what a kind reports: a trip, a start, a limit.
    Found {
        /// Component.
        component: String,
        /// Stable word of its kind.
        code: String,
        /// For people, with the numbers.
        text: String,
        /// Value.
        measured: f64,
        /// Limit.
        limit: f64,
        /// Tick since which the limit was passed.
        since_tick: u64,
    },
    /// Finding: what the drill is about has been reached.
    AimReached {
        /// Tick since which its condition holds.
        since_tick: u64,
    },
    /// Finding: something expected came true in time.
    ExpectationMet {
        /// Name.
        name: String,
        /// For people.
        text: String,
        /// Tick at which its time began to run.
        from_tick: u64,
    },
    /// Finding: something expected did not come true in time.
    ExpectationMissed {
        /// Name.
        name: String,
        /// For people.
        text: String,
        /// Tick at which its time began to run.
        from_tick: u64,
    },
    /// Finding: stands for the whole state, so that a replay that differs is noticed.
    Digest {
        /// Hexadecimal.
        digest: String,
    },
    /// Finding: the plant could not be solved, and the run stays on hold; or a condition of the drill could not be
    /// evaluated, and is left alone from then on.
    StepFailed {
        /// Net, or `drill`.
        net: String,
        /// Node, component or step of the drill.
        node: String,
        /// What is wrong with it.
        what: String,
    },
    /// Finding: an order was not reported in time. It stays open.
    OrderOverdue {
        /// Order.
        number: u64,
        /// Station that gave it.
        from: String,
        /// Station it is for; `None`: all.
        to: Option<String>,
        /// Text.
        text: String,
        /// Tick at which it was given.
        given_tick: u64,
    },
    /// Finding: an alert that stood on the list is suppressed by design from now on.
    SuppressionBegan {
        /// Alert.
        alert: String,
        /// Number of its occurrence.
        occurrence: u64,
    },
    /// Finding: an alert that was raised while it was suppressed by design comes up.
    SuppressionEnded {
        /// Alert.
        alert: String,
        /// Number of its occurrence.
        occurrence: u64,
        /// Priority.
        #[schemars(with = "String", extend("enum" = ["alarm", "warning", "caution"]))]
        priority: Priority,
        /// Text on the alert list.
        text: String,
        /// Does its condition still stand?
        raised: bool,
    },
    /// Finding: the time for which an alert was shelved is over.
    ShelvingEnded {
        /// Alert.
        alert: String,
        /// Number of its last occurrence, 0 before the first.
        occurrence: u64,
        /// Does its condition stand?
        raised: bool,
        /// Text on the alert list.
        text: String,
    },
    /// Finding: of a group of alerts that came together, this one was the first.
    FirstOut {
        /// Alert.
        alert: String,
        /// Number of its occurrence.
        occurrence: u64,
        /// Group.
        group: String,
        /// Text on the alert list.
        text: String,
    },
    /// Finding: there are more new alerts in ten minutes than anyone can look at.
    FloodBegan {
        /// How many there are.
        count: u64,
    },
    /// Finding: the flood is over.
    FloodEnded {
        /// Tick at which it began.
        began_tick: u64,
    },
    /// Finding: what the plant shows to be right of the answers to a question.
    AnswerKnown {
        /// Name of the question.
        ask: String,
        /// Text.
        text: String,
        /// Words of the choices that are right; none: the drill offers no right answer for what happened.
        right: Vec<String>,
    },
    /// Finding: nobody decided in time.
    Undecided {
        /// Name of the question.
        ask: String,
        /// Text.
        text: String,
    },
}
