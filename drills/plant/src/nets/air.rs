//! The compressed-air net: receivers and lines, with flow by ISO 6358.
//!
//! Mass flow through a restriction of sonic conductance C and critical ratio b (ISO 6358-1):
//! `m = C rho0 p1 sqrt(T0/T1)` when choked (p2/p1 <= b), else times `sqrt(1 - ((p2/p1 - b)/(1 - b))^2)`.
//! Each node holds an ideal gas, `p V = m R T`; pressures of a tick are solved implicitly (lines are small and
//! conductances large), masses are then moved by exactly those flows, so mass is conserved; temperature follows
//! from the energy that the flows carry and from the wall.

use super::liquid::eliminate;

/// Gas constant of dry air, J/(kg K).
pub const R_AIR: f64 = 287.055;
/// Specific heat of air at constant volume, J/(kg K): R/(k-1) with k = 1.4.
pub const CV_AIR: f64 = R_AIR / 0.4;
/// Specific heat of air at constant pressure, J/(kg K).
pub const CP_AIR: f64 = 1.4 * CV_AIR;
/// Reference density of ISO 6358, kg/m3.
pub const RHO0: f64 = 1.185;
/// Reference temperature of ISO 6358, K.
pub const T0_K: f64 = 293.15;
/// Pressure ratio above which flow is taken as linear in the difference, so that its slope stays finite.
const LAMINAR_RATIO: f64 = 0.998;
/// Below this pressure difference nothing flows, Pa.
const STILL_PA: f64 = 1.0;
const ITERATIONS_MAX: usize = 20;

/// One air branch. `to = None` opens to the atmosphere.
#[derive(Clone, Copy, Debug)]
pub struct AirBranch {
    /// Node where positive flow enters.
    pub from: usize,
    /// Node where positive flow leaves; `None` is the atmosphere.
    pub to: Option<usize>,
    /// Sonic conductance, m3/(s Pa) of ISO 6358; 0 is shut.
    pub conductance_m3_s_pa: f64,
    /// Critical pressure ratio.
    pub critical_ratio: f64,
    /// A non-return valve.
    pub one_way: bool,
}

/// The net.
#[derive(Clone, Debug)]
pub struct AirNet {
    /// Mass in each node, kg.
    pub mass_kg: Vec<f64>,
    /// Temperature in each node, K.
    pub temperature_k: Vec<f64>,
    /// Volume of each node, m3.
    pub volume_m3: Vec<f64>,
    /// Heat conductance from the wall to the gas, W/K (set once by receivers; lines have none and stay at wall temperature).
    pub wall_w_k: Vec<f64>,
    /// Temperature of walls, K.
    pub wall_temperature_k: f64,
    /// Pressure of the atmosphere, Pa.
    pub atmosphere_pa: f64,
    /// Branches.
    pub branches: Vec<AirBranch>,
    /// Mass flow of each branch, kg/s.
    pub flow_kg_s: Vec<f64>,
    /// Air delivered into a node by a compressor, kg/s (reset each tick).
    pub source_kg_s: Vec<f64>,
    /// Temperature of that air, K.
    pub source_temperature_k: Vec<f64>,
    pressure_pa: Vec<f64>,
    trial_pa: Vec<f64>,
    matrix: Vec<f64>,
    step: Vec<f64>,
}

impl AirNet {
    /// Makes a net at atmospheric pressure. `ends` are the branches.
    pub fn new(
        volume_m3: Vec<f64>,
        atmosphere_pa: f64,
        temperature_k: f64,
        ends: &[(usize, Option<usize>)],
    ) -> Self {
        let n = volume_m3.len();
        let branches = ends
            .iter()
            .map(|&(from, to)| AirBranch {
                from,
                to,
                conductance_m3_s_pa: 0.0,
                critical_ratio: 0.5,
                one_way: false,
            })
            .collect::<Vec<_>>();
        let mut net = AirNet {
            mass_kg: volume_m3.iter().map(|v| atmosphere_pa * v / (R_AIR * temperature_k)).collect(),
            temperature_k: vec![temperature_k; n],
            wall_w_k: vec![0.0; n],
            wall_temperature_k: temperature_k,
            atmosphere_pa,
            flow_kg_s: vec![0.0; branches.len()],
            source_kg_s: vec![0.0; n],
            source_temperature_k: vec![temperature_k; n],
            pressure_pa: vec![atmosphere_pa; n],
            trial_pa: vec![0.0; n],
            matrix: vec![0.0; n * n],
            step: vec![0.0; n],
            volume_m3,
            branches,
        };
        net.refresh();
        net
    }

    /// Absolute pressure of a node, Pa.
    pub fn pressure_pa(&self, node: usize) -> f64 {
        self.pressure_pa[node]
    }

    /// Sets a node to an absolute pressure at its present temperature.
    pub fn set_pressure(&mut self, node: usize, pressure_pa: f64) {
        self.mass_kg[node] = pressure_pa * self.volume_m3[node] / (R_AIR * self.temperature_k[node]);
        self.refresh();
    }

    /// Recomputes pressures from mass and temperature (after these were loaded from elsewhere).
    pub fn refresh(&mut self) {
        for i in 0..self.mass_kg.len() {
            self.pressure_pa[i] = self.mass_kg[i] * R_AIR * self.temperature_k[i] / self.volume_m3[i];
        }
    }

    /// Advances the net by `dt_s`. Returns a node whose mass would have become negative, if any.
    pub fn step(&mut self, dt_s: f64) -> Result<(), usize> {
        if !self.anything_moves() {
            self.flow_kg_s.fill(0.0);
            self.warm(dt_s);
            self.refresh();
            return Ok(());
        }
        self.solve_pressures(dt_s);
        for b in 0..self.branches.len() {
            self.flow_kg_s[b] = self.branch_flow(b, true).0;
        }
        self.move_air(dt_s)?;
        self.warm(dt_s);
        self.refresh();
        Ok(())
    }

    fn anything_moves(&self) -> bool {
        let flows = self.branches.iter().any(|b| {
            let p2 = b.to.map_or(self.atmosphere_pa, |to| self.pressure_pa[to]);
            let d = self.pressure_pa[b.from] - p2;
            b.conductance_m3_s_pa > 0.0 && d.abs() > STILL_PA && !(b.one_way && d < 0.0)
        });
        flows || self.source_kg_s.iter().any(|s| *s != 0.0)
    }

    /// Flow of a branch at the trial (or old) pressures with its slopes by the pressure at `from` and at `to`.
    fn branch_flow(&self, b: usize, trial: bool) -> (f64, f64, f64) {
        let p = if trial { &self.trial_pa } else { &self.pressure_pa };
        let branch = &self.branches[b];
        let p_from = p[branch.from];
        let p_to = branch.to.map_or(self.atmosphere_pa, |to| p[to]);
        let t_to = branch.to.map_or(self.wall_temperature_k, |to| self.temperature_k[to]);
        if branch.conductance_m3_s_pa <= 0.0 || (branch.one_way && p_from < p_to) {
            return (0.0, 0.0, 0.0);
        }
        if p_from >= p_to {
            let (m, up, down) = iso6358(branch, p_from, p_to, self.temperature_k[branch.from]);
            (m, up, down)
        } else {
            let (m, up, down) = iso6358(branch, p_to, p_from, t_to);
            (-m, -down, -up)
        }
    }

    /// Newton on the node pressures at the end of the tick, temperatures held.
    fn solve_pressures(&mut self, dt_s: f64) {
        let n = self.mass_kg.len();
        self.trial_pa.copy_from_slice(&self.pressure_pa);
        for _ in 0..ITERATIONS_MAX {
            self.matrix.fill(0.0);
            for i in 0..n {
                let capacity = self.volume_m3[i] / (R_AIR * self.temperature_k[i] * dt_s);
                self.matrix[i * n + i] = capacity;
                self.step[i] = self.source_kg_s[i] - capacity * (self.trial_pa[i] - self.pressure_pa[i]);
            }
            for b in 0..self.branches.len() {
                let (m, by_from, by_to) = self.branch_flow(b, true);
                let i = self.branches[b].from;
                self.step[i] -= m;
                self.matrix[i * n + i] += by_from;
                if let Some(j) = self.branches[b].to {
                    self.step[j] += m;
                    self.matrix[i * n + j] += by_to;
                    self.matrix[j * n + i] -= by_from;
                    self.matrix[j * n + j] -= by_to;
                }
            }
            eliminate(&mut self.matrix, &mut self.step);
            let mut longest: f64 = 0.0;
            for i in 0..n {
                let step = self.step[i].clamp(-0.5 * self.trial_pa[i], 5e5);
                self.trial_pa[i] += step;
                longest = longest.max(step.abs());
            }
            if longest < 0.1 {
                break;
            }
        }
    }

    fn move_air(&mut self, dt_s: f64) -> Result<(), usize> {
        // Energy first, with the temperatures before the move: U = m cv T.
        let n = self.mass_kg.len();
        for i in 0..n {
            self.step[i] = self.mass_kg[i] * CV_AIR * self.temperature_k[i]
                + dt_s * self.source_kg_s[i] * CP_AIR * self.source_temperature_k[i];
            self.mass_kg[i] += dt_s * self.source_kg_s[i];
        }
        for b in 0..self.branches.len() {
            let branch = self.branches[b];
            let m = self.flow_kg_s[b] * dt_s;
            let upstream_k = match (m >= 0.0, branch.to) {
                (true, _) => self.temperature_k[branch.from],
                (false, Some(to)) => self.temperature_k[to],
                (false, None) => self.wall_temperature_k,
            };
            let energy = m * CP_AIR * upstream_k;
            self.mass_kg[branch.from] -= m;
            self.step[branch.from] -= energy;
            if let Some(to) = branch.to {
                self.mass_kg[to] += m;
                self.step[to] += energy;
            }
        }
        for i in 0..n {
            if self.mass_kg[i].is_nan() || self.mass_kg[i] <= 0.0 {
                return Err(i);
            }
            if self.wall_w_k[i] > 0.0 {
                self.temperature_k[i] = self.step[i] / (self.mass_kg[i] * CV_AIR);
            }
        }
        Ok(())
    }

    /// Heat from the walls, implicit; nodes without a wall conductance are lines and keep the wall's temperature.
    fn warm(&mut self, dt_s: f64) {
        for i in 0..self.mass_kg.len() {
            if self.wall_w_k[i] > 0.0 {
                let ratio = dt_s * self.wall_w_k[i] / (self.mass_kg[i] * CV_AIR);
                self.temperature_k[i] =
                    (self.temperature_k[i] + ratio * self.wall_temperature_k) / (1.0 + ratio);
            } else {
                self.temperature_k[i] = self.wall_temperature_k;
            }
        }
    }
}

/// ISO 6358 flow from `p1` (upstream, higher) to `p2`, with slopes by both.
fn iso6358(branch: &AirBranch, p1: f64, p2: f64, t1: f64) -> (f64, f64, f64) {
    let k = branch.conductance_m3_s_pa * RHO0 * libm::sqrt(T0_K / t1);
    let b = branch.critical_ratio;
    let r = p2 / p1;
    if r <= b {
        return (k * p1, k, 0.0);
    }
    if r > LAMINAR_RATIO {
        // Straight line to zero at r = 1, joined where the ellipse has reached the laminar ratio.
        let x = (LAMINAR_RATIO - b) / (1.0 - b);
        let edge = libm::sqrt(1.0 - x * x) / (1.0 - LAMINAR_RATIO);
        return (k * edge * (p1 - p2), k * edge, -k * edge);
    }
    let x = (r - b) / (1.0 - b);
    let f = libm::sqrt(1.0 - x * x);
    let df_dr = -x / (f * (1.0 - b));
    (k * p1 * f, k * (f - r * df_dr), k * df_dr)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_receivers_equalise_and_keep_their_mass() {
        let mut net = AirNet::new(vec![0.5, 0.25, 0.005], 101_325.0, 293.15, &[(0, Some(2)), (2, Some(1))]);
        net.set_pressure(0, 3.1e6);
        net.wall_w_k = vec![20.0, 20.0, 0.0];
        for b in &mut net.branches {
            b.conductance_m3_s_pa = 2e-7;
        }
        let before: f64 = net.mass_kg.iter().sum();
        for _ in 0..20_000 {
            net.step(0.05).expect("positive");
        }
        let after: f64 = net.mass_kg.iter().sum();
        assert!((before - after).abs() < 1e-9 * before);
        assert!((net.pressure_pa(0) - net.pressure_pa(1)).abs() < 2000.0);
    }

    #[test]
    fn non_return_valve_holds() {
        let mut net = AirNet::new(vec![0.1, 0.1], 101_325.0, 293.15, &[(0, Some(1))]);
        net.set_pressure(1, 1e6);
        net.branches[0].conductance_m3_s_pa = 1e-6;
        net.branches[0].one_way = true;
        for _ in 0..100 {
            net.step(0.05).expect("positive");
        }
        assert!((net.pressure_pa(1) - 1e6).abs() < 1.0);
    }
}
