//! Two versions of a drill, and what differs between them in the trade's words.

use super::{ExpectPlan, Plan, time};
use crate::cli::DiffArgs;
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::library::Library;
use serde::Serialize;

/// Something that differs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
struct Change {
    what: String,
    before: Option<String>,
    after: Option<String>,
}

/// `deadship diff`.
pub(crate) fn diff(io: &mut Io, library: &mut Library, args: &DiffArgs) -> Result<u8, Failure> {
    let (before, after) = (
        Plan::read(library, &args.before, None, args.dials)?,
        Plan::read(library, &args.after, None, args.dials)?,
    );
    let changes = changes(&before, &after);
    for change in &changes {
        if args.json {
            // Plain data with text keys always serialises.
            io.line(&serde_json::to_string(change).unwrap_or_default())?;
            continue;
        }
        match (&change.before, &change.after) {
            (None, Some(after)) => io.line(&format!("+ {}: {after}", change.what))?,
            (Some(before), None) => io.line(&format!("- {}: {before}", change.what))?,
            (before, after) => {
                io.line(&format!("* {}", change.what))?;
                io.line(&format!("    was  {}", before.as_deref().unwrap_or_default()))?;
                io.line(&format!("    is   {}", after.as_deref().unwrap_or_default()))?;
            }
        }
    }
    io.flush()?;
    if changes.is_empty() {
        io.tell("both say the same");
    }
    Ok(if changes.is_empty() { WELL } else { NO })
}

fn changes(before: &Plan, after: &Plan) -> Vec<Change> {
    let (was, is) = (facts(before), facts(after));
    let mut changes: Vec<Change> = Vec::new();
    for (what, before) in &was {
        let after = is.iter().find(|(other, _)| other == what).map(|(_, after)| after.clone());
        if after.as_ref() != Some(before) {
            changes.push(Change { what: what.clone(), before: Some(before.clone()), after });
        }
    }
    let is_new = |(what, _): &&(String, String)| !was.iter().any(|(other, _)| other == what);
    let new = is.iter().filter(is_new);
    changes.extend(new.map(|(what, after)| Change {
        what: what.clone(),
        before: None,
        after: Some(after.clone()),
    }));
    changes
}

/// What a drill says, each with a name that is the same in every version.
fn facts(plan: &Plan) -> Vec<(String, String)> {
    let optional = |seconds: Option<f64>| seconds.map_or_else(|| "none".to_owned(), time);
    let mut facts = vec![
        ("title".to_owned(), plan.title.clone()),
        ("ship".to_owned(), plan.ship.clone()),
        ("found".to_owned(), plan.start.clone()),
        ("time to settle".to_owned(), time(plan.settle_s)),
        ("limit".to_owned(), optional(plan.limit_s)),
        ("length said".to_owned(), optional(plan.length_s)),
        (
            "difficulty said".to_owned(),
            plan.difficulty.map_or_else(|| "none".to_owned(), |level| level.to_string()),
        ),
        ("seed".to_owned(), plan.seed.to_string()),
        ("brief".to_owned(), plan.brief.clone()),
        ("safety words".to_owned(), plan.safety.clone()),
    ];
    if let Some(aim) = &plan.aim {
        facts.push(("aim".to_owned(), format!("{}: {} for {}", aim.text, aim.when, time(aim.hold_s))));
    }
    for station in &plan.stations {
        let covers = station.covers.join(", ");
        let about = format!(
            "{}, {} seats, begins at {}, covers {covers}",
            station.title, station.seats, station.start
        );
        facts.push((format!("station {}", station.name), about));
        facts.push((format!("card of station {}", station.name), station.card.clone()));
    }
    for step in &plan.steps {
        let goes = step.goes.as_ref().map_or_else(String::new, |goes| format!("; gone {}", goes.words()));
        facts.push((
            format!("{} {}", step.sort, step.name),
            format!("{}; {}{goes}", step.what, step.comes.words()),
        ));
    }
    for one in &plan.dialled {
        facts.push((format!("positions of the {} {}", one.sort, one.name), one.there.clone()));
    }
    for one in &plan.objectives {
        let levels: Vec<String> =
            one.objective.levels.iter().map(|level| format!("{}: {}", level.word, level.text)).collect();
        let about = format!("{} ({}); {}", one.objective.text, one.objective.stcw, levels.join(" "));
        facts.push((format!("objective {}", one.objective.name), about));
        facts.extend(one.expectations.iter().map(|expect| fact(expect, &one.objective.name)));
    }
    facts.extend(plan.other_expectations.iter().map(|expect| fact(expect, "no objective")));
    for procedure in &plan.procedures {
        let name = format!("procedure {}", procedure.name);
        let error = procedure.error.clone().unwrap_or_else(|| "no error".to_owned());
        facts.push((
            name.clone(),
            format!("{}; {error}; misses {}", procedure.title, procedure.misses.join(", ")),
        ));
        for step in &procedure.steps {
            let about = format!("{}: {}: {}", step.station, step.title, step.acts.join("; "));
            facts.push((format!("{name}, step {}", step.name), about));
        }
    }
    facts.push(("questions".to_owned(), plan.questions.join(" | ")));
    facts.push(("sources".to_owned(), plan.sources.join(" | ")));
    facts.retain(|(_, text)| !text.is_empty());
    facts
}

fn fact(expect: &ExpectPlan, objective: &str) -> (String, String) {
    let from = expect.from.as_ref().map_or_else(String::new, |from| format!(", from {from}"));
    let within = expect.within_s.map_or_else(String::new, |within| format!(", within {}", time(within)));
    (
        format!("expectation {}", expect.name),
        format!("{} (for {objective}): {}{from}{within}", expect.text, expect.when),
    )
}

#[cfg(test)]
pub(super) fn told(before: &Plan, after: &Plan) -> Vec<(String, Option<String>, Option<String>)> {
    changes(before, after).into_iter().map(|change| (change.what, change.before, change.after)).collect()
}
