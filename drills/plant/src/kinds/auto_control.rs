//! A switch that starts and stops a motor by a pressure: pressure switch of a compressor, standby start of a pump.

use super::declare::*;
use super::motor;
use crate::ctx::Ctx;
use crate::kind::{
    Act, ActDef, FaultDef, FindingDef, Hooks, KindDef, LinkDef, Net, ParamDef, PortDef, Reach, ReadingDef,
    Seen, StateDef,
};
use crate::unit::Dimension;

const SIDES: &[&str] = &["below", "above"];

declare!(PORTS: PortDef {
    CONTROL = free_port("control", Net::Dc, 0, "Control supply."),
});
declare!(LINKS: LinkDef {
    MOTOR = link("motor", &["motor"], true, "Motor that it starts and stops."),
    WATCH = watch("watch", true, "Pressure that it watches."),
    WHILE = watch("while", false, "Acts only while this reading is above 0.5."),
    UNLESS = watch("unless", false, "Does not act, and stops the motor, while this reading is above 0.5."),
});
declare!(PARAMS: ParamDef {
    START_SIDE = choice("starts", SIDES, 0, "Starts when the pressure is below or above `start-at`."),
    START_AT = quantity("start-at", Dimension::Pressure, -1e5, 1e8, "Limit of the start."),
    STOP_AT = quantity_or("stop-at", Dimension::Pressure, (-1e5, 1e8), 0.0, "Limit of the stop, when it stops the motor as well."),
    DELAY = quantity_or("delay", Dimension::Time, (0.0, 600.0), 2.0, "How long the limit must be passed before a start."),
    STOPS = flag("stops", true, "Does it stop the motor as well? A standby start does not."),
});
declare!(STATE: StateDef {
    SELECTOR = state_choice("selector", MANUAL_AUTOMATIC, 0, "Who starts and stops the motor."),
    PASSED = inner("passed", 0.0, "How long the limit has been passed, s."),
    ASKED = inner("asked", 0.0, "1 once it has asked since the limit was passed: the next tries are not news."),
});
declare!(ACTS: ActDef {
    SET_SELECTOR = set_choice("selector", MANUAL_AUTOMATIC, Reach::Remote, 5.0, "Hand the motor to this switch or take it by hand."),
});
declare!(FAULTS: FaultDef {
    DEAD = fault("does-not-act", 1.0, "The switch does not act: nothing starts by itself."),
    STUCK_ON = fault("switch-stuck-closed", 1.0, "The pressure switch hangs closed: it starts its motor whatever the pressure and never stops it."),
    DRIFTS = fault("setting-drifts", 0.5, "Its setting has drifted down by up to 40 %: it starts later and stops sooner."),
});
declare!(READINGS: ReadingDef {
    R_SELECTOR = reading_words("selector", MANUAL_AUTOMATIC, Seen::Remote, "Who starts and stops the motor."),
});
declare!(FINDINGS: FindingDef {
    F_START = finding("started-by-itself", Dimension::None, "asked for a start"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "auto-control",
    doc: "Starts and stops a motor by a pressure: pressure switch of a compressor, standby start of a pump.",
    physics: "Two limits with a delay on the start.",
    source: "common practice, no source",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    hooks: Hooks { control: Some(control), publish: Some(publish), act: Some(do_act), ..Hooks::NONE },
    ..KindDef::EMPTY
};

fn control(ctx: &mut Ctx<'_>) {
    let awake = ctx.is(SELECTOR) && ctx.has_control_voltage(CONTROL) && !ctx.faulty(DEAD);
    let held_off = ctx.has_link(UNLESS) && ctx.watched(UNLESS) > 0.5;
    let asked = !ctx.has_link(WHILE) || ctx.watched(WHILE) > 0.5;
    // A setting that has drifted down is as if the pressure were higher.
    let value = ctx.watched(WATCH) / (1.0 - 0.4 * ctx.fault(DRIFTS));
    let hangs = ctx.fault(STUCK_ON) >= 0.5;
    let below = ctx.p(START_SIDE) < 0.5;
    let passed = awake
        && asked
        && !held_off
        && (hangs || if below { value < ctx.p(START_AT) } else { value > ctx.p(START_AT) });
    let time = ctx.time_while(PASSED, passed);
    let running = ctx.linked(MOTOR, motor::R_RUNNING) > 0.5;
    if passed && time >= ctx.p(DELAY) && !running {
        ctx.request(MOTOR, motor::START, 0.0);
        if !ctx.is(ASKED) {
            ctx.find(F_START, 0.0, 0.0, time);
        }
        ctx.set(ASKED, 1.0);
        ctx.set(PASSED, 0.0);
    }
    if !passed || running {
        ctx.set(ASKED, 0.0);
    }
    let satisfied = !hangs && if below { value > ctx.p(STOP_AT) } else { value < ctx.p(STOP_AT) };
    if awake && running && ((ctx.p_is(STOPS) && satisfied) || held_off) {
        ctx.request(MOTOR, motor::STOP, 0.0);
    }
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_SELECTOR, ctx.s(SELECTOR));
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    ctx.set(SELECTOR, act.value);
}
