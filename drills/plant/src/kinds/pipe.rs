//! A fixed resistance in a liquid line.

use super::declare::*;
use super::harm::{SIGNS, leak, sign};
use crate::ctx::Ctx;
use crate::kind::{
    BranchDef, FaultDef, Hooks, Joints, KindDef, Net, OneWay, ParamDef, PortDef, ReadingDef, Seen,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Liquid, 0, "Where positive flow enters."),
    OUTLET = port("outlet", Net::Liquid, 0, "Where positive flow leaves."),
});
declare!(PARAMS: ParamDef {
    KV = quantity("kv", Dimension::FlowCoefficient, 1e-6, 10.0, "Flow coefficient (IEC 60534)."),
    ONE_WAY = flag("non-return", false, "With a non-return valve: no flow from outlet to inlet."),
});
declare!(FAULTS: FaultDef {
    LEAKS = fault("leaks", 0.5, "A joint or a pinhole: up to a twentieth of its flow coefficient runs out; tanks fall, pressure sinks."),
    BLOCKED = fault("blocked", 0.7, "Scale or a rag: this share of its area is shut; flow falls."),
});
declare!(READINGS: ReadingDef {
    R_FLOW = reading("flow", Dimension::Flow, Seen::Hidden, "Flow from inlet to outlet."),
    R_LEAK = reading_words("leak", SIGNS, Seen::Local, "What is seen at its joints."),
    R_OUT = reading("outlet-pressure", Dimension::Pressure, Seen::Local, "Pressure at the outlet."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "pipe",
    doc: "A fixed resistance in a liquid line, with or without a non-return valve.",
    physics: "Q = Kv sqrt(dp 1000/rho); fully turbulent.",
    source: "IEC 60534-2-1",
    ports: PORTS,
    params: PARAMS,
    faults: FAULTS,
    readings: READINGS,
    liquid_branches: &[BranchDef { from: INLET, to: OUTLET }],
    joints: Joints { one_way: &[OneWay { branch: 0, when: Some(ONE_WAY), sprung: false }], ..Joints::NONE },
    hooks: Hooks { liquid: Some(liquid), publish: Some(publish), ..Hooks::NONE },
    ..KindDef::EMPTY
};

fn liquid(ctx: &mut Ctx<'_>) {
    let (kv, density, one_way) =
        (ctx.p(KV) * (1.0 - ctx.fault(BLOCKED)), ctx.density_kg_m3(INLET), ctx.p_is(ONE_WAY));
    let branch = ctx.liquid_branch(0);
    branch.set_kv(kv, density);
    branch.one_way = one_way;
    // What a hole passes at 1 bar is its own flow coefficient.
    leak(ctx, INLET, 0.05 * ctx.fault(LEAKS) * ctx.p(KV));
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0));
    let seen = sign(ctx.fault(LEAKS), ctx.pressure_pa(INLET));
    ctx.read_out(R_LEAK, seen);
    ctx.read_out(R_OUT, ctx.pressure_pa(OUTLET));
}
