//! Its starter: contactor with restart, thermal relay, preferential trip, and what hands do to it.

use super::machine::{begin_tick, nominal_synchronous_rad_s};
use super::*;
use crate::fluid::lag;
use crate::kinds::electric::{
    Change, Contactor, DROP_OUT_SHARE, FIRST_VOLTAGE_TICK, IN_SEQUENCE, block_start, is_shed, leak_s,
};

const CONTACTOR: Contactor = Contactor {
    supply: SUPPLY,
    control: CONTROL_SUPPLY,
    on: RUNNING,
    pending: PENDING,
    low_s: LOW_S,
    back_s: BACK_S,
    restart: RESTART,
    delay: RESTART_DELAY,
};
/// A tripped relay can be put back below this share of the trip level; common practice, no source.
const RESET_SHARE: f64 = 0.8;
/// Star-delta and soft starters hand over at this share of synchronous speed, or after [`RUN_UP_S`].
const RUN_UP_SHARE: f64 = 0.9;
const RUN_UP_S: f64 = 20.0;

pub(super) fn control(ctx: &mut Ctx<'_>) {
    ctx.draw_dc(CONTROL_SUPPLY, 0.1);
    let was_running = ctx.is(RUNNING);
    let sequence_ready = ctx.p(RESTART) as usize != IN_SEQUENCE || ctx.s(CONTROL) > 0.5;
    let may_restart = !ctx.is(TRIPPED) && ctx.fault(DROPS).max(ctx.fault(NO_RESTART)) < 0.5 && sequence_ready;
    let back_s = ctx.s(BACK_S);
    let share = ctx.voltage_share(SUPPLY);
    if was_running {
        let (node, own_s) = (ctx.node(SUPPLY), leak_s(ctx.fault(INSULATION)));
        ctx.nets.ac.add_leak(node, own_s);
    }
    shed(ctx);
    match CONTACTOR.watch(ctx, share, may_restart) {
        Change::Dropped => {
            let nominal_v = ctx.nets.ac.nominal_v[ctx.node(SUPPLY)];
            let (measured, since_s) = (share * nominal_v, ctx.s(LOW_S));
            ctx.find(F_LOST, measured, DROP_OUT_SHARE * nominal_v, since_s);
        }
        Change::Restarted => ctx.find(F_RESTARTED, back_s, ctx.p(RESTART_DELAY), back_s),
        Change::None => {}
    }
    if ctx.is(RUNNING) && ctx.fault(DROPS) >= 0.5 {
        ctx.set_is(RUNNING, false);
        ctx.find(F_DROPPED, 0.0, 0.0, 0.0);
    }
    heat_relay(ctx);
    watch_overload(ctx);
    let running = ctx.is(RUNNING);
    let start_s = ctx.time_while(START_S, running && was_running);
    if !running {
        ctx.set(RUN_UP, 0.0);
    } else if ctx.p(START_MODE) > 0.5 {
        let fast = ctx.speed_rad_s(SHAFT) >= RUN_UP_SHARE * nominal_synchronous_rad_s(ctx);
        if fast || start_s >= RUN_UP_S {
            ctx.set(RUN_UP, 1.0);
        }
    }
    let fed = ctx.tick < FIRST_VOLTAGE_TICK || share >= DROP_OUT_SHARE;
    ctx.need_while(NEED_SUPPLY, was_running || ctx.is(PENDING), fed);
    begin_tick(ctx);
}

/// The thermal replica, on the current of the last tick.
fn heat_relay(ctx: &mut Ctx<'_>) {
    let share = ctx.s(AMPS) / ctx.s(RELAY_A).max(1e-3);
    ctx.time_while(OVER_S, share > 1.0);
    let part = lag(ctx.dt_s, ctx.p(OVERLOAD_TAU));
    ctx.set(THETA, ctx.s(THETA) + (share * share - ctx.s(THETA)) * part);
}

/// Preferential trip, and a pair's unit that is not the chosen one: it does not come back by itself.
fn shed(ctx: &mut Ctx<'_>) {
    let wants_on = ctx.is(RUNNING) || ctx.is(PENDING);
    if !ctx.is(SHED) && is_shed(ctx, SHED_BY, SHED_STAGE) && wants_on {
        ctx.set_is(RUNNING, false);
        ctx.set_is(PENDING, false);
        ctx.set_is(SHED, true);
        ctx.find(F_SHED, ctx.p(SHED_STAGE), 0.0, 0.0);
    }
    if ctx.has_link(CHOSEN_BY) && ctx.watched(CHOSEN_BY) < 0.5 {
        ctx.set_is(PENDING, false);
    }
}

fn watch_overload(ctx: &mut Ctx<'_>) {
    if ctx.is(RUNNING) && ctx.is(TRIPPED) && ctx.fault(WELDED) < 0.5 {
        // Its contacts were welded when the relay tripped and have come free.
        ctx.set_is(RUNNING, false);
    }
    let limit = TRIP_SQUARE * (1.0 - ctx.fault(RELAY));
    if ctx.is(RUNNING) && ctx.s(THETA) >= limit && !ctx.is(TRIPPED) {
        ctx.set_is(RUNNING, ctx.fault(WELDED) >= 0.5);
        ctx.set_is(TRIPPED, true);
        ctx.set_is(PENDING, false);
        ctx.find(F_TRIPPED, ctx.s(AMPS), ctx.s(RELAY_A), ctx.s(OVER_S));
    }
}

pub(super) fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    match act.index {
        START => {
            block_when_local(view, act, blocks);
            if view.is(RUNNING) {
                blocks.push(Block { code: "already-running", text: "it is running".into() });
            } else {
                CONTACTOR.block(view, blocks);
            }
            if view.is(TRIPPED) {
                let text = "its thermal relay has tripped and is not reset".into();
                blocks.push(Block { code: "overload-tripped", text });
            }
            block_start(view, SHED, PERMITTED_BY, blocks);
        }
        STOP => {
            block_when_local(view, act, blocks);
            if !view.is(RUNNING) && !view.is(PENDING) {
                blocks.push(Block { code: "already-stopped", text: "it is stopped".into() });
            }
        }
        RESET => {
            let share = view.s(THETA) / TRIP_SQUARE;
            if view.is(SHED) && !view.is(TRIPPED) {
                return;
            }
            if !view.is(TRIPPED) {
                blocks.push(Block { code: "not-tripped", text: "its thermal relay has not tripped".into() });
            } else if share > RESET_SHARE {
                // The replica falls as exp(-t/tau) while no current flows.
                let wait_s = view.p(OVERLOAD_TAU) * libm::log(share / RESET_SHARE);
                let text = format!("its thermal relay is still too hot; it can be reset in {wait_s:.0} s");
                blocks.push(Block { code: "relay-hot", text });
            }
        }
        _ if !view.p_is(SELECTOR) => {
            blocks.push(Block { code: "no-selector", text: "its starter has no selector".into() });
        }
        _ => {}
    }
}

fn block_when_local(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.remote && view.s(CONTROL) < 0.5 {
        let text = "its selector stands on local: only from the starter itself".into();
        blocks.push(Block { code: "in-local", text });
    }
}

pub(super) fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        START => {
            ctx.set_is(RUNNING, true);
            ctx.set_is(PENDING, false);
            ctx.set_is(BY_HAND, false);
            ctx.find(F_STARTED, 0.0, 0.0, 0.0);
        }
        STOP if ctx.is(RUNNING) && ctx.fault(WELDED) >= 0.5 => ctx.find(F_WELDED, 0.0, 0.0, 0.0),
        STOP => {
            ctx.set_is(RUNNING, false);
            ctx.set_is(PENDING, false);
            ctx.set_is(BY_HAND, true);
            ctx.find(F_STOPPED, 0.0, 0.0, 0.0);
        }
        RESET => {
            ctx.set_is(TRIPPED, false);
            ctx.set_is(SHED, false);
        }
        _ => ctx.set(CONTROL, act.value),
    }
}
