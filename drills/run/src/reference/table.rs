//! Courses of one drill side by side, in short.

use crate::measures::{FaultTimes, Measure, Measures, Point, StartEnd};
use crate::timeline::length;
use crate::whatif::{Side, outcomes};
use serde::{Deserialize, Serialize};

/// One thing in all of them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Line {
    /// Heading that it stands under.
    pub group: String,
    /// What it is.
    pub what: String,
    /// What it was in each course, in their order.
    pub cells: Vec<String>,
}

/// What courses of one drill came to; of each group its lines stand together. What was expected is taken from the first.
pub fn table(sides: &[&Side]) -> Vec<Line> {
    let measures: Vec<&Measures> = sides.iter().map(|side| &side.measures).collect();
    let mut lines = figures("Recovery", &measures, |measures| &measures.measures);
    let reports: Vec<_> = sides.iter().map(|side| &side.report).collect();
    lines.extend(outcomes(&reports).into_iter().map(|line| Line {
        group: line.group.to_owned(),
        what: line.what,
        cells: line.cells,
    }));
    lines.extend(figures("Alerts", &measures, |measures| &measures.alerts.figures));
    lines.extend(faults(&measures));
    let count = |what: &str, of: &dyn Fn(&Measures) -> usize| Line {
        group: "Acts".to_owned(),
        what: what.to_owned(),
        cells: measures.iter().map(|measures| of(measures).to_string()).collect(),
    };
    lines.push(count("what could have done harm", &|measures| measures.unsafe_acts.len()));
    let wasted =
        |measures: &Measures| measures.starts.iter().filter(|start| start.end == StartEnd::Wasted).count();
    lines.push(count("wasted starts", &wasted));
    lines
}

/// Measures that any of them has.
fn figures(group: &str, all: &[&Measures], of: impl Fn(&Measures) -> &Vec<Measure>) -> Vec<Line> {
    let named = |measures: &Measures, name: &str| {
        of(measures).iter().find(|measure| measure.name == name).map_or_else(String::new, Measure::short)
    };
    // The most alerts in ten minutes stand there already.
    let first = all.first().into_iter().flat_map(|first| of(first)).filter(|one| one.name != "alert-peak");
    let lines = first.map(|measure| Line {
        group: group.to_owned(),
        what: measure.title.clone(),
        cells: all.iter().map(|measures| named(measures, &measure.name)).collect(),
    });
    lines.filter(|line| line.cells.iter().any(|cell| cell != "none")).collect()
}

/// An instant in the course of a fault.
type Instant = fn(&FaultTimes) -> &Option<Point>;

/// Of every fault, the first time that it was set: how long after that it showed, was acted on and cured.
fn faults(all: &[&Measures]) -> Vec<Line> {
    let mut names: Vec<&str> = Vec::new();
    for fault in all.iter().flat_map(|measures| &measures.faults) {
        if !names.contains(&fault.name.as_str()) {
            names.push(&fault.name);
        }
    }
    let rows: [(&str, Instant); 3] = [
        ("first sign", |fault| &fault.sign),
        ("right action", |fault| &fault.acted),
        ("cured", |fault| &fault.cured),
    ];
    let line = |name: &str, (what, of): (&str, Instant)| {
        let cell = |measures: &&Measures| {
            let Some(fault) = measures.faults.iter().find(|fault| fault.name == name) else {
                return "not set".to_owned();
            };
            of(fault).as_ref().map_or_else(
                || "not seen".to_owned(),
                |point| length(point.tick.saturating_sub(fault.set_tick)),
            )
        };
        Line {
            group: "Faults: how long after they were set".to_owned(),
            what: format!("{what}: {name}"),
            cells: all.iter().map(cell).collect(),
        }
    };
    names.into_iter().flat_map(|name| rows.map(|row| line(name, row))).collect()
}
