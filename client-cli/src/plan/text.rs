//! The resolved plan as text.

use super::{ExpectPlan, Plan, StepPlan, time};
use crate::io::{beside, wrap};

pub(super) fn render(plan: &Plan) -> String {
    let mut lines = vec![format!("{} ({}), on {}", plan.title, plan.name, plan.ship_title)];
    let mut row = |name: &str, text: String| {
        if !text.is_empty() {
            lines.push(beside(&format!("  {name}"), 16, &text));
        }
    };
    row("start", format!("{}: {}", plan.start, plan.start_about));
    row("settles", time(plan.settle_s));
    row("limit", plan.limit_s.map(time).unwrap_or_default());
    row("length", plan.length_s.map(time).unwrap_or_default());
    row("difficulty", plan.difficulty.map(|level| level.to_string()).unwrap_or_default());
    row("seed", plan.seed.to_string());
    for variant in &plan.variants {
        row("variant", format!("{}: {}{}", variant.name, variant.about, variant.given()));
    }
    if !plan.dialled.is_empty() || !plan.dials.are_usual() {
        row("dials", format!("{} (and so below)", plan.dials.words()));
    }
    for one in &plan.dialled {
        row("", format!("{} {} only with {}", one.sort, one.name, one.there));
    }
    if let Some(aim) = &plan.aim {
        let ends = if aim.ends { "; the run ends then" } else { "" };
        row("aim", format!("{} (held {}{ends})", aim.text, time(aim.hold_s)));
        row("", aim.when.clone());
    }
    lines.push("\nStations".to_owned());
    for station in &plan.stations {
        let seats = if station.seats == 1 { "1 seat".to_owned() } else { format!("{} seats", station.seats) };
        lines.push(beside(
            &format!("  {}", station.name),
            16,
            &format!("{}; {seats}; begins at {}", station.title, station.start),
        ));
    }
    lines.push("\nWhat the drill brings".to_owned());
    plan.steps.iter().for_each(|step| lines.extend(brought(step)));
    for objective in &plan.objectives {
        let stcw = &objective.objective.stcw;
        lines.push(format!("\nObjective {}: {}", objective.objective.name, objective.objective.text));
        if !stcw.is_empty() {
            lines.push(format!("  STCW {stcw}"));
        }
        objective.expectations.iter().for_each(|expect| lines.extend(expected(expect)));
    }
    if !plan.other_expectations.is_empty() {
        lines.push("\nExpected besides".to_owned());
        plan.other_expectations.iter().for_each(|expect| lines.extend(expected(expect)));
    }
    for procedure in &plan.procedures {
        let error = procedure.error.as_ref().map_or_else(String::new, |error| format!("; error: {error}"));
        lines.push(format!("\nProcedure {}: {}{error}", procedure.name, procedure.title));
        if !procedure.misses.is_empty() {
            lines.push(format!("  must not be met: {}", procedure.misses.join(", ")));
        }
        for step in &procedure.steps {
            lines.push(beside(&format!("  {}", step.station), 16, &format!("{}: {}", step.name, step.title)));
        }
    }
    for (title, texts) in [("Questions", &plan.questions), ("Sources", &plan.sources)] {
        if !texts.is_empty() {
            lines.push(format!("\n{title}"));
            lines.extend(texts.iter().map(|text| wrap(text, 2)));
        }
    }
    lines.push(format!("\n{}", wrap(&plan.safety, 0)));
    lines.join("\n")
}

fn brought(step: &StepPlan) -> Vec<String> {
    let what = format!("{}: {}", step.name, step.what);
    let mut lines = vec![beside(&format!("  {}", step.sort), 16, &what), wrap(&step.comes.words(), 16)];
    lines.extend(step.goes.as_ref().map(|goes| wrap(&format!("gone {}", goes.words()), 16)));
    lines
}

fn expected(expect: &ExpectPlan) -> Vec<String> {
    let within = expect.within_s.map_or_else(String::new, |within| format!(" (within {})", time(within)));
    let mut lines = vec![beside(&format!("  {}", expect.name), 24, &format!("{}{within}", expect.text))];
    if let Some(from) = &expect.from {
        lines.push(wrap(&format!("from {from}"), 24));
    }
    lines.push(wrap(&format!("when {}", expect.when), 24));
    lines
}
