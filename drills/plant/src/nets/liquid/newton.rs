//! The solve of a tick: damped Newton for each circuit, warm-started from the last.

use super::LiquidNet;
use super::branch::{Flow, LiquidBranch};

/// Newton steps before a solve is given up.
const ITERATIONS_MAX: usize = 60;
/// A solve has converged when no node gains or loses more than this, m3/s.
const RESIDUAL_M3_S: f64 = 1e-9;
/// A solve that ends above this has failed, m3/s.
const RESIDUAL_FAILED_M3_S: f64 = 1e-5;
/// Longest Newton step, Pa.
const STEP_PA: f64 = 2e5;

/// A solve that did not converge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LiquidFailure {
    /// Node with the largest imbalance.
    pub node: usize,
    /// That imbalance, m3/s.
    pub residual_m3_s: f64,
}

impl LiquidNet {
    /// Solves all circuits for one tick of `dt_s`.
    pub fn solve(&mut self, dt_s: f64) -> Result<(), LiquidFailure> {
        self.let_air_in(dt_s);
        self.find_what_is_left();
        let mut outcome = Ok(());
        for c in 0..self.circuits.len() {
            if let Err(failure) = self.solve_circuit(c, dt_s) {
                outcome = Err(failure);
            }
        }
        for i in 0..self.between_set.len() {
            let b = self.between_set[i];
            let branch = &self.branches[b];
            let (from, to) = (branch.from, branch.to);
            let by_law = &mut self.worked_out[b];
            by_law.follow(branch, self.pressure_pa[from] - self.pressure_pa[to]);
            self.flow_m3_s[b] = by_law.left(&self.left_share, branch).0;
        }
        outcome
    }

    fn solve_circuit(&mut self, c: usize, dt_s: f64) -> Result<(), LiquidFailure> {
        let n = self.circuits[c].nodes.len();
        let mut worst = self.imbalance_at_start(c);
        for iteration in 0..ITERATIONS_MAX {
            if worst.1 < RESIDUAL_M3_S {
                return Ok(());
            }
            self.assemble(c, dt_s);
            self.step_pa[..n].copy_from_slice(&self.residual[..n]);
            self.circuits[c].pattern.solve(&mut self.matrix, &mut self.step_pa[..n]);
            let longest = self.step_pa[..n].iter().fold(0.0, |a: f64, x| a.max(x.abs()));
            // Late steps are damped: non-return valves can make Newton hop between their two sides.
            let calm = if iteration < 20 { 1.0 } else { 0.5 };
            let mut scale = if longest > STEP_PA { calm * STEP_PA / longest } else { calm };
            let before = worst.1;
            self.shift(c, scale);
            worst = self.imbalance(c, dt_s);
            for _ in 0..4 {
                if worst.1 < before {
                    break;
                }
                self.shift(c, -0.5 * scale);
                scale *= 0.5;
                worst = self.imbalance(c, dt_s);
            }
        }
        if worst.1 > RESIDUAL_FAILED_M3_S {
            return Err(LiquidFailure { node: self.circuits[c].nodes[worst.0], residual_m3_s: worst.1 });
        }
        Ok(())
    }

    fn shift(&mut self, c: usize, scale: f64) {
        for (i, &node) in self.circuits[c].nodes.iter().enumerate() {
            self.pressure_pa[node] += scale * self.step_pa[i];
        }
    }

    /// What each node of the circuit gains at the pressures with which the tick begins, its content what it is; returns
    /// the worst place and its size.
    fn imbalance_at_start(&mut self, c: usize) -> (usize, f64) {
        for (i, &node) in self.circuits[c].nodes.iter().enumerate() {
            self.held_m3[i] = self.content_m3(node);
            self.residual[i] = self.source_m3_s[node];
        }
        self.add_flows(c, Flow::follow)
    }

    /// The same at the present pressures.
    fn imbalance(&mut self, c: usize, dt_s: f64) -> (usize, f64) {
        for (i, &node) in self.circuits[c].nodes.iter().enumerate() {
            let stored_m3 = self.content_m3(node) - self.held_m3[i];
            self.residual[i] = self.source_m3_s[node] - stored_m3 / dt_s;
        }
        self.add_flows(c, |by_law, _, driving_pa| by_law.follow_pressure(driving_pa))
    }

    /// Finds the flows of the circuit at the present pressures, with their slopes, and adds to `residual` what each node
    /// gains by them; returns the worst place and its size.
    fn add_flows(&mut self, c: usize, follow: impl Fn(&mut Flow, &LiquidBranch, f64)) -> (usize, f64) {
        let circuit = &self.circuits[c];
        let residual = &mut self.residual[..=circuit.nodes.len()];
        for link in &circuit.links {
            let branch = &self.branches[link.branch];
            let driving_pa = self.pressure_pa[branch.from] - self.pressure_pa[branch.to];
            let by_law = &mut self.worked_out[link.branch];
            follow(by_law, branch, driving_pa);
            let (q, slope) = by_law.left(&self.left_share, branch);
            self.flow_m3_s[link.branch] = q;
            self.slope_m3_s_pa[link.branch] = slope;
            residual[link.from] -= q;
            residual[link.to] += q;
        }
        let mut worst = (0, 0.0);
        for (i, r) in residual[..circuit.nodes.len()].iter().enumerate() {
            // A NaN must not look like a small number.
            if r.is_nan() || r.abs() > worst.1 {
                worst = (i, if r.is_nan() { f64::INFINITY } else { r.abs() });
            }
        }
        worst
    }

    /// Fills `matrix` with minus the Jacobian of the imbalance: symmetric, diagonally dominant, positive definite.
    fn assemble(&mut self, c: usize, dt_s: f64) {
        let circuit = &self.circuits[c];
        circuit.pattern.clear(&mut self.matrix);
        for (i, &node) in circuit.nodes.iter().enumerate() {
            self.matrix[i] = self.compliance_m3_pa(node) / dt_s;
        }
        let matrix = &mut self.matrix[..];
        for link in &circuit.links {
            let slope = self.slope_m3_s_pa[link.branch];
            matrix[link.from_own] += slope;
            matrix[link.to_own] += slope;
            matrix[link.back] -= slope;
            matrix[link.forth] -= slope;
        }
    }
}
