//! Power management of a main board: how many sets run, how they share, which source carries the board, and whether a
//! heavy consumer may start.
//!
//! The declaration is in this file; what it decides is in `logic`. Blackout start is not its business: each set's own
//! automation does that, in the start order, whether this one is in manual or dead.

mod logic;

use super::declare::*;
use super::{electric, heavy_consumer as heavy, standby_control as set};
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, KindDef, LinkDef, NeedDef, Net, ParamDef, PortDef,
    Reach, ReadingDef, Seen, StateDef,
};
use crate::unit::Dimension;

/// Sets that it can manage.
const SETS: usize = 4;
const SOURCES: &[&str] = &["generator sets", "shaft generator"];
const SET_WORDS: &[&str] = &["none", "1", "2", "3", "4"];
const BY_SHAFT: f64 = 1.0;

declare!(PORTS: PortDef {
    BUS = port("bus", Net::Ac, 0, "Main board."),
    CONTROL = free_port("control", Net::Dc, 0, "Control supply; free: always there."),
});
declare!(LINKS: LinkDef {
    SET_1 = link("set-1", &["standby-control"], true, "Automation of a set."),
    SET_2 = link("set-2", &["standby-control"], false, "Automation of a set."),
    SET_3 = link("set-3", &["standby-control"], false, "Automation of a set."),
    SET_4 = link("set-4", &["standby-control"], false, "Automation of a set."),
    SHAFT = link("shaft-set", &["standby-control"], false, "Automation of the shaft generator's breaker, which works in parallel with sets for a transfer only."),
    HEAVY_1 = link("heavy-1", &["heavy-consumer"], false, "A heavy consumer's request."),
    HEAVY_2 = link("heavy-2", &["heavy-consumer"], false, "Another one."),
});
declare!(PARAMS: ParamDef {
    HIGH = quantity_or("start-above", Dimension::Ratio, (0.3, 1.5), 0.85, "Load of the connected sets above which the next one starts; common practice, no source."),
    HIGH_T = quantity_or("start-delay", Dimension::Time, (0.0, 600.0), 10.0, "For how long."),
    VERY_HIGH = quantity_or("start-at-once-above", Dimension::Ratio, (0.3, 2.0), 0.95, "Load above which it starts sooner."),
    VERY_HIGH_T = quantity_or("start-at-once-delay", Dimension::Time, (0.0, 600.0), 3.0, "For how long."),
    LOW = quantity_or("stop-below", Dimension::Ratio, (0.1, 1.0), 0.70, "A set is stopped when the rest would be loaded by less than this; common practice, no source."),
    LOW_T = quantity_or("stop-delay", Dimension::Time, (0.0, 36000.0), 300.0, "For how long."),
    LEAST = whole("least-sets", (0, 4), 1, "Sets that always stay connected."),
    PARALLEL_T = quantity_or("parallel-limit", Dimension::Time, (1.0, 3600.0), 30.0, "Longest time that the shaft generator and a set work in parallel."),
});
declare!(STATE: StateDef {
    MODE = state_choice("mode", MANUAL_AUTOMATIC, 0, "Does it act?"),
    SOURCE = state_choice("source", SOURCES, 0, "What is to carry the board."),
    HIGH_S = inner("high-time", 0.0, "How long the load has been high."),
    VERY_HIGH_S = inner("very-high-time", 0.0, "How long it has been very high."),
    LOW_S = inner("low-time", 0.0, "How long one set has been too many."),
    PARALLEL_S = inner("parallel-time", 0.0, "How long shaft generator and sets have been in parallel."),
    LACK_S = inner("lack-time", 0.0, "How long a set has been wanted and none was to be had."),
    ORDER_PAUSE_S = inner("pause", 0.0, "Time until the next order may be given."),
    LOAD_W = inner("load", 0.0, "Power of all sources on the board."),
    CAPACITY_W = inner("capacity", 0.0, "Rated power of all sources on the board."),
    CONNECTED = inner("connected", 0.0, "Sources on the board."),
    SHARE_AIM = inner("share-aim", 0.0, "Load share that the sharing sets are trimmed to."),
    AIM_HZ = inner("frequency-aim", 0.0, "Frequency they are trimmed to; 0: none."),
    SHAFT_WAS = inner("shaft-was", 0.0, "The shaft generator has carried the board since it was asked to."),
    NEXT = inner("next", 0.0, "Set that would start next."),
    NEXT_ORDER = inner("next-order", -1.0, "Its place in the start order."),
});
declare!(ACTS: ActDef {
    SET_MODE = set_choice("mode", MANUAL_AUTOMATIC, Reach::Remote, 3.0, "Hand the sets to the power management, or take them by hand."),
    SET_SOURCE = set_choice("source", SOURCES, Reach::Remote, 3.0, "What carries the board: the other is connected in step, takes the load, and this one leaves."),
});
declare!(FAULTS: FaultDef {
    DEAF = fault("does-not-act", 1.0, "It gives no orders: load is not shared, no set starts or stops by load, requests are not answered."),
    WRONG_SHARE = fault("shares-badly", 0.5, "Its measurement of load is wrong: at 100 % sets are trimmed to 30 % of load beside what they should have, and frequency wanders off."),
});
declare!(NEEDS: NeedDef {
    N_SET = need("a-set-in-reserve", "A set that is ready to start, while it acts and one is wanted."),
});
declare!(READINGS: ReadingDef {
    R_MODE = reading_words("mode", MANUAL_AUTOMATIC, Seen::Remote, "Does it act?"),
    R_SOURCE = reading_words("source", SOURCES, Seen::Remote, "What is to carry the board."),
    R_CONNECTED = reading("connected", Dimension::None, Seen::Remote, "Sources on the board."),
    R_LOAD = reading("load", Dimension::Power, Seen::Remote, "Power of all sources on the board."),
    R_CAPACITY = reading("capacity", Dimension::Power, Seen::Remote, "Rated power of all sources on the board."),
    R_SPARE = reading("spare", Dimension::Power, Seen::Remote, "Capacity less load."),
    R_SHARE = reading("load-share", Dimension::Ratio, Seen::Remote, "Load over capacity."),
    R_NEXT = reading_words("next-set", SET_WORDS, Seen::Remote, "Set that would start next; none: no set is ready."),
    R_PARALLEL = reading("in-parallel", Dimension::Time, Seen::Remote, "How long shaft generator and sets have been in parallel."),
    R_SHARE_AIM = reading("share-aim", Dimension::Ratio, Seen::Hidden, "Load share that the sharing sets are trimmed to."),
    R_FREQUENCY_AIM = reading("frequency-aim", Dimension::Frequency, Seen::Hidden, "Frequency they are trimmed to; 0: none."),
    R_SETS = reading("sets", Dimension::None, Seen::Hidden, "Generator sets on the board, without the shaft generator."),
    R_COMING = reading_words("set-coming", NO_YES, Seen::Remote, "Is a set on its way to the board?"),
    R_NEXT_ORDER = reading("next-order", Dimension::None, Seen::Hidden, "Place in the start order of the set that would start next; negative: none, or one is on its way."),
    R_AWAKE = reading_words("acts", NO_YES, Seen::Remote, "In automatic, with control supply?"),
});
declare!(FINDINGS: FindingDef {
    F_BY_LOAD = finding("started-by-load", Dimension::Ratio, "orders the next set: load {measured}, limit {limit}"),
    F_BY_REQUEST = finding("started-by-request", Dimension::Power, "orders the next set: a heavy consumer asks, spare {measured}, wants {limit}"),
    F_BY_DISTRESS = finding("started-by-alert", Dimension::None, "orders the next set: an alert stands on a connected one"),
    F_NONE_LEFT = finding("no-set-left", Dimension::Ratio, "wants a set and none is ready: load {measured}, limit {limit}"),
    F_STOPS = finding("stopped-by-load", Dimension::Ratio, "takes a set off: the rest will be loaded by {measured}, limit {limit}"),
    F_TO_SHAFT = finding("transfer-to-shaft", Dimension::None, "transfer to the shaft generator ordered"),
    F_TO_SETS = finding("transfer-to-sets", Dimension::None, "transfer to the generator sets ordered"),
    F_SHAFT_LOST = finding("shaft-lost", Dimension::None, "the shaft generator has left the board: the generator sets carry it from now on"),
    F_PARALLEL = finding("parallel-too-long", Dimension::Time, "shaft generator and sets in parallel for {measured}, limit {limit}: the one that leaves is opened"),
    F_MANUAL = finding("manual", Dimension::None, "was taken into manual"),
    F_AUTOMATIC = finding("automatic", Dimension::None, "was taken into automatic"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "power-management",
    doc: "Power management of a main board: start and stop by load, equal load sharing, frequency, transfer between shaft generator and sets, heavy consumers.",
    physics: "Starts the next set in the start order when the load share is too high for its time, or when a heavy consumer or an alert asks for one; takes the last in order off when the rest would be loaded too little. Publishes the common load share and the frequency that each set's automation trims its governor to.",
    source: "common practice, no source; IACS UR M and SOLAS II-1/41.5 ask for automatic load sharing and restoration (from memory)",
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
        control: Some(logic::control),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn publish(ctx: &mut Ctx<'_>) {
    let (load_w, capacity_w) = (ctx.s(LOAD_W), ctx.s(CAPACITY_W));
    let awake = logic::awake(ctx);
    let (sets, coming) = (logic::sets_connected(ctx), logic::is_coming(ctx));
    ctx.read_out(R_MODE, ctx.s(MODE));
    ctx.read_out(R_SOURCE, ctx.s(SOURCE));
    ctx.read_out(R_CONNECTED, ctx.s(CONNECTED));
    ctx.read_out(R_LOAD, load_w);
    ctx.read_out(R_CAPACITY, capacity_w);
    ctx.read_out(R_SPARE, capacity_w - load_w);
    ctx.read_out(R_SHARE, load_w / capacity_w.max(1.0));
    ctx.read_out(R_NEXT, ctx.s(NEXT));
    ctx.read_out(R_PARALLEL, ctx.s(PARALLEL_S));
    ctx.read_out(R_SHARE_AIM, ctx.s(SHARE_AIM));
    ctx.read_out(R_FREQUENCY_AIM, ctx.s(AIM_HZ));
    ctx.read_out(R_SETS, sets);
    ctx.read_out_is(R_COMING, coming);
    ctx.read_out(R_NEXT_ORDER, if coming || ctx.fault(DEAF) >= 0.5 { -1.0 } else { ctx.s(NEXT_ORDER) });
    ctx.read_out_is(R_AWAKE, awake);
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    if act.index == SET_MODE {
        if act.value > 0.5 {
            electric::block_without_control(view, CONTROL, blocks);
        }
        return;
    }
    if !view.is(MODE) {
        let text = "it is in manual: a transfer needs it in automatic, or is done by hand".into();
        blocks.push(Block { code: "in-manual", text });
    }
    if act.value == BY_SHAFT {
        permit_shaft(view, blocks);
    } else if (0..SETS).all(|i| !logic::can_start(&logic::seen(view), SET_1 + i)) && view.own(R_SETS) < 0.5 {
        blocks.push(Block { code: "no-set-left", text: "no set is in automatic and ready".into() });
    }
}

fn permit_shaft(view: &View<'_>, blocks: &mut Vec<Block>) {
    if !view.has_link(SHAFT) {
        blocks.push(Block { code: "no-shaft-generator", text: "the ship has no shaft generator".into() });
        return;
    }
    if view.linked(SHAFT, set::R_MODE) < 0.5 || view.linked(SHAFT, set::R_READY) < 0.5 {
        let text = "the shaft generator is not in automatic, or not ready: it needs its speed".into();
        blocks.push(Block { code: "shaft-not-ready", text });
    }
    let (load_w, rated_w) = (view.s(LOAD_W), view.linked(SHAFT, set::R_RATED));
    if load_w > rated_w {
        let text = format!("the load of {:.0} kW is above its {:.0} kW", load_w / 1e3, rated_w / 1e3);
        blocks.push(Block { code: "load-too-high", text });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    if act.value == ctx.s(if act.index == SET_MODE { MODE } else { SOURCE }) {
        return;
    }
    let finding = match (act.index, act.value > 0.5) {
        (SET_MODE, true) => F_AUTOMATIC,
        (SET_MODE, false) => F_MANUAL,
        (_, true) => F_TO_SHAFT,
        (_, false) => F_TO_SETS,
    };
    ctx.set(if act.index == SET_MODE { MODE } else { SOURCE }, act.value);
    ctx.find(finding, 0.0, 0.0, 0.0);
}

#[cfg(test)]
mod tests;
