//! Electric boards as a single-line diagram: bars, what feeds them, what hangs on them.

use super::graph::{Edge, Graph, SOURCES};
use super::labels::{labels, shared};
use super::legs::way_state;
use super::live::{Live, live};
use super::pen::{Pen, Piece};
use crate::screen::colours::Ink;
use crate::screen::state::{Shape, StateNow};
use deadship_run::view::{Chart, Flows};
use std::collections::{BTreeMap, BTreeSet};

/// Ports of what only measures or controls.
const MEASURES: [&str; 1] = ["bus"];

/// Empty cells between two columns.
const BETWEEN: usize = 2;

/// Boards of one net.
#[derive(Clone, Debug)]
pub(super) struct Boards {
    /// The beginning that labels leave out.
    pub(super) prefix: String,
    labels: BTreeMap<usize, String>,
    bars: BTreeSet<usize>,
    chains: Vec<Chain>,
    roots: Vec<usize>,
}

/// Switches and transformers one after another, from a bar or a source to a bar.
#[derive(Clone, Debug)]
struct Chain {
    from: usize,
    edges: Vec<usize>,
    to: usize,
}

impl Boards {
    /// Of alternating or direct current.
    pub(super) fn new(chart: &Chart, graph: &Graph, net: Flows) -> Boards {
        let nodes: Vec<usize> =
            (0..chart.nodes.len()).filter(|&node| chart.nodes[node].flows == net).collect();
        let on_net = |node: &Option<usize>| node.is_some_and(|node| chart.nodes[node].flows == net);
        let shown = chart.components.iter().enumerate().filter(|(_, known)| known.ports.iter().any(on_net));
        let (shown, names): (Vec<usize>, Vec<&str>) =
            shown.map(|(i, known)| (i, known.name.as_str())).unzip();
        let prefix = shared(names.iter().copied());
        let labels = shown.into_iter().zip(labels(&names, &prefix)).collect();
        let bars = nodes.into_iter().filter(|&node| is_bar(chart, graph, node)).collect();
        let chains = chains(chart, graph, net, &bars);
        let roots = roots(&bars, &chains);
        Boards { prefix, labels, bars, chains, roots }
    }

    /// The components that are drawn.
    pub(super) fn shown(&self) -> impl Iterator<Item = usize> {
        self.labels.keys().copied()
    }

    /// Draws them.
    pub(super) fn draw(&self, pen: &mut Pen<'_>, chart: &Chart, graph: &Graph) {
        let mut drawing = Drawing { boards: self, chart, graph, drawn: BTreeSet::new() };
        for &root in &self.roots {
            pen.gap();
            drawing.bar(pen, root, None, "");
        }
    }
}

/// A node is a bar unless it only joins two switches, or a source with its switch.
fn is_bar(chart: &Chart, graph: &Graph, node: usize) -> bool {
    let ins = graph.edges.iter().filter(|edge| edge.to == node).count();
    let outs = graph.edges.iter().filter(|edge| edge.from == node).count();
    let mut attached = graph.at(node);
    let all_sources =
        attached.all(|at| SOURCES.contains(&chart.kind(at.component).ports[at.port].0.as_str()));
    let count = graph.at(node).count();
    let between = ins == 1 && outs == 1 && count == 0;
    let begins = ins == 0 && outs == 1 && all_sources;
    !between && !begins
}

fn chains(chart: &Chart, graph: &Graph, net: Flows, bars: &BTreeSet<usize>) -> Vec<Chain> {
    let starts = graph.edges.iter().enumerate().filter(|(_, edge)| chart.nodes[edge.from].flows == net);
    let begins = |node: usize| bars.contains(&node) || graph.edges.iter().all(|edge| edge.to != node);
    let chain = |(first, edge): (usize, &Edge)| {
        let (mut edges, mut to) = (vec![first], edge.to);
        while !bars.contains(&to) {
            let Some(next) = graph.edges.iter().position(|edge| edge.from == to) else { break };
            if edges.contains(&next) {
                break;
            }
            edges.push(next);
            to = graph.edges[next].to;
        }
        Chain { from: edge.from, edges, to }
    };
    starts.filter(|(_, edge)| begins(edge.from)).map(chain).collect()
}

/// Bars that no other bar feeds, then one of each ring.
fn roots(bars: &BTreeSet<usize>, chains: &[Chain]) -> Vec<usize> {
    let fed = |bar: usize| chains.iter().any(|chain| chain.to == bar && bars.contains(&chain.from));
    let mut roots: Vec<usize> = bars.iter().copied().filter(|&bar| !fed(bar)).collect();
    // The bar with most on it stands first.
    let count = |bar: &usize| chains.iter().filter(|chain| chain.from == *bar || chain.to == *bar).count();
    roots.sort_by_key(|bar| (std::cmp::Reverse(count(bar)), *bar));
    let mut reached = BTreeSet::new();
    for &root in &roots {
        reach(root, chains, &mut reached);
    }
    while let Some(&left) = bars.iter().find(|bar| !reached.contains(*bar)) {
        roots.push(left);
        reach(left, chains, &mut reached);
    }
    roots
}

fn reach(bar: usize, chains: &[Chain], reached: &mut BTreeSet<usize>) {
    if reached.insert(bar) {
        for chain in chains.iter().filter(|chain| chain.from == bar) {
            reach(chain.to, chains, reached);
        }
    }
}

struct Drawing<'d> {
    boards: &'d Boards,
    chart: &'d Chart,
    graph: &'d Graph,
    drawn: BTreeSet<usize>,
}

impl Drawing<'_> {
    /// A bar with all on it; `fed_from`: the bar above, `before`: what stands before its lines.
    fn bar(&mut self, pen: &mut Pen<'_>, bar: usize, fed_from: Option<usize>, before: &str) {
        self.drawn.insert(bar);
        self.head(pen, bar, before);
        let boards = self.boards;
        let sources =
            boards.chains.iter().filter(|chain| chain.to == bar && !boards.bars.contains(&chain.from));
        for chain in sources {
            let pieces = self.source(pen, chain.from).into_iter().chain(self.switches(pen, chain));
            self.branch(pen, before, "├◀─ ", pieces.collect());
        }
        for source in self.source(pen, bar) {
            self.branch(pen, before, "├◀─ ", vec![source]);
        }
        let others = boards.chains.iter().filter(|chain| {
            chain.to == bar && boards.bars.contains(&chain.from) && Some(chain.from) != fed_from
        });
        for chain in others {
            let from = Piece::new(format!("from {} ", self.chart.nodes[chain.from].name), Ink::Plain);
            let pieces = std::iter::once(from).chain(self.switches(pen, chain));
            self.branch(pen, before, "├◀─ ", pieces.collect());
        }
        self.consumers(pen, bar, before, false);
        self.consumers(pen, bar, before, true);
        let feeders: Vec<&Chain> = boards.chains.iter().filter(|chain| chain.from == bar).collect();
        for (i, chain) in feeders.iter().enumerate() {
            let last = i + 1 == feeders.len();
            self.feeder(pen, chain, bar, before, last);
        }
    }

    fn feeder(&mut self, pen: &mut Pen<'_>, chain: &Chain, bar: usize, before: &str, last: bool) {
        let (corner, below) = if last { ("└─▶ ", "    ") } else { ("├─▶ ", "│   ") };
        let mut pieces: Vec<Piece> = self.switches(pen, chain);
        let nested = self.boards.bars.contains(&chain.to) && !self.drawn.contains(&chain.to);
        if !nested {
            pieces.push(Piece::new(format!("▸ {} ", self.chart.nodes[chain.to].name), Ink::Strong));
        }
        let next = Piece::new(format!("{before}{below}  "), Ink::Plain);
        pen.row(&Piece::new(format!("{before}{corner}"), Ink::Plain), &next, pieces);
        if nested {
            self.bar(pen, chain.to, Some(bar), &format!("{before}{below}"));
        }
    }

    fn branch(&self, pen: &mut Pen<'_>, before: &str, corner: &str, pieces: Vec<Piece>) {
        let next = Piece::new(format!("{before}│     "), Ink::Plain);
        pen.row(&Piece::new(format!("{before}{corner}"), Ink::Plain), &next, pieces);
    }

    fn head(&self, pen: &mut Pen<'_>, bar: usize, before: &str) {
        let node = &self.chart.nodes[bar];
        let volts = if node.voltage_v > 0.0 { format!(" {} V", node.voltage_v) } else { String::new() };
        let (words, ink) = match live(pen.model, self.chart, self.graph, bar) {
            Live::Shown(shown) => (format!("live {shown}"), Ink::Live),
            Live::Dead(shown) => (format!("dead {shown}"), Ink::Dead),
            Live::Fed(by) => (format!("live through {by}"), Ink::Live),
            Live::NotFed(why) => (format!("not fed: {why}"), Ink::Dead),
            Live::Unseen => ("not seen".to_owned(), Ink::Faint),
        };
        let head = Piece::new(before, Ink::Plain)
            .and("═══ ", ink)
            .and(format!("{}{volts}", node.name), Ink::Strong)
            .and(" ═══ ", ink)
            .and(format!("{words} "), ink);
        let rule = "═".repeat(pen.wide().saturating_sub(head.width()).min(24));
        pen.row(&head.and(rule, ink), &Piece::default(), []);
    }

    /// What makes power at a node.
    fn source(&self, pen: &Pen<'_>, node: usize) -> Vec<Piece> {
        let here = self.graph.at(node).filter(|at| self.port_is(at.component, at.port, &SOURCES));
        let mut pieces: Vec<Piece> = here
            .map(|at| {
                self.item(
                    pen,
                    at.component,
                    None,
                    &pen.state(at.component),
                    &["voltage", "frequency", "power"],
                )
            })
            .collect();
        if pieces.is_empty() && !self.boards.bars.contains(&node) {
            pieces.push(Piece::new(format!("• {} ", self.chart.nodes[node].name), Ink::Strong));
        }
        pieces
    }

    fn port_is(&self, component: usize, port: usize, names: &[&str]) -> bool {
        names.contains(&self.chart.kind(component).ports[port].0.as_str())
    }

    fn switches(&self, pen: &Pen<'_>, chain: &Chain) -> Vec<Piece> {
        let piece = |&edge: &usize| {
            let edge = &self.graph.edges[edge];
            let several =
                self.graph.edges.iter().filter(|other| other.component == edge.component).count() > 1;
            let leg = several.then(|| self.chart.kind(edge.component).ports[edge.ports.0].0.as_str());
            let state = way_state(pen.model, self.chart, self.graph, edge);
            // Of a change-over the readings are those of the way that is closed.
            let readings: &[&str] = match (several, state.shape) {
                (true, Shape::Broken) => &[],
                _ if self.boards.bars.contains(&chain.from) => &["current", "power"],
                _ => &["power", "current"],
            };
            self.item(pen, edge.component, leg, &state, readings)
        };
        chain.edges.iter().map(piece).collect()
    }

    /// Shape, label, word and readings.
    fn item(
        &self,
        pen: &Pen<'_>,
        component: usize,
        leg: Option<&str>,
        state: &StateNow,
        readings: &[&str],
    ) -> Piece {
        let mut label = self.boards.labels[&component].clone();
        if let Some(leg) = leg {
            label = format!("{label}·{leg}");
        }
        let mut piece = cell(pen, component, &label, state);
        if state.shape == Shape::Unseen {
            piece = piece.and(" not seen", Ink::Faint);
        }
        let name = &self.chart.components[component].name;
        let seen = readings.iter().filter_map(|reading| pen.model.reading(name, reading));
        for text in seen.take(if pen.roomy() { 3 } else { 1 }) {
            piece = piece.and(format!(" {text}"), Ink::Strong);
        }
        piece.and("  ", Ink::Plain)
    }

    /// What hangs on a bar, several to a line.
    fn consumers(&self, pen: &mut Pen<'_>, bar: usize, before: &str, measures: bool) {
        let here = self.graph.at(bar).filter(|at| {
            !self.port_is(at.component, at.port, &SOURCES)
                && self.port_is(at.component, at.port, &MEASURES) == measures
        });
        let cells: Vec<Piece> = here
            .map(|at| {
                let label = &self.boards.labels[&at.component];
                let piece = cell(pen, at.component, label, &pen.state(at.component));
                let name = &self.chart.components[at.component].name;
                let shown = ["power", "current"].iter().find_map(|reading| pen.model.reading(name, reading));
                let shown = shown.filter(|_| pen.roomy() && !measures);
                shown.map_or(piece.clone(), |text| piece.and(format!(" {text}"), Ink::Strong))
            })
            .collect();
        let first = Piece::new(format!("{before}│ "), Ink::Plain);
        let room = pen.wide().saturating_sub(first.width());
        let columns = columns(&cells, room);
        for row in cells.chunks(columns.len().max(1)) {
            let spread = row.iter().enumerate().map(|(i, cell)| {
                let gap = if i + 1 == row.len() { 0 } else { columns[i].saturating_sub(cell.width()) };
                cell.clone().and(" ".repeat(gap), Ink::Plain)
            });
            pen.row(&first, &first, spread);
        }
    }
}

/// Widths of as many columns as fit.
fn columns(cells: &[Piece], room: usize) -> Vec<usize> {
    let of = |count: usize| -> Vec<usize> {
        let wide = |column: usize| cells.iter().skip(column).step_by(count).map(Piece::width).max();
        (0..count).map(|column| wide(column).unwrap_or(0) + BETWEEN).collect()
    };
    let fits = |widths: &Vec<usize>| widths.iter().sum::<usize>() <= room + BETWEEN;
    (1..=cells.len()).rev().map(of).find(fits).unwrap_or_else(|| vec![room])
}

/// Sign, label and word of a component on a board.
fn cell(pen: &Pen<'_>, component: usize, label: &str, state: &StateNow) -> Piece {
    let (ink, word) = match state.shape {
        Shape::Latched => (Ink::Alarm, state.word.as_str()),
        Shape::Unseen | Shape::Value => (Ink::Faint, ""),
        Shape::Made | Shape::On | Shape::Open => (Ink::Live, state.word.as_str()),
        _ => (Ink::Dead, state.word.as_str()),
    };
    let sign = match state.shape {
        Shape::Unseen => "? ".to_owned(),
        shape => format!("{} ", shape.sign().trim_end()),
    };
    let piece = Piece::new(sign, ink).then(pen.label(component, label, state));
    if word.is_empty() { piece } else { piece.and(format!(" {word}"), ink) }
}
