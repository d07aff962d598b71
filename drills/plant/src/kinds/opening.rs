//! An opening: a place of constant pressure, such as the overboard, the bilge, or a fresh water supply line.

use super::declare::*;
use crate::ctx::Ctx;
use crate::kind::{Hooks, Joints, KindDef, Net, ParamDef, PortDef, ReadingDef, Seen};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    LINE = setting_port("line", Net::Liquid, "The line that ends here."),
});
declare!(PARAMS: ParamDef {
    PRESSURE = quantity_or("pressure", Dimension::Pressure, (-1e5, 2e6), 0.0, "Gauge pressure held, against sea level."),
    TEMPERATURE = quantity_or("temperature", Dimension::Temperature, (253.15, 423.15), 298.15, "Temperature of what comes from here."),
    SEA = flag("sea", false, "It is the sea: its temperature, not `temperature`, is what comes from here."),
    WET = flag("gives", true, "Can anything come from here? The bilge and an overboard above water give nothing."),
});
declare!(READINGS: ReadingDef {
    R_INFLOW = reading("inflow", Dimension::Flow, Seen::Hidden, "What flows out of the plant here."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "opening",
    doc: "Where a line ends at constant pressure: overboard, bilge, supply line.",
    physics: "Constant pressure and temperature, unlimited content.",
    source: "boundary condition",
    ports: PORTS,
    params: PARAMS,
    readings: READINGS,
    joints: Joints { gives: Some(WET), ..Joints::NONE },
    hooks: Hooks {
        settle: Some(heat),
        liquid: Some(liquid),
        heat: Some(heat),
        publish: Some(publish),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn liquid(ctx: &mut Ctx<'_>) {
    let node = ctx.node(LINE);
    ctx.nets.liquid.pressure_pa[node] = ctx.p(PRESSURE);
    ctx.nets.liquid.wet[node] = ctx.p(WET);
}

fn heat(ctx: &mut Ctx<'_>) {
    let node = ctx.node(LINE);
    ctx.nets.heat.capacity_j_k[node] = f64::INFINITY;
    ctx.nets.heat.temperature_k[node] =
        if ctx.p_is(SEA) { ctx.outside.sea_temperature_k } else { ctx.p(TEMPERATURE) };
}

fn publish(ctx: &mut Ctx<'_>) {
    let node = ctx.node(LINE);
    ctx.read_out(R_INFLOW, ctx.nets.liquid.net_inflow_m3_s(node));
}
