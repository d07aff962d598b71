//! The battery of an electric starter: so many starts, then weak.

use super::declare::*;
use super::diesel_engine as engine;
use crate::ctx::Ctx;
use crate::kind::{FaultDef, Hooks, KindDef, LinkDef, Net, ParamDef, PortDef, ReadingDef, Seen, StateDef};
use crate::nets::ac::Complex;
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    SUPPLY = free_port("supply", Net::Ac, 0, "Supply of its charger."),
});
declare!(LINKS: LinkDef {
    ENGINE = link("engine", &["diesel-engine"], true, "Engine that it cranks."),
});
declare!(PARAMS: ParamDef {
    CRANKS_FOR = quantity_or("cranks-for", Dimension::Time, (1.0, 600.0), 60.0, "Cranking from full to empty: six starts of ten seconds (SOLAS II-1/44 asks for three and three)."),
    CHARGES_IN = quantity_or("charges-in", Dimension::Time, (60.0, 1e6), 36000.0, "Charging from empty to full."),
});
declare!(STATE: StateDef {
    CHARGE = state("charge", Dimension::Ratio, (0.0, 1.0), 1.0, "Charge."),
});
declare!(FAULTS: FaultDef {
    WEAK = fault("weak", 0.8, "Sulphated: this share of its strength is lost; it cranks slowly or not at all."),
});
declare!(READINGS: ReadingDef {
    R_CHARGE = reading("charge", Dimension::Ratio, Seen::Local, "Charge."),
    R_STRENGTH = reading("strength", Dimension::Ratio, Seen::Hidden, "Cranking strength, full battery = 100 %."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "start-battery",
    doc: "Battery of an electric starter with its charger.",
    physics: "Charge falls with cranking time; strength holds until a fifth of charge is left, then fades.",
    source: "number of starts: SOLAS II-1/44 (read in a public text); the shape is common practice, no source",
    ports: PORTS,
    params: PARAMS,
    links: LINKS,
    state: STATE,
    faults: FAULTS,
    readings: READINGS,
    hooks: Hooks { settle: Some(publish), control: Some(control), publish: Some(publish), ..Hooks::NONE },
    ..KindDef::EMPTY
};

fn control(ctx: &mut Ctx<'_>) {
    let cranking = ctx.linked(ENGINE, engine::R_CRANKING) > 0.5;
    let charging = ctx.voltage_share(SUPPLY) > 0.8;
    let change = if cranking {
        -ctx.dt_s / ctx.p(CRANKS_FOR)
    } else if charging {
        ctx.dt_s / ctx.p(CHARGES_IN)
    } else {
        0.0
    };
    let charge = (ctx.s(CHARGE) + change).clamp(0.0, 1.0);
    ctx.set(CHARGE, charge);
    if ctx.has_port(SUPPLY) && ctx.s(CHARGE) < 0.999 {
        let node = ctx.node(SUPPLY);
        let nominal = ctx.nets.ac.nominal_v[node];
        ctx.nets.ac.add_standing(node, Complex::new(500.0 / (nominal * nominal), 0.0));
    }
}

fn publish(ctx: &mut Ctx<'_>) {
    let charge = ctx.s(CHARGE);
    ctx.read_out(R_CHARGE, charge);
    ctx.read_out(R_STRENGTH, (charge / 0.2).min(1.0) * (1.0 - ctx.fault(WEAK)));
}
