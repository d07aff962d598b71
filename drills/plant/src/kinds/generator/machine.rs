//! The machine between its shaft and its terminals: e.m.f. behind a reactance, flux, damper winding, losses.

use super::*;
use crate::kinds::electric::ROOT_3;
use crate::nets::ac::Complex;
use std::f64::consts::{PI, TAU};

/// Saturation: field needed beyond the air-gap line is `SATURATION (flux - SATURATION_FROM)^2`.
const SATURATION_FROM: f64 = 1.2;
const SATURATION: f64 = 60.0;
/// Part of rated impedance that a whole winding fault has.
const WINDING_FAULT: f64 = 1.0 / 3.0;

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
    let still = ctx.speed_rad_s(SHAFT) == 0.0 && ctx.s(AMPS) == 0.0;
    let dead = |node: usize| ctx.nets.ac.frequency_hz[node] == 0.0;
    still
        && dead(ctx.node(TERMINALS))
        && !ctx.is(EXCITED)
        && ctx.s(FIELD) < 1e-6
        && (ctx.s(FLUX) - ctx.p(RESIDUAL)).abs() < 1e-4
}

pub(super) fn electric(ctx: &mut Ctx<'_>) {
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

pub(super) fn motion(ctx: &mut Ctx<'_>) {
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
    let base_a = ctx.p(BASE_A);
    let (q_pu, d_pu) = (turned.re / base_a, -turned.im / base_a);
    let into_fault = if ctx.faulty(WINDING) { winding_fault(ctx, &b) * v } else { Complex::ZERO };
    let out = i - into_fault;
    let power = v * out.conj();
    ctx.set(P_W, power.re);
    ctx.set(Q_VAR, power.im);
    ctx.set(AMPS, out.abs() / ROOT_3);
    ctx.set(FAULT_A, into_fault.abs() / ROOT_3);
    let (v_pu, i_a) = (ctx.nets.ac.volts[node] / b.volts, i.abs());
    let i_pu = i_a / base_a;
    super::excitation::regulate(ctx, v_pu, i_pu, power.im / b.va);
    let saturation = SATURATION * square((ctx.s(FLUX) - SATURATION_FROM).max(0.0));
    let residual = ctx.p(RESIDUAL) * (1.0 - ctx.fault(RESIDUAL_LOST));
    let field = ctx.s(FIELD) * (1.0 - 0.5 * ctx.fault(DIODE));
    let drive = field.max(residual) - saturation - (ctx.p(XD) - ctx.p(XD1)) * flux_current(ctx, d_pu);
    let flux = drive + (ctx.s(FLUX) - drive) * (1.0 - ctx.p(FLUX_PART));
    let rated_nm = ctx.p(RATED_NM);
    let speed_share = ctx.speed_rad_s(SHAFT) / b.speed_rad_s;
    let inner = inner_emf(ctx);
    let air_gap_nm = (inner.re * q_pu - inner.im * d_pu) * b.va / b.speed_rad_s;
    let slip = if live { speed_share - ctx.nets.ac.frequency_hz[node] / b.hz } else { 0.0 };
    let damping_nm = ctx.p(DAMPING) * rated_nm * v_pu * v_pu;
    // Half implicit (Crank-Nicolson): a swing of several hertz keeps its size and phase at steps of 5 ms. A machine that
    // sets the frequency by itself has no slip and keeps its bare inertia.
    let damper_slope_nm_s = if slip.abs() > 1e-6 { 0.5 * damping_nm / b.speed_rad_s } else { 0.0 };
    let loss_w = ctx.p(HALF_LOSS_W);
    let stray_nm = loss_w * i_pu * i_pu / b.speed_rad_s;
    let windage_nm_s = loss_w / square(b.speed_rad_s);
    let nets = &mut ctx.nets.shaft;
    nets.torque_nm[shaft] -= air_gap_nm + damping_nm * slip + windage_nm_s * speed_share * b.speed_rad_s;
    nets.slope_nm_s[shaft] -= windage_nm_s + damper_slope_nm_s;
    ctx.nets.shaft.friction_nm[shaft] += stray_nm + 0.05 * rated_nm * ctx.fault(BEARING);
    // The damper's part follows what the field winding loses, so that it dies away by itself.
    let kept = if ctx.s(FLUX) > 0.05 { flux.max(0.0) / ctx.s(FLUX) } else { 1.0 };
    ctx.set(SUB_RE, ctx.s(SUB_RE) * kept);
    ctx.set(FLUX, flux.max(0.0));
    advance_sub_transient(ctx, q_pu, d_pu);
    let peak_a = ctx.s(PEAK_A).max(i_a / ROOT_3);
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
    let made_up = ctx.p(DAMPER_PART);
    let (re, im) = (ctx.s(SUB_RE), ctx.s(SUB_IM));
    ctx.set(SUB_RE, re + (goal.re - re) * made_up);
    ctx.set(SUB_IM, im + (goal.im - im) * made_up);
}

pub(super) fn square(x: f64) -> f64 {
    x * x
}

/// Losses at rated power and speed, W: what goes with speed, and as much that goes with the square of current beyond the
/// armature's own. Half of what armature heat leaves goes to each; common practice, no source.
pub(super) fn half_loss_w(params: &[f64], va: f64) -> f64 {
    let all_w = params[RATED] * (1.0 / params[EFFICIENCY] - 1.0);
    0.5 * (all_w - params[RA] * va).max(0.0)
}

/// Losses at the present speed and current, W.
pub(super) fn loss_w(ctx: &Ctx<'_>) -> f64 {
    let b = own_base(ctx);
    let speed_share = ctx.speed_rad_s(SHAFT) / b.speed_rad_s;
    let loss_w = ctx.p(HALF_LOSS_W);
    let i_pu = ctx.s(AMPS) * ROOT_3 * b.volts / b.va;
    loss_w * speed_share * speed_share + (loss_w + ctx.p(RA) * b.va) * i_pu * i_pu
}
