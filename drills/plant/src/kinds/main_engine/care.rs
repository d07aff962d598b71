//! What hands do to it at standstill: indicator cocks, blowing through, water in a cylinder.

use super::*;
use crate::ctx::{Ctx, View};
use crate::kind::{Act, Block};

/// Water that bends a rod, share of what fills a clearance.
const BENDS_AT: f64 = 0.10;
/// Time in which turning with open cocks throws all the water out, s.
const BLOWS_OUT_S: f64 = 3.0;
/// Below this share of rated speed it stands.
const STANDS: f64 = 0.005;
/// Friction that a bent rod adds, over rated torque: it does not run up.
pub(super) const BENT: f64 = 0.5;

fn turns(speed_rad_s: f64, rated_rad_s: f64) -> bool {
    speed_rad_s > STANDS * rated_rad_s
}

/// Water lies on a piston once for each time the fault comes; turning brings it out, by an open cock or by force.
pub(super) fn water(ctx: &mut Ctx<'_>) {
    let slug = ctx.fault(SLUG);
    let turning = turns(ctx.speed_rad_s(SHAFT), ctx.p(SPEED));
    if slug > ctx.s(WATER_FROM) && !turning {
        let lies = ctx.s(WATER).max(slug);
        ctx.set(WATER, lies);
    }
    ctx.set(WATER_FROM, slug);
    if slug <= 0.0 && ctx.is(BROKEN) {
        ctx.set_is(BROKEN, false);
        ctx.set(WATER, 0.0);
    }
    if !turning || ctx.s(WATER) <= 0.0 {
        return;
    }
    if ctx.is(COCKS) {
        let left = (ctx.s(WATER) - ctx.dt_s / BLOWS_OUT_S).max(0.0);
        ctx.set(WATER, left);
        if left <= 0.0 {
            ctx.find(F_WATER_OUT, 0.0, 0.0, 0.0);
        }
    } else {
        if ctx.s(WATER) >= BENDS_AT {
            ctx.set_is(BROKEN, true);
            ctx.find(F_BROKEN, ctx.speed_rad_s(SHAFT), 0.0, 0.0);
        }
        ctx.set(WATER, 0.0);
    }
}

pub(super) fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if !matches!(act.index, OPEN_COCKS | SHUT_COCKS) {
        return;
    }
    if turns(view.speed_rad_s(SHAFT), view.p(SPEED)) {
        let text = "it turns: not with hands at its cylinders".into();
        blocks.push(Block { code: "still-turning", text });
    }
    let (open, code, text) = if act.index == OPEN_COCKS {
        (true, "already-open", "its indicator cocks are open")
    } else {
        (false, "already-shut", "its indicator cocks are shut")
    };
    if view.is(COCKS) == open {
        blocks.push(Block { code, text: text.into() });
    }
}

pub(super) fn publish(ctx: &mut Ctx<'_>) {
    let blows = ctx.is(COCKS) && turns(ctx.speed_rad_s(SHAFT), ctx.p(SPEED));
    let comes = match (blows, ctx.s(WATER) > 0.0) {
        (false, _) => 0.0,
        (true, false) => 1.0,
        (true, true) => 2.0,
    };
    ctx.read_out(R_COCKS, ctx.s(COCKS));
    ctx.read_out(R_BLOWN, comes);
}
