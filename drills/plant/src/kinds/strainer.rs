//! A strainer in a sea water line.

use super::declare::*;
use super::trapped_air::{AT_THE_COCK, at_the_cock, permit_vent, stepping};
use crate::ctx::{Ctx, View};
use crate::fluid::lag;
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef, Verb,
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
    ISOLATED = state_flag("isolated", false, "Its own valves on both sides are shut."),
    AIR = state("air", Dimension::Ratio, (0.0, 1.0), 0.0, "Air under its cover, as a share of what there can be."),
});
declare!(ACTS: ActDef {
    CLEAN = act(Verb::Reset, Reach::Local, 180.0, "Open it, lift the basket and clean it; it must be isolated. Air is in it afterwards."),
    ISOLATE = act(Verb::Close, Reach::Local, 30.0, "Shut its valves on both sides."),
    OPEN = act(Verb::Open, Reach::Local, 30.0, "Open its valves on both sides."),
    VENT = act(Verb::Vent, Reach::Local, 20.0, "Open the vent cock on its cover until water comes."),
});
declare!(FAULTS: FaultDef {
    CLOGS = fault("clogs", 0.7, "Weed or jellyfish shut this share of the basket: pressure difference rises, header pressure falls."),
    GAUGE = untrue("difference-gauge-dead", 1.0, "The difference gauge shows nothing: a clogged basket looks clean."),
});
declare!(READINGS: ReadingDef {
    R_DIFFERENCE = reading("difference", Dimension::Pressure, Seen::Remote, "Pressure difference over the basket."),
    R_ISOLATED = reading_words("isolated", NO_YES, Seen::Local, "Are its valves on both sides shut?"),
    R_COCK = reading_words("vent-cock", AT_THE_COCK, Seen::Local, "What comes at the vent cock on its cover."),
    R_FLOW = reading("flow", Dimension::Flow, Seen::Hidden, "Flow through it."),
});

declare!(FINDINGS: FindingDef {
    F_CLEANED = finding("cleaned", Dimension::Ratio, "was opened and cleaned: {measured} of its basket had been shut"),
    F_VENTED = finding("vented", Dimension::Ratio, "was vented: {measured} of the room under its cover had been air"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "strainer",
    doc: "A basket strainer in a sea water line.",
    physics: "Kv falls in proportion to the free area of the basket. It has a stop valve of its own on either side. Air that is left \
              when it was opened, or that came when its line ran empty, stands under the cover and shuts half of the basket until \
              it is vented; water alone does not carry it out.",
    source: "IEC 60534-2-1 for the flow; the proportion is a simplification; trapped air: common practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
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

/// Share of the basket that air under the cover shuts at most (common practice, no source).
const AIR_SHUTS: f64 = 0.5;
/// Time in which air comes in with an empty line, s (common practice, no source).
const AIR_COMES_S: f64 = 5.0;

fn liquid(ctx: &mut Ctx<'_>) {
    let isolated = ctx.is(ISOLATED);
    if !isolated && (stepping::air_has_come(ctx, INLET) || stepping::air_has_come(ctx, OUTLET)) {
        let air = ctx.s(AIR);
        ctx.set(AIR, air + (1.0 - air) * lag(ctx.dt_s, AIR_COMES_S));
    }
    let clean = 1.0 - ctx.s(DIRT).max(ctx.fault(CLOGS));
    let free = (clean * (1.0 - AIR_SHUTS * ctx.s(AIR))).max(0.01);
    let (kv, density) = (ctx.p(KV) * free, ctx.density_kg_m3(INLET));
    let branch = ctx.liquid_branch(0);
    branch.set_kv(kv, density);
    branch.shut |= isolated;
}

fn publish(ctx: &mut Ctx<'_>) {
    let isolated = ctx.is(ISOLATED);
    // The gauge sits on the strainer, between its valves.
    let difference_pa = if isolated { 0.0 } else { ctx.pressure_pa(INLET) - ctx.pressure_pa(OUTLET) };
    ctx.read_out(R_DIFFERENCE, if ctx.faulty(GAUGE) { 0.0 } else { difference_pa });
    ctx.read_out_is(R_ISOLATED, isolated);
    let comes = at_the_cock(ctx.s(AIR));
    ctx.read_out(R_COCK, comes);
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    match act.index {
        CLEAN if !view.is(ISOLATED) => blocks.push(Block {
            code: "not-isolated",
            text:
                "the sea would come in by its open cover: close it first, that shuts its valves on both sides"
                    .into(),
        }),
        VENT if view.is(ISOLATED) => blocks.push(Block {
            code: "isolated",
            text: "its valves are shut and no water presses the air out: open it first".into(),
        }),
        VENT => permit_vent(view, OUTLET, blocks),
        _ => {}
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        ISOLATE => ctx.set_is(ISOLATED, true),
        OPEN => ctx.set_is(ISOLATED, false),
        VENT => {
            let air = ctx.s(AIR);
            ctx.set(AIR, 0.0);
            ctx.find(F_VENTED, air, 0.0, 0.0);
        }
        _ => {
            let shut = ctx.s(DIRT).max(ctx.fault(CLOGS));
            ctx.set(DIRT, 0.0);
            ctx.set(AIR, 1.0);
            ctx.find(F_CLEANED, shut, 0.0, 0.0);
        }
    }
}
