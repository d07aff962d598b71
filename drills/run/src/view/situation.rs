//! How things stand: the crew, alerts, orders; for those who run the class also what the team must find out for itself.

use crate::answer::alerts_in_order;
use crate::asking::{Offered, OpenAsk};
use crate::orders::Order;
use crate::run::Run;
use crate::who::{Role, Who};
use deadship_plant::kind::Verb;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How things stand.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Situation {
    /// Who is aboard.
    pub crew: Vec<CrewNow>,
    /// The list of alerts, in the order in which it is to be read.
    pub alerts: Vec<AlertNow>,
    /// Tick since which more alerts come than anyone can read.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flood_since: Option<u64>,
    /// Does the sound of alerts go?
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub sounding: bool,
    /// Components that must be reset before what stands on the list can go: acknowledging does not do it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub resets: Vec<String>,
    /// Alerts that someone has shelved, by name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shelved: Vec<String>,
    /// Texts of alerts that are raised and suppressed by design.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub suppressed: Vec<String>,
    /// Open orders.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub orders: Vec<OrderNow>,
    /// What the drill asks now.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub asked: Vec<AskedNow>,
    /// Steps of procedures that were ticked off, as `procedure/step`: when, and done (or given up).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ticked: Vec<StepNow>,
    /// Faults that are set; for those who run the class, as all that follows.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub faults: Vec<FaultSetNow>,
    /// Faults that wait for a condition.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub planned: Vec<FaultPlanned>,
    /// Steps of the drill that have happened.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps: Vec<String>,
    /// How far each expectation is, in the drill's order, the aim last.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub expects: Vec<ExpectNow>,
}

/// Someone aboard.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct CrewNow {
    /// Name; a robot's is its station's.
    pub name: String,
    /// Is it a robot?
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub robot: bool,
    /// Station held.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub station: Option<String>,
    /// Index of the place where they stand, or to which they walk.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<usize>,
    /// Tick at which they are there.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub arrives_tick: u64,
    /// Tick until which their hands are busy.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub busy_until_tick: u64,
}

fn is_zero(tick: &u64) -> bool {
    *tick == 0
}

/// An alert on the list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct AlertNow {
    /// Number of its occurrence, as `ack` takes it.
    pub number: u64,
    /// Name.
    pub alert: String,
    /// Text.
    pub text: String,
    /// `alarm`, `warning`, `caution`.
    pub priority: String,
    /// Does its condition stand?
    pub raised: bool,
    /// Does it wait to be acknowledged?
    pub waits: bool,
    /// Group of which it came first.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first_of: Option<String>,
    /// When it was raised.
    pub raised_tick: u64,
    /// Component that it is about.
    pub component: String,
}

/// An open order.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct OrderNow {
    /// Its number.
    pub number: u64,
    /// Station that gave it.
    pub from: String,
    /// Station it is for; left out: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    /// Text.
    pub text: String,
    /// When it was given.
    pub given_tick: u64,
    /// Until when it should be reported.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due_tick: Option<u64>,
    /// When it was read back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub read_back_tick: Option<u64>,
    /// Has its time run out?
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub overdue: bool,
}

/// A question that can be answered now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct AskedNow {
    /// Name, as `answer` takes it.
    pub name: String,
    /// Station that is asked; left out: all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub to: Option<String>,
    /// Text.
    pub text: String,
    /// What can be answered.
    pub choices: Vec<Offered>,
    /// Is it a decision? The first answer closes it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub decides: bool,
    /// Until when it must be decided.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due_tick: Option<u64>,
    /// Names of those who have answered; not what.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub answered: Vec<String>,
}

/// A step of a procedure that was ticked off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct StepNow {
    /// `procedure/step`.
    pub step: String,
    /// When.
    pub tick: u64,
    /// Done, or given up?
    pub done: bool,
}

/// A fault that is set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FaultSetNow {
    /// `component.fault`.
    pub name: String,
    /// Severity it goes to, 0 to 1.
    pub severity: f64,
    /// When it was set.
    pub set_tick: u64,
}

/// A fault that waits for a condition.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct FaultPlanned {
    /// `component.fault`.
    pub name: String,
    /// The condition, as written.
    pub when: String,
}

/// How far an expectation is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ExpectNow {
    /// When its time began to run; left out: it does not yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_tick: Option<u64>,
    /// Met or missed; left out: open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub met: Option<bool>,
    /// When that was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tick: Option<u64>,
}

impl Situation {
    /// How things stand now; `all`: with what only those who run the class may know.
    pub fn new(run: &Run, all: bool) -> Situation {
        let (spec, state) = (&run.setup.compiled.spec, &run.state);
        let hidden = || state.alerts.iter().zip(&spec.alerts);
        let shelved = hidden().filter(|(life, _)| life.shelved);
        let suppressed = hidden().filter(|(life, _)| life.suppressed && !life.shelved && life.raised());
        let ticked = state.ticked.iter();
        Situation {
            crew: state
                .people
                .values()
                .filter(|person| person.who.role() == Role::Trainee)
                .map(crew)
                .collect(),
            alerts: alerts_in_order(run).into_iter().map(|alert| alert_now(run, alert)).collect(),
            flood_since: state.flood.since,
            sounding: state.alerts.iter().any(|life| life.sounding),
            resets: resets(run),
            shelved: shelved.map(|(_, def)| def.name.clone()).collect(),
            suppressed: suppressed.map(|(_, def)| def.text.clone()).collect(),
            orders: state.orders.open.iter().map(order).collect(),
            asked: state.asked.open.iter().map(asked).collect(),
            ticked: ticked
                .map(|(step, (tick, done))| StepNow { step: step.clone(), tick: *tick, done: *done })
                .collect(),
            faults: if all { faults(run) } else { Vec::new() },
            planned: if all { planned(run) } else { Vec::new() },
            steps: if all { state.steps.iter().cloned().collect() } else { Vec::new() },
            expects: if all { expects(run) } else { Vec::new() },
        }
    }

    /// Someone of the crew by name.
    pub fn of(&self, name: &str) -> Option<&CrewNow> {
        self.crew.iter().find(|one| one.name == name && !one.robot)
    }
}

impl CrewNow {
    /// The place where they stand; `None` while they walk.
    pub fn stands_at(&self, tick: u64) -> Option<usize> {
        if self.arrives_tick > tick { None } else { self.place }
    }
}

fn crew(person: &crate::run::Person) -> CrewNow {
    let (name, robot) = match &person.who {
        Who::Robot { station } => (station.clone(), true),
        other => (other.key().unwrap_or_default(), false),
    };
    CrewNow {
        name,
        robot,
        station: person.station.clone(),
        place: person.place,
        arrives_tick: person.arrives_tick,
        busy_until_tick: person.busy_until_tick,
    }
}

fn alert_now(run: &Run, alert: usize) -> AlertNow {
    let (life, def) = (&run.state.alerts[alert], &run.setup.compiled.spec.alerts[alert]);
    AlertNow {
        number: life.occurrence,
        alert: def.name.clone(),
        text: def.text.clone(),
        priority: def.priority.word().to_owned(),
        raised: life.raised(),
        waits: life.waits(),
        first_of: def.first_out.clone().filter(|_| life.first_out),
        raised_tick: life.raised_tick,
        component: run.setup.compiled.spec.components[def.about].name.clone(),
    }
}

/// Components with a latch that an alert on the list tells of.
pub(crate) fn resets(run: &Run) -> Vec<String> {
    let spec = &run.setup.compiled.spec;
    let mut names: Vec<String> = Vec::new();
    for alert in alerts_in_order(run).into_iter().filter(|&alert| run.state.alerts[alert].raised()) {
        let (owner, reading) = spec.alerts[alert].reading;
        let component = &spec.components[owner];
        let can_reset = component.kind.acts.iter().any(|act| act.verb == Verb::Reset);
        if component.kind.readings[reading].latched && can_reset && !names.contains(&component.name) {
            names.push(component.name.clone());
        }
    }
    names
}

fn order(order: &Order) -> OrderNow {
    OrderNow {
        number: order.number,
        from: order.from.clone(),
        to: order.to.clone(),
        text: order.text.clone(),
        given_tick: order.tick,
        due_tick: order.due_tick,
        read_back_tick: order.read_back_tick,
        overdue: order.overdue,
    }
}

fn asked(ask: &OpenAsk) -> AskedNow {
    AskedNow {
        name: ask.name.clone(),
        to: ask.to.clone(),
        text: ask.text.clone(),
        choices: ask.choices.clone(),
        decides: ask.decides,
        due_tick: ask.due_tick,
        answered: ask.answered.keys().cloned().collect(),
    }
}

fn faults(run: &Run) -> Vec<FaultSetNow> {
    let set = run.state.faults.iter();
    set.map(|(name, now)| FaultSetNow { name: name.clone(), severity: now.severity, set_tick: now.set_tick })
        .collect()
}

fn planned(run: &Run) -> Vec<FaultPlanned> {
    let planned = run.state.planned.iter();
    planned.map(|(name, plan)| FaultPlanned { name: name.clone(), when: plan.when.clone() }).collect()
}

fn expects(run: &Run) -> Vec<ExpectNow> {
    let watch = &run.state.watch;
    let expects = watch.expects.iter().map(|expect| ExpectNow {
        from_tick: expect.from_tick,
        met: expect.outcome.map(|(met, _)| met),
        tick: expect.outcome.map(|(_, tick)| tick),
    });
    let aim = run.setup.drill.aim.iter().map(|_| ExpectNow {
        from_tick: Some(0),
        met: watch.aim_tick.map(|_| true),
        tick: watch.aim_tick,
    });
    expects.chain(aim).collect()
}
