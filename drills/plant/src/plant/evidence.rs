//! What is told when a net cannot be solved: the worst node, what joins it, and what people did last.

use super::Plant;
use crate::TICK_S;
use crate::kind::Act;
use crate::nets::liquid::LiquidFailure;
use crate::unit::{Dimension, format_si};

/// How many acts are kept.
const KEPT: usize = 6;

/// The last acts, newest first. They are told with a failure and change nothing; a checkpoint holds them, so that a
/// run brought back tells the same.
#[derive(Clone, Debug, Default)]
pub(crate) struct LastActs {
    /// Tick, component and index of each as numbers; tick 0: none.
    acts: [[f64; 3]; KEPT],
}

impl LastActs {
    pub(super) fn note(&mut self, tick: u64, component: usize, act: Act) {
        self.acts.rotate_right(1);
        self.acts[0] = [(tick + 1) as f64, component as f64, act.index as f64];
    }

    pub(crate) fn visit(&mut self, mut each: impl FnMut(&mut f64)) {
        self.acts.iter_mut().flatten().for_each(&mut each);
    }
}

impl Plant {
    pub(super) fn liquid_evidence(&self, failure: LiquidFailure) -> String {
        let node = failure.node;
        let liquid = &self.nets.liquid;
        let mut said = vec![
            format!("imbalance of {:.3e} m3/s", failure.residual_m3_s),
            format!("pressure {}", format_si(liquid.pressure_pa[node], Dimension::Pressure)),
        ];
        let mut joined = Vec::new();
        for component in &self.compiled.wiring {
            for (index, _) in component.kind.liquid_branches.iter().enumerate() {
                let branch = component.liquid_branches + index;
                let ends = &liquid.branches[branch];
                if ends.from != node && ends.to != node {
                    continue;
                }
                let other = if ends.from == node { ends.to } else { ends.from };
                let sign = if ends.from == node { "to" } else { "from" };
                joined.push(format!(
                    "{} ({} {sign} `{}` at {})",
                    self.name(component.index),
                    format_si(liquid.flow_m3_s[branch], Dimension::Flow),
                    self.compiled.liquid_node_name(other),
                    format_si(liquid.pressure_pa[other], Dimension::Pressure),
                ));
            }
        }
        if !joined.is_empty() {
            said.push(format!("joined by {}", joined.join(", ")));
        }
        said.extend(self.acts_told());
        said.join("; ")
    }

    pub(super) fn air_evidence(&self, node: usize) -> String {
        let pressure = self.nets.air.pressure_pa(node) - self.nets.air.atmosphere_pa;
        let mut said = vec![
            "no air left to move".to_owned(),
            format!("pressure {}", format_si(pressure, Dimension::Pressure)),
        ];
        let on = self.compiled.wiring.iter().filter(|component| {
            let ports = component.kind.ports.iter().zip(&component.ports);
            ports.into_iter().any(|(def, at)| def.net == crate::kind::Net::Air && *at == node)
        });
        let names: Vec<&str> = on.map(|component| self.name(component.index)).collect();
        said.push(format!("joined by {}", names.join(", ")));
        said.extend(self.acts_told());
        said.join("; ")
    }

    pub(super) fn reading_evidence(&self, component: usize, reading: usize, value: f64) -> String {
        let owner = &self.compiled.spec.components[component];
        let mut said = vec![format!("reading '{}' is {value}", owner.kind.readings[reading].name)];
        let nodes = owner.ports.iter().flatten().map(|&node| self.compiled.spec.nodes[node].name.as_str());
        said.push(format!("it is on {}", nodes.collect::<Vec<_>>().join(", ")));
        said.extend(self.acts_told());
        said.join("; ")
    }

    fn name(&self, component: usize) -> &str {
        &self.compiled.spec.components[component].name
    }

    /// "last acts: open dg1.ht.valve 3 s before, …", newest first.
    fn acts_told(&self) -> Option<String> {
        let mut told = Vec::new();
        for [tick, component, index] in self.last_acts.acts {
            let Some(owner) = self.compiled.spec.components.get(component as usize).filter(|_| tick > 0.0)
            else {
                continue;
            };
            let def = &owner.kind.acts[index as usize];
            let setting = if def.setting.is_empty() { String::new() } else { format!(" {}", def.setting) };
            let ago_s = (self.tick as f64 + 1.0 - tick) * TICK_S;
            told.push(format!("{} {}{setting} {ago_s:.1} s before", def.verb.word(), owner.name));
        }
        (!told.is_empty()).then(|| format!("last acts: {}", told.join(", ")))
    }

    /// Makes a liquid node's pressure no number, as a fault of the model would: for tests of what is then told.
    /// False when there is no such node.
    #[doc(hidden)]
    pub fn spoil(&mut self, node: &str) -> bool {
        let found = (0..self.nets.liquid.pressure_pa.len())
            .find(|&index| self.compiled.liquid_node_name(index) == node);
        if let Some(index) = found {
            self.nets.liquid.pressure_pa[index] = f64::NAN;
        }
        found.is_some()
    }
}

#[cfg(test)]
mod tests {
    use crate::kinds::testkit::Rig;

    const RIG: &str = r#"
[[node]]
names = ["full", "middle", "empty"]
net = "fresh water"
[[tank]]
name = "tank"
liquid = "full"
capacity = "1 m3"
height = "1 m"
[[valve]]
name = "first"
inlet = "full"
outlet = "middle"
kv = "10 Kv"
[[valve]]
name = "second"
inlet = "middle"
outlet = "empty"
kv = "10 Kv"
[[opening]]
name = "bilge"
line = "empty"
"#;

    #[test]
    fn a_net_without_a_solution_tells_the_place_and_what_was_done() {
        let mut rig = Rig::new(RIG);
        rig.act("first", crate::kinds::valve::OPEN, 0.0);
        rig.run(3.0);
        assert!(rig.plant.spoil("middle") && !rig.plant.spoil("nowhere"));
        let failure = rig.plant.step().unwrap_err();
        assert_eq!((failure.net, failure.node.as_str(), failure.tick), ("liquid", "middle", 61));
        for part in
            ["joined by first (", "second (", "`full` at 0.00 bar", "last acts: open first 3.1 s before"]
        {
            assert!(failure.what.contains(part), "{part}: {failure}");
        }
    }
}
