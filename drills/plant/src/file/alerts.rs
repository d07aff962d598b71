//! Alerts: limits on readings.

use super::components::Component;
use super::links::{find_component, find_reading, reading_def};
use super::names::Names;
use super::sheet::Sheet;
use super::toml_reader::{Problems, Reader, Spot};
use crate::kind::ReadingDef;
use crate::spec::{AlertSpec, Beyond, Priority, Suppression};
use crate::unit::{Dimension, format_limit};
use std::collections::BTreeMap;

const PRIORITIES: [(&str, Priority); 3] =
    [("alarm", Priority::Alarm), ("warning", Priority::Warning), ("caution", Priority::Caution)];

/// All alerts in order of name.
pub(super) fn read_alerts(sheet: &Sheet<'_>, components: &[Component<'_>]) -> Vec<AlertSpec> {
    let mut names = Names::of("alert");
    let mut alerts = Vec::new();
    let mut spots = Vec::new();
    for table in &sheet.alerts {
        if let Some(alert) = read_alert(sheet, components, table, &mut names) {
            alerts.push(alert);
            spots.push(table.spot());
        }
        table.finish();
    }
    check_sides(sheet.problems, &alerts, &spots);
    alerts.sort_by(|a, b| a.name.cmp(&b.name));
    alerts
}

fn read_alert(
    sheet: &Sheet<'_>,
    components: &[Component<'_>],
    table: &Reader<'_>,
    names: &mut Names,
) -> Option<AlertSpec> {
    const LONGEST_S: f64 = 86_400.0;
    let words = PRIORITIES.map(|(word, _)| word);
    let time = |key| table.get(key).and_then(|field| field.quantity_within(Dimension::Time, 0.0, LONGEST_S));
    let name = names.read(table);
    let text = table.need("text").and_then(|field| field.text());
    let priority = table.need("priority").and_then(|field| field.choice(&words));
    let reading = table.need("reading").and_then(|field| find_reading(sheet, components, &field));
    let def = reading.map(|reading| reading_def(components, reading));
    let dimension = def.map(|def| def.dimension);
    let limit = read_limit(table, ("above", "below"), "an alert", def);
    let hysteresis = table
        .get("hysteresis")
        .zip(dimension)
        .and_then(|(field, dimension)| field.quantity_within(difference_of(dimension), 0.0, f64::INFINITY));
    let delay = time("delay");
    let only_while = table.get("while").and_then(|field| find_reading(sheet, components, &field));
    if let (Some(after), None) = (table.get("after"), table.get("while")) {
        after.report("needs `while`");
    }
    let after = time("after");
    let about = table.get("about").and_then(|field| {
        let name = field.text()?;
        find_component(sheet, components, &field, &name)
    });
    let blocks = table.get("blocks-standby").and_then(|field| field.flag());
    let suppressed = read_suppression(sheet, components, table);
    let first_out = table.get("first-out").and_then(|field| field.text());
    let own_supply = table.get("own-supply").and_then(|field| field.flag());
    let reading = reading?;
    let (when, limit) = limit?;
    Some(AlertSpec {
        name: name?.value,
        text: text?.value,
        priority: PRIORITIES[priority?.value].1,
        reading,
        when,
        limit,
        dimension: dimension?,
        hysteresis: hysteresis.map_or(0.0, |at| at.value),
        delay_s: delay.map_or(0.0, |at| at.value),
        only_while,
        after_s: after.map_or(0.0, |at| at.value),
        about: about.unwrap_or(reading.0),
        blocks_standby: blocks.is_some_and(|at| at.value),
        suppressed,
        first_out: first_out.map(|at| at.value),
        own_supply: own_supply.is_some_and(|at| at.value),
        pos: table.spot().pos,
    })
}

/// `suppressed-by` a reading that is `suppressed-below` or `suppressed-above` a limit, `suppressed-for` some time more.
fn read_suppression(
    sheet: &Sheet<'_>,
    components: &[Component<'_>],
    table: &Reader<'_>,
) -> Option<Suppression> {
    const LONGEST_S: f64 = 3600.0;
    const SIDES: (&str, &str) = ("suppressed-above", "suppressed-below");
    let Some(by) = table.get("suppressed-by") else {
        for key in [SIDES.0, SIDES.1, "suppressed-for"] {
            if let Some(field) = table.get(key) {
                field.report("needs `suppressed-by`, the reading that decides");
            }
        }
        return None;
    };
    let reading = find_reading(sheet, components, &by);
    let def = reading.map(|reading| reading_def(components, reading));
    let limit = read_limit(table, SIDES, "an alert with `suppressed-by`", def);
    let for_s = table
        .get("suppressed-for")
        .and_then(|field| field.quantity_within(Dimension::Time, 0.0, LONGEST_S))
        .map_or(0.0, |at| at.value);
    let (when, limit) = limit?;
    Some(Suppression { reading: reading?, when, limit, for_s })
}

/// Exactly one of two keys, for above and below a limit.
fn read_limit(
    table: &Reader<'_>,
    (over, under): (&str, &str),
    what: &str,
    of: Option<&ReadingDef>,
) -> Option<(Beyond, f64)> {
    let (above, below) = (table.get(over), table.get(under));
    let (when, field) = match (above, below) {
        (Some(field), None) => (Beyond::Above, field),
        (None, Some(field)) => (Beyond::Below, field),
        (Some(_), Some(below)) => {
            below.report(&format!("{what} has `{over}` or `{under}`, not both"));
            return None;
        }
        (None, None) => {
            table.problems().report(table.spot(), format!("{what} needs `{over}` or `{under}`"));
            return None;
        }
    };
    let of = of?;
    if let [first, ..] = of.words
        && !field.is_number()
    {
        let words = of.words.join(", ");
        let message = format!(
            "`{}`: a limit of words is a number, counted from 0: {words}; above 0.5 is all but `{first}`",
            field.key()
        );
        table.problems().report_with_help(field.spot(), message, format!("e.g. `{over} = 0.5`"));
        return None;
    }
    field.quantity(of.dimension).map(|limit| (when, limit.value))
}

/// Differences of temperatures have a dimension of their own.
fn difference_of(dimension: Dimension) -> Dimension {
    match dimension {
        Dimension::Temperature => Dimension::TemperatureDifference,
        other => other,
    }
}

/// A low limit above a high limit of the same reading would leave no value without an alert.
fn check_sides(problems: &Problems, alerts: &[AlertSpec], spots: &[Spot]) {
    let mut by_reading: BTreeMap<_, Vec<usize>> = BTreeMap::new();
    for (index, alert) in alerts.iter().enumerate() {
        by_reading.entry((alert.reading, alert.only_while)).or_default().push(index);
    }
    for group in by_reading.values() {
        for (&low, &high) in group.iter().flat_map(|low| group.iter().map(move |high| (low, high))) {
            let (below, above) = (&alerts[low], &alerts[high]);
            let inverted =
                below.when == Beyond::Below && above.when == Beyond::Above && below.limit > above.limit;
            if inverted && below.dimension != Dimension::None {
                let message = format!(
                    "limits are inverted: `{}` below {}, `{}` above {}",
                    below.name,
                    format_limit(below.limit, below.dimension),
                    above.name,
                    format_limit(above.limit, above.dimension)
                );
                problems.report(spots[low.max(high)], message);
            }
        }
    }
}
