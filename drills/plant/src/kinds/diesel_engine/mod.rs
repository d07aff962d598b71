//! A diesel engine as a mean-value model with its governor: torque from fuel, friction, cranking, heat.
//!
//! The declaration is in this file; the equations are in `torque` (governor, combustion, cranking) and `warmth`
//! (the split of the fuel's heat); `trim` is the motor that moves the governor's set point; `care` holds what hands and
//! habits do to it: cocks, water, cold load.

mod care;
mod torque;
mod trim;
mod warmth;

use super::declare::*;
use super::harm::SIGNS;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, Joints, KindDef, LinkDef, NeedDef, Net,
    ParamDef, PortDef, Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;

/// Words of the indicator cocks.
const COCK_WORDS: &[&str] = &["shut", "open"];
/// What open cocks show while the engine turns.
const BLOWN_WORDS: &[&str] = &["nothing", "air", "water"];
const STARTERS: &[&str] = &["air", "electric"];
const GOVERNOR_MODES: &[&str] = &["droop", "isochronous"];

declare!(PORTS: PortDef {
    SHAFT = port("shaft", Net::Shaft, 0, "Crankshaft."),
    FUEL = port("fuel", Net::Liquid, 1, "Fuel before the injection pumps."),
    AIR = free_port("start-air", Net::Air, 0, "Starting air at the engine's start valve."),
    GALLERY = port("lube-gallery", Net::Liquid, 2, "Oil before the bearings."),
    SUMP = port("lube-sump", Net::Liquid, 2, "Where the oil returns."),
    HT = port("ht", Net::Liquid, 3, "Jacket water: the node stands for water and block."),
    SPACE = free_port("space", Net::Space, 0, "Room that it draws from and warms."),
});
declare!(LINKS: LinkDef {
    CONTROLS = link("controls", &["engine-controls"], true, "Its start and stop controls."),
    BATTERY = link("battery", &["start-battery"], false, "Battery of an electric starter."),
    CHARGE_AIR = link("charge-air", &["charge-air-cooler"], false, "Its charge-air cooler: what it does not take goes to the exhaust."),
});
declare!(PARAMS: ParamDef {
    POWER = quantity("rated-power", Dimension::Power, 1e3, 1e8, "Shaft power at full load."),
    SPEED = quantity("rated-speed", Dimension::Speed, 1.0, 500.0, "Speed at full load."),
    STARTER = choice("starter", STARTERS, 0, "How it is cranked."),
    CRANK_TORQUE = quantity_or("cranking-torque", Dimension::Ratio, (0.05, 3.0), 0.66, "Cranking torque at 30 bar (air) or full battery, as a share of rated torque."),
    CRANK_SPEED = quantity_or("cranking-top-speed", Dimension::Ratio, (0.05, 0.6), 0.22, "Speed at which cranking gives no torque, as a share of rated."),
    FIRING_SPEED = quantity_or("firing-speed", Dimension::Ratio, (0.02, 0.5), 0.11, "Lowest speed at which it fires (10 to 15 % of rated, from memory)."),
    AIR_CONDUCTANCE = quantity_or("start-air-bore", Dimension::Length, (1e-4, 0.1), 0.0098, "Bore of the nozzle that stands for the cylinders' air use while cranking."),
    FRICTION = quantity_or("friction", Dimension::Ratio, (0.02, 0.4), 0.10, "Friction torque with warm oil as a share of rated (a motored diesel takes 5 to 15 %, relay application manuals)."),
    ETA_25 = quantity_or("efficiency-25", Dimension::Ratio, (0.05, 0.6), 0.345, "Shaft power over fuel power at 25 % load (invented, trade range)."),
    ETA_60 = quantity_or("efficiency-60", Dimension::Ratio, (0.05, 0.6), 0.410, "The same at 60 %."),
    ETA_100 = quantity_or("efficiency-100", Dimension::Ratio, (0.05, 0.6), 0.425, "The same at full load."),
    IDLE_FUEL = quantity_or("idle-fuel", Dimension::Ratio, (0.005, 0.3), 0.0556, "Fuel power idling at rated speed over fuel power at full load."),
    JACKET_25 = quantity_or("jacket-25", Dimension::Ratio, (0.0, 0.5), 0.140, "Heat to jacket water over fuel power at 25 %."),
    JACKET_60 = quantity_or("jacket-60", Dimension::Ratio, (0.0, 0.5), 0.105, "The same at 60 %."),
    JACKET_100 = quantity_or("jacket-100", Dimension::Ratio, (0.0, 0.5), 0.090, "The same at full load."),
    LUBE_25 = quantity_or("lube-25", Dimension::Ratio, (0.0, 0.5), 0.090, "Heat to lube oil over fuel power at 25 %."),
    LUBE_60 = quantity_or("lube-60", Dimension::Ratio, (0.0, 0.5), 0.066, "The same at 60 %."),
    LUBE_100 = quantity_or("lube-100", Dimension::Ratio, (0.0, 0.5), 0.057, "The same at full load."),
    RADIATION_25 = quantity_or("radiation-25", Dimension::Ratio, (0.0, 0.2), 0.040, "Heat to the room over fuel power at 25 %."),
    RADIATION_60 = quantity_or("radiation-60", Dimension::Ratio, (0.0, 0.2), 0.024, "The same at 60 %."),
    RADIATION_100 = quantity_or("radiation-100", Dimension::Ratio, (0.0, 0.2), 0.018, "The same at full load."),
    AIR_FLOW = quantity_or("air-flow", Dimension::MassFlow, (0.0, 100.0), 1.22, "Combustion air at full load."),
    LHV = quantity_or("lower-calorific-value", Dimension::SpecificEnergy, (3.5e7, 5e7), 4.27e7, "Of diesel oil (ISO 8217 form, from memory); that of a blend with heavy fuel follows."),
    COOLING = quantity_or("standing-loss", Dimension::HeatConductance, (0.0, 1e4), 66.0, "Heat conductance from block to room: time constant of hours."),
    FUEL_NEEDED = quantity_or("starves-below", Dimension::Pressure, (-1e5, 1e6), 8e4, "Fuel pressure below which it takes less than full fuel; idling needs a third of it."),
    KP = quantity_or("governor-gain", Dimension::None, (0.1, 200.0), 10.0, "Proportional gain, pu torque per pu speed."),
    KI = quantity_or("governor-integral", Dimension::None, (0.0, 200.0), 8.0, "Integral gain, 1/s."),
    DROOP = quantity_or("droop", Dimension::Ratio, (0.0, 0.1), 0.04, "Speed droop, no load to full load."),
    SET_LOW = quantity_or("speed-range-low", Dimension::Ratio, (0.3, 1.0), 0.95, "Lowest set point at no load."),
    SET_HIGH = quantity_or("speed-range-high", Dimension::Ratio, (1.0, 1.2), 1.05, "Highest set point at no load."),
    TRIM_RATE = quantity_or("trim-rate", Dimension::Ratio, (1e-4, 0.1), 0.0025, "How fast the governor's motor moves the set point, share of rated speed a second: 0.15 Hz/s at 60 Hz; common practice, no source."),
    ACTUATOR = quantity_or("actuator-lag", Dimension::Time, (0.0, 2.0), 0.10, "Lag of the actuator."),
    BOOST_LAG = quantity_or("charge-air-lag", Dimension::Time, (0.1, 20.0), 3.0, "Lag with which charge air follows load."),
    BOOST_FREE = quantity_or("load-at-once", Dimension::Ratio, (0.1, 1.2), 0.55, "Torque that needs no more charge air than idling gives."),
    FULL_LINE = quantity_or("bearing-oil-flow", Dimension::Flow, (1e-6, 0.5), 0.00275, "Oil that the bearings take at 4.2 bar and 65 degC."),
    LINE_VOLUME = quantity_or("oil-line-volume", Dimension::Volume, (0.0, 10.0), 0.075, "Oil that drains from lines and bearings at standstill and must be filled again."),
    DRAINS_IN = quantity_or("oil-line-drains-in", Dimension::Time, (10.0, 1e6), 1200.0, "Time constant of that draining; common practice, no source."),
});
declare!(STATE: StateDef {
    RACK = state("rack", Dimension::Ratio, (0.0, 1.2), 0.0, "Fuel rack, full load = 100 %."),
    INTEGRAL = state("governor-integral", Dimension::Ratio, (-2.0, 2.0), 0.0, "Integral part of the governor."),
    SET_SPEED = state("set-speed", Dimension::Ratio, (0.5, 1.2), 1.012, "Speed set point at no load over rated speed."),
    BURN = state("burning", Dimension::Ratio, (0.0, 1.0), 0.0, "How completely it fires."),
    BOOST = state("charge-air", Dimension::Ratio, (0.0, 1.5), 0.0, "Charge air built up, as torque it allows beyond the free part."),
    FILLED = state("oil-line-filled", Dimension::Ratio, (0.0, 1.0), 0.0, "How full oil lines and bearings are."),
    TORQUE = inner("torque", 0.0, "Net torque on the shaft, Nm."),
    FUEL_POWER = inner("fuel-power", 0.0, "Heat of the fuel burnt, W."),
    EXHAUST = inner("exhaust", 0.0, "Heat left to the exhaust, W."),
    AIM = inner("set-speed-aim", -1.0, "Set point that the governor's motor runs to."),
    GOVERNOR_MODE = state_choice("governor", GOVERNOR_MODES, 0, "Does the governor let the speed fall with load?"),
    EXTRA_OIL = inner("extra-oil-heat", 0.0, "Heat of friction that the fuel's split does not hold, W."),
    DRAG = inner("drag", 1.0, "Friction over that with warm oil."),
    LEVER = state("rack-lever", Dimension::Ratio, (0.0, 1.0), 1.0, "Hand lever of the fuel rack: the rack opens no further."),
    COCKS = state_choice("indicator-cocks", COCK_WORDS, 0, "Indicator cocks of the cylinders."),
    WATER = state("water-in-cylinder", Dimension::Ratio, (0.0, 1.0), 0.0, "Water that lies on a piston, share of what fills its clearance."),
    WATER_FROM = inner("water-answered", 0.0, "Severity of `water-in-cylinder` that has been answered already."),
    BROKEN = state_flag("broken", false, "A connecting rod is bent: it does not turn."),
    POT = state("leak-pot", Dimension::Volume, (0.0, 0.01), 0.0, "Fuel in the leak pot of the injection pipes."),
    HUNT = inner("hunting", 0.0, "Phase of a hunting governor, rad."),
    COLD_S = inner("cold-load-time", 0.0, "How long it has been loaded too much for its temperature, s."),
    LOW_S = inner("low-load-time", 0.0, "How long it has run with too little load, s."),
    HELD_LUBE = inner("held-lube", 0.0, "What its oil gauge showed last, Pa."),
    HELD_HT = inner("held-ht", 300.0, "What its HT thermometer showed last, K."),
    RUNS = inner("runs", 0.0, "1 while it runs on fuel."),
    TAKES = inner("takes-fuel", 1.0, "Share of the wanted fuel that its viscosity lets the injection pumps take."),
});
declare!(ACTS: ActDef {
    SET_SPEED_ACT = set_quantity("speed", Dimension::Speed, (10.0, 500.0), Reach::Remote, 5.0, "Speed set point at no load: the governor's motor runs to it at its rate."),
    TRIM = set_quantity("trim", Dimension::Ratio, (-0.1, 0.1), Reach::Remote, 1.0, "Raise (or lower, negative) the speed set point by this share of rated speed."),
    SET_GOVERNOR = set_choice("governor", GOVERNOR_MODES, Reach::Local, 10.0, "Speed droop, or one speed at any load. Two sets in parallel do not share their load when both hold one speed."),
    OPEN_COCKS = act(Verb::Open, Reach::Local, 60.0, "Open the indicator cocks of all cylinders: a start then only blows it through with air."),
    SHUT_COCKS = act(Verb::Close, Reach::Local, 60.0, "Shut the indicator cocks."),
    SET_LEVER = set_quantity("rack-lever", Dimension::Ratio, (0.0, 1.0), Reach::Local, 3.0, "Hold the fuel rack below this by its hand lever; at nothing it stops whatever solenoids do, at 100 % it is free."),
    EMPTY_POT = act(Verb::Reset, Reach::Local, 20.0, "Empty the leak pot."),
});
declare!(FAULTS: FaultDef {
    GOVERNOR = fault("governor-sticks", 1.0, "The rack stays where it is: frequency wanders with load, a rejected load overspeeds."),
    INJECTION = fault("weak-injection", 0.4, "Worn injection: this share of torque is lost; it carries less, exhaust is hotter."),
    START_VALVE = fault("start-valve-sticks", 1.0, "The start valve does not open: the starter is engaged and nothing turns."),
    BEARINGS = fault("stiff-bearings", 0.5, "Friction rises up to three times: it starts badly and its oil runs hot."),
    JACKET_LEAK = fault("jacket-leaks", 0.3, "A jacket seal leaks: up to 0.6 m3/h of water is lost, the expansion tank falls."),
    HUNTS = fault("governor-hunts", 0.5, "A worn governor: speed, frequency and rack swing with two seconds, by up to 3 % of speed; in parallel load swings between the sets."),
    SETTING = fault("speed-setting-sticks", 1.0, "The speed-setting motor does not turn: raise and lower change nothing."),
    TURBO = fault("turbocharger-fouled", 0.5, "Dirt on compressor and nozzles: up to 40 % of the air is missing; exhaust is hotter, load steps are taken slower."),
    MISFIRES = fault("cylinder-misfires", 1.0, "One of six cylinders does not fire: the rack opens further for the same load, it carries no full load."),
    FUEL_LEAK = fault("injection-pipe-leaks", 0.5, "A high-pressure pipe leaks: up to 20 L/h run into the leak pot, that cylinder gives less."),
    OIL_LEAK = fault("oil-leaks", 0.4, "A flange before the bearings leaks: up to 0.5 m3/h at 1 bar; oil pressure sinks, the sump falls."),
    SLUG = fault("water-in-cylinder", 1.0, "A cylinder head has leaked at standstill: water lies on a piston. Turned with shut cocks it bends a rod; blown through with open cocks the water comes out. Lifting repairs the damage."),
    LUBE_DEAD = untrue("lube-sensor-dead", 1.0, "The oil pressure sensor gives no signal: it shows nothing, the alert comes; the shutdown has its own switch."),
    LUBE_FROZEN = untrue("lube-sensor-frozen", 1.0, "The oil pressure sensor hangs: it shows what it showed, no alert comes."),
    HT_FROZEN = untrue("ht-sensor-frozen", 1.0, "The HT thermometer hangs: it shows what it showed, no alert comes before the shutdown."),
    HT_HIGH = untrue("ht-sensor-reads-high", 0.5, "The HT thermometer reads up to 30 K high: an alert without cause."),
    EXHAUST_DEAD = untrue("exhaust-sensor-dead", 1.0, "The exhaust thermocouple is broken: it shows the room's temperature."),
    TACHO = untrue("tachometer-dead", 1.0, "The tachometer shows nothing; the governor and the pick-up of the controls are others."),
});
declare!(NEEDS: NeedDef {
    N_FUEL = need("fuel", "Fuel pressure, while the rack is open."),
    N_LUBE = need("lube-pressure", "Oil pressure at the bearings, while it turns at speed."),
    N_AIR = need("start-energy", "Air or battery, while it is cranked."),
});
declare!(FINDINGS: FindingDef {
    F_BROKEN = finding("hydraulic-damage", Dimension::Speed, "water in a cylinder: a connecting rod bent at {measured}; it was not blown through"),
    F_BLOWN = finding("water-blown-out", Dimension::None, "water came out of an indicator cock"),
    F_COLD = finding("loaded-cold", Dimension::Ratio, "was loaded with {measured} while cold; {limit} is allowed until it has warmed"),
    F_LOW = finding("low-load", Dimension::Ratio, "has run an hour with {measured}, wants {limit} at the least: it fouls"),
});
declare!(READINGS: ReadingDef {
    R_SPEED = reading("speed", Dimension::Speed, Seen::Remote, "Speed."),
    R_SPEED_SHARE = reading("speed-share", Dimension::Ratio, Seen::Hidden, "Speed over rated."),
    R_FIRING = reading_words("firing", NO_YES, Seen::Hidden, "Fires?"),
    R_LUBE_PRESSURE = reading("lube-pressure", Dimension::Pressure, Seen::Remote, "Oil pressure before the bearings."),
    R_HT_TEMPERATURE = reading("ht-temperature", Dimension::Temperature, Seen::Remote, "HT water leaving the engine."),
    R_FUEL_PRESSURE = reading("fuel-pressure", Dimension::Pressure, Seen::Remote, "Fuel pressure before the engine."),
    R_RACK = reading("rack", Dimension::Ratio, Seen::Local, "Fuel rack."),
    R_LOAD = reading("load", Dimension::Ratio, Seen::Remote, "Shaft power over rated."),
    R_FUEL_POWER = reading("fuel-power", Dimension::Power, Seen::Hidden, "Heat of the fuel burnt."),
    R_AIR_FLOW = reading("air-flow", Dimension::MassFlow, Seen::Hidden, "Combustion air."),
    R_HT_PRESSURE = reading("ht-pressure", Dimension::Pressure, Seen::Remote, "HT water pressure at the engine."),
    R_EXHAUST = reading("exhaust-temperature", Dimension::Temperature, Seen::Remote, "Exhaust after the turbine."),
    R_AIR_PRESSURE = reading("start-air-pressure", Dimension::Pressure, Seen::Remote, "Starting air at the engine."),
    R_LUBE_TEMPERATURE = reading("lube-temperature", Dimension::Temperature, Seen::Remote, "Oil to the bearings."),
    R_RUNNING = reading_words("running", NO_YES, Seen::Remote, "Turns at more than half speed on fuel?"),
    R_CRANKING = reading_words("cranking", NO_YES, Seen::Local, "Is it being cranked?"),
    R_HEAT_JACKET = reading("heat-jacket", Dimension::Power, Seen::Hidden, "Heat to the jacket."),
    R_HEAT_LUBE = reading("heat-lube", Dimension::Power, Seen::Hidden, "Heat to the oil."),
    R_HEAT_ROOM = reading("heat-room", Dimension::Power, Seen::Hidden, "Heat to the room."),
    R_SET_SPEED = reading("set-speed", Dimension::Speed, Seen::Remote, "Speed set point at no load."),
    R_GOVERNOR = reading_words("governor", GOVERNOR_MODES, Seen::Remote, "Speed droop, or one speed at any load."),
    R_SHAFT_POWER = reading("shaft-power", Dimension::Power, Seen::Hidden, "Shaft power."),
    R_COCKS = reading_words("indicator-cocks", COCK_WORDS, Seen::Local, "Indicator cocks."),
    R_BLOWN = reading_words("cocks-show", BLOWN_WORDS, Seen::Local, "What comes out of open cocks while it turns."),
    R_LEVER = reading("rack-lever", Dimension::Ratio, Seen::Local, "Hand lever of the fuel rack."),
    R_POT = reading("leak-pot", Dimension::Volume, Seen::Remote, "Fuel in the leak pot of the injection pipes."),
    R_OIL_SIGN = reading_words("oil-flange", SIGNS, Seen::Local, "What is seen at its oil flanges."),
    R_BROKEN = reading_words("broken", NO_YES, Seen::Local, "Is a connecting rod bent?"),
    R_BEARING_PRESSURE = reading("bearing-pressure", Dimension::Pressure, Seen::Hidden, "Oil pressure at the bearings, whatever the gauge shows."),
    R_JACKET = reading("jacket-temperature", Dimension::Temperature, Seen::Hidden, "HT water leaving the engine, whatever the thermometer shows."),
    R_SHAFT_SPEED = reading("shaft-speed", Dimension::Speed, Seen::Hidden, "Speed, whatever the tachometer shows."),
    R_HEAT_EXHAUST = reading("heat-exhaust", Dimension::Power, Seen::Hidden, "Heat to the exhaust: what the others leave."),
    R_FUEL_RATE = reading("fuel-rate", Dimension::MassFlow, Seen::Hidden, "Fuel burnt."),
    R_FUEL_VISCOSITY = reading("fuel-viscosity", Dimension::Viscosity, Seen::Remote, "Viscosity of the fuel before the injection pumps."),
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
    name: "diesel-engine",
    doc: "A diesel engine with its governor.",
    physics: "Torque follows fuel per stroke along the line through idle, 25, 60 and 100 % load (efficiencies of the ship file), less \
              friction that goes with oil viscosity to the power 0.3; governor PI with droop or without, actuator lag and a motor that moves its set point; charge air limits \
              load steps; cranking torque falls linearly with speed; it fires above a speed with fuel; heat of the fuel is split by \
              load to shaft, jacket, oil, charge air (its own kind), room, and the rest to exhaust. Indicator cocks: open, it only blows through. Water in a cylinder bends a rod when it is turned with shut cocks. No single cylinders, no smoke.",
    source: "mean-value model; governor checked against governor_swing_step.csv (scipy 1.17.1); friction exponent Patton/Heywood (from memory); \
             load acceptance after ISO 8528-5 and IACS UR M3 (from memory)",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    liquid_branches: &[BranchDef { from: GALLERY, to: SUMP }],
    air_branches: &[BranchDef { from: AIR, to: crate::kind::ATMOSPHERE }],
    joints: Joints { turns: &[SHAFT], ..Joints::NONE },
    follows: torque::follows,
    hooks: Hooks {
        settle: Some(torque::settle),
        control: Some(control),
        motion: Some(torque::motion),
        liquid: Some(torque::liquid),
        air: Some(torque::air),
        heat: Some(warmth::heat),
        publish: Some(warmth::publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn control(ctx: &mut Ctx<'_>) {
    trim::control(ctx);
    care::control(ctx);
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    care::CYLINDERS_AND_COCKS.block(view, act, blocks);
    trim::permit(view, act, blocks);
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        OPEN_COCKS | SHUT_COCKS => ctx.set_is(COCKS, act.index == OPEN_COCKS),
        SET_LEVER => ctx.set(LEVER, act.value),
        EMPTY_POT => ctx.set(POT, 0.0),
        SET_SPEED_ACT | TRIM if ctx.fault(SETTING) >= 0.5 => {}
        _ => trim::act(ctx, act),
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;
