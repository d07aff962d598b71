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
    let mut comparison = reports(&went.report, &would.report);
    for measure in &went.measures.measures {
        let other = would.measures.get(&measure.name).map_or_else(String::new, |other| other.text.clone());
        comparison.rows.push(Row {
            what: measure.title.clone(),
            differs: measure.text != other,
            went: measure.text.clone(),
            would: other,
        });
    }
    comparison
}

fn reports(went: &Debrief, would: &Debrief) -> Comparison {
    let row = |what: &str, went: String, would: String| Row {
        what: what.to_owned(),
        differs: went != would,
        went,
        would,
    };
    let mut rows = vec![row("ends", ended(went), ended(would))];
    let aim =
        |report: &Debrief| report.aim.as_ref().map_or_else(|| "none".to_owned(), |aim| marked(report, aim));
    rows.push(row("aim", aim(went), aim(would)));
    for mark in &went.marks {
        let other = would.marks.iter().find(|other| other.name == mark.name);
        let other = other.map_or_else(|| "open".to_owned(), |other| marked(would, other));
        rows.push(row(&mark.text, marked(went, mark), other));
    }
    let mut trips: Vec<(&str, &str)> = Vec::new();
    for trip in went.trips.iter().chain(&would.trips) {
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
        rows.push(row(&format!("{component} {code}"), times(went), times(would)));
    }
    let alerts = |report: &Debrief| (report.alerts.raised - report.alerts.at_start).to_string();
    rows.push(row("alerts after the start", alerts(went), alerts(would)));
    let most = |report: &Debrief| report.alerts.most_in_ten_minutes.to_string();
    rows.push(row("most alerts in ten minutes", most(went), most(would)));
    Comparison { rows }
}

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
