//! What hands and habits do to the engine: indicator cocks, water in a cylinder, load while cold, an hour at low load.

use super::*;
use crate::kinds::cylinders::Cylinders;
use crate::kinds::{engine_controls, harm};

/// An engine whose jacket is colder than this is cold, K: 40 degC (invented, within the trade's range).
const COLD_K: f64 = 313.15;
/// What a cold engine may carry, and for how long after firing that counts; invented.
const COLD_LOAD: f64 = 0.30;
const COLD_FOR_S: f64 = 300.0;
/// Beyond this for so long it is a finding, s: a step of load is not.
const COLD_PATIENCE_S: f64 = 10.0;
/// An hour below this load fouls nozzles and exhaust; common practice, no source.
const LOW_LOAD: f64 = 0.15;
const LOW_LOAD_S: f64 = 3600.0;
/// What an injection pipe leaks at full severity, m3/s: 20 L/h; and what the pot holds, m3.
const PIPE_LEAK_M3_S: f64 = 20e-3 / 3600.0;
const POT_HOLDS_M3: f64 = 0.01;

pub(super) const CYLINDERS_AND_COCKS: Cylinders = Cylinders {
    shaft: SHAFT,
    rated_speed: SPEED,
    turns_above: 0.01,
    cocks: COCKS,
    water: WATER,
    answered: WATER_FROM,
    broken: BROKEN,
    slug: SLUG,
    acts: (OPEN_COCKS, SHUT_COCKS),
    findings: (F_BLOWN, F_BROKEN),
};

pub(super) fn control(ctx: &mut Ctx<'_>) {
    let speed_share = ctx.speed_rad_s(SHAFT) / ctx.p(SPEED);
    CYLINDERS_AND_COCKS.water(ctx);
    habits(ctx, speed_share);
    if ctx.faulty(HUNTS) {
        let phase = ctx.s(HUNT) + std::f64::consts::PI * ctx.dt_s;
        ctx.set(HUNT, if phase > std::f64::consts::TAU { phase - std::f64::consts::TAU } else { phase });
    }
    if ctx.is(RUNS) {
        let pot = ctx.s(POT) + ctx.fault(FUEL_LEAK) * PIPE_LEAK_M3_S * ctx.dt_s;
        ctx.set(POT, pot.min(POT_HOLDS_M3));
    }
}

fn habits(ctx: &mut Ctx<'_>, speed_share: f64) {
    let running = ctx.s(BURN) > 0.3 && speed_share > 0.5;
    ctx.set_is(RUNS, running);
    let load = ctx.own(R_LOAD);
    let new = ctx.linked(CONTROLS, engine_controls::R_RUN_TIME) < COLD_FOR_S;
    let cold = running && new && ctx.temperature_k(HT) < COLD_K && load > COLD_LOAD;
    let before_s = ctx.s(COLD_S);
    let cold_s = ctx.time_while(COLD_S, cold);
    if before_s < COLD_PATIENCE_S && cold_s >= COLD_PATIENCE_S {
        ctx.find(F_COLD, load, COLD_LOAD, cold_s);
    }
    let before_s = ctx.s(LOW_S);
    let low_s = ctx.time_while(LOW_S, running && load < LOW_LOAD);
    if before_s < LOW_LOAD_S && low_s >= LOW_LOAD_S {
        ctx.find(F_LOW, load, LOW_LOAD, low_s);
    }
}

pub(super) fn publish(ctx: &mut Ctx<'_>) {
    let comes = CYLINDERS_AND_COCKS.comes_out(ctx);
    ctx.read_out(R_COCKS, ctx.s(COCKS));
    ctx.read_out(R_BLOWN, comes);
    ctx.read_out(R_LEVER, ctx.s(LEVER));
    ctx.read_out(R_POT, ctx.s(POT));
    let seen = harm::sign(ctx.fault(OIL_LEAK), ctx.pressure_pa(GALLERY));
    ctx.read_out(R_OIL_SIGN, seen);
    ctx.read_out(R_BROKEN, ctx.s(BROKEN));
}
