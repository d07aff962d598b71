//! A hand-operated stop valve in a liquid line.

use super::declare::*;
use super::harm::{SIGNS, leak, sign};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, Hooks, Joints, KindDef, Net, OneWay, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Liquid, 0, "Where positive flow enters."),
    OUTLET = port("outlet", Net::Liquid, 0, "Where positive flow leaves."),
});
declare!(PARAMS: ParamDef {
    KV = quantity("kv", Dimension::FlowCoefficient, 1e-6, 10.0, "Flow coefficient fully open (IEC 60534)."),
    STROKE = quantity_or("stroke", Dimension::Time, (0.1, 300.0), 8.0, "Time from shut to open by hand; common practice, no source."),
    ONE_WAY = flag("non-return", false, "Screw-down non-return valve: no flow from outlet to inlet."),
});
declare!(STATE: StateDef {
    POSITION = state("position", Dimension::Ratio, (0.0, 1.0), 0.0, "0 shut, 100 % open."),
    WANTED = inner("wanted", -1.0, "Position the hand-wheel is being turned to; negative before it was first touched."),
    DISC = inner("disc", 0.0, "Where the disc is; that is where the spindle is unless it is broken."),
    LOOSE_FROM = inner("worked-loose", 0.0, "Severity of `works-loose` that it has answered already."),
});
declare!(ACTS: ActDef {
    OPEN = act(Verb::Open, Reach::Local, 15.0, "Open it fully."),
    CLOSE = act(Verb::Close, Reach::Local, 15.0, "Shut it."),
    SET_POSITION = set_quantity("position", Dimension::Ratio, (0.0, 1.0), Reach::Local, 15.0, "Open it so far."),
});
declare!(FAULTS: FaultDef {
    STUCK = fault("stuck", 1.0, "The spindle does not move: the hand-wheel turns hard and the position stays."),
    LEAK = fault("leaks-through", 0.3, "The seat is cut: shut, it still passes up to a tenth of its full coefficient."),
    LOOSE = fault("works-loose", 0.3, "It shakes open by itself, this far, within seconds; a hand that shuts it cures it."),
    BROKEN = fault("spindle-broken", 1.0, "The spindle turns and the disc does not follow: the position says what was asked for, the flow stays as it was."),
    GLAND = fault("gland-leaks", 0.5, "The gland leaks: up to a hundredth of its flow coefficient runs out; it drips or sprays, tanks fall."),
});
declare!(READINGS: ReadingDef {
    R_POSITION = reading("position", Dimension::Ratio, Seen::Local, "Position of the spindle."),
    R_GLAND = reading_words("gland", SIGNS, Seen::Local, "What is seen at its gland."),
    R_FLOW = reading("flow", Dimension::Flow, Seen::Hidden, "Flow from inlet to outlet."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "valve",
    doc: "A hand-operated stop valve in a liquid line.",
    physics: "Q = Kv(x) sqrt(dp 1000/rho), linear characteristic Kv = x Kvs, turbulent and without choking.",
    source: "IEC 60534-2-1, non-choked turbulent flow",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    liquid_branches: &[BranchDef { from: INLET, to: OUTLET }],
    joints: Joints { one_way: &[OneWay { branch: 0, when: Some(ONE_WAY), sprung: false }], ..Joints::NONE },
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
    let wanted = ctx.s(WANTED);
    let mut position = ctx.s(POSITION);
    if wanted >= 0.0 && ctx.fault(STUCK) < 0.5 {
        let step = ctx.dt_s / ctx.p(STROKE);
        position += (wanted - position).clamp(-step, step);
        ctx.set(POSITION, position);
    }
    // It shakes open once for each time the fault comes; after that a hand may shut it for good.
    let loose = ctx.fault(LOOSE);
    if loose > ctx.s(LOOSE_FROM) && position < loose {
        position = (position + ctx.dt_s * loose / 2.0).min(loose);
        ctx.set(POSITION, position);
        ctx.set(WANTED, -1.0);
    }
    if position >= loose || loose == 0.0 {
        ctx.set(LOOSE_FROM, loose);
    }
    if ctx.fault(BROKEN) < 0.5 {
        ctx.set(DISC, position);
    }
    let open = ctx.s(DISC).max(0.1 * ctx.fault(LEAK));
    leak(ctx, INLET, 0.01 * ctx.fault(GLAND) * ctx.p(KV));
    let (kv, density, one_way) = (ctx.p(KV) * open, ctx.density_kg_m3(INLET), ctx.p_is(ONE_WAY));
    let branch = ctx.liquid_branch(0);
    branch.set_kv(kv, density);
    branch.one_way = one_way;
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_POSITION, ctx.s(POSITION));
    let seen = sign(ctx.fault(GLAND), ctx.pressure_pa(INLET));
    ctx.read_out(R_GLAND, seen);
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0));
}

fn permit(view: &View<'_>, _act: Act, blocks: &mut Vec<Block>) {
    if view.fault(STUCK) >= 0.5 {
        blocks.push(Block { code: "stuck", text: "the spindle does not move".into() });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    let wanted = match act.index {
        OPEN => 1.0,
        CLOSE => 0.0,
        _ => act.value,
    };
    ctx.set(WANTED, wanted);
}
