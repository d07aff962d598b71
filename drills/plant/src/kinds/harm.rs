//! What faults of unlike kinds have in common: leaks, signs for the eye, sensors that tell untruths.

use crate::ctx::Ctx;

/// What a person sees at a seal, a joint or a cover.
pub const SIGNS: &[&str] = &["dry", "drips", "sprays"];

/// Index into [`SIGNS`] for a leak of this severity on a line with this gauge pressure.
pub fn sign(severity: f64, pressure_pa: f64) -> f64 {
    if severity <= 0.0 || pressure_pa < 1e3 {
        0.0
    } else if severity < 0.5 {
        1.0
    } else {
        2.0
    }
}

/// Most that a leak takes in a tick from a section that is shut in, m3/s for each pascal: its pressure falls towards
/// nothing and not below (from the stiffness of a node of twenty litres).
const SHUT_IN_M3_S_PA: f64 = 2e-9;

/// Flow out of a hole that passes `at_one_bar_m3_s` at 1 bar, m3/s; taken from the node of a liquid port, into the bilge.
pub fn leak(ctx: &mut Ctx<'_>, port: usize, at_one_bar_m3_s: f64) -> f64 {
    if at_one_bar_m3_s <= 0.0 {
        return 0.0;
    }
    let (pressure_pa, node) = (ctx.pressure_pa(port), ctx.node(port));
    if pressure_pa <= 0.0 || ctx.nets.liquid.wet[node] < 0.5 {
        return 0.0;
    }
    let free_m3_s = at_one_bar_m3_s * f64::sqrt(pressure_pa / 1e5);
    let flow_m3_s = free_m3_s.min(SHUT_IN_M3_S_PA * pressure_pa);
    ctx.nets.liquid.source_m3_s[node] -= flow_m3_s;
    ctx.spill(flow_m3_s);
    flow_m3_s
}

/// Flow between two liquid ports through a hole that passes `at_one_bar_m3_s` at 1 bar, m3/s; positive from the first.
pub fn leak_between(ctx: &mut Ctx<'_>, from: usize, to: usize, at_one_bar_m3_s: f64) -> f64 {
    if at_one_bar_m3_s <= 0.0 {
        return 0.0;
    }
    let difference_pa = ctx.pressure_pa(from) - ctx.pressure_pa(to);
    let size_pa = difference_pa.abs();
    let (from, to) = (ctx.node(from), ctx.node(to));
    let dry = ctx.nets.liquid.wet[if difference_pa > 0.0 { from } else { to }] < 0.5;
    if dry {
        return 0.0;
    }
    let free_m3_s = at_one_bar_m3_s * f64::sqrt(size_pa / 1e5);
    let flow_m3_s = free_m3_s.min(0.5 * SHUT_IN_M3_S_PA * size_pa) * difference_pa.signum();
    ctx.nets.liquid.source_m3_s[from] -= flow_m3_s;
    ctx.nets.liquid.source_m3_s[to] += flow_m3_s;
    flow_m3_s
}

/// The faults of a sensor, as indices into its kind's faults; `None`: it does not have this one.
pub struct Sensor {
    /// It shows what it showed when the fault came.
    pub frozen: Option<usize>,
    /// It shows more by up to `drift` of the call.
    pub reads_high: Option<usize>,
    /// It swings by up to `drift` of the call about the truth.
    pub noisy: Option<usize>,
    /// It shows the dead value.
    pub dead: Option<usize>,
    /// State that keeps what it showed last.
    pub held: usize,
}

impl Sensor {
    /// What it shows of the truth. The truth itself is for the plant, what is shown is for people and alerts.
    pub fn shows(&self, ctx: &mut Ctx<'_>, truth: f64, drift: f64, dead: f64) -> f64 {
        let severity = |ctx: &Ctx<'_>, fault: Option<usize>| fault.map_or(0.0, |fault| ctx.fault(fault));
        if severity(ctx, self.frozen) <= 0.0 {
            ctx.set(self.held, truth);
        }
        if severity(ctx, self.dead) > 0.0 {
            return dead;
        }
        let noise = severity(ctx, self.noisy);
        let swing = if noise > 0.0 { noise * unrest(ctx.tick, ctx.wiring.index) } else { 0.0 };
        ctx.s(self.held) + drift * (severity(ctx, self.reads_high) + swing)
    }
}

/// A number between -1 and 1 that changes at random every half second, the same in every run of the same ship: a hash
/// of the time and of who asks (SplitMix64, Steele, Lea, Flood 2014, from memory).
fn unrest(tick: u64, salt: usize) -> f64 {
    let mut z = (tick / 10).wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(salt as u64);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^= z >> 31;
    (z >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

#[cfg(test)]
mod tests {
    use super::unrest;

    #[test]
    fn unrest_is_even_and_the_same_every_time() {
        let values: Vec<f64> = (0..20_000).map(|i| unrest(i * 10, 7)).collect();
        let mean = values.iter().sum::<f64>() / values.len() as f64;
        assert!(mean.abs() < 0.02, "{mean}");
        assert!(values.iter().all(|v| (-1.0..1.0).contains(v)));
        assert_eq!(unrest(1234, 5), unrest(1239, 5), "it holds for half a second");
        assert_ne!(unrest(1234, 5), unrest(1244, 5));
        assert_ne!(unrest(1234, 5), unrest(1234, 6));
    }
}
