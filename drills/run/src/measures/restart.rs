//! In which order things came back, held against the ship's own sequence and against the procedure.

use super::courses::{Role, any, gaps};
use super::input::MeasureInput;
use super::parts::{param, param_is};
use super::types::{OrderCheck, RestartItem, RestartOrder};
use crate::command::Command;
use crate::event::Event;
use crate::procedure::Procedure;
use crate::words::Line;
use std::collections::BTreeMap;

/// Findings by which kinds say that something came on.
const CAME_ON: [&str; 2] = ["started", "restarted"];

/// Both checks, as far as there is something to check.
pub(super) fn measure(input: &MeasureInput<'_>) -> RestartOrder {
    RestartOrder { by_ship: by_ship(input), by_procedure: by_procedure(input) }
}

/// Consumers that have a place in the restart sequence, by the time of their place.
fn by_ship(input: &MeasureInput<'_>) -> Option<OrderCheck> {
    let spec = &input.setup()?.compiled.spec;
    let dead = gaps(&any(input.courses()?, Role::MainBoard), input.end());
    let &(_, back) = dead.first().filter(|gap| gap.1 < input.end())?;
    let sequenced = spec.components.iter().filter(|component| param_is(component, "restart", "in sequence"));
    let mut places: Vec<(f64, &str)> = sequenced
        .filter_map(|component| Some((param(component, "restart-delay")?, component.name.as_str())))
        .collect();
    places.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(b.1)));
    let came = |name: &str| {
        input.log().iter().find(|envelope| {
            envelope.tick >= back
                && matches!(&envelope.event, Event::Found { component, code, .. }
                    if component == name && CAME_ON.contains(&code.as_str()))
        })
    };
    let items: Vec<RestartItem> = places
        .iter()
        .map(|(_, name)| {
            let came = came(name);
            let (tick, seq) = (came.map(|found| found.tick), came.map(|found| found.seq));
            RestartItem { name: (*name).to_owned(), tick, seq }
        })
        .collect();
    if items.iter().filter(|item| item.tick.is_some()).count() < 2 {
        return None;
    }
    let before = |a: usize, b: usize| places[a].0 < places[b].0;
    Some(check("the ship's restart sequence".to_owned(), items, &before))
}

/// The acts of the first procedure that the team sees, in its order.
fn by_procedure(input: &MeasureInput<'_>) -> Option<OrderCheck> {
    let procedure = input.setup()?.procedures.iter().find(|procedure| procedure.team_sees)?;
    let steps = reach(procedure);
    let mut listed: Vec<(usize, String)> = Vec::new();
    for (step, wanted) in procedure.steps.iter().enumerate() {
        for (typed, line) in &wanted.acts {
            if matches!(line, Line::Command(Command::Act { .. })) {
                listed.push((step, typed.clone()));
            }
        }
    }
    let mut done: BTreeMap<String, Vec<(u64, u64)>> = BTreeMap::new();
    for envelope in input.log() {
        if let Event::ActDone { component, verb, setting, shown, .. } = &envelope.event {
            let typed = match setting.is_empty() {
                true => format!("{verb} {component}"),
                false => format!("{verb} {component} {setting} {shown}"),
            };
            done.entry(typed).or_default().push((envelope.tick, envelope.seq));
        }
    }
    // What is listed twice is done twice: the first time counts for the first place.
    let mut taken: BTreeMap<&str, usize> = BTreeMap::new();
    let items: Vec<RestartItem> = listed
        .iter()
        .map(|(_, typed)| {
            let nth = taken.entry(typed).or_default();
            let at = done.get(typed).and_then(|times| times.get(*nth)).copied();
            *nth += 1;
            RestartItem { name: typed.clone(), tick: at.map(|at| at.0), seq: at.map(|at| at.1) }
        })
        .collect();
    if items.iter().filter(|item| item.tick.is_some()).count() < 2 {
        return None;
    }
    let before = |a: usize, b: usize| match (listed[a].0, listed[b].0) {
        (x, y) if x == y => a < b,
        (x, y) => steps[y][x],
    };
    Some(check(format!("the procedure {} ({})", procedure.name, procedure.title), items, &before))
}

/// For every step, which steps must come before it: those of its station that are written earlier, those that it is
/// `after`, and all that come before them.
fn reach(procedure: &Procedure) -> Vec<Vec<bool>> {
    let steps = &procedure.steps;
    let mut reach = vec![vec![false; steps.len()]; steps.len()];
    for (later, step) in steps.iter().enumerate() {
        for (earlier, known) in steps[..later].iter().enumerate() {
            if known.station == step.station || step.after.contains(&known.name) {
                let inherited = reach[earlier].clone();
                reach[later][earlier] = true;
                reach[later].iter_mut().zip(inherited).for_each(|(own, more)| *own |= more);
            }
        }
    }
    reach
}

/// Counts pairs. What happened in the same tick is in order.
fn check(list: String, items: Vec<RestartItem>, before: &dyn Fn(usize, usize) -> bool) -> OrderCheck {
    let mut check = OrderCheck { list, ..OrderCheck::default() };
    for (a, first) in items.iter().enumerate() {
        let mut overtaken_by = Vec::new();
        for (b, second) in items.iter().enumerate() {
            let Some((first_tick, second_tick)) = first.tick.zip(second.tick) else { continue };
            if !before(a, b) {
                continue;
            }
            check.pairs += 1;
            match first_tick <= second_tick {
                true => check.in_order += 1,
                false => overtaken_by.push(second.name.as_str()),
            }
        }
        if let Some(second) = overtaken_by.first() {
            let more = match overtaken_by.len() - 1 {
                0 => String::new(),
                more => format!(" and {more} more"),
            };
            check.out_of_order.push(format!("{} came after {second}{more}", first.name));
        }
    }
    check.items = items;
    check
}
