//! The pump end of a gear or screw pump with its relief valve.

use super::declare::*;
use super::harm::{SIGNS, leak, sign};
use crate::ctx::Ctx;
use crate::fluid::{WARM_OIL_M2_S, lag};
use crate::kind::{
    BranchDef, FaultDef, FindingDef, Hooks, Joints, KindDef, NeedDef, Net, ParamDef, PortDef, ReadingDef,
    Seen, StateDef,
};
use crate::unit::Dimension;

declare!(PORTS: PortDef {
    SUCTION = port("suction", Net::Liquid, 0, "Suction flange."),
    DELIVERY = port("delivery", Net::Liquid, 0, "Delivery flange."),
    SHAFT = port("shaft", Net::Shaft, 0, "What turns it."),
});
declare!(PARAMS: ParamDef {
    FLOW = quantity("rated-flow", Dimension::Flow, 1e-7, 0.5, "Flow at rated speed and rated pressure."),
    PRESSURE = quantity("rated-pressure", Dimension::Pressure, 1e4, 1e7, "Pressure difference at which that flow holds."),
    SPEED = quantity("rated-speed", Dimension::Speed, 1.0, 1500.0, "Speed of its shaft node at which the flow holds (a gear is included)."),
    RELIEF = quantity("relief", Dimension::Pressure, 1e4, 2e7, "Pressure difference at which the relief valve begins to open."),
    SLIP = quantity_or("slip", Dimension::Ratio, (0.005, 0.5), 0.08, "Share of displacement that slips back at rated pressure; common practice, no source."),
    FOLLOWS = flag("follows-viscosity", true, "Slip in inverse proportion to viscosity, `slip` holding for lubricating oil at 65 degC and for diesel oil at 40 degC."),
    EFFICIENCY = quantity_or("efficiency", Dimension::Ratio, (0.1, 1.0), 0.75, "Mechanical efficiency; common practice, no source."),
    DRAG = quantity_or("viscous-share", Dimension::Ratio, (0.0, 1.0), 0.1, "Share of its mechanical loss at rated pressure and speed that is viscous drag in oil at 65 degC; common practice, no source."),
});
declare!(STATE: StateDef {
    HOLD = state("primed", Dimension::Ratio, (0.0, 1.0), 1.0, "Share of displacement that is liquid: falls with air at the suction."),
});
declare!(FAULTS: FaultDef {
    WORN = fault("worn", 0.5, "Worn gears: this share of the flow is lost; pressure falls, most with thin oil."),
    RELIEF_STICKS = fault("relief-stuck-open", 1.0, "The relief valve does not seat: most of the flow returns to the suction, pressure is low."),
    RELIEF_SHUT = fault("relief-stuck-shut", 1.0, "The relief valve does not lift, up to three times its setting: against a shut line the pressure and the motor's current rise."),
    SLIPS = fault("coupling-slips", 0.5, "Coupling or key slips: this share of its speed is lost; pressure falls."),
    SEAL = fault("seal-leaks", 0.5, "The shaft seal leaks: up to a twentieth of its flow at 1 bar drips or sprays out; tanks fall."),
    LOST = fault("draws-air", 0.8, "A suction joint draws air: this share of its displacement is air; the pressure falls and swings."),
    BACKFLOW = fault("non-return-leaks", 1.0, "Its non-return valve does not seat: standing, it lets the line behind it run back; pressure falls."),
});
declare!(NEEDS: NeedDef {
    N_SUCTION = need("suction", "Liquid at its suction while it turns."),
});
declare!(READINGS: ReadingDef {
    R_DELIVERY = reading("delivery-pressure", Dimension::Pressure, Seen::Local, "Pressure at the delivery."),
    R_SEAL = reading_words("seal", SIGNS, Seen::Local, "What is seen at its shaft seal."),
    R_FLOW = reading("flow", Dimension::Flow, Seen::Hidden, "Flow delivered, relief taken off."),
});
declare!(FINDINGS: FindingDef {
    F_LOST = finding("lost-suction", Dimension::Ratio, "draws air: {measured} of its flow is liquid, limit {limit}"),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "gear-pump",
    doc: "Pump end of a gear or screw pump with its own relief valve and non-return valve.",
    physics: "Q = D n - slip, slip proportional to pressure difference over viscosity (laminar); relief valve opens in proportion above its setting, full \
              flow at 10 % over. It stands before the non-return valve: it relieves the pump alone, never the line behind. Torque \
              D dp / (2 pi efficiency), of which a part of the loss is laminar shear in its clearances: it goes with viscosity and \
              speed instead of pressure (Wilson: T = D dp + Cd D mu w + Cf D dp), so cold thick oil loads its motor. That shear \
              warms the film is left out. Air at the suction takes its share of displacement; \
              a shut suction is pulled empty within a minute.",
    source: "displacement pump with laminar slip, ISO 4409; loss of torque: Wilson, Rotary-pump theory, Trans. ASME 68, 1946 (both from memory)",
    ports: PORTS,
    params: PARAMS,
    state: STATE,
    faults: FAULTS,
    needs: NEEDS,
    readings: READINGS,
    findings: FINDINGS,
    liquid_branches: &[BranchDef { from: SUCTION, to: DELIVERY }],
    joints: Joints { pumps: &[0], ..Joints::NONE },
    hooks: Hooks { liquid: Some(liquid), after: Some(after), publish: Some(publish), ..Hooks::NONE },
    ..KindDef::EMPTY
};

/// Gauge pressure at the suction below which vapour and air take the place of liquid; common practice, no source.
const LOWEST_SUCTION_PA: f64 = -7e4;
/// Time in which a pump empties a suction pipe that is shut behind it, s: a few litres; common practice, no source.
const PULLS_EMPTY_IN_S: f64 = 20.0;

/// Displacement flow at rated speed: rated flow plus what slips back at rated pressure.
fn displaced_m3_s(ctx: &Ctx<'_>) -> f64 {
    ctx.p(FLOW) / (1.0 - ctx.p(SLIP))
}

fn liquid(ctx: &mut Ctx<'_>) {
    let r = (ctx.speed_rad_s(SHAFT) / ctx.p(SPEED)).max(0.0) * (1.0 - ctx.fault(SLIPS));
    let node = ctx.node(SUCTION);
    let wet = ctx.nets.liquid.wet[node];
    let turning = r > 0.05;
    // A suction that gets too little is pulled empty: the pump is left with what still comes.
    let pulled_empty = turning && ctx.pressure_pa(SUCTION) < LOWEST_SUCTION_PA;
    let air = if turning { ctx.fault(LOST) } else { 0.0 };
    let goal = if pulled_empty { 0.0 } else { wet.min(1.0 - air) };
    let before = ctx.s(HOLD);
    let tau_s = if goal >= before {
        4.0
    } else if wet > 0.5 && air <= 0.0 {
        PULLS_EMPTY_IN_S
    } else {
        1.5
    };
    let hold = before + (goal - before) * lag(ctx.dt_s, tau_s);
    ctx.set(HOLD, hold);
    if before >= 0.5 && hold < 0.5 {
        ctx.find(F_LOST, hold, 0.5, 0.0);
    }
    ctx.need(N_SUCTION, !(turning && hold < 0.5));
    // Slip is laminar: thick oil slips less. A cold pump passes all that it displaces, a hot one leaks.
    let thick = (ctx.viscosity_m2_s(SUCTION) / ctx.rated_viscosity_m2_s(SUCTION)).clamp(0.1, 100.0);
    let thick = if ctx.p_is(FOLLOWS) { thick } else { 1.0 };
    let slip = thick * ctx.p(PRESSURE) / (displaced_m3_s(ctx) * ctx.p(SLIP));
    let flow = displaced_m3_s(ctx) * r * hold * (1.0 - ctx.fault(WORN));
    let relief_slope = 0.1 * ctx.p(RELIEF) / displaced_m3_s(ctx);
    let relief =
        ctx.p(RELIEF) * (1.0 - 0.9 * ctx.fault(RELIEF_STICKS)) * (1.0 + 2.0 * ctx.fault(RELIEF_SHUT));
    let holds = ctx.fault(BACKFLOW) < 0.5;
    leak(ctx, DELIVERY, 0.05 * ctx.fault(SEAL) * ctx.p(FLOW));
    let pump = ctx.liquid_branch(0);
    pump.shut = false;
    pump.one_way = holds;
    pump.turbulent_pa_s2_m6 = 0.0;
    pump.laminar_pa_s_m3 = slip;
    pump.head_pa = slip * flow;
    pump.relief_pa = relief;
    pump.relief_pa_s_m3 = relief_slope;
}

/// Pressure that stands for its torque, Pa: what it lifts with its losses, the viscous part by viscosity and speed.
fn torque_pa(ctx: &Ctx<'_>, difference_pa: f64) -> f64 {
    let loss = 1.0 / ctx.p(EFFICIENCY);
    if !ctx.p_is(FOLLOWS) {
        return difference_pa * loss;
    }
    // In thin diesel oil the same clearances drag less than in the oil that the share holds for.
    let rated_m2_s = ctx.rated_viscosity_m2_s(SUCTION);
    let viscous = ctx.p(DRAG) * (loss - 1.0) * (rated_m2_s / WARM_OIL_M2_S).min(1.0);
    let thick = ctx.viscosity_m2_s(SUCTION) / rated_m2_s;
    let turns = ctx.speed_rad_s(SHAFT) / ctx.p(SPEED) * (1.0 - ctx.fault(SLIPS));
    // A pump that is full of air shears little.
    difference_pa * (loss - viscous) + viscous * ctx.p(PRESSURE) * thick * turns * ctx.s(HOLD)
}

fn after(ctx: &mut Ctx<'_>) {
    let speed = ctx.speed_rad_s(SHAFT);
    if speed < 1.0 {
        return;
    }
    // Against a higher pressure behind its non-return valve it works on its relief valve.
    let most_pa = 1.1 * ctx.p(RELIEF) * (1.0 + 2.0 * ctx.fault(RELIEF_SHUT));
    let difference = (ctx.pressure_pa(DELIVERY) - ctx.pressure_pa(SUCTION)).clamp(0.0, most_pa);
    let torque = displaced_m3_s(ctx) / ctx.p(SPEED) * torque_pa(ctx, difference) * (1.0 - ctx.fault(SLIPS));
    let node = ctx.node(SHAFT);
    // Gathered with the quadratic loads: exact at steady speed above a third of rated, soft while running up.
    let base = speed.max(0.3 * ctx.p(SPEED));
    ctx.nets.shaft.quadratic_nm_s2[node] += torque / (base * base);
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_DELIVERY, ctx.pressure_pa(DELIVERY));
    let seen = sign(ctx.fault(SEAL), ctx.pressure_pa(DELIVERY));
    ctx.read_out(R_SEAL, seen);
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0));
}

#[cfg(test)]
mod tests {
    use crate::kinds::testkit::Rig;

    const RIG: &str = r#"
[[node]]
names = ["well", "line"]
net = "lube oil"
[[node]]
name = "shaft"
net = "shaft"
[[opening]]
name = "bottom"
line = "well"
[[opening]]
name = "top"
line = "line"
pressure = "4 bar"
[[drive]]
name = "drive"
shaft = "shaft"
speed = "SPEED"
[[gear-pump]]
name = "pump"
suction = "well"
delivery = "line"
shaft = "shaft"
rated-flow = "3 m3/h"
rated-pressure = "1 bar"
rated-speed = "1740 rpm"
relief = "3 bar"
"#;

    /// A small pump with a low relief valve beside a line that another pump holds at 4 bar: its relief valve must
    /// not drain that line, whether it stands or turns.
    #[test]
    fn relief_valve_takes_nothing_from_the_line_behind_the_non_return_valve() {
        for speed in ["0 rpm", "1740 rpm"] {
            let mut rig = Rig::new(&RIG.replace("SPEED", speed));
            rig.run(10.0);
            let flow = rig.value("pump.flow") * 3600.0;
            assert!(flow.abs() < 0.01, "{speed}: {flow} m3/h");
        }
    }
}
