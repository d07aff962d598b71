//! The machine between its supply and its shaft: its circuit from ratings, and what it draws and turns at a speed.

use super::circuit::{Circuit, Point, Ratings, design_n_locked, usual_efficiency};
use super::*;
use crate::kind::Nominal;
use crate::nets::ac::Complex;

/// Friction of bearings and windage while coasting, share of rated torque; common practice, no source.
const COASTING_FRICTION: f64 = 0.02;
/// A soft starter that has not come up after this time lets the current rise, to full voltage in as long again.
const SOFT_HOLD_S: f64 = 10.0;

pub(super) fn follows(params: &[f64], nominal: Nominal<'_>) -> Vec<f64> {
    let (_, hz) = nominal(SUPPLY);
    vec![2.0 * std::f64::consts::TAU * hz / params[POLES]]
}

pub(super) fn settle(ctx: &mut Ctx<'_>) {
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

pub(super) fn nominal_synchronous_rad_s(ctx: &Ctx<'_>) -> f64 {
    ctx.p(SYNCHRONOUS)
}

/// Slip and frequency (share of nominal) may move by this much within a tick before the circuit is worked out anew: a
/// two-thousandth of rated slip, and so of torque.
const SAME_POINT: f64 = 1e-5;

/// Works out the circuit at the speed that a tick begins with, and the slope by which the shaft is stepped
/// semi-implicitly: it changes little within a tick.
pub(super) fn begin_tick(ctx: &mut Ctx<'_>) {
    if !ctx.is(RUNNING) {
        return;
    }
    let circuit = stored(ctx);
    let field = Field::now(ctx);
    let speed = ctx.speed_rad_s(SHAFT);
    let step_rad_s = 1e-3 * field.synchronous_rad_s / field.hz_share;
    let here = work_out(ctx, &circuit, &field, field.slip(speed));
    let ahead = machine(ctx, &circuit, &field, field.slip(speed + step_rad_s)).1;
    ctx.set(SLOPE_PER_V2, ((ahead - here) / step_rad_s).min(0.0));
}

/// The field that a motor's rotor sees.
struct Field {
    /// Frequency over nominal.
    hz_share: f64,
    /// Its speed.
    synchronous_rad_s: f64,
}

impl Field {
    #[inline]
    fn now(ctx: &Ctx<'_>) -> Field {
        let node = ctx.node(SUPPLY);
        let hz = ctx.nets.ac.frequency_hz[node];
        let hz_share = if hz > 0.0 { (hz / ctx.nets.ac.nominal_hz[node]).max(0.05) } else { 1.0 };
        Field { hz_share, synchronous_rad_s: nominal_synchronous_rad_s(ctx) * hz_share }
    }

    fn slip(&self, speed_rad_s: f64) -> f64 {
        1.0 - speed_rad_s / self.synchronous_rad_s
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

/// The motor at a slip: admittance, torque per square volt, line current per volt (scaled).
fn machine(ctx: &Ctx<'_>, circuit: &Circuit, field: &Field, slip: f64) -> (Complex, f64, f64) {
    let (k, synchronous) = (field.hz_share, field.synchronous_rad_s);
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

/// Works the circuit out and keeps what the sub-steps need of it; returns its torque per square volt.
fn work_out(ctx: &mut Ctx<'_>, circuit: &Circuit, field: &Field, slip: f64) -> f64 {
    let (y, torque, per_volt) = machine(ctx, circuit, field, slip);
    ctx.set(AT_SLIP, slip);
    ctx.set(AT_HZ, field.hz_share);
    ctx.set(CONDUCTANCE, y.re);
    ctx.set(SUSCEPTANCE, y.im);
    ctx.set(TORQUE_PER_V2, torque);
    ctx.set(AMPS_PER_V, per_volt);
    torque
}

/// Seldom needed: kept apart, so that the many sub-steps that do without stay short.
#[cold]
#[inline(never)]
fn work_out_anew(ctx: &mut Ctx<'_>, field: &Field, slip: f64) {
    work_out(ctx, &stored(ctx), field, slip);
}

pub(super) fn electric(ctx: &mut Ctx<'_>) {
    if !ctx.is(RUNNING) {
        return;
    }
    let field = Field::now(ctx);
    let slip = field.slip(ctx.speed_rad_s(SHAFT));
    let moved = (slip - ctx.s(AT_SLIP)).abs().max((field.hz_share - ctx.s(AT_HZ)).abs());
    if moved > SAME_POINT {
        work_out_anew(ctx, &field, slip);
    }
    let (node, y) = (ctx.node(SUPPLY), Complex::new(ctx.s(CONDUCTANCE), ctx.s(SUSCEPTANCE)));
    ctx.nets.ac.add_admittance(node, y);
}

pub(super) fn motion(ctx: &mut Ctx<'_>) {
    let shaft = ctx.node(SHAFT);
    let running = ctx.is(RUNNING);
    if !running && ctx.s(AMPS) == 0.0 && ctx.nets.shaft.speed_rad_s[shaft] == 0.0 {
        // It stands: nothing to work out.
        return;
    }
    // Running, bearings are part of the machine's losses; coasting, they are what brings it to rest.
    let bearings = if running { 0.0 } else { COASTING_FRICTION };
    let faults = 20.0 * ctx.fault(SEIZED) + 0.7 * ctx.fault(STIFF) + 0.2 * ctx.fault(BEARING);
    if bearings + faults > 0.0 {
        let rated_nm = ctx.p(RATED) / nominal_synchronous_rad_s(ctx);
        ctx.nets.shaft.friction_nm[shaft] += rated_nm * (bearings + faults);
    }
    if running {
        let volts = ctx.nets.ac.volts[ctx.node(SUPPLY)];
        let square = volts * volts;
        ctx.nets.shaft.torque_nm[shaft] += ctx.s(TORQUE_PER_V2) * square;
        ctx.nets.shaft.slope_nm_s[shaft] += ctx.s(SLOPE_PER_V2) * square;
    } else {
        ctx.set(AMPS, 0.0);
        ctx.set(WATTS, 0.0);
    }
}

/// What it draws at the end of a tick; nobody asks before.
pub(super) fn meter(ctx: &mut Ctx<'_>) {
    if ctx.is(RUNNING) {
        let volts = ctx.nets.ac.volts[ctx.node(SUPPLY)];
        ctx.set(AMPS, ctx.s(AMPS_PER_V) * volts / ROOT_3);
        ctx.set(WATTS, ctx.s(CONDUCTANCE) * (volts * volts));
    }
}
