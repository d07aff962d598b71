//! A counterflow plate cooler between two liquids.

use super::declare::*;
use super::harm::leak_between;
use super::trapped_air::{AT_THE_COCK, at_the_cock, permit_vent};
use crate::ctx::{Ctx, View};
use crate::fluid::ZERO_C_K;
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, Joints, KindDef, NeedDef, Net, ParamDef,
    PortDef, Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::nets::heat::counterflow_effectiveness;
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    HOT_IN = port("hot-inlet", Net::Liquid, 1, "Warm side, in."),
    HOT_OUT = port("hot-outlet", Net::Liquid, 1, "Warm side, out."),
    COLD_IN = port("cold-inlet", Net::Liquid, 2, "Cold side, in."),
    COLD_OUT = port("cold-outlet", Net::Liquid, 2, "Cold side, out."),
});
declare!(PARAMS: ParamDef {
    UA = quantity("conductance", Dimension::HeatConductance, 1.0, 1e8, "Heat conductance clean, both sides at their rated flow."),
    HOT_FLOW = quantity("hot-rated-flow", Dimension::Flow, 1e-6, 2.0, "Rated flow of the warm side."),
    COLD_FLOW = quantity("cold-rated-flow", Dimension::Flow, 1e-6, 2.0, "Rated flow of the cold side."),
    HOT_KV = quantity("hot-kv", Dimension::FlowCoefficient, 1e-5, 10.0, "Flow coefficient of the warm side."),
    COLD_KV = quantity("cold-kv", Dimension::FlowCoefficient, 1e-5, 10.0, "Flow coefficient of the cold side."),
    HOT_EXPONENT = quantity_or("hot-exponent", Dimension::Ratio, (0.0, 1.0), 0.7, "Exponent of flow in the film on the warm side; 0.63 to 0.8 for plates, 0.3 to 0.5 for oil (from memory)."),
    COLD_EXPONENT = quantity_or("cold-exponent", Dimension::Ratio, (0.0, 1.0), 0.7, "The same on the cold side."),
    PLATE = quantity_or("end-plate-factor", Dimension::Ratio, (0.5, 1.0), 0.95, "What the end plates leave of the conductance (from memory)."),
});
declare!(STATE: StateDef {
    AIR = state("air", Dimension::Ratio, (0.0, 1.0), 0.0, "Share of its warm side that is without flow for the air in it."),
    AIR_FROM = inner("air-let-in", 0.0, "Severity of `warm-side-air-locked` that has let its air in already."),
});
declare!(ACTS: ActDef {
    VENT = act(Verb::Vent, Reach::Local, 30.0, "Open the vent cock on its warm side until liquid comes."),
});
declare!(FAULTS: FaultDef {
    FOULED = fault("fouled", 0.5, "Scale or slime on the plates: this share of the conductance is lost; the warm side leaves warmer."),
    CLOGGED = fault("cold-side-clogged", 0.7, "Mussels or debris in the channels of the cold side: this share of its area is shut."),
    LEAKS = fault("leaks-between-sides", 0.3, "A plate is holed: up to a fiftieth of the cold side's coefficient passes from the higher to the lower pressure; the expansion tank or sump rises or falls."),
    AIR_LOCKED = fault("warm-side-air-locked", 0.8, "Air has come into its warm side: this share of its passages is without flow; the warm circuit runs hot until it is vented. Lifted, it brings no more, and what there is stays until it is vented."),
});
declare!(NEEDS: NeedDef {
    N_COLD = need("cold-flow", "Flow on the cold side while the warm side flows: a tenth of rated at the least."),
});
declare!(READINGS: ReadingDef {
    R_COLD_FLOW = reading("cold-flow", Dimension::Flow, Seen::Remote, "Flow indication on the cold side."),
    R_HOT_OUT = reading("hot-outlet-temperature", Dimension::Temperature, Seen::Local, "Warm side, leaving."),
    R_COLD_OUT = reading("cold-outlet-temperature", Dimension::Temperature, Seen::Local, "Cold side, leaving."),
    R_COCK = reading_words("vent-cock", AT_THE_COCK, Seen::Local, "What comes at the vent cock of its warm side."),
    R_HEAT = reading("heat", Dimension::Power, Seen::Hidden, "Heat from the warm to the cold side."),
    R_HOT_FLOW = reading("hot-flow", Dimension::Flow, Seen::Hidden, "Flow on the warm side."),
});

declare!(FINDINGS: FindingDef {
    F_VENTED = finding("vented", Dimension::Ratio, "was vented: {measured} of its warm side had been without flow"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "cooler",
    doc: "A counterflow plate cooler between two liquids, with a flow indication on the cold side.",
    physics: "Effectiveness by number of transfer units, counterflow, from inlet temperatures; conductance follows both flows: \
              1/UA = 1/2UA0 (1/h^m + 1/c^n). Heat held by plates is in the nodes. Air in the warm side shuts its share of the \
              passages until it is vented. Condensing and boiling are left out.",
    source: "Incropera, Fundamentals of Heat and Mass Transfer, table 11.3; exponents after Kays & London (from memory)",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    liquid_branches: &[BranchDef { from: HOT_IN, to: HOT_OUT }, BranchDef { from: COLD_IN, to: COLD_OUT }],
    joints: Joints { exchanges: &[(HOT, COLD)], ..Joints::NONE },
    hooks: Hooks {
        liquid: Some(liquid),
        heat: Some(heat),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

const HOT: usize = 0;
const COLD: usize = 1;

/// The fault brings its air once, as far as it rises: vented, it is cured; lifted, it leaves what it brought.
fn trapped(ctx: &mut Ctx<'_>) -> f64 {
    let (severity, had) = (ctx.fault(AIR_LOCKED), ctx.s(AIR_FROM));
    let air = if severity > had { ctx.s(AIR).max(severity) } else { ctx.s(AIR) };
    ctx.set(AIR, air);
    ctx.set(AIR_FROM, severity);
    air
}

fn liquid(ctx: &mut Ctx<'_>) {
    let free = 1.0 - trapped(ctx);
    let (hot_kv, hot_rho) = (ctx.p(HOT_KV) * free, ctx.density_kg_m3(HOT_IN));
    let (cold_kv, cold_rho) = (ctx.p(COLD_KV) * (1.0 - ctx.fault(CLOGGED)), ctx.density_kg_m3(COLD_IN));
    ctx.liquid_branch(HOT).set_kv(hot_kv, hot_rho);
    ctx.liquid_branch(COLD).set_kv(cold_kv, cold_rho);
    leak_between(ctx, HOT_IN, COLD_IN, 0.02 * ctx.fault(LEAKS) * ctx.p(COLD_KV));
}

/// Heat from warm to cold at the present flows and inlet temperatures, W.
pub(crate) fn exchanged_w(ctx: &Ctx<'_>) -> f64 {
    let hot_share = ctx.flow_m3_s(HOT).abs() / ctx.p(HOT_FLOW);
    let cold_share = ctx.flow_m3_s(COLD).abs() / ctx.p(COLD_FLOW);
    if hot_share < 1e-4 || cold_share < 1e-4 {
        return 0.0;
    }
    let films = libm::pow(hot_share, -ctx.p(HOT_EXPONENT)) + libm::pow(cold_share, -ctx.p(COLD_EXPONENT));
    let ua = ctx.p(UA) * ctx.p(PLATE) * (1.0 - ctx.fault(FOULED)) * 2.0 / films;
    let base = ctx.wiring.liquid_branches;
    let (liquid, heat) = (&ctx.nets.liquid, &ctx.nets.heat);
    let (c_hot, c_cold) =
        (heat.capacity_rate_w_k(liquid, base + HOT), heat.capacity_rate_w_k(liquid, base + COLD));
    let effectiveness = counterflow_effectiveness(ua, c_hot, c_cold);
    effectiveness
        * c_hot.min(c_cold)
        * (heat.upstream_k(liquid, base + HOT) - heat.upstream_k(liquid, base + COLD))
}

fn heat(ctx: &mut Ctx<'_>) {
    let exchanged = exchanged_w(ctx);
    ctx.liquid_branch(HOT).heat_w = -exchanged;
    ctx.liquid_branch(COLD).heat_w = exchanged;
}

fn publish(ctx: &mut Ctx<'_>) {
    let hot = ctx.flow_m3_s(HOT).abs() > 0.05 * ctx.p(HOT_FLOW);
    let cold = ctx.flow_m3_s(COLD).abs() > 0.1 * ctx.p(COLD_FLOW);
    ctx.need(N_COLD, cold || !hot);
    let base = ctx.wiring.liquid_branches;
    let hot_out = ctx.nets.heat.delivered_k(&ctx.nets.liquid, base + HOT);
    let cold_out = ctx.nets.heat.delivered_k(&ctx.nets.liquid, base + COLD);
    ctx.read_out(R_COLD_FLOW, ctx.flow_m3_s(COLD));
    ctx.read_out(R_HOT_FLOW, ctx.flow_m3_s(HOT));
    ctx.read_out(R_HOT_OUT, hot_out.max(ZERO_C_K - 10.0));
    ctx.read_out(R_COLD_OUT, cold_out);
    let comes = at_the_cock(ctx.s(AIR));
    ctx.read_out(R_COCK, comes);
    ctx.read_out(R_HEAT, ctx.nets.liquid.branches[base + COLD].heat_w);
}

fn permit(view: &View<'_>, _act: Act, blocks: &mut Vec<Block>) {
    permit_vent(view, HOT_IN, blocks);
}

fn do_act(ctx: &mut Ctx<'_>, _act: Act) {
    let air = ctx.s(AIR);
    ctx.set(AIR, 0.0);
    ctx.find(F_VENTED, air, 0.0, 0.0);
}
