//! What a node holds: stiff while it is full, a cavity of vapour below that, and air where a line hangs on something empty.

use super::{LiquidNet, SMOOTH_PA};

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

impl LiquidNet {
    /// What a node holds more (or, with a cavity in it, less) than when it is just full at vapour pressure, m3.
    pub fn content_m3(&self, node: usize) -> f64 {
        let over_pa = self.pressure_pa[node] - self.vapour_pa[node];
        if over_pa >= 0.0 { over_pa * self.volume_m3[node] / STIFFNESS_PA } else { over_pa * CAVITY_M3_PA }
    }

    pub(super) fn compliance_m3_pa(&self, node: usize) -> f64 {
        if self.pressure_pa[node] >= self.vapour_pa[node] {
            self.volume_m3[node] / STIFFNESS_PA
        } else {
            CAVITY_M3_PA
        }
    }

    /// Share of a node's volume that is liquid, 1 where a component sets its pressure.
    pub fn filled(&self, node: usize) -> f64 {
        let full = self.pressure_pa[node] >= self.vapour_pa[node];
        if full || self.fixed[node] || self.volume_m3[node] <= 0.0 {
            return 1.0;
        }
        (1.0 + self.content_m3(node) / self.volume_m3[node]).clamp(0.0, 1.0)
    }

    /// A node that has run empty gives no more than what flows in: judged once a tick, at its beginning.
    pub(super) fn find_what_is_left(&mut self) {
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
    pub(super) fn let_air_in(&mut self, dt_s: f64) {
        for c in 0..self.circuits.len() {
            let before = self.lift_pa[c];
            let mut wanted = 0.0;
            for &(b, set, free) in &self.circuits[c].mouths {
                if self.wet[set] >= 0.5 {
                    continue;
                }
                let branch = &self.branches[b];
                // Against the air at its own height; an empty line has no weight.
                let below_pa = self.boils_pa[free] - VAPOUR_PA - self.pressure_pa[free];
                let draws = below_pa > SMOOTH_PA || (before > 0.0 && below_pa > -AIR_STAYS_PA);
                let holds = branch.shut || (branch.one_way && branch.from == free);
                if draws && !holds && branch.head_pa <= 0.0 {
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
}
