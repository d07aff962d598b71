//! What is known of flow: what the indications show, and for those who see all what the sums at the joints leave.

use super::graph::{Edge, Graph};
use super::layout::Section;
use crate::screen::model::{Model, number};
use deadship_run::view::Chart;

/// Below this share of the largest flow at a joint the rest is the rounding of the others.
const ROUNDING: f64 = 0.02;

/// What is known of the flow in a run.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Flow {
    /// Nothing.
    Unknown,
    /// So much, along the run or against it; its text where something shows it.
    Known(f64, Option<String>),
}

impl Flow {
    fn value(&self) -> Option<f64> {
        match self {
            Flow::Unknown => None,
            Flow::Known(value, _) => Some(*value),
        }
    }

    /// As a piece of pipe, longer where there is room.
    pub(super) const fn line(&self, roomy: bool) -> &'static str {
        match (self, roomy) {
            (Flow::Unknown, true) => "┄┄┄",
            (Flow::Unknown, false) => "┄┄",
            (Flow::Known(value, _), true) if *value > 0.0 => "━━▶",
            (Flow::Known(value, _), false) if *value > 0.0 => "━▶",
            (Flow::Known(value, _), true) if *value < 0.0 => "◀━━",
            (Flow::Known(value, _), false) if *value < 0.0 => "◀━",
            (Flow::Known(..), true) => "───",
            (Flow::Known(..), false) => "──",
        }
    }
}

/// Of each run of a section.
pub(super) fn flows(model: &Model, chart: &Chart, graph: &Graph, section: &Section) -> Vec<Flow> {
    let of = |edges: &[usize]| edges.iter().find_map(|&edge| shown(model, chart, &graph.edges[edge]));
    let mut flows: Vec<Flow> =
        section.runs.iter().map(|run| of(&run.edges).unwrap_or(Flow::Unknown)).collect();
    if model.sees_all {
        while balance(graph, section, &mut flows) {}
    }
    flows
}

/// What an indication of the component shows; what is zero as shown is none.
fn shown(model: &Model, chart: &Chart, edge: &Edge) -> Option<Flow> {
    let name = &chart.components[edge.component].name;
    let port = chart.kind(edge.component).ports[edge.ports.0].0.as_str();
    let side = port.strip_suffix("inlet").unwrap_or_default();
    let text = model.reading(name, &format!("{side}flow"))?;
    let value = number(text)?;
    let size = (value != 0.0).then(|| text.trim_start_matches('-').to_owned());
    Some(Flow::Known(value, size))
}

/// What comes to a joint goes from it: finds one flow that the others there leave.
fn balance(graph: &Graph, section: &Section, flows: &mut [Flow]) -> bool {
    for &node in section.own.iter().filter(|node| !graph.holds(**node)) {
        let (mut sum, mut most) = (0.0_f64, 0.0_f64);
        let mut open = None;
        let mut count = 0;
        for (i, run) in section.runs.iter().enumerate() {
            let sign = f64::from(i8::from(run.to == node) - i8::from(run.from == node));
            match flows[i].value() {
                _ if sign == 0.0 => {}
                Some(value) => {
                    sum += sign * value;
                    most = most.max(value.abs());
                }
                None => (open, count) = (Some((i, sign)), count + 1),
            }
        }
        if let (Some((i, sign)), 1) = (open, count) {
            let value = if sum.abs() <= ROUNDING * most { 0.0 } else { -sign * sum };
            flows[i] = Flow::Known(value, None);
            return true;
        }
    }
    false
}
