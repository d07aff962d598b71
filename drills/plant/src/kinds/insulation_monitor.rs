//! Insulation of a board to earth: the monitor of a live board, and the check of a dead one before it is closed.

use super::declare::*;
use super::electric::HEALTHY_OHM;
use crate::ctx::{Ctx, View};
use crate::fluid::lag;
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, KindDef, Net, ParamDef, PortDef, Reach, ReadingDef,
    Seen, StateDef, Verb,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    BUS = port("bus", Net::Ac, 0, "Board that it watches: everything that closed breakers join to it counts; a transformer separates."),
});
declare!(PARAMS: ParamDef {
    OWN = quantity_or("board", Dimension::Insulation, (1e4, 1e9), 10e6, "Insulation of the board itself when dry; common practice, no source."),
    DRIES_IN = quantity_or("dries-in", Dimension::Time, (60.0, 1e6), 3600.0, "Time constant in which a live board dries; common practice, no source."),
    DAMP_IN = quantity_or("becomes-damp-in", Dimension::Time, (60.0, 1e7), 86400.0, "Time constant in which a dead board becomes damp: to a tenth of its dry insulation; common practice, no source."),
    LIMIT = quantity_or("closing-limit", Dimension::Insulation, (1e3, 1e8), 0.5e6, "A check of the dead board must read at least this before it is closed; common practice, no source."),
    ASKED_AFTER = quantity_or("check-after", Dimension::Time, (0.0, 1e6), 1800.0, "A board that has been dead for longer must be checked."),
});
declare!(STATE: StateDef {
    DAMP = state("damp", Dimension::Ratio, (0.0, 1.0), 0.0, "How damp the board is."),
    DEAD_S = state("dead-for", Dimension::Time, (0.0, 1e9), 0.0, "How long it has been dead."),
    LAST_OHM = inner("last-check", -1.0, "What the last check read since the board went dead; negative: none."),
    SHOWN_OHM = inner("shown", 5e6, "What the monitor shows."),
});
declare!(ACTS: ActDef {
    CHECK = act(Verb::Start, Reach::Local, 30.0, "Measure the insulation of the dead board with the insulation tester."),
});
declare!(FAULTS: FaultDef {
    FROZEN = fault("frozen", 1.0, "The monitor shows what it showed; an earth fault gives no alert. The tester for the dead board is not deceived."),
});
declare!(READINGS: ReadingDef {
    R_SHOWN = reading("resistance", Dimension::Insulation, Seen::Remote, "What the monitor shows of the live board; its end of scale, 5 megohm, while the board is dead."),
    R_WORKS = reading_words("measuring", NO_YES, Seen::Remote, "Has the monitor voltage from its board?"),
    R_LAST = reading("last-check", Dimension::Insulation, Seen::Local, "What the last check of the dead board read; 0: none since it went dead."),
    R_ALLOWED = reading_words("closing-allowed", NO_YES, Seen::Remote, "May the board be closed: it is live, or was dead for a short time only, or was checked and good?"),
    R_ACTUAL = reading("actual", Dimension::Insulation, Seen::Hidden, "Insulation of all that is joined to the board."),
});
declare!(FINDINGS: FindingDef {
    F_CHECKED = finding("checked", Dimension::Insulation, "insulation of the dead board measured: {measured}, wants {limit}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "insulation-monitor",
    doc: "The insulation monitor of a board of an insulated net, and the check of the dead board.",
    physics: "Resistances to earth of everything that is joined to the board, in parallel: the board itself, each cable, machine and consumer that is switched on. A live board dries, a dead one becomes damp.",
    source: "parallel resistances; SOLAS II-1/45.4.2 asks for monitoring of insulated nets (from memory); limits: common practice, no source",
    ports: PORTS,
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

/// End of the monitor's scale, ohm.
const SCALE_END_OHM: f64 = 5e6;
/// Lag of the monitor: it measures with a voltage of its own that must settle; common practice, no source.
const MONITOR_LAG_S: f64 = 2.0;
/// Below this share of voltage the board is dead.
const DEAD_SHARE: f64 = 0.15;

fn control(ctx: &mut Ctx<'_>) {
    let live = ctx.voltage_share(BUS) >= DEAD_SHARE;
    let damp = ctx.s(DAMP);
    let damp = if live {
        damp * (1.0 - lag(ctx.dt_s, ctx.p(DRIES_IN)))
    } else {
        damp + (1.0 - damp) * lag(ctx.dt_s, ctx.p(DAMP_IN))
    };
    ctx.set(DAMP, damp);
    let dead_s = if live { 0.0 } else { ctx.s(DEAD_S) + ctx.dt_s };
    ctx.set(DEAD_S, dead_s);
    if live {
        ctx.set(LAST_OHM, -1.0);
    }
    let dry_share = if damp == 0.0 { 1.0 } else { libm::pow(10.0, -damp) };
    let (bus, own_ohm) = (ctx.node(BUS), ctx.p(OWN) * dry_share);
    ctx.nets.ac.add_leak(bus, 1.0 / own_ohm);
}

fn publish(ctx: &mut Ctx<'_>) {
    let actual_ohm = ctx.nets.ac.insulation_ohm(ctx.node(BUS)).min(HEALTHY_OHM);
    let live = ctx.voltage_share(BUS) >= DEAD_SHARE;
    let goal_ohm = if live { actual_ohm.min(SCALE_END_OHM) } else { SCALE_END_OHM };
    if ctx.fault(FROZEN) < 0.5 {
        let shown = ctx.s(SHOWN_OHM) + (goal_ohm - ctx.s(SHOWN_OHM)) * lag(ctx.dt_s, MONITOR_LAG_S);
        ctx.set(SHOWN_OHM, shown);
    }
    let short = ctx.s(DEAD_S) < ctx.p(ASKED_AFTER);
    let good = ctx.s(LAST_OHM) >= ctx.p(LIMIT);
    ctx.read_out(R_SHOWN, ctx.s(SHOWN_OHM));
    ctx.read_out_is(R_WORKS, live);
    ctx.read_out(R_LAST, ctx.s(LAST_OHM).max(0.0));
    ctx.read_out_is(R_ALLOWED, live || short || good);
    ctx.read_out(R_ACTUAL, actual_ohm);
}

fn permit(view: &View<'_>, _act: Act, blocks: &mut Vec<Block>) {
    if view.voltage_share(BUS) > 0.02 {
        let nominal_v = view.nets.ac.nominal_v[view.node(BUS)];
        let text = format!(
            "the board is live, {:.0} V: never put the tester on it",
            view.voltage_share(BUS) * nominal_v
        );
        blocks.push(Block { code: "board-live", text });
    }
}

fn do_act(ctx: &mut Ctx<'_>, _act: Act) {
    let read_ohm = ctx.own(R_ACTUAL);
    ctx.set(LAST_OHM, read_ohm);
    ctx.find(F_CHECKED, read_ohm, ctx.p(LIMIT), 0.0);
}

#[cfg(test)]
mod tests;
