//! The systems of the ship as drawings made of letters: piping as runs, boards as a single-line diagram.
//!
//! All is laid out from the drawing that the server sends: which components a ship has and what joins them. Nothing here
//! knows a ship. What cannot be seen from where someone stands is drawn as not known.

mod boards;
mod flow;
mod graph;
mod labels;
mod layout;
mod legs;
mod live;
mod pen;
mod readings;
mod runs;
#[cfg(test)]
mod tests;

use super::colours::{Ink, Palette};
use super::model::Model;
use boards::Boards;
use deadship_run::view::{Chart, Flows};
use graph::{Graph, head, piped};
pub(crate) use pen::Drawn;
use pen::{Pen, Piece};
use runs::Runs;
use std::collections::BTreeSet;

/// Most nodes of one medium that are drawn in one view; with more, each machine has its own.
const MOST_NODES: usize = 22;

/// Media in the order in which they are listed.
const MEDIA: [(Flows, &str); 5] = [
    (Flows::SeaWater, "sea water"),
    (Flows::FreshWater, "fresh water"),
    (Flows::Fuel, "fuel"),
    (Flows::LubeOil, "lube oil"),
    (Flows::Air, "compressed air"),
];

/// The systems of a ship, laid out.
#[derive(Clone, Debug)]
pub(crate) struct Systems {
    graph: Graph,
    systems: Vec<System>,
}

#[derive(Clone, Debug)]
struct System {
    name: String,
    drawing: Drawing,
}

#[derive(Clone, Debug)]
enum Drawing {
    Runs(Runs),
    Boards(Boards),
}

impl Systems {
    /// Of a ship.
    pub(crate) fn new(chart: &Chart) -> Systems {
        let graph = Graph::new(chart);
        let mut systems = Vec::new();
        for (flows, word) in MEDIA {
            systems.extend(piping(chart, &graph, flows, word));
        }
        for (flows, word) in [(Flows::Ac, "boards"), (Flows::Dc, "direct current")] {
            if chart.nodes.iter().any(|node| node.flows == flows) {
                let drawing = Drawing::Boards(Boards::new(chart, &graph, flows));
                systems.push(System { name: word.to_owned(), drawing });
            }
        }
        Systems { graph, systems }
    }

    /// Their names, in the order of their indices.
    pub(crate) fn names(&self) -> impl Iterator<Item = &str> {
        self.systems.iter().map(|system| system.name.as_str())
    }

    /// The first system in which a component is drawn.
    pub(crate) fn with(&self, component: usize) -> Option<usize> {
        self.systems.iter().position(|system| match &system.drawing {
            Drawing::Runs(runs) => runs.shown().any(|shown| shown == component),
            Drawing::Boards(boards) => boards.shown().any(|shown| shown == component),
        })
    }

    /// The components of a system in the order in which they are drawn: for whoever goes from one to the next.
    pub(crate) fn order(&self, system: usize, model: &Model) -> Vec<usize> {
        self.draw(system, model, Palette::new(false), usize::from(u16::MAX), None)
            .map_or_else(Vec::new, |pen| pen.order)
    }

    /// A system drawn on lines of this width, each with the component that it is about.
    pub(crate) fn lines(
        &self,
        system: usize,
        model: &Model,
        palette: Palette,
        wide: usize,
        chosen: Option<usize>,
    ) -> Drawn {
        self.draw(system, model, palette, wide, chosen).map_or_else(Drawn::new, |pen| pen.drawn)
    }

    fn draw<'m>(
        &self,
        system: usize,
        model: &'m Model,
        palette: Palette,
        wide: usize,
        chosen: Option<usize>,
    ) -> Option<Pen<'m>> {
        let (system, chart) = (self.systems.get(system)?, model.chart.as_ref()?);
        let mut pen = Pen::new(model, palette, wide, chosen);
        let (prefix, legend) = match &system.drawing {
            Drawing::Runs(runs) => (&runs.prefix, PIPES.as_slice()),
            Drawing::Boards(boards) => (&boards.prefix, SWITCHES.as_slice()),
        };
        let title = Piece::new(format!("{}  ", system.name.to_uppercase()), Ink::Strong);
        let said = match prefix.as_str() {
            "" => String::new(),
            prefix => format!("{prefix}… without “{prefix}”  "),
        };
        let legend = legend.iter().map(|text| Piece::new(format!("{text}  "), Ink::Faint));
        pen.row(&title.and(said, Ink::Faint), &Piece::default(), legend);
        match &system.drawing {
            Drawing::Runs(runs) => runs.draw(&mut pen, chart, &self.graph),
            Drawing::Boards(boards) => boards.draw(&mut pen, chart, &self.graph),
        }
        Some(pen)
    }
}

/// What the signs of piping mean.
const PIPES: [&str; 8] = [
    "━▶ flows",
    "── no flow",
    "┄┄ not known",
    "▷◁ open",
    "▶◀ shut",
    "? not seen",
    "◆ joint",
    "◇ in another view",
];

/// What the signs of boards mean.
const SWITCHES: [&str; 6] = ["═══ bar", "◀─ feeds it", "─▶ is fed", "─■ closed", "─/ open", "? not seen"];

/// The views of one medium.
fn piping(chart: &Chart, graph: &Graph, flows: Flows, word: &str) -> Vec<System> {
    let nodes: BTreeSet<usize> =
        (0..chart.nodes.len()).filter(|&node| chart.nodes[node].flows == flows).collect();
    if nodes.is_empty() {
        return Vec::new();
    }
    if nodes.len() <= MOST_NODES {
        let drawing = Drawing::Runs(Runs::new(chart, graph, &nodes));
        return vec![System { name: word.to_owned(), drawing }];
    }
    let machines = machines(chart);
    let of = |machine: Option<&str>| -> BTreeSet<usize> {
        let owner = |node: &usize| {
            let head = head(&chart.nodes[*node].name);
            machines.get(head).copied()
        };
        nodes.iter().copied().filter(|node| owner(node) == machine).collect()
    };
    let mut views: Vec<System> = Vec::new();
    for machine in machines.iter().copied().map(Some).chain([None]) {
        let own = of(machine);
        if own.is_empty() {
            continue;
        }
        let runs = Runs::new(chart, graph, &own);
        let known = |component: usize| views.iter().any(|view| view.shows(component));
        // What machines share without a component of its own is seen in their views.
        if machine.is_none() && runs.shown().all(known) {
            continue;
        }
        let name = name(machine, word, &runs.circuits(chart));
        views.push(System { name, drawing: Drawing::Runs(runs) });
    }
    views
}

/// The name of a view: `dg1 fresh water: HT, LT`.
fn name(machine: Option<&str>, word: &str, circuits: &[String]) -> String {
    let Some(machine) = machine else { return format!("{word}, shared") };
    let own = circuits.iter().filter_map(|circuit| circuit.strip_prefix(machine)?.strip_prefix('.'));
    let mut own: Vec<String> = own.map(str::to_uppercase).collect();
    own.sort();
    if own.is_empty() { format!("{machine} {word}") } else { format!("{machine} {word}: {}", own.join(", ")) }
}

/// Machines: beginnings of names under which several media are.
fn machines(chart: &Chart) -> BTreeSet<&str> {
    let mut seen: BTreeSet<(&str, Flows)> = BTreeSet::new();
    for node in chart.nodes.iter().filter(|node| piped(node.flows) && node.name.contains('.')) {
        seen.insert((head(&node.name), node.flows));
    }
    let several = |head: &str| seen.iter().filter(|(known, _)| *known == head).count() > 1;
    seen.iter().map(|(head, _)| *head).filter(|head| several(head)).collect()
}

impl System {
    fn shows(&self, component: usize) -> bool {
        match &self.drawing {
            Drawing::Runs(runs) => runs.shown().any(|shown| shown == component),
            Drawing::Boards(boards) => boards.shown().any(|shown| shown == component),
        }
    }
}
