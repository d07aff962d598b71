//! A hand valve in an air line; without an outlet it blows to the atmosphere (a drain).

use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach, ReadingDef, Seen,
    StateDef, Verb,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Air, 0, "Where positive flow enters."),
    OUTLET = free_port("outlet", Net::Air, 0, "Where positive flow leaves; free: the atmosphere."),
});
declare!(PARAMS: ParamDef {
    BORE = quantity("bore", Dimension::Length, 1e-4, 0.2, "Bore of the equivalent nozzle fully open."),
    COEFFICIENT = quantity_or("discharge-coefficient", Dimension::Ratio, (0.1, 1.0), 0.8, "Discharge coefficient of that nozzle; common practice, no source."),
    ONE_WAY = flag("non-return", false, "No flow from outlet to inlet."),
});
declare!(STATE: StateDef {
    POSITION = state("position", Dimension::Ratio, (0.0, 1.0), 0.0, "Opening."),
});
declare!(ACTS: ActDef {
    OPEN = act(Verb::Open, Reach::Local, 15.0, "Open it. Slowly: stored air."),
    CLOSE = act(Verb::Close, Reach::Local, 15.0, "Shut it."),
});
declare!(FAULTS: FaultDef {
    STUCK = fault("stuck", 1.0, "The spindle does not move."),
    LEAK = fault("leaks-through", 0.2, "Shut, it still passes up to a tenth of its bore's area."),
});
declare!(READINGS: ReadingDef {
    R_POSITION = reading("position", Dimension::Ratio, Seen::Local, "Opening."),
    R_FLOW = reading("flow", Dimension::MassFlow, Seen::Hidden, "Mass flow."),
    R_PRESSURE = reading("outlet-pressure", Dimension::Pressure, Seen::Local, "Gauge pressure after it."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "air-valve",
    doc: "A hand valve in an air line, or a drain to the atmosphere.",
    physics: "ISO 6358 with sonic conductance of a nozzle, C = Cd A 0.040415 / (rho0 sqrt(T0)), critical ratio 0.528.",
    source: "ISO 6358-1; choked nozzle of any gas dynamics text",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    air_branches: &[BranchDef { from: INLET, to: OUTLET }],
    hooks: Hooks {
        air: Some(air),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Sonic conductance of a nozzle, m3/(s Pa): choked mass flow of air is 0.040415 A p1 / sqrt(T1) (k = 1.4).
pub(crate) fn nozzle_conductance(bore_m: f64, coefficient: f64) -> f64 {
    use crate::nets::air::{RHO0, T0_K};
    let area = 0.25 * std::f64::consts::PI * bore_m * bore_m;
    coefficient * area * 0.040415 / (RHO0 * f64::sqrt(T0_K))
}

fn air(ctx: &mut Ctx<'_>) {
    let open = ctx.s(POSITION).max(0.1 * ctx.fault(LEAK));
    let (conductance, one_way) =
        (open * nozzle_conductance(ctx.p(BORE), ctx.p(COEFFICIENT)), ctx.p_is(ONE_WAY));
    let branch = ctx.air_branch(0);
    branch.conductance_m3_s_pa = conductance;
    branch.critical_ratio = 0.528;
    branch.one_way = one_way;
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_POSITION, ctx.s(POSITION));
    ctx.read_out(R_FLOW, ctx.air_flow_kg_s(0));
    let after = if ctx.has_port(OUTLET) { ctx.air_pa(OUTLET) } else { 0.0 };
    ctx.read_out(R_PRESSURE, after);
}

fn permit(view: &View<'_>, _act: Act, blocks: &mut Vec<Block>) {
    if view.fault(STUCK) >= 0.5 {
        blocks.push(Block { code: "stuck", text: "the spindle does not move".into() });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    ctx.set(POSITION, if act.index == OPEN { 1.0 } else { 0.0 });
}
