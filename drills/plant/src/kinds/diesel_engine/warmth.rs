//! The split of the fuel's heat, and what can be read at the engine.

use super::*;
use crate::ctx::Ctx;
use crate::fluid::{ZERO_C_K, fuel_heat_j_kg};
use crate::kinds::harm::Sensor;
use crate::kinds::{by_load, charge_air_cooler, engine_controls};
use crate::nets::air::CP_AIR;

/// Load over rated by shaft power, for the tables of shares.
fn load_share(ctx: &Ctx<'_>) -> f64 {
    (ctx.s(TORQUE) * ctx.speed_rad_s(SHAFT) / ctx.p(POWER)).clamp(0.0, 1.1)
}

/// A share of fuel heat at this load.
fn share(ctx: &Ctx<'_>, at_25: usize, load: f64) -> f64 {
    by_load::share(load, [ctx.p(at_25), ctx.p(at_25 + 1), ctx.p(at_25 + 2)])
}

const LUBE_SENSOR: Sensor = Sensor {
    frozen: Some(LUBE_FROZEN),
    reads_high: None,
    noisy: None,
    dead: Some(LUBE_DEAD),
    held: HELD_LUBE,
};
const HT_SENSOR: Sensor =
    Sensor { frozen: Some(HT_FROZEN), reads_high: Some(HT_HIGH), noisy: None, dead: None, held: HELD_HT };

struct Split {
    jacket_w: f64,
    lube_w: f64,
    room_w: f64,
}

fn split(ctx: &Ctx<'_>) -> Split {
    let (fuel, load) = (ctx.s(FUEL_POWER), load_share(ctx));
    // What turns it without fuel ends as heat of friction in the oil.
    let motored_w = (-ctx.s(TORQUE) * ctx.speed_rad_s(SHAFT)).max(0.0);
    Split {
        jacket_w: fuel * share(ctx, JACKET_25, load),
        lube_w: fuel * share(ctx, LUBE_25, load) + ctx.s(EXTRA_OIL) + motored_w,
        room_w: fuel * share(ctx, RADIATION_25, load),
    }
}

/// Combustion air by load and speed.
pub(super) fn air_flow_kg_s(ctx: &Ctx<'_>) -> f64 {
    let shape = by_load::air_share(load_share(ctx));
    let speed_share = ctx.speed_rad_s(SHAFT) / ctx.p(SPEED);
    ctx.p(AIR_FLOW) * shape * speed_share.max(0.0) * (1.0 - 0.4 * ctx.fault(TURBO))
}

pub(super) fn heat(ctx: &mut Ctx<'_>) {
    let split = split(ctx);
    let standing = ctx.p(COOLING) * (ctx.temperature_k(HT) - ctx.space_k(SPACE));
    ctx.heat_node_w(HT, split.jacket_w - standing);
    ctx.heat_space_w(SPACE, split.room_w + standing);
    // The oil takes its heat in the bearings; without flow it goes to the sump.
    if ctx.flow_m3_s(0) > 0.02 * ctx.p(FULL_LINE) {
        ctx.liquid_branch(0).heat_w = split.lube_w;
    } else {
        ctx.heat_node_w(SUMP, split.lube_w);
    }
    let shaft = ctx.s(TORQUE) * ctx.speed_rad_s(SHAFT);
    let charge_air_w = if ctx.has_link(CHARGE_AIR) {
        ctx.linked(CHARGE_AIR, charge_air_cooler::R_HT) + ctx.linked(CHARGE_AIR, charge_air_cooler::R_LT)
    } else {
        0.0
    };
    let gone = shaft + split.jacket_w + split.lube_w + split.room_w + charge_air_w;
    // What is left over is the exhaust's; a load thrown off leaves less for a moment, which is its loss.
    ctx.set(EXHAUST, ctx.s(FUEL_POWER) - gone);
}

pub(super) fn publish(ctx: &mut Ctx<'_>) {
    let speed = ctx.speed_rad_s(SHAFT);
    let speed_share = speed / ctx.p(SPEED);
    let burning = ctx.s(BURN) > 0.3 && ctx.s(RACK) > 0.005;
    let shown_rad_s = if ctx.faulty(TACHO) { 0.0 } else { speed };
    ctx.read_out(R_SPEED, shown_rad_s);
    ctx.read_out(R_SHAFT_SPEED, speed);
    ctx.read_out(R_SPEED_SHARE, speed_share);
    ctx.read_out_is(R_FIRING, burning);
    ctx.read_out_is(R_RUNNING, burning && speed_share > 0.5);
    let bearing_pa = ctx.pressure_pa(GALLERY);
    let shown_pa = LUBE_SENSOR.shows(ctx, bearing_pa, 0.0, 0.0);
    ctx.read_out(R_LUBE_PRESSURE, shown_pa);
    ctx.read_out(R_BEARING_PRESSURE, bearing_pa);
    ctx.read_out(R_LUBE_TEMPERATURE, ctx.temperature_k(GALLERY));
    let jacket_k = ctx.temperature_k(HT);
    let shown_k = HT_SENSOR.shows(ctx, jacket_k, 30.0, jacket_k);
    ctx.read_out(R_HT_TEMPERATURE, shown_k);
    ctx.read_out(R_JACKET, jacket_k);
    ctx.read_out(R_HT_PRESSURE, ctx.pressure_pa(HT));
    ctx.read_out(R_FUEL_VISCOSITY, ctx.viscosity_m2_s(FUEL));
    ctx.read_out(R_FUEL_PRESSURE, ctx.pressure_pa(FUEL));
    ctx.read_out(R_RACK, ctx.s(RACK));
    ctx.read_out(R_LOAD, ctx.s(TORQUE) * speed / ctx.p(POWER));
    ctx.read_out(R_SET_SPEED, ctx.s(SET_SPEED) * ctx.p(SPEED));
    ctx.read_out(R_GOVERNOR, ctx.s(GOVERNOR_MODE));
    ctx.read_out(R_SHAFT_POWER, ctx.s(TORQUE) * speed);
    ctx.read_out(R_FUEL_POWER, ctx.s(FUEL_POWER));
    let air = air_flow_kg_s(ctx);
    ctx.read_out(R_AIR_FLOW, air);
    let room_k = ctx.space_k(SPACE);
    let exhaust_k =
        if burning { room_k + ctx.s(EXHAUST).max(0.0) / (air.max(0.05) * 1.06 * CP_AIR) } else { room_k };
    let shown_k = if ctx.faulty(EXHAUST_DEAD) { room_k } else { exhaust_k };
    ctx.read_out(R_EXHAUST, shown_k.clamp(ZERO_C_K - 30.0, 1200.0));
    ctx.read_out(R_HEAT_EXHAUST, ctx.s(EXHAUST));
    ctx.read_out(R_FUEL_RATE, ctx.s(FUEL_POWER) / fuel_heat_j_kg(ctx.p(LHV), ctx.heavy_share(FUEL)));
    super::care::publish(ctx);
    let start_air = if ctx.has_port(AIR) { ctx.air_pa(AIR) } else { 0.0 };
    ctx.read_out(R_AIR_PRESSURE, start_air);
    let cranking = ctx.linked(CONTROLS, engine_controls::R_CRANK) > 0.5;
    ctx.read_out_is(R_CRANKING, cranking);
    let split = split(ctx);
    ctx.read_out(R_HEAT_JACKET, split.jacket_w);
    ctx.read_out(R_HEAT_LUBE, split.lube_w);
    ctx.read_out(R_HEAT_ROOM, split.room_w);
    let starving = ctx.s(RACK) > 0.02 && ctx.pressure_pa(FUEL) < 0.33 * ctx.p(FUEL_NEEDED);
    ctx.need(N_FUEL, !starving);
    ctx.need(N_LUBE, speed_share < 0.5 || ctx.pressure_pa(GALLERY) > 2e5);
    let no_energy = cranking && ctx.p(STARTER) < 0.5 && start_air < 5e5;
    ctx.need(N_AIR, !no_energy);
}
