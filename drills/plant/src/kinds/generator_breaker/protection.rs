//! The protection of a source's breaker.

use super::*;
use crate::kinds::electric::{CURVES, ROUNDING_S};

/// Timers, all forgotten on closing.
const TIMERS: [usize; 12] = [
    TRAVEL,
    LONG_S,
    SHORT_S,
    REVERSE_S,
    UNDER_V_S,
    UNDER_F_S,
    OVER_F_S,
    FIELD_LOSS_S,
    DIFFERENTIAL_S,
    SHED_I_S,
    SHED_F_S,
    STAGE,
];

/// Forgets all timers.
pub(super) fn clear(ctx: &mut Ctx<'_>) {
    for timer in TIMERS {
        ctx.set(timer, 0.0);
    }
}

/// What an element has to say: which word of the reading, finding, measured value, limit, since.
struct Trip {
    word: usize,
    finding: usize,
    measured: f64,
    limit: f64,
    since_s: f64,
}

/// One definite-time element.
struct Element {
    timer: usize,
    delay: usize,
    word: usize,
    finding: usize,
}

const SHORT_TIME: Element = Element { timer: SHORT_S, delay: SHORT_T, word: 2, finding: F_SHORT };
const REVERSE_POWER: Element = Element { timer: REVERSE_S, delay: REVERSE_T, word: 4, finding: F_REVERSE };
const UNDER_VOLTAGE: Element = Element { timer: UNDER_V_S, delay: UNDER_V_T, word: 5, finding: F_UNDER_V };
const UNDER_FREQUENCY: Element = Element { timer: UNDER_F_S, delay: UNDER_F_T, word: 6, finding: F_UNDER_F };
const OVER_FREQUENCY: Element = Element { timer: OVER_F_S, delay: OVER_F_T, word: 7, finding: F_OVER_F };
const FIELD: Element = Element { timer: FIELD_LOSS_S, delay: FIELD_LOSS_T, word: 8, finding: F_FIELD };
const DIFFERENTIAL_87: Element =
    Element { timer: DIFFERENTIAL_S, delay: DIFFERENTIAL_T, word: 10, finding: F_DIFFERENTIAL };

impl Element {
    /// Counts while `beyond`; a trip when the delay is over.
    fn watch(&self, ctx: &mut Ctx<'_>, beyond: bool, measured: f64, limit: f64) -> Option<Trip> {
        let since_s = ctx.time_while(self.timer, beyond);
        let due = beyond && since_s + ROUNDING_S >= ctx.p(self.delay);
        due.then_some(Trip { word: self.word, finding: self.finding, measured, limit, since_s })
    }
}

/// Once a tick, on what the last tick's solution gave.
pub(super) fn watch(ctx: &mut Ctx<'_>) {
    if !ctx.is(CLOSED) {
        clear(ctx);
        return;
    }
    let bus = ctx.node(BUS);
    let current = ctx.branch_current(0);
    let power = ctx.nets.ac.voltage[bus] * current.conj();
    let in_a = line_a(current);
    let hz = ctx.nets.ac.frequency_hz[bus];
    shed(ctx, in_a, hz);
    let trip = [
        differential(ctx, in_a),
        overcurrent(ctx, in_a),
        under_voltage(ctx),
        relays(ctx, power.re, power.im, hz),
        (ctx.fault(TRIPS) >= 0.5).then_some(Trip {
            word: 9,
            finding: F_NO_CAUSE,
            measured: 0.0,
            limit: 0.0,
            since_s: 0.0,
        }),
    ];
    if ctx.fault(NO_TRIP) >= 0.5 {
        return;
    }
    if let Some(trip) = trip.into_iter().flatten().next() {
        ctx.set(TRIPPED, trip.word as f64);
        ctx.set_is(CLOSED, false);
        ctx.switch(0, false);
        clear(ctx);
        if trip.finding == F_DIFFERENTIAL {
            // The field goes with it: the machine itself feeds its fault.
            ctx.request(MACHINE, generator::SET_EXCITATION, 0.0);
        }
        ctx.find(trip.finding, trip.measured, trip.limit, trip.since_s);
    }
}

/// Current of the last tick: its peak over the sub-steps where the machine is known.
pub(super) fn highest_a(ctx: &Ctx<'_>) -> f64 {
    let now_a = line_a(ctx.branch_current(0));
    if ctx.has_link(MACHINE) { now_a.max(ctx.linked(MACHINE, generator::R_PEAK_A)) } else { now_a }
}

/// What goes into the winding and does not come out, over a limit that rises with what passes through.
fn differential(ctx: &mut Ctx<'_>, in_a: f64) -> Option<Trip> {
    if !ctx.has_link(MACHINE) || ctx.p(DIFFERENTIAL) <= 0.0 {
        return None;
    }
    let lost_a = ctx.linked(MACHINE, generator::R_DIFFERENTIAL);
    let limit_a = ctx.p(DIFFERENTIAL) * ctx.p(RATED_A) + ctx.p(DIFFERENTIAL_SLOPE) * in_a;
    let beyond = lost_a > limit_a && ctx.has_control_voltage(CONTROL_SUPPLY);
    DIFFERENTIAL_87.watch(ctx, beyond, lost_a, limit_a)
}

fn overcurrent(ctx: &mut Ctx<'_>, in_a: f64) -> Option<Trip> {
    let rated_a = ctx.p(RATED_A);
    let (instant_a, short_a, long_a) =
        (ctx.p(INSTANT) * rated_a, ctx.p(SHORT) * rated_a, ctx.p(LONG) * rated_a);
    let peak_a = highest_a(ctx);
    if peak_a > instant_a {
        return Some(Trip { word: 3, finding: F_INSTANT, measured: peak_a, limit: instant_a, since_s: 0.0 });
    }
    let short = SHORT_TIME.watch(ctx, in_a > short_a, in_a, short_a);
    let since_s = ctx.time_while(LONG_S, in_a > long_a);
    let curve = &CURVES[ctx.p(CURVE) as usize];
    let travel = curve.travel(ctx.s(TRAVEL), in_a / long_a, ctx.p(TMS), ctx.dt_s);
    ctx.set(TRAVEL, travel);
    let long = Trip { word: 1, finding: F_LONG, measured: in_a, limit: long_a, since_s };
    short.or((travel >= 1.0).then_some(long))
}

fn under_voltage(ctx: &mut Ctx<'_>) -> Option<Trip> {
    let nominal_v = ctx.nets.ac.nominal_v[ctx.node(BUS)];
    let share = ctx.voltage_share(BUS);
    let limit = ctx.p(UNDER_V);
    UNDER_VOLTAGE.watch(ctx, share < limit, share * nominal_v, limit * nominal_v)
}

/// Relays that need control supply.
fn relays(ctx: &mut Ctx<'_>, power_w: f64, reactive_var: f64, hz: f64) -> Option<Trip> {
    let alive = ctx.has_control_voltage(CONTROL_SUPPLY);
    let reverse_w = -ctx.p(REVERSE) * ctx.p(RATED_W);
    let nominal_v = ctx.nets.ac.nominal_v[ctx.node(BUS)];
    let field_var = -ctx.p(FIELD_LOSS) * ctx.p(RATED_A) * nominal_v * crate::kinds::electric::ROOT_3;
    let (under_hz, over_hz) = (ctx.p(UNDER_F), ctx.p(OVER_F));
    let reverse = REVERSE_POWER.watch(ctx, alive && power_w < reverse_w, power_w, reverse_w);
    let under = UNDER_FREQUENCY.watch(ctx, alive && hz > 0.0 && hz < under_hz, hz, under_hz);
    let over = OVER_FREQUENCY.watch(ctx, alive && hz > over_hz, hz, over_hz);
    let field = FIELD.watch(ctx, alive && reactive_var < field_var, reactive_var, field_var);
    reverse.or(under).or(over).or(field)
}

/// Preferential trip: the stage that feeder breakers watch.
fn shed(ctx: &mut Ctx<'_>, in_a: f64, hz: f64) {
    let alive = ctx.has_control_voltage(CONTROL_SUPPLY);
    let limit_a = ctx.p(SHED_I) * ctx.p(RATED_A);
    let by_current_s = ctx.time_while(SHED_I_S, alive && in_a > limit_a);
    let by_hz_s = ctx.time_while(SHED_F_S, alive && hz > 0.0 && hz < ctx.p(SHED_F));
    let over = |time_s: f64, delay: usize| time_s > 0.0 && time_s + ROUNDING_S >= ctx.p(delay);
    let stage = if over(by_current_s, SHED_2_T) || over(by_hz_s, SHED_F_2_T) {
        2.0
    } else if over(by_current_s, SHED_1_T) || over(by_hz_s, SHED_F_1_T) {
        1.0
    } else {
        0.0
    };
    let before = ctx.s(STAGE);
    ctx.set(STAGE, stage);
    if stage > before {
        let finding = if stage > 1.5 { F_SHED_2 } else { F_SHED_1 };
        ctx.find(finding, in_a, limit_a, by_current_s.max(by_hz_s));
    }
}
