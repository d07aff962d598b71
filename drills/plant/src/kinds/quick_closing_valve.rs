//! A quick-closing valve at a tank: shut from afar at once, reset and opened by hand at the tank.

use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Liquid, 0, "Tank side."),
    OUTLET = port("outlet", Net::Liquid, 0, "Line side."),
});
declare!(PARAMS: ParamDef {
    KV = quantity("kv", Dimension::FlowCoefficient, 1e-6, 10.0, "Flow coefficient open."),
});
declare!(STATE: StateDef {
    OPEN_STATE = state_flag("open", false, "Open?"),
    LATCHED = state_flag("released", false, "Has the release been pulled since it was last reset?"),
});
declare!(ACTS: ActDef {
    OPEN = act(Verb::Open, Reach::Local, 20.0, "Open it by its hand-wheel; the release must have been reset."),
    CLOSE = act(Verb::Close, Reach::Remote, 3.0, "Pull the release: it shuts at once."),
    RESET = act(Verb::Reset, Reach::Local, 20.0, "Reset the release at the valve."),
});
declare!(FAULTS: FaultDef {
    FALLS_SHUT = fault("falls-shut", 1.0, "The release lets go by itself: fuel pressure falls, the engine starves."),
    JAMMED = fault("does-not-release", 1.0, "The release wire is jammed: pulled from afar, it stays open."),
    LEAK = fault("leaks-through", 0.3, "Shut, it still passes up to a tenth of its coefficient."),
});
declare!(READINGS: ReadingDef {
    R_OPEN = reading_words("open", NO_YES, Seen::Remote, "Open?"),
    R_RELEASED = reading_words("released", NO_YES, Seen::Local, "Released and not reset?").latched(),
    R_FLOW = reading("flow", Dimension::Flow, Seen::Hidden, "Flow."),
});
declare!(FINDINGS: FindingDef {
    F_SHUT = finding("shut-by-release", Dimension::None, "was shut by its release"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "quick-closing-valve",
    doc: "A quick-closing valve at a tank, with remote release and reset by hand (SOLAS II-2/4).",
    physics: "Q = Kv sqrt(dp 1000/rho) when open.",
    source: "IEC 60534-2-1",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    liquid_branches: &[BranchDef { from: INLET, to: OUTLET }],
    hooks: Hooks {
        control: Some(control),
        liquid: Some(liquid),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn release(ctx: &mut Ctx<'_>) {
    if ctx.is(OPEN_STATE) {
        ctx.find(F_SHUT, 0.0, 0.0, 0.0);
    }
    ctx.set(OPEN_STATE, 0.0);
    ctx.set(LATCHED, 1.0);
}

fn control(ctx: &mut Ctx<'_>) {
    if ctx.faulty(FALLS_SHUT) && !ctx.is(LATCHED) {
        release(ctx);
    }
}

fn liquid(ctx: &mut Ctx<'_>) {
    let (kv, density) = (ctx.p(KV) * ctx.s(OPEN_STATE).max(0.1 * ctx.fault(LEAK)), ctx.density_kg_m3(INLET));
    ctx.liquid_branch(0).set_kv(kv, density);
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_OPEN, ctx.s(OPEN_STATE));
    ctx.read_out(R_RELEASED, ctx.s(LATCHED));
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index == OPEN && view.is(LATCHED) {
        blocks.push(Block {
            code: "release-not-reset",
            text: "its release has been pulled: reset it at the valve first".into(),
        });
    }
    if act.index == CLOSE && view.fault(JAMMED) >= 0.5 {
        blocks.push(Block { code: "does-not-release", text: "the release does not let go".into() });
    }
    if act.index == RESET && view.faulty(FALLS_SHUT) {
        blocks.push(Block {
            code: "release-does-not-hold",
            text: "the release does not hold: it lets go again".into(),
        });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        OPEN => ctx.set(OPEN_STATE, 1.0),
        CLOSE => release(ctx),
        _ => ctx.set(LATCHED, 0.0),
    }
}
