//! A consumer without a shaft of its own: light, heater, galley, crane, converter.

use super::declare::*;
use super::electric::{
    Change, Contactor, DROP_OUT_SHARE, FIRST_VOLTAGE_TICK, RESTART_WORDS, ROOT_3, apparent_admittance,
    block_start, is_shed, leak_s, load_admittance,
};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, KindDef, LinkDef, NeedDef, Net, ParamDef, PortDef,
    Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::nets::ac::Complex;
use crate::unit::Dimension;

const BEHAVIOUR: &[&str] = &["constant impedance", "constant power"];

declare!(PORTS: PortDef {
    SUPPLY = port("supply", Net::Ac, 0, "Node that feeds it."),
    CONTROL_SUPPLY = free_port("control", Net::Dc, 0, "Control supply of its switch; free: always there."),
});
declare!(PARAMS: ParamDef {
    POWER = quantity("power", Dimension::Power, 1.0, 50e6, "Power at nominal voltage."),
    POWER_FACTOR = quantity_or("power-factor", Dimension::Ratio, (0.01, 1.0), 1.0, "Power factor, lagging."),
    BEHAVIOUR_P = choice("behaviour", BEHAVIOUR, 0, "Constant impedance, or constant power down to 70 % of voltage and constant impedance below."),
    USE = quantity_or("use", Dimension::Ratio, (0.0, 1.0), 1.0, "Share of its power that is used, on an average."),
    START_VA = quantity_or("start", Dimension::ApparentPower, (0.0, 200e6), 0.0, "Apparent power while it starts, at a power factor of 0.4; 0: none."),
    START_TIME = quantity_or("start-time", Dimension::Time, (0.0, 120.0), 3.0, "How long it starts; common practice, no source."),
    RESTART = choice("restart", RESTART_WORDS, 0, "What it does when the supply comes back after a loss."),
    RESTART_DELAY = quantity_or("restart-delay", Dimension::Time, (0.0, 600.0), 0.0, "Delay from the return of supply."),
    SHED_STAGE = whole("shed-stage", (1, 3), 1, "Stage of preferential trip at which it is taken off."),
    HEAT_SHARE = quantity_or("heat-share", Dimension::Ratio, (0.0, 1.0), 1.0, "Share of its power that warms the room it stands in."),
});
declare!(LINKS: LinkDef {
    SHED_BY = watch("shed-by", false, "Stage of preferential trip that takes it off: `stage` of a preferential trip."),
    PERMITTED_BY = watch("permitted-by", false, "It starts only while this reading is above 0.5: `granted` of a heavy consumer's request."),
    CHOSEN_BY = watch("chosen-by", false, "It comes back by itself only while this reading is above 0.5: of a pair, the chosen one."),
});
declare!(STATE: StateDef {
    ON = state_flag("on", false, "It is switched on."),
    USED = state("use", Dimension::Ratio, (0.0, 1.5), -1.0, "Share of its power in use now; the parameter `use` until something sets it."),
    PENDING = inner("restart-pending", 0.0, "It was on when the supply was lost and wants to come back."),
    LOW_S = inner("low-voltage-time", 0.0, "How long the voltage has been below the drop-out limit."),
    BACK_S = inner("supply-back-time", 0.0, "How long the supply has been back."),
    ON_S = inner("on-time", 1e6, "Time since it came on."),
    CONDUCTANCE = inner("conductance", 0.0, "Real part of its admittance, S."),
    SUSCEPTANCE = inner("susceptance", 0.0, "Imaginary part of its admittance, S."),
    SHED = state_flag("shed", false, "It was taken off by preferential trip and is not reset."),
    BY_HAND = inner("stopped-by-hand", 0.0, "It was last stopped by a hand or an order."),
});
declare!(ACTS: ActDef {
    START = act(Verb::Start, Reach::Remote, 2.0, "Switch it on."),
    STOP = act(Verb::Stop, Reach::Remote, 1.0, "Switch it off; a pending restart is forgotten."),
    SET_USE = set_quantity("use", Dimension::Ratio, (0.0, 1.0), Reach::Remote, 2.0, "Use this share of its power."),
    RESET = act(Verb::Reset, Reach::Local, 5.0, "Put its switch back after a preferential trip."),
});
declare!(FAULTS: FaultDef {
    SHORT = fault("short-circuit", 1.0, "A fault in its cable: at 100 % twenty times its power, so that its breaker trips."),
    INSULATION = fault("insulation-low", 0.7, "It is damp or chafed: 20 megohm to earth fall to 1 kilohm at 100 %, 17 kilohm at 70 %. The board's insulation is low while it is on."),
    FAILS = fault("fails", 1.0, "It is burnt out: it takes no power."),
    OVERLOADS = fault("overloads", 0.5, "It takes up to as much again: current and load rise."),
    WELDED = fault("contactor-welded", 1.0, "Its contacts are welded: it stays on when it is switched off."),
});
declare!(NEEDS: NeedDef {
    NEED_SUPPLY = need("supply", "Voltage at its supply, above the drop-out limit of its contactor."),
});
declare!(READINGS: ReadingDef {
    R_ON = reading_words("on", NO_YES, Seen::Remote, "Is it switched on?"),
    R_CURRENT = reading("current", Dimension::Current, Seen::Local, "Line current."),
    R_POWER = reading("power", Dimension::Power, Seen::Remote, "Power that it takes."),
    R_PENDING = reading_words("restart-pending", NO_YES, Seen::Local, "Will it come on when the supply is back?"),
    R_BY_HAND = reading_words("stopped-by-hand", NO_YES, Seen::Hidden, "Was it last stopped by a hand or an order?"),
    R_HEAT = reading("heat", Dimension::Power, Seen::Hidden, "Heat into the room it stands in."),
    R_SHED = reading_words("shed", NO_YES, Seen::Remote, "Was it taken off by preferential trip?"),
    R_RESTART = reading_words("restart", RESTART_WORDS, Seen::Local, "What it does when the supply comes back after a loss."),
});
declare!(FINDINGS: FindingDef {
    F_LOST = finding("lost-supply", Dimension::Voltage, "dropped out: {measured} at its supply, needs {limit}"),
    F_SHED = finding("shed", Dimension::None, "taken off by preferential trip, stage {measured}"),
    F_RESTARTED = finding("restarted", Dimension::Time, "came on again by itself {measured} after its supply came back"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "load",
    doc: "A consumer without a shaft of its own: light, heater, galley, crane, converter.",
    physics: "A constant admittance, or one that follows the voltage of the tick before so that power stays constant, with a floor at 70 % of voltage; while it starts, the starting admittance is in parallel.",
    source: "ZIP load model (Kundur, Power System Stability and Control, ch. 7, from memory)",
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
        settle: Some(settle),
        control: Some(control),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

const CONTACTOR: Contactor = Contactor {
    supply: SUPPLY,
    control: CONTROL_SUPPLY,
    on: ON,
    pending: PENDING,
    low_s: LOW_S,
    back_s: BACK_S,
    restart: RESTART,
    delay: RESTART_DELAY,
};
/// Constant power becomes constant impedance below this share of voltage.
const FLOOR_SHARE: f64 = 0.7;

fn settle(ctx: &mut Ctx<'_>) {
    if ctx.s(USED) < 0.0 {
        ctx.set(USED, ctx.p(USE));
    }
}

fn control(ctx: &mut Ctx<'_>) {
    let was_on = ctx.is(ON);
    let back_s = ctx.s(BACK_S);
    let share = ctx.voltage_share(SUPPLY);
    if was_on {
        let (node, own_s) = (ctx.node(SUPPLY), leak_s(ctx.fault(INSULATION)));
        ctx.nets.ac.add_leak(node, own_s);
    }
    if !ctx.is(SHED) && is_shed(ctx, SHED_BY, SHED_STAGE) && (was_on || ctx.is(PENDING)) {
        ctx.set_is(ON, false);
        ctx.set_is(PENDING, false);
        ctx.set_is(SHED, true);
        ctx.find(F_SHED, ctx.p(SHED_STAGE), 0.0, 0.0);
    }
    if ctx.has_link(CHOSEN_BY) && ctx.watched(CHOSEN_BY) < 0.5 {
        ctx.set_is(PENDING, false);
    }
    match CONTACTOR.watch(ctx, share, true) {
        Change::Dropped => {
            let nominal_v = ctx.nets.ac.nominal_v[ctx.node(SUPPLY)];
            let (measured, since_s) = (share * nominal_v, ctx.s(LOW_S));
            ctx.find(F_LOST, measured, DROP_OUT_SHARE * nominal_v, since_s);
        }
        Change::Restarted => ctx.find(F_RESTARTED, back_s, ctx.p(RESTART_DELAY), back_s),
        Change::None => {}
    }
    if ctx.is(ON) && !was_on {
        ctx.set(ON_S, 0.0);
    } else {
        let on_s = ctx.s(ON_S) + ctx.dt_s;
        ctx.set(ON_S, on_s);
    }
    let fed = ctx.tick < FIRST_VOLTAGE_TICK || share >= DROP_OUT_SHARE;
    ctx.need_while(NEED_SUPPLY, was_on || ctx.is(PENDING), fed);
    let (node, y) = (ctx.node(SUPPLY), admittance(ctx, share));
    ctx.set(CONDUCTANCE, y.re);
    ctx.set(SUSCEPTANCE, y.im);
    ctx.nets.ac.add_standing(node, y);
}

fn admittance(ctx: &Ctx<'_>, share: f64) -> Complex {
    if !ctx.is(ON) || ctx.fault(FAILS) >= 0.5 {
        return Complex::ZERO;
    }
    let nominal_v = ctx.nets.ac.nominal_v[ctx.node(SUPPLY)];
    let volts = match ctx.p(BEHAVIOUR_P) as usize {
        0 => nominal_v,
        // Found running, before anything has been solved: as at its nominal voltage, not as after a dip.
        _ if ctx.tick < FIRST_VOLTAGE_TICK => nominal_v,
        _ => nominal_v * share.max(FLOOR_SHARE),
    };
    let mut y = load_admittance(
        ctx.p(POWER) * ctx.s(USED) * (1.0 + ctx.fault(OVERLOADS)),
        ctx.p(POWER_FACTOR),
        volts,
    );
    if ctx.s(ON_S) < ctx.p(START_TIME) && ctx.p(START_VA) > 0.0 {
        y = apparent_admittance(ctx.p(START_VA), 0.4, nominal_v);
    }
    if ctx.faulty(SHORT) {
        y = y + apparent_admittance(20.0 * ctx.fault(SHORT) * ctx.p(POWER), 0.3, nominal_v);
    }
    y
}

fn publish(ctx: &mut Ctx<'_>) {
    let volts = ctx.nets.ac.volts[ctx.node(SUPPLY)];
    let y = Complex::new(ctx.s(CONDUCTANCE), ctx.s(SUSCEPTANCE));
    let power_w = y.re * volts * volts;
    ctx.read_out(R_ON, ctx.s(ON));
    ctx.read_out(R_POWER, power_w);
    ctx.read_out(R_CURRENT, y.abs() * volts / ROOT_3);
    ctx.read_out(R_HEAT, power_w * ctx.p(HEAT_SHARE));
    ctx.read_out(R_PENDING, ctx.s(PENDING));
    ctx.read_out(R_BY_HAND, ctx.s(BY_HAND));
    ctx.read_out(R_SHED, ctx.s(SHED));
    ctx.read_out(R_RESTART, ctx.p(RESTART));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    match act.index {
        START if view.is(ON) => blocks.push(Block { code: "already-on", text: "it is on".into() }),
        START => {
            CONTACTOR.block(view, blocks);
            block_start(view, SHED, PERMITTED_BY, blocks);
        }
        RESET if !view.is(SHED) => {
            blocks.push(Block {
                code: "not-tripped",
                text: "it was not taken off by preferential trip".into(),
            });
        }
        STOP if !view.is(ON) && !view.is(PENDING) => {
            blocks.push(Block { code: "already-off", text: "it is off".into() });
        }
        _ => {}
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    match act.index {
        START => {
            ctx.set_is(ON, true);
            ctx.set_is(PENDING, false);
            ctx.set_is(BY_HAND, false);
            ctx.set(ON_S, 0.0);
        }
        STOP => {
            ctx.set_is(ON, ctx.fault(WELDED) >= 0.5);
            ctx.set_is(PENDING, false);
            ctx.set_is(BY_HAND, true);
        }
        RESET => ctx.set_is(SHED, false),
        _ => ctx.set(USED, act.value),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kinds::testkit::Rig;

    #[test]
    fn consumers_take_their_power_at_their_voltage() {
        for (behaviour, expected_w) in [("constant impedance", 50e3 * 0.81), ("constant power", 50e3)] {
            let mut rig = Rig::new(&format!(
                r#"
[[node]]
names = ["cable", "bus"]
net = "ac"
[[shore-supply]]
name = "shore"
cable = "cable"
bus = "bus"
voltage = "396 V"
[[load]]
name = "galley"
supply = "bus"
power = "50 kW"
power-factor = "98 %"
behaviour = "{behaviour}"
"#
            ));
            rig.act("shore", 0, 0.0);
            rig.run(0.1);
            rig.act("galley", START, 0.0);
            rig.run(0.5);
            let power = rig.value("galley.power");
            assert!((power / expected_w - 1.0).abs() < 0.002, "{behaviour}: {power}");
            let current = expected_w / 0.98 / 396.0 / ROOT_3;
            assert!((rig.value("galley.current") / current - 1.0).abs() < 0.002);
        }
    }
}
