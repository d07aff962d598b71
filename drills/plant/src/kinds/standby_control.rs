//! Automatic standby of a generator set: takes the set when everything is ready, starts and connects it on a dead bus.

use super::declare::*;
use super::{auto_control, engine_controls as controls, generator, generator_breaker as breaker};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, KindDef, LinkDef, NeedDef, Net, ParamDef, PortDef,
    Reach, ReadingDef, Seen, StateDef,
};
use crate::unit::Dimension;

const ORDERS: &[&str] = &["first", "second", "third", "fourth"];
const PHASES: &[&str] = &["waiting", "starting", "connecting", "failed"];

const WAITING: f64 = 0.0;
const STARTING: f64 = 1.0;
const CONNECTING: f64 = 2.0;
const FAILED: f64 = 3.0;

declare!(PORTS: PortDef {
    BUS = port("bus", Net::Ac, 0, "Main board that it watches."),
    CONTROL = free_port("control", Net::Dc, 0, "Control supply."),
});
declare!(LINKS: LinkDef {
    CONTROLS = link("controls", &["engine-controls"], true, "Controls of the engine."),
    GENERATOR = link("generator", &["generator"], true, "Its generator."),
    BREAKER = link("breaker", &["generator-breaker"], true, "Its breaker."),
    PRIMING = link("priming", &["auto-control"], false, "Selector of its priming pump, which must stand in automatic."),
});
declare!(PARAMS: ParamDef {
    DEAD_FOR = quantity_or("dead-bus-for", Dimension::Time, (0.0, 30.0), 1.0, "How long the bus must be dead before the first in order starts."),
    NEXT_AFTER = quantity_or("next-after", Dimension::Time, (1.0, 120.0), 20.0, "How much later each next in order starts, if the bus is still dead."),
    GIVES_UP = quantity_or("gives-up-after", Dimension::Time, (5.0, 300.0), 45.0, "Start and connection must be done in this time (IACS UI SC157: 45 s at most)."),
});
declare!(STATE: StateDef {
    MODE = state_choice("mode", MANUAL_AUTOMATIC, 0, "Taken into automatic standby?"),
    ORDER = state_choice("order", ORDERS, 0, "Start order."),
    PHASE = state_choice("phase", PHASES, 0, "Where a start by itself is."),
    DEAD = inner("dead", 0.0, "How long the bus has been dead, s."),
    TIMER = inner("timer", 0.0, "Time since the start, s."),
});
declare!(ACTS: ActDef {
    SET_MODE = set_choice("mode", MANUAL_AUTOMATIC, Reach::Remote, 5.0, "Take the set into automatic standby, or out of it."),
    SET_ORDER = set_choice("order", ORDERS, Reach::Remote, 5.0, "Its place in the start order."),
});
declare!(FAULTS: FaultDef {
    DEAF = fault("does-not-start", 1.0, "It does not see the dead bus: nothing starts by itself."),
});
declare!(NEEDS: NeedDef {
    N_READY = need("readiness", "No start block, no latched shutdown, no blocking alert, control remote, selectors automatic."),
});
declare!(READINGS: ReadingDef {
    R_MODE = reading_words("mode", MANUAL_AUTOMATIC, Seen::Remote, "Taken into automatic standby?"),
    R_READY = reading_words("ready", NO_YES, Seen::Remote, "Nothing in the way?"),
    R_ORDER = reading_words("order", ORDERS, Seen::Remote, "Start order."),
    R_PHASE = reading_words("phase", PHASES, Seen::Remote, "Where a start by itself is."),
});
declare!(FINDINGS: FindingDef {
    F_STARTS = finding("standby-starts", Dimension::Time, "starts by itself: bus dead for {measured}"),
    F_CONNECTED = finding("standby-connected", Dimension::Time, "connected by itself {measured} after the bus went dead"),
    F_FAILED = finding("standby-failed", Dimension::Time, "not connected {measured} after its start; limit {limit}"),
    F_TAKEN = finding("standby-taken", Dimension::None, "taken into automatic standby"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "standby-control",
    doc: "Automatic standby of a generator set.",
    physics: "Accepts a set only when its selectors are in automatic, its control is remote, and no start block, latched shutdown \
              or blocking alert stands; on a dead bus the first in order starts, excites and connects; the next follows if the bus stays dead.",
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
        control: Some(control),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn control(ctx: &mut Ctx<'_>) {
    let awake = ctx.has_control_voltage(CONTROL) && !ctx.faulty(DEAF) && ctx.is(MODE);
    let dead = ctx.voltage_share(BUS) < 0.15;
    let dead_for = ctx.time_while(DEAD, dead && awake);
    ctx.set(TIMER, ctx.s(TIMER) + ctx.dt_s);
    if !awake {
        ctx.set(PHASE, WAITING);
        return;
    }
    let running = ctx.linked(CONTROLS, controls::R_RUNNING) > 0.5;
    let phase = ctx.s(PHASE);
    let turn = ctx.p(DEAD_FOR) + ctx.s(ORDER) * ctx.p(NEXT_AFTER);
    if phase == WAITING && dead && dead_for >= turn && ready(ctx) {
        begin(ctx, running, dead_for);
    } else if phase == STARTING && running {
        ctx.request(GENERATOR, generator::SET_EXCITATION, 1.0);
        ctx.set(PHASE, CONNECTING);
    } else if phase == CONNECTING {
        connect(ctx, dead);
    }
    if ctx.s(PHASE) == STARTING || ctx.s(PHASE) == CONNECTING {
        give_up_when_late(ctx);
    }
}

fn begin(ctx: &mut Ctx<'_>, running: bool, dead_for: f64) {
    ctx.find(F_STARTS, dead_for, 0.0, dead_for);
    ctx.set(TIMER, 0.0);
    if running {
        ctx.request(GENERATOR, generator::SET_EXCITATION, 1.0);
        ctx.set(PHASE, CONNECTING);
    } else {
        ctx.request(CONTROLS, controls::START, 0.0);
        ctx.set(PHASE, STARTING);
    }
}

fn connect(ctx: &mut Ctx<'_>, dead: bool) {
    if ctx.linked(BREAKER, breaker::R_CLOSED) > 0.5 {
        ctx.find(F_CONNECTED, ctx.s(TIMER) + ctx.p(DEAD_FOR), ctx.p(GIVES_UP), 0.0);
        ctx.set(PHASE, WAITING);
    } else if dead {
        ctx.request(BREAKER, breaker::CLOSE, 0.0);
    } else {
        // Another set was faster: this one keeps running and waits.
        ctx.set(PHASE, WAITING);
    }
}

fn give_up_when_late(ctx: &mut Ctx<'_>) {
    let timer = ctx.s(TIMER);
    let locked = ctx.linked(CONTROLS, controls::R_SHUTDOWN) > 0.5;
    if timer > ctx.p(GIVES_UP) || locked {
        ctx.find(F_FAILED, timer, ctx.p(GIVES_UP), 0.0);
        ctx.set(PHASE, FAILED);
    }
}

/// The same conditions as in [`permit`], from readings.
fn ready(ctx: &Ctx<'_>) -> bool {
    let running = ctx.linked(CONTROLS, controls::R_RUNNING) > 0.5;
    let priming = !ctx.has_link(PRIMING) || ctx.linked(PRIMING, auto_control::R_SELECTOR) > 0.5;
    ctx.has_control_voltage(CONTROL)
        && priming
        && ctx.linked(CONTROLS, controls::R_POSITION) > 0.5
        && ctx.linked(CONTROLS, controls::R_SHUTDOWN) < 0.5
        && (running || ctx.linked(CONTROLS, controls::R_BLOCKED) < 0.5)
        && ctx.linked(BREAKER, breaker::R_TRIPPED) < 0.5
        && ctx.blocking_alerts().next().is_none()
}

fn publish(ctx: &mut Ctx<'_>) {
    let ready = ready(ctx);
    ctx.need(N_READY, ready || !ctx.is(MODE));
    ctx.read_out(R_MODE, ctx.s(MODE));
    ctx.read_out_is(R_READY, ready);
    ctx.read_out(R_ORDER, ctx.s(ORDER));
    ctx.read_out(R_PHASE, ctx.s(PHASE));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index != SET_MODE || act.value < 0.5 {
        return;
    }
    if !view.has_control_voltage(CONTROL) {
        blocks.push(Block { code: "no-control-supply", text: "no control voltage".into() });
    }
    if view.has_link(PRIMING) && view.linked(PRIMING, auto_control::R_SELECTOR) < 0.5 {
        blocks.push(Block {
            code: "priming-not-automatic",
            text: "the selector of its priming pump stands in manual".into(),
        });
    }
    controls::standby_blocks(&view.from_linked(CONTROLS), blocks);
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
    if act.index == SET_MODE {
        if act.value > 0.5 && !ctx.is(MODE) {
            ctx.find(F_TAKEN, 0.0, 0.0, 0.0);
        }
        ctx.set(MODE, act.value);
        ctx.set(PHASE, WAITING);
    } else {
        ctx.set(ORDER, act.value);
    }
}
