//! From what the run says to what goes over the wire: the one place.

use deadship_protocol as wire;
use deadship_run::dials::{Dials, Position};
use deadship_run::drill::Drill;
use deadship_run::event::Event;
use deadship_run::setup::Setup;
use deadship_run::words::WordsError;
use deadship_run::{Envelope, Refusal, Role, Run, Who, timeline};
use serde_json::{Value, json};

/// A role.
pub(crate) fn role(role: Role) -> wire::Role {
    match role {
        Role::Instructor => wire::Role::Instructor,
        Role::Trainee => wire::Role::Trainee,
        Role::Facilitator => wire::Role::Facilitator,
        Role::Observer => wire::Role::Observer,
    }
}

/// Who, for people. Somebody who goes by the name of their role is named once.
pub(crate) fn who(who: &Who) -> String {
    match who {
        Who::Person { name, role, .. } if name == role.word() => name.clone(),
        other => other.to_string(),
    }
}

/// Who is told of an event.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Audience {
    /// Everyone on the run.
    All,
    /// Instructor and facilitator.
    Staff,
    /// Them and one person.
    StaffAnd(String),
    /// Them, and those who stand at this component or at a panel of it.
    Near(String),
    /// Nobody: it is for replay only.
    Nobody,
}

impl Audience {
    /// Is this person told? `near` says whether they are at a component.
    pub(crate) fn has(&self, who: &Who, near: impl Fn(&str) -> bool) -> bool {
        let staff = is_staff(who.role());
        match self {
            Audience::Near(component) => staff || near(component),
            Audience::All => true,
            Audience::Staff => staff,
            Audience::StaffAnd(name) => staff || who.key().is_some_and(|key| key == *name),
            Audience::Nobody => false,
        }
    }
}

/// Do they see everything?
pub(crate) fn is_staff(role: Role) -> bool {
    matches!(role, Role::Instructor | Role::Facilitator)
}

/// Who is told of an event. A team must find out for itself what is wrong with its ship: faults, what components lack
/// and what is expected are for those who run the class; what a machine does is noticed where it stands. `is_read`: is a
/// procedure of this name one that the team reads?
pub(crate) fn audience(envelope: &Envelope, is_read: impl Fn(&str) -> bool) -> Audience {
    match &envelope.event {
        // Its name may tell what the robots are there to do wrong.
        Event::StepTicked { procedure, .. } if !is_read(procedure) => Audience::Staff,
        Event::Digest { .. } => Audience::Nobody,
        Event::FaultSet { .. }
        | Event::FaultLifted { .. }
        | Event::FaultPlanned { .. }
        | Event::FaultPlanDropped { .. }
        | Event::Noted { .. }
        | Event::Rated { team_sees: false, .. }
        | Event::NeedLost { .. }
        | Event::NeedMet { .. }
        | Event::ExpectationMet { .. }
        | Event::ExpectationMissed { .. }
        | Event::OrderOverdue { .. }
        | Event::AlertRaised { hidden: Some(_), .. }
        | Event::AlertCleared { hidden: Some(_), .. }
        | Event::SuppressionBegan { .. }
        | Event::AnswerKnown { .. }
        | Event::StepFailed { .. } => Audience::Staff,
        Event::Found { component, .. } => Audience::Near(component.clone()),
        // What one person sees in the plant is not told to the next, who is asked the same.
        Event::ActRefused { .. } | Event::Answered { decides: false, .. } => {
            envelope.who.key().map_or(Audience::Staff, Audience::StaffAnd)
        }
        _ => Audience::All,
    }
}

/// Does the team read the procedure of this name?
pub(crate) fn team_reads(setup: &Setup, procedure: &str) -> bool {
    setup.procedures.iter().any(|known| known.name == procedure && known.team_sees)
}

/// Is somebody who stands there at this component, or at a panel of it? Components without a place are everywhere.
pub(crate) fn is_near(setup: &Setup, at: Option<usize>, component: &str) -> bool {
    let Some(index) = setup.compiled.component(component) else { return false };
    let owner = &setup.compiled.spec.components[index];
    match (owner.place, at) {
        (None, _) => true,
        (Some(_), None) => false,
        (Some(place), Some(at)) => at == place || owner.remote.contains(&at),
    }
}

/// Where one person stands, as their own events tell.
#[derive(Debug, Default)]
pub(crate) struct Standing {
    place: Option<usize>,
    arrives_tick: u64,
}

impl Standing {
    /// Takes note of an event.
    pub(crate) fn follow(&mut self, setup: &Setup, who: &Who, envelope: &Envelope) {
        if envelope.who.key() != who.key() {
            return;
        }
        match &envelope.event {
            Event::StationTaken { place: Some(place), .. } => {
                *self = Standing { place: setup.place(place), arrives_tick: envelope.tick };
            }
            Event::Moved { place, arrives_tick } => {
                *self = Standing { place: setup.place(place), arrives_tick: *arrives_tick };
            }
            _ => {}
        }
    }

    /// Where they stand at this tick; `None` while they walk.
    pub(crate) fn at(&self, tick: u64) -> Option<usize> {
        if self.arrives_tick > tick { None } else { self.place }
    }
}

/// An event.
pub(crate) fn event(envelope: &Envelope) -> wire::ServerMessage {
    let text = timeline::what(&envelope.event);
    wire::ServerMessage::Event(Box::new(wire::EventMessage {
        run: envelope.run,
        seq: envelope.seq,
        tick: envelope.tick,
        time: time(envelope.tick),
        who: who(&envelope.who),
        kind: envelope.event.name().to_owned(),
        text,
        data: data(&envelope.event),
    }))
}

/// The fields of an event. The opening's texts stay here: they tell what the drill has in store.
fn data(event: &Event) -> Value {
    if let Event::RunOpened(opening) = event {
        return json!({ "drill": opening.drill, "ship": opening.ship });
    }
    let mut value = serde_json::to_value(event).unwrap_or_default();
    let data = value.get_mut("event").map_or(Value::Null, Value::take);
    if data.as_object().is_some_and(serde_json::Map::is_empty) { Value::Null } else { data }
}

/// Dials as asked for; left out, one stands as the drill was written.
pub(crate) fn dials(difficulty: Option<wire::DialPosition>, stress: Option<wire::DialPosition>) -> Dials {
    let position = |asked: Option<wire::DialPosition>| match asked {
        None | Some(wire::DialPosition::Usual) => Position::Usual,
        Some(wire::DialPosition::Low) => Position::Low,
        Some(wire::DialPosition::High) => Position::High,
    };
    Dials { difficulty: position(difficulty), stress: position(stress) }
}

/// Ticks for people.
pub(crate) fn time(tick: u64) -> String {
    timeline::clock(tick).trim().to_owned()
}

/// How a run is. `last_seq` is its last event on disk.
pub(crate) fn run_state(run: &Run, team: &str, last_seq: u64) -> wire::RunState {
    wire::RunState {
        run: run.id,
        team: team.to_owned(),
        drill: run.setup.drill.name.clone(),
        last_seq,
        tick: run.tick(),
        time: time(run.tick()),
        speed: run.state.speed,
        reached_speed: None,
        hold: run.state.hold.clone(),
        ended: run.state.ended.clone(),
        failed: run.state.failed.clone(),
    }
}

/// The stations of a drill.
pub(crate) fn stations(drill: &Drill) -> Vec<wire::StationInfo> {
    let info = |station: &deadship_run::drill::Station| wire::StationInfo {
        name: station.name.clone(),
        title: station.title.clone(),
        seats: station.seats,
    };
    drill.stations.iter().map(info).collect()
}

/// The reasons of a refusal.
pub(crate) fn reasons(refusal: &Refusal) -> Vec<wire::Reason> {
    let reason = |r: &deadship_run::Reason| wire::Reason { code: r.code.clone(), text: r.text.clone() };
    refusal.reasons.iter().map(reason).collect()
}

/// A line that means nothing, as a refusal.
pub(crate) fn words_reason(error: &WordsError) -> wire::Reason {
    let code = match error {
        WordsError::Empty => "nothing-typed",
        WordsError::TooLong => "too-long",
        WordsError::UnknownWord { .. } => "unknown-word",
        WordsError::Form { .. } => "wrong-form",
        WordsError::UnknownName { .. } => "unknown-name",
        WordsError::Value(_) => "wrong-value",
    };
    wire::Reason { code: code.to_owned(), text: error.to_string() }
}
