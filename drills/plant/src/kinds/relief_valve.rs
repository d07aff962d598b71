//! A spring-loaded valve that holds the pressure before it: relief valve, lube oil pressure regulator.

use super::declare::*;
use super::harm::leak_between;
use crate::ctx::Ctx;
use crate::kind::{
    BranchDef, FaultDef, Hooks, Joints, KindDef, Net, OneWay, ParamDef, PortDef, ReadingDef, Seen,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Liquid, 0, "Where the pressure is held."),
    OUTLET = port("outlet", Net::Liquid, 0, "Where the rest goes."),
});
declare!(PARAMS: ParamDef {
    SET = quantity("set-pressure", Dimension::Pressure, 1e3, 2e7, "Difference at which it begins to open."),
    FLOW = quantity("full-flow", Dimension::Flow, 1e-7, 1.0, "Flow at a tenth above its setting."),
});
declare!(FAULTS: FaultDef {
    STUCK_OPEN = fault("stuck-open", 0.7, "Dirt under the seat: the setting falls by this share; pressure before it is low."),
    STUCK_SHUT = fault("stuck-shut", 0.5, "The spring is jammed: it opens up to twice its setting late; pressure before it is high."),
    CHATTERS = fault("seat-worn", 0.5, "The seat is worn: up to a fifth of its full flow passes below its setting; pressure is low at low speed."),
});
declare!(READINGS: ReadingDef {
    R_FLOW = reading("flow", Dimension::Flow, Seen::Hidden, "Flow through it."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "relief-valve",
    doc: "A spring-loaded valve that holds the pressure before it.",
    physics: "No flow below the setting, then in proportion; full flow at 10 % above it.",
    source: "proportional relief valve; common practice, no source",
    ports: PORTS,
    params: PARAMS,
    faults: FAULTS,
    readings: READINGS,
    liquid_branches: &[BranchDef { from: INLET, to: OUTLET }],
    joints: Joints { one_way: &[OneWay { branch: 0, when: None, sprung: true }], ..Joints::NONE },
    hooks: Hooks { liquid: Some(liquid), publish: Some(publish), ..Hooks::NONE },
    ..KindDef::EMPTY
};

fn liquid(ctx: &mut Ctx<'_>) {
    let set = ctx.p(SET) * (1.0 - ctx.fault(STUCK_OPEN)) * (1.0 + 2.0 * ctx.fault(STUCK_SHUT));
    let slope = 0.1 * ctx.p(SET) / ctx.p(FLOW);
    leak_between(ctx, INLET, OUTLET, 0.2 * ctx.fault(CHATTERS) * ctx.p(FLOW));
    let branch = ctx.liquid_branch(0);
    branch.shut = false;
    branch.one_way = true;
    branch.laminar_pa_s_m3 = slope;
    branch.turbulent_pa_s2_m6 = 0.0;
    branch.head_pa = -set;
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0));
}
