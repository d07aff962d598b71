//! A duplex filter in an oil or fuel line: two chambers, a cock between them.

use super::declare::*;
use super::trapped_air::{AT_THE_COCK, at_the_cock, permit_vent, stepping};
use crate::ctx::{Ctx, View};
use crate::fluid::lag;
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;

const CHAMBERS: &[&str] = &["1", "2"];

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Liquid, 0, "Dirty side."),
    OUTLET = port("outlet", Net::Liquid, 0, "Clean side."),
});
declare!(PARAMS: ParamDef {
    FLOW = quantity("rated-flow", Dimension::Flow, 1e-7, 1.0, "Flow at which the clean difference holds."),
    CLEAN = quantity("clean-difference", Dimension::Pressure, 100.0, 5e5, "Pressure difference clean at rated flow, for oil at 65 degC, for diesel oil at 40 degC."),
    BYPASS = quantity_or("bypass", Dimension::Pressure, (1e4, 1e7), 1e7, "Difference at which its bypass opens; 100 bar means none."),
    OIL = flag("follows-viscosity", false, "Resistance goes with viscosity (Darcy), the clean difference holding for oil at 65 degC and for diesel oil at 40 degC."),
});
declare!(STATE: StateDef {
    CHAMBER = state_choice("chamber", CHAMBERS, 0, "Chamber in use."),
    DIRT_1 = state("dirt-1", Dimension::Ratio, (0.0, 100.0), 0.0, "Added resistance of chamber 1 as a share of the clean one."),
    DIRT_2 = state("dirt-2", Dimension::Ratio, (0.0, 100.0), 0.0, "The same of chamber 2."),
    AIR_1 = state("air-1", Dimension::Ratio, (0.0, 1.0), 0.0, "Air under the cover of chamber 1, as a share of what there can be."),
    AIR_2 = state("air-2", Dimension::Ratio, (0.0, 1.0), 0.0, "The same of chamber 2."),
});
declare!(ACTS: ActDef {
    SET_CHAMBER = set_choice("chamber", CHAMBERS, Reach::Local, 10.0, "Turn the cock to this chamber."),
    CLEAN_OTHER = act(Verb::Reset, Reach::Local, 45.0, "Open and clean the chamber that is not in use. Air is in it afterwards."),
    VENT = act(Verb::Vent, Reach::Local, 20.0, "Fill and vent both chambers by their cocks until liquid comes."),
});
declare!(FAULTS: FaultDef {
    CLOGS = fault("clogs", 0.6, "Dirt comes with the flow: the chamber in use clogs, at full severity to twenty times clean in two minutes; difference rises, pressure behind it falls."),
    TORN = fault("element-torn", 1.0, "The element is torn: dirt passes and the difference falls to up to a tenth of what it should be."),
    COCK = fault("cock-stuck", 1.0, "The change-over cock does not turn."),
    BYPASS_OPEN = fault("bypass-stuck-open", 1.0, "Its bypass does not seat: part of the flow goes past the element, the difference is low."),
});
declare!(READINGS: ReadingDef {
    R_DIFFERENCE = reading("difference", Dimension::Pressure, Seen::Remote, "Pressure difference."),
    R_CHAMBER = reading_words("chamber", CHAMBERS, Seen::Local, "Chamber in use (0 is 1, 1 is 2)."),
    R_COCK_1 = reading_words("vent-cock-1", AT_THE_COCK, Seen::Local, "What comes at the vent cock of chamber 1."),
    R_COCK_2 = reading_words("vent-cock-2", AT_THE_COCK, Seen::Local, "What comes at the vent cock of chamber 2."),
    R_FLOW = reading("flow", Dimension::Flow, Seen::Hidden, "Flow through it."),
});

declare!(FINDINGS: FindingDef {
    F_VENTED = finding("vented", Dimension::Ratio, "was vented: {measured} of the room under its covers had been air"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "duplex-filter",
    doc: "A duplex filter in an oil or fuel line.",
    physics: "dp = mu Q (R_clean + R_dirt) (Darcy); a bypass opens in proportion above its setting. Air that is \
              left when a chamber was opened, or that came when the line ran empty, stands under the cover and takes half of the \
              element until it is vented.",
    source: "Darcy's law; bypass slope, trapped air: common practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    liquid_branches: &[BranchDef { from: INLET, to: OUTLET }, BranchDef { from: INLET, to: OUTLET }],
    hooks: Hooks {
        liquid: Some(liquid),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Share of the element that air under the cover takes at most (common practice, no source).
const AIR_SHUTS: f64 = 0.5;
/// Time in which air comes in with an empty line, s (common practice, no source).
const AIR_COMES_S: f64 = 5.0;

/// Share of the element in use that is under liquid.
fn wetted(ctx: &mut Ctx<'_>) -> f64 {
    let slot = AIR_1 + ctx.s(CHAMBER) as usize;
    if stepping::air_has_come(ctx, INLET) || stepping::air_has_come(ctx, OUTLET) {
        let air = ctx.s(slot);
        ctx.set(slot, air + (1.0 - air) * lag(ctx.dt_s, AIR_COMES_S));
    }
    1.0 - AIR_SHUTS * ctx.s(slot)
}

fn liquid(ctx: &mut Ctx<'_>) {
    let wetted = wetted(ctx);
    let chamber = DIRT_1 + ctx.s(CHAMBER) as usize;
    let flow_share = (ctx.flow_m3_s(0) / ctx.p(FLOW)).clamp(0.0, 2.0);
    let dirt = ctx.s(chamber) + ctx.fault(CLOGS) * flow_share * ctx.dt_s * 20.0 / 120.0;
    ctx.set(chamber, dirt.min(100.0));
    let thick = if ctx.p_is(OIL) { ctx.viscosity_m2_s(INLET) / ctx.rated_viscosity_m2_s(INLET) } else { 1.0 };
    let whole = 1.0 - 0.9 * ctx.fault(TORN);
    let (lin, bypass) = (ctx.p(CLEAN) / ctx.p(FLOW) * thick * (1.0 + dirt) * whole / wetted, ctx.p(BYPASS));
    let stuck_open = ctx.fault(BYPASS_OPEN);
    let clean_slope = ctx.p(CLEAN) / ctx.p(FLOW) * thick;
    let slope = 0.2 * bypass / ctx.p(FLOW);
    let element = ctx.liquid_branch(0);
    element.shut = false;
    element.laminar_pa_s_m3 = lin;
    element.turbulent_pa_s2_m6 = 0.0;
    let valve = ctx.liquid_branch(1);
    valve.shut = bypass >= 9.9e6 && stuck_open < 0.5;
    valve.one_way = true;
    valve.laminar_pa_s_m3 = if stuck_open < 0.5 { slope } else { clean_slope };
    valve.turbulent_pa_s2_m6 = 0.0;
    valve.head_pa = if stuck_open < 0.5 { -bypass } else { 0.0 };
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_DIFFERENCE, ctx.pressure_pa(INLET) - ctx.pressure_pa(OUTLET));
    ctx.read_out(R_CHAMBER, ctx.s(CHAMBER));
    let (first, second) = (at_the_cock(ctx.s(AIR_1)), at_the_cock(ctx.s(AIR_2)));
    ctx.read_out(R_COCK_1, first);
    ctx.read_out(R_COCK_2, second);
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0) + ctx.flow_m3_s(1));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index == SET_CHAMBER && view.fault(COCK) >= 0.5 {
        blocks.push(Block { code: "stuck", text: "the cock does not turn".into() });
    }
    if act.index == VENT {
        permit_vent(view, INLET, blocks);
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        SET_CHAMBER => ctx.set(CHAMBER, act.value),
        VENT => {
            let air = 0.5 * (ctx.s(AIR_1) + ctx.s(AIR_2));
            ctx.set(AIR_1, 0.0);
            ctx.set(AIR_2, 0.0);
            ctx.find(F_VENTED, air, 0.0, 0.0);
        }
        _ => {
            let other = 1 - ctx.s(CHAMBER) as usize;
            ctx.set(DIRT_1 + other, 0.0);
            ctx.set(AIR_1 + other, 1.0);
        }
    }
}
