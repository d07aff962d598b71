//! What can be worked or read where someone stands, each with its state in a shape and a word.

use crate::screen::colours::{Ink, Palette};
use crate::screen::model::{Model, Reach};
use crate::screen::parts::{About, Row};
use crate::screen::state::{Shape, StateNow, state_of};
use crate::screen::text::{fit, width};

/// Cells of the state's word.
const WORD: usize = 9;

/// The rows; those whose name or title has all words of the filter.
pub(crate) fn rows(model: &Model, palette: Palette, filter: &str, wide: usize) -> Vec<Row> {
    let Some(chart) = &model.chart else {
        return Row::text(palette, Ink::Faint, "the ship's drawing is not here yet", wide);
    };
    let mut rows = Vec::new();
    let mut group = "";
    for component in model.reachable() {
        let known = &chart.components[component];
        let fits = |word: &str| {
            let word = word.to_lowercase();
            known.name.contains(&word) || known.title.to_lowercase().contains(&word)
        };
        if !filter.split_whitespace().all(fits) {
            continue;
        }
        let first = known.name.split('.').next().unwrap_or_default();
        if first != group {
            group = first;
            rows.push(Row::heading(palette, &group.to_uppercase()));
        }
        let panel = model.reach(component) == Some(Reach::Panel);
        rows.push(row(
            palette,
            component,
            &known.name,
            &known.title,
            &state_of(model, component),
            panel,
            wide,
        ));
    }
    if rows.is_empty() {
        let text = match (filter.is_empty(), model.me()) {
            (false, _) => "nothing here fits; Esc shows all of it again",
            (true, None) => "you are not aboard yet: take a station (type `station `, then Tab)",
            (true, Some(me)) if me.station.is_none() => {
                "you hold no station: type `station `, then Tab shows them"
            }
            (true, Some(_)) if model.here().is_none() => "you are walking",
            (true, Some(_)) => "nothing can be worked or read here; 4 shows the ways to other places",
        };
        rows.extend(Row::text(palette, Ink::Plain, text, wide));
    }
    rows
}

/// The ink of a state.
pub(crate) fn state_ink(state: &StateNow) -> Ink {
    match state.shape {
        Shape::Latched => Ink::Alarm,
        Shape::On | Shape::Made | Shape::Open => Ink::Live,
        Shape::Off | Shape::Broken | Shape::Shut | Shape::Unseen => Ink::Dead,
        Shape::Between | Shape::Value => Ink::Plain,
    }
}

#[allow(clippy::too_many_arguments, reason = "a row is made of what a row shows")]
fn row(
    palette: Palette,
    component: usize,
    name: &str,
    title: &str,
    state: &StateNow,
    panel: bool,
    wide: usize,
) -> Row {
    let sign = format!("{} ", state.shape.sign());
    let word = fit(&state.word, WORD);
    let used = width(&sign) + WORD + 1;
    let room = wide.saturating_sub(used + 1);
    // Where there is room the title stands beside the name that is typed.
    let (name, title) = match room > 56 {
        true => (fit(name, 34), fit(title, room - 35)),
        false => (fit(name, room), String::new()),
    };
    let from = if panel { " ▣" } else { "" };
    Row::new(
        palette,
        About::Component(component),
        &[
            (state_ink(state), &sign),
            (state_ink(state), &word),
            (Ink::Plain, " "),
            (Ink::Plain, &name),
            (Ink::Faint, &title),
            (Ink::Faint, from),
        ],
    )
}
