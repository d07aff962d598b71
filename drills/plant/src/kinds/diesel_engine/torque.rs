//! Governor, combustion, friction, cranking, and what the engine takes from fuel, oil and air lines.

use super::*;
use crate::SUBSTEP_S;
use crate::ctx::Ctx;
use crate::fluid::{WARM_OIL_M2_S, fuel_heat_j_kg, lag};
use crate::kind::Nominal;
use crate::kinds::by_load::FuelLine;
use crate::kinds::rack::{self, Governor};
use crate::kinds::{air_valve, engine_controls, harm, start_battery};

/// Most that the rack opens while running up, share of full load.
const START_RACK: f64 = 0.40;
/// Time in which combustion builds up in a warm engine, s.
const BURN_LAG_S: f64 = 0.6;
/// Its governor.
const PI: Governor = Governor { gains: (KP, KI), integral: INTEGRAL, keeps: (-1.5, 1.5) };

pub(super) fn follows(params: &[f64], _: Nominal<'_>) -> Vec<f64> {
    let [fuel_25, fuel_60] = FuelLine::fuel_at([params[ETA_25], params[ETA_60], params[ETA_100]]);
    let rated_nm = params[POWER] / params[SPEED];
    let part = |tau: usize| lag(SUBSTEP_S, params[tau]);
    vec![rated_nm, fuel_25, fuel_60, params[POWER] / params[ETA_100], part(ACTUATOR), part(BOOST_LAG)]
}

pub(super) fn settle(ctx: &mut Ctx<'_>) {
    feel_oil(ctx);
    if ctx.s(BURN) > 0.5 {
        // Found running: at its set point less the droop of what the rack carries.
        let node = ctx.node(SHAFT);
        ctx.nets.shaft.speed_rad_s[node] = ctx.p(SPEED) * (ctx.s(SET_SPEED) - trim::droop(ctx) * ctx.s(RACK));
    }
}

/// Brake torque (share of rated, warm oil) for fuel per stroke (share of full load).
pub(super) fn brake_share(ctx: &Ctx<'_>, fuel: f64) -> f64 {
    FuelLine::new(ctx.p(FRICTION), ctx.p(IDLE_FUEL), [ctx.p(FUEL_25), ctx.p(FUEL_60)]).torque(fuel)
}

fn governor(ctx: &mut Ctx<'_>, speed_share: f64, released: bool) -> f64 {
    let rack = ctx.s(RACK);
    let lever = ctx.s(LEVER) * 1.1;
    if ctx.faulty(GOVERNOR) && released {
        return rack.min(lever);
    }
    if !released {
        ctx.set(INTEGRAL, 0.0);
        // Stop: the rack is pulled to zero in well under half a second.
        let closed = rack + (0.0 - rack) * lag(ctx.dt_s, 0.08);
        return if closed < 1e-4 { 0.0 } else { closed };
    }
    let swing = if ctx.faulty(HUNTS) { 0.03 * ctx.fault(HUNTS) * libm::sin(ctx.s(HUNT)) } else { 0.0 };
    let error = ctx.s(SET_SPEED) + swing - speed_share - trim::droop(ctx) * rack;
    let limit = if speed_share < 0.85 { START_RACK } else { (ctx.p(BOOST_FREE) + ctx.s(BOOST)).min(1.1) };
    let limit = limit.min(lever);
    let goal = PI.asks(ctx, error, limit);
    let step = (goal - rack) * ctx.p(RACK_PART);
    let rate = 4.0 * ctx.dt_s;
    rack + step.clamp(-rate, rate)
}

/// Share of the wanted fuel that the fuel's pressure and viscosity let the injection pumps take.
fn fuel_supply(ctx: &Ctx<'_>, rack: f64) -> f64 {
    rack::fuel_share(ctx.pressure_pa(FUEL), ctx.p(FUEL_NEEDED), rack) * ctx.s(TAKES)
}

/// Fuel above the first viscosity fills the injection pumps less and burns badly, above the second not at all, m2/s:
/// cold heavy fuel. Common practice, no source.
const THICK_FUEL_M2_S: (f64, f64) = (25e-6, 60e-6);

/// Share of the wanted fuel that its viscosity lets the injection pumps take; kept for the sub-steps.
fn feel_fuel(ctx: &mut Ctx<'_>) {
    let (thick, too_thick) = THICK_FUEL_M2_S;
    ctx.set(TAKES, ((too_thick - ctx.viscosity_m2_s(FUEL)) / (too_thick - thick)).clamp(0.0, 1.0));
}

fn combustion(ctx: &mut Ctx<'_>, speed_share: f64, rack: f64, supply: f64) -> f64 {
    let compresses = !ctx.is(COCKS) && !ctx.is(BROKEN);
    let can_fire = speed_share > ctx.p(FIRING_SPEED) && supply > 0.0 && rack > 0.01 && compresses;
    // A cold jacket slows the build-up: factor 1 + (60 - t)/40 below 60 degC (assumed shape, no source).
    let cold = 1.0 + ((60.0 - ctx.temperature_c(HT)) / 40.0).clamp(0.0, 2.0);
    let goal = if can_fire { 1.0 } else { 0.0 };
    let tau = if can_fire { BURN_LAG_S * cold } else { 0.1 };
    let burn = ctx.s(BURN);
    let burn = burn + (goal - burn) * lag(ctx.dt_s, tau);
    ctx.set(BURN, burn);
    burn
}

/// Fuel that the air of the room lets it burn: all of it while enough comes.
fn burnable(ctx: &Ctx<'_>) -> f64 {
    if !ctx.has_port(SPACE) {
        return f64::MAX;
    }
    let share = ctx.nets.space.breath_share[ctx.node(SPACE)];
    if share > 0.999 { f64::MAX } else { share * (ctx.p(BOOST_FREE) + ctx.s(BOOST)) }
}

/// Cranking torque as a share of rated.
fn cranking_share(ctx: &Ctx<'_>, speed_share: f64) -> f64 {
    let engaged = ctx.linked(CONTROLS, engine_controls::R_CRANK) > 0.5 && !ctx.faulty(START_VALVE);
    if !engaged {
        return 0.0;
    }
    let energy = if ctx.p(STARTER) < 0.5 {
        if ctx.has_port(AIR) { ctx.air_pa(AIR) / 3e6 } else { 0.0 }
    } else if ctx.has_link(BATTERY) {
        ctx.linked(BATTERY, start_battery::R_STRENGTH)
    } else {
        0.0
    };
    rack::cranking_share(ctx.p(CRANK_TORQUE), energy, speed_share, ctx.p(CRANK_SPEED))
}

/// What its bearings and pistons hold it with, share of rated torque.
fn stiff_share(ctx: &Ctx<'_>) -> f64 {
    let jammed = if ctx.is(BROKEN) { 20.0 } else { 0.0 };
    ctx.p(FRICTION) * (ctx.s(DRAG) * (1.0 + 2.0 * ctx.fault(BEARINGS)) + jammed)
}

/// Has everything in it died away that a stopped engine still shows for a while? Then nothing is left to work out.
fn at_rest(ctx: &Ctx<'_>) -> bool {
    let quiet = [RACK, INTEGRAL, FUEL_POWER, EXTRA_OIL, TORQUE].iter().all(|&state| ctx.s(state) == 0.0);
    quiet && ctx.s(BURN) < 1e-9 && ctx.s(BOOST) < 1e-9 && cranking_share(ctx, 0.0) == 0.0
}

pub(super) fn motion(ctx: &mut Ctx<'_>) {
    let speed = ctx.speed_rad_s(SHAFT);
    let speed_share = speed / ctx.p(SPEED);
    let released = ctx.linked(CONTROLS, engine_controls::R_FUEL) > 0.5;
    if speed == 0.0 && !released && at_rest(ctx) {
        let (node, held_nm) = (ctx.node(SHAFT), ctx.p(RATED_NM) * stiff_share(ctx));
        ctx.nets.shaft.friction_nm[node] += held_nm;
        return;
    }
    let rack = governor(ctx, speed_share, released);
    ctx.set(RACK, rack);
    let supply = fuel_supply(ctx, rack);
    let burn = combustion(ctx, speed_share, rack, supply);
    // One of six cylinders does not fire, or gives less through a pipe that leaks.
    let lame = 1.0 - (ctx.fault(MISFIRES) + 0.5 * ctx.fault(FUEL_LEAK)).min(1.0) / 6.0;
    let fuel = rack * supply * burn * lame * (1.0 - ctx.fault(INJECTION));
    let fuel = fuel.min(burnable(ctx));
    let friction = ctx.p(FRICTION);
    let gross = brake_share(ctx, fuel) + friction;
    let stiff = stiff_share(ctx);
    let crank = cranking_share(ctx, speed_share);
    let rated_nm = ctx.p(RATED_NM);
    let boost = ctx.s(BOOST);
    let goal = 0.6 * fuel.min(1.0) * (1.0 - 0.4 * ctx.fault(TURBO));
    ctx.set(BOOST, boost + (goal - boost) * ctx.p(BOOST_PART));
    ctx.set(FUEL_POWER, ctx.p(FUEL_W) * rack * supply * burn * lame * speed_share.max(0.0));
    ctx.set(EXTRA_OIL, rated_nm * friction * ctx.s(DRAG) * 2.0 * ctx.fault(BEARINGS) * speed.max(0.0));
    ctx.set(TORQUE, rated_nm * (gross + crank - if speed > 0.1 { stiff } else { 0.0 }));
    let node = ctx.node(SHAFT);
    ctx.nets.shaft.torque_nm[node] += rated_nm * (gross + crank);
    ctx.nets.shaft.friction_nm[node] += rated_nm * stiff;
}

/// Viscosity of the oil over its warm value; friction goes with its power 0.3, kept for the sub-steps.
fn feel_oil(ctx: &mut Ctx<'_>) -> f64 {
    let thick = ctx.viscosity_m2_s(GALLERY) / WARM_OIL_M2_S;
    if ctx.temperatures_are_new() {
        ctx.set(DRAG, libm::pow(thick, 0.3));
    }
    thick
}

/// Oil through the bearings (two fifths laminar, three fifths turbulent), fuel burnt, jacket leak.
pub(super) fn liquid(ctx: &mut Ctx<'_>) {
    fill_oil_line(ctx);
    let thick = feel_oil(ctx);
    let flow = ctx.p(FULL_LINE);
    // dp = lin Q + quad Q^2 with the two shares at 4.2 bar and 65 degC.
    let filled = ctx.s(FILLED) >= 0.999;
    let (lin, quad) = (0.4 * 4.2e5 / flow * thick, 0.6 * 4.2e5 / (flow * flow));
    let ease = if filled { 1.0 } else { 0.02 };
    let branch = ctx.liquid_branch(0);
    branch.shut = false;
    branch.head_pa = 0.0;
    branch.laminar_pa_s_m3 = lin * ease;
    branch.turbulent_pa_s2_m6 = quad * ease;
    branch.one_way = true;
    feel_fuel(ctx);
    let heat_j_kg = fuel_heat_j_kg(ctx.p(LHV), ctx.heavy_share(FUEL));
    let burnt = ctx.s(FUEL_POWER) / heat_j_kg / ctx.density_kg_m3(FUEL);
    let (fuel, ht) = (ctx.node(FUEL), ctx.node(HT));
    ctx.nets.liquid.source_m3_s[fuel] -= burnt;
    harm::leak(ctx, GALLERY, ctx.fault(OIL_LEAK) * 0.5 / 3600.0);
    // Out through the seal only while there is pressure to drive it.
    let driven = (ctx.pressure_pa(HT) / 1e5).clamp(0.0, 2.0);
    let leak = ctx.fault(JACKET_LEAK) * 0.6 / 3600.0 * driven;
    ctx.nets.liquid.source_m3_s[ht] -= leak;
    ctx.spill(leak);
}

/// Lines and bearings drain at standstill; filling them takes the pump's flow until they are full.
fn fill_oil_line(ctx: &mut Ctx<'_>) {
    let volume = ctx.p(LINE_VOLUME).max(1e-4);
    let inflow = ctx.flow_m3_s(0).max(0.0);
    let filled = ctx.s(FILLED);
    let filled = if inflow > 0.02 * ctx.p(FULL_LINE) {
        filled + ctx.dt_s * inflow / volume
    } else {
        filled * (1.0 - lag(ctx.dt_s, ctx.p(DRAINS_IN)))
    };
    ctx.set(FILLED, filled.clamp(0.0, 1.0));
}

pub(super) fn air(ctx: &mut Ctx<'_>) {
    let engaged = ctx.linked(CONTROLS, engine_controls::R_CRANK) > 0.5 && !ctx.faulty(START_VALVE);
    let by_air = ctx.p(STARTER) < 0.5 && ctx.has_port(AIR);
    let conductance =
        if engaged && by_air { air_valve::nozzle_conductance(ctx.p(AIR_CONDUCTANCE), 1.0) } else { 0.0 };
    if by_air {
        let branch = ctx.air_branch(0);
        branch.conductance_m3_s_pa = conductance;
        branch.critical_ratio = 0.528;
        branch.one_way = true;
    }
    if ctx.has_port(SPACE) {
        let space = ctx.node(SPACE);
        let breathed_m3_s = super::warmth::air_flow_kg_s(ctx) / 1.15;
        ctx.nets.space.extract_m3_s[space] += breathed_m3_s;
        ctx.nets.space.breathed_m3_s[space] += breathed_m3_s;
    }
}
