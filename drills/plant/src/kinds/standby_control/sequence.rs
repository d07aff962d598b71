//! What the automation of a set does in each phase.

use super::*;
use crate::kinds::power_management as management;
use crate::kinds::synchroniser::Synchroniser;

const SYNCHRONISER: Synchroniser = Synchroniser { breaker: BREAKER, mover: MOVER, since_trim_s: TRIM_S };
/// Below this share of voltage the bus is dead.
const DEAD_SHARE: f64 = 0.15;
/// Sets that run already follow each other by this time on a dead bus, s; common practice, no source.
const RUNNING_NEXT_AFTER_S: f64 = 1.0;
/// How often load is shared, s; common practice, no source.
const SHARE_EVERY_S: f64 = 0.5;
/// Share of a deviation that one trim takes away; common practice, no source.
const SHARE_GAIN: f64 = 0.15;
/// Speed that a governor must be moved by for its whole load, share of rated: the usual droop.
const USUAL_DROOP: f64 = 0.04;
/// Deviations that are left alone: of load share, and of frequency, Hz.
const SHARE_DEAD_BAND: f64 = 0.01;
const FREQUENCY_DEAD_BAND_HZ: f64 = 0.03;
/// How far an unloading set is lowered at a time, share of rated speed: what the governor's motor does meanwhile.
const UNLOAD_STEP: f64 = 0.00125;
/// No-load speed that a set is left with, share of rated: it holds nominal frequency at three tenths of its load.
const SET_BACK_TO: f64 = 1.012;

pub(super) fn control(ctx: &mut Ctx<'_>) {
    let awake = ctx.has_control_voltage(CONTROL) && !ctx.faulty(DEAF) && ctx.is(MODE);
    let dead = ctx.voltage_share(BUS) < DEAD_SHARE;
    let dead_for = ctx.time_while(DEAD, dead && awake);
    ctx.set(TIMER, ctx.s(TIMER) + ctx.dt_s);
    if !awake {
        ctx.set(PHASE, WAITING);
        return;
    }
    let turn = turn_s(ctx);
    let idle = ctx.s(PHASE) == WAITING || ctx.s(PHASE) == COOLING;
    if idle && dead && dead_for >= turn && ready(ctx) {
        ctx.find(F_STARTS, dead_for, 0.0, dead_for);
        ctx.set(ORDERED, 0.0);
        begin(ctx);
    } else {
        in_phase(ctx, dead);
    }
}

/// When it is this set's turn on a dead bus: at once if the power management knows it to be the next that is ready,
/// else by its place in the start order.
fn turn_s(ctx: &Ctx<'_>) -> f64 {
    let next = ctx.has_link(MANAGEMENT)
        && MOVER.can_be_started(ctx)
        && ctx.linked(MANAGEMENT, management::R_NEXT_ORDER) == ctx.s(ORDER);
    let places = if next { 0.0 } else { ctx.s(ORDER) };
    // A set that runs already can be there long before one that must start.
    let each_s = if runs(ctx) { RUNNING_NEXT_AFTER_S } else { ctx.p(NEXT_AFTER) };
    ctx.p(DEAD_FOR) + places * each_s
}

fn in_phase(ctx: &mut Ctx<'_>, dead: bool) {
    match ctx.s(PHASE) {
        STARTING => {
            if runs(ctx) {
                excite(ctx);
            }
            give_up_when_late(ctx);
        }
        CONNECTING => {
            connect(ctx, dead);
            if ctx.s(PHASE) == CONNECTING {
                give_up_when_late(ctx);
            }
        }
        SYNCHRONISING => synchronise(ctx, dead),
        UNLOADING => hand_over(ctx),
        COOLING => cool_down(ctx),
        WAITING if ctx.linked(BREAKER, breaker::R_CLOSED) > 0.5 => share(ctx),
        _ => {}
    }
}

/// The order of a hand or of the power management: start, synchronise, connect.
pub(super) fn order(ctx: &mut Ctx<'_>) {
    ctx.find(F_ORDERED, 0.0, 0.0, 0.0);
    ctx.set(ORDERED, 1.0);
    begin(ctx);
}

fn begin(ctx: &mut Ctx<'_>) {
    ctx.set(TIMER, 0.0);
    if runs(ctx) {
        excite(ctx);
    } else {
        MOVER.start(ctx);
        ctx.set(PHASE, STARTING);
    }
}

fn excite(ctx: &mut Ctx<'_>) {
    if ctx.linked(GENERATOR, generator::R_EXCITED) < 0.5 {
        ctx.request(GENERATOR, generator::SET_EXCITATION, 1.0);
    }
    ctx.set(PHASE, CONNECTING);
}

fn connect(ctx: &mut Ctx<'_>, dead: bool) {
    if ctx.linked(BREAKER, breaker::R_CLOSED) > 0.5 {
        ctx.find(F_CONNECTED, ctx.s(TIMER) + ctx.p(DEAD_FOR), ctx.p(GIVES_UP), 0.0);
        ctx.set(PHASE, WAITING);
    } else if dead {
        ctx.request(BREAKER, breaker::CLOSE, 0.0);
    } else if ctx.is(ORDERED) {
        ctx.set(TIMER, 0.0);
        ctx.set(PHASE, SYNCHRONISING);
    } else {
        // Another set was faster: this one keeps running and waits.
        ctx.set(PHASE, WAITING);
    }
}

fn synchronise(ctx: &mut Ctx<'_>, dead: bool) {
    if ctx.linked(BREAKER, breaker::R_CLOSED) > 0.5 {
        ctx.find(F_JOINED, ctx.s(TIMER), ctx.p(SYNC_GIVES_UP), 0.0);
        ctx.set(PHASE, WAITING);
        return;
    }
    if dead {
        // The bus was lost meanwhile: this set runs and is excited.
        ctx.set(PHASE, CONNECTING);
        return;
    }
    SYNCHRONISER.work(ctx);
    let late = ctx.s(TIMER) > ctx.p(SYNC_GIVES_UP);
    if late || ctx.linked(BREAKER, breaker::R_TRIPPED) > 0.5 || !runs(ctx) {
        ctx.find(F_FAILED, ctx.s(TIMER), ctx.p(SYNC_GIVES_UP), 0.0);
        ctx.set(PHASE, FAILED);
    }
}

fn give_up_when_late(ctx: &mut Ctx<'_>) {
    let timer = ctx.s(TIMER);
    if timer > ctx.p(GIVES_UP) || MOVER.is_tripped(ctx) {
        ctx.find(F_FAILED, timer, ctx.p(GIVES_UP), 0.0);
        ctx.set(PHASE, FAILED);
    }
}

/// Trims the governor to the common share of load and to the frequency that the power management aims at.
fn share(ctx: &mut Ctx<'_>) {
    let follows = MOVER.can_be_trimmed(ctx)
        && ctx.has_link(MANAGEMENT)
        && ctx.linked(MANAGEMENT, management::R_MODE) > 0.5;
    let due = ctx.time_while(TRIM_S, follows) >= SHARE_EVERY_S;
    if !due {
        return;
    }
    ctx.set(TRIM_S, 0.0);
    let own = ctx.linked(BREAKER, breaker::R_POWER) / ctx.linked(BREAKER, breaker::R_RATED).max(1.0);
    let aim_hz = ctx.linked(MANAGEMENT, management::R_FREQUENCY_AIM);
    let nominal_hz = ctx.nets.ac.nominal_hz[ctx.node(BUS)];
    let off = ctx.linked(MANAGEMENT, management::R_SHARE_AIM) - own;
    let off_hz = if aim_hz > 0.0 { aim_hz - ctx.frequency_hz(BUS) } else { 0.0 };
    let by_share = if off.abs() > SHARE_DEAD_BAND { off * USUAL_DROOP } else { 0.0 };
    let by_hz = if off_hz.abs() > FREQUENCY_DEAD_BAND_HZ { off_hz / nominal_hz } else { 0.0 };
    let step = (SHARE_GAIN * (by_share + by_hz)).clamp(-UNLOAD_STEP, UNLOAD_STEP);
    if step != 0.0 {
        MOVER.trim(ctx, step);
    }
}

/// The order to leave the bus.
pub(super) fn unload(ctx: &mut Ctx<'_>) {
    let power_w = ctx.linked(BREAKER, breaker::R_POWER);
    ctx.find(F_UNLOADS, power_w, 0.0, 0.0);
    ctx.set(TIMER, 0.0);
    ctx.set(TRIM_S, 0.0);
    ctx.set(PHASE, UNLOADING);
}

fn hand_over(ctx: &mut Ctx<'_>) {
    if ctx.linked(BREAKER, breaker::R_CLOSED) < 0.5 {
        // Opened by a hand or tripped on the way.
        ctx.set(TIMER, 0.0);
        ctx.set(PHASE, COOLING);
        return;
    }
    let power_w = ctx.linked(BREAKER, breaker::R_POWER);
    if power_w < ctx.p(OPEN_AT) * ctx.linked(BREAKER, breaker::R_RATED) {
        ctx.request(BREAKER, breaker::OPEN, 0.0);
        ctx.find(F_UNLOADED, power_w, 0.0, 0.0);
        ctx.set(TIMER, 0.0);
        ctx.set(PHASE, COOLING);
    } else if ctx.s(TIMER) > ctx.p(UNLOAD_FOR) {
        ctx.find(F_KEPT, power_w, 0.0, ctx.s(TIMER));
        ctx.set(PHASE, WAITING);
    } else if MOVER.can_be_trimmed(ctx) && ctx.time_while(TRIM_S, true) >= SHARE_EVERY_S {
        ctx.set(TRIM_S, 0.0);
        MOVER.trim(ctx, -UNLOAD_STEP);
    }
}

fn cool_down(ctx: &mut Ctx<'_>) {
    let still_on = ctx.linked(BREAKER, breaker::R_CLOSED) > 0.5;
    if still_on && ctx.s(TIMER) > 1.0 {
        // The breaker did not open, or a hand has closed it again.
        ctx.set(PHASE, WAITING);
    } else if !MOVER.can_be_started(ctx) || !runs(ctx) {
        ctx.set(PHASE, WAITING);
    } else if MOVER.can_be_trimmed(ctx) && ctx.time_while(TRIM_S, true) >= SHARE_EVERY_S {
        ctx.set(TRIM_S, 0.0);
        bring_back_to_speed(ctx);
    } else if ctx.s(TIMER) >= ctx.p(COOL_FOR) {
        ctx.find(F_COOLED, ctx.s(TIMER), ctx.p(COOL_FOR), 0.0);
        MOVER.stop(ctx);
        ctx.set(PHASE, WAITING);
    }
}

/// Unloading has lowered the set point: the next start must find it where a set alone holds its frequency.
fn bring_back_to_speed(ctx: &mut Ctx<'_>) {
    let nominal_hz = ctx.nets.ac.nominal_hz[ctx.node(BUS)];
    let off = SET_BACK_TO - ctx.linked(GENERATOR, generator::R_FREQUENCY) / nominal_hz;
    if off.abs() > 1e-3 {
        MOVER.trim(ctx, off.clamp(-UNLOAD_STEP, UNLOAD_STEP));
    }
}
