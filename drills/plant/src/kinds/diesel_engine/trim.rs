//! The governor's set point: its motor, its range, speed droop or one speed at any load.

use super::*;
use crate::ctx::{Ctx, View};
use crate::kind::{Act, Block};
use crate::unit::format_si;

/// Speed droop now.
pub(super) fn droop(ctx: &Ctx<'_>) -> f64 {
    if ctx.is(GOVERNOR_MODE) { 0.0 } else { ctx.p(DROOP) }
}

/// The motor runs to the aim at its rate.
pub(super) fn control(ctx: &mut Ctx<'_>) {
    if ctx.s(AIM) < 0.0 {
        ctx.set(AIM, ctx.s(SET_SPEED));
    }
    let step = ctx.p(TRIM_RATE) * ctx.dt_s;
    let moved = ctx.s(SET_SPEED) + (ctx.s(AIM) - ctx.s(SET_SPEED)).clamp(-step, step);
    ctx.set(SET_SPEED, moved);
}

pub(super) fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    let (low, high) = (view.p(SET_LOW) * view.p(SPEED), view.p(SET_HIGH) * view.p(SPEED));
    let beyond = act.value < low - 1e-3 || act.value > high + 1e-3;
    if act.index == SET_SPEED_ACT && beyond {
        let say = |speed| format_si(speed, Dimension::Speed);
        let text = format!("{} is outside of {} to {}", say(act.value), say(low), say(high));
        blocks.push(Block { code: "out-of-range", text });
    }
}

pub(super) fn act(ctx: &mut Ctx<'_>, act: Act) {
    let within = |ctx: &Ctx<'_>, aim: f64| aim.clamp(ctx.p(SET_LOW), ctx.p(SET_HIGH));
    let aim = match act.index {
        SET_SPEED_ACT => within(ctx, act.value / ctx.p(SPEED)),
        TRIM => {
            let from = if ctx.s(AIM) < 0.0 { ctx.s(SET_SPEED) } else { ctx.s(AIM) };
            within(ctx, from + act.value)
        }
        _ => {
            ctx.set(GOVERNOR_MODE, act.value);
            return;
        }
    };
    ctx.set(AIM, aim);
}
