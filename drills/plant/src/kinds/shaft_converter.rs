//! A shaft generator behind a converter: constant frequency at any shaft speed in a range, power and current limited.

use super::declare::*;
use super::electric::{ROOT_3, block_without_control};
use crate::ctx::{Ctx, View};
use crate::fluid::lag;
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, Joints, KindDef, NeedDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef, Verb,
};
use crate::nets::ac::Complex;
use crate::unit::Dimension;
use std::f64::consts::{PI, TAU};

const CAUSES: &[&str] = &["none", "shaft speed", "overload", "without cause"];

const BY_SPEED: f64 = 1.0;
const BY_OVERLOAD: f64 = 2.0;
const BY_ITSELF: f64 = 3.0;

declare!(PORTS: PortDef {
    SHAFT = port("shaft", Net::Shaft, 0, "Shaft that drives its generator."),
    TERMINALS = port("terminals", Net::Ac, 0, "Its terminals on the board's side, before its breaker."),
    CONTROL = free_port("control", Net::Dc, 0, "Control supply; free: always there."),
    SPACE = free_port("space", Net::Space, 0, "Room that takes its losses."),
});
declare!(PARAMS: ParamDef {
    RATED = quantity("rated-power", Dimension::Power, 100.0, 50e6, "Rated active power."),
    RATED_PF = quantity_or("power-factor", Dimension::Ratio, (0.5, 1.0), 0.8, "Rated power factor."),
    SPEED = quantity("rated-speed", Dimension::Speed, 1.0, 1000.0, "Rated speed of its shaft."),
    SPEED_LOW = quantity_or("least-speed", Dimension::Ratio, (0.1, 1.0), 0.70, "Lowest speed at which it delivers, over rated; power is limited in proportion below rated speed."),
    SPEED_HIGH = quantity_or("highest-speed", Dimension::Ratio, (1.0, 1.5), 1.15, "Highest speed at which it delivers."),
    EFFICIENCY = quantity_or("efficiency", Dimension::Ratio, (0.5, 0.99), 0.92, "Generator and converter together, at rated power (common practice, no source)."),
    IDLE = quantity_or("no-load-loss", Dimension::Ratio, (0.0, 0.1), 0.015, "Part of the losses that is there without load, over rated power."),
    CURRENT = quantity_or("current-limit", Dimension::Ratio, (1.0, 5.0), 1.5, "Most current over rated that its valves carry: voltage gives way. Short circuits are cleared by other means; below three times rated a class rule wants them shown (from memory)."),
    POWER_LIMIT = quantity_or("power-limit", Dimension::Ratio, (0.5, 1.5), 1.1, "Most power over rated: voltage gives way."),
    OVERLOAD_S = quantity_or("overload-time", Dimension::Time, (0.1, 60.0), 5.0, "How long it stands at its limit before it switches off."),
    REACTANCE = quantity_or("filter-reactance", Dimension::Ratio, (0.02, 0.5), 0.15, "Reactance of its filter, per unit of rated kVA."),
    DROOP = quantity_or("frequency-droop", Dimension::Ratio, (0.0, 0.1), 0.02, "Fall of frequency at rated power, by which it shares load with other sources."),
    V_DROOP = quantity_or("voltage-droop", Dimension::Ratio, (0.0, 0.2), 0.03, "Fall of voltage at rated reactive power."),
    LAG = quantity_or("control-lag", Dimension::Time, (0.005, 1.0), 0.05, "Lag with which it measures its power."),
});
declare!(STATE: StateDef {
    ON = state_flag("on", false, "It delivers voltage; a start state that sets it starts at rated voltage."),
    TRIPPED = state_choice("tripped", CAUSES, 0, "By what it was switched off; stays until reset."),
    SET_HZ = state("frequency-set-point", Dimension::Ratio, (0.9, 1.1), 1.02, "Frequency without load over nominal; 100 % plus droop times load keeps nominal frequency."),
    EMF = state("emf", Dimension::None, (0.0, 1.5), 0.0, "Voltage behind its filter, per unit."),
    ANGLE = inner("angle", 0.0, "Angle of that voltage in a frame that turns at nominal frequency."),
    MEASURED = inner("measured", 0.0, "Power as its control measures it, W."),
    EASE = inner("ease", 1.0, "Share of its voltage that current and power limits leave."),
    LIMIT_S = inner("limit-time", 0.0, "How long it has stood at its limit."),
    BUILT = inner("built", 0.0, "Share of its voltage built up after it was switched on."),
    P_W = inner("power", 0.0, "Active power."),
    Q_VAR = inner("reactive", 0.0, "Reactive power."),
    AMPS = inner("current", 0.0, "Line current."),
    SHAFT_W = inner("shaft-power", 0.0, "Power taken from the shaft."),
});
declare!(ACTS: ActDef {
    START = act(Verb::Start, Reach::Remote, 3.0, "Switch it on."),
    STOP = act(Verb::Stop, Reach::Remote, 2.0, "Switch it off."),
    RESET = act(Verb::Reset, Reach::Local, 5.0, "Put back what switched it off."),
    SET_FREQUENCY = set_quantity("frequency", Dimension::Frequency, (40.0, 70.0), Reach::Remote, 4.0, "Frequency without load (raise, lower)."),
});
declare!(FAULTS: FaultDef {
    TRIPS = fault("trips", 1.0, "It switches itself off without cause; its board goes dark."),
    WEAK = fault("valves-lost", 0.5, "Some of its valves are gone: current and power limits fall by this share, at half load already voltage gives way."),
    DRIFTS = fault("frequency-drifts", 0.5, "Its reference drifts: frequency rises by up to 3 %, in parallel it takes load from the others."),
});
declare!(NEEDS: NeedDef {
    N_SPEED = need("shaft-speed", "Shaft speed within its range, while it is on."),
    N_CONTROL = need("control-supply", "Control voltage."),
});
declare!(READINGS: ReadingDef {
    R_VOLTAGE = reading("voltage", Dimension::Voltage, Seen::Remote, "Voltage at its terminals."),
    R_FREQUENCY = reading("frequency", Dimension::Frequency, Seen::Remote, "Its frequency."),
    R_CURRENT = reading("current", Dimension::Current, Seen::Remote, "Line current."),
    R_POWER = reading("power", Dimension::Power, Seen::Remote, "Active power."),
    R_REACTIVE = reading("reactive-power", Dimension::ReactivePower, Seen::Remote, "Reactive power."),
    R_ON = reading_words("on", NO_YES, Seen::Remote, "Does it deliver?"),
    R_TRIPPED = reading_words("tripped", CAUSES, Seen::Remote, "By what was it switched off?").latched(),
    R_SHARE = reading("load-share", Dimension::Ratio, Seen::Remote, "Active power over rated."),
    R_LIMITED = reading_words("limited", NO_YES, Seen::Remote, "Does a limit hold its voltage down?"),
    R_SHAFT = reading("shaft-power", Dimension::Power, Seen::Hidden, "Power taken from the shaft."),
});
declare!(FINDINGS: FindingDef {
    F_SPEED = finding("tripped-shaft-speed", Dimension::Speed, "switched off by shaft speed: {measured}, limit {limit}"),
    F_OVERLOAD = finding("tripped-overload", Dimension::Current, "switched off by overload: {measured}, limit {limit}"),
    F_ITSELF = finding("tripped", Dimension::None, "switched off without cause"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "shaft-converter",
    doc: "A shaft generator with its converter: constant frequency over a range of shaft speed.",
    physics: "A voltage behind a filter reactance that turns at the set frequency less a droop on its measured power, whatever \
              its shaft does; no inertia. At its current or power limit the voltage gives way. It takes its power and losses from the \
              shaft. Harmonics, the direct-current link and reverse flow of power are left out.",
    source: "inverter with droop control (from memory); limits common practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    joints: Joints { sources: &[TERMINALS], brings_inertia: |_| false, ..Joints::NONE },
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

/// How fast it corrects its voltage, per unit a second and per unit.
const CORRECTS: f64 = 20.0;
/// Time in which voltage is built up after it was switched on, s; common practice, no source.
const BUILDS_IN_S: f64 = 1.0;
/// Time constant with which voltage comes back after a limit, s.
const COMES_BACK_S: f64 = 0.1;
/// Energy by which it counts in the frequency of its island, as seconds of its rating: that of its capacitors.
const STORED_S: f64 = 0.05;
/// Least speed that its torque is worked out for, over rated.
const LEAST_SHARE: f64 = 0.2;

/// Rated apparent power, VA; nominal voltage, V; nominal frequency, Hz.
struct Base {
    va: f64,
    volts: f64,
    hz: f64,
}

fn base(ctx: &Ctx<'_>) -> Base {
    let node = ctx.node(TERMINALS);
    let (volts, hz) = (ctx.nets.ac.nominal_v[node], ctx.nets.ac.nominal_hz[node]);
    Base { va: ctx.p(RATED) / ctx.p(RATED_PF), volts, hz }
}

fn settle(ctx: &mut Ctx<'_>) {
    if ctx.is(ON) {
        if ctx.s(EMF) <= 0.0 {
            ctx.set(EMF, 1.0);
        }
        ctx.set(BUILT, 1.0);
    }
}

fn speed_share(ctx: &Ctx<'_>) -> f64 {
    ctx.speed_rad_s(SHAFT) / ctx.p(SPEED)
}

fn own_hz(ctx: &Ctx<'_>, b: &Base) -> f64 {
    let share = ctx.s(MEASURED) / ctx.p(RATED);
    b.hz * (ctx.s(SET_HZ) - ctx.p(DROOP) * share + 0.03 * ctx.fault(DRIFTS))
}

fn control(ctx: &mut Ctx<'_>) {
    ctx.draw_dc(CONTROL, 1.0);
    let alive = ctx.has_control_voltage(CONTROL);
    ctx.need(N_CONTROL, alive);
    let (speed, on) = (speed_share(ctx), ctx.is(ON));
    let (low, high) = (ctx.p(SPEED_LOW), ctx.p(SPEED_HIGH));
    ctx.need(N_SPEED, !on || (low..=high).contains(&speed));
    let at_limit = ctx.time_while(LIMIT_S, on && ctx.s(EASE) < 0.97);
    if !on {
        return;
    }
    if !(low..=high).contains(&speed) {
        let limit = if speed < low { low } else { high };
        trip(ctx, BY_SPEED, F_SPEED, speed * ctx.p(SPEED), limit * ctx.p(SPEED));
    } else if at_limit > ctx.p(OVERLOAD_S) {
        let b = base(ctx);
        let rated_a = b.va / b.volts / ROOT_3;
        trip(ctx, BY_OVERLOAD, F_OVERLOAD, ctx.s(AMPS), ctx.p(CURRENT) * rated_a);
    } else if ctx.fault(TRIPS) >= 0.5 {
        trip(ctx, BY_ITSELF, F_ITSELF, 0.0, 0.0);
    }
}

fn trip(ctx: &mut Ctx<'_>, cause: f64, finding: usize, measured: f64, limit: f64) {
    ctx.set_is(ON, false);
    ctx.set(TRIPPED, cause);
    ctx.find(finding, measured, limit, 0.0);
}

fn admittance(ctx: &Ctx<'_>, b: &Base) -> Complex {
    Complex::new(0.01, ctx.p(REACTANCE)).scale(b.volts * b.volts / b.va).inverse()
}

fn emf(ctx: &Ctx<'_>, b: &Base) -> Complex {
    Complex::polar(ctx.s(EMF) * ctx.s(EASE) * ctx.s(BUILT) * b.volts, ctx.s(ANGLE))
}

fn electric(ctx: &mut Ctx<'_>) {
    if !ctx.is(ON) {
        return;
    }
    let b = base(ctx);
    let hz = own_hz(ctx, &b);
    let mut angle = ctx.s(ANGLE) + ctx.dt_s * TAU * (hz - b.hz);
    if angle > PI {
        angle -= TAU;
    } else if angle < -PI {
        angle += TAU;
    }
    ctx.set(ANGLE, angle);
    let (e, y, node) = (emf(ctx, &b), admittance(ctx, &b), ctx.node(TERMINALS));
    ctx.nets.ac.add_source(node, e, y, hz, STORED_S * b.va);
}

fn motion(ctx: &mut Ctx<'_>) {
    if !ctx.is(ON) {
        for slot in [P_W, Q_VAR, AMPS, SHAFT_W, MEASURED, BUILT] {
            ctx.set(slot, 0.0);
        }
        ctx.set(EASE, 1.0);
        return;
    }
    let b = base(ctx);
    let v = ctx.nets.ac.voltage[ctx.node(TERMINALS)];
    let i = (emf(ctx, &b) - v) * admittance(ctx, &b);
    let power = v * i.conj();
    ctx.set(P_W, power.re);
    ctx.set(Q_VAR, power.im);
    ctx.set(AMPS, i.abs() / ROOT_3);
    let measured = ctx.s(MEASURED);
    ctx.set(MEASURED, measured + (power.re - measured) * lag(ctx.dt_s, ctx.p(LAG)));
    give_way(ctx, i.abs() / (b.va / b.volts), power.re / ctx.p(RATED));
    regulate(ctx, v.abs() / b.volts, power.im / b.va);
    load_shaft(ctx, power.re);
}

/// Voltage gives way at once when current or power is beyond its limit, and comes back by itself.
fn give_way(ctx: &mut Ctx<'_>, current: f64, power: f64) {
    let sound = 1.0 - ctx.fault(WEAK);
    let by_speed = speed_share(ctx).clamp(0.0, 1.0);
    let over = (current / (ctx.p(CURRENT) * sound).max(0.05))
        .max(power / (ctx.p(POWER_LIMIT) * sound * by_speed).max(0.05));
    let ease = ctx.s(EASE);
    let eased = if over > 1.0 {
        ease / over
    } else {
        ease + (1.0 - ease) * lag(ctx.dt_s, COMES_BACK_S) * (1.0 - over)
    };
    ctx.set(EASE, eased.clamp(0.001, 1.0));
}

fn regulate(ctx: &mut Ctx<'_>, v: f64, q: f64) {
    let built = (ctx.s(BUILT) + ctx.dt_s / BUILDS_IN_S).min(1.0);
    ctx.set(BUILT, built);
    let before = ctx.s(EMF);
    if before <= 0.0 {
        ctx.set(EMF, 1.0);
        return;
    }
    // It does not press against its own limits or its own build-up.
    if ctx.s(EASE) < 0.999 || built < 1.0 {
        return;
    }
    let rated_q = f64::sqrt((1.0 - ctx.p(RATED_PF) * ctx.p(RATED_PF)).max(0.01));
    let aim = 1.0 - ctx.p(V_DROOP) * (q / rated_q).clamp(-2.0, 2.0);
    ctx.set(EMF, (before + CORRECTS * (aim - v) * ctx.dt_s).clamp(0.5, 1.3));
}

/// Losses: a part that is always there while it is on, the rest with the square of power.
fn load_shaft(ctx: &mut Ctx<'_>, power_w: f64) {
    let rated = ctx.p(RATED);
    let all = rated * (1.0 / ctx.p(EFFICIENCY) - 1.0);
    let idle = (ctx.p(IDLE) * rated).min(all);
    let share = power_w / rated;
    // It does not drive its shaft.
    let taken = (power_w + idle + (all - idle) * share * share).max(0.0);
    ctx.set(SHAFT_W, taken);
    let speed = ctx.speed_rad_s(SHAFT).max(LEAST_SHARE * ctx.p(SPEED));
    let node = ctx.node(SHAFT);
    ctx.nets.shaft.friction_nm[node] += taken / speed;
}

fn heat(ctx: &mut Ctx<'_>) {
    let loss = ctx.s(SHAFT_W) - ctx.s(P_W);
    ctx.heat_space_w(SPACE, loss.max(0.0));
}

fn publish(ctx: &mut Ctx<'_>) {
    let b = base(ctx);
    let volts = ctx.nets.ac.volts[ctx.node(TERMINALS)];
    let hz = if ctx.is(ON) { own_hz(ctx, &b) } else { 0.0 };
    ctx.read_out(R_VOLTAGE, volts);
    ctx.read_out(R_FREQUENCY, hz);
    ctx.read_out(R_CURRENT, ctx.s(AMPS));
    ctx.read_out(R_POWER, ctx.s(P_W));
    ctx.read_out(R_REACTIVE, ctx.s(Q_VAR));
    ctx.read_out(R_ON, ctx.s(ON));
    ctx.read_out(R_TRIPPED, ctx.s(TRIPPED));
    ctx.read_out(R_SHARE, ctx.s(P_W) / ctx.p(RATED));
    ctx.read_out_is(R_LIMITED, ctx.is(ON) && ctx.s(EASE) < 0.97);
    ctx.read_out(R_SHAFT, ctx.s(SHAFT_W));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index != RESET && act.remote {
        block_without_control(view, CONTROL, blocks);
    }
    let mut block = |code, text: String| blocks.push(Block { code, text });
    match act.index {
        START => {
            let rpm = |w: f64| w * 60.0 / TAU;
            let speed = view.speed_rad_s(SHAFT);
            let (low, high) = (view.p(SPEED_LOW) * view.p(SPEED), view.p(SPEED_HIGH) * view.p(SPEED));
            if view.is(ON) {
                block("already-on", "it is on".into());
            }
            if view.s(TRIPPED) != 0.0 {
                let cause = CAUSES[view.s(TRIPPED) as usize];
                block("not-reset", format!("it was switched off ({cause}) and is not reset"));
            }
            if !(low..=high).contains(&speed) {
                let text = format!(
                    "its shaft turns with {:.0} rpm, wants {:.0} to {:.0}",
                    rpm(speed),
                    rpm(low),
                    rpm(high)
                );
                block("speed-off", text);
            }
        }
        STOP if !view.is(ON) => block("already-off", "it is off".into()),
        RESET if view.s(TRIPPED) == 0.0 => block("not-tripped", "it has not switched itself off".into()),
        _ => {}
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        START => ctx.set_is(ON, true),
        STOP => ctx.set_is(ON, false),
        RESET => ctx.set(TRIPPED, 0.0),
        _ => {
            let nominal = ctx.nets.ac.nominal_hz[ctx.node(TERMINALS)].max(1.0);
            ctx.set(SET_HZ, (act.value / nominal).clamp(0.9, 1.1));
        }
    }
}
