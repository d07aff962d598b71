//! What a run took: times of the recovery, of every fault, load by alerts, orders, starts, unsafe acts, the order of the
//! restart, and the few moments that are worth talking about.
//!
//! A pure fold over a log and the ship that it was opened with. Nothing here knows a particular ship: what is the main
//! switchboard, a sea water cooler, the emergency set is found in the ship's graph by kinds, nets and media (`parts.rs`).
//! `docs/measures.md` says how each measure is defined.

mod acts;
mod courses;
mod faults;
mod input;
mod load;
mod moments;
mod parts;
mod recovery;
mod restart;
mod talk;
mod text;
mod types;

#[cfg(test)]
mod tests;

pub(crate) use faults::Naming;
pub use input::{Looking, MeasureInput};
pub(crate) use parts::{neighbours, of_alert};
pub use types::{
    AlertLoad, AlertSpan, FaultTimes, Measure, Measures, Moment, OrderCheck, Point, Reached, RestartItem,
    RestartOrder, StartEnd, StartTry, UnsafeAct,
};

use crate::drill::SAFETY;
use crate::drill_file::outline;
use crate::envelope::Envelope;
use crate::event::Event;

impl Measures {
    /// The measures of a run.
    pub fn of(input: &MeasureInput<'_>) -> Measures {
        let log = input.log();
        let mut measures = Measures { safety: SAFETY.to_owned(), ..Measures::default() };
        if let Some(Envelope { run, event: Event::RunOpened(opening), .. }) = log.first() {
            measures.run = *run;
            measures.ship = opening.ship.clone();
            measures.drill = outline(opening).title;
        }
        measures.ticks = log.last().map_or(0, |last| last.tick);
        measures.measures = recovery::measure(input);
        measures.faults = faults::measure(input);
        measures.alerts = load::measure(log);
        measures.orders = talk::measure(log);
        measures.starts = acts::starts(log);
        measures.unsafe_acts = acts::unsafe_acts(input);
        measures.restart = restart::measure(input);
        measures.not_computed = input.not_computed();
        measures.moments = moments::propose(input, &measures);
        measures
    }

    /// As JSON.
    pub fn to_json(&self) -> String {
        // Plain data with text keys and finite numbers always serialises.
        serde_json::to_string_pretty(self).unwrap_or_default()
    }

    /// As plain text.
    pub fn to_text(&self) -> String {
        text::render(self)
    }

    /// A measure by its name, of the recovery, of alerts or of orders.
    pub fn get(&self, name: &str) -> Option<&Measure> {
        let all = self.measures.iter().chain(&self.alerts.figures).chain(&self.orders);
        all.into_iter().find(|measure| measure.name == name)
    }
}
