//! What must hold before a source's breaker closes, and what a closing did.

use super::*;
use crate::nets::ac::AcNet;
use std::f64::consts::{PI, TAU};

/// For how long after closing the current is watched for its peak, s.
const SHOCK_WATCHED_S: f64 = 0.5;
/// A closing that gives more than this share of rated current is told; common practice, no source.
const SHOCK_SHARE: f64 = 1.0;

/// Angle and slip of the machine against the bus; `None` while either is dead.
pub(super) fn against_bus(nets: &AcNet, machine: usize, bus: usize) -> Option<(f64, f64)> {
    let live = |node: usize| nets.frequency_hz[node] > 0.0 && nets.volts[node] > 0.02 * nets.nominal_v[node];
    if !live(machine) || !live(bus) {
        return None;
    }
    let angle = (nets.voltage[machine] * nets.voltage[bus].conj()).angle();
    Some((angle, nets.frequency_hz[machine] - nets.frequency_hz[bus]))
}

/// What of the closing conditions is not met, in the order in which blocks are told.
#[derive(Clone, Copy, Default)]
struct Missing {
    tripped: bool,
    voltage: bool,
    frequency: bool,
    dead: bool,
    other_source: bool,
    half_live: bool,
    angle: bool,
    slip: bool,
    difference: bool,
}

/// Limits of closing, so that both views of the plant judge alike.
struct Conditions<'a> {
    p: &'a dyn Fn(usize) -> f64,
    nets: &'a AcNet,
    machine: usize,
    bus: usize,
    branch: usize,
    tripped: bool,
    blind: bool,
}

impl Conditions<'_> {
    fn share(&self, node: usize) -> f64 {
        self.nets.volts[node] / self.nets.nominal_v[node]
    }

    fn hz_share(&self) -> f64 {
        self.nets.frequency_hz[self.machine] / self.nets.nominal_hz[self.machine]
    }

    fn missing(&self) -> Missing {
        let within = |x: f64| x >= (self.p)(CLOSE_LOW) && x <= (self.p)(CLOSE_HIGH);
        let bus_share = self.share(self.bus);
        let mut m = Missing {
            tripped: self.tripped,
            voltage: !within(self.share(self.machine)),
            frequency: !within(self.hz_share()),
            dead: bus_share < (self.p)(DEAD),
            ..Missing::default()
        };
        if m.dead {
            m.other_source = self.nets.source_closed_on(self.bus, self.branch);
        } else if bus_share < (self.p)(CLOSE_LOW) {
            m.half_live = true;
        } else if !self.blind {
            (m.angle, m.slip, m.difference) = self.out_of_step();
        }
        m
    }

    /// What the check relay finds out: angle, slip, difference of voltage.
    fn out_of_step(&self) -> (bool, bool, bool) {
        let (angle, slip) = against_bus(self.nets, self.machine, self.bus).unwrap_or((PI, 0.0));
        (
            self.ahead(angle, slip).abs() > (self.p)(SYNC_ANGLE),
            slip < (self.p)(SYNC_SLIP_LOW) || slip > (self.p)(SYNC_SLIP_HIGH),
            (self.share(self.machine) - self.share(self.bus)).abs() > (self.p)(SYNC_V),
        )
    }

    /// The angle at the moment of contact, between half a turn either way.
    fn ahead(&self, angle: f64, slip: f64) -> f64 {
        let at_contact = angle + TAU * slip * (self.p)(LEAD);
        at_contact - TAU * libm::round(at_contact / TAU)
    }
}

/// The conditions seen by a function that changes the component.
fn missing(ctx: &Ctx<'_>) -> Missing {
    let p = |i: usize| ctx.p(i);
    let conditions = Conditions {
        p: &p,
        nets: &ctx.nets.ac,
        machine: ctx.node(GENERATOR),
        bus: ctx.node(BUS),
        branch: ctx.wiring.ac_branches,
        tripped: ctx.is(TRIPPED),
        blind: ctx.fault(CHECK_BLIND) >= 0.5 || ctx.is(CHECK),
    };
    conditions.missing()
}

/// What the panel shows of the closing conditions.
pub(super) struct Says {
    /// All are met.
    pub(super) ready: bool,
    /// Index into [`CLOSING_WORDS`].
    pub(super) word: usize,
}

pub(super) fn says(ctx: &Ctx<'_>) -> Says {
    if ctx.is(CLOSED) {
        return Says { ready: false, word: 0 };
    }
    let m = missing(ctx);
    let unready = m.tripped || m.voltage || m.frequency || !ctx.has_control_voltage(CONTROL_SUPPLY);
    let ready = !(unready || m.other_source || m.half_live || m.angle || m.slip || m.difference);
    let word = match (unready, m.dead, m.half_live, ctx.is(CHECK)) {
        (true, ..) => 1,
        (_, true, ..) => 2,
        (_, _, true, _) => 3,
        (.., true) => 8,
        _ if m.angle => 4,
        _ if m.slip => 5,
        _ if m.difference => 6,
        _ => 7,
    };
    Says { ready, word }
}

pub(super) fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
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
        blind: view.fault(CHECK_BLIND) >= 0.5 || view.is(CHECK),
    };
    explain(&c, view.s(TRIPPED) as usize, blocks);
    let unchecked = view.has_link(INSULATION_CHECK) && view.watched(INSULATION_CHECK) < 0.5;
    if !act.remote && unchecked && c.missing().dead {
        let text = "the insulation of the dead bus has not been measured, or is too low".into();
        blocks.push(Block { code: "insulation-not-checked", text });
    }
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

/// The closing order: without a closing time the contacts meet at once.
pub(super) fn order(ctx: &mut Ctx<'_>) {
    if ctx.s(CLOSING_S) >= 0.0 {
        // It is on its way: automation asks until it sees the breaker closed.
        return;
    }
    let dead = ctx.voltage_share(BUS) < ctx.p(DEAD);
    ctx.set_is(ORDERED_DEAD, dead);
    if ctx.p(LEAD) > 0.0 {
        ctx.set(CLOSING_S, ctx.p(LEAD));
    } else {
        close(ctx);
    }
}

/// Once a tick: the contacts travel.
pub(super) fn advance(ctx: &mut Ctx<'_>) {
    if ctx.s(CLOSING_S) < 0.0 {
        return;
    }
    let left_s = ctx.s(CLOSING_S) - ctx.dt_s;
    ctx.set(CLOSING_S, left_s);
    // Half a tick early or late, whichever is nearer.
    if left_s > 0.5 * ctx.dt_s {
        return;
    }
    ctx.set(CLOSING_S, -1.0);
    let bus = ctx.node(BUS);
    let came_alive =
        ctx.voltage_share(BUS) >= ctx.p(DEAD) || ctx.nets.ac.source_closed_on(bus, ctx.wiring.ac_branches);
    if ctx.is(ORDERED_DEAD) && came_alive {
        let volts = ctx.nets.ac.volts[bus];
        ctx.find(F_NOT_CLOSED, volts, 0.0, 0.0);
    } else {
        close(ctx);
    }
}

fn close(ctx: &mut Ctx<'_>) {
    let (machine, bus) = (ctx.node(GENERATOR), ctx.node(BUS));
    let against = against_bus(&ctx.nets.ac, machine, bus);
    let volts = ctx.nets.ac.volts[machine];
    if let Some((angle, slip)) = against {
        tell_bad_closing(ctx, angle, slip);
        ctx.set(SHOCK_S, 0.0);
        ctx.set(SHOCK_A, 0.0);
    }
    ctx.set_is(CLOSED, true);
    ctx.switch(0, true);
    protection::clear(ctx);
    ctx.find(F_CLOSED, volts, 0.0, 0.0);
}

/// Twice what the check relay allows is abuse of the machine, and is told as such.
fn tell_bad_closing(ctx: &mut Ctx<'_>, angle: f64, slip: f64) {
    let bus_v = ctx.nets.ac.volts[ctx.node(BUS)];
    let difference_v = ctx.nets.ac.volts[ctx.node(GENERATOR)] - bus_v;
    let limit_v = ctx.p(SYNC_V) * ctx.nets.ac.nominal_v[ctx.node(BUS)];
    if angle.abs() > 1.5 * ctx.p(SYNC_ANGLE) {
        ctx.find(F_OUT_OF_PHASE, angle.abs(), ctx.p(SYNC_ANGLE), 0.0);
    }
    if slip.abs() > 2.0 * ctx.p(SYNC_SLIP_HIGH) {
        ctx.find(F_OUT_OF_SLIP, slip.abs(), ctx.p(SYNC_SLIP_HIGH), 0.0);
    }
    if difference_v.abs() > 2.0 * limit_v {
        ctx.find(F_OUT_OF_VOLTAGE, difference_v.abs(), limit_v, 0.0);
    }
}

/// The highest current after a closing on a live bus, told when it was more than rated.
pub(super) fn watch_shock(ctx: &mut Ctx<'_>) {
    if ctx.s(SHOCK_S) < 0.0 {
        return;
    }
    let time_s = ctx.s(SHOCK_S) + ctx.dt_s;
    let peak_a = ctx.s(SHOCK_A).max(protection::highest_a(ctx));
    ctx.set(SHOCK_A, peak_a);
    ctx.set(SHOCK_S, time_s);
    if time_s < SHOCK_WATCHED_S && ctx.is(CLOSED) {
        return;
    }
    ctx.set(SHOCK_S, -1.0);
    let rated_a = ctx.p(RATED_A);
    if peak_a > SHOCK_SHARE * rated_a {
        ctx.find(F_SHOCK, peak_a, rated_a, time_s);
    }
}
