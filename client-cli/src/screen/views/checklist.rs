//! The procedures of the drill, with what is ticked off: place-keeping that the team shares.

use crate::screen::colours::{Ink, Palette};
use crate::screen::model::Model;
use crate::screen::parts::{About, Row};
use crate::screen::text::{clock, wrap};

/// Was it ticked off: when, and done or given up?
pub(crate) fn ticked(model: &Model, list: &str, step: &str) -> Option<(u64, bool)> {
    let name = format!("{list}/{step}");
    model.situation.ticked.iter().find(|known| known.step == name).map(|known| (known.tick, known.done))
}

/// One procedure; the steps of the person's station stand out.
pub(crate) fn rows(model: &Model, palette: Palette, list: usize, wide: usize) -> Vec<Row> {
    let Some(chart) = &model.chart else { return Vec::new() };
    let Some(shown) = chart.lists.get(list) else {
        return Row::text(palette, Ink::Plain, "this drill has no checklist", wide);
    };
    let station = model.me().and_then(|me| me.station.clone());
    let title = format!("{} ({} of {})", shown.title, list + 1, chart.lists.len());
    let mut rows = vec![Row::heading(palette, &title)];
    let next = shown.steps.iter().position(|step| {
        let mine = station.as_ref().is_none_or(|station| *station == step.station);
        mine && ticked(model, &shown.name, &step.name).is_none()
    });
    for (index, step) in shown.steps.iter().enumerate() {
        let (sign, when, ink) = match ticked(model, &shown.name, &step.name) {
            Some((tick, true)) => ("☑", format!(" done {}", clock(tick)), Ink::Live),
            Some((tick, false)) => ("☒", format!(" skipped {}", clock(tick)), Ink::Caution),
            None => ("☐", String::new(), Ink::Plain),
        };
        let mine = station.as_ref() == Some(&step.station);
        let here = if next == Some(index) { "→" } else { " " };
        let head = format!("{here}{sign} {:>2}. [{}] {}{when}", index + 1, step.station, step.title);
        let ink = if mine && ink == Ink::Plain { Ink::Strong } else { ink };
        rows.push(Row::new(palette, About::Step(list, index), &[(ink, &head)]));
        // Only what is still to be done is written out.
        if ticked(model, &shown.name, &step.name).is_some() {
            continue;
        }
        for line in &step.lines {
            for (i, part) in wrap(line, wide.saturating_sub(12).max(10)).into_iter().enumerate() {
                let about =
                    if i == 0 && is_command(line) { About::Do(line.clone(), false) } else { About::Nothing };
                rows.push(Row::new(palette, about, &[(Ink::Faint, &format!("         {part}"))]));
            }
        }
    }
    rows
}

/// Is a line of a checklist something to type?
fn is_command(line: &str) -> bool {
    !["wait for ", "until ", "report: "].iter().any(|begin| line.starts_with(begin))
}
