//! Excitation: when it comes on and falls off, the voltage regulator, the exciter.

use super::machine::square;
use super::*;

/// Excitation can be switched on from this share of rated speed.
const EXCITE_SHARE: f64 = 0.95;
/// Excitation falls off below this share of rated speed; common practice, no source.
const DROP_SHARE: f64 = 0.50;
/// The exciter has its full ceiling from this share of supply; below in proportion.
const FULL_SUPPLY: f64 = 0.3;
/// Part of the exciter's supply that comes from current (compounding): sustains a short circuit.
const COMPOUNDING: f64 = 0.25;
/// Below this supply the regulator does not wake; common practice, no source.
const WAKE_SHARE: f64 = 0.015;

/// Excitation comes on and falls off with speed, and goes by over-voltage.
pub(super) fn watch(ctx: &mut Ctx<'_>) {
    let b = own_base(ctx);
    let speed = ctx.speed_rad_s(SHAFT);
    let share = speed / b.speed_rad_s;
    if share >= EXCITE_SHARE && !ctx.is(WAS_FAST) {
        ctx.set_is(WAS_FAST, true);
        if ctx.p_is(AUTOMATIC) && !ctx.is(EXCITED) && !ctx.is(TRIPPED) {
            ctx.set_is(EXCITED, true);
            ctx.find(F_EXCITED, speed, EXCITE_SHARE * b.speed_rad_s, 0.0);
        }
    } else if share < 0.9 {
        ctx.set_is(WAS_FAST, false);
    }
    if share < DROP_SHARE && ctx.is(EXCITED) {
        ctx.set_is(EXCITED, false);
        ctx.find(F_DROPPED, speed, DROP_SHARE * b.speed_rad_s, 0.0);
    }
    let volts = ctx.nets.ac.volts[ctx.node(TERMINALS)];
    let limit_v = ctx.p(OVER_V) * b.volts;
    let over_s = ctx.time_while(OVER_TIME, volts > limit_v);
    if over_s > 0.0 && over_s >= ctx.p(OVER_S) && ctx.is(EXCITED) {
        ctx.set_is(EXCITED, false);
        ctx.set_is(TRIPPED, true);
        ctx.find(F_OVER, volts, limit_v, over_s);
    }
}

/// The voltage regulator and the exciter.
pub(super) fn regulate(ctx: &mut Ctx<'_>, v_pu: f64, i_pu: f64, q_pu: f64) {
    let node = ctx.node(TERMINALS);
    let supply = v_pu + COMPOUNDING * i_pu;
    let ceiling = if supply < WAKE_SHARE { 0.0 } else { ctx.p(CEILING) * (supply / FULL_SUPPLY).min(1.0) };
    let mut wanted = 0.0;
    if ctx.is(EXCITED) {
        let ramp = (ctx.s(RAMP) + ctx.dt_s / ctx.p(BUILD_UP)).min(1.0);
        ctx.set(RAMP, ramp);
        let hz_share = ctx.nets.ac.frequency_hz[node] / ctx.nets.ac.nominal_hz[node].max(1.0);
        let rated_q_pu = f64::sqrt((1.0 - square(ctx.p(RATED_PF))).max(0.01));
        let aim =
            ctx.s(SET_POINT) * (1.0 + 0.1 * ctx.fault(SET_DRIFTS)) * ramp * (hz_share / ctx.p(KNEE)).min(1.0);
        let droop = ctx.p(DROOP) * (1.0 - ctx.fault(NO_DROOP));
        let error = aim - v_pu - droop * (q_pu / rated_q_pu).clamp(-2.0, 2.0);
        let sum = ctx.p(KP) * error + ctx.s(INTEGRAL);
        wanted = sum.clamp(0.0, ceiling);
        // The integral rests while the output is at a limit and the error pushes further.
        if !(sum > ceiling && error > 0.0 || sum < 0.0 && error < 0.0) {
            let integral = ctx.s(INTEGRAL) + ctx.p(KI) * error * ctx.dt_s;
            ctx.set(INTEGRAL, integral.clamp(0.0, ctx.p(CEILING)));
        }
        wanted += (ceiling - wanted) * ctx.fault(AVR_HIGH);
        wanted *= 1.0 - ctx.fault(AVR_LOW);
    } else {
        ctx.set(RAMP, 0.0);
        ctx.set(INTEGRAL, 0.0);
    }
    if ctx.fault(FIELD_LOST) >= 0.5 {
        wanted = 0.0;
        ctx.set(FIELD, 0.0);
    }
    let field = ctx.s(FIELD);
    ctx.set(FIELD, field + (wanted - field) * ctx.p(FIELD_PART));
}

pub(super) fn permit_excitation(view: &View<'_>, b: &Base, blocks: &mut Vec<Block>) {
    let rpm = view.speed_rad_s(SHAFT) * 60.0 / TAU;
    let needs_rpm = EXCITE_SHARE * b.speed_rad_s * 60.0 / TAU;
    if rpm < needs_rpm {
        let text = format!("it turns with {rpm:.0} rpm, needs {needs_rpm:.0} rpm");
        blocks.push(Block { code: "speed-low", text });
    }
    if view.is(TRIPPED) {
        let text = "its excitation was tripped by over-voltage and is not reset".into();
        blocks.push(Block { code: "not-reset", text });
    }
}
