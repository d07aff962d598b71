//! What the power management decides, once a tick, from what the sets published.

use super::*;

/// Pause between two orders, so that the readings show what the first has done, s.
const PAUSE_S: f64 = 1.0;
/// While the shaft generator is brought in, the sets run this much slower than it, Hz: it cannot be trimmed itself.
const BUS_BEHIND_HZ: f64 = 0.12;
/// Load at which the shaft generator's breaker is opened in a transfer, share of its rated power.
const SHAFT_OPENS_AT: f64 = 0.08;
/// A set that is wanted and not to be had is told after this time, s.
const LACK_TOLD_S: f64 = 5.0;

/// Does it act?
pub(super) fn awake(ctx: &Ctx<'_>) -> bool {
    ctx.is(MODE) && ctx.has_control_voltage(CONTROL) && ctx.fault(DEAF) < 0.5
}

/// A reader of linked components' readings, the same for hooks and permits.
type Seeing<'a> = dyn Fn(usize, usize) -> Option<f64> + 'a;

/// Readings of linked components as a permit sees them.
pub(super) fn seen<'a>(view: &'a View<'_>) -> impl Fn(usize, usize) -> Option<f64> + 'a {
    |link, reading| view.has_link(link).then(|| view.linked(link, reading))
}

fn read<'a>(ctx: &'a Ctx<'_>) -> impl Fn(usize, usize) -> Option<f64> + 'a {
    |link, reading| ctx.has_link(link).then(|| ctx.linked(link, reading))
}

fn value(see: &Seeing<'_>, link: usize, reading: usize) -> f64 {
    see(link, reading).unwrap_or(0.0)
}

fn connected(see: &Seeing<'_>, link: usize) -> bool {
    value(see, link, set::R_CONNECTED) > 0.5
}

/// Could this set be ordered to start and connect now?
pub(super) fn can_start(see: &Seeing<'_>, link: usize) -> bool {
    let phase = value(see, link, set::R_PHASE);
    value(see, link, set::R_MODE) > 0.5
        && value(see, link, set::R_READY) > 0.5
        && !connected(see, link)
        && (phase == set::WAITING || phase == set::COOLING)
}

fn is_under_way(see: &Seeing<'_>, link: usize) -> bool {
    [set::STARTING, set::CONNECTING, set::SYNCHRONISING].contains(&value(see, link, set::R_PHASE))
}

/// Is a set on its way to the board?
pub(super) fn is_coming(ctx: &Ctx<'_>) -> bool {
    (SET_1..=SET_4).any(|link| is_under_way(&read(ctx), link))
}

fn is_leaving(ctx: &Ctx<'_>) -> bool {
    (SET_1..=SHAFT).any(|link| value(&read(ctx), link, set::R_PHASE) == set::UNLOADING)
}

/// Generator sets on the board, without the shaft generator.
pub(super) fn sets_connected(ctx: &Ctx<'_>) -> f64 {
    (SET_1..=SET_4).filter(|&link| connected(&read(ctx), link)).count() as f64
}

pub(super) fn control(ctx: &mut Ctx<'_>) {
    ctx.draw_dc(CONTROL, 0.5);
    measure(ctx);
    let next = next_in_order(ctx);
    ctx.set(NEXT, next.map_or(0.0, |link| (link - SET_1 + 1) as f64));
    let next_order = next.map_or(-1.0, |link| ctx.linked(link, set::R_ORDER));
    ctx.set(NEXT_ORDER, next_order);
    let pause_s = (ctx.s(ORDER_PAUSE_S) - ctx.dt_s).max(0.0);
    ctx.set(ORDER_PAUSE_S, pause_s);
    if !awake(ctx) {
        for timer in [HIGH_S, VERY_HIGH_S, LOW_S, LACK_S] {
            ctx.set(timer, 0.0);
        }
        return;
    }
    watch_shaft(ctx);
    if ctx.s(CONNECTED) < 0.5 {
        // A dead board is the business of each set's own automation.
        return;
    }
    watch_parallel(ctx);
    if ctx.s(SOURCE) == BY_SHAFT {
        toward_shaft(ctx);
    } else {
        toward_sets(ctx, next);
    }
}

/// A shaft generator that was lost is not taken back by itself: someone must ask for it again.
fn watch_shaft(ctx: &mut Ctx<'_>) {
    let wanted = ctx.s(SOURCE) == BY_SHAFT;
    let shaft_in = connected(&read(ctx), SHAFT);
    if wanted && ctx.is(SHAFT_WAS) && !shaft_in {
        ctx.set(SOURCE, 0.0);
        ctx.set_is(SHAFT_WAS, false);
        ctx.find(F_SHAFT_LOST, 0.0, 0.0, 0.0);
    } else {
        ctx.set_is(SHAFT_WAS, wanted && shaft_in);
    }
}

/// Load, capacity, and what the sharing sets are to be trimmed to.
fn measure(ctx: &mut Ctx<'_>) {
    let see = read(ctx);
    let (mut load_w, mut capacity_w, mut connected_n) = (0.0, 0.0, 0.0);
    let (mut sharing_w, mut others_w) = (0.0, 0.0);
    for link in SET_1..=SHAFT {
        if !connected(&see, link) {
            continue;
        }
        let (power_w, rated_w) = (value(&see, link, set::R_POWER), value(&see, link, set::R_RATED));
        load_w += power_w;
        capacity_w += rated_w;
        connected_n += 1.0;
        if value(&see, link, set::R_SHARES) > 0.5 {
            sharing_w += rated_w;
        } else if link != SHAFT {
            others_w += power_w;
        }
    }
    let shaft_in = connected(&see, SHAFT);
    let shaft_comes = is_under_way(&see, SHAFT) && !shaft_in;
    let shaft_hz = value(&see, SHAFT, set::R_FREQUENCY);
    drop(see);
    let nominal_hz = ctx.nets.ac.nominal_hz[ctx.node(BUS)];
    // With the shaft generator on the board its speed is the frequency; the sets carry what they are given.
    let aim_hz = match (shaft_in, shaft_comes) {
        (true, _) => 0.0,
        (_, true) => shaft_hz - BUS_BEHIND_HZ,
        _ => nominal_hz,
    };
    let wrong = 0.3 * ctx.fault(WRONG_SHARE);
    let aim = ((load_w - others_w) / f64::max(sharing_w, 1.0)).clamp(0.0, 1.1);
    ctx.set(LOAD_W, load_w);
    ctx.set(CAPACITY_W, capacity_w);
    ctx.set(CONNECTED, connected_n);
    ctx.set(SHARE_AIM, aim + wrong);
    ctx.set(AIM_HZ, aim_hz);
}

fn next_in_order(ctx: &Ctx<'_>) -> Option<usize> {
    let see = read(ctx);
    let order = |link: usize| value(&see, link, set::R_ORDER) as usize;
    (SET_1..=SET_4).filter(|&link| can_start(&see, link)).min_by_key(|&link| (order(link), link))
}

fn last_in_order(ctx: &Ctx<'_>) -> Option<usize> {
    let see = read(ctx);
    let order = |link: usize| value(&see, link, set::R_ORDER) as usize;
    (SET_1..=SET_4)
        .filter(|&link| value(&see, link, set::R_SHARES) > 0.5)
        .max_by_key(|&link| (value(&see, link, set::R_DISTRESS) as usize, order(link), link))
}

/// Shaft generator and sets in parallel: for a transfer only.
fn watch_parallel(ctx: &mut Ctx<'_>) {
    let parallel = connected(&read(ctx), SHAFT) && sets_connected(ctx) > 0.5;
    let before_s = ctx.s(PARALLEL_S);
    let time_s = ctx.time_while(PARALLEL_S, parallel);
    let limit_s = ctx.p(PARALLEL_T);
    if time_s <= limit_s {
        return;
    }
    if before_s <= limit_s {
        ctx.find(F_PARALLEL, time_s, limit_s, time_s);
    }
    if ctx.s(SOURCE) != BY_SHAFT && enough_without(ctx, SHAFT) {
        order_stop(ctx, SHAFT);
    }
}

fn enough_without(ctx: &Ctx<'_>, link: usize) -> bool {
    let left_w = ctx.s(CAPACITY_W) - value(&read(ctx), link, set::R_RATED);
    ctx.s(LOAD_W) < left_w
}

fn order_start(ctx: &mut Ctx<'_>, link: usize) {
    ctx.request(link, set::START, 0.0);
    ctx.set(ORDER_PAUSE_S, PAUSE_S);
}

fn order_stop(ctx: &mut Ctx<'_>, link: usize) {
    ctx.request(link, set::STOP, 0.0);
    ctx.set(ORDER_PAUSE_S, PAUSE_S);
}

/// The shaft generator is brought in step, then the sets leave one after the other.
fn toward_shaft(ctx: &mut Ctx<'_>) {
    if ctx.s(ORDER_PAUSE_S) > 0.0 {
        return;
    }
    let see = read(ctx);
    let (shaft_in, may_start) = (connected(&see, SHAFT), can_start(&see, SHAFT));
    drop(see);
    if !shaft_in {
        if may_start {
            order_start(ctx, SHAFT);
        }
        return;
    }
    let leaves = last_in_order(ctx).filter(|&link| enough_without(ctx, link));
    if let Some(link) = leaves {
        ctx.request(link, set::STOP, 0.0);
    }
}

fn toward_sets(ctx: &mut Ctx<'_>, next: Option<usize>) {
    let shaft_in = connected(&read(ctx), SHAFT);
    let wish = wish(ctx, shaft_in);
    let lack_s = ctx.time_while(LACK_S, wish.is_some() && next.is_none() && !is_coming(ctx));
    ctx.need_while(N_SET, wish.is_some(), next.is_some() || is_coming(ctx) || wish.is_none());
    if let Some(wish) = wish {
        if lack_s >= LACK_TOLD_S && lack_s - ctx.dt_s < LACK_TOLD_S {
            let share = ctx.s(LOAD_W) / ctx.s(CAPACITY_W).max(1.0);
            ctx.find(F_NONE_LEFT, share, ctx.p(HIGH), lack_s);
        }
        if let (Some(link), true) = (next, ctx.s(ORDER_PAUSE_S) <= 0.0 && !is_coming(ctx)) {
            ctx.find(wish.finding, wish.measured, wish.limit, 0.0);
            order_start(ctx, link);
        }
        ctx.set(LOW_S, 0.0);
    } else if shaft_in {
        let see = read(ctx);
        let (power_w, rated_w) = (value(&see, SHAFT, set::R_POWER), value(&see, SHAFT, set::R_RATED));
        drop(see);
        if power_w < SHAFT_OPENS_AT * rated_w && ctx.s(ORDER_PAUSE_S) <= 0.0 {
            order_stop(ctx, SHAFT);
        }
    } else {
        take_off_what_is_too_much(ctx);
    }
}

/// Why another set is wanted.
struct Wish {
    finding: usize,
    measured: f64,
    limit: f64,
}

fn wish(ctx: &mut Ctx<'_>, shaft_in: bool) -> Option<Wish> {
    let (load_w, capacity_w) = (ctx.s(LOAD_W), ctx.s(CAPACITY_W));
    if shaft_in {
        // A transfer: the sets alone must carry the board.
        let sets_w = capacity_w - value(&read(ctx), SHAFT, set::R_RATED);
        let share = load_w / sets_w.max(1.0);
        let high = ctx.p(HIGH);
        return (share > high).then_some(Wish { finding: F_BY_LOAD, measured: share, limit: high });
    }
    let share = load_w / capacity_w.max(1.0);
    let (high, very_high) = (ctx.p(HIGH), ctx.p(VERY_HIGH));
    let high_s = ctx.time_while(HIGH_S, share > high);
    let very_high_s = ctx.time_while(VERY_HIGH_S, share > very_high);
    if very_high_s >= ctx.p(VERY_HIGH_T) && very_high_s > 0.0 {
        return Some(Wish { finding: F_BY_LOAD, measured: share, limit: very_high });
    }
    if high_s >= ctx.p(HIGH_T) && high_s > 0.0 {
        return Some(Wish { finding: F_BY_LOAD, measured: share, limit: high });
    }
    let (sets, spare_w) = asked_for(ctx);
    if sets_connected(ctx) < sets || capacity_w - load_w < spare_w {
        return Some(Wish { finding: F_BY_REQUEST, measured: capacity_w - load_w, limit: spare_w });
    }
    distressed_alone(ctx).then_some(Wish { finding: F_BY_DISTRESS, measured: 0.0, limit: 0.0 })
}

/// Sets and spare power that heavy consumers ask for, but what those that are granted take already.
fn asked_for(ctx: &Ctx<'_>) -> (f64, f64) {
    let see = read(ctx);
    let mut most = (0.0f64, 0.0f64);
    for link in [HEAVY_1, HEAVY_2] {
        most.0 = most.0.max(value(&see, link, heavy::R_WANTS_SETS));
        most.1 += value(&see, link, heavy::R_WANTS_SPARE);
    }
    most
}

/// Does an alert stand on every connected set?
fn distressed_alone(ctx: &Ctx<'_>) -> bool {
    let see = read(ctx);
    let mut all = (SET_1..=SET_4).filter(|&link| connected(&see, link)).peekable();
    all.peek().is_some() && all.all(|link| value(&see, link, set::R_DISTRESS) > 0.5)
}

fn take_off_what_is_too_much(ctx: &mut Ctx<'_>) {
    let leaves = last_in_order(ctx);
    let (sets, spare_w) = asked_for(ctx);
    let least = f64::max(ctx.p(LEAST), sets);
    let mut rest = f64::INFINITY;
    if let Some(link) = leaves {
        let left_w = ctx.s(CAPACITY_W) - value(&read(ctx), link, set::R_RATED);
        let enough = sets_connected(ctx) - 1.0 >= f64::max(least, 1.0) && left_w - ctx.s(LOAD_W) >= spare_w;
        if enough && left_w > 0.0 {
            rest = ctx.s(LOAD_W) / left_w;
        }
    }
    let limit = ctx.p(LOW);
    let quiet = rest < limit && !is_coming(ctx) && !is_leaving(ctx);
    let low_s = ctx.time_while(LOW_S, quiet);
    if let (Some(link), true) = (leaves, quiet && low_s >= ctx.p(LOW_T)) {
        ctx.set(LOW_S, 0.0);
        ctx.find(F_STOPS, rest, limit, low_s);
        order_stop(ctx, link);
    }
}
