//! The automation of a generator set: takes it into automatic standby when everything is ready, starts and connects it
//! on a dead bus, starts, synchronises and connects it when ordered, shares its load, unloads and stops it.
//!
//! The declaration is in this file; what happens in which phase is in `sequence`.

mod sequence;

use super::declare::*;
use super::prime_mover::PrimeMover;
use super::{auto_control, generator, generator_breaker as breaker};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, KindDef, LinkDef, NeedDef, Net, ParamDef, PortDef,
    Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;

const ORDERS: &[&str] = &["first", "second", "third", "fourth"];
const PHASES: &[&str] =
    &["waiting", "starting", "connecting", "failed", "synchronising", "unloading", "cooling down"];

/// Nothing is under way.
pub const WAITING: f64 = 0.0;
/// The engine starts.
pub const STARTING: f64 = 1.0;
/// Excitation is on, the breaker is to close on a dead bus.
pub const CONNECTING: f64 = 2.0;
/// It did not come; nothing more by itself until it is taken out and in again.
pub const FAILED: f64 = 3.0;
/// It runs and is brought into step with a live bus.
pub const SYNCHRONISING: f64 = 4.0;
/// Its load is being handed to the others.
pub const UNLOADING: f64 = 5.0;
/// Its breaker is open, the engine runs without load before it stops.
pub const COOLING: f64 = 6.0;

declare!(PORTS: PortDef {
    BUS = port("bus", Net::Ac, 0, "Main board that it watches."),
    CONTROL = free_port("control", Net::Dc, 0, "Control supply."),
});
declare!(LINKS: LinkDef {
    CONTROLS = link("controls", &["engine-controls"], false, "Controls of the engine; none: a machine driven by something else, which is connected when it has voltage."),
    GENERATOR = link("generator", &["generator"], true, "Its generator."),
    BREAKER = link("breaker", &["generator-breaker"], true, "Its breaker."),
    PRIMING = link("priming", &["auto-control"], false, "Selector of its priming pump, which must stand in automatic."),
    ENGINE = link("engine", &["diesel-engine"], false, "Engine whose governor it trims; none: it takes no part in sharing load."),
    TURBINE = link("turbine", &["steam-turbine"], false, "Steam turbine that drives it, in place of an engine with its controls."),
    MANAGEMENT = link("management", &["power-management"], false, "Power management whose aim of load sharing it follows."),
});
declare!(PARAMS: ParamDef {
    DEAD_FOR = quantity_or("dead-bus-for", Dimension::Time, (0.0, 30.0), 1.0, "How long the bus must be dead before the first in order starts."),
    NEXT_AFTER = quantity_or("next-after", Dimension::Time, (1.0, 120.0), 20.0, "How much later each next in order starts, if the bus is still dead."),
    GIVES_UP = quantity_or("gives-up-after", Dimension::Time, (5.0, 300.0), 45.0, "Start and connection must be done in this time (IACS UI SC157: 45 s at most)."),
    SYNC_GIVES_UP = quantity_or("synchronising-gives-up-after", Dimension::Time, (5.0, 600.0), 120.0, "Synchronising must be done in this time; common practice, no source."),
    OPEN_AT = quantity_or("open-at", Dimension::Ratio, (0.0, 0.3), 0.06, "Load at which an unloaded set's breaker opens, share of rated power."),
    UNLOAD_FOR = quantity_or("unloading-gives-up-after", Dimension::Time, (5.0, 600.0), 90.0, "Unloading must be done in this time, otherwise the set stays on the bus."),
    COOL_FOR = quantity_or("cool-down", Dimension::Time, (0.0, 3600.0), 180.0, "How long the engine runs without load before it is stopped; common practice, no source."),
});
declare!(STATE: StateDef {
    MODE = state_choice("mode", MANUAL_AUTOMATIC, 0, "Taken into automatic standby?"),
    ORDER = state_choice("order", ORDERS, 0, "Start order."),
    PHASE = state_choice("phase", PHASES, 0, "Where a start by itself is."),
    DEAD = inner("dead", 0.0, "How long the bus has been dead, s."),
    TIMER = inner("timer", 0.0, "Time since the start, s."),
    ORDERED = inner("ordered", 0.0, "1 while a start by order, not by a dead bus, is under way."),
    TRIM_S = inner("since-trim", 0.0, "Time since the governor was trimmed, s."),
});
declare!(ACTS: ActDef {
    SET_MODE = set_choice("mode", MANUAL_AUTOMATIC, Reach::Remote, 5.0, "Take the set into automatic standby, or out of it."),
    SET_ORDER = set_choice("order", ORDERS, Reach::Remote, 5.0, "Its place in the start order."),
    START = act(Verb::Start, Reach::Remote, 3.0, "Start, synchronise and connect the set."),
    STOP = act(Verb::Stop, Reach::Remote, 3.0, "Unload the set, open its breaker, let it cool down and stop it."),
});
declare!(FAULTS: FaultDef {
    DEAF = fault("does-not-start", 1.0, "It does not see the dead bus and follows no order: nothing starts by itself."),
});
declare!(NEEDS: NeedDef {
    N_READY = need("readiness", "No start block, no latched shutdown, no blocking alert, control remote, selectors automatic."),
});
declare!(READINGS: ReadingDef {
    R_MODE = reading_words("mode", MANUAL_AUTOMATIC, Seen::Remote, "Taken into automatic standby?"),
    R_READY = reading_words("ready", NO_YES, Seen::Remote, "Nothing in the way?"),
    R_ORDER = reading_words("order", ORDERS, Seen::Remote, "Start order."),
    R_PHASE = reading_words("phase", PHASES, Seen::Remote, "Where a start by itself is."),
    R_CONNECTED = reading_words("connected", NO_YES, Seen::Remote, "Is its breaker closed?"),
    R_SHARES = reading_words("shares", NO_YES, Seen::Hidden, "Connected, automatic, with a governor to trim, and not being unloaded?"),
    R_POWER = reading("power", Dimension::Power, Seen::Hidden, "Power to the bus."),
    R_RATED = reading("rated", Dimension::Power, Seen::Hidden, "Rated power."),
    R_FREQUENCY = reading("frequency", Dimension::Frequency, Seen::Hidden, "Frequency of the machine."),
    R_DISTRESS = reading_words("distress", NO_YES, Seen::Remote, "Does an alert stand that would keep it out of standby, while it carries load?"),
});
declare!(FINDINGS: FindingDef {
    F_STARTS = finding("standby-starts", Dimension::Time, "starts by itself: bus dead for {measured}"),
    F_CONNECTED = finding("standby-connected", Dimension::Time, "connected by itself {measured} after the bus went dead"),
    F_FAILED = finding("standby-failed", Dimension::Time, "not connected {measured} after its start; limit {limit}"),
    F_TAKEN = finding("standby-taken", Dimension::None, "taken into automatic standby"),
    F_ORDERED = finding("start-ordered", Dimension::None, "was ordered to start and connect"),
    F_JOINED = finding("connected-in-step", Dimension::Time, "connected in step {measured} after the order"),
    F_UNLOADS = finding("unloading", Dimension::Power, "hands over its load of {measured}"),
    F_UNLOADED = finding("unloaded", Dimension::Power, "its breaker was opened at {measured}"),
    F_KEPT = finding("not-unloaded", Dimension::Power, "could not be unloaded, stays on the bus with {measured}"),
    F_COOLED = finding("cooled-down", Dimension::Time, "was stopped after {measured} without load"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "standby-control",
    doc: "Automation of a generator set: standby, start, synchronising, load sharing, unloading, stop.",
    physics: "Accepts a set only when its selectors are in automatic, its control is remote, and no start block, latched shutdown \
              or blocking alert stands; on a dead bus the first in order starts, excites and connects; the next follows if the bus stays dead. \
              By order it starts, is brought into step and connected; connected it trims its governor to the common load share and to nominal frequency.",
    source: "SOLAS II-1/41.5 with IACS UI SC157 (30 s preferred, 45 s at most); common practice for the rest, no source",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    hooks: Hooks {
        control: Some(sequence::control),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

/// What drives the machine.
const MOVER: PrimeMover =
    PrimeMover { controls: CONTROLS, engine: ENGINE, turbine: TURBINE, generator: GENERATOR };

/// Does its machine run at speed?
fn runs(ctx: &Ctx<'_>) -> bool {
    MOVER.runs(ctx, ctx.nets.ac.nominal_hz[ctx.node(BUS)])
}

/// The same conditions as in [`permit`], from readings.
fn ready(ctx: &Ctx<'_>) -> bool {
    let priming = !ctx.has_link(PRIMING) || ctx.linked(PRIMING, auto_control::R_SELECTOR) > 0.5;
    let mover = MOVER.is_ready(ctx, ctx.nets.ac.nominal_hz[ctx.node(BUS)]);
    ctx.has_control_voltage(CONTROL)
        && priming
        && mover
        && ctx.linked(BREAKER, breaker::R_TRIPPED) < 0.5
        && ctx.blocking_alerts().next().is_none()
}

fn publish(ctx: &mut Ctx<'_>) {
    let ready = ready(ctx);
    let connected = ctx.linked(BREAKER, breaker::R_CLOSED) > 0.5;
    let phase = ctx.s(PHASE);
    let shares = connected && ctx.is(MODE) && MOVER.can_be_trimmed(ctx) && phase != UNLOADING;
    let distress = connected && ctx.blocking_alerts().next().is_some();
    ctx.need(N_READY, ready || !ctx.is(MODE));
    ctx.read_out(R_MODE, ctx.s(MODE));
    ctx.read_out_is(R_READY, ready);
    ctx.read_out(R_ORDER, ctx.s(ORDER));
    ctx.read_out(R_PHASE, phase);
    ctx.read_out_is(R_CONNECTED, connected);
    ctx.read_out_is(R_SHARES, shares);
    ctx.read_out(R_POWER, ctx.linked(BREAKER, breaker::R_POWER));
    ctx.read_out(R_RATED, ctx.linked(BREAKER, breaker::R_RATED));
    ctx.read_out(R_FREQUENCY, ctx.linked(GENERATOR, generator::R_FREQUENCY));
    ctx.read_out_is(R_DISTRESS, distress);
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    match act.index {
        SET_MODE if act.value > 0.5 => permit_automatic(view, blocks),
        START | STOP if !view.is(MODE) => {
            blocks.push(Block { code: "in-manual", text: "it is not in automatic standby".into() });
        }
        START => permit_start(view, blocks),
        STOP => {
            let busy = view.s(PHASE) != WAITING;
            if view.linked(BREAKER, breaker::R_CLOSED) < 0.5 || busy {
                let text = format!("it is not carrying load: {}", PHASES[view.s(PHASE) as usize]);
                blocks.push(Block { code: "not-connected", text });
            }
        }
        _ => {}
    }
}

fn permit_start(view: &View<'_>, blocks: &mut Vec<Block>) {
    let phase = view.s(PHASE);
    if view.linked(BREAKER, breaker::R_CLOSED) > 0.5 {
        blocks.push(Block { code: "already-connected", text: "it is on the bus".into() });
    } else if phase != WAITING && phase != COOLING {
        let text = format!("its automation is {}", PHASES[phase as usize]);
        blocks.push(Block { code: "busy", text });
    } else {
        permit_automatic(view, blocks);
    }
}

fn permit_automatic(view: &View<'_>, blocks: &mut Vec<Block>) {
    if !view.has_control_voltage(CONTROL) {
        blocks.push(Block { code: "no-control-supply", text: "no control voltage".into() });
    }
    if view.has_link(PRIMING) && view.linked(PRIMING, auto_control::R_SELECTOR) < 0.5 {
        blocks.push(Block {
            code: "priming-not-automatic",
            text: "the selector of its priming pump stands in manual".into(),
        });
    }
    MOVER.blocks(view, blocks);
    if view.linked(BREAKER, breaker::R_TRIPPED) > 0.5 {
        blocks.push(Block {
            code: "breaker-not-reset",
            text: "its breaker has tripped and is not reset".into(),
        });
    }
    for alert in view.blocking_alerts() {
        blocks.push(Block { code: "blocking-alert", text: format!("alert stands: {}", alert.text) });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        SET_MODE => {
            if act.value > 0.5 && !ctx.is(MODE) {
                ctx.find(F_TAKEN, 0.0, 0.0, 0.0);
            }
            ctx.set(MODE, act.value);
            ctx.set(PHASE, WAITING);
        }
        SET_ORDER => ctx.set(ORDER, act.value),
        START => sequence::order(ctx),
        _ => sequence::unload(ctx),
    }
}

#[cfg(test)]
mod tests;
