//! Piping as runs: from joint to joint, ordered so that one can follow it from where the medium comes.

use super::graph::Graph;
use deadship_run::view::{Chart, Flows};
use std::collections::{BTreeMap, BTreeSet};

/// What hangs together in a view.
#[derive(Clone, Debug)]
pub(super) struct Section {
    /// What is in it.
    pub(super) flows: Flows,
    /// Its nodes; ends that belong to another view are none of them.
    pub(super) own: BTreeSet<usize>,
    /// Joints and beginnings, in the order in which they are drawn.
    pub(super) blocks: Vec<Block>,
    /// Parts of runs through which all of the medium goes that goes through one of their components.
    pub(super) segments: Vec<Segment>,
}

/// A node with the runs that begin there.
#[derive(Clone, Debug)]
pub(super) struct Block {
    /// The node.
    pub(super) node: usize,
    /// Do several runs meet here?
    pub(super) joint: bool,
    /// Runs that begin here.
    pub(super) runs: Vec<Run>,
}

/// A run: components one after another.
#[derive(Clone, Debug)]
pub(super) struct Run {
    /// Indices of the graph's edges, each with that of its segment.
    pub(super) edges: Vec<(usize, usize)>,
}

/// A part of a run.
#[derive(Clone, Debug)]
pub(super) struct Segment {
    /// Indices of the graph's edges.
    pub(super) edges: Vec<usize>,
    /// Node at its beginning.
    pub(super) from: usize,
    /// Node at its end.
    pub(super) to: usize,
}

/// The sections of a view with these nodes, the largest first.
pub(super) fn sections(chart: &Chart, graph: &Graph, nodes: &BTreeSet<usize>) -> Vec<Section> {
    let mut left = nodes.clone();
    let mut sections = Vec::new();
    while let Some(&first) = left.first() {
        let own = together(graph, nodes, first);
        left.retain(|node| !own.contains(node));
        sections.push(Layout::new(chart, graph, own).section());
    }
    sections.sort_by_key(|section| std::cmp::Reverse(section.own.len()));
    sections
}

/// Nodes that can be reached from one without leaving the view.
fn together(graph: &Graph, nodes: &BTreeSet<usize>, first: usize) -> BTreeSet<usize> {
    let mut own = BTreeSet::from([first]);
    let mut queue = vec![first];
    while let Some(node) = queue.pop() {
        for edge in graph.edges.iter().filter(|edge| edge.from == node || edge.to == node) {
            let other = if edge.from == node { edge.to } else { edge.from };
            if nodes.contains(&other) && own.insert(other) {
                queue.push(other);
            }
        }
    }
    own
}

struct Layout<'g> {
    graph: &'g Graph,
    own: BTreeSet<usize>,
    flows: Flows,
    outs: BTreeMap<usize, Vec<usize>>,
    ins: BTreeMap<usize, Vec<usize>>,
    /// Nodes at which a pump draws.
    drawn_from: BTreeSet<usize>,
}

impl<'g> Layout<'g> {
    fn new(chart: &Chart, graph: &'g Graph, own: BTreeSet<usize>) -> Layout<'g> {
        let flows = own.first().map_or(Flows::FreshWater, |&node| chart.nodes[node].flows);
        let (mut outs, mut ins) = (BTreeMap::new(), BTreeMap::new());
        let mut drawn_from = BTreeSet::new();
        for (i, edge) in graph.edges.iter().enumerate() {
            if own.contains(&edge.from) || own.contains(&edge.to) {
                outs.entry(edge.from).or_insert_with(Vec::new).push(i);
                ins.entry(edge.to).or_insert_with(Vec::new).push(i);
                if chart.kind(edge.component).ports[edge.ports.0].0 == "suction" {
                    drawn_from.insert(edge.from);
                }
            }
        }
        Layout { graph, own, flows, outs, ins, drawn_from }
    }

    fn outs(&self, node: usize) -> &[usize] {
        self.outs.get(&node).map_or(&[], Vec::as_slice)
    }

    fn ins(&self, node: usize) -> usize {
        self.ins.get(&node).map_or(0, Vec::len)
    }

    /// Is it a place within a run: one way in, one way out?
    fn within(&self, node: usize) -> bool {
        self.own.contains(&node) && self.ins(node) == 1 && self.outs(node).len() == 1
    }

    fn section(self) -> Section {
        let mut segments = Vec::new();
        let blocks: Vec<Block> = self
            .order()
            .into_iter()
            .map(|node| Block {
                node,
                joint: self.own.contains(&node)
                    && !self.within(node)
                    && self.ins(node) + self.outs(node).len() > 1,
                runs: self.outs(node).iter().map(|&edge| self.run(node, edge, &mut segments)).collect(),
            })
            .collect();
        Section { flows: self.flows, own: self.own, blocks, segments }
    }

    /// Joints and beginnings in the order in which the medium comes to them.
    fn order(&self) -> Vec<usize> {
        let begins = |node: &usize| self.ins(*node) == 0 || !self.own.contains(node);
        let mut starts: Vec<usize> = self.outs.keys().copied().filter(begins).collect();
        // What the medium comes from stands before ends from which nothing comes by itself.
        starts.sort_by_key(|&node| (!self.graph.holds(node), node));
        let mut order = Vec::new();
        self.follow(starts, &mut order);
        while let Some(node) = self.forgotten(&order) {
            self.follow(vec![node], &mut order);
        }
        order
    }

    /// All beginnings first, then each joint before those that its runs lead to.
    fn follow(&self, starts: Vec<usize>, order: &mut Vec<usize>) {
        let fresh: Vec<usize> = starts.into_iter().filter(|node| !order.contains(node)).collect();
        order.extend(&fresh);
        let ends = |node: usize| self.outs(node).iter().map(move |&edge| self.end_of(node, edge));
        let mut stack: Vec<usize> = fresh.iter().rev().flat_map(|&node| ends(node).rev()).collect();
        while let Some(node) = stack.pop() {
            let is_end = !self.own.contains(&node) || (self.outs(node).is_empty() && self.ins(node) == 1);
            if !is_end && !order.contains(&node) {
                order.push(node);
                stack.extend(ends(node).rev());
            }
        }
    }

    /// Where a run ends that begins at a node with this edge.
    fn end_of(&self, start: usize, edge: usize) -> usize {
        let mut end = self.graph.edges[edge].to;
        while self.within(end) && end != start {
            end = self.graph.edges[self.outs(end)[0]].to;
        }
        end
    }

    /// A node that no block is and no run goes through: in a ring, or with nothing but what is attached.
    fn forgotten(&self, order: &[usize]) -> Option<usize> {
        let mut passed: BTreeSet<usize> = order.iter().copied().collect();
        for &node in order {
            for &edge in self.outs(node) {
                let mut end = self.graph.edges[edge].to;
                passed.insert(end);
                while self.within(end) && end != node {
                    end = self.graph.edges[self.outs(end)[0]].to;
                    passed.insert(end);
                }
            }
        }
        let left = self.own.iter().copied().filter(|node| !passed.contains(node));
        left.min_by_key(|&node| {
            (self.within(node), !self.drawn_from.contains(&node), !self.graph.holds(node), node)
        })
    }

    fn run(&self, start: usize, first: usize, segments: &mut Vec<Segment>) -> Run {
        let mut edges = Vec::new();
        let mut next = Some(first);
        let mut from = start;
        while let Some(edge) = next {
            let to = self.graph.edges[edge].to;
            let open = !edges.is_empty() && !self.graph.holds(from);
            match segments.last_mut().filter(|_| open) {
                Some(segment) => {
                    segment.edges.push(edge);
                    segment.to = to;
                }
                None => segments.push(Segment { edges: vec![edge], from, to }),
            }
            edges.push((edge, segments.len() - 1));
            next = (self.within(to) && to != start).then(|| self.outs(to)[0]);
            from = to;
        }
        Run { edges }
    }
}
