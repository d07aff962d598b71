//! A three-way cock that joins one of two lines to a third: fuel changeover.

use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach, ReadingDef, Seen,
    StateDef,
};
use crate::unit::Dimension;

const POSITIONS: &[&str] = &["shut", "diesel", "heavy"];

declare!(PORTS: PortDef {
    DIESEL = port("diesel", Net::Liquid, 0, "Diesel line."),
    HEAVY = port("heavy", Net::Liquid, 0, "Heavy fuel line."),
    OUTLET = port("outlet", Net::Liquid, 0, "To the consumers."),
});
declare!(PARAMS: ParamDef {
    KV = quantity("kv", Dimension::FlowCoefficient, 1e-6, 10.0, "Flow coefficient of either way."),
});
declare!(STATE: StateDef {
    POSITION = state_choice("position", POSITIONS, 0, "Where the cock stands."),
});
declare!(ACTS: ActDef {
    SET_POSITION = set_choice("position", POSITIONS, Reach::Local, 10.0, "Turn the cock."),
});
declare!(FAULTS: FaultDef {
    STUCK = fault("stuck", 1.0, "The cock does not turn."),
    LEAK = fault("leaks-through", 0.5, "Its plug is scored: up to a tenth of its coefficient passes the ways that are shut."),
});
declare!(READINGS: ReadingDef {
    R_POSITION = reading_words("position", POSITIONS, Seen::Local, "Where the cock stands."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "changeover-cock",
    doc: "Three-way cock between diesel and heavy fuel.",
    physics: "Q = Kv sqrt(dp 1000/rho) on the way that is open. Fuels mix in the lines behind it.",
    source: "IEC 60534-2-1",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    liquid_branches: &[BranchDef { from: DIESEL, to: OUTLET }, BranchDef { from: HEAVY, to: OUTLET }],
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
    let (kv, density, position) = (ctx.p(KV), ctx.density_kg_m3(OUTLET), ctx.s(POSITION) as usize);
    let seat = 0.1 * ctx.fault(LEAK);
    for way in 0..2 {
        let open = if position == way + 1 { kv } else { kv * seat };
        ctx.liquid_branch(way).set_kv(open, density);
    }
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_POSITION, ctx.s(POSITION));
}

fn permit(view: &View<'_>, _act: Act, blocks: &mut Vec<Block>) {
    if view.fault(STUCK) >= 0.5 {
        blocks.push(Block { code: "stuck", text: "the cock does not turn".into() });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    ctx.set(POSITION, act.value);
}
