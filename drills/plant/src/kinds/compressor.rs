//! The air end of a starting-air compressor; a motor turns its shaft.

use super::declare::*;
use crate::ctx::Ctx;
use crate::kind::{
    Act, ActDef, FaultDef, FindingDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach, ReadingDef, Seen,
    StateDef, Verb,
};
use crate::nets::air::R_AIR;
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    SHAFT = port("shaft", Net::Shaft, 0, "What turns it."),
    DELIVERY = port("delivery", Net::Air, 0, "Where it delivers."),
    SPACE = free_port("space", Net::Space, 0, "Room that it draws from and warms."),
});
declare!(PARAMS: ParamDef {
    FREE_AIR = quantity("free-air", Dimension::Flow, 1e-6, 1.0, "Free air delivered at rated speed and rated pressure."),
    PRESSURE = quantity("rated-pressure", Dimension::Pressure, 1e5, 1e8, "Gauge pressure at which that holds."),
    SPEED = quantity("rated-speed", Dimension::Speed, 1.0, 500.0, "Speed of its shaft node at which it holds."),
    STAGES = whole("stages", (1, 4), 2, "Stages with intercooling."),
    CLEARANCE = quantity_or("clearance", Dimension::Ratio, (0.0, 0.3), 0.05, "Clearance of a cylinder; common practice, no source."),
    POLYTROPIC = quantity_or("polytropic-exponent", Dimension::Ratio, (1.0, 1.4), 1.3, "Exponent of compression in a stage (from memory)."),
    EFFICIENCY = quantity_or("efficiency", Dimension::Ratio, (0.2, 1.0), 0.7, "Mechanical efficiency; common practice, no source."),
    TRIPS_ABOVE = quantity_or("trips-above", Dimension::Temperature, (300.0, 500.0), 378.15, "Temperature after the cooler at which its switch unloads it, after ten seconds."),
    UNLOADED = quantity_or("unloaded-for", Dimension::Time, (0.0, 60.0), 5.0, "Unloaded after a start."),
});
declare!(STATE: StateDef {
    RUN_TIME = inner("run-time", 0.0, "Time since it came up to speed, s."),
    FLOW = inner("flow", 0.0, "Air delivered, kg/s."),
    POWER = inner("power", 0.0, "Shaft power, W."),
    HOT = state_flag("hot-tripped", false, "Its temperature switch has tripped and is not reset: it runs unloaded."),
    HOT_FOR = inner("hot-for", 0.0, "How long the air after its cooler has been too hot, s."),
});
declare!(ACTS: ActDef {
    RESET = act(Verb::Reset, Reach::Local, 10.0, "Reset its temperature switch."),
});
declare!(FINDINGS: FindingDef {
    F_HOT = finding("too-hot", Dimension::Temperature, "unloaded by its temperature switch: air after the cooler at {measured}, limit {limit}"),
});
declare!(FAULTS: FaultDef {
    VALVES = fault("leaking-valves", 0.5, "Leaking valves: this share of the delivery is lost, filling takes longer and delivery air is hotter."),
    NOT_UNLOADED = fault("does-not-unload", 1.0, "The unloader is stuck shut: it starts against full pressure, the motor labours or trips."),
    NOT_LOADED = fault("does-not-load", 1.0, "The unloader is stuck open: it runs light and the pressure does not rise."),
    SLIPS = fault("belt-slips", 0.5, "Belt or coupling slips: this share of its speed is lost; filling takes longer, motor current falls."),
    SAFETY_BLOWS = fault("safety-valve-blows", 0.5, "A stage's safety valve blows: up to all of the air goes to the atmosphere; pressure does not rise."),
    AFTERCOOLER = fault("cooler-fouled", 0.6, "Scale in its coolers: delivery air is up to 80 K hotter and the delivery a little less."),
});
declare!(READINGS: ReadingDef {
    R_FLOW = reading("free-air", Dimension::Flow, Seen::Hidden, "Free air delivered now."),
    R_DELIVERY = reading("delivery-pressure", Dimension::Pressure, Seen::Local, "Gauge pressure it delivers against."),
    R_TEMPERATURE = reading("delivery-temperature", Dimension::Temperature, Seen::Local, "Temperature of the air before the aftercooler."),
    R_COOLED = reading("cooled-temperature", Dimension::Temperature, Seen::Remote, "Temperature of the air after its cooler."),
    R_HOT = reading_words("hot-tripped", NO_YES, Seen::Remote, "Unloaded by its temperature switch?"),
    R_SAFETY = reading_words("safety-valve", &["shut", "blows"], Seen::Local, "Safety valve of a stage."),
    R_LOADED = reading_words("loaded", NO_YES, Seen::Local, "Loaded?"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "compressor",
    doc: "Air end of a reciprocating starting-air compressor, unloaded while it starts.",
    physics: "m = rho V_swept n eta_v, eta_v = 1 - c (r^(1/(stages n)) - 1); polytropic work of equal stages. Delivered at room \
              temperature plus 15 K after the aftercooler. Cooling water of the compressor is left out for now.",
    source: "reciprocating compressor of any thermodynamics text; fill time against receiver_fill.csv (scipy 1.17.1)",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    hooks: Hooks {
        air: Some(air),
        after: Some(after),
        heat: Some(heat),
        publish: Some(publish),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Temperature of the air after its cooler: 15 K above the room, more when the cooler is fouled or valves leak.
fn cooled_k(ctx: &Ctx<'_>) -> f64 {
    let more = if ctx.s(FLOW) > 0.0 { 80.0 * ctx.fault(AFTERCOOLER) + 20.0 * ctx.fault(VALVES) } else { 0.0 };
    ctx.space_k(SPACE) + 15.0 + more
}

/// Volumetric efficiency at this ratio of absolute pressures.
fn volumetric(ctx: &Ctx<'_>, ratio: f64) -> f64 {
    let stage = libm::pow(ratio.max(1.0), 1.0 / (ctx.p(STAGES) * ctx.p(POLYTROPIC)));
    (1.0 - ctx.p(CLEARANCE) * (stage - 1.0)).max(0.0)
}

fn air(ctx: &mut Ctx<'_>) {
    let share = (ctx.speed_rad_s(SHAFT) / ctx.p(SPEED)).max(0.0) * (1.0 - ctx.fault(SLIPS));
    let running = ctx.time_while(RUN_TIME, ctx.speed_rad_s(SHAFT) > 0.8 * ctx.p(SPEED));
    let atmosphere = ctx.outside.air_pressure_pa;
    let node = ctx.node(DELIVERY);
    let (against, room_k) = (ctx.nets.air.pressure_pa(node), ctx.space_k(SPACE));
    let density = atmosphere / (R_AIR * room_k);
    let unloading = running <= ctx.p(UNLOADED) && ctx.fault(NOT_UNLOADED) < 0.5;
    let loaded = !unloading && ctx.fault(NOT_LOADED) < 0.5 && !ctx.is(HOT);
    let turns = share > 0.0;
    let flow = if loaded && turns {
        let rated_ratio = (ctx.p(PRESSURE) + atmosphere) / atmosphere;
        let swept = ctx.p(FREE_AIR) / volumetric(ctx, rated_ratio).max(0.1);
        density
            * swept
            * share
            * volumetric(ctx, against / atmosphere)
            * (1.0 - ctx.fault(VALVES))
            * (1.0 - 0.1 * ctx.fault(AFTERCOOLER))
    } else {
        0.0
    };
    ctx.set(FLOW, flow);
    let cooled_k = cooled_k(ctx);
    let hot_for = ctx.time_while(HOT_FOR, cooled_k > ctx.p(TRIPS_ABOVE));
    if hot_for > 10.0 && !ctx.is(HOT) {
        ctx.set(HOT, 1.0);
        ctx.find(F_HOT, cooled_k, ctx.p(TRIPS_ABOVE), hot_for);
    }
    ctx.nets.air.source_kg_s[node] += flow * (1.0 - ctx.fault(SAFETY_BLOWS));
    ctx.nets.air.source_temperature_k[node] = cooled_k;
    let power = if turns { power_w(ctx, flow, share, against / atmosphere, room_k) } else { 0.0 };
    ctx.set(POWER, power);
}

/// Power for a flow at a share of rated speed, W: polytropic in stages, and what it takes without a flow.
fn power_w(ctx: &Ctx<'_>, flow_kg_s: f64, share: f64, ratio: f64, room_k: f64) -> f64 {
    let n = ctx.p(POLYTROPIC);
    let per_stage = (n - 1.0) / (n * ctx.p(STAGES));
    let work = ctx.p(STAGES) * n / (n - 1.0) * R_AIR * room_k * (libm::pow(ratio, per_stage) - 1.0);
    let idle = 0.1 * ctx.p(FREE_AIR) * 1.2 * work.max(1e5) * share;
    flow_kg_s * work.max(0.0) / ctx.p(EFFICIENCY) + idle
}

fn after(ctx: &mut Ctx<'_>) {
    let (node, speed) = (ctx.node(SHAFT), ctx.speed_rad_s(SHAFT));
    let base = speed.max(0.3 * ctx.p(SPEED));
    ctx.nets.shaft.quadratic_nm_s2[node] += ctx.s(POWER) / (base * base * base);
}

fn heat(ctx: &mut Ctx<'_>) {
    let power = ctx.s(POWER);
    ctx.heat_space_w(SPACE, 0.3 * power);
}

fn publish(ctx: &mut Ctx<'_>) {
    let node = ctx.node(DELIVERY);
    let (atmosphere, room_k) = (ctx.outside.air_pressure_pa, ctx.space_k(SPACE));
    ctx.read_out(R_FLOW, ctx.s(FLOW) * R_AIR * room_k / atmosphere);
    ctx.read_out(R_DELIVERY, ctx.air_pa(DELIVERY));
    let loaded = ctx.s(FLOW) > 0.0;
    let mut leaves_k = room_k;
    if loaded {
        let ratio = (ctx.nets.air.pressure_pa(node) / atmosphere).max(1.0);
        let n = ctx.p(POLYTROPIC);
        let rise = libm::pow(ratio, (n - 1.0) / (n * ctx.p(STAGES)));
        let hot_k = room_k * (1.0 + (rise - 1.0) * (1.0 + ctx.fault(VALVES)));
        leaves_k = hot_k + 80.0 * ctx.fault(AFTERCOOLER);
    }
    ctx.read_out(R_TEMPERATURE, leaves_k);
    ctx.read_out_is(R_SAFETY, loaded && ctx.faulty(SAFETY_BLOWS));
    ctx.read_out_is(R_LOADED, loaded);
    let cooled_k = cooled_k(ctx);
    ctx.read_out(R_COOLED, cooled_k);
    ctx.read_out(R_HOT, ctx.s(HOT));
}

fn do_act(ctx: &mut Ctx<'_>, _act: Act) {
    ctx.set(HOT, 0.0);
}
