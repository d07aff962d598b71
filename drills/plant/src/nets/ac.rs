//! The alternating-current net: bus voltages of each island by phasors, solved every sub-step.
//!
//! Units: line-to-line r.m.s. volts; "current" is scaled by sqrt(3) so that `S = V conj(I)` in VA and an admittance
//! of `y = conj(S) / |V|^2` siemens draws S at V. Line current in amperes is `|I| / sqrt(3)`.
//!
//! Closed breakers merge nodes (union-find); transformers couple merged nodes by a series admittance and a turns
//! ratio. Generators are Norton sources (E' behind Ra + jX'd), loads and motors are admittances at their present
//! slip, so one complex linear solve gives all voltages of an island: no iteration. An island without a source is dead.

use std::ops::Range;

/// A complex number, only what is needed here.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Complex {
    /// Real part.
    pub re: f64,
    /// Imaginary part.
    pub im: f64,
}

impl Complex {
    /// Zero.
    pub const ZERO: Complex = Complex { re: 0.0, im: 0.0 };

    /// From parts.
    pub const fn new(re: f64, im: f64) -> Self {
        Complex { re, im }
    }
    /// From length and angle (rad).
    pub fn polar(length: f64, angle: f64) -> Self {
        Complex { re: length * libm::cos(angle), im: length * libm::sin(angle) }
    }
    /// Length.
    pub fn abs(self) -> f64 {
        f64::sqrt(self.re * self.re + self.im * self.im)
    }
    /// Square of the length.
    pub fn norm_square(self) -> f64 {
        self.re * self.re + self.im * self.im
    }
    /// Angle, rad.
    pub fn angle(self) -> f64 {
        libm::atan2(self.im, self.re)
    }
    /// Conjugate.
    pub fn conj(self) -> Self {
        Complex { re: self.re, im: -self.im }
    }
    /// Times a real number.
    pub fn scale(self, k: f64) -> Self {
        Complex { re: self.re * k, im: self.im * k }
    }
    /// One over it; zero for zero.
    pub fn inverse(self) -> Self {
        let d = self.re * self.re + self.im * self.im;
        if d == 0.0 { Complex::ZERO } else { Complex { re: self.re / d, im: -self.im / d } }
    }
}

impl std::ops::Add for Complex {
    type Output = Complex;
    fn add(self, o: Complex) -> Complex {
        Complex { re: self.re + o.re, im: self.im + o.im }
    }
}
impl std::ops::Sub for Complex {
    type Output = Complex;
    fn sub(self, o: Complex) -> Complex {
        Complex { re: self.re - o.re, im: self.im - o.im }
    }
}
impl std::ops::Mul for Complex {
    type Output = Complex;
    fn mul(self, o: Complex) -> Complex {
        Complex { re: self.re * o.re - self.im * o.im, im: self.re * o.im + self.im * o.re }
    }
}

/// A connection between two AC nodes.
#[derive(Clone, Copy, Debug)]
pub struct AcBranch {
    /// One end.
    pub from: usize,
    /// Other end.
    pub to: usize,
    /// Closed? An open branch carries nothing.
    pub closed: bool,
    /// `None`: an ideal breaker. `Some(y)`: a transformer's series admittance referred to the `to` side, S.
    pub series: Option<Complex>,
}

/// Nodes that closed branches join.
#[derive(Clone, Debug)]
struct Island {
    /// Its part of the list of nodes.
    members: Range<usize>,
    /// Its part of the list of closed transformers.
    transformers: Range<usize>,
    /// Groups of merged nodes in it.
    rows: usize,
}

impl Island {
    fn of_one(node: usize) -> Island {
        Island { members: node..node + 1, transformers: 0..0, rows: 1 }
    }
}

/// The net.
#[derive(Clone, Debug)]
pub struct AcNet {
    /// Nominal voltage of each node, V.
    pub nominal_v: Vec<f64>,
    /// Nominal frequency of each node, Hz.
    pub nominal_hz: Vec<f64>,
    /// Voltage of each node, V line to line.
    pub voltage: Vec<Complex>,
    /// Length of each node's voltage, V.
    pub volts: Vec<f64>,
    /// Frequency of each node's island, Hz; 0 when dead.
    pub frequency_hz: Vec<f64>,
    /// Branches. Set `closed` through [`AcNet::switch`].
    pub branches: Vec<AcBranch>,
    /// Scaled current from `from` to `to` in each closed ideal breaker, and into `from` of each transformer.
    pub branch_current: Vec<Complex>,
    /// What consumers draw for a whole tick, S: gathered in the control phase, counted in every sub-step.
    standing: Vec<Complex>,
    leak_s: Vec<f64>,
    admittance: Vec<Complex>,
    source: Vec<Complex>,
    source_weight: Vec<f64>,
    source_hz: Vec<f64>,
    group: Vec<usize>,
    island: Vec<usize>,
    /// Nodes by island, each island's in rising order; the first of each island's is its root.
    by_island: Vec<usize>,
    /// Closed transformers, by the island they lie in.
    transformers: Vec<usize>,
    /// As many as there are nodes at the most; the first `island_count` count.
    islands: Vec<Island>,
    island_count: usize,
    source_breaker: Vec<bool>,
    matrix: Vec<Complex>,
    right: Vec<Complex>,
    row_v: Vec<f64>,
    row_of: Vec<usize>,
    flow: Vec<Complex>,
    degree: Vec<usize>,
}

impl AcNet {
    /// Makes a dead net with all breakers open.
    pub fn new(nominal_v: Vec<f64>, nominal_hz: Vec<f64>, ends: &[(usize, usize)]) -> Self {
        let n = nominal_v.len();
        AcNet {
            voltage: vec![Complex::ZERO; n],
            volts: vec![0.0; n],
            frequency_hz: vec![0.0; n],
            branches: ends
                .iter()
                .map(|&(from, to)| AcBranch { from, to, closed: false, series: None })
                .collect(),
            branch_current: vec![Complex::ZERO; ends.len()],
            standing: vec![Complex::ZERO; n],
            leak_s: vec![0.0; n],
            admittance: vec![Complex::ZERO; n],
            source: vec![Complex::ZERO; n],
            source_weight: vec![0.0; n],
            source_hz: vec![0.0; n],
            group: (0..n).collect(),
            island: (0..n).collect(),
            by_island: (0..n).collect(),
            transformers: Vec::with_capacity(ends.len()),
            islands: (0..n).map(Island::of_one).collect(),
            island_count: n,
            source_breaker: vec![false; ends.len()],
            matrix: vec![Complex::ZERO; n * n],
            right: vec![Complex::ZERO; n],
            row_v: vec![0.0; n],
            row_of: vec![0; n],
            flow: vec![Complex::ZERO; n],
            degree: vec![0; n],
            nominal_v,
            nominal_hz,
        }
    }

    /// Opens or closes a branch. Islands are found anew at once, so that an act later in the same tick sees the
    /// net as this one has left it.
    pub fn switch(&mut self, branch: usize, closed: bool) {
        if self.branches[branch].closed != closed {
            self.branches[branch].closed = closed;
            self.find_islands();
        }
    }

    /// Topology must be found anew (after state was loaded from elsewhere).
    pub fn touch(&mut self) {
        self.find_islands();
        for (volts, voltage) in self.volts.iter_mut().zip(&self.voltage) {
            *volts = voltage.abs();
        }
    }

    /// Says that a branch is the breaker of a source (its `from` end is the source's side). Called in `settle`.
    pub fn mark_source_breaker(&mut self, branch: usize) {
        self.source_breaker[branch] = true;
    }

    /// Is a source's breaker, other than `except`, closed onto the island of `node`? True from the moment of
    /// closing, before any voltage has been solved.
    pub fn source_closed_on(&self, node: usize, except: usize) -> bool {
        let closed_here = |b: usize| {
            self.source_breaker[b] && self.branches[b].closed && self.joined(self.branches[b].to, node)
        };
        (0..self.branches.len()).any(|b| b != except && closed_here(b))
    }

    /// Are two nodes joined by closed breakers or transformers?
    pub fn joined(&self, a: usize, b: usize) -> bool {
        self.island[a] == self.island[b]
    }

    /// Clears what is gathered each tick.
    pub fn clear_standing(&mut self) {
        self.standing.fill(Complex::ZERO);
    }

    /// Clears what is gathered each tick: conductances to earth.
    pub fn clear_leaks(&mut self) {
        self.leak_s.fill(0.0);
    }

    /// Adds a conductance to earth at a node, S. The net is insulated: it carries no current of its own.
    pub fn add_leak(&mut self, node: usize, leak_s: f64) {
        self.leak_s[node] += leak_s;
    }

    /// Insulation to earth of all that closed breakers join to a node, ohm; a transformer separates. What has been
    /// added since the tick began counts.
    pub fn insulation_ohm(&self, node: usize) -> f64 {
        let group = self.group[node];
        let leaks = self.leak_s.iter().zip(&self.group);
        let sum_s: f64 = leaks.filter(|(_, g)| **g == group).map(|(leak_s, _)| leak_s).sum();
        1.0 / sum_s.max(1e-12)
    }

    /// Clears what is gathered each sub-step.
    pub fn clear(&mut self) {
        self.admittance.copy_from_slice(&self.standing);
        self.source.fill(Complex::ZERO);
        self.source_weight.fill(0.0);
        self.source_hz.fill(0.0);
    }

    /// Adds a consumer whose admittance does not change within a tick. Called in the control phase.
    pub fn add_standing(&mut self, node: usize, y: Complex) {
        self.standing[node] = self.standing[node] + y;
    }

    /// Adds a motor, or what else changes from sub-step to sub-step, to a node.
    pub fn add_admittance(&mut self, node: usize, y: Complex) {
        self.admittance[node] = self.admittance[node] + y;
    }

    /// Adds a source: voltage `e` behind admittance `y`, turning at `hz`; `weight` is its kinetic energy, by which
    /// an island's frequency is averaged over its machines.
    pub fn add_source(&mut self, node: usize, e: Complex, y: Complex, hz: f64, weight: f64) {
        self.admittance[node] = self.admittance[node] + y;
        self.source[node] = self.source[node] + e * y;
        self.source_weight[node] += weight;
        self.source_hz[node] += weight * hz;
    }

    /// Solves all islands.
    pub fn solve(&mut self) {
        for island in 0..self.island_count {
            let members = self.islands[island].members.clone();
            let (mut weight, mut hz) = (0.0, 0.0);
            for &node in &self.by_island[members.clone()] {
                weight += self.source_weight[node];
                hz += self.source_hz[node];
            }
            if weight > 0.0 {
                self.solve_island(island);
                let hz = hz / weight;
                for &node in &self.by_island[members] {
                    self.frequency_hz[node] = hz;
                }
            } else {
                for &node in &self.by_island[members] {
                    self.frequency_hz[node] = 0.0;
                    self.voltage[node] = Complex::ZERO;
                    self.volts[node] = 0.0;
                }
            }
        }
    }

    fn find_islands(&mut self) {
        let n = self.voltage.len();
        for i in 0..n {
            self.group[i] = i;
            self.island[i] = i;
        }
        // Labels only fall, so this ends after as many rounds as the longest chain.
        loop {
            let mut changed = false;
            for b in self.branches.iter().filter(|b| b.closed) {
                if b.series.is_none() {
                    changed |= merge(&mut self.group, b.from, b.to);
                }
                changed |= merge(&mut self.island, b.from, b.to);
            }
            if !changed {
                break;
            }
        }
        let island = &self.island;
        self.by_island.sort_unstable_by_key(|&node| (island[node], node));
        self.transformers.clear();
        let branches = &self.branches;
        self.transformers
            .extend((0..branches.len()).filter(|&b| branches[b].closed && branches[b].series.is_some()));
        self.transformers.sort_unstable_by_key(|&b| (island[branches[b].from], b));
        self.number_rows();
    }

    /// One row for each group of merged nodes, counted within its island; each island's parts of the lists.
    fn number_rows(&mut self) {
        self.island_count = 0;
        let (mut begin, mut first) = (0, 0);
        while begin < self.by_island.len() {
            let root = self.by_island[begin];
            let (mut end, mut rows, mut last) = (begin, 0, first);
            while end < self.by_island.len() && self.island[self.by_island[end]] == root {
                let node = self.by_island[end];
                if self.group[node] == node {
                    self.row_of[node] = rows;
                    rows += 1;
                } else {
                    // A group is named after its lowest node, which has been counted before.
                    self.row_of[node] = self.row_of[self.group[node]];
                }
                end += 1;
            }
            while last < self.transformers.len()
                && self.island[self.branches[self.transformers[last]].from] == root
            {
                last += 1;
            }
            self.islands[self.island_count] = Island { members: begin..end, transformers: first..last, rows };
            self.island_count += 1;
            (begin, first) = (end, last);
        }
    }

    fn solve_island(&mut self, island: usize) {
        let Island { members, transformers, rows } = self.islands[island].clone();
        let (members, transformers) = (&self.by_island[members], &self.transformers[transformers]);
        let matrix = &mut self.matrix[..rows * rows];
        let right = &mut self.right[..rows];
        matrix.fill(Complex::ZERO);
        right.fill(Complex::ZERO);
        for &i in members {
            let r = self.row_of[i];
            matrix[r * rows + r] = matrix[r * rows + r] + self.admittance[i];
            right[r] = right[r] + self.source[i];
        }
        for &b in transformers {
            let branch = self.branches[b];
            if let Some(y) = branch.series {
                let turns = self.nominal_v[branch.from] / self.nominal_v[branch.to];
                let (f, t) = (self.row_of[branch.from], self.row_of[branch.to]);
                let mutual = y.scale(1.0 / turns);
                matrix[f * rows + f] = matrix[f * rows + f] + y.scale(1.0 / (turns * turns));
                matrix[t * rows + t] = matrix[t * rows + t] + y;
                matrix[f * rows + t] = matrix[f * rows + t] - mutual;
                matrix[t * rows + f] = matrix[t * rows + f] - mutual;
            }
        }
        eliminate_complex(matrix, right);
        let row_v = &mut self.row_v[..rows];
        for (volts, voltage) in row_v.iter_mut().zip(right.iter()) {
            *volts = voltage.abs();
        }
        for &i in members {
            let r = self.row_of[i];
            self.voltage[i] = right[r];
            self.volts[i] = row_v[r];
        }
    }

    /// Works out the currents in branches: transformers from their voltages, ideal breakers from what hangs behind
    /// them, leaf by leaf. Breakers that close a ring of ideal breakers share by no law and keep 0.
    pub fn find_branch_currents(&mut self) {
        let n = self.voltage.len();
        for i in 0..n {
            self.flow[i] = self.admittance[i] * self.voltage[i] - self.source[i];
            self.degree[i] = 0;
        }
        self.branch_current.fill(Complex::ZERO);
        for b in 0..self.branches.len() {
            let branch = self.branches[b];
            if !branch.closed {
                continue;
            }
            if let Some(y) = branch.series {
                let turns = self.nominal_v[branch.from] / self.nominal_v[branch.to];
                let secondary = (self.voltage[branch.from].scale(1.0 / turns) - self.voltage[branch.to]) * y;
                self.branch_current[b] = secondary.scale(1.0 / turns);
                self.flow[branch.from] = self.flow[branch.from] + secondary.scale(1.0 / turns);
                self.flow[branch.to] = self.flow[branch.to] - secondary;
            } else if branch.from != branch.to {
                self.degree[branch.from] += 1;
                self.degree[branch.to] += 1;
            }
        }
        self.peel_leaves();
    }

    fn peel_leaves(&mut self) {
        // A branch is done when one of its ends has been peeled; `usize::MAX` marks a peeled node.
        loop {
            let mut peeled = false;
            for b in 0..self.branches.len() {
                let branch = self.branches[b];
                if !branch.closed || branch.series.is_some() {
                    continue;
                }
                let (leaf, rest, sign) =
                    if self.degree[branch.to] == 1 && self.degree[branch.from] != usize::MAX {
                        (branch.to, branch.from, 1.0)
                    } else if self.degree[branch.from] == 1 && self.degree[branch.to] != usize::MAX {
                        (branch.from, branch.to, -1.0)
                    } else {
                        continue;
                    };
                self.branch_current[b] = self.flow[leaf].scale(sign);
                self.flow[rest] = self.flow[rest] + self.flow[leaf];
                self.degree[leaf] = usize::MAX;
                self.degree[rest] -= 1;
                peeled = true;
            }
            if !peeled {
                break;
            }
        }
    }
}

fn merge(label: &mut [usize], a: usize, b: usize) -> bool {
    let low = label[a].min(label[b]);
    let changed = label[a] != low || label[b] != low;
    label[a] = low;
    label[b] = low;
    changed
}

/// Complex elimination without pivoting: admittance matrices of an island with a source are diagonally dominant. Most
/// groups meet few others, so most factors are zero.
fn eliminate_complex(matrix: &mut [Complex], right: &mut [Complex]) {
    let n = right.len();
    for k in 0..n {
        let (above, below) = matrix.split_at_mut((k + 1) * n);
        let row = &above[k * n..];
        let pivot = row[k].inverse();
        let (done, rest) = right.split_at_mut(k + 1);
        for (other, right) in below.chunks_exact_mut(n).zip(rest) {
            let factor = other[k] * pivot;
            if factor == Complex::ZERO {
                continue;
            }
            for (number, of_pivot) in other[k + 1..].iter_mut().zip(&row[k + 1..]) {
                *number = *number - factor * *of_pivot;
            }
            *right = *right - factor * done[k];
        }
    }
    for (i, row) in matrix.chunks_exact(n).enumerate().rev() {
        let mut sum = right[i];
        for (&number, &known) in row[i + 1..].iter().zip(&right[i + 1..]) {
            sum = sum - number * known;
        }
        right[i] = sum * row[i].inverse();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stiff(net: &mut AcNet, node: usize, volts: f64) {
        net.add_source(node, Complex::new(volts, 0.0), Complex::new(1e6, 0.0), 60.0, 1.0);
    }

    #[test]
    fn open_breaker_leaves_the_far_bus_dead_and_a_closed_one_carries_its_load() {
        let mut net = AcNet::new(vec![440.0; 3], vec![60.0; 3], &[(0, 1), (1, 2)]);
        net.switch(0, true);
        stiff(&mut net, 0, 440.0);
        net.add_admittance(1, Complex::new(1.0, 0.0));
        net.solve();
        net.find_branch_currents();
        assert!((net.voltage[1].abs() - 440.0).abs() < 0.01);
        assert_eq!(net.voltage[2], Complex::ZERO);
        assert_eq!(net.frequency_hz[2], 0.0);
        let power = net.voltage[1] * net.branch_current[0].conj();
        assert!((power.re - 440.0 * 440.0).abs() < 20.0);
        net.switch(0, false);
        net.solve();
        assert_eq!(net.voltage[1], Complex::ZERO);
    }

    /// Transformer drop in its simple form, 0.015 cos + 0.035 sin at rated current (Chapman, Electric Machinery
    /// Fundamentals, ch. 2; from memory): within 0.1 % of voltage.
    #[test]
    fn transformer_drops_by_its_impedance() {
        let mut net = AcNet::new(vec![440.0, 220.0], vec![60.0; 2], &[(0, 1)]);
        let rated = 75e3;
        let base = 220.0 * 220.0 / rated;
        net.branches[0].series = Some(Complex::new(0.015 * base, 0.035 * base).inverse());
        net.switch(0, true);
        stiff(&mut net, 0, 440.0);
        net.add_admittance(1, Complex::new(0.8, -0.6).scale(1.0 / base));
        net.solve();
        let drop = 1.0 - net.voltage[1].abs() / 220.0;
        assert!((drop - (0.015 * 0.8 + 0.035 * 0.6) * 0.97).abs() < 0.001, "{drop}");
    }
}
