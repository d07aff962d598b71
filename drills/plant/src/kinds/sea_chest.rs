//! A sea chest: the sea as a source of pressure at its grid, with weed, slush ice and air.

use super::declare::*;
use crate::ctx::{Ctx, View};
use crate::fluid::{GRAVITY, ZERO_C_K, lag};
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach, ReadingDef,
    Seen, StateDef, Verb,
};
use crate::unit::Dimension;

const AT_THE_COCK: &[&str] = &["water", "slush", "air"];

declare!(PORTS: PortDef {
    OUTLET = setting_port("outlet", Net::Liquid, "Where the ship draws; warm water led back to this node comes into the chest."),
});
declare!(PARAMS: ParamDef {
    HEIGHT = quantity("height", Dimension::Length, 0.0, 30.0, "Top of the grid above the ship's base."),
});
declare!(STATE: StateDef {
    ICE = state("ice", Dimension::Ratio, (0.0, 1.0), 0.0, "Share of the chest that slush has shut."),
    BLOWN = inner("weed-blown-off", 0.0, "Severity of `weed` that was blown off already."),
});
declare!(ACTS: ActDef {
    BLOW = act(Verb::BlowClear, Reach::Local, 60.0, "Blow the chest clear through its steam or air connection; nothing may be drawn through it meanwhile."),
});
declare!(FAULTS: FaultDef {
    WEED = fault("weed", 0.7, "Weed on the grid: this share of it is shut; the suction falls with flow. Blowing clear takes it off; what grows on after that is new."),
    ICE_COMES = fault("ice", 0.7, "The sea carries slush, which it does at its freezing point alone (below -0.9 degC): it fills up to this share of the chest with what is drawn through it. Blowing clear helps for a time; warm water led back to the chest melts it."),
    AIR = fault("draws-air", 0.8, "The chest draws air (roll, trim, a broken vent): pumps on it lose their suction."),
});
declare!(READINGS: ReadingDef {
    R_GAUGE = reading("pressure", Dimension::Pressure, Seen::Local, "Gauge behind the grid against the sea outside: the more of the grid is shut, the further below zero while water is drawn."),
    R_COCK = reading_words("vent-cock", AT_THE_COCK, Seen::Local, "What comes at its vent cock."),
    R_COVER = reading("cover", Dimension::Length, Seen::Hidden, "Water above the grid."),
    R_FREE = reading("free", Dimension::Ratio, Seen::Hidden, "Share of the grid that is free."),
});
declare!(FINDINGS: FindingDef {
    F_BLOWN = finding("blown-clear", Dimension::Ratio, "was blown clear: {measured} of it had been shut"),
});

/// Free grid: its pressure loss at this flow is a metre of water, m3/s.
const GRID_M3_S: f64 = 0.6;
/// Flow through a chest that is too much to blow it: the steam or air would go to the pumps, m3/s.
const STILL_M3_S: f64 = 2e-3;
/// Sea water of 35 g/kg freezes here at the surface, K (UNESCO 1983, from memory): only such a sea carries slush.
const FREEZES_K: f64 = ZERO_C_K - 1.92;
/// So far above that the sea carries no slush any more, K.
const SLUSH_ENDS_K: f64 = 1.0;
/// Water drawn that leaves enough slush behind to fill the chest, m3, and ice in a chest that is full of slush, kg: some
/// minutes of a main pump (common practice, no source for the figures).
const FILLS_M3: f64 = 60.0;
const FULL_KG: f64 = 500.0;
/// Heat that melts ice, J/kg (Incropera, table A.3, from memory).
const MELTS_J_KG: f64 = 3.34e5;
/// Time in which the content of a chest is exchanged, s (common practice, no source).
const MIXES_S: f64 = 10.0;

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "sea-chest",
    doc: "A sea chest with its grid.",
    physics: "Piezometric pressure of the sea is zero at any depth; a grid out of the water gives nothing. Weed and slush \
              take off a loss that goes with the square of flow over free area. Slush stays behind in proportion to the water \
              drawn, in a sea at its freezing point alone; it melts by what heat the water in the chest has above that point, \
              in proportion to how much slush is there: so water led back from the coolers clears it, and less drawn from the \
              sea brings less of it. Waves and roll are left out.",
    source: "hydrostatics; sea inlets in slush: IMO MSC/Circ.504 (from memory) for heating by water led back; figures common \
             practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    hooks: Hooks {
        liquid: Some(liquid),
        publish: Some(publish),
        heat: Some(heat),
        settle: Some(settle),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn cover_m(ctx: &Ctx<'_>) -> f64 {
    ctx.outside.draught_m - ctx.p(HEIGHT)
}

/// Share of the grid that weed shuts now.
fn weed(ctx: &Ctx<'_>) -> f64 {
    (ctx.fault(WEED) - ctx.s(BLOWN)).max(0.0)
}

fn free_share(ctx: &Ctx<'_>) -> f64 {
    (1.0 - weed(ctx)) * (1.0 - ctx.s(ICE))
}

/// Water that the ship draws from the sea by this chest, m3/s.
fn drawn_m3_s(ctx: &Ctx<'_>) -> f64 {
    (-ctx.nets.liquid.net_inflow_m3_s(ctx.node(OUTLET))).max(0.0)
}

fn liquid(ctx: &mut Ctx<'_>) {
    // What has been blown off is gone; when the call falls below it, more of it later is new weed.
    let blown = ctx.s(BLOWN).min(ctx.fault(WEED));
    ctx.set(BLOWN, blown);
    let node = ctx.node(OUTLET);
    let ratio = drawn_m3_s(ctx) / (GRID_M3_S * free_share(ctx).max(0.02));
    let loss = 1025.0 * GRAVITY * ratio * ratio;
    // The loss is taken from last tick's flow: half of the step towards it keeps that loop calm.
    let present = ctx.nets.liquid.pressure_pa[node];
    ctx.nets.liquid.pressure_pa[node] = present + 0.5 * (-loss - present);
    ctx.nets.liquid.wet[node] = (cover_m(ctx) / 0.1).clamp(0.0, 1.0) * (1.0 - ctx.fault(AIR));
}

fn settle(ctx: &mut Ctx<'_>) {
    let node = ctx.node(OUTLET);
    ctx.nets.heat.capacity_j_k[node] = f64::INFINITY;
    ctx.nets.heat.temperature_k[node] = ctx.outside.sea_temperature_k;
}

/// Flow that is led back into the chest, m3/s, and the heat that it brings above the freezing point, W.
fn led_back(ctx: &Ctx<'_>) -> (f64, f64) {
    let (liquid, heat, node) = (&ctx.nets.liquid, &ctx.nets.heat, ctx.node(OUTLET));
    let (mut flow_m3_s, mut heat_w) = (0.0, 0.0);
    for (b, branch) in liquid.branches.iter().enumerate() {
        let into = if liquid.flow_m3_s[b] >= 0.0 { branch.to == node } else { branch.from == node };
        if into {
            flow_m3_s += liquid.flow_m3_s[b].abs();
            heat_w += heat.capacity_rate_w_k(liquid, b) * (heat.delivered_k(liquid, b) - FREEZES_K);
        }
    }
    (flow_m3_s, heat_w)
}

/// Slush comes with the water and melts by its heat; what is drawn on is a mixture of sea and water led back.
fn heat(ctx: &mut Ctx<'_>) {
    let node = ctx.node(OUTLET);
    let (sea_k, drawn) = (ctx.outside.sea_temperature_k, drawn_m3_s(ctx));
    let (back_m3_s, back_w) = led_back(ctx);
    let capacity_j_m3_k = ctx.nets.liquid.density_kg_m3[node] * ctx.nets.heat.specific_heat_j_kg_k[node];
    let sea_w = drawn * capacity_j_m3_k * (sea_k - FREEZES_K);
    let ice = ctx.s(ICE);
    let melting_w = ice * (sea_w + back_w).max(0.0);
    let carries = ctx.fault(ICE_COMES) * (1.0 - (sea_k - FREEZES_K) / SLUSH_ENDS_K).clamp(0.0, 1.0);
    let growth = if ice < ctx.fault(ICE_COMES) { carries * drawn / FILLS_M3 } else { 0.0 };
    let ice = ice + ctx.dt_s * (growth - melting_w / (FULL_KG * MELTS_J_KG));
    ctx.set(ICE, ice.clamp(0.0, 1.0));
    let through_m3_s = drawn + back_m3_s;
    let goal_k = if back_m3_s <= 0.0 && melting_w <= 0.0 || through_m3_s < 1e-6 {
        sea_k
    } else {
        FREEZES_K + (sea_w + back_w - melting_w) / (through_m3_s * capacity_j_m3_k)
    };
    let present_k = ctx.nets.heat.temperature_k[node];
    ctx.nets.heat.temperature_k[node] = present_k + (goal_k - present_k) * lag(ctx.dt_s, MIXES_S);
}

fn publish(ctx: &mut Ctx<'_>) {
    let cover_m = cover_m(ctx);
    let comes = if cover_m <= 0.0 || ctx.fault(AIR) >= 0.5 {
        2.0
    } else if ctx.s(ICE) >= 0.05 {
        1.0
    } else {
        0.0
    };
    let (pressure_pa, free) = (ctx.pressure_pa(OUTLET), free_share(ctx));
    ctx.read_out(R_GAUGE, pressure_pa);
    ctx.read_out(R_COCK, comes);
    ctx.read_out(R_COVER, cover_m);
    ctx.read_out(R_FREE, free);
}

fn permit(view: &View<'_>, _act: Act, blocks: &mut Vec<Block>) {
    let through_m3_s = view.nets.liquid.net_inflow_m3_s(view.node(OUTLET)).abs();
    if through_m3_s > STILL_M3_S {
        blocks.push(Block {
            code: "drawing",
            text: "water is drawn through it, the steam or air would go to the pumps: change over to the other chest and shut \
                   its valve, or stop the pumps on it, first"
                .into(),
        });
    }
}

fn do_act(ctx: &mut Ctx<'_>, _act: Act) {
    let shut = 1.0 - free_share(ctx);
    let weed = ctx.fault(WEED);
    ctx.set(BLOWN, weed);
    ctx.set(ICE, 0.0);
    ctx.find(F_BLOWN, shut, 0.0, 0.0);
}
