//! All rules: may a command be done, and what happens then. Changes nothing.

pub(crate) mod acts;
mod direct;
mod notes;
mod orders;
mod people;
mod plans;
mod ratings;

use crate::command::Command;
use crate::event::{Event, Reason};
use crate::run::{Person, Run};
use crate::who::{Role, Who};
use crate::words::is_unseen;

/// A command that cannot be done, with every reason.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{}", .reasons.iter().map(|r| r.text.as_str()).collect::<Vec<_>>().join("; "))]
pub struct Refusal {
    /// Why, at least one.
    pub reasons: Vec<Reason>,
}

impl Refusal {
    /// For one reason.
    pub fn new(code: &str, text: impl Into<String>) -> Refusal {
        Refusal { reasons: vec![Reason::new(code, text)] }
    }

    /// Is this among the reasons?
    pub fn has(&self, code: &str) -> bool {
        self.reasons.iter().any(|reason| reason.code == code)
    }
}

/// Longest text that someone can say or note, characters.
pub const LONGEST_TEXT: usize = 500;
/// Longest name of a person, characters.
pub const LONGEST_NAME: usize = 40;
/// How long an alert is shelved unless said, and at most, s: a watch is long enough (common practice, no source).
pub const SHELVED_S: (f64, f64) = (1800.0, 28_800.0);
/// Slowest and fastest a run goes against the clock.
pub const SPEEDS: (f64, f64) = (0.1, 60.0);

/// What a command brings, as events to apply in order.
///
/// # Errors
/// A refusal with every reason.
pub fn decide(run: &Run, who: &Who, command: &Command) -> Result<Vec<Event>, Refusal> {
    check_run(run, command)?;
    check_name(who)?;
    check_role(who, command)?;
    match command {
        Command::TakeStation { station } => people::take_station(run, who, station),
        Command::LeaveStation {} => people::leave_station(run, who),
        Command::Go { place } => people::go(run, who, place),
        Command::Act { component, verb, setting, value } => {
            acts::act(run, who, &acts::Wanted { component, verb: *verb, setting, value: *value })
        }
        Command::Say { to, text } => people::say(run, to.as_deref(), text),
        Command::Order { .. }
        | Command::Repeat { .. }
        | Command::Report { .. }
        | Command::ReportTo { .. } => orders::speak(run, &orders::voice(run, who)?, command),
        Command::AsBridge { command } => orders::as_bridge(run, command),
        Command::Acknowledge { occurrence } => people::acknowledge(run, who, *occurrence),
        Command::AcknowledgeAll {} => people::acknowledge_all(run, who),
        Command::Silence {} => people::silence(run, who),
        Command::Shelve { alert, for_s } => people::shelve(run, who, alert, *for_s),
        Command::Unshelve { alert } => people::unshelve(run, who, alert),
        Command::Answer { ask, choice } => crate::asking::answer(run, who, ask, choice),
        Command::TickOff { procedure, step, done } => people::tick_off(run, procedure, step, *done),
        Command::SetFault { component, fault, severity, ramp_s, intermittent, when } => {
            let set = direct::set_fault(run, component, fault, *severity, *ramp_s, *intermittent)?;
            match when {
                None => Ok(vec![set]),
                Some(when) => Ok(vec![plans::wait(run, set, when)?]),
            }
        }
        Command::LiftFault { component, fault } => direct::lift_fault(run, component, fault),
        Command::Hold {} => direct::hold(run, "the instructor"),
        Command::Resume {} => direct::resume(run),
        Command::Speed { factor } => direct::speed(run, *factor),
        Command::Note { text } => notes::note(who, text),
        Command::NoteOn { number, text } => notes::note_on(run, who, *number, text),
        Command::Mark { category, ago_s, text } => notes::mark(run, who, *category, *ago_s, text),
        Command::Rate { objective, level, text } => ratings::rate(run, who, objective, level, text),
        Command::End {} => Ok(vec![Event::RunEnded { reason: "ended by the instructor".to_owned() }]),
    }
}

/// What the run as a whole allows: nothing but notes once it is over, no work while it is on hold.
fn check_run(run: &Run, command: &Command) -> Result<(), Refusal> {
    if let Some(reason) = &run.state.ended
        && !command.notes()
    {
        return Err(Refusal::new("run-ended", format!("the run is over: {reason}")));
    }
    let works = matches!(
        command,
        Command::Go { .. }
            | Command::Act { .. }
            | Command::Acknowledge { .. }
            | Command::AcknowledgeAll {}
            | Command::Silence {}
    );
    match &run.state.hold {
        Some(reason) if works => Err(Refusal::new(
            "on-hold",
            format!("the run is on hold ({reason}); the instructor lets it go on"),
        )),
        _ => Ok(()),
    }
}

fn check_name(who: &Who) -> Result<(), Refusal> {
    let Who::Person { name, .. } = who else { return Ok(()) };
    let length = name.chars().count();
    if length == 0 || length > LONGEST_NAME || name.contains('/') || name.chars().any(is_unseen) {
        let text = format!("a name has 1 to {LONGEST_NAME} characters that can be seen, and no `/`");
        return Err(Refusal::new("bad-name", text));
    }
    Ok(())
}

/// Who may do what: the instructor all, trainees what a crew does, the facilitator notes.
fn check_role(who: &Who, command: &Command) -> Result<(), Refusal> {
    let directs = command.directs();
    let notes = command.notes();
    let may = match who.role() {
        Role::Instructor => true,
        Role::Trainee => !directs && !notes,
        Role::Facilitator => notes || matches!(command, Command::Say { .. }),
        Role::Observer => false,
    };
    if may {
        return Ok(());
    }
    let text = match directs {
        true => "only the instructor can do this".to_owned(),
        false => format!(
            "this is not for a {}",
            if who.role() == Role::Trainee { "trainee" } else { who.role().word() }
        ),
    };
    Err(Refusal::new("not-your-role", text))
}

/// The person behind a command, who must hold a station unless the instructor gives it.
pub(crate) fn at_station<'r>(run: &'r Run, who: &Who) -> Result<Option<&'r Person>, Refusal> {
    let person = run.person(who);
    if who.role() == Role::Instructor {
        return Ok(person);
    }
    match person {
        Some(person) if person.station.is_some() => Ok(Some(person)),
        _ => {
            let known: Vec<&str> =
                run.setup.drill.stations.iter().map(|station| station.name.as_str()).collect();
            let text = format!("take a station first: {}", known.join(", "));
            Err(Refusal::new("no-station", text))
        }
    }
}

/// Hands and feet must be free.
fn check_free(run: &Run, person: &Person) -> Result<(), Refusal> {
    let tick = run.tick();
    let left = |until: u64| ((until - tick) as f64 * deadship_plant::TICK_S).ceil();
    if person.arrives_tick > tick {
        let place = person.place.map_or("?", |place| run.setup.place_name(place));
        let text = format!("you are walking to {place}, {} s more", left(person.arrives_tick));
        return Err(Refusal::new("walking", text));
    }
    if person.busy_until_tick > tick {
        let text = format!("your hands are busy for {} s more", left(person.busy_until_tick));
        return Err(Refusal::new("busy", text));
    }
    Ok(())
}
