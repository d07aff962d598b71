//! A compressed-air receiver: wall, safety valve, leakage. Its volume is its node's.

use super::air_valve;
use super::declare::*;
use super::harm::Sensor;
use crate::ctx::Ctx;
use crate::fluid::humidity_kg_kg;
use crate::kind::{
    BranchDef, FaultDef, FindingDef, Hooks, Joints, KindDef, LinkDef, Net, ParamDef, PortDef, ReadingDef,
    Seen, StateDef,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    AIR = port("air", Net::Air, 0, "The receiver's content."),
});
declare!(PARAMS: ParamDef {
    WALL = quantity("wall", Dimension::HeatConductance, 0.1, 1e4, "Heat conductance from wall to air: area times 10 to 20 W/(m2 K) (from memory)."),
    SAFETY = quantity("safety-valve", Dimension::Pressure, 1e5, 1e8, "Gauge pressure at which its safety valve opens."),
    SAFETY_FLOW = quantity_or("safety-flow", Dimension::MassFlow, (1e-4, 10.0), 0.05, "What the safety valve passes at a tenth above."),
    CATCHES = quantity_or("catches", Dimension::Ratio, (0.0, 1.0), 0.3, "Share of the water of the compressed air that falls here: a separator before it takes most; common practice, no source."),
    HUMIDITY = quantity_or("humidity", Dimension::Ratio, (0.0, 1.0), 0.7, "Relative humidity of the air that is compressed."),
    WET_AIR = quantity_or("wet-above", Dimension::Mass, (0.0, 1e4), 5.0, "Water with which a start draws it into the starting air lines; common practice, no source."),
    LEAKAGE = quantity_or("leakage", Dimension::Ratio, (0.0, 1.0), 0.005, "Share of its air that leaks in an hour; common practice, no source."),
});
declare!(LINKS: LinkDef {
    DRAIN = link("drain", &["air-valve"], false, "Its drain: open, it blows the water out first."),
});
declare!(STATE: StateDef {
    WATER = state("water", Dimension::Mass, (0.0, 1e4), 0.0, "Water at its bottom."),
    CONDENSES = inner("condenses", 0.0, "Water that falls here for each kg of air that comes in, kg."),
    MASS_BEFORE = inner("mass-before", -1.0, "Air in it a tick ago, kg; negative before the first tick."),
    WET = inner("wet-told", 0.0, "1 once wet air has been told, until it is drained."),
    HELD = inner("held-pressure", 0.0, "What the gauge showed last, Pa."),
});
declare!(FAULTS: FaultDef {
    LEAKS = fault("leaks", 0.5, "A joint blows: up to three times its content an hour is lost; pressure falls."),
    SAFETY_LIFTS = fault("safety-valve-lifts", 0.5, "Its spring is weak: the safety valve opens up to 40 % early and blows; the receiver does not come to its pressure."),
    FROZEN = untrue("gauge-frozen", 1.0, "The gauge sticks: it shows what it showed when it froze."),
    HIGH = untrue("gauge-reads-high", 0.5, "The gauge shows up to a tenth of the safety valve's setting too much: starts fail though the pressure looks good."),
    DEAD = untrue("gauge-dead", 1.0, "No signal: the gauge falls to nothing, the low alert comes."),
});
declare!(READINGS: ReadingDef {
    R_PRESSURE = reading("pressure", Dimension::Pressure, Seen::Remote, "Gauge pressure."),
    R_TEMPERATURE = reading("temperature", Dimension::Temperature, Seen::Hidden, "Temperature of the air."),
    R_TRUE = reading("true-pressure", Dimension::Pressure, Seen::Hidden, "Gauge pressure, whatever the gauge shows."),
    R_WATER = reading("water", Dimension::Mass, Seen::Hidden, "Water at its bottom."),
    R_MASS = reading("mass", Dimension::Mass, Seen::Hidden, "Mass of air."),
});

declare!(FINDINGS: FindingDef {
    F_WET = finding("wet-air", Dimension::Mass, "gives wet air: {measured} of water in it, limit {limit}; it was not drained"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "air-receiver",
    doc: "A compressed-air receiver.",
    physics: "Ideal gas with energy balance and heat from the wall: nearly adiabatic in a start, isothermal over minutes. \
              Safety valve in proportion above its setting. Of the moisture that was compressed, what the \
              air no longer holds at its pressure and temperature falls out, here in its share; an open drain blows it out.",
    source: "ideal gas; checked against receiver_blowdown.csv (scipy 1.17.1); moist air after ASHRAE (from memory)",
    ports: PORTS,
    links: LINKS,
    params: PARAMS,
    state: STATE,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    air_branches: &[BranchDef { from: AIR, to: crate::kind::ATMOSPHERE }],
    joints: Joints { stores_air: &[AIR], ..Joints::NONE },
    hooks: Hooks {
        settle: Some(wall),
        air: Some(air),
        heat: Some(condense),
        publish: Some(publish),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn wall(ctx: &mut Ctx<'_>) {
    let (node, conductance) = (ctx.node(AIR), ctx.p(WALL));
    ctx.nets.air.wall_w_k[node] = conductance;
    ctx.read_out(R_PRESSURE, ctx.air_pa(AIR));
}

/// What a drain blows out, kg/s (common practice, no source).
const DRAINS_KG_S: f64 = 0.05;
/// Share of its air that a receiver gives in a second when something is started from it.
const START_SHARE_S: f64 = 0.01;

/// Moisture of the air outside that its air cannot hold.
fn condense(ctx: &mut Ctx<'_>) {
    let node = ctx.node(AIR);
    let outside = *ctx.outside;
    let came = humidity_kg_kg(outside.air_temperature_k, ctx.p(HUMIDITY), outside.air_pressure_pa);
    let holds = humidity_kg_kg(ctx.nets.air.temperature_k[node], 1.0, ctx.nets.air.pressure_pa(node));
    ctx.set(CONDENSES, ctx.p(CATCHES) * (came - holds).max(0.0));
}

fn follow_water(ctx: &mut Ctx<'_>) {
    let (mass, before) = (ctx.nets.air.mass_kg[ctx.node(AIR)], ctx.s(MASS_BEFORE));
    ctx.set(MASS_BEFORE, mass);
    if before < 0.0 {
        return;
    }
    let mut water = ctx.s(WATER) + (mass - before).max(0.0) * ctx.s(CONDENSES);
    if water > ctx.p(WET_AIR) && (before - mass) > START_SHARE_S * before * ctx.dt_s {
        if !ctx.is(WET) {
            ctx.find(F_WET, water, ctx.p(WET_AIR), 0.0);
        }
        ctx.set(WET, 1.0);
    }
    if ctx.has_link(DRAIN) && ctx.air_pa(AIR) > 1e4 {
        water -= DRAINS_KG_S * ctx.linked(DRAIN, air_valve::R_POSITION) * ctx.dt_s;
    }
    ctx.set(WATER, water.max(0.0));
    if water < 0.5 * ctx.p(WET_AIR) {
        ctx.set(WET, 0.0);
    }
}

fn air(ctx: &mut Ctx<'_>) {
    wall(ctx);
    follow_water(ctx);
    let node = ctx.node(AIR);
    let share_per_s = (ctx.p(LEAKAGE) + 3.0 * ctx.fault(LEAKS)) / 3600.0;
    let leak = ctx.nets.air.mass_kg[node] * share_per_s;
    let lifts_pa = ctx.p(SAFETY) * (1.0 - 0.4 * ctx.fault(SAFETY_LIFTS));
    let over = (ctx.air_pa(AIR) / lifts_pa - 1.0).clamp(0.0, 0.2) / 0.1;
    let lost = leak + over * ctx.p(SAFETY_FLOW);
    // As a conductance: m = C rho0 p when choked, which a leak from 30 bar is until the receiver is nearly empty.
    let pressure = ctx.nets.air.pressure_pa(node).max(1e5);
    ctx.air_branch(0).conductance_m3_s_pa = lost / (crate::nets::air::RHO0 * pressure);
}

const GAUGE: Sensor =
    Sensor { frozen: Some(FROZEN), reads_high: Some(HIGH), noisy: None, dead: Some(DEAD), held: HELD };

fn publish(ctx: &mut Ctx<'_>) {
    let node = ctx.node(AIR);
    let (truth_pa, drift_pa) = (ctx.air_pa(AIR), 0.1 * ctx.p(SAFETY));
    let shown_pa = GAUGE.shows(ctx, truth_pa, drift_pa, 0.0);
    ctx.read_out(R_PRESSURE, shown_pa);
    ctx.read_out(R_TRUE, truth_pa);
    ctx.read_out(R_TEMPERATURE, ctx.nets.air.temperature_k[node]);
    ctx.read_out(R_WATER, ctx.s(WATER));
    ctx.read_out(R_MASS, ctx.nets.air.mass_kg[node]);
}
