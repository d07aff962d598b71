//! A synchronous generator with its excitation and voltage regulator.

use super::declare::*;
use super::electric::{ROOT_3, block_without_control, leak_s};
use crate::ctx::{Ctx, View};
use crate::fluid::lag;
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, Joints, KindDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef, Verb,
};
use crate::nets::ac::Complex;
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
    R_TRIPPED = reading_words("over-voltage-tripped", NO_YES, Seen::Remote, "Has over-voltage tripped excitation?"),
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
    hooks: Hooks {
        settle: Some(settle),
        control: Some(control),
        electric: Some(electric),
        motion: Some(motion),
        heat: Some(heat),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Excitation can be switched on from this share of rated speed.
const EXCITE_SHARE: f64 = 0.95;
/// Excitation falls off below this share of rated speed; common practice, no source.
const DROP_SHARE: f64 = 0.50;
/// The exciter has its full ceiling from this share of supply; below in proportion.
const FULL_SUPPLY: f64 = 0.3;
/// Part of the exciter's supply that comes from current (compounding): sustains a short circuit.
const COMPOUNDING: f64 = 0.25;
/// Below this supply the regulator does not wake; common practice, no source.
const WAKE_SHARE: f64 = 0.015;
/// Saturation: field needed beyond the air-gap line is `SATURATION (flux - SATURATION_FROM)^2`.
const SATURATION_FROM: f64 = 1.2;
const SATURATION: f64 = 60.0;
/// A torque beyond this share of rated is told as a shock, once in [`SHOCK_QUIET_S`]; common practice, no source.
const SHOCK_SHARE: f64 = 2.5;
const SHOCK_QUIET_S: f64 = 5.0;
/// Part of rated impedance that a whole winding fault has.
const WINDING_FAULT: f64 = 1.0 / 3.0;

/// Ratings that follow from parameters.
struct Base {
    va: f64,
    volts: f64,
    hz: f64,
    pole_pairs: f64,
    speed_rad_s: f64,
    ohm: f64,
}

fn base(params: impl Fn(usize) -> f64, volts: f64, hz: f64) -> Base {
    let va = params(RATED) / params(RATED_PF);
    let pole_pairs = params(POLES) / 2.0;
    Base { va, volts, hz, pole_pairs, speed_rad_s: TAU * hz / pole_pairs, ohm: volts * volts / va }
}

fn own_base(ctx: &Ctx<'_>) -> Base {
    let node = ctx.node(TERMINALS);
    base(|i| ctx.p(i), ctx.nets.ac.nominal_v[node], ctx.nets.ac.nominal_hz[node])
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
    let b = own_base(ctx);
    tell_shock(ctx);
    let (node, leak_s) = (ctx.node(TERMINALS), leak_s(ctx.fault(INSULATION)));
    ctx.nets.ac.add_leak(node, leak_s);
    let speed = ctx.speed_rad_s(SHAFT);
    let share = speed / b.speed_rad_s;
    if share >= EXCITE_SHARE && !ctx.is(WAS_FAST) {
        ctx.set_is(WAS_FAST, true);
        if ctx.p_is(AUTOMATIC) && !ctx.is(EXCITED) && !ctx.is(TRIPPED) {
            ctx.set_is(EXCITED, true);
            ctx.find(F_EXCITED, speed, EXCITE_SHARE * b.speed_rad_s, 0.0);
        }
    } else if share < 0.9 {
        ctx.set_is(WAS_FAST, false);
    }
    if share < DROP_SHARE && ctx.is(EXCITED) {
        ctx.set_is(EXCITED, false);
        ctx.find(F_DROPPED, speed, DROP_SHARE * b.speed_rad_s, 0.0);
    }
    let volts = ctx.nets.ac.voltage[ctx.node(TERMINALS)].abs();
    let limit_v = ctx.p(OVER_V) * b.volts;
    let over_s = ctx.time_while(OVER_TIME, volts > limit_v);
    if over_s > 0.0 && over_s >= ctx.p(OVER_S) && ctx.is(EXCITED) {
        ctx.set_is(EXCITED, false);
        ctx.set_is(TRIPPED, true);
        ctx.find(F_OVER, volts, limit_v, over_s);
    }
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

/// Reactance behind which the e.m.f. of this sub-step stands.
fn reactance(ctx: &Ctx<'_>) -> f64 {
    if ctx.p(XD2) > 0.0 { ctx.p(XD2).min(ctx.p(XD1)) } else { ctx.p(XD1) }
}

/// Admittance of the machine at its node's frequency (its own while the node is dead).
fn admittance(ctx: &Ctx<'_>, b: &Base) -> Complex {
    let hz = ctx.nets.ac.frequency_hz[ctx.node(TERMINALS)];
    let own_hz = ctx.speed_rad_s(SHAFT).abs() * b.pole_pairs / TAU;
    let k = (if hz > 0.0 { hz } else { own_hz } / b.hz).max(0.05);
    Complex::new(ctx.p(RA) * b.ohm, reactance(ctx) * b.ohm * k).inverse()
}

/// E.m.f. in the rotor's own frame (real: quadrature axis), per unit at rated speed.
fn inner_emf(ctx: &Ctx<'_>) -> Complex {
    Complex::new(ctx.s(FLUX) - ctx.s(SUB_RE), -ctx.s(SUB_IM))
}

fn emf(ctx: &Ctx<'_>, b: &Base) -> Complex {
    let volts = b.volts * (ctx.speed_rad_s(SHAFT) / b.speed_rad_s).max(0.0);
    inner_emf(ctx).scale(volts) * Complex::new(ctx.s(COS), ctx.s(SIN))
}

/// Admittance of a fault in its winding, at its terminals.
fn winding_fault(ctx: &Ctx<'_>, b: &Base) -> Complex {
    let severity = ctx.fault(WINDING);
    if severity <= 0.0 {
        return Complex::ZERO;
    }
    Complex::new(0.3, 0.95).scale(WINDING_FAULT * b.ohm / severity).inverse()
}

/// Does it stand on a dead node, its flux gone? Then there is nothing to work out.
fn at_rest(ctx: &Ctx<'_>) -> bool {
    let dead = ctx.nets.ac.frequency_hz[ctx.node(TERMINALS)] == 0.0;
    let still = ctx.speed_rad_s(SHAFT) == 0.0 && ctx.s(AMPS) == 0.0;
    dead && still && !ctx.is(EXCITED) && ctx.s(FIELD) < 1e-6 && (ctx.s(FLUX) - ctx.p(RESIDUAL)).abs() < 1e-4
}

fn electric(ctx: &mut Ctx<'_>) {
    if at_rest(ctx) {
        return;
    }
    let b = own_base(ctx);
    let (node, shaft) = (ctx.node(TERMINALS), ctx.node(SHAFT));
    let speed = ctx.speed_rad_s(SHAFT).max(0.0);
    let mut angle = ctx.s(ANGLE) + ctx.dt_s * (speed * b.pole_pairs - TAU * b.hz);
    if angle > PI {
        angle -= TAU;
    } else if angle < -PI {
        angle += TAU;
    }
    ctx.set(ANGLE, angle);
    ctx.set(COS, libm::cos(angle));
    ctx.set(SIN, libm::sin(angle));
    let (e, y) = (emf(ctx, &b), admittance(ctx, &b));
    let energy_j = 0.5 * ctx.nets.shaft.inertia_kg_m2[shaft] * speed * speed;
    ctx.nets.ac.add_source(node, e, y, speed * b.pole_pairs / TAU, energy_j);
    if ctx.faulty(WINDING) {
        let y = winding_fault(ctx, &b);
        ctx.nets.ac.add_admittance(node, y);
    }
}

fn motion(ctx: &mut Ctx<'_>) {
    if at_rest(ctx) {
        return;
    }
    let b = own_base(ctx);
    let (node, shaft) = (ctx.node(TERMINALS), ctx.node(SHAFT));
    let v = ctx.nets.ac.voltage[node];
    let live = ctx.nets.ac.frequency_hz[node] > 0.0;
    // A standing machine on a dead node is not in the solution.
    let i = if live { (emf(ctx, &b) - v) * admittance(ctx, &b) } else { Complex::ZERO };
    let turned = i * Complex::new(ctx.s(COS), -ctx.s(SIN));
    let base_a = b.va / b.volts;
    let (q_pu, d_pu) = (turned.re / base_a, -turned.im / base_a);
    let into_fault = if ctx.faulty(WINDING) { winding_fault(ctx, &b) * v } else { Complex::ZERO };
    let out = i - into_fault;
    let power = v * out.conj();
    ctx.set(P_W, power.re);
    ctx.set(Q_VAR, power.im);
    ctx.set(AMPS, out.abs() / ROOT_3);
    ctx.set(FAULT_A, into_fault.abs() / ROOT_3);
    let (v_pu, i_pu) = (v.abs() / b.volts, i.abs() / base_a);
    regulate(ctx, v_pu, i_pu, power.im / b.va);
    let saturation = SATURATION * square((ctx.s(FLUX) - SATURATION_FROM).max(0.0));
    let residual = ctx.p(RESIDUAL) * (1.0 - ctx.fault(RESIDUAL_LOST));
    let field = ctx.s(FIELD) * (1.0 - 0.5 * ctx.fault(DIODE));
    let drive = field.max(residual) - saturation - (ctx.p(XD) - ctx.p(XD1)) * flux_current(ctx, d_pu);
    let flux = drive + (ctx.s(FLUX) - drive) * (1.0 - lag(ctx.dt_s, ctx.p(TD0)));
    let rated_nm = ctx.p(RATED) / b.speed_rad_s;
    let speed_share = ctx.speed_rad_s(SHAFT) / b.speed_rad_s;
    let inner = inner_emf(ctx);
    let air_gap_nm = (inner.re * q_pu - inner.im * d_pu) * b.va / b.speed_rad_s;
    let slip = if live { speed_share - ctx.nets.ac.frequency_hz[node] / b.hz } else { 0.0 };
    let damping_nm = ctx.p(DAMPING) * rated_nm * v_pu * v_pu;
    // Half implicit (Crank-Nicolson): a swing of several hertz keeps its size and phase at steps of 5 ms. A machine that
    // sets the frequency by itself has no slip and keeps its bare inertia.
    let damper_slope_nm_s = if slip.abs() > 1e-6 { 0.5 * damping_nm / b.speed_rad_s } else { 0.0 };
    let (fixed_w, stray_w) = losses(ctx, &b);
    let stray_nm = stray_w * i_pu * i_pu / b.speed_rad_s;
    let windage_nm_s = fixed_w / square(b.speed_rad_s);
    let nets = &mut ctx.nets.shaft;
    nets.torque_nm[shaft] -= air_gap_nm + damping_nm * slip + windage_nm_s * speed_share * b.speed_rad_s;
    nets.slope_nm_s[shaft] -= windage_nm_s + damper_slope_nm_s;
    ctx.nets.shaft.friction_nm[shaft] += stray_nm + 0.05 * rated_nm * ctx.fault(BEARING);
    // The damper's part follows what the field winding loses, so that it dies away by itself.
    let kept = if ctx.s(FLUX) > 0.05 { flux.max(0.0) / ctx.s(FLUX) } else { 1.0 };
    ctx.set(SUB_RE, ctx.s(SUB_RE) * kept);
    ctx.set(FLUX, flux.max(0.0));
    advance_sub_transient(ctx, q_pu, d_pu);
    let peak_a = ctx.s(PEAK_A).max(i.abs() / ROOT_3);
    ctx.set(PEAK_A, peak_a);
    let peak_nm = ctx.s(PEAK_NM).max((air_gap_nm + damping_nm * slip).abs() / rated_nm);
    ctx.set(PEAK_NM, peak_nm);
}

/// Direct-axis current that the field winding feels: without its sub-transient part, which the damper winding takes.
fn flux_current(ctx: &Ctx<'_>, d_pu: f64) -> f64 {
    (reactance(ctx) * d_pu + ctx.s(SUB_RE)) / ctx.p(XD1)
}

/// The damper winding gives way: what it holds back of the e.m.f. goes to `j (X'd - X''d) I` with T''d0, so that
/// X''d acts at first and X'd afterwards.
fn advance_sub_transient(ctx: &mut Ctx<'_>, q_pu: f64, d_pu: f64) {
    let step = ctx.p(XD1) - reactance(ctx);
    if step <= 0.0 {
        return;
    }
    // The current in the rotor's frame is q - j d.
    let goal = Complex::new(step * d_pu, step * q_pu);
    let made_up = lag(ctx.dt_s, ctx.p(TD02));
    let (re, im) = (ctx.s(SUB_RE), ctx.s(SUB_IM));
    ctx.set(SUB_RE, re + (goal.re - re) * made_up);
    ctx.set(SUB_IM, im + (goal.im - im) * made_up);
}

fn square(x: f64) -> f64 {
    x * x
}

/// Losses at rated power and speed, W: what goes with speed, and what goes with the square of current beyond the
/// armature's own. Half of what armature heat leaves goes to each; common practice, no source.
fn losses(ctx: &Ctx<'_>, b: &Base) -> (f64, f64) {
    let all_w = ctx.p(RATED) * (1.0 / ctx.p(EFFICIENCY) - 1.0);
    let rest_w = (all_w - ctx.p(RA) * b.va).max(0.0);
    (0.5 * rest_w, 0.5 * rest_w)
}

/// The voltage regulator and the exciter.
fn regulate(ctx: &mut Ctx<'_>, v_pu: f64, i_pu: f64, q_pu: f64) {
    let node = ctx.node(TERMINALS);
    let supply = v_pu + COMPOUNDING * i_pu;
    let ceiling = if supply < WAKE_SHARE { 0.0 } else { ctx.p(CEILING) * (supply / FULL_SUPPLY).min(1.0) };
    let mut wanted = 0.0;
    if ctx.is(EXCITED) {
        let ramp = (ctx.s(RAMP) + ctx.dt_s / ctx.p(BUILD_UP)).min(1.0);
        ctx.set(RAMP, ramp);
        let hz_share = ctx.nets.ac.frequency_hz[node] / ctx.nets.ac.nominal_hz[node].max(1.0);
        let rated_q_pu = libm::sqrt((1.0 - square(ctx.p(RATED_PF))).max(0.01));
        let aim =
            ctx.s(SET_POINT) * (1.0 + 0.1 * ctx.fault(SET_DRIFTS)) * ramp * (hz_share / ctx.p(KNEE)).min(1.0);
        let droop = ctx.p(DROOP) * (1.0 - ctx.fault(NO_DROOP));
        let error = aim - v_pu - droop * (q_pu / rated_q_pu).clamp(-2.0, 2.0);
        let sum = ctx.p(KP) * error + ctx.s(INTEGRAL);
        wanted = sum.clamp(0.0, ceiling);
        // The integral rests while the output is at a limit and the error pushes further.
        if !(sum > ceiling && error > 0.0 || sum < 0.0 && error < 0.0) {
            let integral = ctx.s(INTEGRAL) + ctx.p(KI) * error * ctx.dt_s;
            ctx.set(INTEGRAL, integral.clamp(0.0, ctx.p(CEILING)));
        }
        wanted += (ceiling - wanted) * ctx.fault(AVR_HIGH);
        wanted *= 1.0 - ctx.fault(AVR_LOW);
    } else {
        ctx.set(RAMP, 0.0);
        ctx.set(INTEGRAL, 0.0);
    }
    if ctx.fault(FIELD_LOST) >= 0.5 {
        wanted = 0.0;
        ctx.set(FIELD, 0.0);
    }
    let field = ctx.s(FIELD);
    ctx.set(FIELD, wanted + (field - wanted) * libm::exp(-ctx.dt_s / ctx.p(EXCITER_LAG)));
}

/// Losses at the present speed and current, W.
fn loss_w(ctx: &Ctx<'_>) -> f64 {
    let b = own_base(ctx);
    let speed_share = ctx.speed_rad_s(SHAFT) / b.speed_rad_s;
    let (fixed_w, stray_w) = losses(ctx, &b);
    let i_pu = ctx.s(AMPS) * ROOT_3 * b.volts / b.va;
    fixed_w * speed_share * speed_share + (stray_w + ctx.p(RA) * b.va) * i_pu * i_pu
}

fn heat(ctx: &mut Ctx<'_>) {
    let loss_w = loss_w(ctx);
    ctx.heat_space_w(SPACE, loss_w);
}

fn publish(ctx: &mut Ctx<'_>) {
    let b = own_base(ctx);
    let (p_w, q_var) = (ctx.s(P_W), ctx.s(Q_VAR));
    let apparent_va = libm::sqrt(p_w * p_w + q_var * q_var);
    let loaded = apparent_va > 0.005 * b.va;
    let loss_w = loss_w(ctx);
    ctx.read_out(R_VOLTAGE, ctx.nets.ac.voltage[ctx.node(TERMINALS)].abs());
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
    let node = view.node(TERMINALS);
    let b = base(|i| view.p(i), view.nets.ac.nominal_v[node], view.nets.ac.nominal_hz[node]);
    match act.index {
        SET_EXCITATION => {
            block_without_control(view, CONTROL_SUPPLY, blocks);
            if act.value > 0.5 {
                permit_excitation(view, &b, blocks);
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

fn permit_excitation(view: &View<'_>, b: &Base, blocks: &mut Vec<Block>) {
    let rpm = view.speed_rad_s(SHAFT) * 60.0 / TAU;
    let needs_rpm = EXCITE_SHARE * b.speed_rad_s * 60.0 / TAU;
    if rpm < needs_rpm {
        let text = format!("it turns with {rpm:.0} rpm, needs {needs_rpm:.0} rpm");
        blocks.push(Block { code: "speed-low", text });
    }
    if view.is(TRIPPED) {
        let text = "its excitation was tripped by over-voltage and is not reset".into();
        blocks.push(Block { code: "not-reset", text });
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
