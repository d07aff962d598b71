//! `deadship whatif`: a run once more with something changed, or the change that would have avoided something.

use crate::cli::WhatIfArgs;
use crate::clock::parse_time;
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::log::read_log;
use crate::rehearse::{new_archive, write_down};
use crate::trial::AT;
use crate::why::failed;
use deadship_plant::TICK_S;
use deadship_plant::file::toml_reader::nearest;
use deadship_run::fork::{Change, Impossible, fork_telling};
use deadship_run::ids::derived_run;
use deadship_run::replay::{ReplayError, Until};
use deadship_run::setup::{Setup, ticks};
use deadship_run::timeline::{clock, line};
use deadship_run::whatif::{Comparison, Effect, Search, Side, WhatIf, compare, search};
use deadship_run::why::Told;
use deadship_run::words::{Line, Vocabulary, parse};
use deadship_run::{Envelope, Event, Role, Who};
use serde_json::json;
use std::path::Path;

/// Longest course, ticks: a day. A course that never ends is cut there.
const LONGEST_TICKS: u64 = 1_728_000;

/// `deadship whatif`.
pub(crate) fn whatif(io: &mut Io, args: &WhatIfArgs, authority: Option<&Path>) -> Result<u8, Failure> {
    let log = read_log(io, &args.log, authority)?;
    if let Some(seq) = args.search {
        return find(io, log, seq, args.json);
    }
    let changes = changes(&log, args)?;
    let last = args.until.map_or_else(|| log.last().map_or(0, |last| last.tick), ticks);
    if let Some(tick) = changes.iter().filter_map(tick_to).max().filter(|tick| *tick > last) {
        let (at, end) = (clock(tick), clock(last));
        let text = format!(
            "{} is after the end of this course at {}; `--until` lets it go on",
            at.trim(),
            end.trim()
        );
        return Err(Failure::Asked(text));
    }
    if changes.is_empty() {
        let text = "say what is to be otherwise: `--drop SEQ`, `--shift SEQ=TIME`, `--add \"at TIME: WORDS\"`, or look with \
                    `--search SEQ`";
        return Err(Failure::Asked(text.to_owned()));
    }
    beside(io, &log, &changes, args)
}

/// Runs the other course and lays both side by side.
fn beside(io: &mut Io, log: &[Envelope], changes: &[Change], args: &WhatIfArgs) -> Result<u8, Failure> {
    let last = log.last().map_or(0, |last| last.tick);
    let until = args.until.map_or(last, ticks);
    if until > LONGEST_TICKS {
        return Err(Failure::Asked("a course goes on for a day at the most".to_owned()));
    }
    // The first event of a log is its opening; one without fails in the fork below.
    let run = log.first().map(|first| first.run).unwrap_or_default();
    let id = derived_run(run, &format!("{changes:?} {until}"));
    let archive = args.record.as_deref().map(|path| new_archive(path, id)).transpose()?;
    let who = Who::person("what if", Role::Facilitator);
    let forked = fork_telling(log, Until::Tick(until), id, changes, &who, AT).map_err(replay_failed)?;
    if let Some(mut archive) = archive {
        write_down(&mut archive, &forked.log)?;
        archive.finish()?;
    }
    let sides = compare(&Side::of(log), &Side::of(&forked.log));
    if args.json {
        let impossible: Vec<_> = forked.impossible.iter().map(impossible_json).collect();
        let all = json!({ "run": run, "other": id, "rows": sides.rows, "impossible": impossible });
        io.line(&format!("{all:#}"))?;
    } else {
        tell(io, &sides, &forked.impossible)?;
    }
    io.flush()?;
    // What was asked for and could not be done is a no.
    let refused = forked.impossible.iter().any(|impossible| impossible.seq.is_none());
    Ok(if refused { NO } else { WELL })
}

fn tell(io: &mut Io, sides: &Comparison, impossible: &[Impossible]) -> Result<(), Failure> {
    for row in &sides.rows {
        let what = format!("{} {}", if row.differs { "*" } else { " " }, row.what);
        if row.differs {
            io.line(&what)?;
            io.line(&format!("    went   {}", row.went))?;
            io.line(&format!("    would  {}", row.would))?;
        } else {
            io.line(&format!("{what}: {}", row.went))?;
        }
    }
    if !sides.rows.iter().any(|row| row.differs) {
        io.line("Nothing of this differs from the run as it went.")?;
    }
    if !impossible.is_empty() {
        io.line("Not possible in the other course:")?;
        for one in impossible {
            let seq = one.seq.map_or_else(|| "added".to_owned(), |seq| format!("#{seq}"));
            let reasons: Vec<&str> = one.reasons.iter().map(|reason| reason.text.as_str()).collect();
            io.line(&format!("  {} {seq} {}: {}", clock(one.tick), one.what, reasons.join("; ")))?;
        }
    }
    Ok(())
}

fn impossible_json(one: &Impossible) -> serde_json::Value {
    json!({ "seq": one.seq, "tick": one.tick, "what": one.what, "reasons": one.reasons })
}

/// The smallest change that would have avoided an event.
fn find(io: &mut Io, log: Vec<Envelope>, seq: u64, as_json: bool) -> Result<u8, Failure> {
    let (came, answer) = look_for(log, seq)?;
    if as_json {
        io.line(&serde_json::to_string_pretty(&answer).unwrap_or_default())?;
    } else {
        io.line(&line(&came))?;
        for told in found_lines(&answer) {
            io.line(&told.to_string())?;
        }
    }
    io.flush()?;
    Ok(if answer.found.is_empty() { NO } else { WELL })
}

/// What was to be avoided, and what would have done it.
pub(crate) fn look_for(log: Vec<Envelope>, seq: u64) -> Result<(Envelope, Search), Failure> {
    let none = || {
        Failure::Asked(format!("event {seq} is none that can be avoided: name a trip, an alert or a refusal"))
    };
    let (effect, came) = Effect::of(&log, seq).ok_or_else(none)?;
    let envelope = log.iter().find(|envelope| envelope.seq == came).cloned().ok_or_else(none)?;
    let runs = WhatIf::open(log, envelope.tick).map_err(failed)?;
    let answer = search(&runs, &effect, came);
    Ok((envelope, answer))
}

/// What a search found, as lines.
pub(crate) fn found_lines(answer: &Search) -> Vec<Told> {
    let mut lines = Vec::new();
    if answer.found.is_empty() {
        lines.push(Told::of(0, "No single change of those tried would have avoided it."));
    }
    for found in &answer.found {
        let when = match (found.drops, found.last_tick) {
            (Some(seq), _) => format!("event {seq} at {}", clock(found.from_tick).trim()),
            (None, Some(last)) => format!(
                "would have avoided it from {} until {}, {:.0} s before",
                clock(found.from_tick).trim(),
                clock(last).trim(),
                answer.tick.saturating_sub(last) as f64 * TICK_S
            ),
            (None, None) => format!("would have avoided it at {}", clock(found.from_tick).trim()),
        };
        // The last moment tells most of what could be done.
        let tick = found.last_tick.unwrap_or(found.from_tick);
        lines.push(Told::at(0, tick, found.drops, format!("{}: {when}", found.text)));
    }
    lines.push(Told::of(0, format!("{} other courses of this run were computed.", answer.courses)));
    lines
}

/// The changes that the arguments name, checked.
fn changes(log: &[Envelope], args: &WhatIfArgs) -> Result<Vec<Change>, Failure> {
    let mut changes: Vec<Change> = args.drop.iter().map(|&seq| Change::Drop { seq }).collect();
    for text in &args.shift {
        changes.push(shift(log, text)?);
    }
    if !args.add.is_empty() {
        let first = log.first();
        let Some(Event::RunOpened(opening)) = first.map(|first| &first.event) else {
            return Err(Failure::Asked(ReplayError::NoOpening.to_string()));
        };
        let (setup, _) = Setup::new(opening.as_ref().clone()).map_err(crate::trial::open_failed)?;
        for text in &args.add {
            changes.push(add(log, &setup, text)?);
        }
    }
    for change in &changes {
        deadship_run::fork::check(log, change).map_err(|error| Failure::Asked(error.to_string()))?;
    }
    Ok(changes)
}

/// The tick at which something is done that was not done then.
fn tick_to(change: &Change) -> Option<u64> {
    match change {
        Change::Drop { .. } => None,
        Change::Move { tick, .. } | Change::Add { tick, .. } => Some(*tick),
    }
}

/// `269=-20s`.
fn shift(log: &[Envelope], text: &str) -> Result<Change, Failure> {
    let form = || Failure::Asked(format!("`--shift {text}`: write it as `269=-20s` or `269=+1m`"));
    let (seq, by) = text.split_once('=').ok_or_else(form)?;
    let seq: u64 = seq.trim().trim_start_matches('#').parse().map_err(|_| form())?;
    let (sooner, by) = match by.trim().split_at_checked(1) {
        Some(("-", by)) => (true, by),
        Some(("+", by)) => (false, by),
        _ => (false, by),
    };
    let by = ticks(parse_time(by).map_err(|error| Failure::Asked(format!("`--shift {text}`: {error}")))?);
    // One that is not there is named by the check that follows.
    let tick = log.iter().find(|envelope| envelope.seq == seq).map_or(by, |envelope| envelope.tick);
    let moved = if sooner { tick.checked_sub(by) } else { Some(tick + by) };
    let moved = moved.ok_or_else(|| {
        let before_s = (by - tick) as f64 * TICK_S;
        Failure::Asked(format!("event {seq} would be {before_s:.1} s before the beginning of the run"))
    })?;
    Ok(Change::Move { seq, tick: moved })
}

/// `at 12m3s: start sea.pump.harbour by boards`.
fn add(log: &[Envelope], setup: &Setup, text: &str) -> Result<Change, Failure> {
    let bad = |what: String| Failure::Asked(format!("`--add {text}`: {what}"));
    let form = || bad("write it as `at 12m3s: start sea.pump.harbour by boards`".to_owned());
    let rest = text.trim().strip_prefix("at ").unwrap_or(text.trim());
    let (time, words) = rest.split_once(": ").ok_or_else(form)?;
    let tick = ticks(parse_time(time).map_err(|error| bad(error.to_string()))?);
    let vocabulary = Vocabulary::from(setup);
    // A `by` of the words' own, as in something said, stays theirs.
    let (words, who) = match words.rsplit_once(" by ").map(|(words, name)| (words, name.trim())) {
        Some((words, name)) if !name.contains(char::is_whitespace) => {
            (words, someone(log, name, tick).map_err(bad)?)
        }
        _ => (words, Who::person("someone", Role::Instructor)),
    };
    match parse(words.trim(), &vocabulary) {
        Ok(Line::Command(command)) => Ok(Change::Add { tick, who, command }),
        Ok(Line::Question(_)) => Err(bad(format!("`{words}` does nothing"))),
        Err(error) => Err(bad(error.to_string())),
    }
}

/// Who held a station at a tick, or who has this name.
fn someone(log: &[Envelope], name: &str, tick: u64) -> Result<Who, String> {
    let mut held: Option<Who> = None;
    let mut named: Option<Who> = None;
    let mut known: Vec<String> = Vec::new();
    for envelope in log {
        if let Event::StationTaken { station, .. } = &envelope.event {
            known.push(station.clone());
            known.extend(match &envelope.who {
                Who::Person { name, .. } => Some(name.clone()),
                _ => None,
            });
            if station == name && (envelope.tick <= tick || held.is_none()) {
                held = Some(envelope.who.clone());
            }
        }
        if matches!(&envelope.who, Who::Person { name: known, .. } if known == name) {
            named = Some(envelope.who.clone());
        }
    }
    held.or(named).ok_or_else(|| {
        let near = nearest(name, known.iter().map(String::as_str));
        let near = near.map_or_else(String::new, |near| format!(" (did you mean {near}?)"));
        format!("nobody in this run is or held `{name}`{near}")
    })
}

fn replay_failed(error: ReplayError) -> Failure {
    match error {
        ReplayError::Open(error) => crate::trial::open_failed(error),
        error => Failure::Asked(error.to_string()),
    }
}
