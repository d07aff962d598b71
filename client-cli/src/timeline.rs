//! `deadship timeline` and `deadship replay`.

mod by_objective;

use crate::cli::{EventSort, ReplayArgs, TimelineArgs};
use crate::export::sealed;
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::log::{read_log, read_run};
use crate::readings::choose;
use crate::rehearse::important;
use by_objective::{has_objectives, tell_by_objective};
use deadship_run::answer::show_reading;
use deadship_run::debrief::Debrief;
use deadship_run::measures::{MeasureInput, Measures};
use deadship_run::replay::{ReplayError, Until, rebuild, verify};
use deadship_run::setup::ticks;
use deadship_run::timeline::{clock, line};
use deadship_run::{Envelope, Event, Who};
use serde_json::Value;
use std::path::Path;

/// `deadship timeline`.
pub(crate) fn timeline(io: &mut Io, args: &TimelineArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    let log = read_log(io, &args.log, authority)?;
    if args.moments {
        return moments(io, &log);
    }
    let chosen = |envelope: &&Envelope| is_chosen(args, envelope);
    if args.by_objective || (asks_for_nothing(args) && has_objectives(&log)) {
        tell_by_objective(io, &log, &|envelope| is_chosen(args, envelope))?;
        io.flush()?;
        return Ok(WELL);
    }
    let stages = if args.by_expected { Debrief::of(&log).stages() } else { Vec::new() };
    let mut coming = stages.iter().enumerate().peekable();
    for envelope in log.iter().filter(chosen) {
        while let Some((at, stage)) = coming.next_if(|(_, stage)| stage.from <= envelope.tick) {
            if at > 0 {
                io.line("")?;
            }
            io.line(&format!("-- until {}, {}", clock(stage.to).trim(), stage.text))?;
        }
        if args.json {
            io.line(&short_json(envelope))?;
        } else {
            io.line(&line(envelope))?;
        }
    }
    io.flush()?;
    Ok(WELL)
}

/// Is no order wanted and nothing looked for? What is looked for is found by its time.
fn asks_for_nothing(args: &TimelineArgs) -> bool {
    !(args.all || args.json || args.by_clock || args.by_expected)
        && args.only.is_empty()
        && args.who.is_none()
        && args.find.is_none()
        && args.from.is_none()
        && args.to.is_none()
}

/// Do the filters let it pass?
fn is_chosen(args: &TimelineArgs, envelope: &Envelope) -> bool {
    let sort = sort_of(&envelope.event);
    let is_of = |name: &String| {
        let station = match &envelope.who {
            Who::Person { station, .. } => station.as_deref(),
            Who::Robot { station } => Some(station.as_str()),
            Who::Drill => Some("drill"),
            Who::Plant => Some("plant"),
        };
        station == Some(name.as_str()) || envelope.who.key().as_ref() == Some(name)
    };
    let has = |text: &String| line(envelope).to_lowercase().contains(&text.to_lowercase());
    (args.all || important(&envelope.event) || sort.is_some_and(|sort| args.only.contains(&sort)))
        && (args.only.is_empty() || sort.is_some_and(|sort| args.only.contains(&sort)))
        && args.who.as_ref().is_none_or(is_of)
        && args.find.as_ref().is_none_or(has)
        && args.from.is_none_or(|from| envelope.tick >= ticks(from))
        && args.to.is_none_or(|to| envelope.tick <= ticks(to))
}

/// The sort that an event is of; `None`: of none, as the opening.
fn sort_of(event: &Event) -> Option<EventSort> {
    Some(match event {
        Event::ActDone { .. } | Event::ActRefused { .. } => EventSort::Acts,
        Event::FaultSet { .. }
        | Event::FaultLifted { .. }
        | Event::FaultPlanned { .. }
        | Event::FaultPlanDropped { .. } => EventSort::Faults,
        Event::AlertRaised { .. }
        | Event::AlertCleared { .. }
        | Event::Acknowledged { .. }
        | Event::Silenced {}
        | Event::Shelved { .. }
        | Event::Unshelved { .. }
        | Event::SuppressionBegan { .. }
        | Event::SuppressionEnded { .. }
        | Event::ShelvingEnded { .. }
        | Event::FirstOut { .. }
        | Event::FloodBegan { .. }
        | Event::FloodEnded { .. } => EventSort::Alerts,
        Event::Found { .. } | Event::NeedLost { .. } | Event::NeedMet { .. } | Event::StepFailed { .. } => {
            EventSort::Plant
        }
        Event::Said { .. }
        | Event::OrderGiven { .. }
        | Event::OrderRepeated { .. }
        | Event::OrderReported { .. }
        | Event::OrderOverdue { .. }
        | Event::Reported { .. }
        | Event::Asked { .. }
        | Event::Answered { .. } => EventSort::Talk,
        Event::Noted { .. }
        | Event::StepTicked { .. }
        | Event::AimReached { .. }
        | Event::ExpectationMet { .. }
        | Event::ExpectationMissed { .. }
        | Event::AnswerKnown { .. }
        | Event::Undecided { .. } => EventSort::Marks,
        Event::StationTaken { .. }
        | Event::StationLeft { .. }
        | Event::Moved { .. }
        | Event::HoldSet { .. }
        | Event::HoldLifted {}
        | Event::SpeedSet { .. }
        | Event::RunEnded { .. } => EventSort::People,
        _ => return None,
    })
}

/// The few moments that matter.
fn moments(io: &mut Io, log: &[Envelope]) -> Result<u8, Failure> {
    let moments = Measures::of(&MeasureInput::replayed(log)).moments;
    if moments.is_empty() {
        io.tell(
            "nothing stands out in this run: no trip, no unsafe act, no long wait; look at `timeline` itself",
        );
    }
    for moment in moments {
        io.line(&format!("{} {:>5}  {}", clock(moment.tick), moment.seq, moment.title))?;
        io.line(&format!("               {}", moment.why))?;
    }
    io.flush()?;
    Ok(WELL)
}

/// The event without the texts that an opening holds: they are in the archive.
fn short_json(envelope: &Envelope) -> String {
    if !matches!(envelope.event, Event::RunOpened(_)) {
        return envelope.encode();
    }
    let mut value: Value = serde_json::from_str(&envelope.encode()).unwrap_or(Value::Null);
    for key in ["drill_file", "ship_files", "procedures", "base"] {
        if let Some(event) = value.get_mut("event").and_then(Value::as_object_mut) {
            event.remove(key);
        }
    }
    value.to_string()
}

/// `deadship replay`.
pub(crate) fn replay(io: &mut Io, args: &ReplayArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    let kept = read_run(io, &args.log, authority)?;
    let log = &kept.log;
    match (args.at, &kept.seal) {
        // What another model computes is not what was seen: the sealed readings are.
        (Some(seconds), Some(seal)) if sealed::is_of_another_model(seal) => {
            sealed::readings_at(io, seal, check_within(log, seconds)?, &args.readings)
        }
        (Some(seconds), _) => readings_at(io, log, seconds, &args.readings),
        (None, _) => check_all(io, log),
    }
}

/// The tick of a time, which must lie within the log.
fn check_within(log: &[Envelope], seconds: f64) -> Result<u64, Failure> {
    let last = log.last().map_or(0, |envelope| envelope.tick);
    let tick = ticks(seconds);
    match tick > last {
        true => {
            let text = format!("the log ends at {}, before the time asked for", clock(last).trim());
            Err(Failure::Asked(text))
        }
        false => Ok(tick),
    }
}

fn readings_at(io: &mut Io, log: &[Envelope], seconds: f64, patterns: &[String]) -> Result<u8, Failure> {
    let tick = check_within(log, seconds)?;
    let rebuilt = match rebuild(log, Until::Tick(tick)) {
        Ok(rebuilt) => rebuilt,
        Err(error) => return diverged(io, error),
    };
    let run = rebuilt.recorder.run();
    io.tell(&format!(
        "{} of {} on {}",
        clock(tick).trim(),
        run.setup.drill.title,
        run.setup.compiled.spec.title
    ));
    let chosen = choose(&run.setup.compiled, patterns)?;
    let width = chosen.iter().map(|wanted| wanted.name.chars().count()).max().unwrap_or(0);
    for wanted in chosen {
        io.line(&format!(
            "{:<width$}  {}",
            wanted.name,
            show_reading(run, wanted.component, wanted.reading)
        ))?;
    }
    io.flush()?;
    Ok(WELL)
}

fn check_all(io: &mut Io, log: &[Envelope]) -> Result<u8, Failure> {
    match verify(log) {
        Ok(verified) => {
            io.line(&format!("{} events, {} digests: all equal", verified.events, verified.digests))?;
            io.flush()?;
            Ok(WELL)
        }
        Err(error) => diverged(io, error),
    }
}

/// A difference is an answer; anything else is a log that cannot be replayed.
pub(crate) fn diverged(io: &mut Io, error: ReplayError) -> Result<u8, Failure> {
    match error {
        ReplayError::Diverged(difference) => {
            io.line(&difference.to_string())?;
            io.flush()?;
            Ok(NO)
        }
        other => Err(cannot_be_replayed(other)),
    }
}

/// A log that cannot be replayed, as a failure.
pub(crate) fn cannot_be_replayed(error: ReplayError) -> Failure {
    match error {
        ReplayError::Open(error) => crate::trial::open_failed(error),
        other => Failure::Plant(other.to_string()),
    }
}
