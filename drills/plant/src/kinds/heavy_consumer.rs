//! The request of a heavy consumer: it may start only when the power management has enough sets and power for it.

use super::declare::*;
use super::power_management as management;
use crate::ctx::{Ctx, View};
use crate::kind::{
    Act, ActDef, Block, FaultDef, FindingDef, Hooks, KindDef, LinkDef, ParamDef, Reach, ReadingDef, Seen,
    StateDef, Verb,
};
use crate::unit::Dimension;

const STATUS: &[&str] = &["not asked", "waiting", "granted", "denied"];
const REASONS: &[&str] = &[
    "none",
    "too few sets",
    "too little spare power",
    "no set is ready to start",
    "power management does not act",
];
const NOT_ASKED: f64 = 0.0;
const WAITING: f64 = 1.0;
const GRANTED: f64 = 2.0;
const DENIED: f64 = 3.0;

declare!(LINKS: LinkDef {
    MANAGEMENT = link("management", &["power-management"], true, "Power management that is asked."),
    RUNS = watch("runs", false, "Reading that is above 0.5 while the consumer runs: its power is then no longer kept spare."),
});
declare!(PARAMS: ParamDef {
    SETS = whole("sets", (1, 4), 2, "Generator sets that must be connected."),
    SPARE = quantity("spare", Dimension::Power, 1.0, 50e6, "Power that must be spare."),
    WAITS = quantity_or("waits", Dimension::Time, (1.0, 3600.0), 180.0, "How long a request waits for sets before it is denied; common practice, no source."),
});
declare!(STATE: StateDef {
    PHASE = state_choice("status", STATUS, 0, "Where the request is."),
    REASON = inner("reason", 0.0, "Why it is not granted."),
    WAIT_S = inner("wait", 0.0, "How long it has waited."),
});
declare!(ACTS: ActDef {
    START = act(Verb::Start, Reach::Remote, 2.0, "Ask for power for the consumer."),
    STOP = act(Verb::Stop, Reach::Remote, 2.0, "Give the request back."),
});
declare!(FAULTS: FaultDef {
    STUCK = fault("grant-sticks", 1.0, "The permit relay sticks: the consumer may start whatever sets are there."),
});
declare!(READINGS: ReadingDef {
    R_STATUS = reading_words("status", STATUS, Seen::Remote, "Where the request is."),
    R_REASON = reading_words("reason", REASONS, Seen::Remote, "Why it is not granted."),
    R_GRANTED = reading_words("granted", NO_YES, Seen::Remote, "May the consumer start?"),
    R_WANTS_SETS = reading("wants-sets", Dimension::None, Seen::Hidden, "Sets that it keeps connected."),
    R_WANTS_SPARE = reading("wants-spare", Dimension::Power, Seen::Hidden, "Power that is to be kept spare."),
});
declare!(FINDINGS: FindingDef {
    F_ASKED = finding("requested", Dimension::Power, "power of {measured} was asked for"),
    F_GRANTED = finding("granted", Dimension::Power, "granted: {measured} spare, wants {limit}"),
    F_FEW = finding("denied-sets", Dimension::None, "denied: {measured} sets connected, wants {limit}"),
    F_LITTLE = finding("denied-power", Dimension::Power, "denied: {measured} spare, wants {limit}"),
    F_WITHDRAWN = finding("withdrawn", Dimension::None, "grant withdrawn: {measured} sets connected, wants {limit}"),
    F_GIVEN_BACK = finding("given-back", Dimension::None, "the request was given back"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "heavy-consumer",
    doc: "The power request of a heavy consumer, such as a bow thruster: granted or denied with the reason.",
    physics: "Granted when enough sets are connected and enough power is spare; while it waits the power management starts sets for it.",
    source: "common practice, no source",
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

fn runs(ctx: &Ctx<'_>) -> bool {
    ctx.has_link(RUNS) && ctx.watched(RUNS) > 0.5
}

fn control(ctx: &mut Ctx<'_>) {
    let phase = ctx.s(PHASE);
    let wait_s = ctx.time_while(WAIT_S, phase == WAITING);
    let (sets, spare_w) =
        (ctx.linked(MANAGEMENT, management::R_SETS), ctx.linked(MANAGEMENT, management::R_SPARE));
    let (wants_sets, wants_w) = (ctx.p(SETS), ctx.p(SPARE));
    if phase == GRANTED {
        if sets < wants_sets {
            ctx.find(F_WITHDRAWN, sets, wants_sets, 0.0);
            ctx.set(PHASE, WAITING);
        }
        return;
    }
    if phase != WAITING {
        return;
    }
    if sets >= wants_sets && (spare_w >= wants_w || runs(ctx)) {
        ctx.set(PHASE, GRANTED);
        ctx.set(REASON, 0.0);
        ctx.find(F_GRANTED, spare_w, wants_w, wait_s);
        return;
    }
    let awake = ctx.linked(MANAGEMENT, management::R_AWAKE) > 0.5;
    let comes = ctx.linked(MANAGEMENT, management::R_COMING) > 0.5;
    let another = ctx.linked(MANAGEMENT, management::R_NEXT) > 0.5;
    let few = sets < wants_sets;
    let hopeless = !awake || !(comes || another);
    let reason = match (awake, hopeless, few) {
        (false, ..) => 4.0,
        (_, true, _) => 3.0,
        (.., true) => 1.0,
        _ => 2.0,
    };
    ctx.set(REASON, reason);
    // A moment to let the power management answer.
    if (hopeless && wait_s > 2.0) || wait_s > ctx.p(WAITS) {
        ctx.set(PHASE, DENIED);
        let (finding, measured, limit) =
            if few { (F_FEW, sets, wants_sets) } else { (F_LITTLE, spare_w, wants_w) };
        ctx.find(finding, measured, limit, wait_s);
    }
}

fn publish(ctx: &mut Ctx<'_>) {
    let phase = ctx.s(PHASE);
    let asks = phase == WAITING || phase == GRANTED;
    let spare_w = if asks && !runs(ctx) { ctx.p(SPARE) } else { 0.0 };
    let granted = phase == GRANTED || ctx.fault(STUCK) >= 0.5;
    ctx.read_out(R_STATUS, phase);
    ctx.read_out(R_REASON, ctx.s(REASON));
    ctx.read_out_is(R_GRANTED, granted);
    ctx.read_out(R_WANTS_SETS, if asks { ctx.p(SETS) } else { 0.0 });
    ctx.read_out(R_WANTS_SPARE, spare_w);
}

fn permit(view: &View<'_>, act: Act, blocks: &mut Vec<Block>) {
    let phase = view.s(PHASE);
    if act.index == START && (phase == WAITING || phase == GRANTED) {
        blocks.push(Block { code: "already-asked", text: format!("it is {}", STATUS[phase as usize]) });
    }
    if act.index == STOP && phase == NOT_ASKED {
        blocks.push(Block { code: "not-asked", text: "nothing was asked for".into() });
    }
    if act.index == STOP && view.has_link(RUNS) && view.watched(RUNS) > 0.5 {
        blocks.push(Block { code: "still-running", text: "the consumer runs: stop it first".into() });
    }
}

fn do_act(ctx: &mut Ctx<'_>, act: Act) {
    ctx.set(REASON, 0.0);
    ctx.set(WAIT_S, 0.0);
    if act.index == START {
        ctx.set(PHASE, WAITING);
        ctx.find(F_ASKED, ctx.p(SPARE), 0.0, 0.0);
    } else {
        ctx.set(PHASE, NOT_ASKED);
        ctx.find(F_GIVEN_BACK, 0.0, 0.0, 0.0);
    }
}
