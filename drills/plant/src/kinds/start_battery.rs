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
    OPEN_CELL = fault("open-cell", 1.0, "A cell is open: it shows charge and cranks nothing."),
    CHARGER = fault("charger-fails", 1.0, "Its charger gives nothing: charge is not made up after starts."),
    SELF = fault("runs-down", 0.5, "A cell short-circuits: it loses up to half of its charge an hour, charger or not."),
});
declare!(READINGS: ReadingDef {
    R_CHARGE = reading("charge", Dimension::Ratio, Seen::Local, "Charge."),
    R_CHARGING = reading_words("charging", NO_YES, Seen::Local, "Does its charger give current?"),
    R_VOLTAGE = reading("voltage", Dimension::Voltage, Seen::Local, "Voltage of its twelve cells; falls while it cranks, the more the weaker it is (from memory)."),
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
    let charging = ctx.voltage_share(SUPPLY) > 0.8 && ctx.fault(CHARGER) < 0.5;
    let change = if cranking {
        -ctx.dt_s / ctx.p(CRANKS_FOR)
    } else if charging {
        ctx.dt_s / ctx.p(CHARGES_IN)
    } else {
        0.0
    };
    let lost = ctx.fault(SELF) * 0.5 * ctx.dt_s / 3600.0;
    let charge = (ctx.s(CHARGE) + change - lost).clamp(0.0, 1.0);
    ctx.set(CHARGE, charge);
    if ctx.has_port(SUPPLY) && ctx.s(CHARGE) < 0.999 && ctx.fault(CHARGER) < 0.5 {
        let node = ctx.node(SUPPLY);
        let nominal = ctx.nets.ac.nominal_v[node];
        ctx.nets.ac.add_standing(node, Complex::new(500.0 / (nominal * nominal), 0.0));
    }
}

fn publish(ctx: &mut Ctx<'_>) {
    let charge = ctx.s(CHARGE);
    ctx.read_out(R_CHARGE, charge);
    let whole = if ctx.fault(OPEN_CELL) >= 0.5 { 0.0 } else { 1.0 - ctx.fault(WEAK) };
    ctx.read_out(R_STRENGTH, (charge / 0.2).min(1.0) * whole);
    let charging = ctx.voltage_share(SUPPLY) > 0.8 && ctx.fault(CHARGER) < 0.5;
    ctx.read_out_is(R_CHARGING, charging);
    // Two volts a cell; an engaged starter pulls a weak battery down to where its cells are.
    let cranking = ctx.linked(ENGINE, engine::R_CRANKING) > 0.5;
    let sag_v = if cranking { 4.0 + 14.0 * (1.0 - ctx.own(R_STRENGTH)) } else { 0.0 };
    let float_v = if charging { 27.0 } else { 23.0 + 2.6 * charge };
    ctx.read_out(R_VOLTAGE, (float_v - sag_v).max(0.0));
}
