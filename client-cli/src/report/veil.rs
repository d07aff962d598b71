//! People under the pseudonyms that exports give them, in everything that a report is made of.

use deadship_run::Envelope;
use deadship_run::measures::Measures;
use deadship_run::names::Names;

/// Names of people, and what stands for them.
pub(crate) struct Veil {
    names: Names,
}

impl Veil {
    /// Everyone stands under their own name.
    pub(crate) fn none() -> Veil {
        Veil { names: Names::shown() }
    }

    /// Everyone in a log stands under the station that they held first, and a number.
    pub(crate) fn of(log: &[Envelope]) -> Veil {
        Veil { names: Names::hidden(log) }
    }

    /// The same log with other names, in what people did and in what was said and noted.
    pub(crate) fn over(&self, log: &[Envelope]) -> Vec<Envelope> {
        log.iter().map(|envelope| self.names.hide(envelope)).collect()
    }

    /// The same measures with other names.
    pub(crate) fn over_measures(&self, mut measures: Measures) -> Measures {
        let hide = |text: &mut String| *text = self.text(text);
        let recovery =
            measures.measures.iter_mut().chain(&mut measures.alerts.figures).chain(&mut measures.orders);
        recovery.for_each(|measure| hide(&mut measure.text));
        for fault in &mut measures.faults {
            hide(&mut fault.by);
            let points = [
                &mut fault.sign,
                &mut fault.noticed,
                &mut fault.reported,
                &mut fault.diagnosed,
                &mut fault.acted,
                &mut fault.cured,
            ];
            points.into_iter().flatten().for_each(|point| hide(&mut point.text));
        }
        measures.starts.iter_mut().for_each(|start| hide(&mut start.text));
        for act in &mut measures.unsafe_acts {
            hide(&mut act.who);
            hide(&mut act.text);
        }
        for moment in &mut measures.moments {
            hide(&mut moment.title);
            hide(&mut moment.why);
        }
        measures
    }

    /// A text with other names.
    pub(crate) fn text(&self, text: &str) -> String {
        if self.names.are_shown() { text.to_owned() } else { self.names.text(text) }
    }
}
