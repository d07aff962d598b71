//! A ventilation fan; a motor turns its shaft.

use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach, ReadingDef, Seen, StateDef,
    Verb,
};
use crate::unit::Dimension;

const WAYS: &[&str] = &["supply", "exhaust"];

declare!(PORTS: PortDef {
    SHAFT = port("shaft", Net::Shaft, 0, "What turns it."),
    SPACE = port("space", Net::Space, 0, "Room that it blows into or draws from."),
});
declare!(PARAMS: ParamDef {
    FLOW = quantity("rated-flow", Dimension::Flow, 1e-4, 1000.0, "Air at rated speed."),
    POWER = quantity("rated-power", Dimension::Power, 1.0, 1e7, "Shaft power at rated speed."),
    SPEED = quantity("rated-speed", Dimension::Speed, 1.0, 1000.0, "Speed at which they hold."),
    WAY = choice("way", WAYS, 0, "Does it blow in or draw out?"),
});
declare!(STATE: StateDef {
    DAMPER = state_flag("damper-open", true, "Fire damper open?"),
});
declare!(ACTS: ActDef {
    OPEN = act(Verb::Open, Reach::Local, 15.0, "Open its fire damper."),
    CLOSE = act(Verb::Close, Reach::Local, 15.0, "Shut its fire damper."),
});
declare!(FAULTS: FaultDef {
    BELT = fault("slips", 0.6, "This share of the air is lost; the room warms."),
    DAMPER_FALLS = fault("damper-falls-shut", 1.0, "The fire damper falls shut by itself: no air; a hand opens it once this is lifted."),
    DAMPER_STUCK = fault("damper-stuck", 1.0, "The fire damper does not move."),
    BACKWARDS = fault("turns-backwards", 1.0, "Two phases are swapped at its motor: it turns the wrong way and moves three tenths of its air."),
});
declare!(READINGS: ReadingDef {
    R_FLOW = reading("flow", Dimension::Flow, Seen::Local, "Air."),
    R_DAMPER = reading_words("damper-open", NO_YES, Seen::Local, "Fire damper open?"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "fan",
    doc: "A ventilation fan with its fire damper.",
    physics: "Air in proportion to speed, power to its cube (affinity laws).",
    source: "affinity laws",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    hooks: Hooks {
        after: Some(after),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn flow_m3_s(ctx: &Ctx<'_>) -> f64 {
    let share = (ctx.speed_rad_s(SHAFT) / ctx.p(SPEED)).max(0.0);
    let backwards = 1.0 - 0.7 * ctx.fault(BACKWARDS);
    ctx.p(FLOW) * share * ctx.s(DAMPER) * (1.0 - ctx.fault(BELT)) * backwards
}

/// Share of its rated air that engines draw through the trunk of a fan that stands; common practice, no source.
const PASSES_BY_ITSELF: f64 = 0.5;

fn after(ctx: &mut Ctx<'_>) {
    let (shaft, space, speed) = (ctx.node(SHAFT), ctx.node(SPACE), ctx.p(SPEED));
    if ctx.fault(DAMPER_FALLS) >= 0.5 {
        ctx.set(DAMPER, 0.0);
    }
    let open = if ctx.is(DAMPER) { 1.0 } else { 0.5 } * (1.0 - 0.7 * ctx.fault(BELT));
    let quadratic = ctx.p(POWER) * open / (speed * speed * speed);
    ctx.nets.shaft.quadratic_nm_s2[shaft] += quadratic;
    let flow = flow_m3_s(ctx);
    // Engines draw through a trunk whose fan stands, about half of what it would blow.
    let through = PASSES_BY_ITSELF * ctx.p(FLOW);
    ctx.nets.space.trunks_m3_s[space] += through;
    if ctx.is(DAMPER) {
        ctx.nets.space.opening_m3_s[space] += through.max(flow);
    }
    if ctx.p(WAY) < 0.5 {
        ctx.nets.space.supply_m3_s[space] += flow;
    } else {
        ctx.nets.space.extract_m3_s[space] += flow;
    }
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_FLOW, flow_m3_s(ctx));
    ctx.read_out(R_DAMPER, ctx.s(DAMPER));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if view.fault(DAMPER_STUCK) >= 0.5 {
        blocks.push(Block { code: "stuck", text: "the damper does not move".into() });
    } else if act.index == OPEN && view.fault(DAMPER_FALLS) >= 0.5 {
        blocks.push(Block {
            code: "does-not-hold",
            text: "the damper's link does not hold: it falls shut".into(),
        });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    ctx.set_is(DAMPER, act.index == OPEN);
}
