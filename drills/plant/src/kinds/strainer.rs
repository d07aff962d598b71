//! A strainer in a sea water line.

use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach, ReadingDef, Seen,
    StateDef, Verb,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Liquid, 0, "Dirty side."),
    OUTLET = port("outlet", Net::Liquid, 0, "Clean side."),
});
declare!(PARAMS: ParamDef {
    KV = quantity("kv", Dimension::FlowCoefficient, 1e-4, 10.0, "Flow coefficient when clean."),
});
declare!(STATE: StateDef {
    DIRT = state("dirt", Dimension::Ratio, (0.0, 1.0), 0.0, "Share of the basket that is shut by dirt."),
});
declare!(ACTS: ActDef {
    CLEAN = act(Verb::Reset, Reach::Local, 180.0, "Lift the basket and clean it; needs the line without flow."),
});
declare!(FAULTS: FaultDef {
    CLOGS = fault("clogs", 0.7, "Weed or jellyfish shut this share of the basket: pressure difference rises, header pressure falls."),
    GAUGE = untrue("difference-gauge-dead", 1.0, "The difference gauge shows nothing: a clogged basket looks clean."),
});
declare!(READINGS: ReadingDef {
    R_DIFFERENCE = reading("difference", Dimension::Pressure, Seen::Remote, "Pressure difference over the basket."),
    R_FLOW = reading("flow", Dimension::Flow, Seen::Hidden, "Flow through it."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "strainer",
    doc: "A basket strainer in a sea water line.",
    physics: "Kv falls in proportion to the free area of the basket.",
    source: "IEC 60534-2-1 for the flow; the proportion is a simplification",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    liquid_branches: &[BranchDef { from: INLET, to: OUTLET }],
    hooks: Hooks {
        liquid: Some(liquid),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn liquid(ctx: &mut Ctx<'_>) {
    let free = (1.0 - ctx.s(DIRT).max(ctx.fault(CLOGS))).max(0.01);
    let (kv, density) = (ctx.p(KV) * free, ctx.density_kg_m3(INLET));
    ctx.liquid_branch(0).set_kv(kv, density);
}

fn publish(ctx: &mut Ctx<'_>) {
    let difference_pa = ctx.pressure_pa(INLET) - ctx.pressure_pa(OUTLET);
    ctx.read_out(R_DIFFERENCE, if ctx.faulty(GAUGE) { 0.0 } else { difference_pa });
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0));
}

fn permit(view: &View<'_>, _act: Act, blocks: &mut Vec<Block>) {
    if view.flow_m3_s(0).abs() > 1e-3 {
        blocks.push(Block {
            code: "under-flow",
            text: "water is flowing through it: shut the valves before and after it first".into(),
        });
    }
}

fn do_act(ctx: &mut Ctx<'_>, _act: Act) {
    ctx.set(DIRT, 0.0);
}
