//! Sequence, load control, and safety.

use super::*;
use crate::ctx::Ctx;
use crate::kind::Act;

const BY_LUBE: f64 = 1.0;
const BY_HT: f64 = 2.0;
const BY_OVERSPEED: f64 = 3.0;
const BY_ITSELF: f64 = 4.0;
const SLOW_BY_HT: f64 = 1.0;
const SLOW_BY_CHARGE: f64 = 2.0;
/// How long a start with open indicator cocks blows, s.
const BLOW_S: f64 = 4.0;

pub(super) fn control(ctx: &mut Ctx<'_>) {
    ctx.draw_dc(CONTROL, 2.0);
    ctx.set(TIMER, ctx.s(TIMER) + ctx.dt_s);
    let speed = ctx.speed_rad_s(SHAFT) / ctx.p(SPEED);
    super::care::CYLINDERS_AND_COCKS.water(ctx);
    sequence(ctx, speed);
    follow_order(ctx);
    ask_for_speed(ctx, speed);
    if ctx.s(PHASE) >= RUNNING_UP && ctx.s(PHASE) <= RUNNING {
        watch(ctx, speed);
    }
}

fn go(ctx: &mut Ctx<'_>, phase: f64) {
    ctx.set(PHASE, phase);
    ctx.set(TIMER, 0.0);
}

fn sequence(ctx: &mut Ctx<'_>, speed: f64) {
    let (phase, timer) = (ctx.s(PHASE), ctx.s(TIMER));
    let fires = ctx.s(BURN) > 0.5;
    let at_speed = super::torque::wanted_speed(ctx) - 0.03;
    if phase == STARTING {
        if fires && speed > 1.3 * ctx.p(FIRING_SPEED) {
            ctx.find(F_FIRED, speed * ctx.p(SPEED), 0.0, 0.0);
            go(ctx, RUNNING_UP);
        } else if timer >= ctx.p(CRANK_TIME) {
            ctx.find(F_START, speed * ctx.p(SPEED), 0.0, 0.0);
            go(ctx, STOPPING);
        }
    } else if phase == RUNNING_UP && speed > at_speed {
        ctx.find(F_STARTED, speed * ctx.p(SPEED), 0.0, 0.0);
        go(ctx, RUNNING);
    } else if phase == RUNNING_UP && (timer > 4.0 * ctx.p(RUN_UP) || speed < 0.5 * ctx.p(FIRING_SPEED)) {
        ctx.find(F_START, speed * ctx.p(SPEED), 0.0, 0.0);
        go(ctx, STOPPING);
    } else if phase == RUNNING && speed < 0.5 * at_speed {
        let fuel = if ctx.has_port(FUEL) { ctx.pressure_pa(FUEL) } else { 0.0 };
        ctx.find(F_STALLED, fuel, 0.0, 0.0);
        go(ctx, STOPPING);
    } else if phase == BLOWING && timer >= BLOW_S {
        ctx.find(F_BLOWN, speed * ctx.p(SPEED), 0.0, 0.0);
        go(ctx, STOPPING);
    } else if phase == STOPPING && speed < 0.002 {
        ctx.find(F_STOPPED, 0.0, 0.0, 0.0);
        go(ctx, STOPPED);
    }
}

/// Has the pitch oil to move it? Fixed propellers need none.
pub(super) fn pitch_moves(ctx: &Ctx<'_>) -> bool {
    let runs = |link: usize| ctx.has_link(link) && ctx.watched(link) > 0.5;
    let any_named = ctx.has_link(PITCH_PUMP) || ctx.has_link(PITCH_PUMP_2);
    !super::torque::constant_speed(ctx) || !any_named || runs(PITCH_PUMP) || runs(PITCH_PUMP_2)
}

pub(super) fn has_control_air(ctx: &Ctx<'_>) -> bool {
    !ctx.has_port(CONTROL_AIR) || ctx.air_pa(CONTROL_AIR) >= ctx.p(CONTROL_AIR_MIN)
}

/// The load control brings the propeller's load to the order: slowly up, faster down, back when the rack is at its end.
fn follow_order(ctx: &mut Ctx<'_>) {
    let held = ctx.fault(PITCH_STICKS) >= 0.5 || !pitch_moves(ctx) || !has_control_air(ctx);
    if held || ctx.tick < 3 {
        return;
    }
    let least = super::torque::least_load(ctx);
    let running = ctx.s(PHASE) == RUNNING;
    let slowed = ctx.s(SLOWDOWN) != 0.0;
    let most = if slowed { ctx.p(SLOW_LOAD) } else { 1.1 };
    let goal = if running { ctx.s(ORDER).min(most).max(least) } else { least };
    let pitch = ctx.s(PITCH);
    let up = ctx.dt_s / ctx.p(LOAD_UP);
    let down = ctx.dt_s / ctx.p(LOAD_DOWN);
    let overloaded = running && ctx.s(RACK) > 1.02;
    let change = if overloaded { -down } else { (goal - pitch).clamp(-down, up) };
    ctx.set(PITCH, (pitch + change).max(least));
}

/// Speed asked for: ramps up from what it has when it fires.
fn ask_for_speed(ctx: &mut Ctx<'_>, speed: f64) {
    let phase = ctx.s(PHASE);
    let goal = super::torque::wanted_speed(ctx);
    if phase == RUNNING {
        // Speed set by hand is followed by 1 % a second; that of a fixed propeller comes with its load.
        let step = if super::torque::constant_speed(ctx) { 0.01 * ctx.dt_s } else { 1.0 };
        let demand = ctx.s(DEMAND);
        ctx.set(DEMAND, demand + (goal - demand).clamp(-step, step));
    } else if phase == RUNNING_UP {
        let demand = ctx.s(DEMAND) + ctx.dt_s / ctx.p(RUN_UP);
        ctx.set(DEMAND, demand.min(goal));
    } else {
        let least = 2.0 * ctx.p(FIRING_SPEED);
        ctx.set(DEMAND, speed.max(least));
    }
}

fn watch(ctx: &mut Ctx<'_>, speed: f64) {
    let running = ctx.s(PHASE) == RUNNING;
    let (lube, ht, charge) = (ctx.pressure_pa(GALLERY), ctx.temperature_k(HT), ctx.s(CHARGE_K));
    // A start state has no solved pressures yet.
    let awake = running && ctx.tick > 2;
    let lube_low = ctx.time_while(LUBE_LOW, awake && lube < ctx.p(LUBE_TRIP));
    let ht_high = ctx.time_while(HT_HIGH, ht > ctx.p(HT_TRIP));
    let ht_warm = ctx.time_while(HT_WARM, ht > ctx.p(HT_SLOW));
    let charge_warm = ctx.time_while(CHARGE_WARM, charge > ctx.p(CHARGE_SLOW));
    let (delay, slow_delay) = (ctx.p(TRIP_DELAY), ctx.p(SLOW_DELAY));
    if ht_warm > slow_delay {
        slow_down(ctx, SLOW_BY_HT, F_SLOW_HT, ht, ctx.p(HT_SLOW), ht_warm);
    } else if charge_warm > slow_delay {
        slow_down(ctx, SLOW_BY_CHARGE, F_SLOW_CHARGE, charge, ctx.p(CHARGE_SLOW), charge_warm);
    }
    if speed > ctx.p(OVERSPEED) {
        shut_down(ctx, BY_OVERSPEED, F_OVERSPEED, speed, ctx.p(OVERSPEED), 0.0);
    } else if lube_low > delay {
        shut_down(ctx, BY_LUBE, F_LUBE, lube, ctx.p(LUBE_TRIP), lube_low);
    } else if ht_high > delay {
        shut_down(ctx, BY_HT, F_HT, ht, ctx.p(HT_TRIP), ht_high);
    } else if ctx.fault(SHUTS_DOWN) >= 0.5 {
        shut_down(ctx, BY_ITSELF, F_ITSELF, 0.0, 0.0, 0.0);
    }
}

fn slow_down(ctx: &mut Ctx<'_>, cause: f64, finding: usize, measured: f64, limit: f64, since_s: f64) {
    if ctx.s(SLOWDOWN) == 0.0 {
        ctx.set(SLOWDOWN, cause);
        ctx.find(finding, measured, limit, since_s);
    }
}

fn shut_down(ctx: &mut Ctx<'_>, cause: f64, finding: usize, measured: f64, limit: f64, since_s: f64) {
    if ctx.s(SHUTDOWN) == cause {
        return;
    }
    ctx.set(SHUTDOWN, cause);
    ctx.find(finding, measured, limit, since_s);
    if !ctx.faulty(NO_SHUTDOWN) {
        go(ctx, STOPPING);
    }
}

pub(super) fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        START => {
            let air = if ctx.has_port(AIR) { ctx.air_pa(AIR) } else { 0.0 };
            ctx.find(F_CRANKS, air, 0.0, 0.0);
            go(ctx, if ctx.is(COCKS) { BLOWING } else { STARTING });
        }
        // The stop solenoid that shutdowns use; the lever at the engine does without it.
        STOP if act.remote && ctx.faulty(NO_SHUTDOWN) => {}
        STOP => go(ctx, STOPPING),
        RESET => {
            ctx.find(F_RESET, 0.0, 0.0, 0.0);
            for slot in [SHUTDOWN, SLOWDOWN, LUBE_LOW, HT_HIGH, HT_WARM, CHARGE_WARM] {
                ctx.set(slot, 0.0);
            }
        }
        OPEN_COCKS | SHUT_COCKS => ctx.set_is(COCKS, act.index == OPEN_COCKS),
        SET_LOAD => ctx.set(ORDER, act.value),
        SET_SPEED_ACT => ctx.set(SET_SPEED, (act.value / ctx.p(SPEED)).clamp(0.9, 1.05)),
        _ => ctx.set(GEAR_IN, act.value),
    }
}
