//! The list of alerts, as lines that can be read aloud.

use crate::annunciation::FLOOD_ABOVE;
use crate::orders::age;
use crate::run::Run;
use crate::timeline::clock;
use std::cmp::Reverse;

/// What stands on the list, what of it needs a reset and where, and what is kept from it.
pub(super) fn lines(run: &Run) -> Vec<String> {
    let listed = listed(run);
    let mut lines: Vec<String> = flood(run).into_iter().collect();
    lines.extend(listed.iter().map(|&alert| line(run, alert)));
    lines.extend(resets(run));
    lines.extend(shelved(run));
    lines.extend(suppressed(run));
    if lines.is_empty() { vec!["no alerts".to_owned()] } else { lines }
}

/// What waits first, then by priority; in a flood by priority alone, and what came first before what followed.
pub(crate) fn listed(run: &Run) -> Vec<usize> {
    let (spec, lives) = (&run.setup.compiled.spec, &run.state.alerts);
    let mut listed: Vec<usize> = (0..lives.len()).filter(|&alert| lives[alert].listed()).collect();
    let newest = |alert: usize| Reverse(lives[alert].occurrence);
    match run.state.flood.since {
        Some(_) => {
            listed.sort_by_key(|&alert| (spec.alerts[alert].priority, !lives[alert].first_out, newest(alert)))
        }
        None => {
            listed.sort_by_key(|&alert| (!lives[alert].waits(), spec.alerts[alert].priority, newest(alert)))
        }
    }
    listed
}

fn flood(run: &Run) -> Option<String> {
    let since = run.state.flood.since?;
    Some(format!(
        "flood of alerts since {}, more than {FLOOD_ABOVE} new ones in 10 min: by priority, what came first, the newest",
        clock(since).trim()
    ))
}

fn line(run: &Run, alert: usize) -> String {
    let (life, def) = (&run.state.alerts[alert], &run.setup.compiled.spec.alerts[alert]);
    let priority = def.priority.word();
    let first = match &def.first_out {
        Some(group) if life.first_out => format!(", came first of {group}"),
        _ => String::new(),
    };
    let (occurrence, at) = (life.occurrence, clock(life.raised_tick));
    format!("{occurrence:>4}  {at}  {priority}  {}  {}{first}", def.text, life.word())
}

/// Latches that alerts on the list tell of: acknowledging does not put them back.
fn resets(run: &Run) -> Vec<String> {
    let spec = &run.setup.compiled.spec;
    let named = crate::view::resets(run).into_iter().filter_map(|name| run.setup.compiled.component(&name));
    named
        .map(|owner| {
            let component = &spec.components[owner];
            let place = component.place.map(|place| format!(" at {}", spec.places[place].title));
            let (place, name) = (place.unwrap_or_default(), &component.name);
            format!("needs a reset{place}: {}: reset {name}", component.title)
        })
        .collect()
}

fn shelved(run: &Run) -> Option<String> {
    let lives = run.state.alerts.iter().zip(&run.setup.compiled.spec.alerts);
    let shelved: Vec<String> = lives
        .filter(|(life, _)| life.shelved)
        .map(|(life, def)| {
            let raised = if life.raised() { ", raised" } else { "" };
            match life.shelved_until {
                Some(until) => {
                    format!("{} for {} more{raised}", def.name, age(until.saturating_sub(run.tick())))
                }
                None => format!("{} until unshelved{raised}", def.name),
            }
        })
        .collect();
    (!shelved.is_empty()).then(|| format!("shelved: {}", shelved.join("; ")))
}

/// Suppressed by design, where there is something to suppress.
fn suppressed(run: &Run) -> Option<String> {
    let lives = run.state.alerts.iter().zip(&run.setup.compiled.spec.alerts);
    let names: Vec<&str> = lives
        .filter(|(life, _)| life.suppressed && !life.shelved && life.raised())
        .map(|(_, def)| def.text.as_str())
        .collect();
    (!names.is_empty()).then(|| format!("suppressed by design: {}", names.join("; ")))
}
