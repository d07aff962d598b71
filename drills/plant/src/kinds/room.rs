//! A room: one volume of air, warmed by machines, aired by fans.

use super::declare::*;
use crate::ctx::Ctx;
use crate::fluid::lag;
use crate::kind::{FaultDef, Hooks, KindDef, Net, ParamDef, PortDef, ReadingDef, Seen, StateDef};
use crate::nets::air::CP_AIR;
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    SPACE = port("space", Net::Space, 0, "Its air."),
});
declare!(PARAMS: ParamDef {
    VOLUME = quantity("volume", Dimension::Volume, 1.0, 1e6, "Free air volume."),
    HULL = quantity("hull", Dimension::HeatConductance, 0.0, 1e6, "Heat conductance to outside."),
    MASS = quantity_or("mass-factor", Dimension::Ratio, (1.0, 50.0), 3.0, "Heat capacity of air and the metal that follows it, over air alone; common practice, no source."),
    NATURAL = quantity_or("natural-draught", Dimension::Flow, (0.0, 100.0), 0.2, "Air that goes through without fans."),
    LIGHT = quantity_or("other-heat", Dimension::Power, (0.0, 1e7), 0.0, "Other heat, always."),
});
declare!(STATE: StateDef {
    TEMPERATURE = state("temperature", Dimension::Temperature, (223.15, 393.15), 301.15, "Temperature of the air."),
    BREATH = inner("breath", 1.0, "Share of what its engines want to breathe that they get."),
});
/// Time in which the pressure of a room that is shut falls until its engines miss the air, s; invented.
const DRAWN_DOWN_IN_S: f64 = 25.0;

declare!(FAULTS: FaultDef {
    TRUNK = fault("trunk-blocked", 0.7, "A ventilation trunk is blocked or its flaps are shut: this share of the air does not come; the room warms, engines breathe hot air."),
    GAS_LEAK = fault("hot-gas-leak", 0.5, "An exhaust joint blows or lagging is off: up to 150 kW more heat in the room."),
});
declare!(READINGS: ReadingDef {
    R_TEMPERATURE = reading("temperature", Dimension::Temperature, Seen::Remote, "Temperature of the air."),
    R_PULLED = reading_words("doors-pulled-shut", NO_YES, Seen::Local, "Do its doors pull shut, because engines draw more air than comes?"),
    R_AIR = reading("ventilation", Dimension::Flow, Seen::Local, "Outside air that goes through, at the grilles."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "room",
    doc: "A room's air.",
    physics: "C dT/dt = Q - (m cp + UA)(T - T_out), implicit; air is what fans blow in or draw out, whichever is more, and never \
              less than engines breathe; where all trunks are shut engines miss the air after a time. Rooms do not exchange air with each other.",
    source: "single-node balance; checked against engine_room_air.csv (analytic)",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    faults: FAULTS,
    readings: READINGS,
    hooks: Hooks {
        settle: Some(settle),
        after: Some(after),
        heat: Some(heat),
        publish: Some(publish),
        ..Hooks::NONE
    },
    ..KindDef::EMPTY
};

fn settle(ctx: &mut Ctx<'_>) {
    let node = ctx.node(SPACE);
    ctx.nets.space.temperature_k[node] = ctx.s(TEMPERATURE);
}

fn through_m3_s(ctx: &Ctx<'_>) -> f64 {
    let node = ctx.node(SPACE);
    let blown = ctx.nets.space.supply_m3_s[node].max(ctx.nets.space.extract_m3_s[node]).max(ctx.p(NATURAL));
    blown * (1.0 - ctx.fault(TRUNK))
}

/// What engines get of the air they want: all while fans, open trunks and gaps give it.
fn after(ctx: &mut Ctx<'_>) {
    let node = ctx.node(SPACE);
    let space = &ctx.nets.space;
    let (wanted, trunks) = (space.breathed_m3_s[node], space.trunks_m3_s[node]);
    let comes = space.opening_m3_s[node] * (1.0 - ctx.fault(TRUNK)) + ctx.p(NATURAL);
    // A room without trunks stands open.
    let goal = if trunks <= 0.0 || wanted <= comes { 1.0 } else { comes / wanted };
    let before = ctx.s(BREATH);
    let tau_s = if goal < before { DRAWN_DOWN_IN_S } else { 1.0 };
    let share = before + (goal - before) * lag(ctx.dt_s, tau_s);
    ctx.set(BREATH, share);
    ctx.nets.space.breath_share[node] = share;
}

fn heat(ctx: &mut Ctx<'_>) {
    let node = ctx.node(SPACE);
    let outside = ctx.outside.air_temperature_k;
    let density = ctx.outside.air_pressure_pa / (crate::nets::air::R_AIR * outside);
    let capacity = ctx.p(VOLUME) * density * CP_AIR * ctx.p(MASS);
    let rate = through_m3_s(ctx) * density * CP_AIR + ctx.p(HULL);
    let heat = ctx.nets.space.heat_w[node] + ctx.p(LIGHT) + 150e3 * ctx.fault(GAS_LEAK);
    let before = ctx.s(TEMPERATURE);
    let after = (capacity * before + ctx.dt_s * (heat + rate * outside)) / (capacity + ctx.dt_s * rate);
    ctx.set(TEMPERATURE, after);
    ctx.nets.space.temperature_k[node] = after;
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_TEMPERATURE, ctx.s(TEMPERATURE));
    let pulled = ctx.s(BREATH) < 0.95;
    ctx.read_out_is(R_PULLED, pulled);
    ctx.read_out(R_AIR, through_m3_s(ctx));
}
