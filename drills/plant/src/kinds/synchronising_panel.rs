//! The synchronising panel of a switchboard: one incoming machine at a time, by hand or automatically.

use super::declare::*;
use super::prime_mover::PrimeMover;
use super::synchroniser::Synchroniser;
use super::{electric, generator, generator_breaker as breaker};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, KindDef, LinkDef, Net, PortDef, Reach, ReadingDef, Seen,
    StateDef, Verb,
};
use crate::unit::Dimension;

/// Machines that a panel can choose from.
const MACHINES: usize = 4;
const INCOMING: &[&str] = &["none", "1", "2", "3", "4"];
const MODES: &[&str] = &["off", "by hand", "automatic"];
const TAPS: &[&str] = &["lower", "raise"];
const TURNS: &[&str] = &["dark", "slow", "in step", "fast"];
const OFF: f64 = 0.0;
const AUTOMATIC: f64 = 2.0;

declare!(PORTS: PortDef {
    CONTROL_SUPPLY = free_port("control", Net::Dc, 0, "Control supply; free: always there."),
});
declare!(LINKS: LinkDef {
    BREAKER_1 = link("breaker-1", &["generator-breaker"], true, "Breaker of the machine that is chosen by `1`."),
    BREAKER_2 = link("breaker-2", &["generator-breaker"], false, "The same for `2`."),
    BREAKER_3 = link("breaker-3", &["generator-breaker"], false, "The same for `3`."),
    BREAKER_4 = link("breaker-4", &["generator-breaker"], false, "The same for `4`."),
    ENGINE_1 = link("engine-1", &["diesel-engine"], false, "Engine of machine 1, whose governor is trimmed; none: its speed is not moved from here."),
    ENGINE_2 = link("engine-2", &["diesel-engine"], false, "Engine of machine 2."),
    ENGINE_3 = link("engine-3", &["diesel-engine"], false, "Engine of machine 3."),
    ENGINE_4 = link("engine-4", &["diesel-engine"], false, "Engine of machine 4."),
    TURBINE_1 = link("turbine-1", &["steam-turbine"], false, "Steam turbine of machine 1, in place of an engine."),
    TURBINE_2 = link("turbine-2", &["steam-turbine"], false, "Steam turbine of machine 2."),
    TURBINE_3 = link("turbine-3", &["steam-turbine"], false, "Steam turbine of machine 3."),
    TURBINE_4 = link("turbine-4", &["steam-turbine"], false, "Steam turbine of machine 4."),
    GENERATOR_1 = link("generator-1", &["generator"], false, "Generator of machine 1, whose voltage is trimmed."),
    GENERATOR_2 = link("generator-2", &["generator"], false, "Generator of machine 2."),
    GENERATOR_3 = link("generator-3", &["generator"], false, "Generator of machine 3."),
    GENERATOR_4 = link("generator-4", &["generator"], false, "Generator of machine 4."),
});
declare!(STATE: StateDef {
    CHOSEN = state_choice("incoming", INCOMING, 0, "Machine that is chosen."),
    MODE = state_choice("mode", MODES, 0, "Off, by hand, or automatic."),
    SINCE_TRIM_S = inner("since-trim", 0.0, "Time since the automatic synchroniser trimmed, s."),
    WORKING_S = inner("working", 0.0, "How long the automatic synchroniser has worked, s."),
});
declare!(ACTS: ActDef {
    SET_INCOMING = set_choice("incoming", INCOMING, Reach::Remote, 2.0, "Choose the incoming machine; that switches the automatic synchroniser off."),
    SET_MODE = set_choice("mode", MODES, Reach::Remote, 2.0, "Off; by hand; automatic: it trims speed and voltage and closes the breaker in step."),
    SPEED = set_choice("speed", TAPS, Reach::Remote, 1.0, "One tap of the governor's switch of the incoming machine: 0.05 Hz."),
    VOLTAGE = set_choice("voltage", TAPS, Reach::Remote, 1.0, "One tap of the voltage switch of the incoming machine: 1 V."),
    CLOSE = act(Verb::Close, Reach::Remote, 1.0, "Close the breaker of the incoming machine. Order it a little before the pointer stands at twelve: the breaker takes its time."),
});
declare!(FAULTS: FaultDef {
    FROZEN = fault("synchroscope-sticks", 1.0, "The synchroscope stands still at twelve: its readings tell of step that is not there. The check relay is not deceived."),
    DEAD = fault("automatic-dead", 1.0, "The automatic synchroniser does nothing."),
});
declare!(READINGS: ReadingDef {
    R_INCOMING = reading_words("incoming", INCOMING, Seen::Remote, "Machine that is chosen."),
    R_MODE = reading_words("mode", MODES, Seen::Remote, "Off, by hand, or automatic."),
    R_ANGLE = reading("angle", Dimension::Angle, Seen::Remote, "Pointer of the synchroscope: angle of the machine ahead of the bus."),
    R_SLIP = reading("slip", Dimension::Frequency, Seen::Remote, "Frequency of the machine less that of the bus."),
    R_TURNS = reading_words("turns", TURNS, Seen::Remote, "Which way the pointer turns: the machine is slow or fast."),
    R_LAMP = reading("lamp", Dimension::Ratio, Seen::Remote, "Brightness of the synchronising lamps; dark in step."),
    R_DIFFERENCE = reading("voltage-difference", Dimension::Voltage, Seen::Remote, "Voltage of the machine less that of the bus."),
    R_MACHINE_HZ = reading("incoming-frequency", Dimension::Frequency, Seen::Remote, "Frequency of the incoming machine."),
    R_MACHINE_V = reading("incoming-voltage", Dimension::Voltage, Seen::Remote, "Voltage of the incoming machine."),
    R_BUS_HZ = reading("bus-frequency", Dimension::Frequency, Seen::Remote, "Frequency of the bus."),
    R_BUS_V = reading("bus-voltage", Dimension::Voltage, Seen::Remote, "Voltage of the bus."),
    R_CHECK = reading_words("closing-check", breaker::CLOSING_WORDS, Seen::Remote, "What the check relay of the chosen breaker says."),
    R_PERMIT = reading_words("permit", NO_YES, Seen::Remote, "Would the breaker close now?"),
});
declare!(FINDINGS: FindingDef {
    F_GAVE_UP = finding("gave-up", Dimension::Time, "the automatic synchroniser gave up after {measured}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "synchronising-panel",
    doc: "The synchronising panel of a switchboard: selector, synchroscope, lamps, governor and voltage switches, automatic synchroniser.",
    physics: "Shows angle, slip and voltage difference of the chosen machine against the bus; lamps as the sine of half the angle. The automatic synchroniser trims to a slip of 0.12 Hz and orders the breaker to close so that its contacts meet in step.",
    source: "Sheldrake, Handbook of Electrical Engineering (synchronising; from memory); figures of the automatic synchroniser: common practice, no source",
    ports: PORTS,
    links: LINKS,
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

/// One tap of a switch.
const TAP_HZ: f64 = 0.05;
const TAP_V: f64 = 1.0;
/// Below this voltage of the machine the panel is dark, V.
const DARK_V: f64 = 50.0;
/// Below this slip the pointer seems to stand, Hz.
const STANDS_HZ: f64 = 0.01;
/// The automatic synchroniser gives up after this time, s; common practice, no source.
const GIVES_UP_S: f64 = 180.0;

/// Links of the chosen machine; `None` while none is chosen or the ship does not have it.
fn chosen(number: f64, has: impl Fn(usize) -> bool) -> Option<usize> {
    let place = (number as usize).checked_sub(1)?;
    (place < MACHINES && has(BREAKER_1 + place)).then_some(place)
}

/// What drives a machine, as far as the panel goes: its governor.
fn mover(place: usize) -> PrimeMover {
    PrimeMover {
        controls: ENGINE_1 + place,
        engine: ENGINE_1 + place,
        turbine: TURBINE_1 + place,
        generator: GENERATOR_1 + place,
    }
}

fn control(ctx: &mut Ctx<'_>) {
    ctx.draw_dc(CONTROL_SUPPLY, 0.2);
    let works = ctx.s(MODE) == AUTOMATIC && ctx.has_control_voltage(CONTROL_SUPPLY);
    let Some(place) = chosen(ctx.s(CHOSEN), |link| ctx.has_link(link)).filter(|_| works) else {
        ctx.set(WORKING_S, 0.0);
        return;
    };
    if ctx.linked(BREAKER_1 + place, breaker::R_CLOSED) > 0.5 {
        ctx.set(MODE, OFF);
        return;
    }
    if ctx.fault(DEAD) < 0.5 {
        let synchroniser =
            Synchroniser { breaker: BREAKER_1 + place, mover: mover(place), since_trim_s: SINCE_TRIM_S };
        synchroniser.work(ctx);
    }
    let working_s = ctx.time_while(WORKING_S, true);
    if working_s > GIVES_UP_S {
        ctx.set(MODE, OFF);
        ctx.find(F_GAVE_UP, working_s, GIVES_UP_S, working_s);
    }
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_INCOMING, ctx.s(CHOSEN));
    ctx.read_out(R_MODE, ctx.s(MODE));
    for reading in R_ANGLE..=R_PERMIT {
        ctx.read_out(reading, 0.0);
    }
    let on = ctx.s(MODE) != OFF && ctx.has_control_voltage(CONTROL_SUPPLY);
    let Some(place) = chosen(ctx.s(CHOSEN), |link| ctx.has_link(link)).filter(|_| on) else { return };
    let shown = |reading: usize| ctx.linked(BREAKER_1 + place, reading);
    let stuck = ctx.fault(FROZEN) >= 0.5;
    let (angle, slip) = if stuck { (0.0, 0.0) } else { (shown(breaker::R_ANGLE), shown(breaker::R_SLIP)) };
    let (bus_v, bus_hz) = (shown(breaker::R_BUS_VOLTAGE), shown(breaker::R_BUS_FREQUENCY));
    let (difference_v, check, ready) =
        (shown(breaker::R_DIFFERENCE), shown(breaker::R_CLOSING), shown(breaker::R_READY));
    let (machine_v, machine_hz) = machine_meters(ctx, place, difference_v + bus_v, slip + bus_hz);
    let live = bus_hz > 0.0 && machine_v > DARK_V;
    ctx.read_out(R_ANGLE, angle);
    ctx.read_out(R_SLIP, slip);
    ctx.read_out(R_TURNS, turns(live, slip));
    let pointer = ctx.linked(BREAKER_1 + place, breaker::R_ANGLE);
    // The lamps hang between machine and bus: no synchroscope deceives them.
    ctx.read_out(R_LAMP, if live { libm::fabs(libm::sin(0.5 * pointer)) } else { 0.0 });
    ctx.read_out(R_DIFFERENCE, difference_v);
    ctx.read_out(R_MACHINE_HZ, machine_hz);
    ctx.read_out(R_MACHINE_V, machine_v);
    ctx.read_out(R_BUS_HZ, bus_hz);
    ctx.read_out(R_BUS_V, bus_v);
    ctx.read_out(R_CHECK, check);
    ctx.read_out(R_PERMIT, ready);
}

/// Voltage and frequency of the incoming machine: its own meters, where the panel knows the machine.
fn machine_meters(ctx: &Ctx<'_>, place: usize, volts: f64, hz: f64) -> (f64, f64) {
    let link = GENERATOR_1 + place;
    if ctx.has_link(link) {
        (ctx.linked(link, generator::R_VOLTAGE), ctx.linked(link, generator::R_FREQUENCY))
    } else {
        (volts, hz)
    }
}

fn turns(live: bool, slip_hz: f64) -> f64 {
    match slip_hz {
        _ if !live => 0.0,
        slip if slip < -STANDS_HZ => 1.0,
        slip if slip > STANDS_HZ => 3.0,
        _ => 2.0,
    }
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    electric::block_without_control(view, CONTROL_SUPPLY, blocks);
    if act.index == SET_INCOMING {
        let missing = act.value > 0.5 && chosen(act.value, |link| view.has_link(link)).is_none();
        if missing {
            blocks.push(Block { code: "no-such-machine", text: "the board has no such machine".into() });
        }
        return;
    }
    let Some(place) = chosen(view.s(CHOSEN), |link| view.has_link(link)) else {
        if act.index != SET_MODE || act.value == AUTOMATIC {
            blocks.push(Block { code: "none-chosen", text: "no incoming machine is chosen".into() });
        }
        return;
    };
    let without = |links: [usize; 2], what: &str, blocks: &mut Vec<Block>| {
        if links.iter().all(|link| !view.has_link(link + place)) {
            let text = format!("the {what} of this machine is not moved from this panel");
            blocks.push(Block { code: "not-from-here", text });
        }
    };
    match act.index {
        SPEED => without([ENGINE_1, TURBINE_1], "speed", blocks),
        VOLTAGE => without([GENERATOR_1; 2], "voltage", blocks),
        CLOSE if view.s(MODE) == OFF => {
            blocks.push(Block { code: "switched-off", text: "the panel is switched off".into() });
        }
        CLOSE => breaker::closing_blocks(&view.from_linked(BREAKER_1 + place), blocks),
        _ => {}
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        SET_INCOMING => {
            ctx.set(CHOSEN, act.value);
            if ctx.s(MODE) == AUTOMATIC {
                ctx.set(MODE, OFF);
            }
            return;
        }
        SET_MODE => {
            ctx.set(MODE, act.value);
            ctx.set(WORKING_S, 0.0);
            return;
        }
        _ => {}
    }
    let Some(place) = chosen(ctx.s(CHOSEN), |link| ctx.has_link(link)) else { return };
    let way = if act.value > 0.5 { 1.0 } else { -1.0 };
    match act.index {
        SPEED => {
            let hz = ctx.linked(BREAKER_1 + place, breaker::R_BUS_FREQUENCY).max(50.0);
            mover(place).trim(ctx, way * TAP_HZ / hz);
        }
        VOLTAGE => {
            let set_v = ctx.linked(GENERATOR_1 + place, generator::R_SET) + way * TAP_V;
            ctx.request(GENERATOR_1 + place, generator::SET_VOLTAGE, set_v);
        }
        _ => ctx.request(BREAKER_1 + place, breaker::CLOSE, 0.0),
    }
}

#[cfg(test)]
mod tests;
