//! Temperatures of the liquid nodes: upwind advection with the solved flows, backward Euler, by circuit.
//!
//! `C dT/dt = sum over inflows of m cp (T_stream - T) + P`, where a stream arrives with the temperature of the node
//! it left plus the heat it took up on its branch. The sum runs over inflows only, which is the right form for tanks
//! whose content changes as well. Backward Euler keeps it monotone for any step. Exact conservation: what leaves a
//! node by a branch enters the next.

use super::elimination::Pattern;
use super::liquid::LiquidNet;
use crate::fluid::lube_oil_viscosity_m2_s;
use crate::kind::Medium;

/// Specific heat of each medium, J/(kg K): constants in the middle of their ranges (fresh water 4,185 within 0.7 %
/// between 5 and 98 degC by IAPWS-IF97; sea water 3,993 within 0.5 % by TEOS-10; oil and fuel typical, from memory).
pub const fn specific_heat(medium: Medium) -> f64 {
    match medium {
        Medium::SeaWater => 3993.0,
        Medium::FreshWater => 4185.0,
        Medium::Fuel => 1950.0,
        Medium::LubeOil => 2000.0,
    }
}

/// Density of each medium, kg/m3: sea water S = 35 at 25 degC is 1,023.3 (TEOS-10), fresh water about 60 degC 983;
/// the net takes one value for a circuit.
pub const fn density(medium: Medium) -> f64 {
    match medium {
        Medium::SeaWater => 1024.0,
        Medium::FreshWater => 985.0,
        Medium::Fuel => 850.0,
        Medium::LubeOil => 865.0,
    }
}

/// A flow below this carries no heat that matters, kg/s.
const STILL_KG_S: f64 = 1e-6;

/// Temperatures.
#[derive(Clone, Debug)]
pub struct HeatNet {
    /// Temperature of each liquid node, K.
    pub temperature_k: Vec<f64>,
    /// Heat capacity of each node, J/K. Tanks set theirs; an infinite one keeps its temperature.
    pub capacity_j_k: Vec<f64>,
    /// Heat put into each node, W (reset at the beginning of each heat step).
    pub heat_w: Vec<f64>,
    /// Specific heat of each node's liquid, J/(kg K).
    pub specific_heat_j_kg_k: Vec<f64>,
    /// Kinematic viscosity of each node's oil, m2/s: follows from its temperature after each step. Zero for other media.
    pub viscosity_m2_s: Vec<f64>,
    oil_nodes: Vec<usize>,
    /// Temperature for which the viscosity of each of them was worked out.
    viscosity_of_k: Vec<f64>,
    /// Nodes of each circuit in the order of elimination, and its pattern.
    groups: Vec<(Vec<usize>, Pattern)>,
    place: Vec<usize>,
    fixed: Vec<bool>,
    matrix: Vec<f64>,
    right: Vec<f64>,
}

impl HeatNet {
    /// Makes a net for the same nodes as the liquid net. `fixed` nodes (tanks, the sea) are stepped on their own.
    pub fn new(
        liquid: &LiquidNet,
        capacity_j_k: Vec<f64>,
        media: &[Medium],
        fixed: Vec<bool>,
        start_k: f64,
    ) -> Self {
        let n = capacity_j_k.len();
        let groups = liquid.circuit_patterns();
        let largest = groups.iter().map(|(nodes, _)| nodes.len()).max().unwrap_or(0);
        let slots = groups.iter().map(|(_, pattern)| pattern.slots()).max().unwrap_or(0);
        let mut place = vec![usize::MAX; n];
        for (nodes, _) in &groups {
            for (i, &node) in nodes.iter().enumerate() {
                place[node] = i;
            }
        }
        let oil_nodes: Vec<usize> = (0..n).filter(|&i| media[i] == Medium::LubeOil).collect();
        let mut net = HeatNet {
            viscosity_m2_s: vec![0.0; n],
            viscosity_of_k: vec![f64::NAN; oil_nodes.len()],
            oil_nodes,
            temperature_k: vec![start_k; n],
            capacity_j_k,
            heat_w: vec![0.0; n],
            specific_heat_j_kg_k: media.iter().map(|&m| specific_heat(m)).collect(),
            groups,
            place,
            fixed,
            matrix: vec![0.0; slots],
            right: vec![0.0; largest],
        };
        net.refresh();
        net
    }

    /// Works out what follows from temperatures (after these were set from elsewhere, and after each step).
    pub fn refresh(&mut self) {
        for (&node, of_k) in self.oil_nodes.iter().zip(&mut self.viscosity_of_k) {
            let t_k = self.temperature_k[node];
            if *of_k != t_k {
                *of_k = t_k;
                self.viscosity_m2_s[node] = lube_oil_viscosity_m2_s(t_k);
            }
        }
    }

    /// Heat capacity rate of a branch, W/K (always positive).
    pub fn capacity_rate_w_k(&self, liquid: &LiquidNet, branch: usize) -> f64 {
        let b = &liquid.branches[branch];
        liquid.flow_m3_s[branch].abs() * liquid.density_kg_m3[b.from] * self.specific_heat_j_kg_k[b.from]
    }

    /// Temperature of the node that a branch's stream comes from, K.
    pub fn upstream_k(&self, liquid: &LiquidNet, branch: usize) -> f64 {
        let b = &liquid.branches[branch];
        self.temperature_k[if liquid.flow_m3_s[branch] >= 0.0 { b.from } else { b.to }]
    }

    /// Temperature with which a branch's stream arrives, K.
    pub fn delivered_k(&self, liquid: &LiquidNet, branch: usize) -> f64 {
        let rate = self.capacity_rate_w_k(liquid, branch);
        let upstream = self.upstream_k(liquid, branch);
        if rate < 1.0 { upstream } else { upstream + liquid.branches[branch].heat_w / rate }
    }

    /// Advances all temperatures by `dt_s` with the flows of the liquid net.
    pub fn step(&mut self, liquid: &LiquidNet, dt_s: f64) {
        for g in 0..self.groups.len() {
            self.step_circuit(liquid, g, dt_s);
        }
        self.step_fixed(liquid, dt_s);
        self.refresh();
    }

    fn step_circuit(&mut self, liquid: &LiquidNet, g: usize, dt_s: f64) {
        let (nodes, pattern) = &self.groups[g];
        let n = nodes.len();
        pattern.clear(&mut self.matrix);
        for (i, &node) in nodes.iter().enumerate() {
            let rate = self.capacity_j_k[node] / dt_s;
            self.matrix[i] = rate;
            self.right[i] = rate * self.temperature_k[node] + self.heat_w[node];
        }
        for (b, (first, second)) in liquid.circuit_branches(g) {
            let branch = &liquid.branches[b];
            let flow = liquid.flow_m3_s[b];
            let (up, down, slot) =
                if flow >= 0.0 { (branch.from, branch.to, second) } else { (branch.to, branch.from, first) };
            if self.fixed[down] {
                continue;
            }
            let rate = flow.abs() * liquid.density_kg_m3[up] * self.specific_heat_j_kg_k[up];
            let i = self.place[down];
            if rate > STILL_KG_S * self.specific_heat_j_kg_k[up] {
                self.matrix[i] += rate;
                self.right[i] += branch.heat_w;
                if self.fixed[up] {
                    self.right[i] += rate * self.temperature_k[up];
                } else {
                    self.matrix[slot] -= rate;
                }
            } else {
                self.right[i] += branch.heat_w;
            }
        }
        pattern.solve(&mut self.matrix, &mut self.right[..n]);
        for (i, &node) in nodes.iter().enumerate() {
            self.temperature_k[node] = self.right[i];
        }
    }

    /// Tanks and the sea: explicit, their content is large against what flows in a step.
    fn step_fixed(&mut self, liquid: &LiquidNet, dt_s: f64) {
        for node in 0..self.temperature_k.len() {
            if self.fixed[node] && self.capacity_j_k[node].is_finite() {
                let capacity = self.capacity_j_k[node].max(1.0);
                self.temperature_k[node] += dt_s * self.heat_w[node] / capacity;
            }
        }
        for (b, branch) in liquid.branches.iter().enumerate() {
            let flow = liquid.flow_m3_s[b];
            let (up, down) = if flow >= 0.0 { (branch.from, branch.to) } else { (branch.to, branch.from) };
            if !self.fixed[down] || !self.capacity_j_k[down].is_finite() {
                continue;
            }
            let rate = flow.abs() * liquid.density_kg_m3[up] * self.specific_heat_j_kg_k[up];
            let capacity = self.capacity_j_k[down].max(1.0) + dt_s * rate;
            let gain = rate * (self.temperature_k[up] - self.temperature_k[down]) + branch.heat_w;
            self.temperature_k[down] += dt_s * gain / capacity;
        }
    }
}

/// Effectiveness of a counterflow exchanger by number of transfer units (Incropera, table 11.3).
pub fn counterflow_effectiveness(ua_w_k: f64, rate_a_w_k: f64, rate_b_w_k: f64) -> f64 {
    let (low, high) =
        if rate_a_w_k < rate_b_w_k { (rate_a_w_k, rate_b_w_k) } else { (rate_b_w_k, rate_a_w_k) };
    if low < 1.0 {
        return 0.0;
    }
    let ntu = ua_w_k / low;
    let ratio = low / high;
    if (1.0 - ratio).abs() < 1e-4 {
        return ntu / (1.0 + ntu);
    }
    let x = -libm::expm1(-ntu * (1.0 - ratio));
    x / (1.0 - ratio * (1.0 - x))
}
