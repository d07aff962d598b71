//! A steam header as a boundary: pressure and temperature are given, by a drill or by whoever minds the boiler.

use super::declare::*;
use super::steam;
use crate::ctx::{Ctx, View};
use crate::fluid::lag;
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, KindDef, LinkDef, ParamDef, Reach, ReadingDef, Seen,
    StateDef,
};
use crate::unit::Dimension;

declare!(LINKS: LinkDef {
    CONSUMER = watch("consumption", false, "Steam taken from it, e.g. `tg.turbine.steam-flow`: beyond the capacity the pressure falls."),
    CONSUMER_2 = watch("consumption-2", false, "A second consumer."),
});
declare!(PARAMS: ParamDef {
    CAPACITY = quantity_or("capacity", Dimension::MassFlow, (0.01, 100.0), 100.0, "Steam that the boiler gives without a fall of pressure."),
    FOLLOWS = quantity_or("follows-in", Dimension::Time, (0.1, 3600.0), 60.0, "Time constant with which the pressure follows what is set: water and metal of the boiler (common practice, no source)."),
    HIGHEST = quantity_or("safety-valve", Dimension::Pressure, (1e4, 1e7), 9e5, "Safety valve: the pressure never stays above it."),
    LEAST = quantity_or("low-pressure", Dimension::Pressure, (0.0, 1e7), 5e5, "Below this gauge pressure the header is reported lost."),
});
declare!(STATE: StateDef {
    SET_PRESSURE = state("set-pressure", Dimension::Pressure, (0.0, 1e7), 7e5, "Gauge pressure that the boiler is fired for; the pressure goes there."),
    PRESSURE = state("pressure", Dimension::Pressure, (-1.0, 1e7), -1.0, "Gauge pressure now; a start state that is silent begins at the set pressure."),
    TEMPERATURE = state("temperature", Dimension::Temperature, (373.15, 723.15), 543.15, "Temperature of the superheated steam."),
    WAS_LOW = inner("was-low", 0.0, "The pressure is below the limit of the report."),
});
declare!(ACTS: ActDef {
    SET_PRESSURE_ACT = set_quantity("pressure", Dimension::Pressure, (0.0, 1e7), Reach::Remote, 5.0, "Fire for this gauge pressure; 0: fires out."),
    SET_TEMPERATURE_ACT = set_quantity("temperature", Dimension::Temperature, (373.15, 723.15), Reach::Remote, 5.0, "Temperature of the steam."),
});
declare!(FAULTS: FaultDef {
    PRESSURE_LOST = fault("pressure-lost", 0.5, "The boiler does not hold its pressure: this share of it is lost; a turbine opens its valve and then loses power and speed."),
    WET = fault("carries-water", 1.0, "The boiler primes: superheat is lost, at 100 % all of it; the header is colder and a turbine takes more steam for its load."),
    SAFETY_VALVE = fault("safety-valve-lifts", 1.0, "The safety valve lifts too early, at 100 % at 60 % of its setting: the pressure is held down there."),
});
declare!(READINGS: ReadingDef {
    R_PRESSURE = reading("pressure", Dimension::Pressure, Seen::Remote, "Gauge pressure."),
    R_TEMPERATURE = reading("temperature", Dimension::Temperature, Seen::Remote, "Temperature."),
    R_SUPERHEAT = reading("superheat", Dimension::TemperatureDifference, Seen::Local, "Temperature above that of saturation."),
    R_TAKEN = reading("steam-flow", Dimension::MassFlow, Seen::Remote, "Steam that its known consumers take."),
    R_SET = reading("set-pressure", Dimension::Pressure, Seen::Remote, "Gauge pressure that the boiler is fired for."),
});
declare!(FINDINGS: FindingDef {
    F_LOST = finding("pressure-lost", Dimension::Pressure, "header pressure is down to {measured}, limit {limit}"),
    F_BACK = finding("pressure-back", Dimension::Pressure, "header pressure is back: {measured}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "steam-header",
    doc: "A steam header: a boundary with the pressure and temperature that a start state, a drill or the boiler's watch set.",
    physics: "The pressure follows the set one with a time constant; taken beyond the boiler's capacity it falls in proportion. The boiler itself is left out.",
    source: "boundary condition; saturation by IAPWS-IF97",
    params: PARAMS,
    links: LINKS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    hooks: Hooks {
        settle: Some(settle),
        control: Some(control),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn settle(ctx: &mut Ctx<'_>) {
    if ctx.s(PRESSURE) < 0.0 {
        let pressure = ctx.s(SET_PRESSURE);
        ctx.set(PRESSURE, pressure);
    }
}

fn taken_kg_s(ctx: &Ctx<'_>) -> f64 {
    let flow = |link: usize| if ctx.has_link(link) { ctx.watched(link).max(0.0) } else { 0.0 };
    flow(CONSUMER) + flow(CONSUMER_2)
}

fn control(ctx: &mut Ctx<'_>) {
    let beyond = (taken_kg_s(ctx) / ctx.p(CAPACITY) - 1.0).max(0.0);
    let lifts_at = ctx.p(HIGHEST) * (1.0 - 0.4 * ctx.fault(SAFETY_VALVE));
    let goal = ctx.s(SET_PRESSURE) * (1.0 - ctx.fault(PRESSURE_LOST)) * (1.0 - beyond).max(0.0);
    let pressure = ctx.s(PRESSURE);
    let pressure = pressure + (goal - pressure) * lag(ctx.dt_s, ctx.p(FOLLOWS));
    // A safety valve blows down faster than a boiler is fired.
    let over = (pressure - lifts_at).max(0.0);
    let pressure = pressure - over * lag(ctx.dt_s, 5.0);
    ctx.set(PRESSURE, pressure);
    let (low, was_low) = (pressure < ctx.p(LEAST), ctx.is(WAS_LOW));
    if low && !was_low {
        ctx.find(F_LOST, pressure, ctx.p(LEAST), 0.0);
    } else if was_low && pressure > 1.02 * ctx.p(LEAST) {
        ctx.find(F_BACK, pressure, ctx.p(LEAST), 0.0);
    }
    ctx.set_is(WAS_LOW, low || (was_low && pressure <= 1.02 * ctx.p(LEAST)));
}

/// Temperature as it is: set, less what carried water takes, never below saturation, K.
fn temperature_k(ctx: &Ctx<'_>) -> f64 {
    let saturated = steam::saturation_k(ctx.s(PRESSURE) + ctx.outside.air_pressure_pa);
    let dry = ctx.s(TEMPERATURE).max(saturated);
    dry - (dry - saturated) * ctx.fault(WET)
}

fn publish(ctx: &mut Ctx<'_>) {
    let t = temperature_k(ctx);
    let saturated = steam::saturation_k(ctx.s(PRESSURE) + ctx.outside.air_pressure_pa);
    let taken = taken_kg_s(ctx);
    ctx.read_out(R_PRESSURE, ctx.s(PRESSURE));
    ctx.read_out(R_TEMPERATURE, t);
    ctx.read_out(R_SUPERHEAT, t - saturated);
    ctx.read_out(R_TAKEN, taken);
    ctx.read_out(R_SET, ctx.s(SET_PRESSURE));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index == SET_PRESSURE_ACT && act.value > view.p(HIGHEST) {
        let text = "its safety valve would lift".into();
        blocks.push(Block { code: "above-safety-valve", text });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        SET_PRESSURE_ACT => ctx.set(SET_PRESSURE, act.value),
        _ => ctx.set(TEMPERATURE, act.value),
    }
}
