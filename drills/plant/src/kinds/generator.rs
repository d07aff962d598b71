//! A synchronous generator with its excitation and voltage regulator.
//!
//! The declaration is in this file, with what is read and done; `machine` is what turns, `excitation` its field.

mod excitation;
mod machine;

use super::declare::*;
use super::electric::{block_without_control, leak_s};
use crate::SUBSTEP_S;
use crate::ctx::{Ctx, View};
use crate::fluid::lag;
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, Joints, KindDef, Net, Nominal, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;
use std::f64::consts::{PI, TAU};

const OFF_ON: &[&str] = &["off", "on"];

declare!(PORTS: PortDef {
    SHAFT = port("shaft", Net::Shaft, 0, "Shaft that drives it."),
    TERMINALS = port("terminals", Net::Ac, 0, "Its terminals, before its breaker."),
    CONTROL_SUPPLY = free_port("control", Net::Dc, 0, "Control supply for switching excitation; free: always there."),
    SPACE = free_port("space", Net::Space, 0, "Room that takes its losses."),
});
declare!(PARAMS: ParamDef {
    RATED = quantity("rated-power", Dimension::Power, 100.0, 50e6, "Rated active power."),
    RATED_PF = quantity_or("power-factor", Dimension::Ratio, (0.5, 1.0), 0.8, "Rated power factor."),
    POLES = whole("poles", (2, 40), 8, "Number of poles: rated speed is 120 f / poles rpm."),
    XD = quantity_or("xd", Dimension::Ratio, (0.3, 5.0), 2.1, "Synchronous reactance, per unit of rated kVA."),
    XD1 = quantity_or("xd1", Dimension::Ratio, (0.05, 0.6), 0.22, "Transient reactance."),
    XD2 = quantity_or("xd2", Dimension::Ratio, (0.0, 0.6), 0.0, "Sub-transient reactance; 0: that of the transient, without a sub-transient."),
    TD02 = quantity_or("td02", Dimension::Time, (0.005, 0.5), 0.03, "Open-circuit time constant of the sub-transient."),
    TD0 = quantity_or("td0", Dimension::Time, (0.2, 15.0), 2.2, "Open-circuit field time constant."),
    RA = quantity_or("armature-resistance", Dimension::Ratio, (1e-4, 0.1), 0.015, "Armature resistance, per unit."),
    EFFICIENCY = quantity_or("efficiency", Dimension::Ratio, (0.5, 1.0), 0.945, "At rated power."),
    DAMPING = quantity_or("damping", Dimension::None, (0.0, 100.0), 10.0, "Torque of the damper winding, per unit of torque and of slip; common practice, no source."),
    INERTIA = quantity_or("inertia", Dimension::Inertia, (0.0, 1e6), 0.0, "Moment of inertia that it brings to its shaft."),
    INERTIA_H = quantity_or("inertia-constant", Dimension::Time, (0.0, 20.0), 0.0, "The same as stored energy over rated kVA; both add up."),
    RESIDUAL = quantity_or("residual-voltage", Dimension::Ratio, (0.0, 0.2), 0.03, "Voltage at rated speed without excitation."),
    BUILD_UP = quantity_or("build-up-time", Dimension::Time, (0.1, 30.0), 2.0, "Time in which the set point is raised after excitation has come on."),
    KP = quantity_or("avr-kp", Dimension::None, (0.0, 500.0), 20.0, "Gain of the voltage regulator, per unit of no-load field per unit of voltage."),
    KI = quantity_or("avr-ki", Dimension::None, (0.0, 500.0), 25.0, "Its integral gain, 1/s."),
    EXCITER_LAG = quantity_or("exciter-lag", Dimension::Time, (0.005, 2.0), 0.06, "Lag of the exciter."),
    CEILING = quantity_or("ceiling", Dimension::None, (1.0, 15.0), 6.5, "Largest field, per unit of no-load field."),
    DROOP = quantity_or("voltage-droop", Dimension::Ratio, (0.0, 0.2), 0.03, "Fall of voltage at rated reactive power."),
    KNEE = quantity_or("frequency-knee", Dimension::Ratio, (0.5, 1.0), 0.95, "Below this share of nominal frequency voltage follows frequency."),
    RANGE = quantity_or("set-range", Dimension::Ratio, (0.0, 0.2), 0.05, "How far the set point can be moved either way."),
    AUTOMATIC = flag("automatic-excitation", false, "Excitation comes on by itself when the speed rises through 95 %."),
    OVER_V = quantity_or("over-voltage", Dimension::Ratio, (1.05, 2.0), 1.25, "Over-voltage that switches excitation off."),
    OVER_S = quantity_or("over-voltage-delay", Dimension::Time, (0.0, 30.0), 1.0, "Its delay."),
});
declare!(STATE: StateDef {
    EXCITED = state_flag("excited", false, "Excitation is on; a start state that sets it starts at rated voltage."),
    SET_POINT = state("voltage-set-point", Dimension::Ratio, (0.8, 1.2), 1.0, "Set point of the voltage regulator, share of nominal."),
    FLUX = state("flux", Dimension::None, (0.0, 3.0), 0.0, "Transient e.m.f. at rated speed, per unit."),
    FIELD = state("field", Dimension::None, (0.0, 15.0), 0.0, "Field, per unit of no-load field."),
    INTEGRAL = state("avr-integral", Dimension::None, (0.0, 15.0), 0.0, "Integral part of the voltage regulator."),
    ANGLE = state("angle", Dimension::Angle, (-PI, PI), 0.0, "Angle of the rotor in a frame that turns at nominal frequency."),
    COS = inner("cosine", 1.0, "Its cosine, found once a sub-step."),
    SIN = inner("sine", 0.0, "Its sine."),
    SUB_RE = inner("sub-transient-q", 0.0, "E.m.f. that the damper winding still holds back, quadrature axis, per unit."),
    SUB_IM = inner("sub-transient-d", 0.0, "The same, direct axis."),
    PEAK_A = inner("peak-current", 0.0, "Highest line current of the tick."),
    PEAK_NM = inner("peak-torque", 0.0, "Highest torque of the tick, either way, over rated torque."),
    SHOCK_S = inner("shock-time", 1e3, "Time since a shock was last told."),
    FAULT_A = inner("fault-current", 0.0, "Line current into a fault in its winding."),
    RAMP = inner("ramp", 0.0, "Share of the set point that the regulator aims at while voltage builds up."),
    TRIPPED = state_flag("over-voltage-tripped", false, "Excitation was tripped by over-voltage."),
    OVER_TIME = inner("over-voltage-time", 0.0, "How long the voltage has been too high."),
    WAS_FAST = inner("was-fast", 0.0, "Speed has been through 95 % since it was last below 90 %."),
    P_W = inner("power", 0.0, "Active power at its terminals."),
    Q_VAR = inner("reactive", 0.0, "Reactive power at its terminals."),
    AMPS = inner("current", 0.0, "Line current."),
});
declare!(ACTS: ActDef {
    SET_EXCITATION = set_choice("excitation", OFF_ON, Reach::Remote, 2.0, "Switch excitation on or off."),
    SET_VOLTAGE = set_quantity("voltage", Dimension::Voltage, (50.0, 15e3), Reach::Remote, 4.0, "Move the set point of the voltage regulator."),
    RESET = act(Verb::Reset, Reach::Local, 5.0, "Put back the over-voltage trip."),
});
declare!(FAULTS: FaultDef {
    AVR_HIGH = fault("avr-fails-high", 1.0, "The regulator drives the field up, at 100 % to its ceiling: voltage and kvar rise until over-voltage trips excitation."),
    AVR_LOW = fault("avr-fails-low", 1.0, "The regulator lets the field fall, at 100 % to nothing: voltage falls, or kvar flow in from other sets."),
    FIELD_LOST = fault("field-lost", 1.0, "The field circuit is open: no field whatever the regulator does."),
    RESIDUAL_LOST = fault("residual-lost", 1.0, "The iron has lost its residual field: voltage does not build up."),
    WINDING = fault("winding-fault", 0.5, "Turns of its winding have a short circuit, at 100 % one third of rated impedance: differential protection trips it, without that the other sets feed the fault."),
    INSULATION = fault("insulation-low", 0.7, "Its winding is damp or chafed: 20 megohm to earth fall to 1 kilohm at 100 %, 17 kilohm at 70 %. The insulation of its board shows it."),
    BEARING = fault("worn-bearing", 0.5, "A bearing runs hard: up to 5 % of rated torque is lost in it."),
    DIODE = fault("diode-open", 0.6, "A rotating diode is open: up to half of the field is lost, its regulator works at a higher field; voltage dips more and falls at high load."),
    SET_DRIFTS = fault("voltage-set-drifts", 0.5, "The voltage setting drifts up by up to a tenth: voltage is high, alone; in parallel it takes kvar."),
    NO_DROOP = fault("voltage-droop-lost", 1.0, "The droop circuit is open: alone nothing shows, in parallel kvar are not shared."),
});
declare!(READINGS: ReadingDef {
    R_VOLTAGE = reading("voltage", Dimension::Voltage, Seen::Remote, "Voltage at its terminals."),
    R_FREQUENCY = reading("frequency", Dimension::Frequency, Seen::Remote, "Frequency by its own speed."),
    R_CURRENT = reading("current", Dimension::Current, Seen::Remote, "Line current."),
    R_POWER = reading("power", Dimension::Power, Seen::Remote, "Active power."),
    R_REACTIVE = reading("reactive-power", Dimension::ReactivePower, Seen::Remote, "Reactive power."),
    R_PF = reading("power-factor", Dimension::Ratio, Seen::Remote, "Power factor; 100 % without load."),
    R_EXCITED = reading_words("excited", NO_YES, Seen::Remote, "Is excitation on?"),
    R_FIELD = reading("field", Dimension::None, Seen::Local, "Field, per unit of no-load field."),
    R_SHARE = reading("load-share", Dimension::Ratio, Seen::Remote, "Active power over rated power."),
    R_TRIPPED = reading_words("over-voltage-tripped", NO_YES, Seen::Remote, "Has over-voltage tripped excitation?").latched(),
    R_SET = reading("voltage-set-point", Dimension::Voltage, Seen::Remote, "Set point of the voltage regulator."),
    R_PEAK_A = reading("peak-current", Dimension::Current, Seen::Hidden, "Highest line current of the last tick."),
    R_PEAK_NM = reading("peak-torque", Dimension::Ratio, Seen::Hidden, "Highest torque of the last tick, either way, over rated torque."),
    R_DIFFERENTIAL = reading("differential-current", Dimension::Current, Seen::Hidden, "Current that goes into its winding on one side and does not come out on the other."),
    R_LOSS = reading("loss", Dimension::Power, Seen::Hidden, "Losses, as heat into its room."),
});
declare!(FINDINGS: FindingDef {
    F_EXCITED = finding("excited", Dimension::Speed, "excitation came on at {measured}"),
    F_DROPPED = finding("excitation-dropped", Dimension::Speed, "excitation fell off at {measured}, holds down to {limit}"),
    F_SHOCK = finding("shock", Dimension::Ratio, "its shaft took a shock of {measured} of rated torque"),
    F_OVER = finding("tripped-over-voltage", Dimension::Voltage, "excitation was tripped by over-voltage: {measured}, limit {limit}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "generator",
    doc: "A synchronous generator with its excitation and voltage regulator.",
    physics: "Flux decay (third order) with Xq = X'd: an e.m.f. behind Ra + jX'd whose size follows the field with T'd0, and whose angle is the integral of shaft speed; with a sub-transient reactance a damper winding answers first, alike in both axes. Iron saturates above 1.2 per unit. Regulator: proportional and integral with ceiling, reactive droop and volts-per-hertz knee; the exciter is fed from the terminals with compounding by current. Losses: armature, stray with the square of current, the rest in proportion to speed.",
    source: "Kundur, Power System Stability and Control, ch. 3 and 13 (from memory); Sheldrake, Handbook of Electrical Engineering, app. G; saturation and compounding: common practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    joints: Joints {
        sources: &[TERMINALS],
        brings_inertia: |params| params[INERTIA] > 0.0 || params[INERTIA_H] > 0.0,
        ..Joints::NONE
    },
    follows,
    hooks: Hooks {
        settle: Some(settle),
        control: Some(control),
        electric: Some(machine::electric),
        motion: Some(machine::motion),
        heat: Some(heat),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// A torque beyond this share of rated is told as a shock, once in [`SHOCK_QUIET_S`]; common practice, no source.
const SHOCK_SHARE: f64 = 2.5;
const SHOCK_QUIET_S: f64 = 5.0;

/// Ratings that follow from parameters.
struct Base {
    va: f64,
    volts: f64,
    hz: f64,
    pole_pairs: f64,
    speed_rad_s: f64,
    ohm: f64,
}

/// What follows from the parameters: what [`Base`] has, and after it rated current (scaled), A; rated torque, Nm; losses of
/// each sort, W; shares of their way that flux, field and damper winding go in a sub-step.
const BASE: usize = PARAMS.len();
const BASE_A: usize = BASE + 6;
const RATED_NM: usize = BASE + 7;
const HALF_LOSS_W: usize = BASE + 8;
const FLUX_PART: usize = BASE + 9;
const FIELD_PART: usize = BASE + 10;
const DAMPER_PART: usize = BASE + 11;

fn follows(params: &[f64], nominal: Nominal<'_>) -> Vec<f64> {
    let (volts, hz) = nominal(TERMINALS);
    let va = params[RATED] / params[RATED_PF];
    let pole_pairs = params[POLES] / 2.0;
    let speed_rad_s = TAU * hz / pole_pairs;
    let part = |tau: usize| lag(SUBSTEP_S, params[tau]);
    vec![
        va,
        volts,
        hz,
        pole_pairs,
        speed_rad_s,
        volts * volts / va,
        va / volts,
        params[RATED] / speed_rad_s,
        machine::half_loss_w(params, va),
        part(TD0),
        part(EXCITER_LAG),
        part(TD02),
    ]
}

fn base(p: impl Fn(usize) -> f64) -> Base {
    Base {
        va: p(BASE),
        volts: p(BASE + 1),
        hz: p(BASE + 2),
        pole_pairs: p(BASE + 3),
        speed_rad_s: p(BASE + 4),
        ohm: p(BASE + 5),
    }
}

fn own_base(ctx: &Ctx<'_>) -> Base {
    base(|i| ctx.p(i))
}

fn settle(ctx: &mut Ctx<'_>) {
    let b = own_base(ctx);
    let shaft = ctx.node(SHAFT);
    let stored_kg_m2 = 2.0 * ctx.p(INERTIA_H) * b.va / (b.speed_rad_s * b.speed_rad_s);
    ctx.nets.shaft.inertia_kg_m2[shaft] += ctx.p(INERTIA) + stored_kg_m2;
    if ctx.is(EXCITED) {
        for slot in [FLUX, FIELD, INTEGRAL] {
            if ctx.s(slot) <= 0.0 {
                ctx.set(slot, 1.0);
            }
        }
        ctx.set(RAMP, 1.0);
        ctx.set(WAS_FAST, 1.0);
    } else if ctx.s(FLUX) <= 0.0 {
        ctx.set(FLUX, ctx.p(RESIDUAL));
    }
}

fn control(ctx: &mut Ctx<'_>) {
    tell_shock(ctx);
    let (node, leak_s) = (ctx.node(TERMINALS), leak_s(ctx.fault(INSULATION)));
    ctx.nets.ac.add_leak(node, leak_s);
    excitation::watch(ctx);
}

fn tell_shock(ctx: &mut Ctx<'_>) {
    let (shock, quiet_s) = (ctx.s(PEAK_NM), ctx.s(SHOCK_S) + ctx.dt_s);
    let told = shock > SHOCK_SHARE && quiet_s > SHOCK_QUIET_S;
    ctx.set(SHOCK_S, if told { 0.0 } else { quiet_s.min(1e3) });
    if told {
        ctx.find(F_SHOCK, shock, SHOCK_SHARE, 0.0);
    }
    ctx.set(PEAK_A, 0.0);
    ctx.set(PEAK_NM, 0.0);
}

fn heat(ctx: &mut Ctx<'_>) {
    let loss_w = machine::loss_w(ctx);
    ctx.heat_space_w(SPACE, loss_w);
}

fn publish(ctx: &mut Ctx<'_>) {
    let b = own_base(ctx);
    let (p_w, q_var) = (ctx.s(P_W), ctx.s(Q_VAR));
    let apparent_va = f64::sqrt(p_w * p_w + q_var * q_var);
    let loaded = apparent_va > 0.005 * b.va;
    let loss_w = machine::loss_w(ctx);
    ctx.read_out(R_VOLTAGE, ctx.nets.ac.volts[ctx.node(TERMINALS)]);
    ctx.read_out(R_FREQUENCY, ctx.speed_rad_s(SHAFT) * b.pole_pairs / TAU);
    ctx.read_out(R_CURRENT, ctx.s(AMPS));
    ctx.read_out(R_POWER, p_w);
    ctx.read_out(R_REACTIVE, q_var);
    ctx.read_out(R_PF, if loaded { p_w.abs() / apparent_va } else { 1.0 });
    ctx.read_out(R_EXCITED, ctx.s(EXCITED));
    ctx.read_out(R_FIELD, ctx.s(FIELD));
    ctx.read_out(R_SHARE, p_w / ctx.p(RATED));
    ctx.read_out(R_TRIPPED, ctx.s(TRIPPED));
    ctx.read_out(R_SET, ctx.s(SET_POINT) * b.volts);
    ctx.read_out(R_PEAK_A, ctx.s(PEAK_A));
    ctx.read_out(R_PEAK_NM, ctx.s(PEAK_NM));
    ctx.read_out(R_DIFFERENTIAL, ctx.s(FAULT_A));
    ctx.read_out(R_LOSS, loss_w);
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    let b = base(|i| view.p(i));
    match act.index {
        SET_EXCITATION => {
            block_without_control(view, CONTROL_SUPPLY, blocks);
            if act.value > 0.5 {
                excitation::permit_excitation(view, &b, blocks);
            }
        }
        SET_VOLTAGE => {
            let (low, high) = (b.volts * (1.0 - view.p(RANGE)), b.volts * (1.0 + view.p(RANGE)));
            if act.value < low - 0.5 || act.value > high + 0.5 {
                let text = format!("{:.0} V is outside of {low:.0} to {high:.0} V", act.value);
                blocks.push(Block { code: "out-of-range", text });
            }
        }
        _ if !view.is(TRIPPED) => {
            blocks.push(Block { code: "not-tripped", text: "its excitation has not tripped".into() });
        }
        _ => {}
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        SET_EXCITATION => ctx.set_is(EXCITED, act.value > 0.5),
        SET_VOLTAGE => {
            let nominal_v = ctx.nets.ac.nominal_v[ctx.node(TERMINALS)];
            ctx.set(SET_POINT, act.value / nominal_v.max(1.0));
        }
        _ => ctx.set_is(TRIPPED, false),
    }
}

#[cfg(test)]
mod tests;
