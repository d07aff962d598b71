//! The emergency switchboard's two supplies, interlocked so that never both are closed.

use super::declare::*;
use super::electric::{FIRST_VOLTAGE_TICK, ROUNDING_S, block_without_control, line_a};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, KindDef, LinkDef, NeedDef, Net, ParamDef,
    PortDef, Reach, ReadingDef, Seen, StateDef,
};
use crate::unit::Dimension;

const SUPPLIES: &[&str] = &["normal", "emergency"];
/// Words of the reading `supply`.
pub const SUPPLY_WORDS: &[&str] = &["none", "normal", "emergency"];
const NONE: f64 = 0.0;
const FROM_NORMAL: f64 = 1.0;
const FROM_EMERGENCY: f64 = 2.0;

declare!(PORTS: PortDef {
    NORMAL = port("normal", Net::Ac, 0, "Interconnector from the main switchboard."),
    EMERGENCY = port("emergency", Net::Ac, 0, "Terminals of the emergency generator."),
    BUS = port("bus", Net::Ac, 0, "Emergency busbar."),
    CONTROL_SUPPLY = free_port("control", Net::Dc, 0, "Control supply of the selector logic; free: always there."),
});
declare!(PARAMS: ParamDef {
    LOSS = quantity_or("loss-voltage", Dimension::Ratio, (0.2, 0.95), 0.70, "Below this share of voltage a supply counts as lost."),
    LOSS_T = quantity_or("loss-delay", Dimension::Time, (0.0, 30.0), 1.0, "For how long, before the breaker of the lost supply opens."),
    START_T = quantity_or("start-delay", Dimension::Time, (0.0, 60.0), 2.0, "From the loss to the start order for the emergency set."),
    READY_V = quantity_or("emergency-voltage", Dimension::Ratio, (0.5, 1.0), 0.90, "Voltage from which the emergency side may close."),
    READY_F = quantity_or("emergency-frequency", Dimension::Ratio, (0.5, 1.0), 0.95, "Frequency from which the emergency side may close."),
    BACK_LOW = quantity_or("normal-low", Dimension::Ratio, (0.5, 1.0), 0.95, "Lowest voltage for a return to the main switchboard."),
    BACK_HIGH = quantity_or("normal-high", Dimension::Ratio, (1.0, 1.3), 1.06, "Highest voltage for a return."),
    BACK_T = quantity_or("normal-time", Dimension::Time, (0.0, 600.0), 10.0, "For how long the main switchboard must have had it."),
    GAP = quantity_or("gap", Dimension::Time, (0.0, 10.0), 0.6, "Time without supply between opening one side and closing the other."),
});
declare!(LINKS: LinkDef {
    SET_CONTROLS = link("set-controls", &["engine-controls"], false, "Controls of the emergency engine, ordered to start."),
    MACHINE = link("generator", &["generator"], false, "The emergency generator, for what a block can say about it."),
});
declare!(STATE: StateDef {
    SUPPLY = state_choice("supply", SUPPLY_WORDS, 0, "Which side is closed."),
    AUTOMATIC = state_choice("selector", MANUAL_AUTOMATIC, 1, "Position of the selector."),
    TARGET = inner("target", 0.0, "Side that is to be closed after the gap; 0 none."),
    GAP_S = inner("gap-time", 0.0, "How long both sides have been open on a hand's order."),
    LOSS_S = inner("loss-time", 0.0, "How long the main switchboard's supply has been lost."),
    OWN_LOSS_S = inner("own-loss-time", 0.0, "How long the supply that is closed has been lost."),
    BACK_S = inner("normal-time", 0.0, "How long the main switchboard's supply has been good."),
    ASK_S = inner("ask-time", 0.0, "Time since the last start order; 0 before the first."),
});
declare!(ACTS: ActDef {
    SET_SUPPLY = set_choice("supply", SUPPLIES, Reach::Remote, 4.0, "Change over to this supply: everything on the emergency board loses power for the gap."),
    SET_SELECTOR = set_choice("selector", MANUAL_AUTOMATIC, Reach::Local, 2.0, "Automatic: starts the emergency set and takes it on loss of supply."),
});
declare!(FAULTS: FaultDef {
    STICKS = fault("sticks", 1.0, "The mechanism does not move: what is closed stays closed, what is open stays open."),
    BLIND = fault("loss-relay-blind", 1.0, "The relay does not see the loss of supply: nothing starts by itself."),
});
declare!(NEEDS: NeedDef {
    NEED_SUPPLY = need("supply", "Voltage on the emergency busbar."),
});
declare!(READINGS: ReadingDef {
    R_SUPPLY = reading_words("supply", SUPPLY_WORDS, Seen::Remote, "Which side is closed?"),
    R_NORMAL = reading_words("normal-available", NO_YES, Seen::Remote, "Has the main switchboard been good for long enough?"),
    R_EMERGENCY = reading_words("emergency-available", NO_YES, Seen::Remote, "Has the emergency generator voltage and frequency?"),
    R_AUTOMATIC = reading_words("selector", MANUAL_AUTOMATIC, Seen::Remote, "Position of the selector."),
    R_VOLTAGE = reading("voltage", Dimension::Voltage, Seen::Remote, "Voltage of the emergency busbar."),
    R_POWER = reading("power", Dimension::Power, Seen::Remote, "Power into the emergency busbar."),
    R_CURRENT = reading("current", Dimension::Current, Seen::Remote, "Line current into the emergency busbar."),
    R_FREQUENCY = reading("frequency", Dimension::Frequency, Seen::Remote, "Frequency of the emergency busbar."),
});
declare!(FINDINGS: FindingDef {
    F_TO_NORMAL = finding("transferred-to-normal", Dimension::Voltage, "closed to the main switchboard at {measured}"),
    F_TO_EMERGENCY = finding("transferred-to-emergency", Dimension::Voltage, "closed to the emergency generator at {measured}"),
    F_LOST_NORMAL = finding("opened-normal", Dimension::Voltage, "opened to the main switchboard: {measured}, limit {limit}"),
    F_LOST_EMERGENCY = finding("opened-emergency", Dimension::Voltage, "opened to the emergency generator: {measured}, limit {limit}"),
    F_ASKED = finding("start-ordered", Dimension::Time, "ordered the emergency set to start {measured} after the loss of supply"),
    F_GAVE_UP = finding("transfer-failed", Dimension::Voltage, "did not close: {measured} at the chosen supply, needs {limit}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "bus-transfer",
    doc: "The change-over of the emergency switchboard between main switchboard and emergency generator.",
    physics: "Two ideal switches with a mechanical interlock: one opens, a gap passes, the other closes. Loss of supply is judged at the emergency end. A return to the main switchboard is by hand, except when the emergency busbar is dead and its generator does not run.",
    source: "SOLAS II-1/42 and 43 (from memory); times: common practice, no source",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    ac_branches: &[BranchDef { from: NORMAL, to: BUS }, BranchDef { from: EMERGENCY, to: BUS }],
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

/// A start order that has brought nothing is given again after this time, s; common practice, no source.
const ASK_AGAIN_S: f64 = 5.0;
/// Index of the act START of `engine-controls`.
const START_ACT: usize = 0;
/// Index of the reading `excited` of `generator`.
const EXCITED_READING: usize = super::generator::R_EXCITED;

fn settle(ctx: &mut Ctx<'_>) {
    let emergency = ctx.wiring.ac_branches + 1;
    ctx.nets.ac.mark_source_breaker(emergency);
    if ctx.s(SUPPLY) == FROM_NORMAL {
        // A start state with this side closed has had it for long.
        ctx.set(BACK_S, 1e6);
    }
    connect(ctx, ctx.s(SUPPLY));
}

/// Sets both sides: open first, so that never both are closed.
fn connect(ctx: &mut Ctx<'_>, supply: f64) {
    ctx.set(SUPPLY, supply);
    if supply != FROM_NORMAL {
        ctx.switch(0, false);
    }
    if supply != FROM_EMERGENCY {
        ctx.switch(1, false);
    }
    if supply == FROM_NORMAL {
        ctx.switch(0, true);
    } else if supply == FROM_EMERGENCY {
        ctx.switch(1, true);
    }
}

fn emergency_ready(ctx: &Ctx<'_>) -> bool {
    let hz_share = ctx.frequency_hz(EMERGENCY) / ctx.nets.ac.nominal_hz[ctx.node(EMERGENCY)];
    ctx.voltage_share(EMERGENCY) >= ctx.p(READY_V) && hz_share >= ctx.p(READY_F)
}

fn normal_ready(ctx: &Ctx<'_>) -> bool {
    ctx.s(BACK_S) + ROUNDING_S >= ctx.p(BACK_T) && ctx.s(BACK_S) > 0.0
}

fn control(ctx: &mut Ctx<'_>) {
    ctx.draw_dc(CONTROL_SUPPLY, 0.3);
    let normal = ctx.voltage_share(NORMAL);
    let loss_s = ctx.time_while(LOSS_S, normal < ctx.p(LOSS) && ctx.fault(BLIND) < 0.5);
    ctx.time_while(BACK_S, normal >= ctx.p(BACK_LOW) && normal <= ctx.p(BACK_HIGH));
    let fed = ctx.tick < FIRST_VOLTAGE_TICK || ctx.voltage_share(BUS) >= ctx.p(LOSS);
    ctx.need(NEED_SUPPLY, fed);
    let stuck = ctx.fault(STICKS) >= 0.5;
    open_what_is_lost(ctx, stuck);
    if !ctx.has_control_voltage(CONTROL_SUPPLY) {
        return;
    }
    if ctx.s(TARGET) != NONE {
        finish_change_over(ctx, stuck);
    } else if ctx.s(AUTOMATIC) > 0.5 {
        ask_for_set(ctx, loss_s);
        if ctx.s(SUPPLY) == NONE && !stuck {
            take_what_is_there(ctx);
        }
    }
}

/// The under-voltage release of the side that is closed: works without control supply.
fn open_what_is_lost(ctx: &mut Ctx<'_>, stuck: bool) {
    let supply = ctx.s(SUPPLY);
    let side = if supply == FROM_EMERGENCY { EMERGENCY } else { NORMAL };
    let share = ctx.voltage_share(side);
    let blind = side == NORMAL && ctx.fault(BLIND) >= 0.5;
    let lost_s = ctx.time_while(OWN_LOSS_S, supply != NONE && share < ctx.p(LOSS) && !blind);
    if lost_s > 0.0 && lost_s + ROUNDING_S >= ctx.p(LOSS_T) && !stuck {
        let nominal_v = ctx.nets.ac.nominal_v[ctx.node(side)];
        connect(ctx, NONE);
        let finding = if side == NORMAL { F_LOST_NORMAL } else { F_LOST_EMERGENCY };
        ctx.find(finding, share * nominal_v, ctx.p(LOSS) * nominal_v, lost_s);
    }
}

fn ask_for_set(ctx: &mut Ctx<'_>, loss_s: f64) {
    let wanted = loss_s > 0.0 && loss_s + ROUNDING_S >= ctx.p(START_T) && ctx.voltage_share(EMERGENCY) < 0.5;
    if !wanted {
        ctx.set(ASK_S, 0.0);
        return;
    }
    let asked_s = ctx.s(ASK_S);
    if asked_s == 0.0 {
        ctx.find(F_ASKED, loss_s, ctx.p(START_T), loss_s);
    }
    if asked_s == 0.0 || asked_s + ROUNDING_S >= ASK_AGAIN_S {
        ctx.request(SET_CONTROLS, START_ACT, 0.0);
        ctx.set(ASK_S, 0.0);
    }
    let next_s = ctx.s(ASK_S) + ctx.dt_s;
    ctx.set(ASK_S, next_s);
}

/// In automatic with both sides open: the emergency generator as soon as it is ready while the main switchboard is
/// lost; the main switchboard when it has been good for its time.
fn take_what_is_there(ctx: &mut Ctx<'_>) {
    if emergency_ready(ctx) && ctx.s(LOSS_S) + ROUNDING_S >= ctx.p(LOSS_T) {
        close_side(ctx, FROM_EMERGENCY);
    } else if normal_ready(ctx) {
        close_side(ctx, FROM_NORMAL);
    }
}

fn close_side(ctx: &mut Ctx<'_>, supply: f64) {
    let (side, finding) =
        if supply == FROM_NORMAL { (NORMAL, F_TO_NORMAL) } else { (EMERGENCY, F_TO_EMERGENCY) };
    let volts = ctx.nets.ac.volts[ctx.node(side)];
    connect(ctx, supply);
    ctx.set(OWN_LOSS_S, 0.0);
    ctx.find(finding, volts, 0.0, 0.0);
}

/// The second half of a change-over by hand: the gap has passed, the chosen side closes if it still has voltage.
fn finish_change_over(ctx: &mut Ctx<'_>, stuck: bool) {
    let gap_s = ctx.s(GAP_S) + ctx.dt_s;
    ctx.set(GAP_S, gap_s);
    if gap_s + ROUNDING_S < ctx.p(GAP) || stuck {
        return;
    }
    let target = ctx.s(TARGET);
    ctx.set(TARGET, NONE);
    let side = if target == FROM_NORMAL { NORMAL } else { EMERGENCY };
    let share = ctx.voltage_share(side);
    if share >= 0.85 {
        close_side(ctx, target);
    } else {
        let nominal_v = ctx.nets.ac.nominal_v[ctx.node(side)];
        ctx.find(F_GAVE_UP, share * nominal_v, 0.85 * nominal_v, 0.0);
    }
}

fn publish(ctx: &mut Ctx<'_>) {
    let volts = ctx.nets.ac.voltage[ctx.node(BUS)];
    let current = ctx.branch_current(0) + ctx.branch_current(1);
    ctx.read_out(R_SUPPLY, ctx.s(SUPPLY));
    ctx.read_out_is(R_NORMAL, normal_ready(ctx));
    ctx.read_out_is(R_EMERGENCY, emergency_ready(ctx));
    ctx.read_out(R_AUTOMATIC, ctx.s(AUTOMATIC));
    ctx.read_out(R_VOLTAGE, volts.abs());
    ctx.read_out(R_POWER, (volts * current.conj()).re);
    ctx.read_out(R_CURRENT, line_a(current));
    ctx.read_out(R_FREQUENCY, ctx.frequency_hz(BUS));
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index != SET_SUPPLY {
        return;
    }
    block_without_control(view, CONTROL_SUPPLY, blocks);
    if view.fault(STICKS) >= 0.5 {
        blocks.push(Block { code: "stuck", text: "the mechanism does not move".into() });
    }
    if view.s(TARGET) != NONE {
        blocks.push(Block { code: "changing-over", text: "it is changing over".into() });
    }
    if act.value < 0.5 { permit_normal(view, blocks) } else { permit_emergency(view, blocks) }
}

fn permit_normal(view: &View<'_>, blocks: &mut Vec<Block>) {
    if view.s(SUPPLY) == FROM_NORMAL {
        blocks.push(Block { code: "already-there", text: "it is supplied by the main switchboard".into() });
        return;
    }
    let nominal_v = view.nets.ac.nominal_v[view.node(NORMAL)];
    let (share, left_s) = (view.voltage_share(NORMAL), view.p(BACK_T) - view.s(BACK_S));
    let (low, high) = (view.p(BACK_LOW), view.p(BACK_HIGH));
    if share < low || share > high {
        let text = format!(
            "the main switchboard has {:.0} V, wants {:.0} to {:.0} V for {:.0} s",
            share * nominal_v,
            low * nominal_v,
            high * nominal_v,
            view.p(BACK_T)
        );
        blocks.push(Block { code: "normal-voltage", text });
    } else if left_s > ROUNDING_S {
        let text = format!("the main switchboard must be good for {left_s:.1} s more");
        blocks.push(Block { code: "normal-not-steady", text });
    }
}

fn permit_emergency(view: &View<'_>, blocks: &mut Vec<Block>) {
    if view.s(SUPPLY) == FROM_EMERGENCY {
        blocks
            .push(Block { code: "already-there", text: "it is supplied by the emergency generator".into() });
        return;
    }
    let node = view.node(EMERGENCY);
    let (nominal_v, nominal_hz) = (view.nets.ac.nominal_v[node], view.nets.ac.nominal_hz[node]);
    let share = view.voltage_share(EMERGENCY);
    if share < view.p(READY_V) {
        let unexcited = view.has_link(MACHINE) && view.linked(MACHINE, EXCITED_READING) < 0.5;
        let why = if unexcited { ", it is not excited" } else { "" };
        let text = format!(
            "the emergency generator has {:.0} V, needs {:.0} V{why}",
            share * nominal_v,
            view.p(READY_V) * nominal_v
        );
        blocks.push(Block { code: "emergency-voltage", text });
    }
    let hz = view.frequency_hz(EMERGENCY);
    if hz < view.p(READY_F) * nominal_hz {
        let text =
            format!("the emergency generator has {hz:.1} Hz, needs {:.1} Hz", view.p(READY_F) * nominal_hz);
        blocks.push(Block { code: "emergency-frequency", text });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    if act.index == SET_SELECTOR {
        ctx.set(AUTOMATIC, act.value);
        return;
    }
    // Both sides are open already for a while when there is nothing to open: the gap is kept all the same.
    connect(ctx, NONE);
    ctx.set(TARGET, if act.value < 0.5 { FROM_NORMAL } else { FROM_EMERGENCY });
    ctx.set(GAP_S, 0.0);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::kinds::testkit::Rig;

    /// Shore stands for the main switchboard; the emergency generator turns on a heavy shaft.
    fn rig() -> Rig {
        let mut rig = Rig::new(
            r#"
[[node]]
names = ["cable", "main", "eg", "emergency"]
net = "ac"
[[node]]
name = "shaft"
net = "shaft"
inertia = "1000000000 kg m2"
[[shore-supply]]
name = "shore"
cable = "cable"
bus = "main"
[[generator]]
name = "g"
shaft = "shaft"
terminals = "eg"
rated-power = "120 kW"
poles = 4
automatic-excitation = true
[[bus-transfer]]
name = "transfer"
normal = "main"
emergency = "eg"
bus = "emergency"
generator = "g"
[[load]]
name = "light"
supply = "emergency"
power = "20 kW"
restart = "automatic"
"#,
        );
        rig.act("shore", 0, 0.0);
        let time_s = rig.until(15.0, |r| r.value("transfer.supply") == 1.0);
        assert!(time_s >= 10.0, "{time_s}");
        rig.act("light", 0, 0.0);
        rig.run(1.0);
        rig
    }

    #[test]
    fn takes_the_emergency_set_and_goes_back_by_hand_with_a_gap() {
        let mut rig = rig();
        assert_eq!(rig.blocks("transfer", SET_SUPPLY, 1.0).len(), 2);
        rig.act("shore", 1, 0.0);
        let time_s = rig.until(3.0, |r| r.value("transfer.supply") == 0.0);
        assert!((1.0..1.11).contains(&time_s), "{time_s}");
        let time_s = time_s + rig.until(3.0, |r| r.has_found("transfer.start-ordered"));
        assert!((2.0..2.11).contains(&time_s), "{time_s}");
        rig.spin("shaft", 188.5);
        rig.until(5.0, |r| r.value("transfer.supply") == 2.0);
        rig.until(1.0, |r| r.value("light.on") > 0.5);
        rig.act("shore", 0, 0.0);
        rig.run(4.0);
        let blocks = rig.blocks("transfer", SET_SUPPLY, 0.0);
        assert_eq!(blocks[0].code, "normal-not-steady");
        assert!(blocks[0].text.contains("6.0 s") || blocks[0].text.contains("6.1 s"), "{}", blocks[0].text);
        rig.run(20.0);
        assert_eq!(rig.value("transfer.supply"), 2.0);
        rig.act("transfer", SET_SUPPLY, 0.0);
        rig.tick();
        assert_eq!(rig.volts("emergency"), 0.0);
        let gap_s = rig.until(3.0, |r| r.value("transfer.supply") == 1.0);
        assert!((0.5..0.7).contains(&gap_s), "{gap_s}");
        assert!(rig.has_found("light.lost-supply"));
        rig.until(1.0, |r| r.value("light.on") > 0.5);
    }

    #[test]
    fn stuck_mechanism_does_not_move() {
        let mut rig = rig();
        rig.fault("transfer", "sticks", 1.0);
        rig.run(0.1);
        rig.act("shore", 1, 0.0);
        rig.spin("shaft", 188.5);
        rig.run(10.0);
        assert_eq!(rig.value("transfer.supply"), 1.0);
        assert_eq!(rig.blocks("transfer", SET_SUPPLY, 1.0)[0].code, "stuck");
    }
}
