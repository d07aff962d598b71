//! The resolved plan as a drawing: one row for each thing that the drill brings or expects, over the time that there is.

use super::{Plan, When, time};
use maud::{Markup, html};

const WIDE: f64 = 960.0;
/// Where the axis begins: names stand to the left of it.
const LEFT: f64 = 300.0;
const ROW: f64 = 26.0;
const TOP: f64 = 56.0;
/// Where a drill sets no limit, s.
const USUAL_S: f64 = 3_600.0;

/// A row: its name, its sort, where its bar begins (`None`: on a condition), and how long it is (`None`: to the end).
struct Row {
    name: String,
    sort: &'static str,
    from_s: Option<f64>,
    for_s: Option<f64>,
    told: String,
}

pub(super) fn svg(plan: &Plan) -> String {
    let rows = rows(plan);
    let limit_s = plan.limit_s.unwrap_or(USUAL_S);
    let x = |seconds: f64| LEFT + (WIDE - LEFT - 20.0) * (seconds / limit_s).clamp(0.0, 1.0);
    let high = TOP + ROW * rows.len() as f64 + 30.0;
    let marks: Vec<f64> = (0..=6).map(|sixth| limit_s * f64::from(sixth) / 6.0).collect();
    let drawing = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {WIDE} {high}")) font-family="sans-serif" font-size="12" role="img" {
            title { (plan.title) ": what it brings and what it expects" }
            rect width="100%" height="100%" fill="#fff" {}
            text x="12" y="22" font-size="16" font-weight="bold" { (plan.title) }
            text x="12" y="42" { (plan.ship_title) ", " (plan.start) }
            @for mark in &marks {
                line x1=(x(*mark)) x2=(x(*mark)) y1=(TOP) y2=(high - 24.0) stroke="#ccc" {}
                text x=(x(*mark)) y=(high - 8.0) text-anchor="middle" { (time(*mark)) }
            }
            @for (at, row) in rows.iter().enumerate() { (one(row, TOP + ROW * at as f64, &x, limit_s)) }
        }
    };
    drawing.into_string()
}

fn one(row: &Row, y: f64, x: &dyn Fn(f64) -> f64, limit_s: f64) -> Markup {
    let (fill, sign) = match row.sort {
        "fault" => ("#9c4a00", "✖"),
        "expected" => ("#1d6b35", "☑"),
        _ => ("#1f4e8c", "“"),
    };
    let from = x(row.from_s.unwrap_or(0.0));
    let to = x(row.for_s.map_or(limit_s, |length| row.from_s.unwrap_or(0.0) + length));
    // What waits for a condition may come at any time: its bar is drawn broken.
    let dash = if row.from_s.is_none() { "5 4" } else { "none" };
    html! {
        g {
            title { (row.told) }
            text x="12" y=(y + 16.0) { (sign) " " (row.name) }
            line x1=(from) x2=(to.max(from + 4.0)) y1=(y + 12.0) y2=(y + 12.0) stroke=(fill) stroke-width="8" stroke-dasharray=(dash) {}
        }
    }
}

fn rows(plan: &Plan) -> Vec<Row> {
    let brought = plan.steps.iter().map(|step| {
        let from_s = at(&step.comes);
        let gone = step.goes.as_ref().and_then(at);
        let is_moment = step.sort != "fault";
        Row {
            name: step.name.clone(),
            sort: step.sort,
            from_s,
            for_s: gone
                .zip(from_s)
                .map(|(to, from)| to - from)
                .or((is_moment && from_s.is_some()).then_some(0.0)),
            told: format!("{}: {}; {}", step.name, step.what, step.comes.words()),
        }
    });
    let expects = plan.objectives.iter().flat_map(|one| &one.expectations).chain(&plan.other_expectations);
    let expected = expects.map(|expect| Row {
        name: expect.name.clone(),
        sort: "expected",
        from_s: expect.from.is_none().then_some(0.0),
        for_s: expect.within_s.filter(|_| expect.from.is_none()),
        told: format!("{}: {}", expect.name, expect.text),
    });
    brought.chain(expected).collect()
}

fn at(when: &When) -> Option<f64> {
    match when {
        When::AtS(seconds) => Some(*seconds),
        When::Condition(_) => None,
    }
}
