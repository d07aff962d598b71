//! Messages of the server as lines.

use crate::failure::Failure;
use crate::io::Io;
use crate::io::wrap;
use deadship_protocol::{EventMessage, GaugesMessage, Reason, RunInfo, RunState};
use std::collections::BTreeMap;
use std::time::Duration;
use tokio::time::Instant;

/// All that is known of runs: two lines each.
pub(crate) fn runs(runs: &[RunInfo]) -> Vec<String> {
    if runs.is_empty() {
        return vec!["no run is open; `open DRILL TEAM …` opens a class".to_owned()];
    }
    let of_one = |info: &RunInfo| {
        let code = info.code.as_deref().map_or_else(String::new, |code| format!(", code {code}"));
        let people = if info.people.is_empty() { "nobody".to_owned() } else { info.people.join(", ") };
        let class = match info.holder.as_str() {
            "" => String::new(),
            holder => format!("{}, held by {holder}; ", info.class),
        };
        let more = wrap(&format!("{class}run {}; {people}", info.state.run), 4);
        [format!("{}{code}", state(&info.state)), more]
    };
    runs.iter().flat_map(of_one).collect()
}

/// At most so often are gauges written that change.
const GAUGES_EVERY: Duration = Duration::from_secs(1);

/// An event; the team stands before it where there may be several.
pub(crate) fn event(team: Option<&str>, event: &EventMessage) -> String {
    let EventMessage { time, who, text, .. } = event;
    match team {
        Some(team) => format!("{team}: {time} {who}: {text}"),
        None => format!("{time} {who}: {text}"),
    }
}

/// A refusal: what was refused, and every reason with its stable word.
pub(crate) fn refused(text: &str, reasons: &[Reason]) -> String {
    let reasons: Vec<String> = reasons.iter().map(|r| format!("{} ({})", r.text, r.code)).collect();
    format!("refused: {text}: {}", reasons.join("; "))
}

/// How a run is.
pub(crate) fn state(state: &RunState) -> String {
    let mut line = format!("{}: {} at {}", state.team, state.drill, state.time);
    if state.speed != 1.0 {
        line.push_str(&format!(", speed {}", state.speed));
    }
    if let Some(reached) = state.reached_speed {
        line.push_str(&format!(" (the server reaches {reached:.1})"));
    }
    for (word, why) in [("on hold", &state.hold), ("over", &state.ended), ("failed", &state.failed)] {
        if let Some(why) = why {
            line.push_str(&format!(", {word}: {why}"));
        }
    }
    line
}

/// Readings as they are now: the last full frame, with what differs laid over it.
#[derive(Clone, Debug, Default)]
pub(crate) struct Readings {
    base: BTreeMap<String, String>,
    base_tick: Option<u64>,
}

impl Readings {
    /// Takes a frame. `None`: it is to be laid over a full one that has not come yet; that frame follows.
    pub(crate) fn take(&mut self, message: &GaugesMessage) -> Option<BTreeMap<String, String>> {
        let sent = || message.readings.iter().map(|gauge| (gauge.name.clone(), gauge.text.clone()));
        if message.base == message.tick {
            self.base = sent().collect();
            self.base_tick = Some(message.tick);
        }
        if self.base_tick != Some(message.base) {
            return None;
        }
        let mut now = self.base.clone();
        now.extend(sent());
        Some(now)
    }
}

/// Gauges that are watched: what changed is written, now and then.
#[derive(Default)]
pub(crate) struct Gauges {
    readings: Readings,
    shown: BTreeMap<String, String>,
    last: Option<Instant>,
}

impl Gauges {
    /// Takes what the server sent.
    pub(crate) fn show(&mut self, io: &mut Io, message: &GaugesMessage) -> Result<(), Failure> {
        let Some(now) = self.readings.take(message) else { return Ok(()) };
        if self.last.is_some_and(|last| last.elapsed() < GAUGES_EVERY) {
            return Ok(());
        }
        for (name, text) in now {
            if self.shown.get(&name) != Some(&text) {
                io.line(&format!("{} {name} {text}", message.time))?;
                self.shown.insert(name, text);
                self.last = Some(Instant::now());
            }
        }
        io.flush()
    }
}
