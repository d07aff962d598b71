//! A two-stage charge-air cooler: an HT stage, then an LT stage.

use super::declare::*;
use super::diesel_engine as engine;
use super::gauge::SCALE_END_K;
use super::harm::{SIGNS, leak, sign};
use crate::ctx::Ctx;
use crate::kind::{
    BranchDef, FaultDef, Hooks, KindDef, LinkDef, Net, ParamDef, PortDef, ReadingDef, Seen, StateDef,
};
use crate::nets::air::CP_AIR;
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    HT_IN = port("ht-inlet", Net::Liquid, 1, "HT stage, in."),
    HT_OUT = port("ht-outlet", Net::Liquid, 1, "HT stage, out."),
    LT_IN = port("lt-inlet", Net::Liquid, 2, "LT stage, in."),
    LT_OUT = port("lt-outlet", Net::Liquid, 2, "LT stage, out."),
    SPACE = free_port("space", Net::Space, 0, "Room that the engine draws from."),
});
declare!(LINKS: LinkDef {
    ENGINE = link("engine", &["diesel-engine"], true, "The engine whose air it cools."),
});
declare!(PARAMS: ParamDef {
    HT_KV = quantity("ht-kv", Dimension::FlowCoefficient, 1e-5, 10.0, "Flow coefficient of the HT stage."),
    LT_KV = quantity("lt-kv", Dimension::FlowCoefficient, 1e-5, 10.0, "Flow coefficient of the LT stage."),
    HT_25 = quantity_or("ht-effectiveness-25", Dimension::Ratio, (0.0, 1.0), 0.97, "Air-side effectiveness of the HT stage at 25 % load (invented)."),
    HT_60 = quantity_or("ht-effectiveness-60", Dimension::Ratio, (0.0, 1.0), 0.90, "The same at 60 %."),
    HT_100 = quantity_or("ht-effectiveness-100", Dimension::Ratio, (0.0, 1.0), 0.80, "The same at full load."),
    LT_25 = quantity_or("lt-effectiveness-25", Dimension::Ratio, (0.0, 1.0), 0.86, "Air-side effectiveness of the LT stage at 25 % load (invented)."),
    LT_60 = quantity_or("lt-effectiveness-60", Dimension::Ratio, (0.0, 1.0), 0.855, "The same at 60 %."),
    LT_100 = quantity_or("lt-effectiveness-100", Dimension::Ratio, (0.0, 1.0), 0.845, "The same at full load."),
    RISE_25 = quantity_or("compressor-rise-25", Dimension::TemperatureDifference, (0.0, 300.0), 42.0, "Rise in the turbocharger's compressor at 25 % load (invented)."),
    RISE_60 = quantity_or("compressor-rise-60", Dimension::TemperatureDifference, (0.0, 300.0), 105.0, "The same at 60 %."),
    RISE_100 = quantity_or("compressor-rise-100", Dimension::TemperatureDifference, (0.0, 300.0), 170.0, "The same at full load."),
});
declare!(STATE: StateDef {
    AIR_K = inner("air", 300.0, "Charge air after the cooler, K."),
    HT_W = inner("ht-heat", 0.0, "Heat to the HT stage, W."),
    LT_W = inner("lt-heat", 0.0, "Heat to the LT stage, W."),
});
declare!(FAULTS: FaultDef {
    FOULED = fault("fouled", 0.4, "Dirt on the air side: this share of effectiveness is lost; charge air and exhaust run hot."),
    LEAKS = fault("leaks-water", 0.3, "A tube of the LT stage leaks into the air: up to 0.5 m3/h at 1 bar; its drain gives water, the expansion tank falls."),
    SENSOR = untrue("thermometer-dead", 1.0, "The charge-air thermometer gives no signal: it shows the end of its scale, the alert comes."),
});
declare!(READINGS: ReadingDef {
    R_AIR = reading("air-temperature", Dimension::Temperature, Seen::Remote, "Charge air after the cooler."),
    R_DRAIN = reading_words("drain", SIGNS, Seen::Local, "What comes out of its drain."),
    R_HT = reading("ht-heat", Dimension::Power, Seen::Hidden, "Heat to the HT stage."),
    R_LT = reading("lt-heat", Dimension::Power, Seen::Hidden, "Heat to the LT stage."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "charge-air-cooler",
    doc: "Two-stage charge-air cooler.",
    physics: "Air leaves the compressor warmer by a rise that goes with load, then each stage takes its effectiveness of the \
              difference to its water. Condensation is left out.",
    source: "effectiveness of a stage against the water's inlet; values invented within the trade's range",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    faults: FAULTS,
    readings: READINGS,
    liquid_branches: &[BranchDef { from: HT_IN, to: HT_OUT }, BranchDef { from: LT_IN, to: LT_OUT }],
    hooks: Hooks { liquid: Some(liquid), heat: Some(heat), publish: Some(publish), ..Hooks::NONE },
    ..KindDef::EMPTY
};

fn liquid(ctx: &mut Ctx<'_>) {
    let (ht, lt, rho_ht, rho_lt) =
        (ctx.p(HT_KV), ctx.p(LT_KV), ctx.density_kg_m3(HT_IN), ctx.density_kg_m3(LT_IN));
    ctx.liquid_branch(0).set_kv(ht, rho_ht);
    ctx.liquid_branch(1).set_kv(lt, rho_lt);
    leak(ctx, LT_IN, ctx.fault(LEAKS) * 0.5 / 3600.0);
}

fn at_load(ctx: &Ctx<'_>, first: usize, load: f64) -> f64 {
    let (a, b, c) = (ctx.p(first), ctx.p(first + 1), ctx.p(first + 2));
    if load < 0.6 { a + (b - a) * ((load - 0.25) / 0.35).max(-0.4) } else { b + (c - b) * (load - 0.6) / 0.4 }
}

/// Heat given to a stage's water, which must flow: in at `inlet`, at most what brings air and water together.
fn stage_w(ctx: &mut Ctx<'_>, branch: usize, air_k: f64, rate_w_k: f64, effectiveness: f64) -> f64 {
    let index = ctx.wiring.liquid_branches + branch;
    let water_rate = ctx.nets.heat.capacity_rate_w_k(&ctx.nets.liquid, index);
    let water_k = ctx.nets.heat.upstream_k(&ctx.nets.liquid, index);
    let whole = effectiveness * rate_w_k * (air_k - water_k);
    // With little water the stage cannot give more than the water can carry away.
    let heat = if water_rate < rate_w_k { whole * water_rate / rate_w_k.max(1.0) } else { whole };
    ctx.liquid_branch(branch).heat_w = heat;
    heat
}

fn heat(ctx: &mut Ctx<'_>) {
    let load = ctx.linked(ENGINE, engine::R_LOAD).clamp(0.0, 1.1);
    let air = ctx.linked(ENGINE, engine::R_AIR_FLOW);
    let rate = air * CP_AIR;
    let clean = 1.0 - ctx.fault(FOULED);
    let mut air_k = ctx.space_k(SPACE) + at_load(ctx, RISE_25, load).max(0.0);
    if rate > 1.0 {
        let effectiveness = at_load(ctx, HT_25, load).clamp(0.0, 1.0) * clean;
        let ht = stage_w(ctx, 0, air_k, rate, effectiveness);
        air_k -= ht / rate;
        let effectiveness = at_load(ctx, LT_25, load).clamp(0.0, 1.0) * clean;
        let lt = stage_w(ctx, 1, air_k, rate, effectiveness);
        air_k -= lt / rate;
        ctx.set(HT_W, ht);
        ctx.set(LT_W, lt);
    } else {
        air_k = ctx.space_k(SPACE);
        ctx.set(HT_W, 0.0);
        ctx.set(LT_W, 0.0);
    }
    ctx.set(AIR_K, air_k);
}

fn publish(ctx: &mut Ctx<'_>) {
    let shown_k = if ctx.faulty(SENSOR) { SCALE_END_K } else { ctx.s(AIR_K) };
    ctx.read_out(R_AIR, shown_k);
    let seen = sign(ctx.fault(LEAKS), ctx.pressure_pa(LT_IN));
    ctx.read_out(R_DRAIN, seen);
    ctx.read_out(R_HT, ctx.s(HT_W));
    ctx.read_out(R_LT, ctx.s(LT_W));
}
