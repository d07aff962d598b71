//! The liquid net: pressures of nodes and flows of branches, solved every tick for each circuit.
//!
//! Every branch obeys one law, from which valves, pipes, filters, pumps and relief valves are made:
//!
//! `p_from - p_to + head = lin * Q + quad * Q |Q|`
//!
//! * valve or pipe: `head = 0`, `quad = 1e5 rho / 1000 / Kv^2` (IEC 60534: Kv is the flow of water of 1000 kg/m3 at 1 bar);
//! * laminar resistance: `lin`, proportional to viscosity (Hagen-Poiseuille);
//! * centrifugal pump: `head = rho g H0 r^2`, `quad = rho g a` (affinity laws: H = H0 r^2 - a Q^2);
//! * gear pump: `lin = slip resistance`, `head = lin * displacement flow` (slip proportional to pressure).
//!
//! Inverted, the law gives Q as a smooth, rising function of the pressure difference, so that the Jacobian of a
//! circuit is symmetric and positive definite: damped Newton with a sparse elimination, warm-started.
//! Near zero difference the square root is regularised at [`SMOOTH_PA`] (error 0.25 % at ten times that).
//! Each node has a small compliance (liquid, hoses, trapped air), so a blocked-in section keeps its pressure. A node
//! that is drawn down to vapour pressure holds there while a cavity grows in it; the cavity must be filled again
//! before the pressure rises, and a node that has run empty gives nothing. So no liquid is made or lost.

use super::elimination::Pattern;

/// Pressure difference below which the square-root law is rounded, Pa.
pub const SMOOTH_PA: f64 = 200.0;
/// What a shut valve or a non-return valve lets through, m3/(s Pa): 0.04 L/h at 1 bar.
const LEAK_M3_S_PA: f64 = 1e-13;
/// Bulk stiffness of a node's content with its hoses and trapped air, Pa.
const STIFFNESS_PA: f64 = 2e8;
/// Gauge pressure at which liquids here boil or let go of their air, Pa: no node can be drawn below it.
pub const VAPOUR_PA: f64 = -9.7e4;
/// Volume of a cavity for each pascal below that, m3/Pa: 100 L at 1 kPa (a numerical stand-in for boiling at one pressure).
const CAVITY_M3_PA: f64 = 1e-4;
/// Share of a node's volume below which what it gives fades out.
const NEARLY_EMPTY: f64 = 0.1;
/// Times in which air comes into a circuit through an empty mouth, and goes out again, s (common practice, no source).
const AIR_COMES_S: f64 = 5.0;
const AIR_GOES_S: f64 = 30.0;
/// Pressure over the mouth's up to which a circuit that has air in it keeps drawing, Pa.
const AIR_STAYS_PA: f64 = 1000.0;
/// Newton steps before a solve is given up.
const ITERATIONS_MAX: usize = 60;
/// A solve has converged when no node gains or loses more than this, m3/s.
const RESIDUAL_M3_S: f64 = 1e-9;
/// A solve that ends above this has failed, m3/s.
const RESIDUAL_FAILED_M3_S: f64 = 1e-5;
/// Longest Newton step, Pa.
const STEP_PA: f64 = 2e5;

/// One branch.
#[derive(Clone, Copy, Debug)]
pub struct LiquidBranch {
    /// Node where positive flow enters.
    pub from: usize,
    /// Node where positive flow leaves.
    pub to: usize,
    /// Pressure added in the direction of positive flow, Pa.
    pub head_pa: f64,
    /// Laminar resistance, Pa s/m3.
    pub laminar_pa_s_m3: f64,
    /// Turbulent resistance, Pa s2/m6.
    pub turbulent_pa_s2_m6: f64,
    /// Shut: only the leak passes.
    pub shut: bool,
    /// A non-return valve: no flow from `to` to `from`.
    pub one_way: bool,
    /// Rise of pressure over the branch above which part of its flow turns back before the non-return valve (relief
    /// valve of a pump), Pa; and what that takes more for each m3/s, Pa s/m3.
    pub relief_pa: f64,
    /// See `relief_pa`.
    pub relief_pa_s_m3: f64,
    /// Heat taken up by the stream on its way, W (set by kinds in the heat phase).
    pub heat_w: f64,
}

impl LiquidBranch {
    fn new(from: usize, to: usize) -> Self {
        LiquidBranch {
            from,
            to,
            head_pa: 0.0,
            laminar_pa_s_m3: 0.0,
            turbulent_pa_s2_m6: 1.0,
            shut: true,
            one_way: false,
            relief_pa: f64::INFINITY,
            relief_pa_s_m3: 1.0,
            heat_w: 0.0,
        }
    }

    /// Sets the branch to a flow coefficient (m3/s at 1 bar and 1000 kg/m3) for a liquid of this density; a
    /// coefficient of a millionth and less is a shut valve.
    pub fn set_kv(&mut self, kv_m3_s: f64, density_kg_m3: f64) {
        self.head_pa = 0.0;
        self.laminar_pa_s_m3 = 0.0;
        self.shut = kv_m3_s < 1e-8;
        self.turbulent_pa_s2_m6 =
            if self.shut { 1.0 } else { 1e5 * density_kg_m3 / 1000.0 / (kv_m3_s * kv_m3_s) };
    }

    /// Flow and its slope at this driving pressure.
    fn flow(&self, driving_pa: f64) -> (f64, f64) {
        let d = driving_pa + self.head_pa;
        if self.shut || (self.one_way && d < 0.0) {
            return (LEAK_M3_S_PA * d, LEAK_M3_S_PA);
        }
        let smooth = libm::sqrt(d * d + SMOOTH_PA * SMOOTH_PA);
        let s =
            libm::sqrt(self.laminar_pa_s_m3 * self.laminar_pa_s_m3 + 4.0 * self.turbulent_pa_s2_m6 * smooth);
        let q = 2.0 * d / (self.laminar_pa_s_m3 + s);
        let slope = 2.0 / (self.laminar_pa_s_m3 + s)
            - 2.0 * d * (2.0 * self.turbulent_pa_s2_m6 * d / smooth / s)
                / ((self.laminar_pa_s_m3 + s) * (self.laminar_pa_s_m3 + s));
        let over_pa = -driving_pa - self.relief_pa;
        if over_pa <= 0.0 {
            return (q, slope.max(LEAK_M3_S_PA));
        }
        let (left, slope) = (q - over_pa / self.relief_pa_s_m3, slope + 1.0 / self.relief_pa_s_m3);
        if self.one_way && left < 0.0 {
            // All of it turns back; the non-return valve holds what is behind it.
            return (LEAK_M3_S_PA * left / slope, LEAK_M3_S_PA);
        }
        (left, slope)
    }
}

/// Branches and nodes of one circuit: nodes joined by branches, cut where a component sets the pressure.
#[derive(Clone, Debug)]
struct Circuit {
    /// Nodes in the order of elimination.
    nodes: Vec<usize>,
    branches: Vec<usize>,
    /// Place in `nodes` of both ends of each branch; [`SET`] where a component sets the pressure.
    ends: Vec<(usize, usize)>,
    pattern: Pattern,
}

/// Stands for the place of a node whose pressure is set.
const SET: usize = usize::MAX;

/// A solve that did not converge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LiquidFailure {
    /// Node with the largest imbalance.
    pub node: usize,
    /// That imbalance, m3/s.
    pub residual_m3_s: f64,
}

/// The net.
#[derive(Clone, Debug)]
pub struct LiquidNet {
    /// Gauge pressure of each node against the air at sea level, without the weight of its own height, Pa.
    pub pressure_pa: Vec<f64>,
    /// Flow of each branch, m3/s.
    pub flow_m3_s: Vec<f64>,
    /// Branches.
    pub branches: Vec<LiquidBranch>,
    /// Liquid put into a node from outside the net, m3/s (reset each tick).
    pub source_m3_s: Vec<f64>,
    /// For nodes whose pressure is set: 1 while there is liquid to give, 0 when empty.
    pub wet: Vec<f64>,
    /// Gauge pressure at which each node's liquid boils: lower where a node lies below the level that pressures refer to.
    pub boils_pa: Vec<f64>,
    /// By how much air that has come into each circuit keeps its cavities above that, Pa.
    pub lift_pa: Vec<f64>,
    /// Gauge pressure at which each node's cavity stands, with vapour or with air in it, Pa.
    vapour_pa: Vec<f64>,
    /// Branches between a node whose pressure is set and a circuit: branch, set node, free node, circuit.
    mouths: Vec<(usize, usize, usize, usize)>,
    /// Density of each node's liquid, kg/m3.
    pub density_kg_m3: Vec<f64>,
    volume_m3: Vec<f64>,
    fixed: Vec<bool>,
    circuits: Vec<Circuit>,
    /// Branches that join two nodes whose pressures are set: they belong to no circuit.
    between_set: Vec<usize>,
    slope_m3_s_pa: Vec<f64>,
    /// Share of its volume that a node without a component of its own still holds, and fades with near nothing.
    left_share: Vec<f64>,
    /// Branches at each node.
    at_node: Vec<Vec<usize>>,
    matrix: Vec<f64>,
    step_pa: Vec<f64>,
    old_pa: Vec<f64>,
    residual: Vec<f64>,
}

impl LiquidNet {
    /// Makes a net of nodes with these volumes and densities; `fixed` nodes have their pressure set by a component.
    pub fn new(
        volume_m3: Vec<f64>,
        density_kg_m3: Vec<f64>,
        fixed: Vec<bool>,
        ends: &[(usize, usize)],
    ) -> Self {
        let n = volume_m3.len();
        let branches: Vec<_> = ends.iter().map(|&(from, to)| LiquidBranch::new(from, to)).collect();
        let circuits = find_circuits(n, &fixed, &branches);
        let largest = circuits.iter().map(|c| c.nodes.len()).max().unwrap_or(0);
        let between_set =
            (0..branches.len()).filter(|&b| fixed[branches[b].from] && fixed[branches[b].to]).collect();
        let mouths = find_mouths(&circuits, &fixed, &branches);
        let at_node = (0..n)
            .map(|node| {
                (0..branches.len()).filter(|&b| branches[b].from == node || branches[b].to == node).collect()
            })
            .collect();
        LiquidNet {
            at_node,
            pressure_pa: vec![0.0; n],
            flow_m3_s: vec![0.0; branches.len()],
            source_m3_s: vec![0.0; n],
            wet: vec![1.0; n],
            boils_pa: vec![VAPOUR_PA; n],
            lift_pa: vec![0.0; circuits.len()],
            vapour_pa: vec![VAPOUR_PA; n],
            mouths,
            density_kg_m3,
            volume_m3,
            fixed,
            circuits,
            between_set,
            slope_m3_s_pa: vec![0.0; branches.len()],
            left_share: vec![1.0; n],
            matrix: vec![0.0; largest * largest],
            step_pa: vec![0.0; largest],
            old_pa: vec![0.0; n],
            residual: vec![0.0; largest],
            branches,
        }
    }

    /// What flows into a node over its branches, m3/s.
    pub fn net_inflow_m3_s(&self, node: usize) -> f64 {
        let mut sum = 0.0;
        for &b in &self.at_node[node] {
            if self.branches[b].to == node {
                sum += self.flow_m3_s[b];
            }
            if self.branches[b].from == node {
                sum -= self.flow_m3_s[b];
            }
        }
        sum
    }

    /// Nodes (in the order of elimination) and pattern of each circuit, for the heat net.
    pub(super) fn circuit_patterns(&self) -> Vec<(Vec<usize>, Pattern)> {
        self.circuits.iter().map(|c| (c.nodes.clone(), c.pattern.clone())).collect()
    }

    /// Branches of one circuit.
    pub(super) fn circuit_branches(&self, c: usize) -> &[usize] {
        &self.circuits[c].branches
    }

    /// What a node holds more (or, with a cavity in it, less) than when it is just full at vapour pressure, m3.
    pub fn content_m3(&self, node: usize) -> f64 {
        self.content_at(node, self.pressure_pa[node])
    }

    fn content_at(&self, node: usize, pressure_pa: f64) -> f64 {
        let over_pa = pressure_pa - self.vapour_pa[node];
        if over_pa >= 0.0 { over_pa * self.volume_m3[node] / STIFFNESS_PA } else { over_pa * CAVITY_M3_PA }
    }

    /// Share of a node's volume that is liquid, 1 where a component sets its pressure.
    pub fn filled(&self, node: usize) -> f64 {
        if self.fixed[node] || self.volume_m3[node] <= 0.0 {
            return 1.0;
        }
        (1.0 + self.content_m3(node) / self.volume_m3[node]).clamp(0.0, 1.0)
    }

    /// Works out where cavities stand (after depths or lifts were set from elsewhere).
    pub fn refresh(&mut self) {
        self.vapour_pa.copy_from_slice(&self.boils_pa);
        for (circuit, lift_pa) in self.circuits.iter().zip(&self.lift_pa) {
            for &node in &circuit.nodes {
                self.vapour_pa[node] = self.boils_pa[node] + lift_pa;
            }
        }
    }

    /// A line that hangs on something empty draws air through it: cavities of its circuit then stand at the pressure of
    /// the air outside, not at vapour pressure, and what leaks out is no longer held by suction. Contents stay what they are.
    /// When the mouth is under liquid again, the air finds its way out by it.
    fn let_air_in(&mut self, dt_s: f64) {
        for c in 0..self.circuits.len() {
            let before = self.lift_pa[c];
            let mut wanted = 0.0;
            for &(b, set, free, _) in self.mouths.iter().filter(|mouth| mouth.3 == c) {
                let branch = &self.branches[b];
                // Against the air at its own height; an empty line has no weight.
                let below_pa = self.boils_pa[free] - VAPOUR_PA - self.pressure_pa[free];
                let draws = below_pa > SMOOTH_PA || (before > 0.0 && below_pa > -AIR_STAYS_PA);
                let holds = branch.shut || (branch.one_way && branch.from == free);
                if self.wet[set] < 0.5 && draws && !holds && branch.head_pa <= 0.0 {
                    wanted = -VAPOUR_PA;
                }
            }
            if wanted == before {
                continue;
            }
            let tau_s = if wanted > before { AIR_COMES_S } else { AIR_GOES_S };
            let step_pa = (wanted - before) * (dt_s / tau_s).min(1.0);
            let step_pa = if before + step_pa < 1.0 && wanted == 0.0 { -before } else { step_pa };
            self.lift_pa[c] = before + step_pa;
            for &node in &self.circuits[c].nodes {
                self.vapour_pa[node] = self.boils_pa[node] + self.lift_pa[c];
                self.pressure_pa[node] += step_pa;
            }
        }
    }

    /// Volume of a node, m3; without meaning where a component sets its pressure.
    pub(super) fn volume_m3(&self, node: usize) -> f64 {
        self.volume_m3[node]
    }

    /// Does a component set this node's pressure?
    pub fn is_set(&self, node: usize) -> bool {
        self.fixed[node]
    }

    /// Solves all circuits for one tick of `dt_s`.
    pub fn solve(&mut self, dt_s: f64) -> Result<(), LiquidFailure> {
        self.let_air_in(dt_s);
        self.old_pa.copy_from_slice(&self.pressure_pa);
        self.find_what_is_left();
        let mut outcome = Ok(());
        for c in 0..self.circuits.len() {
            if let Err(failure) = self.solve_circuit(c, dt_s) {
                outcome = Err(failure);
            }
        }
        for i in 0..self.between_set.len() {
            let b = self.between_set[i];
            self.flow_m3_s[b] = self.branch_flow(b).0;
        }
        outcome
    }

    /// A node that has run empty gives no more than what flows in: judged once a tick, at its beginning.
    fn find_what_is_left(&mut self) {
        for node in 0..self.left_share.len() {
            self.left_share[node] = if self.fixed[node] {
                self.wet[node]
            } else if self.pressure_pa[node] >= self.vapour_pa[node] || self.volume_m3[node] <= 0.0 {
                1.0
            } else {
                let share = 1.0 + self.content_m3(node) / self.volume_m3[node];
                (share / NEARLY_EMPTY).clamp(0.0, 1.0)
            };
        }
    }

    fn branch_flow(&self, b: usize) -> (f64, f64) {
        let branch = &self.branches[b];
        let (q, slope) = branch.flow(self.pressure_pa[branch.from] - self.pressure_pa[branch.to]);
        let left = if q > 0.0 { self.left_share[branch.from] } else { self.left_share[branch.to] };
        (q * left, (slope * left).max(LEAK_M3_S_PA))
    }

    fn solve_circuit(&mut self, c: usize, dt_s: f64) -> Result<(), LiquidFailure> {
        let n = self.circuits[c].nodes.len();
        let mut worst = self.imbalance(c, dt_s);
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

    fn compliance_m3_pa(&self, node: usize) -> f64 {
        if self.pressure_pa[node] >= self.vapour_pa[node] {
            self.volume_m3[node] / STIFFNESS_PA
        } else {
            CAVITY_M3_PA
        }
    }

    /// Finds the flows of the circuit at the present pressures, with their slopes, and fills `residual` with what each
    /// node gains; returns the worst place and its size.
    fn imbalance(&mut self, c: usize, dt_s: f64) -> (usize, f64) {
        for (i, &node) in self.circuits[c].nodes.iter().enumerate() {
            let stored_m3 = self.content_m3(node) - self.content_at(node, self.old_pa[node]);
            self.residual[i] = self.source_m3_s[node] - stored_m3 / dt_s;
        }
        for k in 0..self.circuits[c].branches.len() {
            let b = self.circuits[c].branches[k];
            let (q, slope) = self.branch_flow(b);
            self.flow_m3_s[b] = q;
            self.slope_m3_s_pa[b] = slope;
            let (i, j) = self.circuits[c].ends[k];
            if i != SET {
                self.residual[i] -= q;
            }
            if j != SET {
                self.residual[j] += q;
            }
        }
        let mut worst = (0, 0.0);
        for (i, r) in self.residual[..self.circuits[c].nodes.len()].iter().enumerate() {
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
        let n = circuit.nodes.len();
        circuit.pattern.clear(&mut self.matrix);
        for (i, &node) in circuit.nodes.iter().enumerate() {
            self.matrix[i * n + i] = self.compliance_m3_pa(node) / dt_s;
        }
        for (k, &b) in circuit.branches.iter().enumerate() {
            let slope = self.slope_m3_s_pa[b];
            let (i, j) = circuit.ends[k];
            if i != SET {
                self.matrix[i * n + i] += slope;
            }
            if j != SET {
                self.matrix[j * n + j] += slope;
            }
            if i != SET && j != SET {
                self.matrix[i * n + j] -= slope;
                self.matrix[j * n + i] -= slope;
            }
        }
    }
}

/// Where circuits begin and end at nodes whose pressures are set.
fn find_mouths(
    circuits: &[Circuit],
    fixed: &[bool],
    branches: &[LiquidBranch],
) -> Vec<(usize, usize, usize, usize)> {
    let mut mouths = Vec::new();
    for (c, circuit) in circuits.iter().enumerate() {
        for &b in &circuit.branches {
            let (from, to) = (branches[b].from, branches[b].to);
            match (fixed[from], fixed[to]) {
                (true, false) => mouths.push((b, from, to, c)),
                (false, true) => mouths.push((b, to, from, c)),
                _ => {}
            }
        }
    }
    mouths
}

/// Joins the nodes that share branches, cutting at fixed nodes. A branch between two fixed nodes belongs to no
/// circuit: its flow follows from the two pressures alone.
fn find_circuits(n: usize, fixed: &[bool], branches: &[LiquidBranch]) -> Vec<Circuit> {
    let mut label: Vec<usize> = (0..n).collect();
    loop {
        let mut changed = false;
        for b in branches {
            if fixed[b.from] || fixed[b.to] {
                continue;
            }
            let low = label[b.from].min(label[b.to]);
            changed |= label[b.from] != low || label[b.to] != low;
            label[b.from] = low;
            label[b.to] = low;
        }
        if !changed {
            break;
        }
    }
    let mut circuits = Vec::new();
    for root in 0..n {
        let nodes: Vec<usize> = (0..n).filter(|&i| !fixed[i] && label[i] == root).collect();
        if nodes.is_empty() {
            continue;
        }
        let member = |node: usize| !fixed[node] && label[node] == root;
        let inside: Vec<usize> =
            (0..branches.len()).filter(|&b| member(branches[b].from) || member(branches[b].to)).collect();
        circuits.push(lay_out(&nodes, inside, branches));
    }
    circuits
}

/// Puts a circuit's nodes into the order of elimination.
fn lay_out(nodes: &[usize], inside: Vec<usize>, branches: &[LiquidBranch]) -> Circuit {
    let place = |node: usize| nodes.iter().position(|&n| n == node);
    let joined = inside.iter().filter_map(|&b| Some((place(branches[b].from)?, place(branches[b].to)?)));
    let pattern = Pattern::new(nodes.len(), joined);
    let nodes: Vec<usize> = pattern.order.iter().map(|&i| nodes[i]).collect();
    let place = |node: usize| nodes.iter().position(|&n| n == node).unwrap_or(SET);
    let ends = inside.iter().map(|&b| (place(branches[b].from), place(branches[b].to))).collect();
    Circuit { nodes, branches: inside, ends, pattern }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kv(branch: &mut LiquidBranch, kv_m3_h: f64) {
        branch.set_kv(kv_m3_h / 3600.0, 1000.0);
    }

    fn settle(net: &mut LiquidNet) {
        for _ in 0..200 {
            net.solve(0.05).expect("converges");
        }
    }

    #[test]
    fn two_valves_in_series_share_the_pressure() {
        let mut net =
            LiquidNet::new(vec![0.0, 0.02, 0.0], vec![1000.0; 3], vec![true, false, true], &[(0, 1), (1, 2)]);
        net.pressure_pa[0] = 1e5;
        kv(&mut net.branches[0], 10.0);
        kv(&mut net.branches[1], 10.0);
        settle(&mut net);
        assert!((net.pressure_pa[1] - 5e4).abs() < 1.0);
        assert!((net.flow_m3_s[0] * 3600.0 - 10.0 * libm::sqrt(0.5)).abs() < 1e-3);
    }

    #[test]
    fn shut_in_section_keeps_its_pressure_and_one_way_holds() {
        let mut net =
            LiquidNet::new(vec![0.0, 0.02, 0.0], vec![1000.0; 3], vec![true, false, true], &[(0, 1), (1, 2)]);
        net.pressure_pa[0] = 3e5;
        kv(&mut net.branches[0], 10.0);
        net.branches[0].one_way = true;
        net.branches[1].shut = true;
        settle(&mut net);
        assert!((net.pressure_pa[1] - 3e5).abs() < 500.0);
        net.pressure_pa[0] = 0.0;
        net.solve(0.05).expect("converges");
        assert!(net.pressure_pa[1] > 2.9e5, "{}", net.pressure_pa[1]);
    }

    #[test]
    fn empty_boundary_gives_nothing() {
        let mut net =
            LiquidNet::new(vec![0.0, 0.02, 0.0], vec![1000.0; 3], vec![true, false, true], &[(0, 1), (1, 2)]);
        net.pressure_pa[0] = 1e5;
        net.wet[0] = 0.0;
        kv(&mut net.branches[0], 10.0);
        kv(&mut net.branches[1], 10.0);
        settle(&mut net);
        assert!(net.flow_m3_s[1].abs() < 1e-6);
    }

    #[test]
    fn nothing_is_drawn_below_vapour_pressure() {
        let mut net = LiquidNet::new(vec![0.02, 0.0], vec![1000.0; 2], vec![false, true], &[(0, 1)]);
        net.branches[0].shut = true;
        net.source_m3_s[0] = -1e-3;
        settle(&mut net);
        assert!(net.pressure_pa[0] > -1.0e5, "{}", net.pressure_pa[0]);
    }

    #[test]
    fn gear_pump_into_a_shut_line_is_held_by_its_slip() {
        let mut net = LiquidNet::new(vec![0.0, 0.02], vec![900.0; 2], vec![true, false], &[(0, 1)]);
        let pump = &mut net.branches[0];
        pump.shut = false;
        pump.turbulent_pa_s2_m6 = 0.0;
        pump.laminar_pa_s_m3 = 1e9;
        pump.head_pa = 1e9 * 1e-3;
        settle(&mut net);
        assert!((net.pressure_pa[1] - 1e6).abs() < 10.0);
    }
}
