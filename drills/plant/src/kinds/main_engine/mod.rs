//! A ship's main engine as a mean-value model with its propeller, governor, load control and safety.
//!
//! The declaration is in this file; `torque` has governor, combustion and propeller, `control` the sequence, the load
//! and the safety, `care` cocks and water in a cylinder, `permits` what stands in the way of acts, `warmth` the split of the fuel's heat and the readings.

mod care;
mod control;
mod permits;
mod torque;
mod warmth;

use super::declare::*;
use crate::kind::{
    ActDef, BranchDef, FaultDef, FindingDef, Hooks, Joints, KindDef, LinkDef, NeedDef, Net, ParamDef,
    PortDef, Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;

const PROPELLERS: &[&str] = &["controllable pitch", "fixed"];
const PHASES: &[&str] = &["stopped", "starting", "running up", "running", "stopping", "blowing through"];
const CAUSES: &[&str] = &["none", "lube pressure", "HT temperature", "overspeed", "without cause"];
const SLOW_CAUSES: &[&str] = &["none", "HT temperature", "charge air temperature"];
const COCK_WORDS: &[&str] = &["shut", "open"];
const BLOWN_WORDS: &[&str] = &["nothing", "air", "water"];
const GEAR: &[&str] = &["out", "in"];

const STOPPED: f64 = 0.0;
const STARTING: f64 = 1.0;
const RUNNING_UP: f64 = 2.0;
const RUNNING: f64 = 3.0;
const STOPPING: f64 = 4.0;
const BLOWING: f64 = 5.0;

declare!(PORTS: PortDef {
    SHAFT = port("shaft", Net::Shaft, 0, "Crankshaft with flywheel and propeller line; a gear on it can drive a generator."),
    FUEL = free_port("fuel", Net::Liquid, 1, "Fuel before the injection pumps; free: there is always fuel."),
    AIR = free_port("start-air", Net::Air, 0, "Starting air at the engine; free: there is always air."),
    CONTROL_AIR = free_port("control-air", Net::Air, 0, "Control air; free: there is always air."),
    GALLERY = port("lube-gallery", Net::Liquid, 2, "Oil before the bearings."),
    SUMP = port("lube-sump", Net::Liquid, 2, "Where the oil returns."),
    HT = port("ht", Net::Liquid, 3, "Jacket water: the node stands for water and block, and brings their heat capacity."),
    LT_IN = port("lt-inlet", Net::Liquid, 4, "LT water to the charge-air coolers."),
    LT_OUT = port("lt-outlet", Net::Liquid, 4, "LT water from the charge-air coolers."),
    CONTROL = free_port("control", Net::Dc, 0, "Control supply for remote control and alarms' pick-ups."),
    SPACE = free_port("space", Net::Space, 0, "Room that it draws from and warms."),
});
declare!(LINKS: LinkDef {
    PITCH_PUMP = watch("pitch-pump", false, "Reading that says that a pitch pump runs, e.g. `load.pitch.1.on`; free: pitch always follows."),
    PITCH_PUMP_2 = watch("pitch-pump-2", false, "The same of the second pitch pump."),
});
declare!(PARAMS: ParamDef {
    POWER = quantity("rated-power", Dimension::Power, 1e5, 1e8, "Shaft power at full load."),
    SPEED = quantity("rated-speed", Dimension::Speed, 1.0, 200.0, "Speed at full load."),
    PROPELLER = choice("propeller", PROPELLERS, 0, "Controllable pitch: constant speed, the pitch takes the load. Fixed: speed follows the load, with its cube root."),
    CYLINDERS = whole("cylinders", (3, 24), 6, "Number of cylinders: one that misfires takes its share of torque."),
    ZERO_PITCH = quantity_or("zero-pitch-load", Dimension::Ratio, (0.0, 0.4), 0.06, "Power of the propeller at zero pitch and rated speed, over rated (common practice, no source)."),
    LEAST_SPEED = quantity_or("least-speed", Dimension::Ratio, (0.1, 1.0), 0.30, "Fixed propeller: slowest running, over rated."),
    ETA_25 = quantity_or("efficiency-25", Dimension::Ratio, (0.05, 0.6), 0.395, "Shaft power over fuel power at 25 % load (invented, trade range)."),
    ETA_60 = quantity_or("efficiency-60", Dimension::Ratio, (0.05, 0.6), 0.430, "The same at 60 %."),
    ETA_100 = quantity_or("efficiency-100", Dimension::Ratio, (0.05, 0.6), 0.440, "The same at full load."),
    IDLE_FUEL = quantity_or("idle-fuel", Dimension::Ratio, (0.005, 0.3), 0.045, "Fuel power without load at rated speed, over that of full load."),
    JACKET_25 = quantity_or("jacket-25", Dimension::Ratio, (0.0, 0.5), 0.115, "Heat to jacket water over fuel power at 25 % load (invented, trade range)."),
    JACKET_60 = quantity_or("jacket-60", Dimension::Ratio, (0.0, 0.5), 0.085, "The same at 60 %."),
    JACKET_100 = quantity_or("jacket-100", Dimension::Ratio, (0.0, 0.5), 0.072, "The same at full load."),
    LUBE_25 = quantity_or("lube-25", Dimension::Ratio, (0.0, 0.5), 0.090, "Heat to lube oil over fuel power at 25 %."),
    LUBE_60 = quantity_or("lube-60", Dimension::Ratio, (0.0, 0.5), 0.066, "The same at 60 %."),
    LUBE_100 = quantity_or("lube-100", Dimension::Ratio, (0.0, 0.5), 0.058, "The same at full load."),
    AIR_25 = quantity_or("charge-air-25", Dimension::Ratio, (0.0, 0.5), 0.040, "Heat to the charge-air coolers over fuel power at 25 %, with LT water of 36 degC."),
    AIR_60 = quantity_or("charge-air-60", Dimension::Ratio, (0.0, 0.5), 0.105, "The same at 60 %."),
    AIR_100 = quantity_or("charge-air-100", Dimension::Ratio, (0.0, 0.5), 0.154, "The same at full load."),
    RADIATION_25 = quantity_or("radiation-25", Dimension::Ratio, (0.0, 0.2), 0.020, "Heat to the room over fuel power at 25 %."),
    RADIATION_60 = quantity_or("radiation-60", Dimension::Ratio, (0.0, 0.2), 0.012, "The same at 60 %."),
    RADIATION_100 = quantity_or("radiation-100", Dimension::Ratio, (0.0, 0.2), 0.009, "The same at full load."),
    AIR_FLOW = quantity("air-flow", Dimension::MassFlow, 0.01, 1000.0, "Combustion air at full load."),
    AIR_COOLING = quantity_or("charge-air-effectiveness", Dimension::Ratio, (0.3, 0.99), 0.90, "Effectiveness of the charge-air coolers (common practice, no source)."),
    LT_FLOW = quantity("lt-rated-flow", Dimension::Flow, 1e-5, 2.0, "Rated flow of LT water."),
    LT_KV = quantity("lt-kv", Dimension::FlowCoefficient, 1e-5, 10.0, "Flow coefficient of the LT side of the charge-air coolers."),
    LHV = quantity_or("lower-calorific-value", Dimension::SpecificEnergy, (3.5e7, 5e7), 4.27e7, "Of the fuel (diesel oil, from memory; heavy fuel 40.5 MJ/kg)."),
    COOLING = quantity_or("standing-loss", Dimension::HeatConductance, (0.0, 1e5), 190.0, "Heat conductance from block to room: time constant of many hours."),
    FUEL_NEEDED = quantity_or("starves-below", Dimension::Pressure, (-1e5, 1e6), 8e4, "Fuel pressure below which it takes less than full fuel; idling needs a third of it."),
    FRICTION = quantity_or("friction", Dimension::Ratio, (0.01, 0.3), 0.06, "Friction torque with warm oil over rated (common practice, no source)."),
    KP = quantity_or("governor-gain", Dimension::None, (0.1, 200.0), 4.0, "Proportional gain, pu torque per pu speed."),
    KI = quantity_or("governor-integral", Dimension::None, (0.0, 200.0), 3.0, "Integral gain, 1/s: no droop."),
    ACTUATOR = quantity_or("actuator-lag", Dimension::Time, (0.0, 5.0), 0.2, "Lag of the actuator."),
    BOOST_LAG = quantity_or("charge-air-lag", Dimension::Time, (0.1, 60.0), 6.0, "Lag with which charge air follows load."),
    BOOST_FREE = quantity_or("load-at-once", Dimension::Ratio, (0.1, 1.2), 0.50, "Torque that needs no more charge air than idling gives."),
    LOAD_UP = quantity_or("load-up", Dimension::Time, (1.0, 7200.0), 120.0, "Time from no load to full load by the load control (common practice, no source)."),
    LOAD_DOWN = quantity_or("load-down", Dimension::Time, (1.0, 7200.0), 20.0, "Time from full load to no load."),
    RUN_UP = quantity_or("run-up", Dimension::Time, (1.0, 600.0), 20.0, "Time from firing to rated speed."),
    CRANK_TORQUE = quantity_or("cranking-torque", Dimension::Ratio, (0.02, 2.0), 0.30, "Cranking torque at 30 bar over rated."),
    CRANK_SPEED = quantity_or("cranking-top-speed", Dimension::Ratio, (0.05, 0.6), 0.30, "Speed at which cranking gives no torque, over rated."),
    FIRING_SPEED = quantity_or("firing-speed", Dimension::Ratio, (0.02, 0.5), 0.12, "Lowest speed at which it fires, over rated (10 to 15 %, from memory)."),
    AIR_BORE = quantity_or("start-air-bore", Dimension::Length, (1e-4, 0.2), 0.018, "Bore of the nozzle that stands for the cylinders' air use while cranking."),
    CRANK_TIME = quantity_or("crank-time", Dimension::Time, (1.0, 60.0), 10.0, "Longest cranking of one start."),
    AIR_MIN = quantity_or("least-start-pressure", Dimension::Pressure, (0.0, 1e7), 1.2e6, "Starting air below which a start is blocked."),
    CONTROL_AIR_MIN = quantity_or("least-control-air", Dimension::Pressure, (0.0, 2e6), 4.5e5, "Control air below which a start is blocked and the load does not follow."),
    WARM_MIN = quantity_or("least-ht-temperature", Dimension::Temperature, (250.0, 400.0), 313.15, "Jacket temperature below which a start is blocked; set it low where there is no preheating."),
    FUEL_MIN = quantity_or("least-fuel-pressure", Dimension::Pressure, (-1e5, 1e6), 3e4, "Fuel pressure below which a start is blocked."),
    LUBE_START = quantity_or("primed-at", Dimension::Pressure, (0.0, 1e6), 0.8e5, "Lube pressure below which a start is blocked."),
    LUBE_TRIP = quantity_or("lube-shutdown", Dimension::Pressure, (0.0, 1e6), 2.0e5, "Lube pressure of the shutdown."),
    HT_SLOW = quantity_or("ht-slowdown", Dimension::Temperature, (300.0, 500.0), 365.15, "HT temperature of the slowdown."),
    HT_TRIP = quantity_or("ht-shutdown", Dimension::Temperature, (300.0, 500.0), 370.15, "HT temperature of the shutdown."),
    CHARGE_SLOW = quantity_or("charge-air-slowdown", Dimension::Temperature, (300.0, 500.0), 353.15, "Charge-air temperature of the slowdown."),
    SLOW_LOAD = quantity_or("slowdown-load", Dimension::Ratio, (0.05, 1.0), 0.40, "Load that a slowdown leaves."),
    OVERSPEED = quantity_or("overspeed", Dimension::Ratio, (1.02, 1.5), 1.15, "Overspeed shutdown over rated (IACS UR M3: at most 120 % for main engines, from memory)."),
    TRIP_DELAY = quantity_or("shutdown-delay", Dimension::Time, (0.0, 60.0), 3.0, "Delay of shutdowns by pressure and temperature."),
    SLOW_DELAY = quantity_or("slowdown-delay", Dimension::Time, (0.0, 300.0), 20.0, "Delay of slowdowns (common practice, no source)."),
    FULL_LINE = quantity("bearing-oil-flow", Dimension::Flow, 1e-6, 2.0, "Oil that bearings and pistons take at 4.2 bar and 65 degC."),
});
declare!(STATE: StateDef {
    PHASE = state_choice("phase", PHASES, 0, "Where the sequence is; a start state that sets `running` finds it at speed with its ordered load."),
    SHUTDOWN = state_choice("shutdown", CAUSES, 0, "Shutdown that is latched."),
    SLOWDOWN = state_choice("slowdown", SLOW_CAUSES, 0, "Slowdown that is latched."),
    GEAR_IN = state_choice("turning-gear", GEAR, 0, "Turning gear."),
    COCKS = state_choice("indicator-cocks", COCK_WORDS, 0, "Indicator cocks of the cylinders."),
    WATER = state("water-in-cylinder", Dimension::Ratio, (0.0, 1.0), 0.0, "Water that lies on a piston, share of what fills its clearance."),
    WATER_FROM = inner("water-answered", 0.0, "Severity of `water-in-cylinder` that has been answered already."),
    BROKEN = inner("broken", 0.0, "A connecting rod is bent."),
    ORDER = state("ordered-load", Dimension::Ratio, (0.0, 1.1), 0.0, "Load ordered for the propeller, over rated power."),
    PITCH = state("propeller-load", Dimension::Ratio, (-1.0, 1.2), -1.0, "Load that the propeller takes at the speed set; a start state that is silent takes the ordered one."),
    SET_SPEED = state("set-speed", Dimension::Ratio, (0.5, 1.1), 1.0, "Speed set point over rated (controllable pitch)."),
    RACK = state("rack", Dimension::Ratio, (0.0, 1.2), 0.0, "Fuel rack, full load = 100 %. Found running without it, it is worked out from the propeller's load; with a shaft generator on, give it."),
    INTEGRAL = state("governor-integral", Dimension::Ratio, (-2.0, 2.0), 0.0, "Integral part of the governor: the rack at rest."),
    BURN = state("burning", Dimension::Ratio, (0.0, 1.0), 0.0, "How completely it fires."),
    BOOST = state("charge-air", Dimension::Ratio, (0.0, 1.5), 0.0, "Charge air built up, as torque it allows beyond the free part."),
    TIMER = inner("timer", 0.0, "Time in the phase, s."),
    DEMAND = inner("demand", 0.0, "Speed that the governor is asked for now, over rated."),
    HUNT = inner("hunt", 0.0, "Where a hunting governor is in its swing, rad."),
    TORQUE = inner("torque", 0.0, "Net torque of the engine on its shaft, Nm."),
    PROPELLER_W = inner("propeller-power", 0.0, "Power that the propeller takes, W."),
    FUEL_POWER = inner("fuel-power", 0.0, "Heat of the fuel burnt, W."),
    DRAG = inner("drag", 1.0, "Friction over that with warm oil."),
    CHARGE_K = inner("charge-air-temperature", 300.0, "Charge air after its coolers, K."),
    HEAT_AIR = inner("heat-charge-air", 0.0, "Heat to the LT water, W."),
    EXHAUST = inner("exhaust", 0.0, "Heat left to the exhaust, W."),
    LUBE_LOW = inner("lube-low", 0.0, "How long lube pressure has been below its shutdown, s."),
    HT_HIGH = inner("ht-high", 0.0, "How long HT has been above its shutdown, s."),
    HT_WARM = inner("ht-warm", 0.0, "How long HT has been above its slowdown, s."),
    CHARGE_WARM = inner("charge-warm", 0.0, "How long charge air has been above its slowdown, s."),
});
declare!(ACTS: ActDef {
    START = act(Verb::Start, Reach::Remote, 10.0, "Start it on air and run it up."),
    STOP = act(Verb::Stop, Reach::Remote, 3.0, "Stop it."),
    RESET = act(Verb::Reset, Reach::Local, 10.0, "Reset a latched shutdown (stopped) or slowdown (cooled down), at the engine."),
    SET_LOAD = set_quantity("load", Dimension::Ratio, (0.0, 1.1), Reach::Remote, 3.0, "Order a load for the propeller, over rated power: bridge order followed by the control room."),
    SET_SPEED_ACT = set_quantity("speed", Dimension::Speed, (1.0, 200.0), Reach::Remote, 5.0, "Speed of a controllable-pitch engine, within 5 % of rated."),
    OPEN_COCKS = act(Verb::Open, Reach::Local, 90.0, "Open the indicator cocks of all cylinders: a start then only blows it through with air."),
    SHUT_COCKS = act(Verb::Close, Reach::Local, 90.0, "Shut the indicator cocks."),
    SET_GEAR = set_choice("turning-gear", GEAR, Reach::Local, 60.0, "Engage or take out the turning gear."),
});
declare!(FAULTS: FaultDef {
    MISFIRES = fault("cylinder-misfires", 1.0, "One cylinder does not fire: its share of torque is gone, its exhaust is cold, others work harder."),
    LOSES_POWER = fault("loses-power", 0.5, "Dirty turbocharger and worn injection: up to a third of the torque is lost, exhaust is hotter, and it cannot hold speed at full load."),
    HUNTS = fault("governor-hunts", 0.5, "The governor hunts: speed swings by up to 3 % with a period of three seconds, and the frequency of a shaft generator with it."),
    SHUTS_DOWN = fault("shuts-down", 1.0, "It shuts down without cause; a shaft generator goes with it."),
    NO_SHUTDOWN = fault("shutdown-does-not-act", 1.0, "The stop solenoid sticks: shutdowns are announced and nothing stops, nor by a stop from the control room; the lever at the engine stops it."),
    PITCH_STICKS = fault("pitch-sticks", 1.0, "The pitch (fixed propeller: the speed order) stays where it is: the load does not follow the order."),
    START_VALVE = fault("start-valve-sticks", 1.0, "The start valve does not open: a start takes no air and fails."),
    AIR_COOLER = fault("charge-air-cooler-fouled", 0.12, "Its charge-air coolers are fouled: this share of their effect is lost; charge air and exhaust are hotter, up to a slowdown."),
    JACKET_LEAK = fault("jacket-leaks", 0.3, "A jacket seal leaks: up to 1 m3/h of water is lost, the expansion tank falls."),
    SLUG = fault("water-in-cylinder", 1.0, "A cylinder head has leaked at standstill: water lies on a piston. Turned with shut cocks it bends a rod and does not run up; blown through with open cocks the water comes out. Lifting repairs the damage."),
});
declare!(NEEDS: NeedDef {
    N_FUEL = need("fuel", "Fuel pressure, while the rack is open."),
    N_LUBE = need("lube-pressure", "Oil pressure above its shutdown, while it turns at speed."),
    N_LT = need("lt-water", "LT water, a fifth of rated at the least, while it runs."),
    N_CONTROL_AIR = need("control-air", "Control air, while it runs."),
    N_AIR = need("starting-air", "Starting air, while it is cranked."),
    N_PITCH = need("pitch-oil", "A pitch pump, while it runs with controllable pitch."),
});
declare!(READINGS: ReadingDef {
    R_SPEED = reading("speed", Dimension::Speed, Seen::Remote, "Speed."),
    R_PHASE = reading_words("phase", PHASES, Seen::Remote, "Where the sequence is."),
    R_RUNNING = reading_words("running", NO_YES, Seen::Remote, "Runs on fuel at its speed?"),
    R_LOAD = reading("load", Dimension::Ratio, Seen::Remote, "Shaft power, propeller and what else it drives, over rated."),
    R_ORDER = reading("ordered-load", Dimension::Ratio, Seen::Remote, "Load ordered for the propeller."),
    R_PITCH = reading("propeller-load", Dimension::Ratio, Seen::Remote, "Load set at the propeller (pitch, or speed of a fixed one)."),
    R_SHAFT_POWER = reading("shaft-power", Dimension::Power, Seen::Remote, "Shaft power."),
    R_PROPELLER = reading("propeller-power", Dimension::Power, Seen::Remote, "Power of the propeller."),
    R_RACK = reading("rack", Dimension::Ratio, Seen::Remote, "Fuel rack."),
    R_FUEL_FLOW = reading("fuel-flow", Dimension::MassFlow, Seen::Remote, "Fuel burnt."),
    R_FUEL_PRESSURE = reading("fuel-pressure", Dimension::Pressure, Seen::Remote, "Fuel pressure."),
    R_LUBE_PRESSURE = reading("lube-pressure", Dimension::Pressure, Seen::Remote, "Oil pressure before the bearings."),
    R_LUBE_TEMPERATURE = reading("lube-temperature", Dimension::Temperature, Seen::Remote, "Oil to the bearings."),
    R_HT_TEMPERATURE = reading("ht-temperature", Dimension::Temperature, Seen::Remote, "HT water leaving the engine."),
    R_HT_PRESSURE = reading("ht-pressure", Dimension::Pressure, Seen::Remote, "HT water pressure at the engine."),
    R_LT_FLOW = reading("lt-flow", Dimension::Flow, Seen::Remote, "LT water through the charge-air coolers."),
    R_CHARGE = reading("charge-air-temperature", Dimension::Temperature, Seen::Remote, "Charge air after its coolers."),
    R_EXHAUST = reading("exhaust-temperature", Dimension::Temperature, Seen::Remote, "Exhaust after the turbine."),
    R_DEVIATION = reading("exhaust-deviation", Dimension::TemperatureDifference, Seen::Remote, "Exhaust of the cylinder that is furthest off, against the mean."),
    R_START_AIR = reading("start-air-pressure", Dimension::Pressure, Seen::Remote, "Starting air at the engine."),
    R_CONTROL_AIR = reading("control-air-pressure", Dimension::Pressure, Seen::Remote, "Control air."),
    R_SHUTDOWN = reading_words("shutdown", CAUSES, Seen::Remote, "Latched shutdown.").latched(),
    R_SLOWDOWN = reading_words("slowdown", SLOW_CAUSES, Seen::Remote, "Latched slowdown.").latched(),
    R_GEAR = reading_words("turning-gear", GEAR, Seen::Remote, "Turning gear."),
    R_COCKS = reading_words("indicator-cocks", COCK_WORDS, Seen::Local, "Indicator cocks."),
    R_BLOWN = reading_words("cocks-show", BLOWN_WORDS, Seen::Local, "What comes out of open cocks while it turns."),
    R_READY = reading_words("ready-to-start", NO_YES, Seen::Remote, "Nothing in the way of a start?"),
    R_FUEL_POWER = reading("fuel-power", Dimension::Power, Seen::Hidden, "Heat of the fuel burnt."),
    R_AIR_FLOW = reading("air-flow", Dimension::MassFlow, Seen::Hidden, "Combustion air."),
    R_HEAT_JACKET = reading("heat-jacket", Dimension::Power, Seen::Hidden, "Heat to the jacket water."),
    R_HEAT_LUBE = reading("heat-lube", Dimension::Power, Seen::Hidden, "Heat to the oil."),
    R_HEAT_AIR = reading("heat-charge-air", Dimension::Power, Seen::Hidden, "Heat to the LT water by the charge-air coolers."),
    R_HEAT_ROOM = reading("heat-room", Dimension::Power, Seen::Hidden, "Heat to the room, running."),
    R_HEAT_EXHAUST = reading("heat-exhaust", Dimension::Power, Seen::Hidden, "Heat to the exhaust."),
});
declare!(FINDINGS: FindingDef {
    F_CRANKS = finding("cranking", Dimension::Pressure, "cranks with {measured} of starting air"),
    F_FIRED = finding("fired", Dimension::Speed, "fires at {measured}"),
    F_STARTED = finding("started", Dimension::Speed, "is at speed: {measured}"),
    F_START = finding("start-failed", Dimension::Speed, "start failed: {measured} reached"),
    F_STOPPED = finding("stopped", Dimension::None, "has stopped"),
    F_STALLED = finding("stalled", Dimension::Pressure, "stalled: fuel pressure {measured}"),
    F_LUBE = finding("shutdown-lube-pressure", Dimension::Pressure, "shut down by lube pressure: {measured}, limit {limit}"),
    F_HT = finding("shutdown-ht-temperature", Dimension::Temperature, "shut down by HT temperature: {measured}, limit {limit}"),
    F_OVERSPEED = finding("shutdown-overspeed", Dimension::Ratio, "shut down by overspeed: {measured} of rated, limit {limit}"),
    F_ITSELF = finding("shutdown", Dimension::None, "shut down without cause"),
    F_SLOW_HT = finding("slowdown-ht-temperature", Dimension::Temperature, "slowed down by HT temperature: {measured}, limit {limit}"),
    F_SLOW_CHARGE = finding("slowdown-charge-air", Dimension::Temperature, "slowed down by charge-air temperature: {measured}, limit {limit}"),
    F_BLOWN = finding("blown-through", Dimension::Speed, "was blown through with open indicator cocks, up to {measured}"),
    F_WATER_OUT = finding("water-blown-out", Dimension::None, "water came out of an indicator cock"),
    F_BROKEN = finding("hydraulic-damage", Dimension::Speed, "water in a cylinder: a connecting rod bent at {measured}; it was not blown through"),
    F_RESET = finding("reset", Dimension::None, "shutdown and slowdown were reset"),
});

/// What follows from the parameters: rated torque, Nm; fuel at 25 and 60 % load; heat of the fuel at full load, W; shares of
/// their way that rack and boost go in a sub-step.
const RATED_NM: usize = PARAMS.len();
const FUEL_25: usize = RATED_NM + 1;
const FUEL_60: usize = RATED_NM + 2;
const FUEL_W: usize = RATED_NM + 3;
const RACK_PART: usize = RATED_NM + 4;
const BOOST_PART: usize = RATED_NM + 5;

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "main-engine",
    doc: "A main engine with its propeller: constant speed and controllable pitch, or fixed propeller.",
    physics: "Mean-value model. Torque follows fuel per stroke along the line through idle, 25, 60 and 100 % load; governor PI \
              without droop; charge air limits load steps; the propeller takes the ordered load with the cube of speed, brought \
              on by the load control and held back when the rack is at its end. Fuel's heat is split by load to shaft, jacket, \
              oil, charge air, room, and the rest to exhaust; what warm LT water does not take of the charge air goes to the exhaust. \
              The ship's speed, astern running and single cylinders are left out.",
    source: "mean-value model; cube law of propellers (from memory); shares of heat invented within the trade's range",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    joints: Joints { turns: &[SHAFT], ..Joints::NONE },
    liquid_branches: &[BranchDef { from: GALLERY, to: SUMP }, BranchDef { from: LT_IN, to: LT_OUT }],
    air_branches: &[BranchDef { from: AIR, to: crate::kind::ATMOSPHERE }],
    follows: torque::follows,
    hooks: Hooks {
        settle: Some(torque::settle),
        control: Some(control::control),
        motion: Some(torque::motion),
        liquid: Some(torque::liquid),
        air: Some(torque::air),
        heat: Some(warmth::heat),
        publish: Some(warmth::publish),
        permit: Some(permits::permit),
        act: Some(control::do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};
