//! A pair of pumps, one chosen and its twin in standby: the twin starts when the pressure falls or the chosen one stops
//! by itself, and after a loss of supply only the chosen one comes back.

use super::declare::*;
use super::{load, motor};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, KindDef, LinkDef, Net, ParamDef, PortDef, Reach,
    ReadingDef, Seen, StateDef,
};
use crate::unit::Dimension;

const UNITS: &[&str] = &["no. 1", "no. 2"];
const BOTH: [&str; 2] = ["motor", "load"];

// A unit is a motor, or a load that stands for one: what is used of them has the same place in both.
const _: () = assert!(motor::R_RUNNING == load::R_ON && motor::R_PENDING == load::R_PENDING);
const _: () = assert!(motor::R_BY_HAND == load::R_BY_HAND && motor::START == load::START);

declare!(PORTS: PortDef {
    BUS = port("bus", Net::Ac, 0, "Board that feeds them: without voltage no standby start."),
    CONTROL = free_port("control", Net::Dc, 0, "Control supply; free: always there."),
});
declare!(LINKS: LinkDef {
    UNIT_1 = link("unit-1", &BOTH, true, "Pump no. 1."),
    UNIT_2 = link("unit-2", &BOTH, true, "Pump no. 2."),
    WATCH = watch("watch", false, "Pressure that the standby start watches."),
});
declare!(PARAMS: ParamDef {
    START_BELOW = quantity_or("start-below", Dimension::Pressure, (-1e5, 1e8), 0.0, "Pressure below which the twin starts."),
    DELAY = quantity_or("delay", Dimension::Time, (0.0, 600.0), 3.0, "For how long; common practice, no source."),
    WINDOW = quantity_or("restart-window", Dimension::Time, (0.0, 600.0), 45.0, "After the supply came back the chosen one has this time to restart at its place; then the twin starts."),
});
declare!(STATE: StateDef {
    CHOSEN = state_choice("chosen", UNITS, 0, "The one that runs and restarts."),
    MODE = state_choice("mode", MANUAL_AUTOMATIC, 1, "Does the twin start by itself?"),
    ARMED = inner("armed", 0.0, "The chosen one has been running: its stopping is a failure."),
    LOW_S = inner("low-time", 0.0, "How long the pressure has been low."),
    BACK_S = inner("back-time", 0.0, "How long the board has had voltage."),
});
declare!(ACTS: ActDef {
    SET_CHOSEN = set_choice("chosen", UNITS, Reach::Remote, 3.0, "Which one runs and restarts; the other is its standby."),
    SET_MODE = set_choice("mode", MANUAL_AUTOMATIC, Reach::Remote, 3.0, "Automatic: the twin starts by itself."),
});
declare!(FAULTS: FaultDef {
    DEAF = fault("does-not-start", 1.0, "The twin does not start by itself."),
});
declare!(READINGS: ReadingDef {
    R_CHOSEN = reading_words("chosen", UNITS, Seen::Remote, "The one that runs and restarts."),
    R_MODE = reading_words("mode", MANUAL_AUTOMATIC, Seen::Remote, "Does the twin start by itself?"),
    R_ONE = reading_words("no-1-chosen", NO_YES, Seen::Hidden, "Is no. 1 chosen?"),
    R_TWO = reading_words("no-2-chosen", NO_YES, Seen::Hidden, "Is no. 2 chosen?"),
    R_STANDBY = reading_words("standby-started", NO_YES, Seen::Remote, "Does the twin run for the chosen one?"),
});
declare!(FINDINGS: FindingDef {
    F_LOW = finding("standby-by-pressure", Dimension::Pressure, "started the twin: {measured}, limit {limit}"),
    F_STOPPED = finding("standby-by-stop", Dimension::None, "started the twin: the chosen one stopped by itself"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "pump-pair",
    doc: "A pair of pumps, one chosen and its twin in standby.",
    physics: "The twin starts on low pressure for its time, or when the chosen one stops without having been stopped by hand. After a loss of supply the chosen one restarts as it is set to, the twin only when that fails.",
    source: "IACS UR M and SOLAS II-1/26 ask for a standby pump (from memory); times: common practice, no source",
    ports: PORTS,
    links: LINKS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
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

fn units(ctx: &Ctx<'_>) -> (usize, usize) {
    if ctx.is(CHOSEN) { (UNIT_2, UNIT_1) } else { (UNIT_1, UNIT_2) }
}

fn control(ctx: &mut Ctx<'_>) {
    let live = ctx.voltage_share(BUS) >= 0.85 && ctx.has_control_voltage(CONTROL);
    let back_s = ctx.time_while(BACK_S, live);
    let (chosen, twin) = units(ctx);
    let runs = ctx.linked(chosen, motor::R_RUNNING) > 0.5;
    let twin_runs = ctx.linked(twin, motor::R_RUNNING) > 0.5;
    if runs {
        ctx.set_is(ARMED, true);
    } else if ctx.linked(chosen, motor::R_BY_HAND) > 0.5 {
        ctx.set_is(ARMED, false);
    }
    let acts = live && ctx.is(MODE) && ctx.fault(DEAF) < 0.5 && ctx.is(ARMED) && !twin_runs;
    let low = acts && runs && ctx.has_link(WATCH) && ctx.watched(WATCH) < ctx.p(START_BELOW);
    let low_s = ctx.time_while(LOW_S, low);
    let waits = ctx.linked(chosen, motor::R_PENDING) > 0.5 && back_s < ctx.p(WINDOW);
    if low && low_s >= ctx.p(DELAY) {
        ctx.request(twin, motor::START, 0.0);
        ctx.find(F_LOW, ctx.watched(WATCH), ctx.p(START_BELOW), low_s);
        ctx.set(LOW_S, 0.0);
    } else if acts && !runs && !waits && back_s > 1.0 {
        ctx.request(twin, motor::START, 0.0);
        ctx.find(F_STOPPED, 0.0, 0.0, 0.0);
        // The twin is the one that carries on: what failed is not asked again.
        ctx.set_is(ARMED, false);
    }
}

fn publish(ctx: &mut Ctx<'_>) {
    let (chosen, twin) = units(ctx);
    let standby = ctx.linked(twin, motor::R_RUNNING) > 0.5 && ctx.linked(chosen, motor::R_RUNNING) < 0.5;
    let second = ctx.is(CHOSEN);
    ctx.read_out(R_CHOSEN, ctx.s(CHOSEN));
    ctx.read_out(R_MODE, ctx.s(MODE));
    ctx.read_out_is(R_ONE, !second);
    ctx.read_out_is(R_TWO, second);
    ctx.read_out_is(R_STANDBY, standby);
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index == SET_CHOSEN && act.value == view.s(CHOSEN) {
        let text = format!("{} is chosen", UNITS[act.value as usize]);
        blocks.push(Block { code: "already-chosen", text });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    if act.index == SET_CHOSEN {
        ctx.set(CHOSEN, act.value);
        ctx.set_is(ARMED, false);
    } else {
        ctx.set(MODE, act.value);
    }
}
