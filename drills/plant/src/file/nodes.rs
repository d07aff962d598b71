//! Nodes: where ports of components meet.

use super::names::{Names, check_word};
use super::toml_reader::{At, Problems, Reader, Spot};
use crate::kind::{Medium, Net};
use crate::spec::NodeSpec;
use crate::unit::Dimension;

/// A node as read.
pub(super) struct Node {
    pub spec: NodeSpec,
    pub spot: Spot,
    /// False when its net could not be read: nothing can be said about what is joined to it.
    pub sound: bool,
    /// The author says that nothing flows through it.
    pub dead_end: bool,
}

/// What the key `net` takes, and what it means.
const NETS: [(&str, Net, Option<Medium>); 9] = [
    ("sea water", Net::Liquid, Some(Medium::SeaWater)),
    ("fresh water", Net::Liquid, Some(Medium::FreshWater)),
    ("fuel", Net::Liquid, Some(Medium::Fuel)),
    ("lube oil", Net::Liquid, Some(Medium::LubeOil)),
    ("air", Net::Air, None),
    ("shaft", Net::Shaft, None),
    ("ac", Net::Ac, None),
    ("dc", Net::Dc, None),
    ("space", Net::Space, None),
];

/// The direct-current node of this name, which feeds the alarm system.
pub(super) fn alarm_supply(problems: &Problems, nodes: &[Node], name: &At<String>) -> Option<usize> {
    let found = nodes.iter().position(|node| node.spec.name == name.value);
    match found {
        Some(index) if nodes[index].spec.net == Net::Dc || !nodes[index].sound => return found,
        Some(_) => {
            let message =
                format!("`{}` is not of net dc: the alarm system lives on direct current", name.value);
            problems.report(name.spot, message);
        }
        None => {
            let known =
                nodes.iter().filter(|node| node.spec.net == Net::Dc).map(|node| node.spec.name.as_str());
            let message = format!("there is no node `{}`", name.value);
            problems.unknown(name.spot, message, &name.value, known);
        }
    }
    None
}

/// The word for a net and medium, as in files.
pub(super) fn net_word(net: Net, medium: Option<Medium>) -> &'static str {
    let found = NETS.iter().find(|(_, of, with)| *of == net && (medium.is_none() || *with == medium));
    match (found, net, medium) {
        (_, Net::Liquid, None) | (None, ..) => "liquid",
        (Some((word, ..)), ..) => word,
    }
}

/// All nodes in order of name.
pub(super) fn read_nodes(problems: &Problems, tables: &[Reader<'_>]) -> Vec<Node> {
    let mut names = Names::of("node");
    let mut nodes = Vec::new();
    for table in tables {
        let own = read_names(problems, table, &mut names);
        let (sound, spec, dead_end) = read_make(table);
        for name in own {
            let spec = NodeSpec { name: name.value, pos: name.spot.pos, ..spec.clone() };
            nodes.push(Node { spec, spot: name.spot, sound, dead_end });
        }
        table.finish();
    }
    nodes.sort_by(|a: &Node, b: &Node| a.spec.name.cmp(&b.spec.name));
    nodes
}

/// The node of this name.
pub(super) fn find_node(nodes: &[Node], name: &str) -> Option<usize> {
    nodes.binary_search_by(|node| node.spec.name.as_str().cmp(name)).ok()
}

/// `name` or `names`.
fn read_names(problems: &Problems, table: &Reader<'_>, names: &mut Names) -> Vec<At<String>> {
    let one = table.get("name");
    let many = table.get("names");
    let written = match (one, many) {
        (Some(one), None) => one.text().map(|name| vec![name]),
        (None, Some(many)) => many.texts(),
        (Some(_), Some(many)) => {
            problems.report(many.spot(), "a node table has `name` or `names`, not both");
            None
        }
        (None, None) => {
            problems.report(table.spot(), "a node needs `name`, or `names` for several of the same make");
            None
        }
    };
    let written = written.unwrap_or_default();
    for name in &written {
        check_word(problems, name);
    }
    written.into_iter().filter(|name| names.claim(problems, name)).collect()
}

/// What all nodes of one table have in common: only keys of their net are known.
fn read_make(table: &Reader<'_>) -> (bool, NodeSpec, bool) {
    const MOST: f64 = f64::INFINITY;
    let words = NETS.map(|(word, ..)| word);
    let net = table.need("net").and_then(|field| field.choice(&words)).map(|word| NETS[word.value]);
    let take = |key, dimension, min, max, otherwise| {
        table
            .get(key)
            .and_then(|field| field.quantity_within(dimension, min, max))
            .map_or(otherwise, |at| at.value)
    };
    let volume = |otherwise| take("volume", Dimension::Volume, 1e-6, MOST, otherwise);
    let height = || take("height", Dimension::Length, -20.0, 100.0, 0.0);
    let dead_end = || table.get("dead-end").and_then(|field| field.flag()).is_some_and(|at| at.value);
    let mut spec = NodeSpec {
        name: String::new(),
        net: Net::Liquid,
        medium: None,
        volume_m3: 0.0,
        heavy_share: 0.0,
        metal_j_k: 0.0,
        height_m: 0.0,
        inertia_kg_m2: 0.0,
        voltage_v: 0.0,
        frequency_hz: 0.0,
        pos: table.spot().pos,
    };
    let Some((_, net, medium)) = net else {
        // Which keys belong cannot be told.
        table.also_known([
            "volume",
            "metal",
            "height",
            "inertia",
            "voltage",
            "frequency",
            "dead-end",
            "heavy-share",
        ]);
        return (false, spec, false);
    };
    (spec.net, spec.medium) = (net, medium);
    let mut ends = false;
    match net {
        Net::Liquid => {
            spec.volume_m3 = volume(0.02);
            spec.metal_j_k = take("metal", Dimension::HeatCapacity, 0.0, MOST, 0.0);
            spec.height_m = height();
            if medium == Some(Medium::Fuel) {
                spec.heavy_share = take("heavy-share", Dimension::Ratio, 0.0, 1.0, 0.0);
            }
            ends = dead_end();
        }
        Net::Air => {
            spec.volume_m3 = volume(0.005);
            spec.height_m = height();
            ends = dead_end();
        }
        Net::Shaft => spec.inertia_kg_m2 = take("inertia", Dimension::Inertia, 0.0, MOST, 0.0),
        Net::Ac => {
            spec.voltage_v = take("voltage", Dimension::Voltage, 1.0, 15_000.0, 440.0);
            spec.frequency_hz = take("frequency", Dimension::Frequency, 1.0, 1000.0, 60.0);
        }
        Net::Dc => spec.voltage_v = take("voltage", Dimension::Voltage, 1.0, 1500.0, 24.0),
        // What a room is like is said by the component that makes it.
        Net::Space => {}
    }
    (true, spec, ends)
}
