//! An induction motor with its starter.

mod circuit;

use super::declare::*;
use super::electric::{
    Change, Contactor, DROP_OUT_SHARE, FIRST_VOLTAGE_TICK, IN_SEQUENCE, RESTART_WORDS, ROOT_3, block_start,
    is_shed, leak_s,
};
use crate::ctx::{Ctx, View};
use crate::fluid::lag;
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, Joints, KindDef, LinkDef, NeedDef, Net, ParamDef,
    PortDef, Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::nets::ac::Complex;
use crate::unit::Dimension;
use circuit::{Circuit, Point, Ratings, design_n_locked, usual_efficiency};

const STARTS: &[&str] = &["direct", "star-delta", "soft starter"];
const STAR_DELTA: usize = 1;
const SOFT: usize = 2;

declare!(PORTS: PortDef {
    SUPPLY = port("supply", Net::Ac, 0, "Node that feeds it."),
    SHAFT = port("shaft", Net::Shaft, 0, "Shaft that it turns."),
    CONTROL_SUPPLY = free_port("control", Net::Dc, 0, "Control supply of its starter; free: always there."),
});
declare!(PARAMS: ParamDef {
    RATED = quantity("rated-power", Dimension::Power, 10.0, 20e6, "Rated shaft power."),
    INPUT = quantity_or("rated-input", Dimension::Power, (0.0, 20e6), 0.0, "Electric power at rated shaft power; 0: from the usual efficiency of its size (IEC 60034-30-1, from memory)."),
    POWER_FACTOR = quantity_or("power-factor", Dimension::Ratio, (0.3, 0.99), 0.86, "At rated power."),
    POLES = whole("poles", (2, 24), 4, "Number of poles: synchronous speed is 120 f / poles rpm."),
    SLIP = quantity_or("rated-slip", Dimension::Ratio, (0.0, 0.15), 0.0, "Slip at rated power; 0: 0.27 of the losses (common practice, no source)."),
    LOCKED = quantity_or("locked-rotor", Dimension::ApparentPower, (0.0, 200e6), 0.0, "Apparent power at standstill, direct on line; 0: design N (IEC 60034-12, from memory)."),
    LOCKED_PF = quantity_or("locked-rotor-power-factor", Dimension::Ratio, (0.05, 0.95), 0.4, "Power factor at standstill; common practice, no source."),
    START_MODE = choice("start", STARTS, 0, "How it starts: direct on line, star-delta (a third of current and torque until 90 % speed), soft starter (limited current)."),
    SOFT_LIMIT = quantity_or("soft-limit", Dimension::Ratio, (0.1, 1.0), 0.4, "Current limit of a soft starter as a share of the locked-rotor current."),
    INERTIA = quantity_or("inertia", Dimension::Inertia, (0.0, 1e5), 0.0, "Moment of inertia of rotor and what it drives; 0: 0.004 kg m2 per kW and square of pole pairs (common practice, no source)."),
    RESTART = choice("restart", RESTART_WORDS, 0, "What it does when the supply comes back after a loss: stays off, comes back after its delay, or at its place in the sequence (only in remote control)."),
    RESTART_DELAY = quantity_or("restart-delay", Dimension::Time, (0.0, 600.0), 0.0, "Delay from the return of supply."),
    OVERLOAD_TAU = quantity_or("overload-tau", Dimension::Time, (1.0, 5000.0), 277.0, "Time constant of the thermal relay: class 10."),
    OVERLOAD_SETTING = quantity_or("overload-setting", Dimension::Current, (0.0, 20e3), 0.0, "Current to which the relay is set; 0: rated current."),
    SHED_STAGE = whole("shed-stage", (1, 3), 1, "Stage of preferential trip at which it is taken off."),
    SELECTOR = flag("has-selector", false, "Has a local/remote selector at the starter."),
    R1 = quantity_or("stator-resistance", Dimension::Resistance, (0.0, 1e3), 0.0, "Circuit constants, per phase; they replace what is worked out from ratings when the rotor resistance is given."),
    X1 = quantity_or("stator-reactance", Dimension::Resistance, (0.0, 1e3), 0.0, "See stator-resistance."),
    R2 = quantity_or("rotor-resistance", Dimension::Resistance, (0.0, 1e3), 0.0, "See stator-resistance."),
    X2 = quantity_or("rotor-reactance", Dimension::Resistance, (0.0, 1e3), 0.0, "See stator-resistance."),
    XM = quantity_or("magnetising-reactance", Dimension::Resistance, (0.0, 1e5), 0.0, "See stator-resistance; 0: none."),
});
declare!(LINKS: LinkDef {
    SHED_BY = watch("shed-by", false, "Stage of preferential trip that takes it off: `stage` of a preferential trip."),
    PERMITTED_BY = watch("permitted-by", false, "It starts only while this reading is above 0.5: `granted` of a heavy consumer's request."),
    CHOSEN_BY = watch("chosen-by", false, "It comes back by itself only while this reading is above 0.5: of a pair, the chosen one."),
});
declare!(STATE: StateDef {
    RUNNING = state_flag("running", false, "The contactor is closed; a start state that sets it starts at speed."),
    CONTROL = state_choice("control", LOCAL_REMOTE, 1, "Position of the selector."),
    TRIPPED = state_flag("overload-tripped", false, "The thermal relay has tripped."),
    SHED = state_flag("shed", false, "It was taken off by preferential trip and is not reset."),
    BY_HAND = inner("stopped-by-hand", 0.0, "It was last stopped by a hand or an order."),
    PENDING = inner("restart-pending", 0.0, "It ran when the supply was lost and wants to come back."),
    LOW_S = inner("low-voltage-time", 0.0, "How long the voltage has been below the drop-out limit."),
    BACK_S = inner("supply-back-time", 0.0, "How long the supply has been back."),
    THETA = inner("thermal", 0.0, "Square of the thermal current of the relay's replica."),
    AMPS = inner("current", 0.0, "Line current."),
    WATTS = inner("power", 0.0, "Electric power."),
    CONDUCTANCE = inner("conductance", 0.0, "Real part of its admittance in this sub-step, S."),
    TORQUE_PER_V2 = inner("torque-per-square-volt", 0.0, "Torque in this sub-step, Nm/V2."),
    AMPS_PER_V = inner("current-per-volt", 0.0, "Scaled line current in this sub-step, A/V."),
    SLOPE_PER_V2 = inner("slope-per-square-volt", 0.0, "Slope of the torque with speed, Nm s/V2, found once a tick."),
    START_S = inner("start-time", 0.0, "Time since the contactor closed."),
    RUN_UP = inner("run-up", 0.0, "1 when star-delta has gone to delta or the soft starter is bypassed."),
    C_R1 = inner("c-r1", 0.0, "Circuit, worked out once from ratings."),
    C_X1 = inner("c-x1", 0.0, "Circuit."),
    C_IRON = inner("c-iron", 0.0, "Circuit."),
    C_MAG = inner("c-magnetising", 0.0, "Circuit."),
    C_SERIES = inner("c-series", 0.0, "Circuit."),
    C_R2 = inner("c-r2-run", 0.0, "Circuit."),
    C_R2S = inner("c-r2-start", 0.0, "Circuit."),
    C_X2 = inner("c-x2", 0.0, "Circuit."),
    RELAY_A = inner("relay-setting", 1.0, "Setting of the thermal relay."),
});
declare!(ACTS: ActDef {
    START = act(Verb::Start, Reach::Remote, 2.0, "Close the contactor."),
    STOP = act(Verb::Stop, Reach::Remote, 1.0, "Open the contactor; a pending restart is forgotten."),
    RESET = act(Verb::Reset, Reach::Local, 5.0, "Put the thermal relay, or the starter after a preferential trip, back."),
    SET_CONTROL = set_choice("control", LOCAL_REMOTE, Reach::Local, 2.0, "Turn the selector at the starter."),
});
declare!(FAULTS: FaultDef {
    SEIZED = fault("seized", 1.0, "The shaft is stuck: it stops at once, draws its locked-rotor current and trips in seconds."),
    STIFF = fault("stiff", 1.0, "It turns hard, by up to 70 % of rated torque: current is high and the thermal relay trips in minutes."),
    RELAY = fault("overload-relay-trips", 1.0, "The thermal relay trips too early; at 100 % as soon as the motor runs."),
    DROPS = fault("contactor-drops", 1.0, "The contactor does not hold: it opens and a start does not last."),
    INSULATION = fault("insulation-low", 0.7, "Its winding is damp or chafed: 20 megohm to earth fall to 1 kilohm at 100 %, 17 kilohm at 70 %. The board's insulation is low while it runs."),
    SINGLE = fault("single-phasing", 1.0, "One fuse is gone: it cannot start, runs on with less torque and more current, and the relay trips."),
    WELDED = fault("contactor-welded", 1.0, "Its contacts are welded: it runs on when it is stopped or its relay trips."),
    NO_RESTART = fault("does-not-restart", 1.0, "Its restart relay is dead: it stays off when the supply comes back.").only_with(RESTART),
    BEARING = fault("bearing-worn", 0.5, "A bearing is worn: up to a fifth of rated torque is lost in it, current is higher, the bearing is hot."),
});
declare!(NEEDS: NeedDef {
    NEED_SUPPLY = need("supply", "Voltage at its supply, above the drop-out limit of its contactor."),
});
declare!(READINGS: ReadingDef {
    R_RUNNING = reading_words("running", NO_YES, Seen::Remote, "Is its contactor closed?"),
    R_CURRENT = reading("current", Dimension::Current, Seen::Remote, "Line current."),
    R_POWER = reading("power", Dimension::Power, Seen::Hidden, "Electric power."),
    R_PENDING = reading_words("restart-pending", NO_YES, Seen::Local, "Will it start when the supply is back?"),
    R_BY_HAND = reading_words("stopped-by-hand", NO_YES, Seen::Hidden, "Was it last stopped by a hand or an order?"),
    R_SPEED = reading("speed", Dimension::Speed, Seen::Local, "Speed of its shaft."),
    R_TRIPPED = reading_words("overload-tripped", NO_YES, Seen::Remote, "Has the thermal relay tripped?"),
    R_CONTROL = reading_words("control", LOCAL_REMOTE, Seen::Remote, "Position of the selector."),
    R_THERMAL = reading("thermal", Dimension::Ratio, Seen::Hidden, "State of the thermal replica; trips at 100 %."),
    R_SHED = reading_words("shed", NO_YES, Seen::Remote, "Was it taken off by preferential trip?"),
    R_RESTART = reading_words("restart", RESTART_WORDS, Seen::Local, "What it does when the supply comes back after a loss."),
});
declare!(FINDINGS: FindingDef {
    F_STARTED = finding("started", Dimension::None, "was started"),
    F_STOPPED = finding("stopped", Dimension::None, "was stopped"),
    F_LOST = finding("lost-supply", Dimension::Voltage, "dropped out: {measured} at its supply, needs {limit}"),
    F_SHED = finding("shed", Dimension::None, "taken off by preferential trip, stage {measured}"),
    F_RESTARTED = finding("restarted", Dimension::Time, "started again by itself {measured} after its supply came back"),
    F_TRIPPED = finding("tripped-overload", Dimension::Current, "was tripped by its thermal relay: {measured}, set to {limit}"),
    F_WELDED = finding("runs-on", Dimension::None, "was stopped and runs on"),
    F_DROPPED = finding("contactor-dropped", Dimension::None, "its contactor did not hold"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "motor",
    doc: "An induction motor with its starter: contactor, thermal relay, selector, restart after loss of supply.",
    physics: "Steady-state equivalent circuit at the present slip (no electrical transients), rotor resistance rising in a straight line with slip for the deep bars; torque from the power across the air gap. Thermal relay: first-order replica of the square of current. A coasting motor leaves no voltage behind.",
    source: "IEEE 112 equivalent circuit; Chapman, Electric Machinery Fundamentals, ch. 6; IEC 60255-149 (thermal); IEC 60034-12 and IEC 60947-4-1 (from memory)",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    joints: Joints { turns: &[SHAFT], brings_inertia: |_| true, ..Joints::NONE },
    hooks: Hooks {
        settle: Some(settle),
        control: Some(control),
        electric: Some(electric),
        motion: Some(motion),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

const CONTACTOR: Contactor = Contactor {
    supply: SUPPLY,
    control: CONTROL_SUPPLY,
    on: RUNNING,
    pending: PENDING,
    low_s: LOW_S,
    back_s: BACK_S,
    restart: RESTART,
    delay: RESTART_DELAY,
};
/// The replica trips at the square of this multiple of the setting (IEC 60255-149 form).
const TRIP_SQUARE: f64 = 1.05 * 1.05;
/// A tripped relay can be put back below this share of the trip level; common practice, no source.
const RESET_SHARE: f64 = 0.8;
/// Star-delta and soft starters hand over at this share of synchronous speed, or after [`RUN_UP_S`].
const RUN_UP_SHARE: f64 = 0.9;
const RUN_UP_S: f64 = 20.0;
/// Friction of bearings and windage while coasting, share of rated torque; common practice, no source.
const COASTING_FRICTION: f64 = 0.02;
/// A soft starter that has not come up after this time lets the current rise, to full voltage in as long again.
const SOFT_HOLD_S: f64 = 10.0;

fn settle(ctx: &mut Ctx<'_>) {
    let node = ctx.node(SUPPLY);
    let volts = ctx.nets.ac.nominal_v[node];
    let shaft_w = ctx.p(RATED);
    let input_w = if ctx.p(INPUT) > 0.0 { ctx.p(INPUT) } else { shaft_w / usual_efficiency(shaft_w) };
    let efficiency = (shaft_w / input_w).clamp(0.3, 0.985);
    let slip = if ctx.p(SLIP) > 0.0 { ctx.p(SLIP) } else { 0.27 * (1.0 - efficiency) };
    let locked_va = if ctx.p(LOCKED) > 0.0 { ctx.p(LOCKED) } else { shaft_w * design_n_locked(shaft_w) };
    let ratings = Ratings {
        voltage_v: volts,
        shaft_w,
        input_w: shaft_w / efficiency,
        power_factor: ctx.p(POWER_FACTOR),
        slip,
        locked_va,
        locked_power_factor: ctx.p(LOCKED_PF),
    };
    let circuit = explicit(ctx).unwrap_or_else(|| Circuit::from_ratings(&ratings));
    store(ctx, &circuit);
    let rated_a = shaft_w / efficiency / (ctx.p(POWER_FACTOR) * volts * ROOT_3);
    ctx.set(RELAY_A, if ctx.p(OVERLOAD_SETTING) > 0.0 { ctx.p(OVERLOAD_SETTING) } else { rated_a });
    let pairs = ctx.p(POLES) / 2.0;
    let own_inertia = 0.004 * shaft_w / 1e3 * pairs * pairs;
    let shaft = ctx.node(SHAFT);
    ctx.nets.shaft.inertia_kg_m2[shaft] += if ctx.p(INERTIA) > 0.0 { ctx.p(INERTIA) } else { own_inertia };
    if ctx.is(RUNNING) {
        ctx.set(RUN_UP, 1.0);
        ctx.set(BACK_S, 1e6);
        ctx.nets.shaft.speed_rad_s[shaft] = nominal_synchronous_rad_s(ctx) * (1.0 - slip);
    }
}

fn explicit(ctx: &Ctx<'_>) -> Option<Circuit> {
    (ctx.p(R2) > 0.0).then(|| Circuit {
        r1_ohm: ctx.p(R1),
        x1_ohm: ctx.p(X1),
        iron_s: 0.0,
        magnetising_s: if ctx.p(XM) > 0.0 { 1.0 / ctx.p(XM) } else { 0.0 },
        series_ohm: 0.0,
        r2_run_ohm: ctx.p(R2),
        r2_start_ohm: ctx.p(R2),
        x2_ohm: ctx.p(X2),
    })
}

fn store(ctx: &mut Ctx<'_>, c: &Circuit) {
    let values = [
        (C_R1, c.r1_ohm),
        (C_X1, c.x1_ohm),
        (C_IRON, c.iron_s),
        (C_MAG, c.magnetising_s),
        (C_SERIES, c.series_ohm),
        (C_R2, c.r2_run_ohm),
        (C_R2S, c.r2_start_ohm),
        (C_X2, c.x2_ohm),
    ];
    for (slot, value) in values {
        ctx.set(slot, value);
    }
}

fn stored(ctx: &Ctx<'_>) -> Circuit {
    Circuit {
        r1_ohm: ctx.s(C_R1),
        x1_ohm: ctx.s(C_X1),
        iron_s: ctx.s(C_IRON),
        magnetising_s: ctx.s(C_MAG),
        series_ohm: ctx.s(C_SERIES),
        r2_run_ohm: ctx.s(C_R2),
        r2_start_ohm: ctx.s(C_R2S),
        x2_ohm: ctx.s(C_X2),
    }
}

fn nominal_synchronous_rad_s(ctx: &Ctx<'_>) -> f64 {
    2.0 * std::f64::consts::TAU * ctx.nets.ac.nominal_hz[ctx.node(SUPPLY)] / ctx.p(POLES)
}

fn control(ctx: &mut Ctx<'_>) {
    ctx.draw_dc(CONTROL_SUPPLY, 0.1);
    let was_running = ctx.is(RUNNING);
    let sequence_ready = ctx.p(RESTART) as usize != IN_SEQUENCE || ctx.s(CONTROL) > 0.5;
    let may_restart = !ctx.is(TRIPPED) && ctx.fault(DROPS).max(ctx.fault(NO_RESTART)) < 0.5 && sequence_ready;
    let back_s = ctx.s(BACK_S);
    if was_running {
        let (node, own_s) = (ctx.node(SUPPLY), leak_s(ctx.fault(INSULATION)));
        ctx.nets.ac.add_leak(node, own_s);
    }
    shed(ctx);
    match CONTACTOR.watch(ctx, may_restart) {
        Change::Dropped => {
            let nominal_v = ctx.nets.ac.nominal_v[ctx.node(SUPPLY)];
            let (measured, since_s) = (ctx.voltage_share(SUPPLY) * nominal_v, ctx.s(LOW_S));
            ctx.find(F_LOST, measured, DROP_OUT_SHARE * nominal_v, since_s);
        }
        Change::Restarted => ctx.find(F_RESTARTED, back_s, ctx.p(RESTART_DELAY), back_s),
        Change::None => {}
    }
    if ctx.is(RUNNING) && ctx.fault(DROPS) >= 0.5 {
        ctx.set_is(RUNNING, false);
        ctx.find(F_DROPPED, 0.0, 0.0, 0.0);
    }
    heat_relay(ctx);
    watch_overload(ctx);
    let running = ctx.is(RUNNING);
    let start_s = ctx.time_while(START_S, running && was_running);
    if !running {
        ctx.set(RUN_UP, 0.0);
    } else if ctx.p(START_MODE) > 0.5 {
        let fast = ctx.speed_rad_s(SHAFT) >= RUN_UP_SHARE * nominal_synchronous_rad_s(ctx);
        if fast || start_s >= RUN_UP_S {
            ctx.set(RUN_UP, 1.0);
        }
    }
    let fed = ctx.tick < FIRST_VOLTAGE_TICK || ctx.voltage_share(SUPPLY) >= DROP_OUT_SHARE;
    ctx.need_while(NEED_SUPPLY, was_running || ctx.is(PENDING), fed);
    find_slope(ctx);
}

/// The thermal replica, on the current of the last tick.
fn heat_relay(ctx: &mut Ctx<'_>) {
    let share = ctx.s(AMPS) / ctx.s(RELAY_A).max(1e-3);
    let part = lag(ctx.dt_s, ctx.p(OVERLOAD_TAU));
    ctx.set(THETA, ctx.s(THETA) + (share * share - ctx.s(THETA)) * part);
}

/// The slope by which the shaft is stepped semi-implicitly: it changes little within a tick.
fn find_slope(ctx: &mut Ctx<'_>) {
    if !ctx.is(RUNNING) {
        return;
    }
    let (circuit, speed) = (stored(ctx), ctx.speed_rad_s(SHAFT));
    let step_rad_s = 1e-3 * nominal_synchronous_rad_s(ctx);
    let here = machine(ctx, &circuit, speed).1;
    let ahead = machine(ctx, &circuit, speed + step_rad_s).1;
    ctx.set(SLOPE_PER_V2, ((ahead - here) / step_rad_s).min(0.0));
}

/// Preferential trip, and a pair's unit that is not the chosen one: it does not come back by itself.
fn shed(ctx: &mut Ctx<'_>) {
    let wants_on = ctx.is(RUNNING) || ctx.is(PENDING);
    if !ctx.is(SHED) && is_shed(ctx, SHED_BY, SHED_STAGE) && wants_on {
        ctx.set_is(RUNNING, false);
        ctx.set_is(PENDING, false);
        ctx.set_is(SHED, true);
        ctx.find(F_SHED, ctx.p(SHED_STAGE), 0.0, 0.0);
    }
    if ctx.has_link(CHOSEN_BY) && ctx.watched(CHOSEN_BY) < 0.5 {
        ctx.set_is(PENDING, false);
    }
}

fn watch_overload(ctx: &mut Ctx<'_>) {
    if ctx.is(RUNNING) && ctx.is(TRIPPED) && ctx.fault(WELDED) < 0.5 {
        // Its contacts were welded when the relay tripped and have come free.
        ctx.set_is(RUNNING, false);
    }
    let limit = TRIP_SQUARE * (1.0 - ctx.fault(RELAY));
    if ctx.is(RUNNING) && ctx.s(THETA) >= limit && !ctx.is(TRIPPED) {
        ctx.set_is(RUNNING, ctx.fault(WELDED) >= 0.5);
        ctx.set_is(TRIPPED, true);
        ctx.set_is(PENDING, false);
        ctx.find(F_TRIPPED, ctx.s(AMPS), ctx.s(RELAY_A), ctx.s(START_S));
    }
}

/// How the starter lowers current (first) and torque (second) now.
fn starter(ctx: &Ctx<'_>, circuit: &Circuit, point: &Point) -> (f64, f64) {
    if ctx.is(RUN_UP) {
        return (1.0, 1.0);
    }
    match ctx.p(START_MODE) as usize {
        STAR_DELTA => (1.0 / 3.0, 1.0 / 3.0),
        SOFT => {
            let patience = ((ctx.s(START_S) - SOFT_HOLD_S) / SOFT_HOLD_S).clamp(0.0, 1.0);
            let limit = ctx.p(SOFT_LIMIT) + (1.0 - ctx.p(SOFT_LIMIT)) * patience;
            let locked = circuit.at(1.0, 1.0, 1.0).admittance.abs();
            let share = (limit * locked / point.admittance.abs().max(1e-9)).min(1.0);
            (share, share * share)
        }
        _ => (1.0, 1.0),
    }
}

/// The motor at a shaft speed: admittance, torque per square volt, line current per volt (scaled).
fn machine(ctx: &Ctx<'_>, circuit: &Circuit, speed_rad_s: f64) -> (Complex, f64, f64) {
    let node = ctx.node(SUPPLY);
    let hz = ctx.nets.ac.frequency_hz[node];
    let k = if hz > 0.0 { (hz / ctx.nets.ac.nominal_hz[node]).max(0.05) } else { 1.0 };
    let synchronous = nominal_synchronous_rad_s(ctx) * k;
    let slip = 1.0 - speed_rad_s / synchronous;
    let forward = circuit.at(slip, k, synchronous);
    let (current, torque) = starter(ctx, circuit, &forward);
    if ctx.fault(SINGLE) < 0.5 {
        let y = forward.admittance.scale(current);
        return (y, forward.torque_per_v2 * torque, y.abs());
    }
    // Two lines only: the sequence circuits stand in series (symmetrical components).
    let backward = circuit.at(2.0 - slip, k, synchronous);
    let (z1, z2) = (forward.admittance.inverse(), backward.admittance.inverse());
    let y = (z1 + z2).inverse();
    let (u1, u2) = (z1.abs() * y.abs(), z2.abs() * y.abs());
    let net = forward.torque_per_v2 * u1 * u1 - backward.torque_per_v2 * u2 * u2;
    (y.scale(current), net * torque, y.abs() * current * ROOT_3)
}

fn electric(ctx: &mut Ctx<'_>) {
    if ctx.is(RUNNING) {
        let node = ctx.node(SUPPLY);
        let (y, torque, per_volt) = machine(ctx, &stored(ctx), ctx.speed_rad_s(SHAFT));
        ctx.nets.ac.add_admittance(node, y);
        ctx.set(CONDUCTANCE, y.re);
        ctx.set(TORQUE_PER_V2, torque);
        ctx.set(AMPS_PER_V, per_volt);
    }
}

fn motion(ctx: &mut Ctx<'_>) {
    let (node, shaft) = (ctx.node(SUPPLY), ctx.node(SHAFT));
    if !ctx.is(RUNNING) && ctx.s(AMPS) == 0.0 && ctx.nets.shaft.speed_rad_s[shaft] == 0.0 {
        // It stands: nothing to work out.
        return;
    }
    let rated_torque = ctx.p(RATED) / nominal_synchronous_rad_s(ctx);
    // Running, bearings are part of the machine's losses; coasting, they are what brings it to rest.
    let bearings = if ctx.is(RUNNING) { 0.0 } else { COASTING_FRICTION };
    let faults = 20.0 * ctx.fault(SEIZED) + 0.7 * ctx.fault(STIFF) + 0.2 * ctx.fault(BEARING);
    ctx.nets.shaft.friction_nm[shaft] += rated_torque * (bearings + faults);
    let (mut amps, mut watts) = (0.0, 0.0);
    if ctx.is(RUNNING) {
        let volts = ctx.nets.ac.voltage[node].abs();
        let square = volts * volts;
        ctx.nets.shaft.torque_nm[shaft] += ctx.s(TORQUE_PER_V2) * square;
        ctx.nets.shaft.slope_nm_s[shaft] += ctx.s(SLOPE_PER_V2) * square;
        amps = ctx.s(AMPS_PER_V) * volts / ROOT_3;
        watts = ctx.s(CONDUCTANCE) * square;
    }
    ctx.set(AMPS, amps);
    ctx.set(WATTS, watts);
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_RUNNING, ctx.s(RUNNING));
    ctx.read_out(R_CURRENT, ctx.s(AMPS));
    ctx.read_out(R_POWER, ctx.s(WATTS));
    ctx.read_out(R_SPEED, ctx.speed_rad_s(SHAFT));
    ctx.read_out(R_TRIPPED, ctx.s(TRIPPED));
    ctx.read_out(R_CONTROL, ctx.s(CONTROL));
    ctx.read_out(R_PENDING, ctx.s(PENDING));
    ctx.read_out(R_THERMAL, ctx.s(THETA) / TRIP_SQUARE);
    ctx.read_out(R_BY_HAND, ctx.s(BY_HAND));
    ctx.read_out(R_SHED, ctx.s(SHED));
    ctx.read_out(R_RESTART, ctx.p(RESTART));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    match act.index {
        START => {
            block_when_local(view, act, blocks);
            if view.is(RUNNING) {
                blocks.push(Block { code: "already-running", text: "it is running".into() });
            } else {
                CONTACTOR.block(view, blocks);
            }
            if view.is(TRIPPED) {
                let text = "its thermal relay has tripped and is not reset".into();
                blocks.push(Block { code: "overload-tripped", text });
            }
            block_start(view, SHED, PERMITTED_BY, blocks);
        }
        STOP => {
            block_when_local(view, act, blocks);
            if !view.is(RUNNING) && !view.is(PENDING) {
                blocks.push(Block { code: "already-stopped", text: "it is stopped".into() });
            }
        }
        RESET => {
            let share = view.s(THETA) / TRIP_SQUARE;
            if view.is(SHED) && !view.is(TRIPPED) {
                return;
            }
            if !view.is(TRIPPED) {
                blocks.push(Block { code: "not-tripped", text: "its thermal relay has not tripped".into() });
            } else if share > RESET_SHARE {
                // The replica falls as exp(-t/tau) while no current flows.
                let wait_s = view.p(OVERLOAD_TAU) * libm::log(share / RESET_SHARE);
                let text = format!("its thermal relay is still too hot; it can be reset in {wait_s:.0} s");
                blocks.push(Block { code: "relay-hot", text });
            }
        }
        _ if !view.p_is(SELECTOR) => {
            blocks.push(Block { code: "no-selector", text: "its starter has no selector".into() });
        }
        _ => {}
    }
}

fn block_when_local(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.remote && view.s(CONTROL) < 0.5 {
        let text = "its selector stands on local: only from the starter itself".into();
        blocks.push(Block { code: "in-local", text });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        START => {
            ctx.set_is(RUNNING, true);
            ctx.set_is(PENDING, false);
            ctx.set_is(BY_HAND, false);
            ctx.find(F_STARTED, 0.0, 0.0, 0.0);
        }
        STOP if ctx.is(RUNNING) && ctx.fault(WELDED) >= 0.5 => ctx.find(F_WELDED, 0.0, 0.0, 0.0),
        STOP => {
            ctx.set_is(RUNNING, false);
            ctx.set_is(PENDING, false);
            ctx.set_is(BY_HAND, true);
            ctx.find(F_STOPPED, 0.0, 0.0, 0.0);
        }
        RESET => {
            ctx.set_is(TRIPPED, false);
            ctx.set_is(SHED, false);
        }
        _ => ctx.set(CONTROL, act.value),
    }
}

#[cfg(test)]
mod tests;
