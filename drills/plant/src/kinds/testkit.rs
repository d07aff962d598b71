//! Rigs for unit tests of kinds: a ship file as text, stepped, with readings by name.

use crate::kind::{Act, Block};
use crate::plant::Plant;
use crate::{TICK_S, ctx::Found};

/// A rig that runs.
pub struct Rig {
    /// The plant.
    pub plant: Plant,
    /// Codes of findings with the tick in which they were found: `component.code`.
    pub found: Vec<(u64, String)>,
    /// Square-law loads put on shafts: node, Nm s2.
    pub brakes: Vec<(usize, f64)>,
    /// Engines with a proportional governor: node, set speed rad/s, Nm per rad/s.
    pub governors: Vec<(usize, f64, f64)>,
}

impl Rig {
    /// Reads a rig from the tables after its head.
    pub fn new(tables: &str) -> Rig {
        Rig::read(&format!("format = 1\n[rig]\ntitle = \"rig\"\nabout = \"for a test\"\n{tables}"), None)
    }

    /// Reads a whole rig file.
    pub fn read(text: &str, start: Option<&str>) -> Rig {
        let files = [("rig.toml".to_string(), text.to_string())];
        let spec = match crate::file::read_ship(super::REGISTRY, &files) {
            Ok(spec) => spec,
            Err(problems) => panic!("{}", problems.iter().map(|p| format!("{p}\n")).collect::<String>()),
        };
        Rig {
            plant: Plant::new(spec, start).unwrap(),
            found: Vec::new(),
            brakes: Vec::new(),
            governors: Vec::new(),
        }
    }

    fn component(&self, name: &str) -> usize {
        self.plant.compiled.component(name).unwrap_or_else(|| panic!("no component {name}"))
    }

    /// One tick.
    pub fn tick(&mut self) {
        let compiled = std::sync::Arc::clone(&self.plant.compiled);
        for &(shaft, k) in &self.brakes {
            self.plant.nets.shaft.quadratic_nm_s2[shaft] = k;
        }
        for &(shaft, set, gain) in &self.governors {
            let w = self.plant.nets.shaft.speed_rad_s[shaft];
            let torque_nm = (gain * (set - w)).max(0.0);
            self.plant.nets.shaft.quadratic_nm_s2[shaft] = -torque_nm / (w * w).max(1.0);
        }
        for finding in self.plant.step().unwrap() {
            let text = match finding.what {
                Found::Kind(c, f) => {
                    let component = &compiled.spec.components[c];
                    format!("{}.{}", component.name, component.kind.findings[f].code)
                }
                other => format!("{other:?}"),
            };
            self.found.push((finding.tick, text));
        }
    }

    /// So long.
    pub fn run(&mut self, seconds: f64) {
        for _ in 0..(seconds / TICK_S).round() as u64 {
            self.tick();
        }
    }

    /// Runs until the condition holds; returns the time it took, s.
    pub fn until(&mut self, limit_s: f64, condition: impl Fn(&Rig) -> bool) -> f64 {
        let from = self.plant.tick;
        while !condition(self) {
            let passed_s = (self.plant.tick - from) as f64 * TICK_S;
            assert!(passed_s < limit_s, "not within {limit_s} s; found: {:?}", self.found);
            self.tick();
        }
        (self.plant.tick - from) as f64 * TICK_S
    }

    /// A reading by `component.reading`.
    pub fn value(&self, name: &str) -> f64 {
        let (component, reading) =
            self.plant.compiled.reading(name).unwrap_or_else(|| panic!("no reading {name}"));
        self.plant.reading(component, reading)
    }

    /// What stands in the way of an act by hand.
    pub fn blocks(&self, name: &str, index: usize, value: f64) -> Vec<Block> {
        self.plant.permit(self.component(name), Act { index, value, remote: false })
    }

    /// Codes of what stands in the way.
    pub fn codes(&self, name: &str, index: usize) -> Vec<&'static str> {
        self.blocks(name, index, 0.0).into_iter().map(|b| b.code).collect()
    }

    /// An act by hand that must be allowed.
    pub fn act(&mut self, name: &str, index: usize, value: f64) {
        let component = self.component(name);
        let act = Act { index, value, remote: false };
        let blocks = self.plant.permit(component, act);
        assert!(blocks.is_empty(), "{name} act {index}: {blocks:?}");
        self.plant.act(component, act);
    }

    /// A fault at once.
    pub fn fault(&mut self, name: &str, fault: &str, severity: f64) {
        let component = self.component(name);
        let kind = self.plant.compiled.spec.components[component].kind;
        let index = kind.faults.iter().position(|f| f.name == fault).unwrap();
        self.plant.set_fault(component, index, severity, 0.0);
    }

    /// Index of a node in its net.
    pub fn node(&self, name: &str) -> usize {
        let compiled = &self.plant.compiled;
        let at = compiled
            .spec
            .nodes
            .iter()
            .position(|n| n.name == name)
            .unwrap_or_else(|| panic!("no node {name}"));
        compiled.node_index[at]
    }

    /// Sets the speed of a shaft.
    pub fn spin(&mut self, shaft: &str, speed_rad_s: f64) {
        let node = self.node(shaft);
        self.plant.nets.shaft.speed_rad_s[node] = speed_rad_s;
    }

    /// Loads a shaft with a torque that goes with the square of speed.
    pub fn brake(&mut self, shaft: &str, torque_nm: f64, speed_rad_s: f64) {
        let node = self.node(shaft);
        self.brakes.retain(|&(at, _)| at != node);
        self.brakes.push((node, torque_nm / (speed_rad_s * speed_rad_s)));
    }

    /// Drives a shaft with a proportional governor: speed at no load and power at 4 % below.
    pub fn govern(&mut self, shaft: &str, set_rad_s: f64, power_w: f64) {
        let node = self.node(shaft);
        self.governors.retain(|&(at, _, _)| at != node);
        self.governors.push((node, set_rad_s, power_w / (0.04 * set_rad_s * set_rad_s)));
    }

    /// Voltage of an AC node, V.
    pub fn volts(&self, node: &str) -> f64 {
        self.plant.nets.ac.volts[self.node(node)]
    }

    /// Was this found?
    pub fn has_found(&self, what: &str) -> bool {
        self.found.iter().any(|(_, found)| found == what)
    }
}
