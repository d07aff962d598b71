//! The equivalent circuit of an induction motor, per phase of a star.

use crate::kinds::electric::apparent_admittance;
use crate::nets::ac::Complex;

/// Resistances and reactances at nominal frequency, ohm; conductances, S.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circuit {
    /// Stator resistance before the magnetising branch.
    pub r1_ohm: f64,
    /// Stator reactance before the magnetising branch.
    pub x1_ohm: f64,
    /// Iron loss.
    pub iron_s: f64,
    /// Magnetising susceptance, 1/Xm.
    pub magnetising_s: f64,
    /// Resistance in series with the rotor that makes no torque (the stator's, when it stands behind the branch).
    pub series_ohm: f64,
    /// Rotor resistance at small slip.
    pub r2_run_ohm: f64,
    /// Rotor resistance at standstill.
    pub r2_start_ohm: f64,
    /// Reactance of the rotor branch.
    pub x2_ohm: f64,
}

/// Ratings from which a circuit is worked out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ratings {
    /// Line voltage, V.
    pub voltage_v: f64,
    /// Rated shaft power, W.
    pub shaft_w: f64,
    /// Electric power at rated shaft power, W.
    pub input_w: f64,
    /// Power factor at rated power.
    pub power_factor: f64,
    /// Slip at rated power.
    pub slip: f64,
    /// Apparent power at standstill, VA.
    pub locked_va: f64,
    /// Power factor at standstill.
    pub locked_power_factor: f64,
}

/// Efficiency of a four-pole cage motor when the ship file gives none: a smooth line through IE2/IE3 values of
/// IEC 60034-30-1, from memory.
pub fn usual_efficiency(shaft_w: f64) -> f64 {
    1.0 - 0.18 * libm::pow((shaft_w / 1e3).max(0.1), -0.27)
}

/// Locked-rotor apparent power of design N, VA per W of rating (IEC 60034-12, from memory).
pub fn design_n_locked(shaft_w: f64) -> f64 {
    match shaft_w {
        p if p <= 6.3e3 => 13.0,
        p if p <= 25e3 => 12.0,
        p if p <= 63e3 => 11.0,
        _ => 10.0,
    }
}

/// What a motor takes and gives at one speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Admittance at its terminals, S.
    pub admittance: Complex,
    /// Torque on the shaft per square volt, Nm/V2.
    pub torque_per_v2: f64,
}

impl Circuit {
    /// Closed form from ratings. The magnetising branch stands at the terminals. Given the reactance, the rotor
    /// branch follows from rated power; given the rotor branch, the magnetising branch follows from rated reactive
    /// power; what both leave of the locked-rotor admittance gives the reactance anew. A few rounds are enough.
    pub fn from_ratings(r: &Ratings) -> Circuit {
        let square = r.voltage_v * r.voltage_v;
        let pf = r.power_factor.clamp(0.1, 0.99);
        let reactive_var = r.input_w * f64::sqrt(1.0 - pf * pf) / pf;
        let gap_w = r.shaft_w / (1.0 - r.slip);
        let locked = apparent_admittance(r.locked_va, r.locked_power_factor, r.voltage_v);
        // Half of what the rotor does not explain is lost in the stator's winding, half in iron; the winding's part
        // is lowered where the locked-rotor power factor leaves no room for it (small motors).
        let lost_w = (r.input_w - gap_w).max(0.01 * gap_w);
        let mut copper_w = 0.5 * lost_w;
        let mut c = Circuit {
            r1_ohm: 0.0,
            x1_ohm: 0.0,
            iron_s: copper_w / square,
            magnetising_s: 0.0,
            series_ohm: 0.0,
            r2_run_ohm: 0.0,
            r2_start_ohm: 0.0,
            x2_ohm: locked.inverse().im,
        };
        for _ in 0..16 {
            let branch = (locked - Complex::new(c.iron_s, -c.magnetising_s)).inverse();
            let branch_w = gap_w + copper_w;
            let root = square * square - 4.0 * branch_w * branch_w * c.x2_ohm * c.x2_ohm;
            let total_ohm = (square + f64::sqrt(root.max(0.0))) / (2.0 * branch_w);
            let current_square = branch_w / total_ohm;
            c.series_ohm = (0.5 * lost_w / current_square).min(0.45 * branch.re);
            copper_w = c.series_ohm * current_square;
            c.iron_s = (lost_w - copper_w) / square;
            // At rated slip the straight line between both resistances must give this value.
            let rated_ohm = (total_ohm - c.series_ohm) * r.slip;
            c.r2_start_ohm = (branch.re - c.series_ohm).max(0.5 * rated_ohm);
            c.r2_run_ohm = ((rated_ohm - c.r2_start_ohm * r.slip) / (1.0 - r.slip)).max(0.3 * rated_ohm);
            let (size, real) = (branch.abs(), c.series_ohm + c.r2_start_ohm);
            c.x2_ohm = f64::sqrt((size * size - real * real).max(0.25 * size * size));
            c.magnetising_s = ((reactive_var - c.x2_ohm * current_square) / square).max(0.02 * locked.abs());
        }
        c
    }

    /// Admittance and torque at a slip; `k` is frequency over nominal, `synchronous_rad_s` the speed of the field.
    pub fn at(&self, slip: f64, k: f64, synchronous_rad_s: f64) -> Point {
        let deep = slip.clamp(0.0, 1.0);
        let r2_ohm = self.r2_run_ohm + (self.r2_start_ohm - self.r2_run_ohm) * deep;
        // Rotor branch s / (R2 + s (R + jX)): no division by slip.
        let denominator = Complex::new(r2_ohm + slip * self.series_ohm, slip * k * self.x2_ohm);
        let rotor = denominator.inverse().scale(slip);
        let inner = rotor + Complex::new(self.iron_s, -self.magnetising_s / k.max(0.02));
        let stator = Complex::new(self.r1_ohm, k * self.x1_ohm);
        let share = (Complex::new(1.0, 0.0) + stator * inner).inverse();
        let gap_w_per_v2 = slip * r2_ohm / denominator.norm_square().max(1e-12) * share.norm_square();
        Point { admittance: inner * share, torque_per_v2: gap_w_per_v2 / synchronous_rad_s.max(0.1) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Exact per-phase circuit (IEEE 112; Chapman, Electric Machinery Fundamentals, ch. 6, whose example is the
    /// first motor), rows of im_torque_slip.csv: V, R1, X1, R2, X2, Xm, poles, slip, current A, input W, torque Nm.
    const ROWS: [[f64; 11]; 9] = [
        [460.0, 0.641, 1.106, 0.332, 0.464, 26.3, 4.0, 1.0, 144.52766, 60254.578, 106.5621],
        [460.0, 0.641, 1.106, 0.332, 0.464, 26.3, 4.0, 0.2, 95.297272, 60968.165, 230.79751],
        [460.0, 0.641, 1.106, 0.332, 0.464, 26.3, 4.0, 0.022, 18.891949, 12525.137, 62.806822],
        [440.0, 0.045, 0.19, 0.035, 0.21, 6.2, 4.0, 1.0, 633.64528, 93643.282, 209.2353],
        [440.0, 0.045, 0.19, 0.035, 0.21, 6.2, 4.0, 0.1, 458.58256, 234357.77, 1092.6918],
        [352.0, 0.045, 0.19, 0.035, 0.21, 6.2, 4.0, 0.022, 125.00535, 67834.55, 348.68193],
        [440.0, 0.13, 0.42, 0.11, 0.47, 14.0, 4.0, 0.03, 67.603023, 46002.128, 234.59313],
        [440.0, 0.45, 1.1, 0.38, 1.2, 34.0, 6.0, 0.15, 68.521838, 39459.347, 263.56671],
        [352.0, 0.45, 1.1, 0.38, 1.2, 34.0, 6.0, 0.005, 6.3422491, 1565.5971, 12.0265],
    ];

    #[test]
    fn exact_circuit_gives_published_current_power_and_torque() {
        let mut worst: f64 = 0.0;
        for [v, r1, x1, r2, x2, xm, poles, slip, amps, watts, torque] in ROWS {
            let circuit = Circuit {
                r1_ohm: r1,
                x1_ohm: x1,
                iron_s: 0.0,
                magnetising_s: 1.0 / xm,
                series_ohm: 0.0,
                r2_run_ohm: r2,
                r2_start_ohm: r2,
                x2_ohm: x2,
            };
            let synchronous = 2.0 * std::f64::consts::TAU * 60.0 / poles;
            let point = circuit.at(slip, 1.0, synchronous);
            let found = [
                v * point.admittance.abs() / 3f64.sqrt(),
                v * v * point.admittance.re,
                v * v * point.torque_per_v2,
            ];
            for (found, expected) in found.into_iter().zip([amps, watts, torque]) {
                worst = worst.max((found / expected - 1.0).abs());
            }
        }
        assert!(worst < 0.02, "{worst}");
        assert!(worst < 1e-6, "exact circuit, exact code: {worst}");
    }

    /// The closed form gives back the ratings it was made from, for every size on a list of consumers.
    #[test]
    fn circuit_from_ratings_gives_the_ratings_back() {
        for shaft_w in [1.1e3, 2.2e3, 5.5e3, 11e3, 22e3, 37e3, 45e3, 110e3] {
            let efficiency = usual_efficiency(shaft_w);
            let ratings = Ratings {
                voltage_v: 440.0,
                shaft_w,
                input_w: shaft_w / efficiency,
                power_factor: 0.85,
                slip: 0.27 * (1.0 - efficiency),
                locked_va: design_n_locked(shaft_w) * shaft_w,
                locked_power_factor: 0.4,
            };
            let circuit = Circuit::from_ratings(&ratings);
            let synchronous = 188.5;
            let rated = circuit.at(ratings.slip, 1.0, synchronous);
            let square = 440.0 * 440.0;
            let shaft = rated.torque_per_v2 * square * synchronous * (1.0 - ratings.slip);
            assert!((shaft / shaft_w - 1.0).abs() < 0.005, "{shaft_w}: shaft {shaft}");
            let input = rated.admittance.re * square;
            assert!((input / ratings.input_w - 1.0).abs() < 0.01, "{shaft_w}: input {input}");
            let pf = rated.admittance.re / rated.admittance.abs();
            assert!((pf - 0.85).abs() < 0.01, "{shaft_w}: pf {pf}");
            let locked = circuit.at(1.0, 1.0, synchronous);
            let locked_va = locked.admittance.abs() * square;
            assert!((locked_va / ratings.locked_va - 1.0).abs() < 0.02, "{shaft_w}: locked {locked_va}");
            let start = locked.torque_per_v2 / rated.torque_per_v2;
            assert!((1.0..4.0).contains(&start), "{shaft_w}: starting torque {start}");
        }
    }
}
