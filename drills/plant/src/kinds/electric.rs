//! What the electric kinds have in common: words, admittances of loads, protection curves.

use crate::ctx::{Ctx, View};
use crate::kind::Block;
use crate::nets::ac::Complex;

/// sqrt(3).
pub const ROOT_3: f64 = 1.732_050_807_568_877_2;
/// Line current in amperes of a scaled current (see [`crate::nets::ac`]).
pub fn line_a(scaled: Complex) -> f64 {
    scaled.abs() / ROOT_3
}

/// A contactor pulls in from this share of nominal voltage (IEC 60947-4-1, from memory).
pub const PULL_IN_SHARE: f64 = 0.85;
/// A contactor drops out below this share of nominal voltage (within the 20 to 75 % of IEC 60947-4-1, from memory).
pub const DROP_OUT_SHARE: f64 = 0.55;
/// For how long the voltage must be low before a contactor has dropped out, s; common practice, no source.
pub const DROP_OUT_S: f64 = 0.10;
/// Timers count in ticks; this much is forgiven for rounding, s.
pub const ROUNDING_S: f64 = 1e-6;

/// A start state has no solved voltages yet: before this tick none is judged.
pub const FIRST_VOLTAGE_TICK: u64 = 2;

/// Insulation of a healthy machine, cable or consumer to earth, ohm; common practice, no source.
pub const HEALTHY_OHM: f64 = 20e6;
/// Insulation that is left at the whole of a fault, ohm.
pub const EARTHED_OHM: f64 = 1e3;

/// Conductance to earth of one machine, cable or consumer by the severity of its fault, S: the resistance falls in
/// even steps of its logarithm from [`HEALTHY_OHM`] to [`EARTHED_OHM`].
pub fn leak_s(severity: f64) -> f64 {
    if severity <= 0.0 {
        // What nearly every consumer is in nearly every tick.
        return 1.0 / HEALTHY_OHM;
    }
    libm::pow(HEALTHY_OHM / EARTHED_OHM, severity.min(1.0)) / HEALTHY_OHM
}

/// Words of the restart parameter.
pub const RESTART_WORDS: &[&str] = &["by hand", "automatic", "in sequence"];
/// Stays off when the supply is back.
pub const BY_HAND: usize = 0;
/// Comes back by itself after its delay if it was on before.
pub const AUTOMATIC: usize = 1;
/// Comes back at its place in the sequence if it was on before.
pub const IN_SEQUENCE: usize = 2;

/// Admittance of a load that takes `power_w` at `power_factor` (lagging) from `voltage_v`, S.
pub fn load_admittance(power_w: f64, power_factor: f64, voltage_v: f64) -> Complex {
    let pf = power_factor.clamp(0.01, 1.0);
    let reactive_var = power_w * f64::sqrt(1.0 - pf * pf) / pf;
    let square = (voltage_v * voltage_v).max(1.0);
    Complex::new(power_w / square, -reactive_var / square)
}

/// Impedance or admittance of a given apparent power, S: `apparent_va` at `power_factor` from `voltage_v`.
pub fn apparent_admittance(apparent_va: f64, power_factor: f64, voltage_v: f64) -> Complex {
    let pf = power_factor.clamp(0.0, 1.0);
    let square = (voltage_v * voltage_v).max(1.0);
    Complex::new(pf, -f64::sqrt(1.0 - pf * pf)).scale(apparent_va / square)
}

/// An inverse-time curve: `t = TMS (k / (M^alpha - 1) + c)`.
pub struct Curve {
    k_s: f64,
    alpha: f64,
    c_s: f64,
}

/// Words of the curve parameter, in the order of [`CURVES`].
pub const CURVE_WORDS: &[&str] = &[
    "standard inverse",
    "very inverse",
    "extremely inverse",
    "long-time inverse",
    "ieee moderately inverse",
    "ieee very inverse",
    "ieee extremely inverse",
];
/// Constants of IEC 60255-151 and IEEE C37.112.
pub const CURVES: [Curve; 7] = [
    Curve { k_s: 0.14, alpha: 0.02, c_s: 0.0 },
    Curve { k_s: 13.5, alpha: 1.0, c_s: 0.0 },
    Curve { k_s: 80.0, alpha: 2.0, c_s: 0.0 },
    Curve { k_s: 120.0, alpha: 1.0, c_s: 0.0 },
    Curve { k_s: 0.0515, alpha: 0.02, c_s: 0.114 },
    Curve { k_s: 19.61, alpha: 2.0, c_s: 0.491 },
    Curve { k_s: 28.2, alpha: 2.0, c_s: 0.1217 },
];
/// Beyond this multiple of the setting a curve is flat (IEC 60255-151).
pub const CURVE_CAP: f64 = 20.0;
/// An inverse-time element that is no longer picked up forgets in this time, s; common practice, no source.
pub const CURVE_RESET_S: f64 = 10.0;

impl Curve {
    /// Time to trip at `multiple` times the setting, s; infinite at or below it.
    pub fn time_s(&self, multiple: f64, tms: f64) -> f64 {
        if multiple <= 1.0 + 1e-6 {
            return f64::INFINITY;
        }
        let m = multiple.min(CURVE_CAP);
        tms * (self.k_s / (libm::pow(m, self.alpha) - 1.0) + self.c_s)
    }

    /// The travel of an inverse-time element after `dt_s` at `multiple`; it trips at 1.
    pub fn travel(&self, travel: f64, multiple: f64, tms: f64, dt_s: f64) -> f64 {
        let time_s = self.time_s(multiple, tms);
        if time_s.is_finite() {
            travel + dt_s / time_s.max(1e-3)
        } else {
            (travel - dt_s / CURVE_RESET_S).max(0.0)
        }
    }
}

/// Adds a block when there is no control voltage at a DC port.
pub fn block_without_control(view: &View<'_>, port: usize, blocks: &mut Vec<Block>) {
    if !view.has_control_voltage(port) {
        let volts = view.nets.dc_v[view.node(port)];
        let text = format!("no control supply: {volts:.1} V, needs 18.0 V");
        blocks.push(Block { code: "no-control-supply", text });
    }
}

/// Is a consumer to be shed now? `link` watches a stage of preferential trip, `stage` is the parameter of its own.
pub fn is_shed(ctx: &Ctx<'_>, link: usize, stage: usize) -> bool {
    ctx.has_link(link) && ctx.watched(link) > 0.5 && ctx.watched(link) + 0.5 > ctx.p(stage)
}

/// Adds what keeps a consumer off that was shed, or that needs a grant.
pub fn block_start(view: &View<'_>, shed: usize, permitted_by: usize, blocks: &mut Vec<Block>) {
    if view.is(shed) {
        let text = "it was taken off by preferential trip and is not reset".into();
        blocks.push(Block { code: "shed", text });
    }
    if view.has_link(permitted_by) && view.watched(permitted_by) < 0.5 {
        let text = "its power is not granted: ask the power management for it first".into();
        blocks.push(Block { code: "not-granted", text });
    }
}

/// A consumer's contactor: what drops it out and what brings it back. The state slots it uses.
pub struct Contactor {
    /// AC port.
    pub supply: usize,
    /// DC port of its controls.
    pub control: usize,
    /// State: contactor closed.
    pub on: usize,
    /// State: it wants back on when the supply is back.
    pub pending: usize,
    /// State: how long the voltage has been too low, s.
    pub low_s: usize,
    /// State: how long the supply has been back, s.
    pub back_s: usize,
    /// Parameter: restart mode.
    pub restart: usize,
    /// Parameter: delay of the restart, s.
    pub delay: usize,
}

/// What a contactor did in a tick.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// Nothing.
    None,
    /// It dropped out for want of voltage.
    Dropped,
    /// It pulled in again after the supply had come back.
    Restarted,
}

impl Contactor {
    /// Once a tick, with the share of nominal voltage that it has. `may_restart`: nothing of the consumer's own stands in
    /// the way.
    pub fn watch(&self, ctx: &mut Ctx<'_>, share: f64, may_restart: bool) -> Change {
        let low_s = ctx.time_while(self.low_s, share < DROP_OUT_SHARE);
        // A dip caused by others' starts must not begin the delay anew.
        let present = share >= PULL_IN_SHARE || (ctx.s(self.back_s) > 0.0 && share >= DROP_OUT_SHARE);
        let back_s = ctx.time_while(self.back_s, present);
        if ctx.is(self.on) && low_s + ROUNDING_S >= DROP_OUT_S {
            ctx.set_is(self.on, false);
            ctx.set_is(self.pending, ctx.p(self.restart) as usize != BY_HAND);
            return Change::Dropped;
        }
        let due = ctx.is(self.pending) && back_s > 0.0 && back_s + ROUNDING_S >= ctx.p(self.delay);
        if due && may_restart && share >= PULL_IN_SHARE && ctx.has_control_voltage(self.control) {
            ctx.set_is(self.pending, false);
            ctx.set_is(self.on, true);
            return Change::Restarted;
        }
        Change::None
    }

    /// Adds what keeps the contactor from pulling in now.
    pub fn block(&self, view: &View<'_>, blocks: &mut Vec<Block>) {
        let share = view.voltage_share(self.supply);
        if share < PULL_IN_SHARE {
            let nominal_v = view.nets.ac.nominal_v[view.node(self.supply)];
            let text = format!(
                "the supply has {:.0} V, the contactor pulls in from {:.0} V",
                share * nominal_v,
                PULL_IN_SHARE * nominal_v
            );
            blocks.push(Block { code: "no-supply", text });
        }
        block_without_control(view, self.control, blocks);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rows of idmt_curves.csv: `t = TMS (k/(M^alpha - 1) + c)`, IEC 60255-151 and IEEE C37.112, constants read in
    /// public relay manuals.
    const ROWS: [(usize, f64, f64, f64); 9] = [
        (0, 1.05, 1.0, 143.40155),
        (0, 2.0, 0.5, 5.0145135),
        (0, 10.0, 0.1, 0.29705986),
        (0, 20.0, 1.0, 2.2673564),
        (1, 1.2, 1.0, 67.5),
        (1, 1.5, 0.5, 13.5),
        (1, 3.0, 0.5, 3.375),
        (1, 5.0, 1.0, 3.375),
        (1, 10.0, 0.1, 0.15),
    ];

    #[test]
    fn elements_trip_at_the_times_of_the_standard_curves() {
        for (curve, multiple, tms, expected_s) in ROWS {
            let (mut travel, mut time_s) = (0.0, 0.0);
            while travel < 1.0 {
                travel = CURVES[curve].travel(travel, multiple, tms, 0.05);
                time_s += 0.05;
            }
            let error_s = (time_s - expected_s).abs();
            assert!(
                error_s <= 0.02 * expected_s + 0.0501,
                "curve {curve} M {multiple}: {time_s} for {expected_s}"
            );
        }
    }
}
