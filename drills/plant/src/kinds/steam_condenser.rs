//! A condenser under vacuum: steam of a turbine against sea water, with air that leaks in and is drawn off.

use super::declare::*;
use super::{steam, steam_header as header, steam_turbine as turbine};
use crate::ctx::Ctx;
use crate::kind::{
    BranchDef, FaultDef, Hooks, KindDef, LinkDef, NeedDef, Net, ParamDef, PortDef, ReadingDef, Seen, StateDef,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    SEA_IN = port("sea-inlet", Net::Liquid, 1, "Sea water, in."),
    SEA_OUT = port("sea-outlet", Net::Liquid, 1, "Sea water, out."),
    CONDENSATE = free_port("condensate", Net::Liquid, 2, "Where the condensate pump delivers to; free: it leaves the plant."),
});
declare!(LINKS: LinkDef {
    TURBINE = link("turbine", &["steam-turbine"], true, "Turbine whose steam it condenses."),
    HEADER = link("ejector-steam", &["steam-header"], false, "Header that feeds the air ejector; free: air is drawn off without steam."),
    AIR_PUMP = watch("air-pump", false, "Running of a vacuum pump, or of the pump of the ejector, e.g. `tg.vacuum-pump.running`; free: it always runs."),
    CONDENSATE_PUMP = watch("condensate-pump", false, "Running of the condensate pump, e.g. `tg.condensate.running`; free: it always runs."),
});
declare!(PARAMS: ParamDef {
    UA = quantity("conductance", Dimension::HeatConductance, 1.0, 1e8, "Heat conductance clean, at the rated flow of sea water."),
    FLOW = quantity("rated-flow", Dimension::Flow, 1e-5, 5.0, "Rated flow of sea water."),
    KV = quantity("kv", Dimension::FlowCoefficient, 1e-5, 10.0, "Flow coefficient of the sea water side."),
    EXPONENT = quantity_or("exponent", Dimension::Ratio, (0.0, 1.0), 0.8, "Exponent of flow in the film on the sea water side, which has half of the resistance at rated flow (turbulent pipe flow, Dittus-Boelter; the half is common practice, no source)."),
    SHELL = quantity_or("heat-capacity", Dimension::HeatCapacity, (1e3, 1e9), 2e6, "Of tubes and shell."),
    VOLUME = quantity_or("steam-space", Dimension::Volume, (0.05, 200.0), 3.0, "Volume on the steam side, in which leaked air spreads."),
    AIR_LEAK = quantity_or("air-leak", Dimension::MassFlow, (0.0, 1.0), 1.5 / 3600.0, "Air that leaks in, sound (common practice, no source)."),
    AIR_CAPACITY = quantity_or("air-removal", Dimension::Flow, (0.0, 5.0), 0.05, "Volume flow that ejector or vacuum pump draws off."),
    EJECTOR_MIN = quantity_or("ejector-needs", Dimension::Pressure, (0.0, 1e7), 5e5, "Header pressure below which the ejector weakens; at half of it it draws nothing."),
    HOTWELL = quantity_or("hotwell", Dimension::Volume, (0.001, 50.0), 0.6, "Volume of the hotwell up to the lowest tubes."),
    PUMP_FLOW = quantity_or("condensate-flow", Dimension::Flow, (1e-5, 1.0), 8.0 / 3600.0, "Most that the condensate pump takes away; its controller keeps the hotwell at half."),
});
declare!(STATE: StateDef {
    TEMPERATURE = state("condensing-temperature", Dimension::Temperature, (263.15, 400.0), 298.15, "Temperature at which steam condenses, of tubes and shell."),
    AIR_PA = state("air-pressure", Dimension::Pressure, (0.0, 1.1e5), 0.98e5, "Partial pressure of air, absolute; about 7 mbar in service, 980 mbar when it is full of air."),
    WATER = state("hotwell-volume", Dimension::Volume, (0.0, 100.0), 0.3, "Condensate in the hotwell."),
    REMOVED = inner("removed", 0.0, "Condensate taken away, m3/s."),
    HEAT = inner("heat-now", 0.0, "Heat to the sea water, W."),
});
declare!(FAULTS: FaultDef {
    FOULED = fault("fouled", 0.5, "Slime and scale in the tubes: this share of the conductance is lost; vacuum falls with load, the sea water leaves as cold as ever."),
    CLOGGED = fault("tubes-clogged", 0.6, "Weed or mussels in the water box: this share of the tubes is shut; flow and vacuum fall, the sea water leaves warmer."),
    AIR_IN = fault("air-in-leak", 0.5, "A gland or flange draws air, up to 60 kg/h: vacuum falls at any load, at 100 % to the trip."),
    EJECTOR = fault("ejector-fails", 1.0, "The nozzle of the ejector is blocked, or the vacuum pump has lost its seal: this share of its draught is gone; vacuum creeps away within half an hour."),
    LEVEL = fault("condensate-held-up", 1.0, "The level controller of the hotwell does not let go: it fills, floods the lowest tubes, and vacuum falls."),
});
declare!(NEEDS: NeedDef {
    N_SEA = need("sea-water", "Sea water, a tenth of rated at the least, while steam comes."),
    N_AIR = need("air-removal", "Ejector or vacuum pump, while steam comes."),
});
declare!(READINGS: ReadingDef {
    R_VACUUM = reading("vacuum", Dimension::Pressure, Seen::Remote, "Vacuum: how far the pressure is below that of the atmosphere."),
    R_ABSOLUTE = reading("absolute-pressure", Dimension::Pressure, Seen::Hidden, "Pressure on the steam side, absolute."),
    R_TEMPERATURE = reading("condensing-temperature", Dimension::Temperature, Seen::Local, "Temperature of the condensate."),
    R_AIR = reading("air-pressure", Dimension::Pressure, Seen::Hidden, "Partial pressure of air, absolute."),
    R_FLOW = reading("sea-flow", Dimension::Flow, Seen::Remote, "Sea water through it."),
    R_SEA_OUT = reading("sea-outlet-temperature", Dimension::Temperature, Seen::Local, "Sea water, leaving."),
    R_HEAT = reading("heat", Dimension::Power, Seen::Hidden, "Heat to the sea water."),
    R_LEVEL = reading("hotwell-level", Dimension::Ratio, Seen::Remote, "Level of the hotwell; at 100 % it reaches the lowest tubes."),
    R_CONDENSATE = reading("condensate-flow", Dimension::Flow, Seen::Local, "Condensate taken away."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "steam-condenser",
    doc: "A turbine's condenser on the sea water side, with hotwell, air leak and air removal.",
    physics: "Steam condenses at one temperature: heat = (1 - exp(-UA/C)) C (T - T_sea). Pressure is that of saturation plus that of \
              the air inside, which leaks in while there is vacuum and is drawn off at constant volume flow. An exhaust valve blows \
              at 105 degC. Undercooling and the blanket that air lays on the tubes are left out.",
    source: "Incropera, table 11.3 (one side of constant temperature); saturation by IAPWS-IF97, region 4; Dalton",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    liquid_branches: &[BranchDef { from: SEA_IN, to: SEA_OUT }],
    hooks: Hooks {
        control: Some(control),
        liquid: Some(liquid),
        heat: Some(heat),
        publish: Some(publish),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Gas constant of air, J/(kg K).
const GAS_AIR: f64 = crate::nets::air::R_AIR;
/// The exhaust valve to the atmosphere lets no more pressure build up than belongs to this temperature, K.
const BLOWS_K: f64 = 378.15;
/// Density of condensate, kg/m3.
const CONDENSATE_KG_M3: f64 = 992.0;
/// Air that the fault `air-in-leak` lets in at 100 %, kg/s.
const LEAK_KG_S: f64 = 60.0 / 3600.0;

/// Absolute pressure on the steam side, Pa.
fn absolute_pa(ctx: &Ctx<'_>) -> f64 {
    steam::saturation_pa(ctx.s(TEMPERATURE)) + ctx.s(AIR_PA)
}

/// Share of its draught that ejector or vacuum pump has now.
fn draught(ctx: &Ctx<'_>) -> f64 {
    let driven = !ctx.has_link(AIR_PUMP) || ctx.watched(AIR_PUMP) > 0.5;
    if !driven {
        return 0.0;
    }
    let sound = 1.0 - ctx.fault(EJECTOR);
    if !ctx.has_link(HEADER) {
        return sound;
    }
    let half = 0.5 * ctx.p(EJECTOR_MIN).max(1.0);
    sound * ((ctx.linked(HEADER, header::R_PRESSURE) - half) / half).clamp(0.0, 1.0)
}

fn control(ctx: &mut Ctx<'_>) {
    let atmosphere = ctx.outside.air_pressure_pa;
    let below = ((atmosphere - absolute_pa(ctx)) / (0.47 * atmosphere)).clamp(0.0, 1.0);
    // Leaks are choked below the critical ratio: their flow does not follow the vacuum there.
    let leak = (ctx.p(AIR_LEAK) + LEAK_KG_S * ctx.fault(AIR_IN)) * below;
    let (volume, t) = (ctx.p(VOLUME), ctx.s(TEMPERATURE));
    let drawn = ctx.p(AIR_CAPACITY) * draught(ctx) / volume;
    // Backward Euler of dp/dt = leak R T / V - p drawn.
    let air = (ctx.s(AIR_PA) + ctx.dt_s * leak * GAS_AIR * t / volume) / (1.0 + ctx.dt_s * drawn);
    ctx.set(AIR_PA, air.min(1.05 * atmosphere));
    drain(ctx);
}

/// Hotwell: steam comes as water, the pump takes it away and keeps half a hotwell.
fn drain(ctx: &mut Ctx<'_>) {
    let comes = ctx.linked(TURBINE, turbine::R_STEAM).max(0.0) / CONDENSATE_KG_M3;
    let pumped = !ctx.has_link(CONDENSATE_PUMP) || ctx.watched(CONDENSATE_PUMP) > 0.5;
    let water = ctx.s(WATER) + ctx.dt_s * comes;
    let half = 0.5 * ctx.p(HOTWELL);
    let wanted = ((water - half) / (0.2 * half) + 0.5).clamp(0.0, 1.0);
    let most = ctx.p(PUMP_FLOW) * if pumped { 1.0 - ctx.fault(LEVEL) } else { 0.0 };
    let removed = (wanted * most).min(water / ctx.dt_s.max(1e-3));
    ctx.set(REMOVED, removed);
    let left = (water - ctx.dt_s * removed).min(2.5 * ctx.p(HOTWELL));
    ctx.set(WATER, left);
}

fn liquid(ctx: &mut Ctx<'_>) {
    let (kv, density) = (ctx.p(KV) * (1.0 - ctx.fault(CLOGGED)), ctx.density_kg_m3(SEA_IN));
    ctx.liquid_branch(0).set_kv(kv, density);
    if ctx.has_port(CONDENSATE) {
        let (node, removed) = (ctx.node(CONDENSATE), ctx.s(REMOVED));
        ctx.nets.liquid.source_m3_s[node] += removed;
    }
}

/// Conductance now, W/K.
fn conductance_w_k(ctx: &Ctx<'_>) -> f64 {
    let share = (ctx.flow_m3_s(0).abs() / ctx.p(FLOW)).max(1e-4);
    let film = 0.5 * (1.0 + libm::pow(share, -ctx.p(EXPONENT)));
    let flooded = ((ctx.s(WATER) - ctx.p(HOTWELL)) / ctx.p(HOTWELL)).clamp(0.0, 0.95);
    // Shut tubes are lost to heat as well as to flow.
    let lost = (1.0 - ctx.fault(FOULED)) * (1.0 - ctx.fault(CLOGGED)) * (1.0 - flooded);
    ctx.p(UA) * lost / film
}

fn heat(ctx: &mut Ctx<'_>) {
    let base = ctx.wiring.liquid_branches;
    let rate = ctx.nets.heat.capacity_rate_w_k(&ctx.nets.liquid, base);
    let sea_k = ctx.nets.heat.upstream_k(&ctx.nets.liquid, base);
    let taken_w_k = if rate > 1.0 { -libm::expm1(-conductance_w_k(ctx) / rate) * rate } else { 0.0 };
    let t = ctx.s(TEMPERATURE);
    let steam_kg_s = ctx.linked(TURBINE, turbine::R_STEAM).max(0.0);
    let gives = ctx.linked(TURBINE, turbine::R_EXHAUST_ENTHALPY) - steam::condensate_j_kg(t);
    let shell = ctx.p(SHELL) / ctx.dt_s.max(1e-3);
    let after = (shell * t + steam_kg_s * gives.max(0.0) + taken_w_k * sea_k) / (shell + taken_w_k);
    let after = after.min(BLOWS_K);
    ctx.set(TEMPERATURE, after);
    let heat_w = taken_w_k * (after - sea_k);
    ctx.set(HEAT, heat_w);
    ctx.liquid_branch(0).heat_w = heat_w;
    if ctx.has_port(CONDENSATE) {
        let carried = ctx.s(REMOVED) * CONDENSATE_KG_M3 * steam::CONDENSATE_J_KG_K;
        let node_k = ctx.temperature_k(CONDENSATE);
        ctx.heat_node_w(CONDENSATE, carried * (after - node_k));
    }
}

fn publish(ctx: &mut Ctx<'_>) {
    let absolute = absolute_pa(ctx);
    let steams = ctx.linked(TURBINE, turbine::R_STEAM) > 0.01;
    ctx.need(N_SEA, !steams || ctx.flow_m3_s(0).abs() > 0.1 * ctx.p(FLOW));
    ctx.need(N_AIR, !steams || draught(ctx) > 0.3);
    let base = ctx.wiring.liquid_branches;
    let sea_out = ctx.nets.heat.delivered_k(&ctx.nets.liquid, base);
    let vacuum = ctx.outside.air_pressure_pa - absolute;
    ctx.read_out(R_VACUUM, vacuum.max(0.0));
    ctx.read_out(R_ABSOLUTE, absolute);
    ctx.read_out(R_TEMPERATURE, ctx.s(TEMPERATURE));
    ctx.read_out(R_AIR, ctx.s(AIR_PA));
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0));
    ctx.read_out(R_SEA_OUT, sea_out);
    ctx.read_out(R_HEAT, ctx.s(HEAT));
    ctx.read_out(R_LEVEL, ctx.s(WATER) / ctx.p(HOTWELL));
    ctx.read_out(R_CONDENSATE, ctx.s(REMOVED));
}
