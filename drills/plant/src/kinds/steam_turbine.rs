//! A condensing steam turbine with throttle governing: warming through, stop valve, governor, trips.

use super::declare::*;
use super::electric::block_without_control;
use super::{steam, steam_condenser as condenser, steam_header as header};
use crate::ctx::{Ctx, View};
use crate::fluid::{lag, lube_oil_viscosity_m2_s};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, Joints, KindDef, LinkDef, NeedDef, Net,
    ParamDef, PortDef, Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::{Dimension, format_si};

const PHASES: &[&str] = &["stopped", "running up", "running", "coasting"];
const CAUSES: &[&str] = &["none", "overspeed", "vacuum", "lube pressure", "without cause"];
const OFF_ON: &[&str] = &["off", "on"];

const STOPPED: f64 = 0.0;
const RUNNING_UP: f64 = 1.0;
const RUNNING: f64 = 2.0;
const COASTING: f64 = 3.0;

const BY_OVERSPEED: f64 = 1.0;
const BY_VACUUM: f64 = 2.0;
const BY_LUBE: f64 = 3.0;
const BY_ITSELF: f64 = 4.0;

declare!(PORTS: PortDef {
    SHAFT = port("shaft", Net::Shaft, 0, "Its own shaft, before the gear."),
    LUBE = port("lube", Net::Liquid, 1, "Oil to the bearings."),
    SUMP = port("lube-sump", Net::Liquid, 1, "Where the oil returns."),
    CONTROL = free_port("control", Net::Dc, 0, "Control supply, for remote acts only: its trips are hydraulic."),
    SPACE = free_port("space", Net::Space, 0, "Room that its casing warms."),
});
declare!(LINKS: LinkDef {
    STEAM = link("steam", &["steam-header"], true, "Header that it takes steam from."),
    CONDENSER = link("condenser", &["steam-condenser"], true, "Condenser that it exhausts into."),
    BREAKER = watch("breaker-closed", false, "Its generator's breaker: no start with it closed."),
});
declare!(PARAMS: ParamDef {
    POWER = quantity("rated-power", Dimension::Power, 1e3, 1e8, "Shaft power at rated steam flow: generator power over its efficiency."),
    SPEED = quantity("rated-speed", Dimension::Speed, 10.0, 2000.0, "Speed at full load of its own shaft, e.g. 9000 rpm."),
    FLOW = quantity("rated-flow", Dimension::MassFlow, 0.001, 100.0, "Steam at rated power, header at rated pressure and temperature."),
    PRESSURE = quantity_or("rated-pressure", Dimension::Pressure, (5e4, 5e6), 7e5, "Gauge pressure of the header at which that holds."),
    TEMPERATURE = quantity_or("rated-temperature", Dimension::Temperature, (390.0, 723.15), 543.15, "Steam temperature at which that holds."),
    EFFICIENCY = quantity_or("efficiency", Dimension::Ratio, (0.2, 0.95), 0.70, "Shaft power over isentropic drop, at rated power (small auxiliary turbines 60 to 75 %, from memory)."),
    MARGIN = quantity_or("overload", Dimension::Ratio, (1.0, 1.5), 1.10, "Most steam that its valves pass, over rated flow."),
    WINDAGE = quantity_or("windage", Dimension::Ratio, (0.0, 0.2), 0.02, "Power lost to windage and gear pumps at rated speed, over rated power."),
    DROOP = quantity_or("droop", Dimension::Ratio, (0.005, 0.2), 0.04, "Speed droop, no load to full load."),
    ADMISSION_LAG = quantity_or("admission-lag", Dimension::Time, (0.0, 5.0), 0.3, "Lag of valve, nozzle chest and steam."),
    RUN_UP = quantity_or("run-up", Dimension::Time, (1.0, 1800.0), 120.0, "Time from rest to rated speed after a start; common practice, no source."),
    WARM_TIME = quantity_or("warm-through", Dimension::Time, (0.0, 7200.0), 360.0, "How long it must be warmed through before a start."),
    STEAM_MIN = quantity_or("start-pressure", Dimension::Pressure, (0.0, 5e6), 6e5, "Header pressure below which a start is blocked."),
    VACUUM_MIN = quantity_or("start-vacuum", Dimension::Pressure, (0.0, 1e5), 0.80e5, "Vacuum below which a start is blocked."),
    LUBE_MIN = quantity_or("start-lube", Dimension::Pressure, (0.0, 1e6), 1.0e5, "Lube pressure below which a start is blocked."),
    VACUUM_TRIP = quantity_or("vacuum-trip", Dimension::Pressure, (0.0, 1e5), 0.70e5, "Vacuum below which it trips."),
    LUBE_TRIP = quantity_or("lube-trip", Dimension::Pressure, (0.0, 1e6), 0.7e5, "Lube pressure below which it trips."),
    OVERSPEED = quantity_or("overspeed", Dimension::Ratio, (1.02, 1.3), 1.10, "Overspeed trip, over rated speed (110 % at the most for turbines, common practice, no source)."),
    TRIP_DELAY = quantity_or("trip-delay", Dimension::Time, (0.0, 30.0), 1.0, "Delay of vacuum and lube trips."),
    BEARING_FLOW = quantity_or("bearing-oil-flow", Dimension::Flow, (1e-6, 0.5), 1.1e-3, "Oil that the bearings take at 1.2 bar and 50 degC."),
    BEARING_HEAT = quantity_or("bearing-heat", Dimension::Ratio, (0.0, 0.1), 0.01, "Heat to the oil at rated speed, over rated power (common practice, no source)."),
    RADIATION = quantity_or("radiation", Dimension::HeatConductance, (0.0, 1e4), 40.0, "Heat conductance of casing and pipes to the room."),
});
declare!(STATE: StateDef {
    PHASE = state_choice("phase", PHASES, 0, "Where it is; a start state that sets `running` finds it at speed."),
    TRIPPED = state_choice("tripped", CAUSES, 0, "By what it was tripped; the stop valve stays shut until it is reset."),
    STOP_VALVE = inner("stop-valve", 0.0, "Stop valve, open = 1."),
    VALVE = state("admission", Dimension::Ratio, (0.0, 1.5), 0.0, "Admission valve: steam over rated flow at rated pressure. For a turbine found running, about its load."),
    SET_SPEED = state("set-speed", Dimension::Ratio, (0.8, 1.2), 1.02, "Speed set point at no load over rated speed; 100 % plus droop times load keeps rated speed."),
    RAMP = inner("ramp", 0.0, "Speed that the run-up has reached, over rated."),
    WARMING = state_choice("warming", OFF_ON, 0, "Warming-through valve."),
    WARM = state("warmed-through", Dimension::Time, (0.0, 1e5), 0.0, "Time for which it has been warmed through; standing it loses a tenth of a second each second."),
    DROP = inner("drop", 0.0, "Isentropic drop, J/kg."),
    FULL_FLOW = inner("full-flow", 0.0, "Steam at 100 % admission with the present header, kg/s."),
    THROTTLE = inner("throttle", 0.0, "Drop lost by throttling, J/kg."),
    STEAM_NOW = inner("steam", 0.0, "Steam, kg/s."),
    POWER_NOW = inner("power", 0.0, "Power of the blades, W."),
    VACUUM_LOW = inner("vacuum-low", 0.0, "How long vacuum has been below its trip, s."),
    LUBE_LOW = inner("lube-low", 0.0, "How long lube pressure has been below its trip, s."),
});
declare!(ACTS: ActDef {
    START = act(Verb::Start, Reach::Remote, 10.0, "Open the stop valve and run up."),
    STOP = act(Verb::Stop, Reach::Remote, 3.0, "Shut the stop valve."),
    RESET = act(Verb::Reset, Reach::Local, 15.0, "Latch the stop valve again after a trip, at the turbine."),
    SET_WARMING = set_choice("warming", OFF_ON, Reach::Local, 15.0, "Open or shut the warming-through valve, drains with it."),
    SET_SPEED_ACT = set_quantity("speed", Dimension::Speed, (10.0, 2000.0), Reach::Remote, 5.0, "Speed set point at no load of its own shaft (raise, lower)."),
    TRIM = set_quantity("trim", Dimension::Ratio, (-0.1, 0.1), Reach::Remote, 1.0, "Raise (or lower, negative) the speed set point by this share of rated speed."),
});
declare!(FAULTS: FaultDef {
    STOP_STICKS = fault("stop-valve-sticks", 1.0, "The stop valve does not shut: a trip is announced and the turbine runs on until its steam is taken away."),
    GOVERNOR_STICKS = fault("governor-sticks", 1.0, "The admission valve stays where it is: frequency follows load, load thrown off ends in overspeed."),
    NOZZLES = fault("nozzles-fouled", 0.4, "Salt in nozzles and blades: this share of its steam and power is gone; at full load speed sags."),
    LAZY = fault("governor-slow", 1.0, "The governor hunts for its place: its lag grows up to six times and frequency swings after every load step."),
    TRIPS = fault("trips", 1.0, "It trips without cause."),
});
declare!(NEEDS: NeedDef {
    N_STEAM = need("steam", "Header pressure, four fifths of rated at the least, while it runs."),
    N_VACUUM = need("vacuum", "Vacuum above its trip, while it runs."),
    N_LUBE = need("lube-pressure", "Oil at the bearings, while it turns."),
    N_CONTROL = need("control-supply", "Control voltage for remote acts."),
});
declare!(READINGS: ReadingDef {
    R_SPEED = reading("speed", Dimension::Speed, Seen::Remote, "Speed of its own shaft."),
    R_PHASE = reading_words("phase", PHASES, Seen::Remote, "Where it is."),
    R_RUNNING = reading_words("running", NO_YES, Seen::Remote, "Is it up to speed on steam?"),
    R_TRIPPED = reading_words("tripped", CAUSES, Seen::Remote, "By what was it tripped?").latched(),
    R_STOP_VALVE = reading("stop-valve", Dimension::Ratio, Seen::Remote, "Stop valve."),
    R_VALVE = reading("admission", Dimension::Ratio, Seen::Local, "Admission valve."),
    R_STEAM = reading("steam-flow", Dimension::MassFlow, Seen::Remote, "Steam that it takes."),
    R_EXHAUST_ENTHALPY = reading("exhaust-enthalpy", Dimension::SpecificEnergy, Seen::Hidden, "Enthalpy of its exhaust."),
    R_POWER = reading("power", Dimension::Power, Seen::Hidden, "Shaft power."),
    R_LUBE = reading("lube-pressure", Dimension::Pressure, Seen::Remote, "Oil pressure at the bearings."),
    R_LUBE_TEMPERATURE = reading("lube-temperature", Dimension::Temperature, Seen::Remote, "Oil to the bearings."),
    R_INLET = reading("inlet-pressure", Dimension::Pressure, Seen::Local, "Gauge pressure at the stop valve."),
    R_WARM = reading("warmed-through", Dimension::Time, Seen::Local, "For how long it has been warmed through."),
    R_READY = reading_words("ready-to-start", NO_YES, Seen::Remote, "Nothing in the way of a start?"),
    R_LOAD = reading("load", Dimension::Ratio, Seen::Remote, "Shaft power over rated."),
    R_DROP = reading("isentropic-drop", Dimension::SpecificEnergy, Seen::Hidden, "Isentropic drop from header to condenser."),
    R_THROTTLE = reading("throttle-loss", Dimension::SpecificEnergy, Seen::Hidden, "What the throttled valve takes from that drop."),
    R_HOOD = reading("exhaust-temperature", Dimension::Temperature, Seen::Remote, "Exhaust hood: saturation at the condenser's pressure."),
});
declare!(FINDINGS: FindingDef {
    F_STARTED = finding("started", Dimension::Pressure, "stop valve opened with {measured} of steam"),
    F_AT_SPEED = finding("at-speed", Dimension::Speed, "is at speed: {measured}"),
    F_STOPPED = finding("stopped", Dimension::None, "has come to rest"),
    F_OVERSPEED = finding("tripped-overspeed", Dimension::Ratio, "tripped by overspeed: {measured} of rated, limit {limit}"),
    F_VACUUM = finding("tripped-vacuum", Dimension::Pressure, "tripped by low vacuum: {measured}, limit {limit}"),
    F_LUBE = finding("tripped-lube-pressure", Dimension::Pressure, "tripped by lube pressure: {measured}, limit {limit}"),
    F_ITSELF = finding("tripped", Dimension::None, "tripped without cause"),
    F_RESET = finding("trip-reset", Dimension::None, "stop valve was latched again"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "steam-turbine",
    doc: "A condensing steam turbine for a generator, with governor, stop valve and trips.",
    physics: "Steam goes with nozzle pressure over the root of temperature (choked); the admission valve throttles, which takes \
              T2 R ln(1/x) of the isentropic drop; torque m h eta / w0 (2 - w/w0), greatest efficiency at rated speed; windage with \
              the cube of speed. Governor proportional (droop) with one lag. Blade groups, glands, bearings' wear are left out.",
    source: "isentropic drop by a fit to IAPWS-IF97; choked nozzle and parabola of blade efficiency: any text on steam turbines (from memory)",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    liquid_branches: &[BranchDef { from: LUBE, to: SUMP }],
    joints: Joints { turns: &[SHAFT], ..Joints::NONE },
    hooks: Hooks {
        settle: Some(settle),
        control: Some(control),
        motion: Some(motion),
        liquid: Some(liquid),
        heat: Some(heat),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Friction of bearings and gear at rest over rated torque: it coasts for some minutes (common practice, no source).
const FRICTION: f64 = 0.004;
/// Time constant of the stop valve's spring, s (shut within half a second, common practice, no source).
const STOP_VALVE_S: f64 = 0.12;
/// A turbine that has run is this much warmer than a start needs: it can be started again for an hour.
const HOT: f64 = 2.0;
/// Oil temperature at which the bearings take their rated flow, K.
const WARM_OIL_K: f64 = 323.15;

fn settle(ctx: &mut Ctx<'_>) {
    if ctx.s(PHASE) != RUNNING {
        return;
    }
    let share = ctx.s(SET_SPEED) - ctx.p(DROOP) * ctx.s(VALVE);
    let (node, speed) = (ctx.node(SHAFT), share * ctx.p(SPEED));
    ctx.nets.shaft.speed_rad_s[node] = speed;
    let (set_speed, warm) = (ctx.s(SET_SPEED), HOT * ctx.p(WARM_TIME));
    ctx.set(STOP_VALVE, 1.0);
    ctx.set(RAMP, set_speed);
    ctx.set(WARM, warm);
}

fn speed_share(ctx: &Ctx<'_>) -> f64 {
    ctx.speed_rad_s(SHAFT) / ctx.p(SPEED)
}

fn control(ctx: &mut Ctx<'_>) {
    ctx.draw_dc(CONTROL, 0.5);
    let alive = ctx.has_control_voltage(CONTROL);
    ctx.need(N_CONTROL, alive);
    feel_steam(ctx);
    warm_through(ctx);
    let (phase, speed) = (ctx.s(PHASE), speed_share(ctx));
    if phase == RUNNING_UP {
        let ramp = (ctx.s(RAMP) + ctx.dt_s / ctx.p(RUN_UP)).min(ctx.s(SET_SPEED));
        ctx.set(RAMP, ramp);
        if speed > 0.97 {
            ctx.find(F_AT_SPEED, speed * ctx.p(SPEED), 0.0, 0.0);
            ctx.set(PHASE, RUNNING);
        }
    } else if phase == RUNNING {
        // A set point moved by hand is followed as fast as a speed motor goes; common practice, no source.
        let (ramp, step) = (ctx.s(RAMP), 0.01 * ctx.dt_s);
        ctx.set(RAMP, ramp + (ctx.s(SET_SPEED) - ramp).clamp(-step, step));
    } else if phase == COASTING && speed < 0.002 {
        ctx.find(F_STOPPED, 0.0, 0.0, 0.0);
        ctx.set(PHASE, STOPPED);
    }
    watch_trips(ctx, speed);
}

/// What header and condenser give, once a tick: drop, flow, and what the throttled valve takes from the drop.
fn feel_steam(ctx: &mut Ctx<'_>) {
    let atmosphere = ctx.outside.air_pressure_pa;
    let pressure = (ctx.linked(STEAM, header::R_PRESSURE) + atmosphere).max(atmosphere);
    let t = ctx.linked(STEAM, header::R_TEMPERATURE).max(373.15);
    let exhaust = ctx.linked(CONDENSER, condenser::R_ABSOLUTE).clamp(1e3, 1.2e5);
    let drop = steam::isentropic_drop_j_kg(pressure, t, exhaust);
    let rated_pa = ctx.p(PRESSURE) + 101_325.0;
    // Choked nozzles; without pressure above the exhaust nothing flows.
    let flows = if pressure > 1.05 * exhaust.max(atmosphere) { 1.0 } else { 0.0 };
    let full = ctx.p(FLOW) * flows * pressure / rated_pa * f64::sqrt(ctx.p(TEMPERATURE) / t);
    let open = (ctx.s(VALVE) * ctx.s(STOP_VALVE)).clamp(0.01, 1.0);
    let throttle = steam::saturation_k(exhaust) * steam::R_STEAM * libm::log(1.0 / open);
    ctx.set(DROP, drop);
    ctx.set(FULL_FLOW, full * (1.0 - ctx.fault(NOZZLES)));
    ctx.set(THROTTLE, throttle);
}

fn warm_through(ctx: &mut Ctx<'_>) {
    let needed = ctx.p(WARM_TIME);
    let hot = ctx.s(PHASE) == RUNNING_UP || ctx.s(PHASE) == RUNNING;
    let steams = ctx.is(WARMING) && ctx.linked(STEAM, header::R_PRESSURE) > 1e5;
    let warm = ctx.s(WARM);
    let warm = if hot {
        HOT * needed
    } else if steams {
        warm + ctx.dt_s
    } else {
        warm - 0.1 * ctx.dt_s
    };
    ctx.set(WARM, warm.clamp(0.0, HOT * needed));
}

fn watch_trips(ctx: &mut Ctx<'_>, speed: f64) {
    let on = ctx.s(PHASE) == RUNNING_UP || ctx.s(PHASE) == RUNNING;
    let vacuum = ctx.linked(CONDENSER, condenser::R_VACUUM);
    let lube = ctx.pressure_pa(LUBE);
    // A start state has no solved pressures yet.
    let awake = on && ctx.tick > 2;
    let vacuum_low = ctx.time_while(VACUUM_LOW, awake && vacuum < ctx.p(VACUUM_TRIP));
    let lube_low = ctx.time_while(LUBE_LOW, awake && lube < ctx.p(LUBE_TRIP));
    let delay = ctx.p(TRIP_DELAY);
    if speed > ctx.p(OVERSPEED) {
        trip(ctx, BY_OVERSPEED, F_OVERSPEED, speed, ctx.p(OVERSPEED), 0.0);
    } else if vacuum_low > delay {
        trip(ctx, BY_VACUUM, F_VACUUM, vacuum, ctx.p(VACUUM_TRIP), vacuum_low);
    } else if lube_low > delay {
        trip(ctx, BY_LUBE, F_LUBE, lube, ctx.p(LUBE_TRIP), lube_low);
    } else if awake && ctx.fault(TRIPS) >= 0.5 {
        trip(ctx, BY_ITSELF, F_ITSELF, 0.0, 0.0, 0.0);
    }
}

fn trip(ctx: &mut Ctx<'_>, cause: f64, finding: usize, measured: f64, limit: f64, since_s: f64) {
    if ctx.s(TRIPPED) != 0.0 {
        return;
    }
    ctx.set(TRIPPED, cause);
    ctx.set(PHASE, COASTING);
    ctx.find(finding, measured, limit, since_s);
}

fn motion(ctx: &mut Ctx<'_>) {
    let phase = ctx.s(PHASE);
    let on = phase == RUNNING_UP || phase == RUNNING;
    let speed = speed_share(ctx);
    let stop = ctx.s(STOP_VALVE);
    let goal = if on { 1.0 } else { stop.min(ctx.fault(STOP_STICKS)) };
    ctx.set(STOP_VALVE, stop + (goal - stop) * lag(ctx.dt_s, STOP_VALVE_S));
    let valve = ctx.s(VALVE);
    if ctx.fault(GOVERNOR_STICKS) < 0.5 || !on {
        let sticks = ctx.fault(STOP_STICKS) >= 0.5;
        let wanted = if on || sticks { (ctx.s(RAMP) - speed) / ctx.p(DROOP) } else { 0.0 };
        let tau = ctx.p(ADMISSION_LAG) * (1.0 + 5.0 * ctx.fault(LAZY));
        ctx.set(VALVE, valve + (wanted.clamp(0.0, ctx.p(MARGIN)) - valve) * lag(ctx.dt_s, tau));
    }
    let steam_kg_s = ctx.s(FULL_FLOW) * ctx.s(VALVE) * ctx.s(STOP_VALVE);
    let gross = ctx.p(EFFICIENCY) * (1.0 + ctx.p(WINDAGE) + FRICTION);
    let useful = (ctx.s(DROP) - ctx.s(THROTTLE)).max(0.0) * gross;
    let stall_nm = steam_kg_s * useful / ctx.p(SPEED);
    let rated_nm = ctx.p(POWER) / ctx.p(SPEED);
    let blades_nm = stall_nm * (2.0 - speed).clamp(0.0, 2.0);
    let windage_nm = ctx.p(WINDAGE) * rated_nm * speed * speed;
    ctx.set(STEAM_NOW, steam_kg_s);
    ctx.set(POWER_NOW, blades_nm * ctx.speed_rad_s(SHAFT).max(0.0));
    let node = ctx.node(SHAFT);
    let slope = stall_nm / ctx.p(SPEED);
    let shaft = &mut ctx.nets.shaft;
    shaft.torque_nm[node] += blades_nm - windage_nm;
    shaft.slope_nm_s[node] -= slope;
    shaft.friction_nm[node] += FRICTION * rated_nm;
}

/// Oil through the bearings, laminar.
fn liquid(ctx: &mut Ctx<'_>) {
    let thick = lube_oil_viscosity_m2_s(ctx.temperature_k(LUBE)) / lube_oil_viscosity_m2_s(WARM_OIL_K);
    let resistance = 1.2e5 / ctx.p(BEARING_FLOW) * thick;
    let branch = ctx.liquid_branch(0);
    branch.shut = false;
    branch.head_pa = 0.0;
    branch.laminar_pa_s_m3 = resistance;
    branch.turbulent_pa_s2_m6 = 0.0;
    branch.one_way = true;
}

fn heat(ctx: &mut Ctx<'_>) {
    let speed = speed_share(ctx);
    let oil_w = ctx.p(BEARING_HEAT) * ctx.p(POWER) * speed * speed;
    if ctx.flow_m3_s(0) > 0.02 * ctx.p(BEARING_FLOW) {
        ctx.liquid_branch(0).heat_w = oil_w;
    } else {
        ctx.heat_node_w(SUMP, oil_w);
    }
    let warm = ctx.s(WARM) / ctx.p(WARM_TIME).max(1.0);
    let casing_k = ctx.linked(STEAM, header::R_TEMPERATURE) - ctx.space_k(SPACE);
    ctx.heat_space_w(SPACE, ctx.p(RADIATION) * warm.min(1.0) * casing_k.max(0.0));
}

/// Enthalpy of the exhaust, J/kg.
fn exhaust_j_kg(ctx: &Ctx<'_>) -> f64 {
    let pressure = ctx.linked(STEAM, header::R_PRESSURE) + ctx.outside.air_pressure_pa;
    let live = steam::enthalpy_j_kg(pressure, ctx.linked(STEAM, header::R_TEMPERATURE).max(373.15));
    let flow = ctx.s(STEAM_NOW);
    if flow < 1e-4 { live } else { live - ctx.s(POWER_NOW) / flow }
}

fn publish(ctx: &mut Ctx<'_>) {
    let speed = speed_share(ctx);
    let on = ctx.s(PHASE) == RUNNING_UP || ctx.s(PHASE) == RUNNING;
    let header_pa = ctx.linked(STEAM, header::R_PRESSURE);
    let vacuum = ctx.linked(CONDENSER, condenser::R_VACUUM);
    ctx.need(N_STEAM, !on || header_pa >= 0.8 * ctx.p(PRESSURE) || ctx.tick < 3);
    ctx.need(N_VACUUM, !on || vacuum >= ctx.p(VACUUM_TRIP) || ctx.tick < 3);
    ctx.need(N_LUBE, speed < 0.1 || ctx.pressure_pa(LUBE) >= ctx.p(LUBE_TRIP) || ctx.tick < 3);
    let lost = (ctx.p(WINDAGE) * speed * speed + FRICTION) * speed.max(0.0) * ctx.p(POWER);
    let power = ctx.s(POWER_NOW) - lost;
    let exhaust = exhaust_j_kg(ctx);
    let hood = steam::saturation_k(ctx.linked(CONDENSER, condenser::R_ABSOLUTE).max(1e3));
    let ready = ready(ctx);
    ctx.read_out(R_SPEED, ctx.speed_rad_s(SHAFT));
    ctx.read_out(R_PHASE, ctx.s(PHASE));
    ctx.read_out_is(R_RUNNING, ctx.s(PHASE) == RUNNING);
    ctx.read_out(R_TRIPPED, ctx.s(TRIPPED));
    ctx.read_out(R_STOP_VALVE, ctx.s(STOP_VALVE));
    ctx.read_out(R_VALVE, ctx.s(VALVE));
    ctx.read_out(R_STEAM, ctx.s(STEAM_NOW));
    ctx.read_out(R_EXHAUST_ENTHALPY, exhaust);
    ctx.read_out(R_POWER, power);
    ctx.read_out(R_LUBE, ctx.pressure_pa(LUBE));
    ctx.read_out(R_LUBE_TEMPERATURE, ctx.temperature_k(LUBE));
    ctx.read_out(R_INLET, header_pa);
    ctx.read_out(R_WARM, ctx.s(WARM));
    ctx.read_out_is(R_READY, ready);
    ctx.read_out(R_LOAD, power / ctx.p(POWER));
    ctx.read_out(R_DROP, ctx.s(DROP));
    ctx.read_out(R_THROTTLE, ctx.s(THROTTLE));
    ctx.read_out(R_HOOD, hood);
}

/// The same conditions as in [`start_blocks`], for the reading.
fn ready(ctx: &Ctx<'_>) -> bool {
    let standing = ctx.s(PHASE) == STOPPED || ctx.s(PHASE) == COASTING;
    standing
        && ctx.s(TRIPPED) == 0.0
        && ctx.linked(STEAM, header::R_PRESSURE) >= ctx.p(STEAM_MIN)
        && ctx.linked(CONDENSER, condenser::R_VACUUM) >= ctx.p(VACUUM_MIN)
        && ctx.pressure_pa(LUBE) >= ctx.p(LUBE_MIN)
        && ctx.s(WARM) >= ctx.p(WARM_TIME) - 0.5
        && !(ctx.has_link(BREAKER) && ctx.watched(BREAKER) > 0.5)
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    let on = view.s(PHASE) == RUNNING_UP || view.s(PHASE) == RUNNING;
    if act.remote && matches!(act.index, START | STOP | SET_SPEED_ACT | TRIM) {
        block_without_control(view, CONTROL, blocks);
    }
    match act.index {
        START if on => blocks.push(Block { code: "running", text: "it is running".into() }),
        START => start_blocks(view, blocks),
        STOP if !on => blocks.push(Block { code: "not-running", text: "it is not running".into() }),
        RESET if view.s(TRIPPED) == 0.0 => {
            blocks.push(Block { code: "not-tripped", text: "it has not tripped".into() });
        }
        _ => {}
    }
}

fn start_blocks(view: &View<'_>, blocks: &mut Vec<Block>) {
    let mut add = |on: bool, code: &'static str, text: &dyn Fn() -> String| {
        if on {
            blocks.push(Block { code, text: text() });
        }
    };
    let bar = |pa: f64| format_si(pa, Dimension::Pressure);
    add(view.s(TRIPPED) != 0.0, "not-reset", &|| {
        let cause = CAUSES[view.s(TRIPPED) as usize];
        format!("it was tripped ({cause}): find the cause, then latch the stop valve at the turbine")
    });
    let steam = view.linked(STEAM, header::R_PRESSURE);
    add(steam < view.p(STEAM_MIN), "steam-low", &|| {
        format!("steam {}, needs {}", bar(steam), bar(view.p(STEAM_MIN)))
    });
    let vacuum = view.linked(CONDENSER, condenser::R_VACUUM);
    add(vacuum < view.p(VACUUM_MIN), "vacuum-low", &|| {
        format!("vacuum {}, needs {}", bar(vacuum), bar(view.p(VACUUM_MIN)))
    });
    let lube = view.pressure_pa(LUBE);
    add(lube < view.p(LUBE_MIN), "lube-pressure-low", &|| {
        format!("lube pressure {}, needs {}", bar(lube), bar(view.p(LUBE_MIN)))
    });
    add(view.s(WARM) < view.p(WARM_TIME) - 0.5, "not-warm", &|| {
        format!("warmed through for {:.0} s, needs {:.0} s", view.s(WARM), view.p(WARM_TIME))
    });
    add(view.has_link(BREAKER) && view.watched(BREAKER) > 0.5, "breaker-closed", &|| {
        "its generator's breaker is closed".into()
    });
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        START => {
            let (steam, speed) = (ctx.linked(STEAM, header::R_PRESSURE), speed_share(ctx));
            ctx.find(F_STARTED, steam, 0.0, 0.0);
            ctx.set(RAMP, speed);
            ctx.set(PHASE, RUNNING_UP);
            ctx.set(WARMING, 0.0);
        }
        STOP => ctx.set(PHASE, COASTING),
        RESET => {
            ctx.set(TRIPPED, 0.0);
            ctx.find(F_RESET, 0.0, 0.0, 0.0);
        }
        SET_WARMING => ctx.set(WARMING, act.value),
        TRIM => {
            let share = ctx.s(SET_SPEED) + act.value;
            ctx.set(SET_SPEED, share.clamp(0.8, 1.12));
        }
        _ => {
            let share = act.value / ctx.p(SPEED);
            ctx.set(SET_SPEED, share.clamp(0.8, 1.12));
        }
    }
}
