//! A compressed-air receiver: wall, safety valve, leakage. Its volume is its node's.

use super::declare::*;
use super::harm::Sensor;
use crate::ctx::Ctx;
use crate::kind::{
    BranchDef, FaultDef, Hooks, Joints, KindDef, Net, ParamDef, PortDef, ReadingDef, Seen, StateDef,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    AIR = port("air", Net::Air, 0, "The receiver's content."),
});
declare!(PARAMS: ParamDef {
    WALL = quantity("wall", Dimension::HeatConductance, 0.1, 1e4, "Heat conductance from wall to air: area times 10 to 20 W/(m2 K) (from memory)."),
    SAFETY = quantity("safety-valve", Dimension::Pressure, 1e5, 1e8, "Gauge pressure at which its safety valve opens."),
    SAFETY_FLOW = quantity_or("safety-flow", Dimension::MassFlow, (1e-4, 10.0), 0.05, "What the safety valve passes at a tenth above."),
    LEAKAGE = quantity_or("leakage", Dimension::Ratio, (0.0, 1.0), 0.005, "Share of its air that leaks in an hour; common practice, no source."),
});
declare!(STATE: StateDef {
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
    R_MASS = reading("mass", Dimension::Mass, Seen::Hidden, "Mass of air."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "air-receiver",
    doc: "A compressed-air receiver.",
    physics: "Ideal gas with energy balance and heat from the wall: nearly adiabatic in a start, isothermal over minutes. \
              Safety valve in proportion above its setting. Water in the receiver is left out for now.",
    source: "ideal gas; checked against receiver_blowdown.csv (scipy 1.17.1)",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    faults: FAULTS,
    readings: READINGS,
    air_branches: &[BranchDef { from: AIR, to: crate::kind::ATMOSPHERE }],
    joints: Joints { stores_air: &[AIR], ..Joints::NONE },
    hooks: Hooks { settle: Some(wall), air: Some(air), publish: Some(publish), ..Hooks::NONE },
    ..KindDef::EMPTY
};

fn wall(ctx: &mut Ctx<'_>) {
    let (node, conductance) = (ctx.node(AIR), ctx.p(WALL));
    ctx.nets.air.wall_w_k[node] = conductance;
    ctx.read_out(R_PRESSURE, ctx.air_pa(AIR));
}

fn air(ctx: &mut Ctx<'_>) {
    wall(ctx);
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
    ctx.read_out(R_MASS, ctx.nets.air.mass_kg[node]);
}
