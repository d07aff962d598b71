//! A sea chest: the sea as a source of pressure at its grid.

use super::declare::*;
use crate::ctx::Ctx;
use crate::fluid::GRAVITY;
use crate::kind::{FaultDef, Hooks, KindDef, Net, ParamDef, PortDef, ReadingDef, Seen};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    OUTLET = setting_port("outlet", Net::Liquid, "Where the ship draws."),
});
declare!(PARAMS: ParamDef {
    HEIGHT = quantity("height", Dimension::Length, 0.0, 30.0, "Top of the grid above the ship's base."),
});
declare!(FAULTS: FaultDef {
    BLOCKED = fault("blocked", 0.7, "Weed or ice on the grid: this share of it is shut; suction pressure falls with flow."),
    AIR = fault("draws-air", 0.8, "The chest draws air (roll, trim, a broken vent): pumps on it lose their suction."),
});
declare!(READINGS: ReadingDef {
    R_COVER = reading("cover", Dimension::Length, Seen::Hidden, "Water above the grid."),
});

/// Free grid: its pressure loss at this flow is a metre of water, m3/s.
const GRID_M3_S: f64 = 0.6;

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "sea-chest",
    doc: "A sea chest with its grid.",
    physics: "Piezometric pressure of the sea is zero at any depth; a grid out of the water gives nothing. A blocked grid \
              takes off a loss that goes with the square of flow over free area. Waves and roll are left out.",
    source: "hydrostatics",
    ports: PORTS,
    params: PARAMS,
    faults: FAULTS,
    readings: READINGS,
    hooks: Hooks {
        liquid: Some(liquid),
        publish: Some(publish),
        heat: Some(heat),
        settle: Some(heat),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn cover_m(ctx: &Ctx<'_>) -> f64 {
    ctx.outside.draught_m - ctx.p(HEIGHT)
}

fn liquid(ctx: &mut Ctx<'_>) {
    let node = ctx.node(OUTLET);
    let drawn = (-ctx.nets.liquid.net_inflow_m3_s(node)).max(0.0);
    let free = (1.0 - ctx.fault(BLOCKED)).max(0.02);
    let ratio = drawn / (GRID_M3_S * free);
    let loss = 1025.0 * GRAVITY * ratio * ratio;
    // The loss is taken from last tick's flow: half of the step towards it keeps that loop calm.
    let present = ctx.nets.liquid.pressure_pa[node];
    ctx.nets.liquid.pressure_pa[node] = present + 0.5 * (-loss - present);
    ctx.nets.liquid.wet[node] = (cover_m(ctx) / 0.1).clamp(0.0, 1.0) * (1.0 - ctx.fault(AIR));
}

fn heat(ctx: &mut Ctx<'_>) {
    let node = ctx.node(OUTLET);
    ctx.nets.heat.capacity_j_k[node] = f64::INFINITY;
    ctx.nets.heat.temperature_k[node] = ctx.outside.sea_temperature_k;
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_COVER, cover_m(ctx));
}
