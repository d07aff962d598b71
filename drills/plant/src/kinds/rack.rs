//! The fuel rack of every diesel engine: what its governor asks for, and what the fuel pressure lets it have. Not a kind.

use crate::ctx::Ctx;

/// Where a kind keeps its governor.
pub struct Governor {
    /// Parameters: proportional and integral gain.
    pub gains: (usize, usize),
    /// State: integral part.
    pub integral: usize,
    /// Range of the integral part.
    pub keeps: (f64, f64),
}

impl Governor {
    /// Rack asked for by an error of speed, between nothing and `limit`. The integral rests at either end.
    pub fn asks(&self, ctx: &mut Ctx<'_>, error: f64, limit: f64) -> f64 {
        let wanted = ctx.p(self.gains.0) * error + ctx.s(self.integral);
        let pushes_out = (wanted > limit && error > 0.0) || (wanted < 0.0 && error < 0.0);
        if !pushes_out {
            let integral = ctx.s(self.integral) + ctx.p(self.gains.1) * error * ctx.dt_s;
            ctx.set(self.integral, integral.clamp(self.keeps.0, self.keeps.1));
        }
        wanted.clamp(0.0, limit)
    }
}

/// Share of the wanted fuel that the fuel pressure lets the injection pumps take; idling needs a third of
/// `full_load_pa`.
pub fn fuel_share(pressure_pa: f64, full_load_pa: f64, rack: f64) -> f64 {
    let needed = full_load_pa * (0.33 + 0.67 * rack.min(1.0));
    ((pressure_pa / needed.max(1.0) - 0.5) / 0.5).clamp(0.0, 1.0)
}

/// Cranking torque over rated: `full` at standstill with all of the starting energy, nothing at the speed that cranking
/// comes to.
pub fn cranking_share(full: f64, energy: f64, speed_share: f64, top_share: f64) -> f64 {
    full * energy.clamp(0.0, 1.2) * (1.0 - speed_share / top_share).max(0.0)
}
