//! What hands do to it at standstill: indicator cocks, blowing through, water in a cylinder.

use super::*;
use crate::ctx::Ctx;
use crate::kinds::cylinders::Cylinders;

/// Friction that a bent rod adds, over rated torque: it does not run up.
pub(super) const BENT: f64 = 0.5;

pub(super) const CYLINDERS_AND_COCKS: Cylinders = Cylinders {
    shaft: SHAFT,
    rated_speed: SPEED,
    turns_above: 0.005,
    cocks: COCKS,
    water: WATER,
    answered: WATER_FROM,
    broken: BROKEN,
    slug: SLUG,
    acts: (OPEN_COCKS, SHUT_COCKS),
    findings: (F_WATER_OUT, F_BROKEN),
};

pub(super) fn publish(ctx: &mut Ctx<'_>) {
    let comes = CYLINDERS_AND_COCKS.comes_out(ctx);
    ctx.read_out(R_COCKS, ctx.s(COCKS));
    ctx.read_out(R_BLOWN, comes);
}
