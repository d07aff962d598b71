//! `deadship record`: what someone has shown, over many runs and drills.
//!
//! A team is rated, not one of it: a rating stands in the record of everyone who held a station in that run. Nothing is added up
//! over objectives.

use crate::cli::{LogArgs, RecordArgs};
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::log::read_log;
use chrono::{DateTime, Days, NaiveDate};
use deadship_run::debrief::{Debrief, Outcome};
use deadship_run::{Envelope, Event, Who};
use serde::{Serialize, Serializer};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// What one run shows of an objective.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
struct Shown {
    /// Day of the run.
    #[serde(serialize_with = "as_text")]
    day: Option<NaiveDate>,
    run: uuid::Uuid,
    ship: String,
    /// Stations that they held in it.
    stations: Vec<String>,
    /// Expectations of the objective: met, of how many.
    met: usize,
    expected: usize,
    /// Levels given and by whom.
    ratings: Vec<(String, String)>,
}

/// An objective over all runs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
struct Line {
    drill: String,
    objective: String,
    text: String,
    stcw: String,
    /// In order of time.
    shown: Vec<Shown>,
    /// Lowest level of its scale; empty: it has none.
    #[serde(skip)]
    lowest: String,
    /// Day from which it is due again: that of the last run, if they were rated at the lowest level then.
    #[serde(serialize_with = "as_text")]
    due: Option<NaiveDate>,
}

impl Line {
    /// Was the lowest level given in the last run?
    fn is_lowest(&self) -> bool {
        self.shown.last().is_some_and(|shown| shown.ratings.iter().any(|(level, _)| *level == self.lowest))
    }
}

/// A day as `2026-11-27`.
fn as_text<S: Serializer>(day: &Option<NaiveDate>, to: S) -> Result<S::Ok, S::Error> {
    day.map(|day| day.to_string()).serialize(to)
}

/// `deadship record`.
pub(crate) fn record(io: &mut Io, args: &RecordArgs) -> Result<u8, Failure> {
    let mut lines: BTreeMap<(String, String), Line> = BTreeMap::new();
    let mut runs = 0;
    for (path, is_named) in archives(&args.runs)? {
        let run = path.display().to_string();
        let log = match read_log(io, &LogArgs { run, server: None, key: None, whole: true }, None) {
            Ok(log) => log,
            Err(failure) if is_named => return Err(failure),
            // A folder may hold other things than runs.
            Err(failure) => {
                io.tell(&format!("passed over: {failure}"));
                continue;
            }
        };
        let stations = stations_of(&log, &args.person);
        if stations.is_empty() {
            continue;
        }
        runs += 1;
        add(&mut lines, &log, &stations);
    }
    for line in lines.values_mut() {
        line.shown.sort_by_key(|shown| (shown.day, shown.run));
        let last = line.shown.iter().filter_map(|shown| shown.day).max();
        let days = if line.is_lowest() { 0 } else { args.due_after };
        line.due = last.and_then(|day| day.checked_add_days(Days::new(days)));
    }
    if args.json {
        let lines: Vec<&Line> = lines.values().collect();
        io.line(&serde_json::to_string_pretty(&lines).unwrap_or_default())?;
    } else {
        tell(io, &args.person, runs, &lines)?;
    }
    io.flush()?;
    Ok(if runs == 0 { NO } else { WELL })
}

/// The files named (`true`), and the archives in the folders named.
fn archives(named: &[PathBuf]) -> Result<BTreeMap<PathBuf, bool>, Failure> {
    let mut found = BTreeMap::new();
    for path in named {
        if !path.is_dir() {
            found.insert(path.clone(), true);
            continue;
        }
        let failed = |error| Failure::File { path: path.clone(), doing: "reading the folder", error };
        for entry in std::fs::read_dir(path).map_err(failed)? {
            let entry = entry.map_err(failed)?.path();
            if entry.extension().is_some_and(|ending| ending == "jsonl" || ending == "seal") {
                found.entry(entry).or_insert(false);
            }
        }
    }
    Ok(found)
}

/// Stations that someone held in a run.
fn stations_of(log: &[Envelope], person: &str) -> Vec<String> {
    let mut stations: Vec<String> = Vec::new();
    for envelope in log {
        let is_them = matches!(&envelope.who, Who::Person { name, .. } if name.eq_ignore_ascii_case(person));
        if let (true, Event::StationTaken { station, .. }) = (is_them, &envelope.event)
            && !stations.contains(station)
        {
            stations.push(station.clone());
        }
    }
    stations
}

/// Adds what a run shows.
fn add(lines: &mut BTreeMap<(String, String), Line>, log: &[Envelope], stations: &[String]) {
    let report = Debrief::of(log);
    let day = log.first().and_then(|first| DateTime::parse_from_rfc3339(&first.at).ok());
    for course in &report.objectives {
        let objective = &course.objective;
        let key = (report.drill.clone(), objective.name.clone());
        let line = lines.entry(key).or_insert_with(|| Line {
            drill: report.drill.clone(),
            objective: objective.name.clone(),
            text: objective.text.clone(),
            stcw: objective.stcw.clone(),
            shown: Vec::new(),
            lowest: objective.levels.first().map_or_else(String::new, |level| level.word.clone()),
            due: None,
        });
        let expected: Vec<_> =
            report.marks.iter().filter(|mark| course.expects.contains(&mark.name)).collect();
        line.shown.push(Shown {
            day: day.map(|day| day.date_naive()),
            run: report.run,
            ship: report.ship.clone(),
            stations: stations.to_vec(),
            met: expected.iter().filter(|mark| mark.outcome == Outcome::Met).count(),
            expected: expected.len(),
            ratings: course.ratings.iter().map(|r| (r.level.clone(), r.by.clone())).collect(),
        });
    }
}

fn tell(
    io: &mut Io,
    person: &str,
    runs: usize,
    lines: &BTreeMap<(String, String), Line>,
) -> Result<(), Failure> {
    io.line(&format!("{person}: {runs} {}", if runs == 1 { "run" } else { "runs" }))?;
    let day = |day: Option<NaiveDate>| day.map_or_else(|| "no date".to_owned(), |day| day.to_string());
    for line in lines.values() {
        io.line("")?;
        io.line(&format!("{}: {}: {}", line.drill, line.objective, line.text))?;
        if !line.stcw.is_empty() {
            io.line(&format!("  STCW {}", line.stcw))?;
        }
        for shown in &line.shown {
            let ratings: Vec<String> =
                shown.ratings.iter().map(|(level, by)| format!("{level} (by {by})")).collect();
            let ratings = if ratings.is_empty() { "not rated".to_owned() } else { ratings.join(", ") };
            io.line(&format!(
                "  {}  as {}: {ratings}; {} of {} expected met; run {}",
                day(shown.day),
                shown.stations.join(", "),
                shown.met,
                shown.expected,
                shown.run
            ))?;
        }
        let why = if line.is_lowest() { format!(": {} the last time", line.lowest) } else { String::new() };
        io.line(&format!("  due again from {}{why}", day(line.due)))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use deadship_run::library::Library;
    use deadship_run::words::{Vocabulary, parse};
    use deadship_run::{Recorder, Role, words};

    /// A run of the first drill in which these lines are said, on a day.
    fn run(number: u64, at: &str, lines: &[(&str, Role, &str)]) -> Vec<Envelope> {
        let opening = Library::built_in().opening("first-light", None).unwrap();
        let teacher = Who::person("Iris", Role::Instructor);
        let id = deadship_run::ids::run_id("first-light", number);
        let (mut recorder, mut log) = Recorder::open(id, opening, &teacher, at).unwrap();
        for (name, role, line) in lines {
            let Ok(words::Line::Command(command)) =
                parse(line, &Vocabulary::from(recorder.run().setup.as_ref()))
            else {
                panic!("{line}");
            };
            let outcome = recorder.command(&command, &Who::person(name, *role), None, at);
            assert!(outcome.refusal.is_none(), "{line}: {:?}", outcome.refusal);
            log.extend(outcome.envelopes);
        }
        log
    }

    #[test]
    fn a_record_has_every_run_that_someone_held_a_station_in() {
        let ada = ("Ada", Role::Trainee, "station engine");
        let rated = ("Iris", Role::Instructor, "rate line-up with-help forgot the strainer");
        let better = ("Iris", Role::Instructor, "rate line-up secure");
        let logs = [
            run(1, "2026-03-01T08:00:00Z", &[ada, rated]),
            run(2, "2026-05-01T08:00:00Z", &[ada, better]),
            run(3, "2026-06-01T08:00:00Z", &[("Bo", Role::Trainee, "station engine"), better]),
        ];
        let mut lines = BTreeMap::new();
        for log in &logs {
            let stations = stations_of(log, "ADA");
            if !stations.is_empty() {
                add(&mut lines, log, &stations);
            }
        }
        let line = &lines[&("First light".to_owned(), "line-up".to_owned())];
        assert!(!line.is_lowest());
        let levels: Vec<&str> = line.shown.iter().map(|shown| shown.ratings[0].0.as_str()).collect();
        assert_eq!(levels, ["with-help", "secure"]);
        assert_eq!(line.shown[0].stations, ["engine"]);
        assert_eq!(line.shown[1].day.map(|day| day.to_string()).as_deref(), Some("2026-05-01"));
        assert!(line.stcw.starts_with("A-III/1"));
        // What was not rated is in it as well.
        assert!(lines.values().any(|line| line.shown[0].ratings.is_empty() && line.shown[0].expected > 0));
    }
}
