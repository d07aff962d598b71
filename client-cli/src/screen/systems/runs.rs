//! Piping drawn as runs.

use super::flow::{Flow, flows};
use super::graph::{Attached, Edge, Graph};
use super::labels::{labels, shared};
use super::layout::{Block, Section, sections};
use super::legs::way_state;
use super::pen::{Pen, Piece};
use super::readings::{AtPort, readings, word};
use crate::screen::colours::Ink;
use crate::screen::state::{Shape, StateNow};
use deadship_run::view::{Chart, ChartKind};
use std::collections::{BTreeMap, BTreeSet};

/// Ports of what keeps the medium.
const VESSELS: [&str; 2] = ["air", "liquid"];

/// Readings that tell whether a component is open, closed or running.
const TELLING: [&str; 5] = ["running", "closed", "open", "position", "on"];

/// Piping of one view.
#[derive(Clone, Debug)]
pub(super) struct Runs {
    /// The beginning that labels leave out.
    pub(super) prefix: String,
    sections: Vec<Section>,
    components: BTreeMap<usize, String>,
    nodes: BTreeMap<usize, String>,
    /// Components that are drawn more than once.
    several: BTreeSet<usize>,
    /// Pumps that are known by the name of their motor.
    motors: BTreeMap<usize, usize>,
    /// What drives a component whose own readings do not say whether it runs.
    drives: BTreeMap<usize, usize>,
}

impl Runs {
    /// Of these nodes.
    pub(super) fn new(chart: &Chart, graph: &Graph, own: &BTreeSet<usize>) -> Runs {
        let sections = sections(chart, graph, own);
        let edges = || graph.edges.iter().filter(|edge| own.contains(&edge.from) || own.contains(&edge.to));
        let nodes: BTreeSet<usize> =
            own.iter().copied().chain(edges().flat_map(|edge| [edge.from, edge.to])).collect();
        let attached = || graph.attached.iter().filter(|attached| nodes.contains(&attached.node));
        let shown: BTreeSet<usize> =
            edges().map(|edge| edge.component).chain(attached().map(|attached| attached.component)).collect();
        let drives: BTreeMap<usize, usize> =
            shown.iter().filter_map(|&component| Some((component, drive(chart, component)?))).collect();
        let name = |component: usize| chart.components[component].name.as_str();
        let is_motor = |(pump, motor): &(usize, usize)| {
            name(*pump).strip_prefix(name(*motor)).is_some_and(|rest| rest.starts_with('.'))
        };
        let motors: BTreeMap<usize, usize> =
            drives.iter().map(|(&pump, &motor)| (pump, motor)).filter(is_motor).collect();
        let names: Vec<&str> =
            shown.iter().map(|component| name(*motors.get(component).unwrap_or(component))).collect();
        let prefix = shared(names.iter().copied());
        let node_names: Vec<&str> = nodes.iter().map(|&node| chart.nodes[node].name.as_str()).collect();
        let mut places: BTreeMap<usize, usize> = BTreeMap::new();
        let fitted = attached().filter(|attached| attached.holds || own.contains(&attached.node));
        for component in edges().map(|edge| edge.component).chain(fitted.map(|fitted| fitted.component)) {
            *places.entry(component).or_default() += 1;
        }
        Runs {
            several: places
                .into_iter()
                .filter(|(_, count)| *count > 1)
                .map(|(component, _)| component)
                .collect(),
            components: shown.iter().copied().zip(labels(&names, &prefix)).collect(),
            nodes: nodes.iter().copied().zip(labels(&node_names, &prefix)).collect(),
            prefix,
            sections,
            motors,
            drives,
        }
    }

    /// The components that are drawn.
    pub(super) fn shown(&self) -> impl Iterator<Item = usize> {
        self.components.keys().copied()
    }

    /// Names of the circuits, for people.
    pub(super) fn circuits(&self, chart: &Chart) -> Vec<String> {
        self.sections.iter().map(|section| circuit(chart, section)).collect()
    }

    /// Draws them.
    pub(super) fn draw(&self, pen: &mut Pen<'_>, chart: &Chart, graph: &Graph) {
        for section in &self.sections {
            pen.gap();
            if self.sections.len() > 1 {
                let title = Piece::new(format!("{} ", circuit(chart, section)), Ink::Strong);
                let rule = "─".repeat(pen.wide().saturating_sub(title.width()).min(40));
                pen.row(&title.and(rule, Ink::of(section.flows)), &Piece::default(), []);
            }
            let flows = flows(pen.model, chart, graph, section);
            let drawing = Drawing { runs: self, chart, graph, section, flows };
            for block in &section.blocks {
                drawing.block(pen, block);
            }
        }
    }
}

/// The longest beginning that all nodes of a section share, or the commonest.
fn circuit(chart: &Chart, section: &Section) -> String {
    let names: Vec<&str> = section.own.iter().map(|&node| chart.nodes[node].name.as_str()).collect();
    let Some(first) = names.first() else { return String::new() };
    let mut parts: Vec<&str> = first.split('.').collect();
    while !parts.is_empty() {
        let common = parts.join(".");
        let begins = |name: &&str| {
            name.strip_prefix(&common).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
        };
        if names.iter().all(begins) {
            return common;
        }
        parts.pop();
    }
    let commonest = shared(names.iter().copied());
    if commonest.is_empty() { (*first).to_owned() } else { commonest.trim_end_matches('.').to_owned() }
}

/// What turns the shaft of a pump or a compressor.
fn drive(chart: &Chart, component: usize) -> Option<usize> {
    let tells = |kind: &ChartKind| kind.readings.iter().any(|reading| reading.name == "running");
    let known = &chart.components[component];
    if tells(chart.kind(component)) {
        return None;
    }
    let shaft = chart.kind(component).ports.iter().position(|(name, _)| name == "shaft")?;
    let shaft = (*known.ports.get(shaft)?)?;
    let turns = |other: &usize| {
        *other != component
            && tells(chart.kind(*other))
            && chart.components[*other].ports.contains(&Some(shaft))
    };
    (0..chart.components.len()).find(turns)
}

struct Drawing<'d> {
    runs: &'d Runs,
    chart: &'d Chart,
    graph: &'d Graph,
    section: &'d Section,
    flows: Vec<Flow>,
}

impl Drawing<'_> {
    fn block(&self, pen: &mut Pen<'_>, block: &Block) {
        let head = self.node(pen, block.node, block.joint);
        let blank = Piece::new("     ", Ink::Plain);
        match block.runs.len() {
            // Without more to say its name at the ends of the runs that lead here is enough.
            0 if block.joint && head.len() == 1 => {}
            0 | 1 => {
                let runs = block.runs.clone().flat_map(|run| self.run(pen, run));
                let pieces: Vec<Piece> = head.into_iter().chain(runs).collect();
                pen.row(&Piece::default(), &blank, pieces);
            }
            _ => {
                pen.row(&Piece::default(), &blank, head);
                let ink = Ink::of(self.section.flows);
                for run in block.runs.clone() {
                    let last = run + 1 == block.runs.end;
                    let (first, next) = if last { ("└", "     ") } else { ("├", "│    ") };
                    pen.row(&Piece::new(first, ink), &Piece::new(next, ink), self.run(pen, run));
                }
            }
        }
    }

    fn run(&self, pen: &Pen<'_>, index: usize) -> Vec<Piece> {
        let (run, flow) = (&self.section.runs[index], &self.flows[index]);
        let ink = Ink::of(self.section.flows);
        let line = || Piece::new(format!("{} ", flow.line(pen.roomy())), ink);
        let mut pieces = Vec::new();
        for (i, edge) in run.edges.iter().map(|&edge| &self.graph.edges[edge]).enumerate() {
            pieces.push(line().then(self.through(pen, edge)));
            let last = i + 1 == run.edges.len();
            let after = if last { self.end(pen, edge.to) } else { self.attached(pen, edge.to) };
            let from = pieces.len();
            pieces.extend(after);
            if let Some(first) = pieces.get_mut(from) {
                *first = line().then(std::mem::take(first));
            }
        }
        if let (Flow::Known(_, Some(text)), Some(end)) = (flow, pieces.last_mut()) {
            *end = std::mem::take(end).and(format!(" {text} "), Ink::Strong);
        }
        pieces
    }

    /// The end of a run.
    fn end(&self, pen: &Pen<'_>, node: usize) -> Vec<Piece> {
        let block = self.section.blocks.iter().find(|block| block.node == node);
        match block {
            Some(block) if self.section.own.contains(&node) => {
                vec![Piece::new(format!("◆ {} ", self.runs.nodes[&block.node]), Ink::Strong)]
            }
            _ => self.node(pen, node, false),
        }
    }

    /// A node with what is attached to it.
    fn node(&self, pen: &Pen<'_>, node: usize, joint: bool) -> Vec<Piece> {
        let attached = self.attached(pen, node);
        let sign = match self.section.own.contains(&node) {
            true if joint => "◆",
            true if attached.is_empty() => "•",
            true => return attached,
            false => "◇",
        };
        let name = Piece::new(format!("{sign} {} ", self.runs.nodes[&node]), Ink::Strong);
        std::iter::once(name).chain(attached).collect()
    }

    fn attached(&self, pen: &Pen<'_>, node: usize) -> Vec<Piece> {
        let foreign = !self.section.own.contains(&node);
        // The sensor of what has its way through here is seen there; of another view's node only what it holds counts.
        let shown = |at: &&Attached| at.holds || (!foreign && !self.passes(at.component));
        let mut here: Vec<&Attached> = self.graph.at(node).filter(shown).collect();
        let vessel =
            |at: &Attached| VESSELS.contains(&self.chart.kind(at.component).ports[at.port].0.as_str());
        here.sort_by_key(|at| (!vessel(at), !at.holds));
        here.into_iter().map(|at| self.fitting(pen, at)).collect()
    }

    /// Has the component a way through this section?
    fn passes(&self, component: usize) -> bool {
        let here = |edge: &&usize| self.graph.edges[**edge].component == component;
        self.section.runs.iter().any(|run| run.edges.iter().any(|edge| here(&edge)))
    }

    fn fitting(&self, pen: &Pen<'_>, attached: &Attached) -> Piece {
        let (open, close) = if attached.holds { ("[", "] ") } else { ("(", ") ") };
        let most = if pen.roomy() { 3 } else { 2 };
        let state = pen.state(self.turned_by(attached.component));
        let inner = self.item(pen, attached.component, (attached.port, None), &state, most);
        Piece::new(open, Ink::of(self.section.flows)).then(inner).and(close, Ink::of(self.section.flows))
    }

    fn through(&self, pen: &Pen<'_>, edge: &Edge) -> Piece {
        let most = if pen.roomy() { 3 } else { 1 };
        let state = match self.runs.drives.get(&edge.component) {
            Some(&drive) => pen.state(drive),
            None => way_state(pen.model, self.chart, self.graph, edge),
        };
        let ports = (edge.ports.0, Some(edge.ports.1));
        self.item(pen, edge.component, ports, &state, most).and(" ", Ink::Plain)
    }

    /// The component that tells whether this one runs: its drive, or itself.
    fn turned_by(&self, component: usize) -> usize {
        self.runs.drives.get(&component).copied().unwrap_or(component)
    }

    /// Shape, label, word and readings of a component between two ports, or at one.
    fn item(
        &self,
        pen: &Pen<'_>,
        component: usize,
        (port, to): (usize, Option<usize>),
        state: &StateNow,
        most: usize,
    ) -> Piece {
        let drive = self.turned_by(component);
        let sign = self.sign(drive, state);
        let mut label = self.runs.components[&component].clone();
        if let Some(leg) = self.leg(component, port, to) {
            label = format!("{label}·{leg}");
        }
        let named = self.runs.motors.get(&component).copied().unwrap_or(component);
        let chosen = [component, drive].into_iter().find(|&one| pen.is_chosen(one));
        let about = chosen.unwrap_or(named);
        let mut piece = Piece::new(sign, Ink::of(self.section.flows)).then(pen.label(about, &label, state));
        if let Some(word) = word(pen, state) {
            let ink = if state.shape == Shape::Latched { Ink::Alarm } else { Ink::Plain };
            piece = piece.and(format!(" {word}"), ink);
        }
        let ports = &self.chart.kind(component).ports;
        let name = |port: usize| ports[port].0.as_str();
        let at = AtPort { component, port: name(port), to: to.map(name) };
        for text in readings(pen, self.chart, at, most) {
            piece = piece.and(format!(" {text}"), Ink::Strong);
        }
        piece
    }

    fn sign(&self, component: usize, state: &StateNow) -> String {
        match state.shape {
            Shape::Value => String::new(),
            Shape::Unseen => {
                let kind = self.chart.kind(component);
                let tells = kind.readings.iter().any(|reading| TELLING.contains(&reading.name.as_str()));
                if tells { "? ".to_owned() } else { String::new() }
            }
            shape => format!("{} ", shape.sign().trim_end()),
        }
    }

    /// Which way through a component, or which of its ports, where it is drawn more than once.
    fn leg(&self, component: usize, port: usize, to: Option<usize>) -> Option<String> {
        if !self.runs.several.contains(&component) {
            return None;
        }
        let ports = &self.chart.kind(component).ports;
        let name = |port: usize| ports[port].0.as_str();
        let Some(to) = to else { return Some(name(port).to_owned()) };
        let mut edges = self.graph.edges.iter().filter(|edge| edge.component == component);
        if edges.clone().count() > 1 && edges.all(|edge| edge.ports.0 == port) {
            return Some(name(to).to_owned());
        }
        let side = name(port).trim_end_matches("inlet").trim_end_matches('-');
        (!side.is_empty()).then(|| side.to_owned())
    }
}
