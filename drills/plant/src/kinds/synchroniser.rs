//! An automatic synchroniser: trims speed and voltage of an incoming machine and orders its breaker to close so that
//! the contacts meet in step. The synchronising panel and the automation of a set both have one.

use super::prime_mover::PrimeMover;
use super::{generator, generator_breaker as breaker};
use crate::ctx::Ctx;
use std::f64::consts::TAU;

/// Slip that it aims at, machine faster than bus, Hz: the middle of what a check relay allows.
const WANTED_SLIP_HZ: f64 = 0.12;
/// How often it trims, s; common practice, no source.
const TRIM_EVERY_S: f64 = 0.5;
/// Share of the deviation that a trim takes away.
const TRIM_SHARE: f64 = 0.6;
/// Most that it trims at once, Hz: what the governor's motor does until the next one.
const TRIM_MOST_HZ: f64 = 0.075;
/// Voltage difference that it leaves alone, V.
const VOLTAGE_DEAD_BAND_V: f64 = 1.0;
/// It orders the breaker to close when the contacts will meet within this angle, rad: two degrees.
const AIM_ANGLE_RAD: f64 = 2.0 * TAU / 360.0;
/// From reading to order, s: a tick for the reading, one for the request.
const ORDER_LAG_S: f64 = 0.1;

/// Links and state that it uses.
pub struct Synchroniser {
    /// Link to the generator's breaker.
    pub breaker: usize,
    /// What drives the machine; one without a governor is not trimmed.
    pub mover: PrimeMover,
    /// State: time since the last trim, s.
    pub since_trim_s: usize,
}

impl Synchroniser {
    /// Once a tick while it works.
    pub fn work(&self, ctx: &mut Ctx<'_>) {
        if ctx.linked(self.breaker, breaker::R_CLOSED) > 0.5 {
            return;
        }
        let since_s = ctx.s(self.since_trim_s) + ctx.dt_s;
        ctx.set(self.since_trim_s, since_s);
        let (angle, slip) =
            (ctx.linked(self.breaker, breaker::R_ANGLE), ctx.linked(self.breaker, breaker::R_SLIP));
        if since_s >= TRIM_EVERY_S {
            ctx.set(self.since_trim_s, 0.0);
            self.trim_speed(ctx, slip);
            self.trim_voltage(ctx);
        }
        let ahead = angle + TAU * slip * (ctx.linked(self.breaker, breaker::R_LEAD) + ORDER_LAG_S);
        if ctx.linked(self.breaker, breaker::R_READY) > 0.5
            && ahead.abs() < AIM_ANGLE_RAD.max(TAU * slip * 0.05)
        {
            ctx.request(self.breaker, breaker::CLOSE, 0.0);
        }
    }

    fn trim_speed(&self, ctx: &mut Ctx<'_>, slip_hz: f64) {
        let bus_hz = ctx.linked(self.breaker, breaker::R_BUS_FREQUENCY);
        if !self.mover.can_be_trimmed(ctx) || bus_hz < 1.0 {
            return;
        }
        let step_hz = (TRIM_SHARE * (WANTED_SLIP_HZ - slip_hz)).clamp(-TRIM_MOST_HZ, TRIM_MOST_HZ);
        self.mover.trim(ctx, step_hz / bus_hz);
    }

    fn trim_voltage(&self, ctx: &mut Ctx<'_>) {
        let difference_v = ctx.linked(self.breaker, breaker::R_DIFFERENCE);
        if ctx.has_link(self.mover.generator) && difference_v.abs() > VOLTAGE_DEAD_BAND_V {
            let set_v = ctx.linked(self.mover.generator, generator::R_SET) - TRIM_SHARE * difference_v;
            ctx.request(self.mover.generator, generator::SET_VOLTAGE, set_v);
        }
    }
}
