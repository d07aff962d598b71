//! The plan of the drill: what it does and expects, what is due next, and hints.

use crate::screen::colours::{Ink, Palette};
use crate::screen::model::Model;
use crate::screen::parts::{About, Row};
use crate::screen::text::{age, clock, fit, wrap};
use crate::screen::views::asked;
use crate::screen::views::checklist::ticked;

/// The plan: what the drill does and expects, what is due next; then where the team is in the procedure, for hints.
pub(crate) fn rows(model: &Model, palette: Palette, wide: usize) -> Vec<Row> {
    let Some(chart) = &model.chart else { return Vec::new() };
    let mut rows = asked::rows(model, palette, wide);
    rows.push(Row::heading(palette, "WHAT THE DRILL DOES"));
    rows.extend(
        chart
            .dials
            .iter()
            .map(|dials| Row::new(palette, About::Nothing, &[(Ink::Strong, &format!(" {dials}"))])),
    );
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
