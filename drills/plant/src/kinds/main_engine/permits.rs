//! What stands in the way of acts.

use super::*;
use crate::ctx::{Ctx, View};
use crate::fluid::ZERO_C_K;
use crate::kind::{Act, Block};
use crate::kinds::electric::block_without_control;
use crate::kinds::engine_words::{self, Say};
use crate::unit::format_si;

pub(super) fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    let phase = view.s(PHASE);
    if act.remote && matches!(act.index, START | STOP | SET_LOAD | SET_SPEED_ACT) {
        block_without_control(view, CONTROL, blocks);
    }
    super::care::CYLINDERS_AND_COCKS.block(view, act, blocks);
    let mut block = |code, text: String| blocks.push(Block { code, text });
    if act.index == START && act.remote && view.is(COCKS) {
        engine_words::cocks_open(&mut block);
    }
    match act.index {
        START => start_blocks(view, &mut block),
        STOP if phase == STOPPED || phase == STOPPING => engine_words::not_running(&mut block),
        RESET => reset_blocks(view, &mut block),
        SET_SPEED_ACT => {
            let share = act.value / view.p(SPEED);
            if view.p(PROPELLER) > 0.5 {
                block("speed-follows-load", "its propeller is fixed: order a load".into());
            } else if !(0.949..=1.051).contains(&share) {
                block("out-of-range", "it takes 95 to 105 % of rated speed".into());
            }
        }
        SET_GEAR if phase != STOPPED => engine_words::still_turning(&mut block),
        _ => {}
    }
}

fn start_blocks(view: &View<'_>, block: &mut impl Say) {
    let bar = |pa: f64| format_si(pa, Dimension::Pressure);
    if view.s(PHASE) != STOPPED {
        engine_words::not_stopped(block, PHASES[view.s(PHASE) as usize]);
    }
    if view.s(SHUTDOWN) != 0.0 {
        engine_words::latched(block, CAUSES[view.s(SHUTDOWN) as usize]);
    }
    if view.is(GEAR_IN) {
        engine_words::gear_in(block);
    }
    let mut below = |code, what: &str, now: f64, least: f64| {
        if now < least {
            block(code, format!("{what} {}, needs {}", bar(now), bar(least)));
        }
    };
    below("not-primed", "lube pressure", view.pressure_pa(GALLERY), view.p(LUBE_START));
    if view.has_port(AIR) {
        below("starting-air-low", "starting air", view.air_pa(AIR), view.p(AIR_MIN));
    }
    if view.has_port(CONTROL_AIR) {
        below("control-air-low", "control air", view.air_pa(CONTROL_AIR), view.p(CONTROL_AIR_MIN));
    }
    if view.has_port(FUEL) {
        below("no-fuel", "fuel", view.pressure_pa(FUEL), view.p(FUEL_MIN));
    }
    if view.temperature_k(HT) < view.p(WARM_MIN) {
        let (now, least) = (view.temperature_c(HT), view.p(WARM_MIN) - ZERO_C_K);
        block("cold", format!("jacket water {now:.0} degC, needs {least:.0} degC"));
    }
    if view.p(PROPELLER) < 0.5 && view.s(PITCH) > view.p(ZERO_PITCH) + 0.02 {
        block("pitch-not-zero", "its propeller is not at zero pitch".into());
    }
}

fn reset_blocks(view: &View<'_>, block: &mut impl Say) {
    if view.s(SHUTDOWN) == 0.0 && view.s(SLOWDOWN) == 0.0 {
        block("nothing-latched", "no shutdown and no slowdown is latched".into());
    }
    if view.s(SHUTDOWN) != 0.0 && view.s(PHASE) != STOPPED {
        engine_words::still_turning(block);
    }
    if view.temperature_k(HT) > view.p(HT_SLOW) {
        block("still-hot", format!("HT water is at {:.0} degC", view.temperature_c(HT)));
    }
}

/// The same conditions as in [`start_blocks`], for the reading.
pub(super) fn ready(ctx: &Ctx<'_>) -> bool {
    let air = |port: usize, least: usize| !ctx.has_port(port) || ctx.air_pa(port) >= ctx.p(least);
    let zero_pitch = ctx.p(PROPELLER) > 0.5 || ctx.s(PITCH) <= ctx.p(ZERO_PITCH) + 0.02;
    ctx.s(PHASE) == STOPPED
        && ctx.s(SHUTDOWN) == 0.0
        && !ctx.is(GEAR_IN)
        && !ctx.is(COCKS)
        && zero_pitch
        && ctx.pressure_pa(GALLERY) >= ctx.p(LUBE_START)
        && air(AIR, AIR_MIN)
        && air(CONTROL_AIR, CONTROL_AIR_MIN)
        && (!ctx.has_port(FUEL) || ctx.pressure_pa(FUEL) >= ctx.p(FUEL_MIN))
        && ctx.temperature_k(HT) >= ctx.p(WARM_MIN)
}
