//! Preferential trip of a board: what the generator breakers ask for, made one stage for the feeders and consumers.

use super::declare::*;
use super::generator_breaker as breaker;
use crate::ctx::Ctx;
use crate::kind::{FaultDef, FindingDef, Hooks, KindDef, LinkDef, Net, PortDef, ReadingDef, Seen, StateDef};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    CONTROL = free_port("control", Net::Dc, 0, "Control supply; free: always there."),
});
declare!(LINKS: LinkDef {
    BREAKER_1 = link("breaker-1", &["generator-breaker"], true, "Breaker of a source of the board."),
    BREAKER_2 = link("breaker-2", &["generator-breaker"], false, "Another one."),
    BREAKER_3 = link("breaker-3", &["generator-breaker"], false, "Another one."),
    BREAKER_4 = link("breaker-4", &["generator-breaker"], false, "Another one."),
    BREAKER_5 = link("breaker-5", &["generator-breaker"], false, "Another one."),
});
declare!(STATE: StateDef {
    STAGE = inner("stage", 0.0, "Stage now."),
});
declare!(FAULTS: FaultDef {
    DEAD = fault("does-not-act", 1.0, "No feeder is taken off: an overloaded set trips by its own breaker."),
    FALSE_STAGE = fault("acts-without-cause", 0.5, "It takes consumers off without overload: stage 1, from 75 % on stage 2."),
});
declare!(READINGS: ReadingDef {
    R_STAGE = reading("stage", Dimension::None, Seen::Remote, "Stage now: 0, 1 or 2; what it took off stays off until each is reset."),
});
declare!(FINDINGS: FindingDef {
    F_STAGE = finding("stage", Dimension::None, "stage {measured} acts"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "preferential-trip",
    doc: "Preferential trip of a board: takes consumers off in stages before the generators trip.",
    physics: "The highest stage that any of the sources' breakers asks for.",
    source: "SOLAS II-1/41.5 (from memory); delays stand at the generator breakers",
    ports: PORTS,
    links: LINKS,
    state: STATE,
    faults: FAULTS,
    readings: READINGS,
    findings: FINDINGS,
    hooks: Hooks { control: Some(control), publish: Some(publish), ..Hooks::NONE },
    ..KindDef::EMPTY
};

fn control(ctx: &mut Ctx<'_>) {
    ctx.draw_dc(CONTROL, 0.1);
    let asked = (BREAKER_1..=BREAKER_5)
        .filter(|&link| ctx.has_link(link))
        .map(|link| ctx.linked(link, breaker::R_STAGE))
        .fold(0.0, f64::max);
    let without_cause = match ctx.fault(FALSE_STAGE) {
        severity if severity >= 0.75 => 2.0,
        severity if severity > 0.0 => 1.0,
        _ => 0.0,
    };
    let works = ctx.has_control_voltage(CONTROL) && ctx.fault(DEAD) < 0.5;
    let stage = if works { f64::max(asked, without_cause) } else { 0.0 };
    if stage > ctx.s(STAGE) {
        ctx.find(F_STAGE, stage, 0.0, 0.0);
    }
    ctx.set(STAGE, stage);
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_STAGE, ctx.s(STAGE));
}
