//! Two courses side by side.

use crate::debrief::{Debrief, Mark, Outcome};
use crate::envelope::Envelope;
use crate::measures::{MeasureInput, Measures};
use crate::timeline::clock;
use serde::{Deserialize, Serialize};

/// One thing in both courses.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Row {
    /// What is compared.
    pub what: String,
    /// As it went.
    pub went: String,
    /// As it would have gone.
    pub would: String,
    /// Is it otherwise?
    pub differs: bool,
}

/// Two courses side by side.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Comparison {
    /// Outcome, what was expected, trips, alerts, measures of the recovery.
    pub rows: Vec<Row>,
}

/// What a course came to.
pub struct Side {
    /// Outcome, marks, trips.
    pub report: Debrief,
    /// Times and counts.
    pub measures: Measures,
}

impl Side {
    /// What the course of a log came to. It is replayed once.
    pub fn of(log: &[Envelope]) -> Side {
        Side { report: Debrief::of(log), measures: Measures::of(&MeasureInput::replayed(log)) }
    }
}

/// Lays two courses side by side.
pub fn compare(went: &Side, would: &Side) -> Comparison {
    let mut rows: Vec<Row> =
        outcomes(&[&went.report, &would.report]).into_iter().map(|line| row(line.what, line.cells)).collect();
    for measure in &went.measures.measures {
        let other = would.measures.get(&measure.name).map_or_else(String::new, |other| other.text.clone());
        rows.push(row(measure.title.clone(), vec![measure.text.clone(), other]));
    }
    Comparison { rows }
}

fn row(what: String, cells: Vec<String>) -> Row {
    let mut cells = cells.into_iter();
    let (went, would) = (cells.next().unwrap_or_default(), cells.next().unwrap_or_default());
    Row { what, differs: went != would, went, would }
}

/// One thing in any number of courses.
pub(crate) struct Line {
    /// Heading that it stands under.
    pub(crate) group: &'static str,
    pub(crate) what: String,
    /// One for each course.
    pub(crate) cells: Vec<String>,
}

/// What became of courses of one drill; what was expected is taken from the first.
pub(crate) fn outcomes(reports: &[&Debrief]) -> Vec<Line> {
    let line = |group, what: &str, cell: &dyn Fn(&Debrief) -> String| Line {
        group,
        what: what.to_owned(),
        cells: reports.iter().map(|report| cell(report)).collect(),
    };
    let aim =
        |report: &Debrief| report.aim.as_ref().map_or_else(|| "none".to_owned(), |aim| marked(report, aim));
    let mut lines = vec![line(EXPECTED, "ends", &ended), line(EXPECTED, "aim", &aim)];
    for mark in reports.first().into_iter().flat_map(|first| &first.marks) {
        let cell = |report: &Debrief| {
            let same = report.marks.iter().find(|other| other.name == mark.name);
            same.map_or_else(|| "open".to_owned(), |same| marked(report, same))
        };
        lines.push(line(EXPECTED, &mark.text, &cell));
    }
    let mut trips: Vec<(&str, &str)> = Vec::new();
    for trip in reports.iter().flat_map(|report| &report.trips) {
        if !trips.contains(&(trip.component.as_str(), trip.code.as_str())) {
            trips.push((&trip.component, &trip.code));
        }
    }
    for (component, code) in trips {
        let times = |report: &Debrief| {
            let of_it = report.trips.iter().filter(|trip| trip.component == component && trip.code == code);
            let times: Vec<String> = of_it.map(|trip| clock(trip.tick).trim().to_owned()).collect();
            if times.is_empty() { "no".to_owned() } else { times.join(", ") }
        };
        lines.push(line(TRIPS, &format!("{component} {code}"), &times));
    }
    let alerts = |report: &Debrief| (report.alerts.raised - report.alerts.at_start).to_string();
    lines.push(line(ALERTS, "alerts after the start", &alerts));
    let most = |report: &Debrief| report.alerts.most_in_ten_minutes.to_string();
    lines.push(line(ALERTS, "most alerts in ten minutes", &most));
    lines
}

const EXPECTED: &str = "Outcome and what was expected";
const TRIPS: &str = "Trips and shutdowns";
const ALERTS: &str = "Alerts";

fn ended(report: &Debrief) -> String {
    let at = clock(report.ticks);
    match &report.ended {
        Some(reason) => format!("{}: {reason}", at.trim()),
        None => format!("goes on at {}", at.trim()),
    }
}

fn marked(report: &Debrief, mark: &Mark) -> String {
    let at = mark.tick.map_or_else(String::new, |tick| format!(" {}", clock(tick).trim()));
    match mark.outcome {
        Outcome::Met => format!("met{at}"),
        Outcome::Missed => format!("missed{at}"),
        Outcome::Open if report.ended.is_some() => "not met".to_owned(),
        Outcome::Open => "open".to_owned(),
    }
}
