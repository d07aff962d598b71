//! A length of pipe by its bore, length and roughness: laminar or turbulent, as its flow makes it.

use super::declare::*;
use super::harm::{SIGNS, leak, sign};
use crate::ctx::Ctx;
use crate::fluid::{fresh_water_viscosity_m2_s, sea_water_viscosity_m2_s};
use crate::kind::{BranchDef, FaultDef, Hooks, KindDef, Medium, Net, ParamDef, PortDef, ReadingDef, Seen};
use crate::unit::Dimension;
use std::f64::consts::PI;

declare!(PORTS: PortDef {
    INLET = port("inlet", Net::Liquid, 0, "Where positive flow enters."),
    OUTLET = port("outlet", Net::Liquid, 0, "Where positive flow leaves."),
});
declare!(PARAMS: ParamDef {
    BORE = quantity("bore", Dimension::Length, 1e-3, 3.0, "Inner diameter."),
    LENGTH = quantity("length", Dimension::Length, 1e-2, 1e4, "Length."),
    ROUGHNESS = quantity_or("roughness", Dimension::Length, (0.0, 0.01), 5e-5, "Height of its roughness (0.05 mm: drawn steel, from memory)."),
    FITTINGS = quantity_or("fittings", Dimension::None, (0.0, 1e4), 0.0, "Sum of the loss coefficients of bends and fittings, in dynamic pressures."),
});
declare!(FAULTS: FaultDef {
    HOLED = fault("holed", 0.4, "A hole or a joint: up to a hundredth of its section lets liquid out; pressure and tanks fall."),
    NARROWED = fault("narrowed", 0.5, "Scale or growth: this share of its section is shut; pressure behind it falls."),
});
declare!(READINGS: ReadingDef {
    R_FLOW = reading("flow", Dimension::Flow, Seen::Hidden, "Flow from inlet to outlet."),
    R_OUT = reading("outlet-pressure", Dimension::Pressure, Seen::Local, "Pressure at the outlet."),
    R_REYNOLDS = reading("reynolds", Dimension::None, Seen::Hidden, "Reynolds number."),
    R_LEAK = reading_words("joints", SIGNS, Seen::Local, "What is seen at its joints."),
});

/// The kind.
pub static KIND: KindDef = KindDef {
    name: "pipe-run",
    doc: "A length of pipe by bore, length and roughness.",
    physics: "dp = (f L/D + sum K) rho v^2 / 2 with f by Churchill's one formula for laminar, transitional and rough flow; f is taken \
              at the flow of the tick before. Viscosity by temperature and, for fuel, by blend.",
    source: "Darcy-Weisbach; Churchill, Chem. Eng. 84 (1977) (from memory)",
    ports: PORTS,
    params: PARAMS,
    faults: FAULTS,
    readings: READINGS,
    liquid_branches: &[BranchDef { from: INLET, to: OUTLET }],
    hooks: Hooks { liquid: Some(liquid), publish: Some(publish), ..Hooks::NONE },
    ..KindDef::EMPTY
};

/// Friction factor of Darcy by Churchill 1977.
pub fn churchill(reynolds: f64, roughness: f64) -> f64 {
    let re = reynolds.max(1.0);
    let a = libm::pow(2.457 * libm::log(1.0 / (libm::pow(7.0 / re, 0.9) + 0.27 * roughness)), 16.0);
    let b = libm::pow(37_530.0 / re, 16.0);
    8.0 * libm::pow(libm::pow(8.0 / re, 12.0) + libm::pow(a + b, -1.5), 1.0 / 12.0)
}

fn viscosity_m2_s(ctx: &Ctx<'_>) -> f64 {
    match ctx.medium(INLET) {
        Medium::SeaWater => sea_water_viscosity_m2_s(ctx.temperature_k(INLET)),
        Medium::FreshWater => fresh_water_viscosity_m2_s(ctx.temperature_k(INLET)),
        Medium::Fuel | Medium::LubeOil => ctx.viscosity_m2_s(INLET),
    }
}

fn bore_m(ctx: &Ctx<'_>) -> f64 {
    ctx.p(BORE) * f64::sqrt((1.0 - ctx.fault(NARROWED)).max(0.01))
}

fn reynolds(ctx: &Ctx<'_>) -> f64 {
    4.0 * ctx.flow_m3_s(0).abs() / (PI * bore_m(ctx) * viscosity_m2_s(ctx))
}

fn liquid(ctx: &mut Ctx<'_>) {
    let (bore, length, rho) = (bore_m(ctx), ctx.p(LENGTH), ctx.density_kg_m3(INLET));
    let (re, nu) = (reynolds(ctx), viscosity_m2_s(ctx));
    let area = 0.25 * PI * bore * bore;
    // The laminar part is exact and linear at any flow; what the formula gives beyond it goes with the square.
    let beyond = if re > 1.0 { (churchill(re, ctx.p(ROUGHNESS) / bore) - 64.0 / re).max(0.0) } else { 0.0 };
    let quad = (beyond * length / bore + ctx.p(FITTINGS)) * rho / (2.0 * area * area);
    let branch = ctx.liquid_branch(0);
    branch.shut = false;
    branch.head_pa = 0.0;
    branch.laminar_pa_s_m3 = 128.0 * nu * rho * length / (PI * bore * bore * bore * bore);
    branch.turbulent_pa_s2_m6 = quad;
    // Through a sharp hole of a hundredth of its section at 1 bar (Cd 0.61).
    let hole = 0.01 * ctx.fault(HOLED) * area * 0.61 * f64::sqrt(2e5 / rho);
    leak(ctx, INLET, hole);
}

fn publish(ctx: &mut Ctx<'_>) {
    ctx.read_out(R_FLOW, ctx.flow_m3_s(0));
    ctx.read_out(R_OUT, ctx.pressure_pa(OUTLET));
    let re = reynolds(ctx);
    ctx.read_out(R_REYNOLDS, re);
    let seen = sign(ctx.fault(HOLED), ctx.pressure_pa(INLET));
    ctx.read_out(R_LEAK, seen);
}

#[cfg(test)]
mod tests {
    use super::churchill;

    /// reference/darcy_friction.csv: Churchill 1977 by fluids 1.3.1.
    #[test]
    fn friction_is_that_of_the_reference() {
        let text = include_str!("../../../data/rigs/reference/darcy_friction.csv");
        let mut seen = 0;
        for line in text.lines().skip(2) {
            let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap_or(f64::NAN)).collect();
            let [re, rough, _, _, expected] = cells[..] else { panic!("{line}") };
            assert!((churchill(re, rough) / expected - 1.0).abs() < 1e-6, "{line}: {}", churchill(re, rough));
            seen += 1;
        }
        assert!(seen > 20);
    }
}
