//! A source's circuit breaker: closing conditions, protection, preferential trip.

mod protection;

use super::declare::*;
use super::electric::{CURVE_WORDS, block_without_control, line_a};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, KindDef, NeedDef, Net, ParamDef, PortDef,
    Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;
use std::f64::consts::{PI, TAU};

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
];

declare!(PORTS: PortDef {
    GENERATOR = port("generator", Net::Ac, 0, "Terminals of the machine."),
    BUS = port("bus", Net::Ac, 0, "Busbar."),
    CONTROL_SUPPLY = free_port("control", Net::Dc, 0, "Control supply of closing coil, shunt trip and relays; free: always there."),
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
    LEAD = quantity_or("closing-time", Dimension::Time, (0.0, 0.5), 0.0, "Check relay: the angle is judged this much ahead. The model's breaker closes at once."),
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
});
declare!(ACTS: ActDef {
    CLOSE = act(Verb::Close, Reach::Remote, 2.0, "Close the breaker."),
    OPEN = act(Verb::Open, Reach::Remote, 1.0, "Open the breaker."),
    RESET = act(Verb::Reset, Reach::Local, 5.0, "Put the breaker back after a trip."),
});
declare!(FAULTS: FaultDef {
    FAILS_TO_CLOSE = fault("fails-to-close", 1.0, "The closing coil is burnt: it does not close, and says so when asked."),
    TRIPS = fault("trips", 1.0, "It trips without cause."),
    NO_TRIP = fault("does-not-trip", 1.0, "The trip is jammed: protection picks up but the breaker stays closed. By hand it opens."),
    CHECK_BLIND = fault("check-relay-blind", 1.0, "The check relay lets everything pass: it closes out of synchronism."),
});
declare!(NEEDS: NeedDef {
    NEED_CONTROL = need("control-supply", "Control voltage for the closing coil and the relays."),
});
declare!(READINGS: ReadingDef {
    R_CLOSED = reading_words("closed", NO_YES, Seen::Remote, "Is it closed?"),
    R_TRIPPED = reading_words("tripped", TRIP_WORDS, Seen::Remote, "By what was it tripped?"),
    R_POWER = reading("power", Dimension::Power, Seen::Remote, "Power to the bus."),
    R_CURRENT = reading("current", Dimension::Current, Seen::Remote, "Line current."),
    R_READY = reading_words("ready-to-close", NO_YES, Seen::Remote, "Are all closing conditions met?"),
    R_ANGLE = reading("angle", Dimension::Angle, Seen::Remote, "Angle of the machine ahead of the bus; 0 while either is dead."),
    R_SLIP = reading("slip", Dimension::Frequency, Seen::Remote, "Frequency of the machine less that of the bus; 0 while either is dead."),
    R_STAGE = reading("shed-stage", Dimension::None, Seen::Local, "Stage of preferential trip: 0, 1 or 2."),
    R_BUS_VOLTAGE = reading("bus-voltage", Dimension::Voltage, Seen::Remote, "Voltage of the bus."),
    R_BUS_FREQUENCY = reading("bus-frequency", Dimension::Frequency, Seen::Remote, "Frequency of the bus."),
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
    F_CLOSED = finding("closed", Dimension::Voltage, "closed with {measured} at the machine"),
    F_OPENED = finding("opened", Dimension::Power, "opened at {measured}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "generator-breaker",
    doc: "A generator's circuit breaker with closing conditions, check relay, protection and preferential trip.",
    physics: "An ideal switch. On a dead bus one source closes, the first one; on a live bus the check relay must agree. Overcurrent elements and the under-voltage release work without control supply; power and frequency relays need it. Differential and earth-fault protection are left out.",
    source: "IEC 60255-151 (inverse time); IEC 60947-2 (release bands, from memory); settings: common practice, no source",
    ports: PORTS,
    params: PARAMS,
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
    protection::watch(ctx);
}

/// Angle and slip of the machine against the bus; `None` while either is dead.
fn against_bus(nets: &crate::nets::ac::AcNet, machine: usize, bus: usize) -> Option<(f64, f64)> {
    let live =
        |node: usize| nets.frequency_hz[node] > 0.0 && nets.voltage[node].abs() > 0.02 * nets.nominal_v[node];
    if !live(machine) || !live(bus) {
        return None;
    }
    let angle = (nets.voltage[machine] * nets.voltage[bus].conj()).angle();
    Some((angle, nets.frequency_hz[machine] - nets.frequency_hz[bus]))
}

fn publish(ctx: &mut Ctx<'_>) {
    let (machine, bus) = (ctx.node(GENERATOR), ctx.node(BUS));
    let current = ctx.branch_current(0);
    let power = ctx.nets.ac.voltage[bus] * current.conj();
    let (angle, slip) = against_bus(&ctx.nets.ac, machine, bus).unwrap_or((0.0, 0.0));
    let ready = !ctx.is(CLOSED) && is_ready(ctx);
    ctx.read_out(R_CLOSED, ctx.s(CLOSED));
    ctx.read_out(R_TRIPPED, ctx.s(TRIPPED));
    ctx.read_out(R_POWER, power.re);
    ctx.read_out(R_CURRENT, line_a(current));
    ctx.read_out_is(R_READY, ready);
    ctx.read_out(R_ANGLE, angle);
    ctx.read_out(R_SLIP, slip);
    ctx.read_out(R_STAGE, ctx.s(STAGE));
    ctx.read_out(R_BUS_VOLTAGE, ctx.nets.ac.voltage[bus].abs());
    ctx.read_out(R_BUS_FREQUENCY, ctx.nets.ac.frequency_hz[bus]);
}

/// What of the closing conditions is not met, in the order in which blocks are told.
#[derive(Clone, Copy, Default)]
struct Missing {
    tripped: bool,
    voltage: bool,
    frequency: bool,
    other_source: bool,
    half_live: bool,
    angle: bool,
    slip: bool,
    difference: bool,
}

/// Limits of closing, so that both views of the plant judge alike.
struct Conditions<'a> {
    p: &'a dyn Fn(usize) -> f64,
    nets: &'a crate::nets::ac::AcNet,
    machine: usize,
    bus: usize,
    branch: usize,
    tripped: bool,
    blind: bool,
}

impl Conditions<'_> {
    fn share(&self, node: usize) -> f64 {
        self.nets.voltage[node].abs() / self.nets.nominal_v[node]
    }

    fn hz_share(&self) -> f64 {
        self.nets.frequency_hz[self.machine] / self.nets.nominal_hz[self.machine]
    }

    fn missing(&self) -> Missing {
        let within = |x: f64| x >= (self.p)(CLOSE_LOW) && x <= (self.p)(CLOSE_HIGH);
        let mut m = Missing {
            tripped: self.tripped,
            voltage: !within(self.share(self.machine)),
            frequency: !within(self.hz_share()),
            ..Missing::default()
        };
        let bus_share = self.share(self.bus);
        if bus_share < (self.p)(DEAD) {
            m.other_source = self.nets.source_closed_on(self.bus, self.branch);
        } else if bus_share < (self.p)(CLOSE_LOW) {
            m.half_live = true;
        } else if !self.blind {
            let (angle, slip) = against_bus(self.nets, self.machine, self.bus).unwrap_or((PI, 0.0));
            m.angle = self.ahead(angle, slip).abs() > (self.p)(SYNC_ANGLE);
            m.slip = slip < (self.p)(SYNC_SLIP_LOW) || slip > (self.p)(SYNC_SLIP_HIGH);
            m.difference = (self.share(self.machine) - bus_share).abs() > (self.p)(SYNC_V);
        }
        m
    }

    fn ahead(&self, angle: f64, slip: f64) -> f64 {
        angle + TAU * slip * (self.p)(LEAD)
    }
}

fn is_ready(ctx: &Ctx<'_>) -> bool {
    let p = |i: usize| ctx.p(i);
    let conditions = Conditions {
        p: &p,
        nets: &ctx.nets.ac,
        machine: ctx.node(GENERATOR),
        bus: ctx.node(BUS),
        branch: ctx.wiring.ac_branches,
        tripped: ctx.is(TRIPPED),
        blind: ctx.fault(CHECK_BLIND) >= 0.5,
    };
    let m = conditions.missing();
    let any = m.tripped || m.voltage || m.frequency || m.other_source || m.half_live;
    !any && !m.angle && !m.slip && !m.difference && ctx.has_control_voltage(CONTROL_SUPPLY)
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    match act.index {
        CLOSE => permit_close(view, blocks),
        OPEN => {
            if !view.is(CLOSED) {
                blocks.push(Block { code: "already-open", text: "it is open".into() });
            }
            if act.remote {
                block_without_control(view, CONTROL_SUPPLY, blocks);
            }
        }
        _ if view.s(TRIPPED) < 0.5 => {
            blocks.push(Block { code: "not-tripped", text: "it has not tripped".into() });
        }
        _ => {}
    }
}

fn permit_close(view: &View<'_>, blocks: &mut Vec<Block>) {
    if view.is(CLOSED) {
        blocks.push(Block { code: "already-closed", text: "it is closed".into() });
        return;
    }
    block_without_control(view, CONTROL_SUPPLY, blocks);
    if view.fault(FAILS_TO_CLOSE) >= 0.5 {
        blocks.push(Block { code: "fails-to-close", text: "the closing coil does not pull in".into() });
    }
    let p = |i: usize| view.p(i);
    let c = Conditions {
        p: &p,
        nets: &view.nets.ac,
        machine: view.node(GENERATOR),
        bus: view.node(BUS),
        branch: view.wiring.ac_branches,
        tripped: view.is(TRIPPED),
        blind: view.fault(CHECK_BLIND) >= 0.5,
    };
    explain(&c, view.s(TRIPPED) as usize, blocks);
}

fn explain(c: &Conditions<'_>, trip: usize, blocks: &mut Vec<Block>) {
    let m = c.missing();
    let mut add = |on: bool, code: &'static str, text: &dyn Fn() -> String| {
        if on {
            blocks.push(Block { code, text: text() });
        }
    };
    let (low, high) = ((c.p)(CLOSE_LOW), (c.p)(CLOSE_HIGH));
    let (volts, hz) = (c.nets.nominal_v[c.machine], c.nets.nominal_hz[c.machine]);
    add(m.tripped, "not-reset", &|| {
        format!("it was tripped ({}) and is not reset", TRIP_WORDS.get(trip).unwrap_or(&"?"))
    });
    add(m.voltage, if c.share(c.machine) < 0.1 { "not-excited" } else { "voltage-off" }, &|| {
        let now = c.share(c.machine) * volts;
        format!("the machine has {now:.0} V, wants {:.0} to {:.0} V", low * volts, high * volts)
    });
    add(m.frequency, "frequency-off", &|| {
        format!("the machine has {:.1} Hz, wants {:.1} to {:.1} Hz", c.hz_share() * hz, low * hz, high * hz)
    });
    add(m.other_source, "another-breaker-closed", &|| {
        "another source's breaker is closed on this dead bus: the first one wins".into()
    });
    add(m.half_live, "bus-voltage", &|| {
        format!("the bus has {:.0} V: neither dead nor live", c.share(c.bus) * volts)
    });
    if m.voltage || m.frequency {
        // The check relay says nothing of a machine that stands or is not excited.
        return;
    }
    let (angle, slip) = against_bus(c.nets, c.machine, c.bus).unwrap_or((PI, 0.0));
    add(m.angle, "angle", &|| {
        let (now, most) = (c.ahead(angle, slip) * 180.0 / PI, (c.p)(SYNC_ANGLE) * 180.0 / PI);
        format!("the bus is live and {now:.0} deg away, wants at most {most:.0} deg")
    });
    add(m.slip, "slip", &|| {
        let (least, most) = ((c.p)(SYNC_SLIP_LOW), (c.p)(SYNC_SLIP_HIGH));
        let (off, way) = (slip.abs(), if slip < 0.0 { "slower" } else { "faster" });
        format!("the machine is {off:.2} Hz {way} than the bus, wants {least:.2} to {most:.2} Hz faster")
    });
    add(m.difference, "voltage-difference", &|| {
        let difference = (c.share(c.machine) - c.share(c.bus)) * volts;
        let most = (c.p)(SYNC_V) * volts;
        format!("the machine has {difference:+.0} V against the bus, wants at most {most:.0} V")
    });
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        CLOSE => {
            ctx.set_is(CLOSED, true);
            ctx.switch(0, true);
            protection::clear(ctx);
            let volts = ctx.nets.ac.voltage[ctx.node(GENERATOR)].abs();
            ctx.find(F_CLOSED, volts, 0.0, 0.0);
        }
        OPEN => {
            let watts = (ctx.nets.ac.voltage[ctx.node(BUS)] * ctx.branch_current(0).conj()).re;
            ctx.set_is(CLOSED, false);
            ctx.switch(0, false);
            ctx.find(F_OPENED, watts, 0.0, 0.0);
        }
        _ => ctx.set(TRIPPED, 0.0),
    }
}

#[cfg(test)]
mod tests;
