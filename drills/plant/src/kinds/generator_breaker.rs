//! A source's circuit breaker: closing conditions, check relay, protection, preferential trip.
//!
//! The declaration is in this file; what must hold before it closes is in `closing`, what opens it in `protection`.

mod closing;
mod protection;

use super::declare::*;
use super::electric::{CURVE_WORDS, block_without_control, line_a};
use super::generator;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, KindDef, LinkDef, NeedDef, Net, ParamDef,
    PortDef, Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::nets::ac::Complex;
use crate::unit::Dimension;
use std::f64::consts::PI;

/// Words of the reading `tripped`.
pub const TRIP_WORDS: &[&str] = &[
    "no",
    "long-time overcurrent",
    "short-time overcurrent",
    "instantaneous overcurrent",
    "reverse power",
    "under-voltage",
    "under-frequency",
    "over-frequency",
    "field loss",
    "without cause",
    "differential",
];
/// Words of the act and the reading about the check relay.
const CHECK_WORDS: &[&str] = &["in circuit", "bypassed"];
/// Words of the reading `closing-check`.
pub const CLOSING_WORDS: &[&str] = &[
    "closed",
    "machine not ready",
    "bus dead",
    "bus half live",
    "angle",
    "slip",
    "voltage difference",
    "in step",
    "bypassed",
];

declare!(PORTS: PortDef {
    GENERATOR = port("generator", Net::Ac, 0, "Terminals of the machine."),
    BUS = port("bus", Net::Ac, 0, "Busbar."),
    CONTROL_SUPPLY = free_port("control", Net::Dc, 0, "Control supply of closing coil, shunt trip and relays; free: always there."),
});
declare!(LINKS: LinkDef {
    MACHINE = link("machine", &["generator"], false, "Its generator: for differential protection and the peak of the current."),
    INSULATION_CHECK = watch("insulation-check", false, "A hand closes it on a dead bus only while this reading is above 0.5: `closing-allowed` of an insulation monitor."),
});
declare!(PARAMS: ParamDef {
    RATED_A = quantity("rated-current", Dimension::Current, 1.0, 20e3, "Rated current of the machine, In."),
    RATED_W = quantity("rated-power", Dimension::Power, 100.0, 50e6, "Rated power of the machine."),
    CURVE = choice("long-time-curve", CURVE_WORDS, 1, "Curve of the long-time overcurrent (IEC 60255-151, IEEE C37.112)."),
    LONG = quantity_or("long-time-pick-up", Dimension::Ratio, (0.5, 3.0), 1.10, "Pick-up, share of In."),
    TMS = quantity_or("long-time-multiplier", Dimension::None, (0.01, 10.0), 0.18, "Time multiplier."),
    SHORT = quantity_or("short-time-pick-up", Dimension::Ratio, (1.0, 20.0), 2.5, "Pick-up, share of In."),
    SHORT_T = quantity_or("short-time-delay", Dimension::Time, (0.0, 5.0), 0.40, "Delay."),
    INSTANT = quantity_or("instantaneous-pick-up", Dimension::Ratio, (1.5, 50.0), 10.0, "Pick-up, share of In."),
    REVERSE = quantity_or("reverse-power", Dimension::Ratio, (0.01, 0.5), 0.10, "Power into the machine, share of rated."),
    REVERSE_T = quantity_or("reverse-power-delay", Dimension::Time, (0.0, 60.0), 6.0, "Delay."),
    UNDER_V = quantity_or("under-voltage", Dimension::Ratio, (0.2, 0.95), 0.60, "Under-voltage release (between 70 and 35 %, IEC 60947-2, from memory)."),
    UNDER_V_T = quantity_or("under-voltage-delay", Dimension::Time, (0.0, 10.0), 0.5, "Delay, longer than that of the short-time element."),
    UNDER_F = quantity_or("under-frequency", Dimension::Frequency, (20.0, 70.0), 54.5, "Under-frequency trip."),
    UNDER_F_T = quantity_or("under-frequency-delay", Dimension::Time, (0.0, 60.0), 8.0, "Delay."),
    OVER_F = quantity_or("over-frequency", Dimension::Frequency, (45.0, 80.0), 65.0, "Over-frequency trip."),
    OVER_F_T = quantity_or("over-frequency-delay", Dimension::Time, (0.0, 60.0), 8.0, "Delay."),
    FIELD_LOSS = quantity_or("field-loss", Dimension::Ratio, (0.05, 1.0), 0.30, "Reactive power into the machine, share of rated kVA."),
    FIELD_LOSS_T = quantity_or("field-loss-delay", Dimension::Time, (0.0, 60.0), 4.0, "Delay."),
    SHED_I = quantity_or("shed-current", Dimension::Ratio, (0.5, 2.0), 1.05, "Preferential trip: share of In."),
    SHED_F = quantity_or("shed-frequency", Dimension::Frequency, (20.0, 70.0), 57.0, "Preferential trip: frequency."),
    SHED_1_T = quantity_or("shed-1-delay", Dimension::Time, (0.0, 60.0), 5.0, "Delay of stage 1 by current."),
    SHED_2_T = quantity_or("shed-2-delay", Dimension::Time, (0.0, 60.0), 10.0, "Delay of stage 2 by current."),
    SHED_F_1_T = quantity_or("shed-frequency-1-delay", Dimension::Time, (0.0, 60.0), 3.0, "Delay of stage 1 by frequency."),
    SHED_F_2_T = quantity_or("shed-frequency-2-delay", Dimension::Time, (0.0, 60.0), 6.0, "Delay of stage 2 by frequency."),
    CLOSE_LOW = quantity_or("closing-low", Dimension::Ratio, (0.5, 1.0), 0.85, "Lowest voltage and frequency of the machine for closing."),
    CLOSE_HIGH = quantity_or("closing-high", Dimension::Ratio, (1.0, 1.3), 1.10, "Highest voltage and frequency of the machine for closing."),
    DEAD = quantity_or("dead-bus", Dimension::Ratio, (0.01, 0.5), 0.15, "Below this share of voltage a bus is dead."),
    SYNC_ANGLE = quantity_or("check-angle", Dimension::Angle, (0.01, 1.0), 10.0 * PI / 180.0, "Check relay: largest angle."),
    SYNC_SLIP_LOW = quantity_or("check-slip-low", Dimension::Frequency, (-1.0, 1.0), 0.05, "Check relay: least slip, machine faster than bus."),
    SYNC_SLIP_HIGH = quantity_or("check-slip-high", Dimension::Frequency, (0.01, 2.0), 0.25, "Check relay: largest slip."),
    SYNC_V = quantity_or("check-voltage", Dimension::Ratio, (0.005, 0.2), 0.05, "Check relay: largest difference of voltage."),
    LEAD = quantity_or("closing-time", Dimension::Time, (0.0, 0.5), 0.0, "From the order to the contact; the check relay judges the angle this much ahead."),
    DIFFERENTIAL = quantity_or("differential", Dimension::Ratio, (0.0, 1.0), 0.10, "Differential protection: share of In at which it begins; 0: none (usual below 500 kVA)."),
    DIFFERENTIAL_SLOPE = quantity_or("differential-slope", Dimension::Ratio, (0.0, 1.0), 0.20, "How much of the current that passes through is added to it."),
    DIFFERENTIAL_T = quantity_or("differential-delay", Dimension::Time, (0.0, 1.0), 0.05, "Its delay."),
});
declare!(STATE: StateDef {
    CLOSED = state_flag("closed", false, "The breaker is closed."),
    TRIPPED = state_choice("tripped", TRIP_WORDS, 0, "By what it was tripped; stays until reset at the breaker."),
    TRAVEL = inner("long-time-travel", 0.0, "Travel of the long-time element; trips at 1."),
    LONG_S = inner("long-time-time", 0.0, "How long it has been picked up."),
    SHORT_S = inner("short-time-time", 0.0, "How long the short-time element has been picked up."),
    REVERSE_S = inner("reverse-power-time", 0.0, "How long power has been reversed."),
    UNDER_V_S = inner("under-voltage-time", 0.0, "How long the voltage has been too low."),
    UNDER_F_S = inner("under-frequency-time", 0.0, "How long the frequency has been too low."),
    OVER_F_S = inner("over-frequency-time", 0.0, "How long the frequency has been too high."),
    FIELD_LOSS_S = inner("field-loss-time", 0.0, "How long reactive power has been flowing in."),
    SHED_I_S = inner("shed-current-time", 0.0, "How long the machine has been overloaded."),
    SHED_F_S = inner("shed-frequency-time", 0.0, "How long the frequency has been below the limit of shedding."),
    STAGE = inner("shed-stage", 0.0, "Stage of preferential trip now."),
    CHECK = state_choice("check-relay", CHECK_WORDS, 0, "Is the check relay in circuit?"),
    CLOSING_S = inner("closing-time", -1.0, "Time until the contacts meet; negative when nothing was ordered."),
    ORDERED_DEAD = inner("ordered-dead", 0.0, "The closing order was given for a dead bus."),
    DIFFERENTIAL_S = inner("differential-time", 0.0, "How long the differential element has been picked up."),
    SHOCK_S = inner("shock-time", -1.0, "Time since it closed on a live bus; negative when that is over."),
    SHOCK_A = inner("shock-current", 0.0, "Highest current since it closed on a live bus."),
});
declare!(ACTS: ActDef {
    CLOSE = act(Verb::Close, Reach::Remote, 2.0, "Close the breaker."),
    OPEN = act(Verb::Open, Reach::Remote, 1.0, "Open the breaker."),
    RESET = act(Verb::Reset, Reach::Local, 5.0, "Put the breaker back after a trip."),
    SET_CHECK = set_choice("check-relay", CHECK_WORDS, Reach::Local, 3.0, "Bypass the check relay, or put it in circuit again. Bypassed, it closes at any angle: the shock is yours."),
});
declare!(FAULTS: FaultDef {
    FAILS_TO_CLOSE = fault("fails-to-close", 1.0, "The closing coil is burnt: it does not close, and says so when asked."),
    TRIPS = fault("trips", 1.0, "It trips without cause."),
    NO_TRIP = fault("does-not-trip", 1.0, "The trip is jammed: protection picks up but the breaker stays closed. By hand it opens."),
    BUSBAR = fault("busbar-short-circuit", 1.0, "A short circuit on the busbar beside it: voltage falls to nothing, every source trips by its short-time element."),
    CHECK_BLIND = fault("check-relay-blind", 1.0, "The check relay lets everything pass: it closes out of synchronism."),
});
declare!(NEEDS: NeedDef {
    NEED_CONTROL = need("control-supply", "Control voltage for the closing coil and the relays."),
});
declare!(READINGS: ReadingDef {
    R_CLOSED = reading_words("closed", NO_YES, Seen::Remote, "Is it closed?"),
    R_TRIPPED = reading_words("tripped", TRIP_WORDS, Seen::Remote, "By what was it tripped?").latched(),
    R_POWER = reading("power", Dimension::Power, Seen::Remote, "Power to the bus."),
    R_CURRENT = reading("current", Dimension::Current, Seen::Remote, "Line current."),
    R_READY = reading_words("ready-to-close", NO_YES, Seen::Remote, "Are all closing conditions met?"),
    R_ANGLE = reading("angle", Dimension::Angle, Seen::Remote, "Angle of the machine ahead of the bus; 0 while either is dead."),
    R_SLIP = reading("slip", Dimension::Frequency, Seen::Remote, "Frequency of the machine less that of the bus; 0 while either is dead."),
    R_STAGE = reading("shed-stage", Dimension::None, Seen::Local, "Stage of preferential trip: 0, 1 or 2."),
    R_BUS_VOLTAGE = reading("bus-voltage", Dimension::Voltage, Seen::Remote, "Voltage of the bus."),
    R_BUS_FREQUENCY = reading("bus-frequency", Dimension::Frequency, Seen::Remote, "Frequency of the bus."),
    R_DIFFERENCE = reading("voltage-difference", Dimension::Voltage, Seen::Remote, "Voltage of the machine less that of the bus; 0 while either is dead."),
    R_CLOSING = reading_words("closing-check", CLOSING_WORDS, Seen::Remote, "What the check relay says; on a live bus the first thing that is out."),
    R_CHECK = reading_words("check-relay", CHECK_WORDS, Seen::Remote, "Is the check relay in circuit?"),
    R_RATED = reading("rated", Dimension::Power, Seen::Hidden, "Rated power of the machine."),
    R_LEAD = reading("closing-time", Dimension::Time, Seen::Hidden, "From the order to the contact."),
});
declare!(FINDINGS: FindingDef {
    F_LONG = finding("tripped-long-time", Dimension::Current, "tripped by overcurrent, long time: {measured}, picks up at {limit}"),
    F_SHORT = finding("tripped-short-time", Dimension::Current, "tripped by overcurrent, short time: {measured}, limit {limit}"),
    F_INSTANT = finding("tripped-instantaneous", Dimension::Current, "tripped by overcurrent at once: {measured}, limit {limit}"),
    F_REVERSE = finding("tripped-reverse-power", Dimension::Power, "tripped by reverse power: {measured}, limit {limit}"),
    F_UNDER_V = finding("tripped-under-voltage", Dimension::Voltage, "tripped by its under-voltage release: {measured}, limit {limit}"),
    F_UNDER_F = finding("tripped-under-frequency", Dimension::Frequency, "tripped by under-frequency: {measured}, limit {limit}"),
    F_OVER_F = finding("tripped-over-frequency", Dimension::Frequency, "tripped by over-frequency: {measured}, limit {limit}"),
    F_FIELD = finding("tripped-field-loss", Dimension::ReactivePower, "tripped by loss of field: {measured}, limit {limit}"),
    F_NO_CAUSE = finding("tripped", Dimension::None, "tripped without cause"),
    F_SHED_1 = finding("shed-1", Dimension::Current, "preferential trip, stage 1: {measured}, limit {limit}"),
    F_SHED_2 = finding("shed-2", Dimension::Current, "preferential trip, stage 2: {measured}, limit {limit}"),
    F_DIFFERENTIAL = finding("tripped-differential", Dimension::Current, "tripped by differential protection: {measured}, limit {limit}"),
    F_BYPASSED = finding("check-relay-bypassed", Dimension::None, "its check relay was bypassed"),
    F_IN_CIRCUIT = finding("check-relay-in-circuit", Dimension::None, "its check relay was put in circuit again"),
    F_OUT_OF_PHASE = finding("closed-out-of-phase", Dimension::Angle, "closed out of phase: {measured}, the check relay allows {limit}"),
    F_OUT_OF_SLIP = finding("closed-out-of-slip", Dimension::Frequency, "closed with a slip of {measured}, the check relay allows {limit}"),
    F_OUT_OF_VOLTAGE = finding("closed-out-of-voltage", Dimension::Voltage, "closed with a voltage difference of {measured}, the check relay allows {limit}"),
    F_SHOCK = finding("closing-shock", Dimension::Current, "closing gave a current of {measured}, rated {limit}"),
    F_NOT_CLOSED = finding("closing-broken-off", Dimension::Voltage, "did not close: the bus had come alive, {measured}"),
    F_CLOSED = finding("closed", Dimension::Voltage, "closed with {measured} at the machine"),
    F_OPENED = finding("opened", Dimension::Power, "opened at {measured}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "generator-breaker",
    doc: "A generator's circuit breaker with closing conditions, check relay, protection and preferential trip.",
    physics: "An ideal switch with a closing time. On a dead bus one source closes, the first one; on a live bus the check relay must agree unless a hand has bypassed it: then it closes at any angle, and the nets give the shock. Overcurrent elements and the under-voltage release work without control supply; power, frequency and differential relays need it.",
    source: "IEC 60255-151 (inverse time); IEC 60947-2 (release bands, from memory); settings: common practice, no source",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    ac_branches: &[BranchDef { from: GENERATOR, to: BUS }],
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

fn settle(ctx: &mut Ctx<'_>) {
    let (branch, closed) = (ctx.wiring.ac_branches, ctx.is(CLOSED));
    ctx.nets.ac.mark_source_breaker(branch);
    ctx.switch(0, closed);
}

fn control(ctx: &mut Ctx<'_>) {
    ctx.draw_dc(CONTROL_SUPPLY, 0.5);
    let has_control = ctx.has_control_voltage(CONTROL_SUPPLY);
    ctx.need(NEED_CONTROL, has_control);
    short_circuit(ctx);
    closing::advance(ctx);
    protection::watch(ctx);
    closing::watch_shock(ctx);
}

/// A short circuit on the busbar: almost nothing between the lines.
fn short_circuit(ctx: &mut Ctx<'_>) {
    let severity = ctx.fault(BUSBAR);
    if severity <= 0.0 {
        return;
    }
    let bus = ctx.node(BUS);
    let base_ohm = ctx.nets.ac.nominal_v[bus] / (super::electric::ROOT_3 * ctx.p(RATED_A));
    let y = Complex::new(0.5, 0.5).scale(0.02 * base_ohm / severity).inverse();
    ctx.nets.ac.add_standing(bus, y);
}

fn publish(ctx: &mut Ctx<'_>) {
    let (machine, bus) = (ctx.node(GENERATOR), ctx.node(BUS));
    let current = ctx.branch_current(0);
    let power = ctx.nets.ac.voltage[bus] * current.conj();
    let against = closing::against_bus(&ctx.nets.ac, machine, bus);
    let (angle, slip) = against.unwrap_or((0.0, 0.0));
    let volts = |node: usize| ctx.nets.ac.volts[node];
    let difference_v = if against.is_some() { volts(machine) - volts(bus) } else { 0.0 };
    let says = closing::says(ctx);
    ctx.read_out(R_CLOSED, ctx.s(CLOSED));
    ctx.read_out(R_TRIPPED, ctx.s(TRIPPED));
    ctx.read_out(R_POWER, power.re);
    ctx.read_out(R_CURRENT, line_a(current));
    ctx.read_out_is(R_READY, says.ready);
    ctx.read_out(R_ANGLE, angle);
    ctx.read_out(R_SLIP, slip);
    ctx.read_out(R_STAGE, ctx.s(STAGE));
    ctx.read_out(R_BUS_VOLTAGE, ctx.nets.ac.volts[bus]);
    ctx.read_out(R_BUS_FREQUENCY, ctx.nets.ac.frequency_hz[bus]);
    ctx.read_out(R_DIFFERENCE, difference_v);
    ctx.read_out(R_CLOSING, says.word as f64);
    ctx.read_out(R_CHECK, ctx.s(CHECK));
    ctx.read_out(R_RATED, ctx.p(RATED_W));
    ctx.read_out(R_LEAD, ctx.p(LEAD));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    match act.index {
        CLOSE => closing::permit(view, act, blocks),
        OPEN => {
            if !view.is(CLOSED) {
                blocks.push(Block { code: "already-open", text: "it is open".into() });
            }
            if act.remote {
                block_without_control(view, CONTROL_SUPPLY, blocks);
            }
        }
        RESET if view.s(TRIPPED) < 0.5 => {
            blocks.push(Block { code: "not-tripped", text: "it has not tripped".into() });
        }
        _ => {}
    }
}

/// What stands in the way of closing, for a panel that closes it from afar.
pub(super) fn closing_blocks(view: &View<'_>, blocks: &mut Vec<Block>) {
    closing::permit(view, Act { index: CLOSE, value: 0.0, remote: true }, blocks);
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        CLOSE => closing::order(ctx),
        OPEN => {
            let watts = (ctx.nets.ac.voltage[ctx.node(BUS)] * ctx.branch_current(0).conj()).re;
            ctx.set_is(CLOSED, false);
            ctx.switch(0, false);
            ctx.find(F_OPENED, watts, 0.0, 0.0);
        }
        RESET => ctx.set(TRIPPED, 0.0),
        _ => {
            if act.value != ctx.s(CHECK) {
                ctx.find(if act.value > 0.5 { F_BYPASSED } else { F_IN_CIRCUIT }, 0.0, 0.0, 0.0);
            }
            ctx.set(CHECK, act.value);
        }
    }
}

#[cfg(test)]
mod tests;
