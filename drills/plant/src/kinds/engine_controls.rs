//! Start, stop and safety of a diesel engine: control position, start blocks, start sequence, latched shutdowns.

use super::declare::*;
use super::diesel_engine as engine;
use super::engine_words::{self, Say};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, KindDef, LinkDef, NeedDef, Net, ParamDef, PortDef,
    Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::{Dimension, format_si};

const PHASES: &[&str] =
    &["stopped", "cranking", "pause", "running up", "running", "stopping", "blowing through"];
const CAUSES: &[&str] =
    &["none", "lube pressure", "HT temperature", "overspeed", "emergency stop", "start failure"];
const OFF_ON: &[&str] = &["off", "on"];
const PICK_UPS: &[&str] = &["in order", "failed"];
const GEAR: &[&str] = &["out", "in"];

const STOPPED: f64 = 0.0;
const CRANKING: f64 = 1.0;
const PAUSE: f64 = 2.0;
const RUNNING_UP: f64 = 3.0;
const RUNNING: f64 = 4.0;
const STOPPING: f64 = 5.0;
const BLOWING: f64 = 6.0;

const BY_LUBE: f64 = 1.0;
const BY_HT: f64 = 2.0;
const BY_OVERSPEED: f64 = 3.0;
const BY_HAND: f64 = 4.0;
const BY_START: f64 = 5.0;

declare!(PORTS: PortDef {
    CONTROL = free_port("control", Net::Dc, 0, "Control supply."),
});
declare!(LINKS: LinkDef {
    ENGINE = link("engine", &["diesel-engine"], true, "The engine."),
    LUBE_LEVEL = watch("sump-volume", false, "Content of its sump, for the start block."),
    BREAKER = watch("breaker-closed", false, "Its generator's breaker: no start with it closed."),
    STARTER = watch("start-energy", false, "Air pressure at the engine, or state of the start battery, for the start block."),
});
declare!(PARAMS: ParamDef {
    PRIMED_AT = quantity_or("primed-at", Dimension::Pressure, (0.0, 1e6), 4e4, "Bearing pressure that counts as primed; 0: needs no priming."),
    PRIMED_FOR = quantity_or("primed-for", Dimension::Time, (0.0, 3600.0), 60.0, "How long it must have been primed."),
    PRIMED_HOLDS = quantity_or("priming-holds", Dimension::Time, (0.0, 86400.0), 1200.0, "How long after priming stopped a start is allowed; common practice, no source."),
    ENERGY_MIN = quantity_or("least-start-pressure", Dimension::Pressure, (0.0, 1e7), 1e6, "Start energy below which a start is blocked (air)."),
    BATTERY = flag("battery-start", false, "The start energy is a battery: its charge, not a pressure, is watched."),
    SUMP_MIN = quantity_or("least-sump", Dimension::Volume, (0.0, 100.0), 0.0, "Sump content below which a start is blocked."),
    FUEL_MIN = quantity_or("least-fuel-pressure", Dimension::Pressure, (-1e5, 1e6), 3e4, "Fuel pressure at the engine below which a start is blocked."),
    CRANK_TIME = quantity_or("crank-time", Dimension::Time, (1.0, 60.0), 8.0, "Longest cranking of one try."),
    PAUSE_TIME = quantity_or("pause", Dimension::Time, (0.0, 120.0), 10.0, "Pause between tries."),
    TRIES = whole("tries", (1, 9), 3, "Tries before the start has failed and locks; common practice, no source."),
    LUBE_TRIP = quantity_or("lube-shutdown", Dimension::Pressure, (0.0, 1e6), 2.2e5, "Lube pressure of the shutdown; 0: none."),
    HT_TRIP = quantity_or("ht-shutdown", Dimension::Temperature, (300.0, 500.0), 370.15, "HT temperature of the shutdown."),
    OVERSPEED = quantity_or("overspeed", Dimension::Ratio, (1.0, 1.5), 1.15, "Overspeed shutdown (IACS UR M3: 115 %, from memory)."),
    TRIP_DELAY = quantity_or("shutdown-delay", Dimension::Time, (0.0, 60.0), 3.0, "Delay of lube and HT shutdowns."),
    BLOCKED = quantity_or("blocked-at-start", Dimension::Time, (0.0, 120.0), 10.0, "The lube shutdown is blocked so long after firing."),
    HAS_GEAR = flag("turning-gear", true, "Has it a turning gear?"),
});
declare!(STATE: StateDef {
    POSITION = state_choice("control", LOCAL_REMOTE, 0, "Where it is controlled from."),
    PHASE = state_choice("phase", PHASES, 0, "Where the sequence is."),
    GEAR_IN = state_choice("turning-gear", GEAR, 0, "Turning gear.").only_with(HAS_GEAR),
    SHUTDOWN = state_choice("shutdown", CAUSES, 0, "Shutdown that is latched."),
    TIMER = inner("timer", 0.0, "Time in the phase, s."),
    TRY = state("try", Dimension::None, (0.0, 9.0), 0.0, "Tries of this start."),
    PRIMED = state("primed", Dimension::Time, (0.0, 1e6), 0.0, "How long it has been primed."),
    UNPRIMED = state("unprimed", Dimension::Time, (0.0, 1e6), 1e6, "How long ago priming ended after having counted."),
    RUN_TIME = state("run-time", Dimension::Time, (0.0, 1e9), 0.0, "Time since firing."),
    LUBE_LOW = inner("lube-low", 0.0, "How long lube pressure has been below its shutdown, s."),
    UNLOADED = inner("unloaded", 0.0, "How long it has run with less than a tenth of its load, s."),
    TESTING = state_choice("overspeed-test", OFF_ON, 0, "Test switch of the overspeed trip."),
    HT_HIGH = inner("ht-high", 0.0, "How long the HT temperature has been above its shutdown, s."),
});
declare!(ACTS: ActDef {
    START = act(Verb::Start, Reach::Remote, 5.0, "Start the engine from where its control stands."),
    STOP = act(Verb::Stop, Reach::Remote, 3.0, "Stop it."),
    RESET = act(Verb::Reset, Reach::Local, 10.0, "Reset a latched shutdown or a failed start, at the engine. Acknowledging the alert does not do it."),
    SET_CONTROL = set_choice("control", LOCAL_REMOTE, Reach::Local, 5.0, "Where it is controlled from."),
    EMERGENCY = set_choice("emergency-stop", &["pulled"], Reach::Remote, 1.0, "Pull the emergency stop: the rack is shut by spring from wherever it is pulled and stays shut until reset."),
    SET_TEST = set_choice("overspeed-test", OFF_ON, Reach::Local, 5.0, "Test switch: lowers the overspeed trip to rated speed, so that it can be tried without overspeed."),
    SET_GEAR = set_choice("turning-gear", GEAR, Reach::Local, 30.0, "Engage or take out the turning gear.").only_with(HAS_GEAR),
});
declare!(FAULTS: FaultDef {
    PICKUP = fault("speed-pickup-dead", 1.0, "The speed pick-up gives nothing: the start sequence cannot see the engine fire and times out."),
    NO_TRIP = fault("shutdown-does-not-act", 1.0, "The shutdown relay does not pull in: shutdowns are announced and nothing stops; stopped by hand it stops."),
    START_SOLENOID = fault("start-solenoid-dead", 1.0, "The start solenoid does not answer: the sequence says cranking and nothing turns; three tries, then it locks."),
    STOP_SOLENOID = fault("stop-solenoid-stuck", 1.0, "The stop solenoid does not pull the rack: neither stop nor shutdown stops it; the emergency stop and the rack's hand lever do."),
    FALSE_TRIP = fault("false-lube-shutdown", 1.0, "The oil pressure switch makes contact without cause: it shuts the engine down.").only_with(LUBE_TRIP),
    LUBE_BLIND = fault("lube-switch-dead", 1.0, "The line to the oil pressure switch is broken: no lube shutdown; the supervision of pick-ups says so.").only_with(LUBE_TRIP),
    HT_BLIND = fault("ht-switch-dead", 1.0, "The line to the HT temperature switch is broken: no HT shutdown; the supervision of pick-ups says so."),
    EARLY = fault("overspeed-trip-drifts", 1.0, "The overspeed trip has drifted down, by up to 17 % of rated speed: it trips at rated speed."),
    GEAR_STUCK = fault("turning-gear-switch-stuck", 1.0, "The interlock of the turning gear says in though it is out: no start.").only_with(HAS_GEAR),
    PRIMING_BLIND = fault("priming-switch-dead", 1.0, "The pressure switch of priming makes no contact: it never counts as primed.").only_with(PRIMED_AT),
});
declare!(NEEDS: NeedDef {
    N_CONTROL = need("control-supply", "Control voltage for remote control."),
});
declare!(READINGS: ReadingDef {
    R_PHASE = reading_words("phase", PHASES, Seen::Remote, "Where the sequence is."),
    R_CRANK = reading_words("cranking", NO_YES, Seen::Local, "Start valve or starter engaged?"),
    R_FUEL = reading_words("fuel-on", NO_YES, Seen::Local, "Fuel rack released?"),
    R_POSITION = reading_words("control", LOCAL_REMOTE, Seen::Remote, "Where it is controlled from."),
    R_BLOCKED = reading_words("start-blocked", NO_YES, Seen::Remote, "Is anything in the way of a start?"),
    R_SHUTDOWN = reading_words("shutdown", CAUSES, Seen::Remote, "Latched shutdown.").latched(),
    R_PRIMED = reading_words("primed", NO_YES, Seen::Remote, "Does its priming count?"),
    R_GEAR = reading_words("turning-gear", GEAR, Seen::Remote, "Turning gear."),
    R_RUNNING = reading_words("running", NO_YES, Seen::Remote, "Running on fuel at speed?"),
    R_TRY = reading("tries", Dimension::None, Seen::Remote, "Tries of the last start."),
    R_RUN_TIME = reading("run-time", Dimension::Time, Seen::Remote, "Time since firing."),
    R_PICKUPS = reading_words("pick-ups", PICK_UPS, Seen::Remote, "Supervision of the lines to its pick-ups and switches."),
    R_TESTING = reading_words("overspeed-test", OFF_ON, Seen::Local, "Test switch of the overspeed trip."),
    R_UNLOADED = reading("unloaded-for", Dimension::Time, Seen::Local, "How long it has run with less than a tenth of its load: cooling down."),
});
declare!(FINDINGS: FindingDef {
    F_CRANKS = finding("cranking", Dimension::Pressure, "cranks with {measured} of start air"),
    F_CRANKS_ELECTRIC = finding("cranking-electric", Dimension::Ratio, "cranks on its battery, {measured} charged"),
    F_FIRED = finding("fired", Dimension::Speed, "fires at {measured}"),
    F_STARTED = finding("started", Dimension::Speed, "is at speed: {measured}"),
    F_STOPPED = finding("stopped", Dimension::None, "has stopped"),
    F_LUBE = finding("shutdown-lube-pressure", Dimension::Pressure, "shut down by lube pressure: {measured}, limit {limit}"),
    F_HT = finding("shutdown-ht-temperature", Dimension::Temperature, "shut down by HT temperature: {measured}, limit {limit}"),
    F_OVERSPEED = finding("shutdown-overspeed", Dimension::Ratio, "shut down by overspeed: {measured} of rated, limit {limit}"),
    F_BY_HAND = finding("emergency-stop", Dimension::Speed, "emergency stop was pulled at {measured}"),
    F_BLOWN = finding("blown-through", Dimension::Speed, "was blown through with open indicator cocks, up to {measured}"),
    F_DEAF = finding("did-not-stop", Dimension::None, "was stopped and runs on"),
    F_START = finding("start-failed", Dimension::None, "start failed after all tries: locked until reset"),
    F_RESET = finding("shutdown-reset", Dimension::None, "shutdown was reset"),
    F_STALLED = finding("stalled", Dimension::Pressure, "stalled: fuel pressure {measured}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "engine-controls",
    doc: "Start, stop and safety of a diesel engine.",
    physics: "A sequence: crank until it fires (at most the crank time), pause, try again, lock after the last try; shutdowns latch \
              until they are reset at the engine. Local starts need no control supply, remote ones do.",
    source: "common practice; overspeed IACS UR M3 (from memory)",
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

/// How long a start with open indicator cocks blows, s.
const BLOW_S: f64 = 4.0;

fn go(ctx: &mut Ctx<'_>, phase: f64) {
    ctx.set(PHASE, phase);
    ctx.set(TIMER, 0.0);
}

fn control(ctx: &mut Ctx<'_>) {
    let alive = ctx.has_control_voltage(CONTROL);
    ctx.need(N_CONTROL, alive);
    ctx.draw_dc(CONTROL, 1.0);
    watch_priming(ctx);
    let timer = ctx.s(TIMER) + ctx.dt_s;
    ctx.set(TIMER, timer);
    let firing = ctx.linked(ENGINE, engine::R_FIRING) > 0.5;
    let run_time = if firing { ctx.s(RUN_TIME) + ctx.dt_s } else { 0.0 };
    ctx.set(RUN_TIME, run_time);
    let unloaded = ctx.s(PHASE) == RUNNING && ctx.linked(ENGINE, engine::R_LOAD) < 0.1;
    ctx.time_while(UNLOADED, unloaded);
    sequence(ctx);
    if ctx.s(PHASE) >= RUNNING_UP && ctx.s(PHASE) <= RUNNING {
        watch_shutdowns(ctx);
    }
}

fn watch_priming(ctx: &mut Ctx<'_>) {
    let pressed = ctx.linked(ENGINE, engine::R_BEARING_PRESSURE) >= ctx.p(PRIMED_AT);
    if ctx.fault(PRIMING_BLIND) >= 0.5 {
        ctx.set(PRIMED, 0.0);
        ctx.set(UNPRIMED, 1e6);
        return;
    }
    let before = ctx.s(PRIMED);
    if pressed {
        ctx.set(PRIMED, (before + ctx.dt_s).min(1e5));
    } else if before >= ctx.p(PRIMED_FOR) {
        ctx.set(PRIMED, 0.0);
        ctx.set(UNPRIMED, 0.0);
    } else {
        ctx.set(PRIMED, 0.0);
        let ago = (ctx.s(UNPRIMED) + ctx.dt_s).min(1e6);
        ctx.set(UNPRIMED, ago);
    }
}

fn is_primed(primed: f64, unprimed: f64, needed: f64, holds: f64) -> bool {
    primed >= needed || unprimed < holds
}

fn sequence(ctx: &mut Ctx<'_>) {
    let phase = ctx.s(PHASE);
    let timer = ctx.s(TIMER);
    let speed_share = ctx.linked(ENGINE, engine::R_SPEED_SHARE);
    let firing = ctx.linked(ENGINE, engine::R_FIRING) > 0.5;
    let seen = if ctx.faulty(PICKUP) { 0.0 } else { speed_share };
    if phase == BLOWING && timer >= BLOW_S {
        ctx.find(F_BLOWN, ctx.linked(ENGINE, engine::R_SHAFT_SPEED), 0.0, 0.0);
        go(ctx, STOPPING);
    } else if phase == CRANKING {
        if firing && seen > 0.25 {
            ctx.find(F_FIRED, ctx.linked(ENGINE, engine::R_SHAFT_SPEED), 0.0, 0.0);
            go(ctx, RUNNING_UP);
        } else if timer >= ctx.p(CRANK_TIME) {
            fail_try(ctx);
        }
    } else if phase == PAUSE && timer >= ctx.p(PAUSE_TIME) {
        begin_try(ctx);
    } else if phase == RUNNING_UP {
        if seen > 0.95 {
            ctx.find(F_STARTED, ctx.linked(ENGINE, engine::R_SHAFT_SPEED), 0.0, 0.0);
            go(ctx, RUNNING);
        } else if timer > 30.0 || (timer > 2.0 && seen < 0.1) {
            fail_try(ctx);
        }
    } else if phase == RUNNING && speed_share < 0.5 {
        ctx.find(F_STALLED, ctx.linked(ENGINE, engine::R_FUEL_PRESSURE), 0.0, 0.0);
        go(ctx, STOPPING);
    } else if phase == STOPPING && speed_share < 0.01 {
        ctx.find(F_STOPPED, 0.0, 0.0, 0.0);
        go(ctx, STOPPED);
    }
}

fn begin_try(ctx: &mut Ctx<'_>) {
    let tries = ctx.s(TRY) + 1.0;
    ctx.set(TRY, tries);
    let energy = if ctx.has_link(STARTER) { ctx.watched(STARTER) } else { 0.0 };
    ctx.find(if ctx.p_is(BATTERY) { F_CRANKS_ELECTRIC } else { F_CRANKS }, energy, 0.0, 0.0);
    go(ctx, CRANKING);
}

fn fail_try(ctx: &mut Ctx<'_>) {
    if ctx.s(TRY) >= ctx.p(TRIES) {
        ctx.set(SHUTDOWN, BY_START);
        ctx.find(F_START, 0.0, 0.0, 0.0);
        go(ctx, STOPPING);
    } else {
        go(ctx, PAUSE);
    }
}

fn watch_shutdowns(ctx: &mut Ctx<'_>) {
    // Its own switches, not the sensors that people and alerts look at.
    let lube = ctx.linked(ENGINE, engine::R_BEARING_PRESSURE);
    let ht = ctx.linked(ENGINE, engine::R_JACKET);
    let speed = ctx.linked(ENGINE, engine::R_SPEED_SHARE);
    let lube_limit = ctx.p(LUBE_TRIP);
    let awake = ctx.s(RUN_TIME) > ctx.p(BLOCKED);
    let makes_contact = lube < lube_limit || ctx.fault(FALSE_TRIP) >= 0.5;
    let sees_lube = ctx.fault(LUBE_BLIND) < 0.5 && lube_limit > 0.0;
    let lube_low = ctx.time_while(LUBE_LOW, awake && sees_lube && makes_contact);
    let ht_high = ctx.time_while(HT_HIGH, ht > ctx.p(HT_TRIP) && ctx.fault(HT_BLIND) < 0.5);
    let tested = if ctx.is(TESTING) { 1.0 } else { ctx.p(OVERSPEED) };
    let overspeed = tested - 0.17 * ctx.fault(EARLY);
    let delay = ctx.p(TRIP_DELAY);
    if speed > overspeed {
        shut_down(ctx, BY_OVERSPEED, F_OVERSPEED, speed, overspeed, 0.0);
    } else if lube_low > delay {
        shut_down(ctx, BY_LUBE, F_LUBE, lube, lube_limit, lube_low);
    } else if ht_high > delay {
        shut_down(ctx, BY_HT, F_HT, ht, ctx.p(HT_TRIP), ht_high);
    }
}

fn shut_down(ctx: &mut Ctx<'_>, cause: f64, finding: usize, measured: f64, limit: f64, since_s: f64) {
    if ctx.s(SHUTDOWN) == cause {
        return;
    }
    ctx.set(SHUTDOWN, cause);
    ctx.find(finding, measured, limit, since_s);
    if ctx.fault(NO_TRIP).max(ctx.fault(STOP_SOLENOID)) < 0.5 {
        go(ctx, STOPPING);
    }
}

fn publish(ctx: &mut Ctx<'_>) {
    let phase = ctx.s(PHASE);
    ctx.read_out(R_PHASE, phase);
    let engaged = (phase == CRANKING || phase == BLOWING) && ctx.fault(START_SOLENOID) < 0.5;
    ctx.read_out_is(R_CRANK, engaged);
    let blind = ctx.faulty(PICKUP) || ctx.faulty(LUBE_BLIND) || ctx.faulty(HT_BLIND);
    ctx.read_out_is(R_PICKUPS, blind);
    ctx.read_out(R_TESTING, ctx.s(TESTING));
    ctx.read_out_is(R_FUEL, phase == CRANKING || phase == RUNNING_UP || phase == RUNNING);
    ctx.read_out(R_POSITION, ctx.s(POSITION));
    ctx.read_out(R_SHUTDOWN, ctx.s(SHUTDOWN));
    let primed = is_primed(ctx.s(PRIMED), ctx.s(UNPRIMED), ctx.p(PRIMED_FOR), ctx.p(PRIMED_HOLDS));
    ctx.read_out_is(R_PRIMED, primed || ctx.p(PRIMED_AT) <= 0.0);
    let gear_in = if ctx.fault(GEAR_STUCK) >= 0.5 { 1.0 } else { ctx.s(GEAR_IN) };
    ctx.read_out(R_GEAR, gear_in);
    ctx.read_out_is(R_RUNNING, phase == RUNNING);
    ctx.read_out(R_TRY, ctx.s(TRY));
    ctx.read_out(R_RUN_TIME, ctx.s(RUN_TIME));
    ctx.read_out(R_UNLOADED, ctx.s(UNLOADED));
    let blocked = start_blocked(ctx);
    ctx.read_out_is(R_BLOCKED, blocked);
}

/// The same conditions as in [`start_blocks`] without words, for the reading.
fn start_blocked(ctx: &Ctx<'_>) -> bool {
    let primed = is_primed(ctx.s(PRIMED), ctx.s(UNPRIMED), ctx.p(PRIMED_FOR), ctx.p(PRIMED_HOLDS));
    ctx.s(SHUTDOWN) != 0.0
        || (ctx.p_is(HAS_GEAR) && (ctx.is(GEAR_IN) || ctx.fault(GEAR_STUCK) >= 0.5))
        || ctx.linked(ENGINE, engine::R_COCKS) > 0.5
        || !(primed || ctx.p(PRIMED_AT) <= 0.0)
        || (ctx.has_link(STARTER) && lacks_energy(ctx.p_is(BATTERY), ctx.watched(STARTER), ctx.p(ENERGY_MIN)))
        || ctx.linked(ENGINE, engine::R_FUEL_PRESSURE) < ctx.p(FUEL_MIN)
        || (ctx.has_link(LUBE_LEVEL) && ctx.watched(LUBE_LEVEL) < ctx.p(SUMP_MIN))
        || (ctx.has_link(BREAKER) && ctx.watched(BREAKER) > 0.5 && ctx.s(PHASE) == STOPPED)
}

/// Is there too little to crank with: charge of a battery, or pressure of air?
fn lacks_energy(battery: bool, value: f64, least_pa: f64) -> bool {
    if battery { value < 0.2 } else { value < least_pa }
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    let mut block = |code, text: String| blocks.push(Block { code, text });
    let remote_position = view.is(POSITION);
    if matches!(act.index, START | STOP) && act.remote != remote_position {
        let text = if remote_position {
            "its control stands in remote: set it to local, or start from the control room"
        } else {
            "its control stands in local: set it to remote at the engine"
        };
        block("wrong-control-position", text.into());
    }
    if act.index == START {
        start_blocks(view, act, &mut block);
    }
    if act.index == EMERGENCY && act.remote && !view.has_control_voltage(CONTROL) {
        block("no-control-supply", "no control voltage for the emergency stop: pull it at the engine".into());
    }
    if act.index == STOP && matches!(view.s(PHASE), STOPPED | STOPPING) {
        engine_words::not_running(&mut block);
    }
    if act.index == RESET && view.s(PHASE) != STOPPED {
        engine_words::still_turning(&mut block);
    }
    if act.index == SET_GEAR {
        if !view.p_is(HAS_GEAR) {
            block("no-turning-gear", "it has no turning gear".into());
        }
        if view.s(PHASE) != STOPPED {
            engine_words::still_turning(&mut block);
        }
    }
}

/// What keeps the set from being started by itself later; for a running set only what is latched.
pub(crate) fn standby_blocks(view: &View<'_>, blocks: &mut Vec<Block>) {
    let mut block = |code, text: String| blocks.push(Block { code, text });
    if !view.is(POSITION) {
        block(
            "control-not-remote",
            "the engine's control stands in local: set it to remote at the engine".into(),
        );
    }
    if view.s(PHASE) == STOPPED {
        start_blocks(view, Act { index: START, value: 0.0, remote: true }, &mut block);
    } else if view.s(SHUTDOWN) != 0.0 {
        engine_words::latched(&mut block, CAUSES[view.s(SHUTDOWN) as usize]);
    }
}

fn start_blocks(view: &View<'_>, act: Act, block: &mut impl Say) {
    if act.remote && !view.has_control_voltage(CONTROL) {
        block("no-control-supply", "no control voltage for a remote start".into());
    }
    if view.s(PHASE) != STOPPED {
        engine_words::not_stopped(block, PHASES[view.s(PHASE) as usize]);
    }
    if view.s(SHUTDOWN) != 0.0 {
        engine_words::latched(block, CAUSES[view.s(SHUTDOWN) as usize]);
    }
    if act.remote && view.linked(ENGINE, engine::R_COCKS) > 0.5 {
        engine_words::cocks_open(block);
    }
    if view.p_is(HAS_GEAR) && (view.is(GEAR_IN) || view.fault(GEAR_STUCK) >= 0.5) {
        engine_words::gear_in(block);
    }
    let primed = is_primed(view.s(PRIMED), view.s(UNPRIMED), view.p(PRIMED_FOR), view.p(PRIMED_HOLDS));
    if view.p(PRIMED_AT) > 0.0 && !primed {
        let (pressure, limit) = (view.linked(ENGINE, engine::R_BEARING_PRESSURE), view.p(PRIMED_AT));
        let (time, needed) = (view.s(PRIMED), view.p(PRIMED_FOR));
        let text = format!(
            "not primed: {} at the bearings for {time:.0} s, needs {} for {needed:.0} s",
            format_si(pressure, Dimension::Pressure),
            format_si(limit, Dimension::Pressure)
        );
        block("not-primed", text);
    }
    if view.has_link(STARTER) {
        let value = view.watched(STARTER);
        if lacks_energy(view.p_is(BATTERY), value, view.p(ENERGY_MIN)) {
            if view.p_is(BATTERY) {
                block(
                    "start-battery-low",
                    format!("start battery at {}", format_si(value, Dimension::Ratio)),
                );
            } else {
                let (now, least) = (
                    format_si(value, Dimension::Pressure),
                    format_si(view.p(ENERGY_MIN), Dimension::Pressure),
                );
                block("starting-air-low", format!("starting air {now} at the engine, needs {least}"));
            }
        }
    }
    let fuel = view.linked(ENGINE, engine::R_FUEL_PRESSURE);
    if fuel < view.p(FUEL_MIN) {
        let (now, least) =
            (format_si(fuel, Dimension::Pressure), format_si(view.p(FUEL_MIN), Dimension::Pressure));
        block("no-fuel", format!("fuel {now} at the engine, needs {least}"));
    }
    if view.has_link(LUBE_LEVEL) && view.watched(LUBE_LEVEL) < view.p(SUMP_MIN) {
        let now = format_si(view.watched(LUBE_LEVEL), Dimension::Volume);
        block(
            "sump-low",
            format!("sump holds {now}, needs {}", format_si(view.p(SUMP_MIN), Dimension::Volume)),
        );
    }
    if view.has_link(BREAKER) && view.watched(BREAKER) > 0.5 {
        block("breaker-closed", "its generator's breaker is closed".into());
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        START => {
            ctx.set(TRY, 0.0);
            if ctx.linked(ENGINE, engine::R_COCKS) > 0.5 { go(ctx, BLOWING) } else { begin_try(ctx) }
        }
        // Stopping a running engine takes the solenoid; breaking off a start does not.
        STOP if ctx.s(PHASE) == RUNNING && ctx.fault(STOP_SOLENOID) >= 0.5 => {
            ctx.find(F_DEAF, 0.0, 0.0, 0.0);
        }
        STOP => go(ctx, STOPPING),
        EMERGENCY => {
            ctx.set(SHUTDOWN, BY_HAND);
            ctx.find(F_BY_HAND, ctx.linked(ENGINE, engine::R_SHAFT_SPEED), 0.0, 0.0);
            if ctx.s(PHASE) != STOPPED {
                go(ctx, STOPPING);
            }
        }
        SET_TEST => ctx.set(TESTING, act.value),
        RESET => {
            if ctx.s(SHUTDOWN) != 0.0 {
                ctx.find(F_RESET, 0.0, 0.0, 0.0);
            }
            ctx.set(SHUTDOWN, 0.0);
            ctx.set(LUBE_LOW, 0.0);
            ctx.set(HT_HIGH, 0.0);
        }
        SET_CONTROL => ctx.set(POSITION, act.value),
        _ => ctx.set(GEAR_IN, act.value),
    }
}
