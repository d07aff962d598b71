//! What the fuel in lines and tanks is: the share of heavy fuel in each node, carried along by the solved flows.
//!
//! `V dx/dt = sum over inflows of Q (x_from - x)`, upwind, backward Euler: shares stay between those that meet, and what
//! leaves a node enters the next. By volume: fuels mix without change of volume. The properties of each node's fuel
//! follow from its share and its temperature.

use super::heat::{HeatNet, density, specific_heat};
use super::liquid::LiquidNet;
use crate::fluid::{fuel_density_kg_m3, fuel_viscosity_m2_s};
use crate::kind::Medium;

/// Rounds after which an iteration that has not settled is left: lines hold far more than flows in a step, so three do.
const ROUNDS_MAX: usize = 40;
/// Change of a share that is none.
const SETTLED: f64 = 1e-13;

/// Shares of heavy fuel.
#[derive(Clone, Debug)]
pub struct BlendNet {
    /// Share of heavy fuel in each liquid node, 0 to 1; 0 in other media.
    pub heavy_share: Vec<f64>,
    /// What each node is filled with.
    pub media: Vec<Medium>,
    /// What went through each branch since the last step, m3.
    pub moved_m3: Vec<f64>,
    nodes: Vec<usize>,
    /// Temperature and share for which the properties of each of them were worked out.
    properties_of: Vec<(f64, f64)>,
    branches: Vec<usize>,
    start: Vec<f64>,
    inflow_m3: Vec<f64>,
    outflow_m3: Vec<f64>,
    heavy_m3: Vec<f64>,
}

impl BlendNet {
    /// For the nodes of the liquid net; `heavy_share` as found.
    pub fn new(liquid: &LiquidNet, media: &[Medium], heavy_share: Vec<f64>) -> BlendNet {
        let n = media.len();
        let nodes: Vec<usize> = (0..n).filter(|&node| media[node] == Medium::Fuel).collect();
        let is_fuel = |&b: &usize| media[liquid.branches[b].from] == Medium::Fuel;
        let moved_m3 = vec![0.0; liquid.branches.len()];
        let branches = (0..liquid.branches.len()).filter(is_fuel).collect();
        let zeros = vec![0.0; n];
        BlendNet {
            heavy_share,
            media: media.to_vec(),
            moved_m3,
            properties_of: vec![(f64::NAN, f64::NAN); nodes.len()],
            nodes,
            branches,
            start: zeros.clone(),
            inflow_m3: zeros.clone(),
            outflow_m3: zeros.clone(),
            heavy_m3: zeros,
        }
    }

    /// Content of a node, m3; what a tank holds is known to the heat net.
    fn content_m3(liquid: &LiquidNet, heat: &HeatNet, node: usize) -> f64 {
        if liquid.is_set(node) {
            heat.capacity_j_k[node] / (liquid.density_kg_m3[node] * heat.specific_heat_j_kg_k[node])
        } else {
            liquid.volume_m3(node)
        }
    }

    /// Adds up what a tick of `dt_s` moves: every tick, after the liquid net is solved.
    pub fn gather(&mut self, liquid: &LiquidNet, dt_s: f64) {
        for &b in &self.branches {
            self.moved_m3[b] += liquid.flow_m3_s[b] * dt_s;
        }
    }

    /// Advances all shares by what has been gathered.
    pub fn step(&mut self, liquid: &LiquidNet, heat: &HeatNet) {
        let first = self.nodes.first().map_or(0.0, |&node| self.heavy_share[node]);
        // One fuel everywhere: nothing mixes.
        if self.nodes.iter().any(|&node| self.heavy_share[node] != first) {
            self.start.copy_from_slice(&self.heavy_share);
            for _ in 0..ROUNDS_MAX {
                if self.round(liquid, heat) < SETTLED {
                    break;
                }
            }
        }
        self.moved_m3.fill(0.0);
    }

    /// Works every node out anew from its neighbours; returns the largest change.
    fn round(&mut self, liquid: &LiquidNet, heat: &HeatNet) -> f64 {
        for &node in &self.nodes {
            (self.inflow_m3[node], self.heavy_m3[node], self.outflow_m3[node]) = (0.0, 0.0, 0.0);
        }
        for &b in &self.branches {
            let (branch, moved_m3) = (&liquid.branches[b], self.moved_m3[b]);
            let (up, down) =
                if moved_m3 >= 0.0 { (branch.from, branch.to) } else { (branch.to, branch.from) };
            self.inflow_m3[down] += moved_m3.abs();
            self.outflow_m3[up] += moved_m3.abs();
            self.heavy_m3[down] += moved_m3.abs() * self.heavy_share[up];
        }
        let mut largest = 0.0_f64;
        for &node in &self.nodes {
            let now = Self::content_m3(liquid, heat, node);
            if !now.is_finite() || self.inflow_m3[node] <= 0.0 {
                continue;
            }
            // A tank is told after the flows of the step: what it held before is less what came in.
            let gained = if liquid.is_set(node) { self.inflow_m3[node] - self.outflow_m3[node] } else { 0.0 };
            let held = (now - gained).max(0.0);
            let share = (held * self.start[node] + self.heavy_m3[node]) / (held + self.inflow_m3[node]);
            largest = largest.max((share - self.heavy_share[node]).abs());
            self.heavy_share[node] = share.clamp(0.0, 1.0);
        }
        largest
    }

    /// Gives each node's fuel the properties of its share and temperature. Its heat per volume is left at one value, so
    /// that volume flows carry heat without loss.
    pub fn refresh(&mut self, liquid: &mut LiquidNet, heat: &mut HeatNet) {
        const HEAT_J_M3_K: f64 = density(Medium::Fuel) * specific_heat(Medium::Fuel);
        for (&node, of) in self.nodes.iter().zip(&mut self.properties_of) {
            let (t_k, heavy) = (heat.temperature_k[node], self.heavy_share[node]);
            if *of == (t_k, heavy) {
                continue;
            }
            *of = (t_k, heavy);
            let rho = fuel_density_kg_m3(t_k, heavy);
            liquid.density_kg_m3[node] = rho;
            heat.specific_heat_j_kg_k[node] = HEAT_J_M3_K / rho;
            heat.viscosity_m2_s[node] = fuel_viscosity_m2_s(t_k, heavy);
        }
    }
}
