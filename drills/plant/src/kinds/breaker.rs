//! A feeder's circuit breaker.

use super::declare::*;
use super::electric::{CURVE_WORDS, CURVES, ROOT_3, ROUNDING_S, block_without_control, leak_s, line_a};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, KindDef, LinkDef, Net, ParamDef, PortDef,
    Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::nets::ac::Complex;
use crate::unit::Dimension;

/// Words of the reading `tripped`.
pub const TRIP_WORDS: &[&str] =
    &["no", "overcurrent", "instantaneous overcurrent", "preferential trip", "no voltage", "without cause"];

declare!(PORTS: PortDef {
    FROM = port("from", Net::Ac, 0, "Side of the supply; positive power goes in here."),
    TO = port("to", Net::Ac, 0, "Side of the consumers."),
    CONTROL_SUPPLY = free_port("control", Net::Dc, 0, "Control supply of its closing coil; free: always there."),
});
declare!(PARAMS: ParamDef {
    RATED_A = quantity("rated-current", Dimension::Current, 0.5, 20e3, "Rated current of its release, In."),
    CURVE = choice("curve", CURVE_WORDS, 1, "Curve of the overcurrent element (IEC 60255-151, IEEE C37.112)."),
    PICK_UP = quantity_or("pick-up", Dimension::Ratio, (0.5, 3.0), 1.10, "Pick-up of the overcurrent element, share of In."),
    TMS = quantity_or("multiplier", Dimension::None, (0.01, 10.0), 0.10, "Its time multiplier; common practice, no source."),
    INSTANT = quantity_or("instantaneous", Dimension::Ratio, (1.5, 50.0), 10.0, "Instantaneous trip, share of In."),
    NEEDS_CONTROL = flag("needs-control", false, "It closes by a coil that needs control supply; otherwise by hand alone."),
    NO_VOLT = flag("no-volt-release", false, "It opens when its supply is lost (below 60 % for 0.5 s) and must be closed again by hand."),
    SHED_STAGE = whole("shed-stage", (1, 2), 1, "Stage of preferential trip at which it opens."),
});
declare!(LINKS: LinkDef {
    SHED_1 = watch("shed-by", false, "Reading that sheds it: `shed-stage` of a generator's breaker."),
    SHED_2 = watch("shed-by-2", false, "Another one."),
    SHED_3 = watch("shed-by-3", false, "Another one."),
    SHED_4 = watch("shed-by-4", false, "Another one."),
});
declare!(STATE: StateDef {
    CLOSED = state_flag("closed", false, "The breaker is closed."),
    TRIPPED = state_choice("tripped", TRIP_WORDS, 0, "By what it was tripped; no voltage stays until it is closed again, all else until it is reset."),
    TRAVEL = inner("travel", 0.0, "Travel of the overcurrent element; trips at 1."),
    OVER_S = inner("overcurrent-time", 0.0, "How long it has been picked up."),
    NO_VOLT_S = inner("no-volt-time", 0.0, "How long the voltage has been too low."),
});
declare!(ACTS: ActDef {
    OPEN = act(Verb::Open, Reach::Remote, 2.0, "Open the breaker."),
    CLOSE = act(Verb::Close, Reach::Remote, 2.0, "Close the breaker."),
    RESET = act(Verb::Reset, Reach::Local, 5.0, "Put the breaker back after it tripped."),
});
declare!(FAULTS: FaultDef {
    FAILS_TO_CLOSE = fault("fails-to-close", 1.0, "The mechanism does not latch: it does not close."),
    TRIPS = fault("trips", 1.0, "It trips without cause."),
    NO_TRIP = fault("does-not-trip", 1.0, "The trip is jammed; by hand it opens."),
    SHORT = fault("short-circuit", 1.0, "A short circuit in its feeder, at 100 % almost nothing between the lines: it trips at once, and again when it is closed on it."),
    INSULATION = fault("insulation-low", 0.7, "Its feeder's cable is damp or chafed: 20 megohm to earth fall to 1 kilohm at 100 %, 17 kilohm at 70 %. The board's insulation rises when it is opened."),
});
declare!(READINGS: ReadingDef {
    R_CLOSED = reading_words("closed", NO_YES, Seen::Remote, "Is it closed?"),
    R_TRIPPED = reading_words("tripped", TRIP_WORDS, Seen::Remote, "By what was it tripped?").latched(),
    R_CURRENT = reading("current", Dimension::Current, Seen::Remote, "Line current."),
    R_POWER = reading("power", Dimension::Power, Seen::Remote, "Power through it."),
    R_VOLTAGE = reading("voltage", Dimension::Voltage, Seen::Remote, "Voltage on the side of the supply."),
});
declare!(FINDINGS: FindingDef {
    F_OVER = finding("tripped-overcurrent", Dimension::Current, "tripped by overcurrent: {measured}, picks up at {limit}"),
    F_INSTANT = finding("tripped-instantaneous", Dimension::Current, "tripped by overcurrent at once: {measured}, limit {limit}"),
    F_SHED = finding("shed", Dimension::None, "opened by preferential trip, stage {measured}"),
    F_NO_VOLT = finding("tripped-no-voltage", Dimension::Voltage, "opened by its no-volt release: {measured}, limit {limit}"),
    F_NO_CAUSE = finding("tripped", Dimension::None, "tripped without cause"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "breaker",
    doc: "A feeder's circuit breaker with overcurrent release; may be shed by preferential trip.",
    physics: "An ideal switch. Inverse-time element integrated over the tick, instantaneous element without delay.",
    source: "IEC 60255-151, IEC 60947-2 (from memory)",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    ac_branches: &[BranchDef { from: FROM, to: TO }],
    hooks: Hooks {
        settle: Some(settle),
        control: Some(control),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// No-volt release: share of voltage and delay (band of IEC 60947-2, from memory; delay: common practice, no source).
const NO_VOLT_SHARE: f64 = 0.6;
const NO_VOLT_DELAY_S: f64 = 0.5;

fn settle(ctx: &mut Ctx<'_>) {
    let closed = ctx.is(CLOSED);
    ctx.switch(0, closed);
}

/// Why it must open now: word of the reading, finding, measured, limit, since.
type Trip = (usize, usize, f64, f64, f64);

/// Impedance of a whole short circuit, share of rated.
const SHORT_SHARE: f64 = 0.02;

fn short_circuit(ctx: &mut Ctx<'_>) {
    let severity = ctx.fault(SHORT);
    if severity <= 0.0 {
        return;
    }
    let node = ctx.node(TO);
    let base_ohm = ctx.nets.ac.nominal_v[node] / (ROOT_3 * ctx.p(RATED_A));
    let y = Complex::new(0.7, 0.7).scale(SHORT_SHARE * base_ohm / severity).inverse();
    ctx.nets.ac.add_standing(node, y);
}

fn control(ctx: &mut Ctx<'_>) {
    short_circuit(ctx);
    let (feeder, cable_s) = (ctx.node(TO), leak_s(ctx.fault(INSULATION)));
    ctx.nets.ac.add_leak(feeder, cable_s);
    if !ctx.is(CLOSED) {
        ctx.set(TRAVEL, 0.0);
        ctx.set(OVER_S, 0.0);
        ctx.set(NO_VOLT_S, 0.0);
        return;
    }
    let trip = overcurrent(ctx)
        .or(no_volt(ctx))
        .or(shedding(ctx))
        .or((ctx.fault(TRIPS) >= 0.5).then_some((5, F_NO_CAUSE, 0.0, 0.0, 0.0)));
    if let (Some((word, finding, measured, limit, since_s)), true) = (trip, ctx.fault(NO_TRIP) < 0.5) {
        ctx.set(TRIPPED, word as f64);
        ctx.set_is(CLOSED, false);
        ctx.switch(0, false);
        ctx.find(finding, measured, limit, since_s);
    }
}

fn overcurrent(ctx: &mut Ctx<'_>) -> Option<Trip> {
    let in_a = line_a(ctx.branch_current(0));
    let (instant_a, limit_a) = (ctx.p(INSTANT) * ctx.p(RATED_A), ctx.p(PICK_UP) * ctx.p(RATED_A));
    let since_s = ctx.time_while(OVER_S, in_a > limit_a);
    let curve = &CURVES[ctx.p(CURVE) as usize];
    let travel = curve.travel(ctx.s(TRAVEL), in_a / limit_a, ctx.p(TMS), ctx.dt_s);
    ctx.set(TRAVEL, travel);
    if in_a > instant_a {
        return Some((2, F_INSTANT, in_a, instant_a, 0.0));
    }
    (travel >= 1.0).then_some((1, F_OVER, in_a, limit_a, since_s))
}

fn no_volt(ctx: &mut Ctx<'_>) -> Option<Trip> {
    let share = ctx.voltage_share(FROM);
    let low = ctx.p_is(NO_VOLT) && share < NO_VOLT_SHARE;
    let since_s = ctx.time_while(NO_VOLT_S, low);
    let nominal_v = ctx.nets.ac.nominal_v[ctx.node(FROM)];
    let due = low && since_s + ROUNDING_S >= NO_VOLT_DELAY_S;
    due.then_some((4, F_NO_VOLT, share * nominal_v, NO_VOLT_SHARE * nominal_v, since_s))
}

fn shedding(ctx: &Ctx<'_>) -> Option<Trip> {
    let stage = [SHED_1, SHED_2, SHED_3, SHED_4]
        .into_iter()
        .filter(|&link| ctx.has_link(link))
        .map(|link| ctx.watched(link))
        .fold(0.0, f64::max);
    let own = ctx.p(SHED_STAGE);
    (stage + 0.5 > own && stage > 0.5).then_some((3, F_SHED, stage, own, 0.0))
}

fn publish(ctx: &mut Ctx<'_>) {
    let current = ctx.branch_current(0);
    let volts = ctx.nets.ac.voltage[ctx.node(FROM)];
    ctx.read_out(R_CLOSED, ctx.s(CLOSED));
    ctx.read_out(R_TRIPPED, ctx.s(TRIPPED));
    ctx.read_out(R_CURRENT, line_a(current));
    ctx.read_out(R_POWER, (volts * current.conj()).re);
    ctx.read_out(R_VOLTAGE, volts.abs());
}

/// All latch but the no-volt release, which is put back by closing.
fn latched(tripped: f64) -> bool {
    matches!(tripped as usize, 1 | 2 | 3 | 5)
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    match act.index {
        OPEN if !view.is(CLOSED) => blocks.push(Block { code: "already-open", text: "it is open".into() }),
        OPEN => {}
        CLOSE if view.is(CLOSED) => {
            blocks.push(Block { code: "already-closed", text: "it is closed".into() })
        }
        CLOSE => permit_close(view, blocks),
        _ if view.s(TRIPPED) < 0.5 => {
            blocks.push(Block { code: "not-tripped", text: "it has not tripped".into() })
        }
        _ => {}
    }
}

fn permit_close(view: &View<'_>, blocks: &mut Vec<Block>) {
    if latched(view.s(TRIPPED)) {
        let word = TRIP_WORDS.get(view.s(TRIPPED) as usize).unwrap_or(&"?");
        blocks.push(Block { code: "not-reset", text: format!("it was tripped ({word}) and is not reset") });
    }
    if view.fault(FAILS_TO_CLOSE) >= 0.5 {
        blocks.push(Block { code: "fails-to-close", text: "the mechanism does not latch".into() });
    }
    if view.p_is(NEEDS_CONTROL) {
        block_without_control(view, CONTROL_SUPPLY, blocks);
    }
    if view.p_is(NO_VOLT) && view.voltage_share(FROM) < 0.85 {
        let nominal_v = view.nets.ac.nominal_v[view.node(FROM)];
        let text = format!(
            "its no-volt release has {:.0} V, holds from {:.0} V",
            view.voltage_share(FROM) * nominal_v,
            0.85 * nominal_v
        );
        blocks.push(Block { code: "no-voltage", text });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        OPEN | CLOSE => {
            ctx.set_is(CLOSED, act.index == CLOSE);
            ctx.switch(0, act.index == CLOSE);
            if act.index == CLOSE {
                ctx.set(TRIPPED, 0.0);
            }
        }
        _ => ctx.set(TRIPPED, 0.0),
    }
}
