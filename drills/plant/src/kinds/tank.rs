//! A vented tank: service tank, expansion tank, sump, storage.

use super::declare::*;
use super::harm::Sensor;
use crate::ctx::Ctx;
use crate::fluid::GRAVITY;
use crate::kind::{FaultDef, FindingDef, Hooks, KindDef, Net, ParamDef, PortDef, ReadingDef, Seen, StateDef};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    LIQUID = setting_port("liquid", Net::Liquid, "Where lines join the tank."),
    SPACE = free_port("space", Net::Space, 0, "Room that it stands in."),
});
declare!(PARAMS: ParamDef {
    CAPACITY = quantity("capacity", Dimension::Volume, 1e-3, 1e4, "Volume when full."),
    HEIGHT = quantity("height", Dimension::Length, 0.05, 30.0, "Height of the content when full (prismatic)."),
    BOTTOM = quantity_or("bottom", Dimension::Length, (-30.0, 60.0), 0.0, "Height of its bottom above the level to which its net's pressures refer."),
    UNUSABLE = quantity_or("unusable", Dimension::Volume, (0.0, 1e3), 0.0, "Content below the outlet: the outlet runs dry here."),
    DRAWS_AIR = quantity_or("draws-air-below", Dimension::Volume, (0.0, 1e3), 0.0, "Content below which the outlet begins to draw air; 0: 2 % of capacity above the unusable part."),
    OVERFLOW = quantity_or("overflow", Dimension::Ratio, (0.1, 1.0), 0.95, "Level at which it overflows."),
    WARMTH = quantity_or("loss", Dimension::HeatConductance, (0.0, 1e4), 0.0, "Heat conductance to the room."),
});
declare!(STATE: StateDef {
    VOLUME = state("volume", Dimension::Volume, (0.0, 1e4), 0.0, "Content."),
    SPILLED = inner("spilled", 0.0, "What has run over, m3."),
    OVER = inner("overflowing", 0.0, "1 while it overflows."),
    HELD = inner("held-level", 0.0, "Level that the gauge showed last."),
});
declare!(FAULTS: FaultDef {
    LEAKS = fault("leaks", 0.3, "A crack or a joint: it loses up to a hundredth of its capacity a minute; level falls."),
    FROZEN = untrue("level-gauge-frozen", 1.0, "The float hangs: the gauge shows the level at which it stuck, no alert comes; the sounding tells the truth."),
    HIGH = untrue("level-gauge-reads-high", 0.5, "The gauge shows up to 30 % of the height too much: the tank runs empty behind a good level."),
    DEAD = untrue("level-gauge-dead", 1.0, "No signal: the gauge falls to nothing, the low alert comes."),
});
declare!(READINGS: ReadingDef {
    R_LEVEL = reading("level", Dimension::Ratio, Seen::Remote, "Level as the gauge shows it."),
    R_VOLUME = reading("volume", Dimension::Volume, Seen::Local, "Content by hand: sounding, dipstick, sight glass. It does not deceive."),
    R_TEMPERATURE = reading("temperature", Dimension::Temperature, Seen::Local, "Temperature."),
    R_HEAVY = reading("heavy-share", Dimension::Ratio, Seen::Local, "Share of heavy fuel in its content (sample); nothing in other liquids."),
    R_SPILLED = reading("spilled", Dimension::Volume, Seen::Hidden, "What has run over since the beginning."),
    R_SHOWN = reading("shown-volume", Dimension::Volume, Seen::Remote, "Content as the level gauge tells it: what alerts look at."),
});
declare!(FINDINGS: FindingDef {
    F_OVERFLOW = finding("overflows", Dimension::Ratio, "runs over at {measured}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "tank",
    doc: "A vented tank: service tank, expansion tank, sump, storage tank.",
    physics: "dV/dt = sum of flows; pressure at the bottom rho g h of a prismatic content; the outlet gives less liquid between two \
              low contents, then none; what rises above the overflow is spilled and counted. List and trim are left out.",
    source: "mass balance and hydrostatics; leak linear, common practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    hooks: Hooks {
        settle: Some(settle),
        liquid: Some(liquid),
        after: Some(after),
        heat: Some(heat),
        publish: Some(publish),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn settle(ctx: &mut Ctx<'_>) {
    liquid(ctx);
    heat_capacity(ctx);
}

fn liquid(ctx: &mut Ctx<'_>) {
    let node = ctx.node(LIQUID);
    let volume = ctx.s(VOLUME);
    let level_m = volume / ctx.p(CAPACITY) * ctx.p(HEIGHT);
    ctx.nets.liquid.pressure_pa[node] = ctx.density_kg_m3(LIQUID) * GRAVITY * (ctx.p(BOTTOM) + level_m);
    let dry = ctx.p(UNUSABLE);
    let air_below = ctx.p(DRAWS_AIR).max(dry + 0.02 * ctx.p(CAPACITY));
    ctx.nets.liquid.wet[node] = ((volume - dry) / (air_below - dry)).clamp(0.0, 1.0);
}

fn after(ctx: &mut Ctx<'_>) {
    let node = ctx.node(LIQUID);
    // No more than there is; and what a gland or a joint at its own node loses is the tank's loss.
    let leak = (ctx.fault(LEAKS) * ctx.p(CAPACITY) / 6000.0).min(ctx.s(VOLUME) / ctx.dt_s);
    ctx.spill(leak);
    let inflow = ctx.nets.liquid.net_inflow_m3_s(node) + ctx.nets.liquid.source_m3_s[node];
    let mut volume = ctx.s(VOLUME) + ctx.dt_s * (inflow - leak);
    let brim = ctx.p(OVERFLOW) * ctx.p(CAPACITY);
    if volume > brim {
        let spilled = ctx.s(SPILLED) + volume - brim;
        ctx.set(SPILLED, spilled);
        volume = brim;
        if !ctx.is(OVER) {
            ctx.find(F_OVERFLOW, ctx.p(OVERFLOW), ctx.p(OVERFLOW), 0.0);
        }
        ctx.set(OVER, 1.0);
    } else if volume < 0.99 * brim {
        ctx.set(OVER, 0.0);
    }
    ctx.set(VOLUME, volume.max(0.0));
}

fn heat_capacity(ctx: &mut Ctx<'_>) {
    let node = ctx.node(LIQUID);
    let specific = ctx.nets.heat.specific_heat_j_kg_k[node];
    let mass = ctx.s(VOLUME).max(1e-3 * ctx.p(CAPACITY)) * ctx.density_kg_m3(LIQUID);
    ctx.nets.heat.capacity_j_k[node] = mass * specific;
}

fn heat(ctx: &mut Ctx<'_>) {
    heat_capacity(ctx);
    let lost = ctx.p(WARMTH) * (ctx.temperature_k(LIQUID) - ctx.space_k(SPACE));
    ctx.heat_node_w(LIQUID, -lost);
    ctx.heat_space_w(SPACE, lost);
}

const GAUGE: Sensor =
    Sensor { frozen: Some(FROZEN), reads_high: Some(HIGH), noisy: None, dead: Some(DEAD), held: HELD };

fn publish(ctx: &mut Ctx<'_>) {
    let level = ctx.s(VOLUME) / ctx.p(CAPACITY);
    let shown = GAUGE.shows(ctx, level, 0.3, 0.0).clamp(0.0, 1.0);
    ctx.read_out(R_LEVEL, shown);
    ctx.read_out(R_SHOWN, shown * ctx.p(CAPACITY));
    ctx.read_out(R_VOLUME, ctx.s(VOLUME));
    ctx.read_out(R_TEMPERATURE, ctx.temperature_k(LIQUID));
    ctx.read_out(R_HEAVY, ctx.heavy_share(LIQUID));
    ctx.read_out(R_SPILLED, ctx.s(SPILLED));
}
