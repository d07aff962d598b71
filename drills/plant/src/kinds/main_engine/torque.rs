//! Governor, combustion, friction, propeller, and what the engine takes from fuel, oil and air lines.

use super::*;
use crate::SUBSTEP_S;
use crate::ctx::Ctx;
use crate::fluid::{WARM_OIL_M2_S, lag};
use crate::kind::Nominal;
use crate::kinds::air_valve;
use crate::kinds::by_load::FuelLine;
use crate::kinds::rack::{self, Governor};

/// Most that the rack opens while running up, share of full load.
const START_RACK: f64 = 0.35;
/// Time in which combustion builds up, s.
const BURN_LAG_S: f64 = 0.6;
/// Most that the rack opens.
const RACK_END: f64 = 1.1;
/// Its governor.
const PI: Governor = Governor { gains: (KP, KI), integral: INTEGRAL, keeps: (-0.5, 1.2) };
/// Swing of a hunting governor, rad/s, and its largest amplitude as a share of speed asked for.
const HUNT_RAD_S: f64 = std::f64::consts::TAU / 3.0;
const HUNT_SHARE: f64 = 0.12;

pub(super) fn follows(params: &[f64], _: Nominal<'_>) -> Vec<f64> {
    let [fuel_25, fuel_60] = FuelLine::fuel_at([params[ETA_25], params[ETA_60], params[ETA_100]]);
    let rated_nm = params[POWER] / params[SPEED];
    let part = |tau: usize| lag(SUBSTEP_S, params[tau]);
    vec![rated_nm, fuel_25, fuel_60, params[POWER] / params[ETA_100], part(ACTUATOR), part(BOOST_LAG)]
}

pub(super) fn settle(ctx: &mut Ctx<'_>) {
    feel_oil(ctx);
    if ctx.s(PITCH) < 0.0 {
        let load = ctx.s(ORDER).max(least_load(ctx));
        ctx.set(PITCH, load);
    }
    if ctx.s(PHASE) != RUNNING {
        return;
    }
    let demand = wanted_speed(ctx);
    let (node, speed) = (ctx.node(SHAFT), demand * ctx.p(SPEED));
    ctx.nets.shaft.speed_rad_s[node] = speed;
    ctx.set(DEMAND, demand);
    ctx.set(BURN, 1.0);
    if ctx.s(RACK) <= 0.0 {
        let torque = propeller_share(ctx) * demand * demand;
        let rack = fuel_for(ctx, torque + ctx.p(FRICTION) * (ctx.s(DRAG) - 1.0));
        ctx.set(RACK, rack);
    }
    let rack = ctx.s(RACK);
    ctx.set(INTEGRAL, rack);
    ctx.set(BOOST, 0.6 * rack.min(1.0));
}

/// Is it one with controllable pitch?
pub(super) fn constant_speed(ctx: &Ctx<'_>) -> bool {
    ctx.p(PROPELLER) < 0.5
}

/// Least load of the propeller: zero pitch, or the slowest running of a fixed one.
pub(super) fn least_load(ctx: &Ctx<'_>) -> f64 {
    let slow = ctx.p(LEAST_SPEED);
    if constant_speed(ctx) { ctx.p(ZERO_PITCH) } else { slow * slow * slow }
}

/// Speed that belongs to the load set now, over rated.
pub(super) fn wanted_speed(ctx: &Ctx<'_>) -> f64 {
    if constant_speed(ctx) {
        ctx.s(SET_SPEED)
    } else {
        libm::cbrt(ctx.s(PITCH).max(0.0)).max(ctx.p(LEAST_SPEED))
    }
}

/// Torque of the propeller at rated speed over rated torque.
fn propeller_share(ctx: &Ctx<'_>) -> f64 {
    if constant_speed(ctx) { ctx.s(PITCH) } else { 1.0 }
}

fn line(ctx: &Ctx<'_>) -> FuelLine {
    FuelLine::new(ctx.p(FRICTION), ctx.p(IDLE_FUEL), [ctx.p(FUEL_25), ctx.p(FUEL_60)])
}

/// Fuel per stroke for brake torque, as far as the rack opens.
fn fuel_for(ctx: &Ctx<'_>, torque: f64) -> f64 {
    line(ctx).fuel(torque).clamp(0.0, RACK_END)
}

fn governor(ctx: &mut Ctx<'_>, speed_share: f64) -> f64 {
    let (rack, phase) = (ctx.s(RACK), ctx.s(PHASE));
    if !(STARTING..=RUNNING).contains(&phase) {
        ctx.set(INTEGRAL, 0.0);
        let closed = rack * (1.0 - lag(ctx.dt_s, 0.1));
        return if closed < 1e-4 { 0.0 } else { closed };
    }
    let hunting = ctx.fault(HUNTS);
    let mut asked = ctx.s(DEMAND);
    if hunting > 0.0 {
        let swing = ctx.s(HUNT) + ctx.dt_s * HUNT_RAD_S;
        ctx.set(HUNT, if swing > std::f64::consts::TAU { swing - std::f64::consts::TAU } else { swing });
        asked += HUNT_SHARE * hunting * libm::sin(swing);
    }
    let error = asked - speed_share;
    let free = ctx.p(BOOST_FREE) + ctx.s(BOOST);
    let limit = if phase == RUNNING { free.min(RACK_END) } else { START_RACK.min(free) };
    let goal = PI.asks(ctx, error, limit);
    rack + (goal - rack) * ctx.p(RACK_PART)
}

/// Share of the wanted fuel that the fuel pressure lets the injection pumps take.
fn fuel_supply(ctx: &Ctx<'_>, rack: f64) -> f64 {
    // A start state has no solved pressures in its first tick.
    if !ctx.has_port(FUEL) || ctx.tick < 2 {
        return 1.0;
    }
    rack::fuel_share(ctx.pressure_pa(FUEL), ctx.p(FUEL_NEEDED), rack)
}

/// Is starting air on the cylinders?
fn cranks(ctx: &Ctx<'_>) -> bool {
    (ctx.s(PHASE) == STARTING || ctx.s(PHASE) == BLOWING) && !ctx.faulty(START_VALVE)
}

fn cranking_share(ctx: &Ctx<'_>, speed_share: f64) -> f64 {
    if !cranks(ctx) {
        return 0.0;
    }
    let air = if ctx.has_port(AIR) { ctx.air_pa(AIR) / 3e6 } else { 1.0 };
    rack::cranking_share(ctx.p(CRANK_TORQUE), air, speed_share, ctx.p(CRANK_SPEED))
}

pub(super) fn motion(ctx: &mut Ctx<'_>) {
    let node = ctx.node(SHAFT);
    let speed = ctx.speed_rad_s(SHAFT);
    let speed_share = speed / ctx.p(SPEED);
    let rack = governor(ctx, speed_share);
    ctx.set(RACK, rack);
    let supply = fuel_supply(ctx, rack);
    let can_fire = speed_share > ctx.p(FIRING_SPEED) && supply > 0.0 && rack > 0.01;
    let (goal, tau) = if can_fire { (1.0, BURN_LAG_S) } else { (0.0, 0.1) };
    let burn = ctx.s(BURN) + (goal - ctx.s(BURN)) * lag(ctx.dt_s, tau);
    ctx.set(BURN, burn);
    let burnt = rack * supply * burn;
    let lost = 1.0 - ctx.fault(MISFIRES) / ctx.p(CYLINDERS);
    let useful = burnt * lost * (1.0 - 0.35 * ctx.fault(LOSES_POWER));
    let friction = ctx.p(FRICTION);
    let gross = line(ctx).torque(useful) + friction + cranking_share(ctx, speed_share);
    let stiff = friction * ctx.s(DRAG) + if ctx.is(BROKEN) { super::care::BENT } else { 0.0 };
    let rated_nm = ctx.p(RATED_NM);
    let boost = ctx.s(BOOST);
    ctx.set(BOOST, boost + (0.6 * burnt.min(1.0) - boost) * ctx.p(BOOST_PART));
    ctx.set(FUEL_POWER, ctx.p(FUEL_W) * burnt * speed_share.max(0.0));
    ctx.set(TORQUE, rated_nm * (gross - if speed > 0.01 { stiff } else { 0.0 }));
    let factor = rated_nm * propeller_share(ctx);
    let propeller_nm = factor * speed_share * speed_share.abs();
    ctx.set(PROPELLER_W, propeller_nm * speed);
    let slope = 2.0 * factor * speed_share.abs() / ctx.p(SPEED);
    let shaft = &mut ctx.nets.shaft;
    shaft.torque_nm[node] += rated_nm * gross - propeller_nm;
    shaft.slope_nm_s[node] -= slope;
    shaft.friction_nm[node] += rated_nm * stiff;
}

/// Viscosity of the oil over its warm value; friction goes with its power 0.3, kept for the sub-steps.
fn feel_oil(ctx: &mut Ctx<'_>) -> f64 {
    let thick = ctx.viscosity_m2_s(GALLERY) / WARM_OIL_M2_S;
    if ctx.temperatures_are_new() {
        ctx.set(DRAG, libm::pow(thick, 0.3));
    }
    thick
}

/// Oil through the bearings (two fifths laminar, three fifths turbulent), LT water, fuel burnt, jacket leak.
pub(super) fn liquid(ctx: &mut Ctx<'_>) {
    let thick = feel_oil(ctx);
    let flow = ctx.p(FULL_LINE);
    let (lin, quad) = (0.4 * 4.2e5 / flow * thick, 0.6 * 4.2e5 / (flow * flow));
    let oil = ctx.liquid_branch(0);
    oil.shut = false;
    oil.head_pa = 0.0;
    oil.laminar_pa_s_m3 = lin;
    oil.turbulent_pa_s2_m6 = quad;
    oil.one_way = true;
    let (kv, density) = (ctx.p(LT_KV), ctx.density_kg_m3(LT_IN));
    ctx.liquid_branch(1).set_kv(kv, density);
    if ctx.has_port(FUEL) {
        let (fuel, burnt) = (ctx.node(FUEL), ctx.s(FUEL_POWER) / ctx.p(LHV) / ctx.density_kg_m3(FUEL));
        ctx.nets.liquid.source_m3_s[fuel] -= burnt;
    }
    let driven = (ctx.pressure_pa(HT) / 1e5).clamp(0.0, 2.0);
    let (ht, leak) = (ctx.node(HT), ctx.fault(JACKET_LEAK) * 1.0 / 3600.0 * driven);
    ctx.nets.liquid.source_m3_s[ht] -= leak;
    ctx.spill(leak);
}

pub(super) fn air(ctx: &mut Ctx<'_>) {
    if ctx.has_port(AIR) {
        let conductance = if cranks(ctx) { air_valve::nozzle_conductance(ctx.p(AIR_BORE), 1.0) } else { 0.0 };
        let branch = ctx.air_branch(0);
        branch.conductance_m3_s_pa = conductance;
        branch.critical_ratio = 0.528;
        branch.one_way = true;
    }
    if ctx.has_port(SPACE) {
        let (space, drawn) = (ctx.node(SPACE), super::warmth::air_flow_kg_s(ctx) / 1.15);
        ctx.nets.space.extract_m3_s[space] += drawn;
    }
}
