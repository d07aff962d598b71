//! The views that only an instructor has: teams, faults, the plan of the drill.

use super::rank::{Needs, middle, needs};
use crate::screen::colours::{Ink, Palette};
use crate::screen::complete::faults;
use crate::screen::model::Model;
use crate::screen::parts::{About, Row};
use crate::screen::text::{age, clean, clock, fit, wrap};
use crate::screen::views::checklist::ticked;
use deadship_protocol::{BoardClass, BoardTeam, DrillInfo};
use std::collections::BTreeMap;

/// Teams of all classes, each by its place on the board.
pub(crate) fn all_teams(board: &[BoardClass]) -> Vec<&BoardTeam> {
    board.iter().flat_map(|class| &class.teams).collect()
}

/// All teams, those who need someone first.
pub(crate) fn teams(
    board: &[BoardClass],
    codes: &BTreeMap<uuid::Uuid, String>,
    model: &Model,
    drills: &[DrillInfo],
    palette: Palette,
    wide: usize,
) -> Vec<Row> {
    let mut rows = Vec::new();
    let mut first = 0;
    for class in board {
        let title = format!("{}, held by {}", clean(&class.title), clean(&class.holder));
        rows.push(Row::heading(palette, &title));
        let middle = middle(&class.teams);
        let mut ranked: Vec<(usize, &BoardTeam, Needs, Vec<String>)> = Vec::new();
        for (i, team) in class.teams.iter().enumerate() {
            let (needs, why) = needs(team, middle);
            ranked.push((first + i, team, needs, why));
        }
        first += class.teams.len();
        ranked.sort_by_key(|(place, _, needs, _)| (*needs, *place));
        if ranked.iter().all(|(_, _, needs, _)| *needs >= Needs::Ahead) {
            rows.push(Row::new(palette, About::Nothing, &[(Ink::Live, "○ nobody needs you")]));
        }
        for (place, team, needs, why) in ranked {
            rows.extend(team_rows(palette, place, team, needs, &why, codes, model, wide));
        }
    }
    if board.is_empty() {
        let text = "no class is open; type `open DRILL TEAM, TEAM` (Tab completes), for example `open first-light Red, Blue`";
        rows.extend(Row::text(palette, Ink::Plain, text, wide));
        for drill in drills {
            let stations: Vec<&str> = drill.stations.iter().map(|station| station.name.as_str()).collect();
            let about =
                format!("  {}: {} (on {}; {})", drill.name, drill.title, drill.ship, stations.join(", "));
            rows.extend(Row::text(palette, Ink::Faint, &about, wide));
        }
    }
    rows
}

#[allow(clippy::too_many_arguments, reason = "a row is made of what a row shows")]
fn team_rows(
    palette: Palette,
    place: usize,
    team: &BoardTeam,
    needs: Needs,
    why: &[String],
    codes: &BTreeMap<uuid::Uuid, String>,
    model: &Model,
    wide: usize,
) -> Vec<Row> {
    let (state, pulse) = (&team.state, &team.pulse);
    let used = model.state.as_ref().is_some_and(|used| used.run == state.run);
    let (sign, word) = needs.word();
    let mark = if used { "*" } else { " " };
    let head = format!("{sign} {word:<8}");
    let alerts = match (pulse.alerts, pulse.unacknowledged) {
        (0, _) => String::new(),
        (all, 0) => format!("{all} alerts"),
        (all, waiting) => format!("{all} alerts, {waiting} waiting"),
    };
    let met = pulse.met + pulse.missed + pulse.open;
    let speed = if state.speed == 1.0 { String::new() } else { format!(" ×{}", state.speed) };
    let body = format!(
        "{} {:>7}{speed}  met {}/{met}{}  {alerts}",
        fit(&clean(&state.team), 14),
        clock(state.tick),
        pulse.met,
        if pulse.missed > 0 { format!(", missed {}", pulse.missed) } else { String::new() },
    );
    let parts = [(Ink::Strong, mark), (needs.ink(), head.as_str()), (Ink::Plain, body.as_str())];
    let mut rows = vec![Row::new(palette, About::Team(place), &parts)];
    let mut below = |ink, text: &str| {
        for line in wrap(text, wide.saturating_sub(13).max(10)) {
            rows.push(Row::new(palette, About::Nothing, &[(ink, &format!("           {line}"))]));
        }
    };
    for why in why {
        below(needs.ink(), &clean(why));
    }
    let people =
        if team.people.is_empty() { "nobody on a link".to_owned() } else { clean(&team.people.join(", ")) };
    let code = codes.get(&state.run).map_or(String::new(), |code| format!("code {code}; "));
    below(Ink::Faint, &format!("{code}{people}"));
    if let Some(latest) = &pulse.latest
        && needs < Needs::Over
    {
        below(Ink::Faint, &format!("latest: {}", clean(latest)));
    }
    rows
}

/// Faults: those that are set, those that the drill has in store, then every one there is.
pub(crate) fn fault_rows(
    model: &Model,
    palette: Palette,
    filter: &str,
    wide: usize,
) -> (Vec<Row>, Vec<Fault>) {
    let Some(chart) = &model.chart else { return (Vec::new(), Vec::new()) };
    let (mut rows, mut items) = (Vec::new(), Vec::new());
    let fits =
        |text: &str| filter.split_whitespace().all(|word| text.to_lowercase().contains(&word.to_lowercase()));
    rows.push(Row::heading(palette, "SET NOW: Enter lifts"));
    for fault in model.situation.faults.iter().filter(|fault| fits(&fault.name)) {
        let since = age(model.tick.saturating_sub(fault.set_tick));
        let text = format!("✖ {} {:.0} %, for {since}", fault.name, fault.severity * 100.0);
        rows.push(Row::new(palette, About::Item(items.len()), &[(Ink::Warning, &text)]));
        items.push(Fault { name: fault.name.clone(), set: true, line: format!("lift {}", fault.name) });
    }
    for plan in model.situation.planned.iter().filter(|plan| fits(&plan.name)) {
        let text = fit(&format!("… {} waits: when {}", plan.name, plan.when), wide);
        rows.push(Row::new(palette, About::Item(items.len()), &[(Ink::Caution, &text)]));
        items.push(Fault { name: plan.name.clone(), set: true, line: format!("lift {}", plan.name) });
    }
    if items.is_empty() {
        rows.push(Row::new(palette, About::Nothing, &[(Ink::Faint, "  none")]));
    }
    let stored: Vec<_> = chart.steps.iter().filter(|step| step.what.starts_with("fault ")).collect();
    rows.push(Row::heading(
        palette,
        "OF THE DRILL, still to come: Enter shows what it does, Enter again sets it now",
    ));
    for step in stored {
        let happened = model.situation.steps.contains(&step.name);
        let name = step.what.split_whitespace().nth(1).unwrap_or_default();
        if happened || !fits(name) {
            continue;
        }
        let when = step
            .at_tick
            .map_or_else(|| step.when.clone().unwrap_or_default(), |tick| format!("at {}", clock(tick)));
        let text = fit(&format!("  {} ({when})", step.what), wide);
        rows.push(Row::new(palette, About::Item(items.len()), &[(Ink::Plain, &text)]));
        items.push(Fault { name: name.to_owned(), set: false, line: step.what.clone() });
    }
    rows.push(Row::heading(palette, "ALL THERE ARE: / finds"));
    for component in 0..chart.components.len() {
        for name in faults(model, component)
            .into_iter()
            .filter(|name| fits(name) || fits(&chart.components[component].title))
        {
            rows.push(Row::new(palette, About::Item(items.len()), &[(Ink::Plain, &format!("  {name}"))]));
            items.push(Fault { line: format!("fault {name}"), name, set: false });
        }
    }
    (rows, items)
}

/// A fault in the list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Fault {
    /// `component.fault`.
    pub(crate) name: String,
    /// Is it set now?
    pub(crate) set: bool,
    /// What sets or lifts it.
    pub(crate) line: String,
}

/// What a fault does and how it shows, before it is set.
pub(crate) fn preview(model: &Model, palette: Palette, fault: &Fault, wide: usize) -> Vec<Row> {
    let known = model.chart.as_ref().and_then(|chart| {
        let (component, name) = fault.name.rsplit_once('.')?;
        let component = chart.component(component)?;
        let def = chart.kind(component).faults.iter().find(|def| def.name == name)?;
        Some((chart, component, def))
    });
    let Some((chart, component, def)) = known else { return Vec::new() };
    let owner = &chart.components[component];
    let mut rows = Row::text(palette, Ink::Strong, &format!("{}: {}", owner.title, def.name), wide);
    rows.extend(Row::text(palette, Ink::Faint, &format!("at {}", model.place(owner.place)), wide));
    rows.extend(Row::text(palette, Ink::Plain, &def.doc, wide));
    let sort =
        if def.deceives { "It deceives people and what acts by the sensor, not the plant. " } else { "" };
    let text = format!("{sort}Usual severity {:.0} %.", def.usual * 100.0);
    rows.extend(Row::text(palette, Ink::Plain, &text, wide));
    rows.push(Row::new(palette, About::Nothing, &[]));
    let help = [
        ("Enter", if fault.set { "lifts it" } else { "sets it now, for this team" }),
        ("*", if fault.set { "lifts it for every team" } else { "for every team of the class" }),
        ("Space", "into the line: severity, over TIME, when CONDITION"),
    ];
    for (key, does) in help {
        rows.push(Row::new(palette, About::Nothing, &[(Ink::Strong, &fit(key, 7)), (Ink::Plain, does)]));
    }
    rows
}

/// The plan: what the drill does and expects, what is due next; then where the team is in the procedure, for hints.
pub(crate) fn plan(model: &Model, palette: Palette, wide: usize) -> Vec<Row> {
    let Some(chart) = &model.chart else { return Vec::new() };
    let mut rows = vec![Row::heading(palette, "WHAT THE DRILL DOES")];
    let mut next = true;
    for step in &chart.steps {
        let done = model.situation.steps.contains(&step.name);
        let when = match (&step.at_tick, &step.when) {
            (Some(tick), _) if *tick > model.tick => format!("in {}", age(tick - model.tick)),
            (Some(tick), _) => format!("at {}", clock(*tick)),
            (None, Some(when)) => format!("when {when}"),
            (None, None) => String::new(),
        };
        let due = !done && step.at_tick.is_some() && std::mem::take(&mut next);
        let (sign, ink) = match (done, due) {
            (true, _) => ("☑", Ink::Faint),
            (false, true) => ("→", Ink::Strong),
            (false, false) => ("☐", Ink::Plain),
        };
        for (i, line) in wrap(&format!("{}; {when}", step.what), wide.saturating_sub(4)).iter().enumerate() {
            let sign = if i == 0 { sign } else { " " };
            rows.push(Row::new(palette, About::Nothing, &[(ink, &format!(" {sign} {line}"))]));
        }
    }
    rows.push(Row::heading(palette, "WHAT IT EXPECTS"));
    for (expect, now) in chart.expects.iter().zip(&model.situation.expects) {
        let (sign, ink, how) = match (now.met, now.tick, now.from_tick, expect.within_ticks) {
            (Some(true), Some(tick), ..) => ("☑", Ink::Live, format!("met {}", clock(tick))),
            (Some(false), Some(tick), ..) => ("☒", Ink::Warning, format!("missed {}", clock(tick))),
            (_, _, Some(from), Some(within)) => {
                let left = (from + within).saturating_sub(model.tick);
                ("☐", Ink::Plain, format!("{} left", age(left)))
            }
            (_, _, None, _) => ("·", Ink::Faint, "its time does not run yet".to_owned()),
            _ => ("☐", Ink::Plain, "open".to_owned()),
        };
        for (i, line) in wrap(&format!("{} ({how})", expect.text), wide.saturating_sub(4)).iter().enumerate()
        {
            let sign = if i == 0 { sign } else { " " };
            rows.push(Row::new(palette, About::Nothing, &[(ink, &format!(" {sign} {line}"))]));
        }
    }
    rows.push(Row::heading(palette, "HINTS, from the drill's checklist: Enter takes one into the line"));
    for (index, list) in chart.lists.iter().enumerate() {
        for (step, check) in list.steps.iter().enumerate() {
            if ticked(model, &list.name, &check.name).is_none() {
                let text = fit(&format!("   [{}] {}", check.station, check.title), wide);
                rows.push(Row::new(palette, About::Step(index, step), &[(Ink::Plain, &text)]));
            }
        }
    }
    rows
}
