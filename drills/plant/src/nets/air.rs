//! The compressed-air net: receivers and lines, with flow by ISO 6358.
//!
//! Mass flow through a restriction of sonic conductance C and critical ratio b (ISO 6358-1):
//! `m = C rho0 p1 sqrt(T0/T1)` when choked (p2/p1 <= b), else times `sqrt(1 - ((p2/p1 - b)/(1 - b))^2)`.
//! Each node holds an ideal gas, `p V = m R T`; pressures of a tick are solved implicitly (lines are small and
//! conductances large), masses are then moved by exactly those flows, so mass is conserved; temperature follows
//! from the energy that the flows carry and from the wall.

use super::elimination::Pattern;

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
const ITERATIONS_MAX: usize = 40;
/// Times a Newton step is halved at most.
const HALVINGS_MAX: usize = 16;
/// The pressures are found when no step is longer, Pa.
const CONVERGED_PA: f64 = 0.1;

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
    pattern: Pattern,
    place: Vec<usize>,
    matrix: Vec<f64>,
    right: Vec<f64>,
    step: Vec<f64>,
    residual: Vec<f64>,
    /// Slope of each branch's flow by the pressure at `from` and at `to`, at the trial pressures.
    slopes_kg_s_pa: Vec<(f64, f64)>,
    /// What each node takes up for a rise of its pressure in this tick, kg/(s Pa).
    capacity_kg_s_pa: Vec<f64>,
    /// Slots in the matrix for what the two ends of each branch have to do with each other: what `from` gets from `to`,
    /// and `to` from `from`. Without meaning for a branch to the atmosphere.
    meet: Vec<(usize, usize)>,
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
        let joined = ends.iter().filter_map(|&(from, to)| Some((from, to?)));
        let pattern = Pattern::new(n, joined);
        let mut place = vec![0; n];
        for (k, &node) in pattern.order.iter().enumerate() {
            place[node] = k;
        }
        let slot = |a: usize, b: usize| pattern.slot(place[a], place[b]);
        let meet = ends.iter().map(|&(from, to)| to.map_or((0, 0), |to| (slot(from, to), slot(to, from))));
        let meet = meet.collect();
        let mut net = AirNet {
            slopes_kg_s_pa: vec![(0.0, 0.0); branches.len()],
            capacity_kg_s_pa: vec![0.0; n],
            meet,
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
            matrix: vec![0.0; pattern.slots()],
            right: vec![0.0; n],
            step: vec![0.0; n],
            place,
            pattern,
            residual: vec![0.0; n],
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

    /// Puts walls and air to a temperature, at the pressures they have.
    pub fn take_temperature(&mut self, temperature_k: f64) {
        self.wall_temperature_k = temperature_k;
        for i in 0..self.mass_kg.len() {
            self.mass_kg[i] *= self.temperature_k[i] / temperature_k;
            self.temperature_k[i] = temperature_k;
        }
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

    /// Flow of a branch at the trial pressures with its slopes by the pressure at `from` and at `to`.
    fn branch_flow(&self, b: usize) -> (f64, f64, f64) {
        let p = &self.trial_pa;
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

    /// Newton on the node pressures at the end of the tick, temperatures held. A step that does not bring the net
    /// nearer to balance is shortened: without that, a small node on a wide line hops from side to side.
    fn solve_pressures(&mut self, dt_s: f64) {
        self.trial_pa.copy_from_slice(&self.pressure_pa);
        for i in 0..self.mass_kg.len() {
            self.capacity_kg_s_pa[i] = self.volume_m3[i] / (R_AIR * self.temperature_k[i] * dt_s);
        }
        let mut off_balance = self.imbalance();
        for _ in 0..ITERATIONS_MAX {
            self.assemble();
            self.step.copy_from_slice(&self.residual);
            self.eliminate();
            // No pressure falls by more than half or rises by more than 5 bar at once.
            let (mut longest, mut scale) = (0.0_f64, 1.0_f64);
            for (step, trial) in self.step.iter().zip(&self.trial_pa) {
                longest = longest.max(step.abs());
                let limit = if *step < 0.0 { 0.5 * trial } else { 5e5 };
                scale = scale.min(limit / step.abs().max(1e-9));
            }
            let before = off_balance;
            self.shift(scale);
            off_balance = self.imbalance();
            for _ in 0..HALVINGS_MAX {
                if longest < CONVERGED_PA || off_balance < (1.0 - 0.25 * scale) * before {
                    break;
                }
                scale *= 0.5;
                self.shift(-scale);
                off_balance = self.imbalance();
            }
            if longest < CONVERGED_PA {
                break;
            }
        }
    }

    /// Solves `matrix x = step`; the answer stands in `step`.
    fn eliminate(&mut self) {
        for (k, &node) in self.pattern.order.iter().enumerate() {
            self.right[k] = self.step[node];
        }
        self.pattern.solve(&mut self.matrix, &mut self.right);
        for (k, &node) in self.pattern.order.iter().enumerate() {
            self.step[node] = self.right[k];
        }
    }

    fn shift(&mut self, scale: f64) {
        for (trial, step) in self.trial_pa.iter_mut().zip(&self.step) {
            *trial += scale * step;
        }
    }

    /// Finds the flows at the trial pressures, with their slopes, and fills `residual` with what each node gains; returns
    /// the sum of their sizes, kg/s.
    fn imbalance(&mut self) -> f64 {
        for i in 0..self.mass_kg.len() {
            let stored = self.capacity_kg_s_pa[i] * (self.trial_pa[i] - self.pressure_pa[i]);
            self.residual[i] = self.source_kg_s[i] - stored;
        }
        for b in 0..self.branches.len() {
            let (m, by_from, by_to) = self.branch_flow(b);
            self.flow_kg_s[b] = m;
            self.slopes_kg_s_pa[b] = (by_from, by_to);
            self.residual[self.branches[b].from] -= m;
            if let Some(to) = self.branches[b].to {
                self.residual[to] += m;
            }
        }
        self.residual.iter().map(|r| r.abs()).sum()
    }

    /// Fills `matrix` with minus the Jacobian of the imbalance; each column's diagonal outweighs the rest of it.
    fn assemble(&mut self) {
        self.pattern.clear(&mut self.matrix);
        for (&capacity, &place) in self.capacity_kg_s_pa.iter().zip(&self.place) {
            self.matrix[place] = capacity;
        }
        for (b, branch) in self.branches.iter().enumerate() {
            let (by_from, by_to) = self.slopes_kg_s_pa[b];
            self.matrix[self.place[branch.from]] += by_from;
            if let Some(to) = branch.to {
                let (here, there) = self.meet[b];
                self.matrix[here] += by_to;
                self.matrix[there] -= by_from;
                self.matrix[self.place[to]] -= by_to;
            }
        }
    }

    /// Moves the air by the flows, and the energy with it: U = m cv T. What leaves a node takes the temperature at
    /// the end of the tick with it, so that no flow, however large, leaves a temperature below nothing.
    fn move_air(&mut self, dt_s: f64) -> Result<(), usize> {
        let n = self.mass_kg.len();
        self.pattern.clear(&mut self.matrix);
        for i in 0..n {
            self.step[i] = self.mass_kg[i] * CV_AIR * self.temperature_k[i]
                + dt_s * self.source_kg_s[i] * CP_AIR * self.source_temperature_k[i];
            self.mass_kg[i] += dt_s * self.source_kg_s[i];
        }
        for b in 0..self.branches.len() {
            let AirBranch { from, to, .. } = self.branches[b];
            let m = self.flow_kg_s[b] * dt_s;
            let (here, there) = self.meet[b];
            let (up, down, slot) = if m >= 0.0 { (Some(from), to, there) } else { (to, Some(from), here) };
            let carried = m.abs() * CP_AIR;
            if let Some(up) = up {
                self.mass_kg[up] -= m.abs();
                self.matrix[self.place[up]] += carried;
            }
            if let Some(down) = down {
                self.mass_kg[down] += m.abs();
                match up {
                    // The temperature of a line is known: it has no equation.
                    Some(_) if self.wall_w_k[down] > 0.0 => self.matrix[slot] -= carried,
                    Some(_) => {}
                    None => self.step[down] += carried * self.wall_temperature_k,
                }
            }
        }
        for i in 0..n {
            if self.mass_kg[i].is_nan() || self.mass_kg[i] <= 0.0 {
                return Err(i);
            }
            if self.wall_w_k[i] > 0.0 {
                self.matrix[self.place[i]] += self.mass_kg[i] * CV_AIR;
            } else {
                self.matrix[self.place[i]] = 1.0;
                self.step[i] = self.temperature_k[i];
            }
        }
        self.eliminate();
        self.temperature_k.copy_from_slice(&self.step);
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
    let k = branch.conductance_m3_s_pa * RHO0 * f64::sqrt(T0_K / t1);
    let b = branch.critical_ratio;
    let r = p2 / p1;
    if r <= b {
        return (k * p1, k, 0.0);
    }
    if r > LAMINAR_RATIO {
        // Straight line to zero at r = 1, joined where the ellipse has reached the laminar ratio.
        let x = (LAMINAR_RATIO - b) / (1.0 - b);
        let edge = f64::sqrt(1.0 - x * x) / (1.0 - LAMINAR_RATIO);
        return (k * edge * (p1 - p2), k * edge, -k * edge);
    }
    let x = (r - b) / (1.0 - b);
    let f = f64::sqrt(1.0 - x * x);
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

    /// More air than it holds goes through the small vessel in a tick, and from a cold to a warm one.
    #[test]
    fn a_small_vessel_on_a_wide_line_stays_sound() {
        let ends = [(0, Some(1)), (1, Some(2)), (1, None)];
        let mut net = AirNet::new(vec![1.0, 0.001, 0.3], 101_325.0, 293.15, &ends);
        net.set_pressure(0, 2.9e6);
        net.wall_w_k = vec![50.0, 0.1, 0.0];
        for b in &mut net.branches {
            b.conductance_m3_s_pa = 1e-5;
        }
        for _ in 0..200 {
            net.step(0.05).expect("positive");
            assert!(net.temperature_k.iter().all(|t| (100.0..600.0).contains(t)), "{:?}", net.temperature_k);
        }
        assert!((net.pressure_pa(1) - 101_325.0).abs() < 1000.0, "{}", net.pressure_pa(1));
    }

    #[test]
    fn another_temperature_keeps_the_pressures() {
        let mut net = AirNet::new(vec![0.1, 0.005], 101_325.0, 293.15, &[(0, Some(1))]);
        net.set_pressure(0, 1e6);
        net.take_temperature(313.15);
        assert!((net.pressure_pa(0) - 1e6).abs() < 1e-3);
        assert_eq!(net.temperature_k, vec![313.15; 2]);
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
