//! The split of the fuel's heat, and what can be read at the engine.

use super::*;
use crate::ctx::Ctx;
use crate::fluid::ZERO_C_K;
use crate::kinds::by_load;
use crate::nets::air::CP_AIR;

/// LT water for which the shares of charge air are given, K.
const LT_REFERENCE_K: f64 = 309.15;
/// Specific heat of exhaust over that of air (common practice, no source).
const EXHAUST_CP: f64 = 1.06;
/// How much colder a cylinder without fire exhausts, over the mean's rise.
const COLD_CYLINDER: f64 = 0.5;

/// Shaft power over rated, for the tables of shares.
fn load_share(ctx: &Ctx<'_>) -> f64 {
    (ctx.s(TORQUE) * ctx.speed_rad_s(SHAFT) / ctx.p(POWER)).clamp(0.0, 1.1)
}

/// Heat by a share of fuel power between its values at 25, 60 and 100 % load, W.
fn part_w(ctx: &Ctx<'_>, at_25: usize, load: f64) -> f64 {
    let share = by_load::share(load, [ctx.p(at_25), ctx.p(at_25 + 1), ctx.p(at_25 + 2)]);
    ctx.s(FUEL_POWER) * share
}

/// Combustion air by load and speed.
pub(super) fn air_flow_kg_s(ctx: &Ctx<'_>) -> f64 {
    let shape = by_load::air_share(load_share(ctx));
    let speed_share = (ctx.speed_rad_s(SHAFT) / ctx.p(SPEED)).max(0.0);
    // Below half speed a slow engine breathes in proportion; the load's shape holds near its propeller curve.
    ctx.p(AIR_FLOW) * shape * speed_share.min(1.1) * (1.0 - 0.25 * ctx.fault(LOSES_POWER))
}

pub(super) fn heat(ctx: &mut Ctx<'_>) {
    let load = load_share(ctx);
    let (jacket, lube) = (part_w(ctx, JACKET_25, load), part_w(ctx, LUBE_25, load));
    let room = part_w(ctx, RADIATION_25, load);
    let standing = ctx.p(COOLING) * (ctx.temperature_k(HT) - ctx.space_k(SPACE));
    ctx.heat_node_w(HT, jacket - standing);
    ctx.heat_space_w(SPACE, room + standing);
    if ctx.flow_m3_s(0) > 0.02 * ctx.p(FULL_LINE) {
        ctx.liquid_branch(0).heat_w = lube;
    } else {
        ctx.heat_node_w(SUMP, lube);
    }
    cool_charge_air(ctx, load);
    let shaft = ctx.s(TORQUE) * ctx.speed_rad_s(SHAFT);
    let gone = shaft + jacket + lube + room + ctx.s(HEAT_AIR);
    ctx.set(EXHAUST, (ctx.s(FUEL_POWER) - gone).max(0.0));
}

/// Charge-air coolers: air that would be cooled by the stated share with LT water of 36 degC, cooled by the water
/// there is.
fn cool_charge_air(ctx: &mut Ctx<'_>, load: f64) {
    let base = ctx.wiring.liquid_branches + 1;
    let air_w_k = air_flow_kg_s(ctx).max(0.01 * ctx.p(AIR_FLOW)) * CP_AIR;
    let effect = ctx.p(AIR_COOLING);
    let hot_k = LT_REFERENCE_K + part_w(ctx, AIR_25, load).max(0.0) / (air_w_k * effect);
    let hot_k = hot_k.max(ctx.space_k(SPACE));
    let water_k = ctx.nets.heat.upstream_k(&ctx.nets.liquid, base);
    let water_w_k = ctx.nets.heat.capacity_rate_w_k(&ctx.nets.liquid, base);
    let effect = effect * (1.0 - ctx.fault(AIR_COOLER));
    let running = ctx.s(BURN) > 0.3;
    let taken = if running { (effect * air_w_k).min(water_w_k) * (hot_k - water_k) } else { 0.0 };
    ctx.set(HEAT_AIR, taken);
    ctx.liquid_branch(1).heat_w = taken;
    let charge = if running { hot_k - taken / air_w_k } else { ctx.space_k(SPACE) };
    ctx.set(CHARGE_K, charge.clamp(250.0, 600.0));
}

pub(super) fn publish(ctx: &mut Ctx<'_>) {
    let speed = ctx.speed_rad_s(SHAFT);
    let running = ctx.s(PHASE) == RUNNING;
    let shaft_w = ctx.s(TORQUE) * speed;
    let pressure = |port: usize| if ctx.has_port(port) { ctx.air_pa(port) } else { 0.0 };
    let (start_air, control_air) = (pressure(AIR), pressure(CONTROL_AIR));
    let fuel_pressure = if ctx.has_port(FUEL) { ctx.pressure_pa(FUEL) } else { 0.0 };
    let ready = super::permits::ready(ctx);
    ctx.read_out(R_SPEED, speed);
    ctx.read_out(R_PHASE, ctx.s(PHASE));
    ctx.read_out_is(R_RUNNING, running);
    ctx.read_out(R_LOAD, shaft_w / ctx.p(POWER));
    ctx.read_out(R_ORDER, ctx.s(ORDER));
    ctx.read_out(R_PITCH, ctx.s(PITCH));
    ctx.read_out(R_SHAFT_POWER, shaft_w);
    ctx.read_out(R_PROPELLER, ctx.s(PROPELLER_W));
    ctx.read_out(R_RACK, ctx.s(RACK));
    ctx.read_out(R_FUEL_FLOW, ctx.s(FUEL_POWER) / ctx.p(LHV));
    ctx.read_out(R_FUEL_PRESSURE, fuel_pressure);
    ctx.read_out(R_LUBE_PRESSURE, ctx.pressure_pa(GALLERY));
    ctx.read_out(R_LUBE_TEMPERATURE, ctx.temperature_k(GALLERY));
    ctx.read_out(R_HT_TEMPERATURE, ctx.temperature_k(HT));
    ctx.read_out(R_HT_PRESSURE, ctx.pressure_pa(HT));
    ctx.read_out(R_LT_FLOW, ctx.flow_m3_s(1));
    ctx.read_out(R_CHARGE, ctx.s(CHARGE_K));
    ctx.read_out(R_START_AIR, start_air);
    ctx.read_out(R_CONTROL_AIR, control_air);
    ctx.read_out(R_SHUTDOWN, ctx.s(SHUTDOWN));
    ctx.read_out(R_SLOWDOWN, ctx.s(SLOWDOWN));
    ctx.read_out(R_GEAR, ctx.s(GEAR_IN));
    ctx.read_out_is(R_READY, ready);
    super::care::publish(ctx);
    publish_heat(ctx);
    say_needs(ctx, running, start_air);
}

fn publish_heat(ctx: &mut Ctx<'_>) {
    let load = load_share(ctx);
    let (jacket, lube) = (part_w(ctx, JACKET_25, load), part_w(ctx, LUBE_25, load));
    let (room, air) = (part_w(ctx, RADIATION_25, load), air_flow_kg_s(ctx));
    let room_k = ctx.space_k(SPACE);
    let burning = ctx.s(BURN) > 0.3 && ctx.s(RACK) > 0.005;
    let exhaust_w_k = air.max(0.02 * ctx.p(AIR_FLOW)) * EXHAUST_CP * CP_AIR;
    let rise = if burning { ctx.s(EXHAUST) / exhaust_w_k } else { 0.0 };
    ctx.read_out(R_EXHAUST, (room_k + rise).clamp(ZERO_C_K - 30.0, 1200.0));
    ctx.read_out(R_DEVIATION, -COLD_CYLINDER * rise * ctx.fault(MISFIRES));
    ctx.read_out(R_FUEL_POWER, ctx.s(FUEL_POWER));
    ctx.read_out(R_AIR_FLOW, air);
    ctx.read_out(R_HEAT_JACKET, jacket);
    ctx.read_out(R_HEAT_LUBE, lube);
    ctx.read_out(R_HEAT_AIR, ctx.s(HEAT_AIR));
    ctx.read_out(R_HEAT_ROOM, room);
    ctx.read_out(R_HEAT_EXHAUST, ctx.s(EXHAUST));
}

fn say_needs(ctx: &mut Ctx<'_>, running: bool, start_air_pa: f64) {
    // A start state has no solved pressures and flows yet.
    let awake = running && ctx.tick > 2;
    let starves = ctx.s(RACK) > 0.02 && ctx.has_port(FUEL);
    ctx.need(N_FUEL, !starves || ctx.tick < 3 || ctx.pressure_pa(FUEL) >= 0.33 * ctx.p(FUEL_NEEDED));
    ctx.need(N_LUBE, !awake || ctx.pressure_pa(GALLERY) >= ctx.p(LUBE_TRIP));
    ctx.need(N_LT, !awake || ctx.flow_m3_s(1).abs() >= 0.2 * ctx.p(LT_FLOW));
    ctx.need(N_CONTROL_AIR, !awake || super::control::has_control_air(ctx));
    let cranking = (ctx.s(PHASE) == STARTING || ctx.s(PHASE) == BLOWING) && ctx.has_port(AIR);
    ctx.need(N_AIR, !cranking || start_air_pa >= 5e5);
    ctx.need(N_PITCH, !awake || super::control::pitch_moves(ctx));
}
