//! Faults: those that are set, those that the drill has in store, every one there is; and what one does.

use crate::screen::colours::{Ink, Palette};
use crate::screen::complete::faults;
use crate::screen::model::Model;
use crate::screen::parts::{About, Row};
use crate::screen::text::{age, clock, fit};

/// Faults: those that are set, those that the drill has in store, then every one there is.
pub(crate) fn rows(model: &Model, palette: Palette, filter: &str, wide: usize) -> (Vec<Row>, Vec<Fault>) {
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
