//! A three-way thermostatic valve with a wax element.

use super::declare::*;
use crate::ctx::Ctx;
use crate::fluid::lag;
use crate::kind::{BranchDef, FaultDef, Hooks, KindDef, Net, ParamDef, PortDef, ReadingDef, Seen, StateDef};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    COOLED = port("cooled", Net::Liquid, 0, "Port that opens as the element warms (the way through the cooler)."),
    BYPASS = port("bypass", Net::Liquid, 0, "Port that shuts as the element warms."),
    COMMON = port("common", Net::Liquid, 0, "The common port."),
    SENSOR = port("sensor", Net::Liquid, 0, "Node whose temperature the element feels."),
});
declare!(PARAMS: ParamDef {
    OPENS = quantity("opens-at", Dimension::Temperature, 250.0, 450.0, "Element temperature at which the cooled port begins to open."),
    FULL = quantity("full-at", Dimension::Temperature, 250.0, 450.0, "Element temperature at which it is fully open."),
    KV = quantity("kv", Dimension::FlowCoefficient, 1e-5, 10.0, "Flow coefficient of either way when fully open."),
    LAG_UP = quantity_or("warming-lag", Dimension::Time, (0.1, 300.0), 15.0, "Lag of the wax when warming; common practice, no source."),
    LAG_DOWN = quantity_or("cooling-lag", Dimension::Time, (0.1, 300.0), 25.0, "Lag of the wax when cooling; common practice, no source."),
    HYSTERESIS = quantity_or("hysteresis", Dimension::TemperatureDifference, (0.0, 5.0), 1.0, "Difference between opening and closing."),
});
declare!(STATE: StateDef {
    ELEMENT = inner("element", 0.0, "Temperature of the wax, K."),
    POSITION = state("position", Dimension::Ratio, (0.0, 1.0), 0.0, "Opening of the cooled port."),
});
declare!(FAULTS: FaultDef {
    STUCK = fault("stuck", 1.0, "The element has failed: the valve stays where it is; temperature wanders with load."),
    LATE = fault("opens-late", 0.5, "The wax is tired: it opens up to 20 K late; the temperature settles higher."),
    LEAKS = fault("leaks-by", 0.5, "Its seats are worn: up to half of the coefficient passes where it should be shut; a cold engine warms slowly, a hot one is cooled less."),
});
declare!(READINGS: ReadingDef {
    R_POSITION = reading("position", Dimension::Ratio, Seen::Local, "Opening of the cooled port."),
    R_ELEMENT = reading("temperature", Dimension::Temperature, Seen::Local, "Temperature at the element."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "thermostat",
    doc: "A three-way thermostatic valve with a wax element.",
    physics: "Element follows the sensed temperature with a lag, slower cooling than warming; opening linear between two \
              temperatures with hysteresis; the two ways share one flow coefficient.",
    source: "common practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    faults: FAULTS,
    readings: READINGS,
    liquid_branches: &[BranchDef { from: COOLED, to: COMMON }, BranchDef { from: BYPASS, to: COMMON }],
    hooks: Hooks { settle: Some(settle), liquid: Some(liquid), publish: Some(publish), ..Hooks::NONE },
    ..KindDef::EMPTY
};

/// Share of the coefficient that a shut port still passes.
const SEAT_LEAK: f64 = 0.005;

fn opening(ctx: &Ctx<'_>, temperature_k: f64) -> f64 {
    ((temperature_k - ctx.p(OPENS)) / (ctx.p(FULL) - ctx.p(OPENS)).max(0.1)).clamp(0.0, 1.0)
}

fn settle(ctx: &mut Ctx<'_>) {
    let sensed = ctx.temperature_k(SENSOR);
    ctx.set(ELEMENT, sensed);
    ctx.set(POSITION, opening(ctx, sensed));
}

fn liquid(ctx: &mut Ctx<'_>) {
    let (sensed, element) = (ctx.temperature_k(SENSOR) - 20.0 * ctx.fault(LATE), ctx.s(ELEMENT));
    let tau = if sensed > element { ctx.p(LAG_UP) } else { ctx.p(LAG_DOWN) };
    let element = element + (sensed - element) * lag(ctx.dt_s, tau);
    ctx.set(ELEMENT, element);
    if ctx.fault(STUCK) < 0.5 {
        let half = 0.5 * ctx.p(HYSTERESIS);
        let position = ctx.s(POSITION).clamp(opening(ctx, element - half), opening(ctx, element + half));
        ctx.set(POSITION, position);
    }
    let position = ctx.s(POSITION);
    let (kv, density) = (ctx.p(KV), ctx.density_kg_m3(COMMON));
    let seat = SEAT_LEAK.max(0.5 * ctx.fault(LEAKS));
    ctx.liquid_branch(0).set_kv(kv * position.max(seat), density);
    ctx.liquid_branch(1).set_kv(kv * (1.0 - position).max(seat), density);
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_POSITION, ctx.s(POSITION));
    ctx.read_out(R_ELEMENT, ctx.temperature_k(SENSOR));
}
