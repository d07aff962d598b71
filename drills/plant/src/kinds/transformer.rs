//! A transformer with its breaker on the primary side.

use super::declare::*;
use super::electric::{FIRST_VOLTAGE_TICK, ROUNDING_S, leak_s, line_a};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef, Verb,
};
use crate::nets::ac::Complex;
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    PRIMARY = port("primary", Net::Ac, 0, "Node that feeds it, before its breaker."),
    SECONDARY = port("secondary", Net::Ac, 0, "Node that it feeds."),
});
declare!(PARAMS: ParamDef {
    RATED_VA = quantity("rated-power", Dimension::ApparentPower, 100.0, 100e6, "Rated apparent power."),
    R = quantity_or("resistance", Dimension::Ratio, (0.0005, 0.2), 0.015, "Series resistance, share of rated impedance."),
    X = quantity_or("reactance", Dimension::Ratio, (0.0005, 0.3), 0.035, "Series reactance."),
    NO_LOAD = quantity_or("no-load", Dimension::Ratio, (0.0, 0.2), 0.009, "No-load current, share of rated."),
    IRON = quantity_or("no-load-loss", Dimension::Ratio, (0.0, 0.05), 0.003, "No-load loss, share of rated power."),
    INRUSH = quantity_or("inrush", Dimension::None, (0.0, 20.0), 10.0, "Peak of the current when energised, times rated current."),
    INRUSH_TAU = quantity_or("inrush-time", Dimension::Time, (0.01, 5.0), 0.15, "Time constant in which it decays."),
    OVERLOAD = quantity_or("overcurrent", Dimension::Ratio, (0.8, 5.0), 1.3, "Its breaker trips beyond this share of rated current; inrush is let through."),
    OVERLOAD_T = quantity_or("overcurrent-delay", Dimension::Time, (0.0, 600.0), 10.0, "Delay of the same; common practice, no source."),
});
declare!(STATE: StateDef {
    CLOSED = state_flag("closed", false, "Its breaker is closed."),
    TRIPPED = state_flag("tripped", false, "Its breaker has tripped."),
    CORE = inner("core", 0.0, "1 while its core is magnetised."),
    RUSH = inner("inrush", 0.0, "What is left of the inrush, 1 at the moment of energising."),
    OVER_S = inner("overcurrent-time", 0.0, "How long the current has been too high."),
});
declare!(ACTS: ActDef {
    OPEN = act(Verb::Open, Reach::Remote, 2.0, "Open its breaker."),
    CLOSE = act(Verb::Close, Reach::Remote, 2.0, "Close its breaker."),
    RESET = act(Verb::Reset, Reach::Local, 5.0, "Put its breaker back after a trip."),
});
declare!(FAULTS: FaultDef {
    TRIPS = fault("trips", 1.0, "Its breaker trips without cause."),
    SHORTED = fault("shorted-turns", 0.6, "Turns are shorted: up to three times rated current flows in, it runs hot and its breaker trips."),
    LOOSE = fault("loose-connection", 0.5, "A terminal is burnt: its resistance rises up to forty times; the secondary voltage falls with load, lights dim."),
    FAILS_TO_CLOSE = fault("fails-to-close", 1.0, "Its breaker does not latch: it does not close."),
    INSULATION = fault("insulation-low", 0.7, "Its secondary winding is damp or chafed: 20 megohm to earth fall to 1 kilohm at 100 %, 17 kilohm at 70 %; the low-voltage board's insulation shows it."),
});
declare!(READINGS: ReadingDef {
    R_CLOSED = reading_words("closed", NO_YES, Seen::Remote, "Is its breaker closed?"),
    R_CURRENT = reading("current", Dimension::Current, Seen::Remote, "Line current on the primary side."),
    R_POWER = reading("power", Dimension::Power, Seen::Remote, "Power on the primary side."),
    R_SECONDARY = reading("secondary-voltage", Dimension::Voltage, Seen::Remote, "Voltage on the secondary side."),
    R_TRIPPED = reading_words("tripped", NO_YES, Seen::Remote, "Has its breaker tripped?").latched(),
    R_LOSS = reading("loss", Dimension::Power, Seen::Hidden, "Losses, as heat into its room."),
});
declare!(FINDINGS: FindingDef {
    F_TRIPPED = finding("tripped-overcurrent", Dimension::Current, "its breaker tripped by overcurrent: {measured}, limit {limit}"),
    F_NO_CAUSE = finding("tripped", Dimension::None, "its breaker tripped without cause"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "transformer",
    doc: "A transformer with its breaker on the primary side.",
    physics: "A series impedance with a turns ratio, and the no-load admittance at the primary terminals. When energised the core saturates: the fundamental of the inrush, 0.4 of its peak, is drawn as a reactive admittance that decays.",
    source: "Chapman, Electric Machinery Fundamentals, ch. 2; inrush: common practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    ac_branches: &[BranchDef { from: PRIMARY, to: SECONDARY }],
    hooks: Hooks {
        settle: Some(settle),
        control: Some(control),
        electric: Some(electric),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// Fundamental r.m.s. of an inrush current over its peak in multiples of rated r.m.s. current.
const FUNDAMENTAL: f64 = 0.4;
/// The core counts as magnetised above this share of voltage and as empty below half of it.
const LIVE_SHARE: f64 = 0.3;

fn settle(ctx: &mut Ctx<'_>) {
    let branch = ctx.wiring.ac_branches;
    ctx.nets.ac.branches[branch].series = Some(series(ctx));
    let closed = ctx.is(CLOSED);
    ctx.set_is(CORE, closed);
    ctx.switch(0, closed);
}

/// Series admittance on the secondary side, S.
fn series(ctx: &Ctx<'_>) -> Complex {
    let volts = ctx.nets.ac.nominal_v[ctx.node(SECONDARY)];
    let base_ohm = volts * volts / ctx.p(RATED_VA);
    let resistance = ctx.p(R) * (1.0 + 40.0 * ctx.fault(LOOSE));
    Complex::new(resistance, ctx.p(X)).scale(base_ohm).inverse()
}

fn rated_a(ctx: &Ctx<'_>) -> f64 {
    ctx.p(RATED_VA) / (super::electric::ROOT_3 * ctx.nets.ac.nominal_v[ctx.node(PRIMARY)])
}

fn control(ctx: &mut Ctx<'_>) {
    let closed = ctx.is(CLOSED);
    let (low, winding_s) = (ctx.node(SECONDARY), leak_s(ctx.fault(INSULATION)));
    ctx.nets.ac.add_leak(low, winding_s);
    let share = ctx.voltage_share(PRIMARY);
    let (branch, through) = (ctx.wiring.ac_branches, series(ctx));
    ctx.nets.ac.branches[branch].series = Some(through);
    if !closed || (share < 0.5 * LIVE_SHARE && ctx.tick >= FIRST_VOLTAGE_TICK) {
        ctx.set(CORE, 0.0);
    }
    let in_a = primary_current(ctx).abs() / super::electric::ROOT_3;
    let limit_a = ctx.p(OVERLOAD) * rated_a(ctx);
    let over_s = ctx.time_while(OVER_S, closed && in_a > limit_a);
    if over_s > 0.0 && over_s + ROUNDING_S >= ctx.p(OVERLOAD_T) {
        trip(ctx);
        ctx.find(F_TRIPPED, in_a, limit_a, over_s);
    } else if closed && ctx.fault(TRIPS) >= 0.5 {
        trip(ctx);
        ctx.find(F_NO_CAUSE, 0.0, 0.0, 0.0);
    }
}

fn trip(ctx: &mut Ctx<'_>) {
    ctx.set_is(CLOSED, false);
    ctx.set_is(TRIPPED, true);
    ctx.switch(0, false);
}

/// No-load admittance with what is left of the inrush, S on the primary side.
fn shunt(ctx: &Ctx<'_>) -> Complex {
    if !ctx.is(CLOSED) {
        return Complex::ZERO;
    }
    let volts = ctx.nets.ac.nominal_v[ctx.node(PRIMARY)];
    let (no_load, iron) = (ctx.p(NO_LOAD), ctx.p(IRON));
    let reactive = f64::sqrt((no_load * no_load - iron * iron).max(0.0));
    let inrush = FUNDAMENTAL * ctx.p(INRUSH) * ctx.s(RUSH);
    let shorted = 3.0 * ctx.fault(SHORTED);
    Complex::new(iron + 0.5 * shorted, -reactive - inrush - 0.87 * shorted)
        .scale(ctx.p(RATED_VA) / (volts * volts))
}

fn electric(ctx: &mut Ctx<'_>) {
    // The moment of energising shows in the voltage of the sub-step before, for a closed breaker.
    if ctx.is(CLOSED) && !ctx.is(CORE) && ctx.voltage_share(PRIMARY) > LIVE_SHARE {
        ctx.set(CORE, 1.0);
        ctx.set(RUSH, 1.0);
    }
    if ctx.s(RUSH) > 0.0 {
        let rest = ctx.s(RUSH) * libm::exp(-ctx.dt_s / ctx.p(INRUSH_TAU));
        ctx.set(RUSH, if rest < 1e-6 { 0.0 } else { rest });
    }
    let (node, y) = (ctx.node(PRIMARY), shunt(ctx));
    ctx.nets.ac.add_admittance(node, y);
}

fn primary_current(ctx: &Ctx<'_>) -> Complex {
    ctx.branch_current(0) + shunt(ctx) * ctx.nets.ac.voltage[ctx.node(PRIMARY)]
}

fn publish(ctx: &mut Ctx<'_>) {
    let current = primary_current(ctx);
    let primary = ctx.nets.ac.voltage[ctx.node(PRIMARY)];
    let secondary = ctx.nets.ac.voltage[ctx.node(SECONDARY)];
    let turns = ctx.nets.ac.nominal_v[ctx.node(PRIMARY)] / ctx.nets.ac.nominal_v[ctx.node(SECONDARY)];
    let power_w = (primary * current.conj()).re;
    let given_w = (secondary * ctx.branch_current(0).scale(turns).conj()).re;
    ctx.read_out(R_CLOSED, ctx.s(CLOSED));
    ctx.read_out(R_CURRENT, line_a(current));
    ctx.read_out(R_POWER, power_w);
    ctx.read_out(R_SECONDARY, secondary.abs());
    ctx.read_out(R_TRIPPED, ctx.s(TRIPPED));
    ctx.read_out(R_LOSS, power_w - given_w);
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    let mut add = |on: bool, code: &'static str, text: &str| {
        if on {
            blocks.push(Block { code, text: text.into() });
        }
    };
    match act.index {
        OPEN => add(!view.is(CLOSED), "already-open", "its breaker is open"),
        CLOSE => {
            add(view.is(CLOSED), "already-closed", "its breaker is closed");
            add(view.is(TRIPPED), "not-reset", "its breaker has tripped and is not reset");
            add(view.fault(FAILS_TO_CLOSE) >= 0.5, "fails-to-close", "its breaker does not latch");
        }
        _ => add(!view.is(TRIPPED), "not-tripped", "its breaker has not tripped"),
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        RESET => ctx.set_is(TRIPPED, false),
        index => {
            ctx.set_is(CLOSED, index == CLOSE);
            ctx.switch(0, index == CLOSE);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kinds::testkit::Rig;

    fn rig(transformer: &str, load: &str) -> Rig {
        let mut rig = Rig::new(&format!(
            r#"
[[node]]
names = ["cable", "bus"]
net = "ac"
[[node]]
name = "low"
net = "ac"
voltage = "220 V"
[[shore-supply]]
name = "shore"
cable = "cable"
bus = "bus"
[[transformer]]
name = "t"
primary = "bus"
secondary = "low"
{transformer}
[[load]]
name = "l"
supply = "low"
behaviour = "constant power"
{load}
"#
        ));
        rig.act("shore", 0, 0.0);
        rig.act("t", CLOSE, 0.0);
        rig.run(3.0);
        rig
    }

    /// transformer_vdrop.csv (pandapower 3.5.6, two-winding T model, 440/220 V, high-voltage side held at 1 pu,
    /// constant power on the low side): kVA, vk, vkr, load fraction, pf, low voltage pu, loss W.
    #[test]
    fn voltage_drops_as_in_the_reference() {
        let rows = [
            [100.0, 0.04, 0.013, 0.5, 0.8, 0.98290006, 636.64158],
            [100.0, 0.04, 0.013, 1.2, 1.0, 0.98286268, 2237.6459],
            [100.0, 0.04, 0.013, 1.2, 0.8, 0.95794833, 2340.5059],
            [50.0, 0.04, 0.02, 0.8, 1.0, 0.98313517, 812.14697],
            [50.0, 0.04, 0.02, 1.0, 0.8, 0.96141439, 1234.4924],
            [200.0, 0.05, 0.011, 0.5, 1.0, 0.99391662, 1156.4183],
            [200.0, 0.05, 0.011, 1.2, 0.8, 0.95088167, 4096.6763],
        ];
        let (mut worst_drop, mut worst_v): (f64, f64) = (0.0, 0.0);
        for [kva, vk, vkr, fraction, pf, expected, loss] in rows {
            let x = f64::sqrt(vk * vk - vkr * vkr);
            let mut rig = rig(
                &format!(
                    "rated-power = \"{kva} kVA\"\nresistance = \"{} %\"\nreactance = \"{} %\"\nno-load = \"1 %\"",
                    100.0 * vkr,
                    100.0 * x
                ),
                &format!("power = \"{} kW\"\npower-factor = \"{} %\"", kva * fraction * pf, 100.0 * pf),
            );
            rig.act("l", 0, 0.0);
            rig.run(1.0);
            let found = rig.value("t.secondary-voltage") / 220.0;
            worst_v = worst_v.max((found - expected).abs());
            worst_drop = worst_drop.max(((1.0 - found) / (1.0 - expected) - 1.0).abs());
            assert!((found - expected).abs() < 0.001 || worst_drop < 0.02, "{kva}: {found} for {expected}");
            let found_loss = rig.value("t.loss");
            assert!((found_loss / loss - 1.0).abs() < 0.02, "loss {found_loss} for {loss}");
        }
        eprintln!(
            "transformer: worst {:.4} % of voltage, {:.2} % of the drop",
            100.0 * worst_v,
            100.0 * worst_drop
        );
    }

    #[test]
    fn inrush_comes_and_goes() {
        let mut rig = rig("rated-power = \"75 kVA\"", "power = \"1 kW\"");
        assert!(rig.value("t.current") < 2.0);
        rig.act("t", OPEN, 0.0);
        rig.run(1.0);
        rig.act("t", CLOSE, 0.0);
        rig.tick();
        let rated = 75e3 / 440.0 / 1.7320508;
        let rush = rig.value("t.current") / rated;
        assert!((2.0..4.2).contains(&rush), "{rush}");
        rig.run(1.0);
        assert!(rig.value("t.current") < 0.1 * rated, "{}", rig.value("t.current"));
    }
}
