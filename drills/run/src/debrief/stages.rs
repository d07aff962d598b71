//! A run in parts, each of which ends where something expected was decided.

use super::{Debrief, Outcome};

/// A part of a run, named by what was decided at its end.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stage {
    /// From this tick on.
    pub from: u64,
    /// Until this tick, inclusive.
    pub to: u64,
    /// What it led to.
    pub text: String,
}

impl Debrief {
    /// The run in parts. The last one reaches to the last tick recorded; there is always one.
    pub fn stages(&self) -> Vec<Stage> {
        let marks = self.marks.iter().filter_map(|mark| {
            let word = if mark.outcome == Outcome::Met { "met" } else { "missed" };
            Some((mark.tick?, format!("{word}: {}", mark.text)))
        });
        let aim = self.aim.iter().filter_map(|aim| Some((aim.tick?, "the aim was reached".to_owned())));
        let mut decided: Vec<(u64, String)> = marks.chain(aim).collect();
        decided.sort_by_key(|known| known.0);
        let mut stages: Vec<Stage> = Vec::new();
        let mut from = 0;
        for (tick, text) in decided {
            match stages.last_mut().filter(|last| last.to == tick) {
                Some(last) => last.text = format!("{}; {text}", last.text),
                None => stages.push(Stage { from, to: tick, text }),
            }
            from = tick + 1;
        }
        if stages.is_empty() || from <= self.ticks {
            let text = match stages.is_empty() {
                true => "the whole run: nothing expected was decided",
                false => "after that, nothing more was decided",
            };
            stages.push(Stage { from, to: self.ticks, text: text.to_owned() });
        }
        stages
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Debrief, Mark, Outcome};

    fn mark(text: &str, outcome: Outcome, tick: Option<u64>) -> Mark {
        Mark { text: text.to_owned(), outcome, tick, ..Mark::default() }
    }

    fn told(report: &Debrief) -> Vec<(u64, u64, String)> {
        report.stages().into_iter().map(|stage| (stage.from, stage.to, stage.text)).collect()
    }

    #[test]
    fn parts_end_where_something_was_decided() {
        let marks = vec![
            mark("power", Outcome::Missed, Some(50)),
            mark("water", Outcome::Met, Some(20)),
            mark("air", Outcome::Met, Some(20)),
            mark("light", Outcome::Open, None),
        ];
        let mut report = Debrief { ticks: 80, marks, ..Debrief::default() };
        let expected = [
            (0, 20, "met: water; met: air".to_owned()),
            (21, 50, "missed: power".to_owned()),
            (51, 80, "after that, nothing more was decided".to_owned()),
        ];
        assert_eq!(told(&report), expected);
        // An aim that ends the run leaves nothing after it.
        report.aim = Some(mark("all of it", Outcome::Met, Some(80)));
        assert_eq!(told(&report)[2], (51, 80, "the aim was reached".to_owned()));
        assert_eq!(told(&Debrief::default()).len(), 1);
    }
}
