//! The pump end of a centrifugal pump; a motor or an engine turns its shaft.

use super::declare::*;
use super::harm::{SIGNS, leak, sign};
use super::trapped_air::{AT_THE_COCK, at_the_cock, permit_vent, stepping};
use crate::ctx::{Ctx, View};
use crate::fluid::{GRAVITY, lag};
use crate::kind::{
    Act, ActDef, Block, BranchDef, FaultDef, FindingDef, Hooks, Joints, KindDef, NeedDef, Net, ParamDef,
    PortDef, Reach, ReadingDef, Seen, StateDef, Verb,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    SUCTION = port("suction", Net::Liquid, 0, "Suction flange."),
    DELIVERY = port("delivery", Net::Liquid, 0, "Delivery flange."),
    SHAFT = port("shaft", Net::Shaft, 0, "What turns it."),
});
declare!(PARAMS: ParamDef {
    HEAD = quantity("shut-off-head", Dimension::Length, 0.5, 300.0, "Head without flow at rated speed."),
    DUTY_FLOW = quantity("duty-flow", Dimension::Flow, 1e-6, 2.0, "Flow at the duty point."),
    DUTY_HEAD = quantity("duty-head", Dimension::Length, 0.1, 300.0, "Head at the duty point."),
    DUTY_POWER = quantity("duty-power", Dimension::Power, 1.0, 5e6, "Shaft power at the duty point."),
    SPEED = quantity("rated-speed", Dimension::Speed, 1.0, 1500.0, "Speed of its shaft node at which head and power hold (a gear is included)."),
    SUCTION_LIMIT = quantity_or("suction-limit", Dimension::Pressure, (-1e5, 2e5), -6e4, "Gauge pressure at the suction below which it loses its water; common practice, no source."),
    NPSH = quantity_or("npsh", Dimension::Length, (0.0, 30.0), 0.0, "Net positive suction head that it requires, above the vapour pressure at its suction node; 0: `suction-limit` holds."),
    ONE_WAY = flag("non-return", true, "With a non-return valve in the delivery."),
});
declare!(STATE: StateDef {
    HOLD = state("primed", Dimension::Ratio, (0.0, 1.0), 1.0, "Share of its head that it makes: falls when it loses suction."),
    AIR = state("air", Dimension::Ratio, (0.0, 1.0), 0.0, "Air trapped in its casing, as the share of its head that it takes."),
});
declare!(ACTS: ActDef {
    VENT = act(Verb::Vent, Reach::Local, 30.0, "Open the vent cock on its casing until liquid comes; its suction must be flooded."),
});
declare!(FAULTS: FaultDef {
    WORN = fault("worn", 0.4, "Impeller and wear ring worn: this share of head is lost; delivery pressure and flow fall."),
    LOST = fault("loses-suction", 1.0, "Air at the suction: it loses its water within seconds, pressure falls to nothing, power falls. What air it drew stays in it until it is vented, or stands flooded for some minutes."),
    SLIPS = fault("coupling-slips", 0.5, "Coupling or key slips: this share of its speed is lost; pressure falls with the square of it, the motor's current falls."),
    SEAL = fault("seal-leaks", 0.5, "The shaft seal leaks: up to a tenth of duty flow at 1 bar sprays out; the pressure sinks, tanks fall."),
    BACKFLOW = fault("non-return-leaks", 1.0, "Its non-return valve does not seat: standing, it lets the other pump's water run back through it and the header pressure falls.").only_with(ONE_WAY),
    GAUGE = untrue("pressure-gauge-dead", 1.0, "The gauge at its delivery shows nothing; the pressure is as it was."),
});
declare!(NEEDS: NeedDef {
    N_SUCTION = need("suction", "Liquid at its suction, above the limit, while it turns."),
});
declare!(READINGS: ReadingDef {
    R_DELIVERY = reading("delivery-pressure", Dimension::Pressure, Seen::Remote, "Pressure at the delivery."),
    R_SUCTION = reading("suction-pressure", Dimension::Pressure, Seen::Local, "Pressure at the suction."),
    R_SEAL = reading_words("seal", SIGNS, Seen::Local, "What is seen at its shaft seal."),
    R_COCK = reading_words("vent-cock", AT_THE_COCK, Seen::Local, "What comes at the vent cock on its casing."),
    R_FLOW = reading("flow", Dimension::Flow, Seen::Hidden, "Flow."),
    R_POWER = reading("power", Dimension::Power, Seen::Hidden, "Shaft power."),
});
declare!(FINDINGS: FindingDef {
    F_LOST = finding("lost-suction", Dimension::Pressure, "lost its water: suction {measured}, limit {limit}"),
    F_VENTED = finding("vented", Dimension::Ratio, "was vented: air had taken {measured} of its head"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "centrifugal-pump",
    doc: "Pump end of a centrifugal pump.",
    physics: "H = H0 r^2 - a Q^2 with r = n/n0 (affinity); a from the duty point. Shaft torque goes with speed squared and, \
              by a straight line between 45 % of duty power without flow and duty power at duty flow, with flow. \
              Suction below its limit makes it lose head within a second or two; it recovers in four. With gas in its suction line it \
              loses all of it, until the line is full again. Air (not vapour) that came in stays in the eye of a turning \
              impeller until it is vented; standing and flooded it loses it upwards with a time constant of a minute.",
    source: "affinity laws, ISO 9906 / Karassik, Pump Handbook (from memory); power line, trapped air: common practice, no source",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    acts: ACTS,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    liquid_branches: &[BranchDef { from: SUCTION, to: DELIVERY }],
    joints: Joints { pumps: &[0], ..Joints::NONE },
    hooks: Hooks {
        liquid: Some(liquid),
        after: Some(after),
        publish: Some(publish),
        permit: Some(permit),
        act: Some(do_act),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn ratio(ctx: &Ctx<'_>) -> f64 {
    (ctx.speed_rad_s(SHAFT) / ctx.p(SPEED)).max(0.0) * (1.0 - ctx.fault(SLIPS))
}

/// Share of liquid in its suction line below which a pump loses its water, and from which it takes hold again: a centrifugal
/// pump does not move gas (common practice, no source for the figures).
const GAS_BOUND: f64 = 0.1;
const PRIMED_AGAIN: f64 = 0.9;

/// Pressure at the suction below which it loses its water, Pa.
fn suction_limit_pa(ctx: &Ctx<'_>) -> f64 {
    let required = ctx.p(NPSH);
    if required <= 0.0 {
        return ctx.p(SUCTION_LIMIT);
    }
    ctx.nets.liquid.boils_pa[ctx.node(SUCTION)] + ctx.density_kg_m3(SUCTION) * GRAVITY * required
}

/// Times in which a turning pump takes air in and a standing one that is flooded loses it, s (common practice, no source).
const TAKES_AIR_S: f64 = 1.5;
const LOSES_AIR_S: f64 = 60.0;

/// Air that comes with an empty suction line or by the fault, and goes when it stands flooded; returns how much there is.
fn trapped(ctx: &mut Ctx<'_>, turning: bool) -> f64 {
    let before = ctx.s(AIR);
    let comes = if !turning {
        0.0
    } else if stepping::air_has_come(ctx, SUCTION) || ctx.nets.liquid.wet[ctx.node(SUCTION)] < 0.5 {
        1.0
    } else {
        ctx.fault(LOST)
    };
    let air = if comes > before {
        before + (comes - before) * lag(ctx.dt_s, TAKES_AIR_S)
    } else if before > 0.0 && !turning && stepping::flooded(ctx, SUCTION) {
        let left = before - before * lag(ctx.dt_s, LOSES_AIR_S);
        if left < 1e-3 { 0.0 } else { left }
    } else {
        before
    };
    ctx.set(AIR, air);
    air
}

fn liquid(ctx: &mut Ctx<'_>) {
    let node = ctx.node(SUCTION);
    // Air or vapour before it: it works on until little but gas comes, and catches again only when its suction is full.
    let filled = ctx.nets.liquid.filled(node);
    let gas = filled < GAS_BOUND || (ctx.s(HOLD) < 0.5 && filled < PRIMED_AGAIN);
    let dry = ctx.nets.liquid.wet[node] < 0.5 || gas;
    let limit = suction_limit_pa(ctx);
    let low = ctx.pressure_pa(SUCTION) < limit;
    let lost = dry || low || ctx.faulty(LOST);
    let turning = ratio(ctx) > 0.2;
    let (goal, tau) = if lost && turning { (if low && !dry { 0.5 } else { 0.0 }, 1.5) } else { (1.0, 4.0) };
    let goal = if ctx.faulty(LOST) && turning { 1.0 - ctx.fault(LOST) } else { goal };
    let goal = goal.min(1.0 - trapped(ctx, turning));
    let before = ctx.s(HOLD);
    let hold = before + (goal - before) * lag(ctx.dt_s, tau);
    ctx.set(HOLD, hold);
    if before >= 0.6 && hold < 0.6 {
        ctx.find(F_LOST, ctx.pressure_pa(SUCTION), limit, 0.0);
    }
    ctx.need(N_SUCTION, !(lost && turning));
    let r = ratio(ctx);
    let weight = ctx.density_kg_m3(SUCTION) * GRAVITY;
    let loss = (ctx.p(HEAD) - ctx.p(DUTY_HEAD)) / (ctx.p(DUTY_FLOW) * ctx.p(DUTY_FLOW));
    let head = weight * ctx.p(HEAD) * r * r * hold * (1.0 - ctx.fault(WORN));
    let one_way = ctx.p_is(ONE_WAY) && ctx.fault(BACKFLOW) < 0.5;
    leak(ctx, DELIVERY, 0.1 * ctx.fault(SEAL) * ctx.p(DUTY_FLOW));
    let quad = weight * loss.max(1e-3);
    let branch = ctx.liquid_branch(0);
    branch.shut = false;
    branch.head_pa = head;
    branch.laminar_pa_s_m3 = 0.0;
    branch.turbulent_pa_s2_m6 = quad;
    branch.one_way = one_way;
}

/// Power that this flow would take at rated speed, by a straight line in flow (affinity).
fn power_at_rated_speed_w(ctx: &Ctx<'_>) -> f64 {
    let flow_share = (ctx.flow_m3_s(0) / (ctx.p(DUTY_FLOW) * ratio(ctx).max(0.05))).clamp(0.0, 1.6);
    ctx.p(DUTY_POWER) * (0.45 + 0.55 * flow_share)
}

/// The load on the shaft, as torque over speed squared.
fn after(ctx: &mut Ctx<'_>) {
    let power_w = power_at_rated_speed_w(ctx) * (0.2 + 0.8 * ctx.s(HOLD));
    let speed = ctx.p(SPEED);
    let node = ctx.node(SHAFT);
    let turns = 1.0 - ctx.fault(SLIPS);
    ctx.nets.shaft.quadratic_nm_s2[node] += power_w * turns * turns / (speed * speed * speed);
}

fn publish(ctx: &mut Ctx<'_>) {
    let shown_pa = if ctx.faulty(GAUGE) { 0.0 } else { ctx.pressure_pa(DELIVERY) };
    ctx.read_out(R_DELIVERY, shown_pa);
    let seen = sign(ctx.fault(SEAL), ctx.pressure_pa(DELIVERY));
    ctx.read_out(R_SEAL, seen);
    let comes = at_the_cock(ctx.s(AIR));
    ctx.read_out(R_COCK, comes);
    ctx.read_out(R_SUCTION, ctx.pressure_pa(SUCTION));
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0));
    let r = ratio(ctx);
    ctx.read_out(R_POWER, power_at_rated_speed_w(ctx) * r * r * r);
}

fn permit(view: &View<'_>, _act: Act, blocks: &mut Vec<Block>) {
    permit_vent(view, SUCTION, blocks);
}

fn do_act(ctx: &mut Ctx<'_>, _act: Act) {
    let air = ctx.s(AIR);
    ctx.set(AIR, 0.0);
    ctx.find(F_VENTED, air, 0.0, 0.0);
}
