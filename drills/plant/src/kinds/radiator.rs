//! A radiator with a fan on the engine's shaft: cools water with the air of a room or from outside.

use super::declare::*;
use super::harm::{SIGNS, leak, sign};
use crate::ctx::Ctx;
use crate::kind::{BranchDef, FaultDef, Hooks, KindDef, Net, ParamDef, PortDef, ReadingDef, Seen};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Liquid, 0, "Water in."),
    OUTLET = port("outlet", Net::Liquid, 0, "Water out."),
    SHAFT = port("shaft", Net::Shaft, 0, "What turns the fan."),
    SPACE = free_port("space", Net::Space, 0, "Room whose air it takes; free: outside."),
});
declare!(PARAMS: ParamDef {
    UA = quantity("conductance", Dimension::HeatConductance, 1.0, 1e6, "Heat conductance at rated fan speed and water flow."),
    SPEED = quantity("rated-speed", Dimension::Speed, 1.0, 1000.0, "Fan's rated speed (its shaft node's)."),
    AIR = quantity("air-flow", Dimension::MassFlow, 0.01, 1000.0, "Air at rated speed."),
    KV = quantity("kv", Dimension::FlowCoefficient, 1e-6, 10.0, "Flow coefficient of the water side."),
    POWER = quantity_or("fan-power", Dimension::Power, (0.0, 1e6), 4000.0, "Shaft power of the fan at rated speed."),
});
declare!(FAULTS: FaultDef {
    BLOCKED = fault("blocked", 0.7, "Dirt or a shut damper before it: this share of the air is lost; the engine runs hot."),
    SLIPS = fault("fan-belt-slips", 0.6, "The fan's belt slips: this share of its speed is lost; the engine runs hot."),
    LEAKS = fault("leaks", 0.4, "A tube leaks: up to 0.3 m3/h at 1 bar; the header tank falls, the engine runs hot when it is empty."),
});
declare!(READINGS: ReadingDef {
    R_LEAK = reading_words("leak", SIGNS, Seen::Local, "What is seen at its tubes."),
    R_HEAT = reading("heat", Dimension::Power, Seen::Hidden, "Heat given to the air."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "radiator",
    doc: "Radiator with a shaft-driven fan.",
    physics: "Counterflow effectiveness between water and air flows; air in proportion to speed, conductance to its power 0.6.",
    source: "Incropera, table 11.3; exponent common practice, no source",
    ports: PORTS,
    params: PARAMS,
    faults: FAULTS,
    readings: READINGS,
    liquid_branches: &[BranchDef { from: INLET, to: OUTLET }],
    hooks: Hooks {
        liquid: Some(liquid),
        after: Some(after),
        heat: Some(heat),
        publish: Some(publish),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn liquid(ctx: &mut Ctx<'_>) {
    let (kv, density) = (ctx.p(KV), ctx.density_kg_m3(INLET));
    ctx.liquid_branch(0).set_kv(kv, density);
    leak(ctx, INLET, ctx.fault(LEAKS) * 0.3 / 3600.0);
}

fn after(ctx: &mut Ctx<'_>) {
    let (node, speed) = (ctx.node(SHAFT), ctx.p(SPEED));
    let turns = 1.0 - ctx.fault(SLIPS);
    let quadratic = ctx.p(POWER) * turns * turns / (speed * speed * speed);
    ctx.nets.shaft.quadratic_nm_s2[node] += quadratic;
}

fn heat(ctx: &mut Ctx<'_>) {
    use crate::nets::air::CP_AIR;
    use crate::nets::heat::counterflow_effectiveness;
    let share = (ctx.speed_rad_s(SHAFT) / ctx.p(SPEED)).clamp(0.0, 1.2)
        * (1.0 - ctx.fault(BLOCKED))
        * (1.0 - ctx.fault(SLIPS));
    let index = ctx.wiring.liquid_branches;
    let water = ctx.nets.heat.capacity_rate_w_k(&ctx.nets.liquid, index);
    let air = ctx.p(AIR) * share * CP_AIR;
    if air < 1.0 || water < 1.0 {
        return;
    }
    let ua = ctx.p(UA) * libm::pow(share, 0.6);
    let (hot, cold) = (ctx.nets.heat.upstream_k(&ctx.nets.liquid, index), ctx.space_k(SPACE));
    let heat = counterflow_effectiveness(ua, air, water) * air.min(water) * (hot - cold);
    ctx.liquid_branch(0).heat_w = -heat;
}

fn publish(ctx: &mut Ctx<'_>) {
    let index = ctx.wiring.liquid_branches;
    let seen = sign(ctx.fault(LEAKS), ctx.pressure_pa(INLET));
    ctx.read_out(R_LEAK, seen);
    ctx.read_out(R_HEAT, -ctx.nets.liquid.branches[index].heat_w);
}
