//! `deadship debrief`: a run as lanes over time and the plant at any instant as one of the team saw it, on a screen or as
//! lines.

use crate::cli::DebriefArgs;
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::log::read_log;
use crate::screen::debrief::lanes::Lanes;
use crate::screen::debrief::seek::{Eyes, readings};
use crate::screen::debrief::{DebriefScreen, show};
use crate::screen::{Palette, wanted};
use crate::timeline::diverged;
use deadship_run::replay::{Until, rebuild};
use deadship_run::setup::ticks;
use deadship_run::timeline::clock;
use deadship_run::{Envelope, Run, Who};
use std::path::Path;

/// Word for everything there is.
const ALL: &str = "all";

/// `deadship debrief`.
pub(crate) fn debrief(
    io: &mut Io,
    args: &DebriefArgs,
    authority: Option<&Path>,
    plain: bool,
) -> Result<u8, Failure> {
    let log = read_log(io, &args.log, authority)?;
    let last = log.last().map_or(0, |last| last.tick);
    let tick = args.at.map(ticks);
    if tick.is_some_and(|tick| tick > last) {
        let text = format!("the log ends at {}, before the time asked for", clock(last).trim());
        return Err(Failure::Asked(text));
    }
    let eyes = eyes(&log, args.eyes.as_deref(), tick.unwrap_or(0))?;
    if wanted(plain) {
        let mut screen = DebriefScreen::new(log, Palette::from_environment());
        screen.begin_at(tick.unwrap_or(0), &eyes);
        return show(&mut screen);
    }
    match tick {
        None => lines(io, &log),
        Some(tick) => seen(io, &log, tick, &eyes),
    }
}

/// Whose eyes a name means: a person, a station, or all.
fn eyes(log: &[Envelope], name: Option<&str>, tick: u64) -> Result<Eyes, Failure> {
    let Some(name) = name.filter(|name| *name != ALL) else { return Ok(Eyes::All) };
    let all = Eyes::in_log(log);
    let is_named = |eyes: &&Eyes| match eyes {
        Eyes::All => false,
        Eyes::Of(Who::Robot { station }) => station == name,
        Eyes::Of(who) => who.key().as_deref() == Some(name),
    };
    // A station is whoever held it then.
    let held = || {
        let taken = log.iter().take_while(|envelope| envelope.tick <= tick).filter(|envelope| {
            matches!(&envelope.event, deadship_run::Event::StationTaken { station, .. } if station == name)
        });
        let key = taken.last().and_then(|envelope| envelope.who.key());
        all.iter().find(|eyes| matches!(eyes, Eyes::Of(who) if who.key() == key))
    };
    let found = all.iter().find(is_named).or_else(held).cloned();
    found.ok_or_else(|| {
        let names = all.iter().filter_map(|eyes| match eyes {
            Eyes::All => Some(ALL.to_owned()),
            Eyes::Of(Who::Robot { station }) => Some(station.clone()),
            Eyes::Of(who) => who.key(),
        });
        let names: Vec<String> = names.collect();
        Failure::unknown("person or station", name, names.iter().map(String::as_str))
    })
}

/// The lanes as lines: time, lane, what.
fn lines(io: &mut Io, log: &[Envelope]) -> Result<u8, Failure> {
    let lanes = Lanes::of(log);
    let wide = lanes.names.iter().map(|name| name.chars().count()).max().unwrap_or(0);
    for item in lanes.items.iter().filter(|item| !item.is_minor) {
        let Some((lane, _)) = item.drawn else { continue };
        let (time, name) = (clock(item.tick), &lanes.names[lane]);
        io.line(&format!("{time}  {name:<wide$}  {}: {}", item.who, item.text))?;
    }
    io.flush()?;
    Ok(WELL)
}

/// What these eyes could read at a time.
fn seen(io: &mut Io, log: &[Envelope], tick: u64, eyes: &Eyes) -> Result<u8, Failure> {
    let rebuilt = match rebuild(log, Until::Tick(tick)) {
        Ok(rebuilt) => rebuilt,
        Err(error) => return diverged(io, error),
    };
    let run = rebuilt.recorder.run();
    if run.tick() != tick {
        let text = format!(
            "this version of the model comes to a stop at {}: the plant at {} cannot be had",
            clock(run.tick()).trim(),
            clock(tick).trim()
        );
        return Err(Failure::Plant(text));
    }
    io.tell(&format!(
        "{} of {} on {}: {}",
        clock(tick).trim(),
        run.setup.drill.title,
        run.setup.compiled.spec.title,
        stands(run, eyes)
    ));
    let readings = readings(run, eyes);
    let width = readings.keys().map(|name| name.chars().count()).max().unwrap_or(0);
    for (name, text) in &readings {
        io.line(&format!("{name:<width$}  {text}"))?;
    }
    if readings.is_empty() {
        io.tell("nothing can be read there");
    }
    io.flush()?;
    match rebuilt.difference {
        None => Ok(WELL),
        Some(difference) => {
            io.tell(&format!("{difference}; the readings are computed anew and may not be what was seen"));
            Ok(NO)
        }
    }
}

/// Whose eyes, and where they are.
fn stands(run: &Run, eyes: &Eyes) -> String {
    let label = eyes.label(Some(run));
    let Eyes::Of(who) = eyes else { return label };
    match run.person(who) {
        None => format!("{label}, not aboard yet"),
        Some(person) => match person.stands_at(run.tick()) {
            Some(place) => format!("{label}, at {}", run.setup.place_name(place)),
            None if person.place.is_some() => format!("{label}, walking"),
            None => label,
        },
    }
}
