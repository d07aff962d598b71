//! Properties of liquids and air as the model has them.

use super::rig::{Check, Table, ZERO_C_K};
use deadship_plant::fluid::lube_oil_viscosity_m2_s;
use deadship_plant::kind::Medium;
use deadship_plant::nets::air::{CP_AIR, R_AIR};
use deadship_plant::nets::heat::{density, specific_heat};

/// reference/viscosity_d341.csv: ASTM D341.
#[test]
fn oil_viscosity() {
    let table = Table::new(include_str!("../../../data/rigs/reference/viscosity_d341.csv"));
    let mut check = Check::new("oil, viscosity 0 to 130 degC", 0.01);
    for row in table.rows() {
        let t = row.get("t_degC");
        check.add(&format!("{t} degC"), lube_oil_viscosity_m2_s(t + ZERO_C_K), row.get("nu_m2_s"));
    }
    check.finish();
}

/// reference/water_iapws.csv: IAPWS-IF97, iapws 1.5.5. Constants against a range of temperature.
#[test]
fn fresh_water() {
    let table = Table::new(include_str!("../../../data/rigs/reference/water_iapws.csv"));
    let mut heat = Check::new("fresh water, specific heat 5 to 98 degC", 0.01);
    let mut warm = Check::new("fresh water, density 40 to 80 degC", 0.015);
    let mut wide = Check::new("fresh water, density 5 to 98 degC", 0.03);
    for row in table.rows() {
        let t = row.get("t_degC");
        if !(5.0..98.0).contains(&t) {
            continue;
        }
        let label = format!("{t} degC");
        heat.add(&label, specific_heat(Medium::FreshWater), row.get("cp_J_kgK"));
        wide.add(&label, density(Medium::FreshWater), row.get("rho_kg_m3"));
        if (40.0..80.0).contains(&t) {
            warm.add(&label, density(Medium::FreshWater), row.get("rho_kg_m3"));
        }
    }
    heat.finish();
    warm.finish();
    wide.finish();
}

/// reference/seawater_s35.csv: TEOS-10, gsw 3.6.23, to the 40 degC it is validated for.
#[test]
fn sea_water() {
    let table = Table::new(include_str!("../../../data/rigs/reference/seawater_s35.csv"));
    let mut heat = Check::new("sea water, specific heat 0 to 40 degC", 0.01);
    let mut weight = Check::new("sea water, density 0 to 40 degC", 0.01);
    for row in table.rows().into_iter().filter(|row| row.get("t_degC") <= 40.0) {
        let label = format!("{} degC", row.get("t_degC"));
        heat.add(&label, specific_heat(Medium::SeaWater), row.get("cp_teos10"));
        weight.add(&label, density(Medium::SeaWater), row.get("rho_teos10"));
    }
    heat.finish();
    weight.finish();
}

/// reference/dry_air.csv: Lemmon et al., CoolProp 8.0.0.
#[test]
fn air() {
    let table = Table::new(include_str!("../../../data/rigs/reference/dry_air.csv"));
    let mut heat = Check::new("air, specific heat at 1 atm, -20 to 100 degC", 0.01);
    let mut light = Check::new("air, density at 1 atm, -20 to 100 degC", 0.01);
    let mut dense = Check::new("air, density at 30 bar, 0 to 50 degC", 0.02);
    for row in table.rows() {
        let (t, p) = (row.get("t_degC"), row.get("p_Pa"));
        let ideal = p / (R_AIR * (t + ZERO_C_K));
        let label = format!("{t} degC");
        if p < 2e5 && (-20.0..=100.0).contains(&t) {
            heat.add(&label, CP_AIR, row.get("cp_J_kgK"));
            light.add(&label, ideal, row.get("rho_kg_m3"));
        } else if p == 3e6 && (0.0..=50.0).contains(&t) {
            dense.add(&label, ideal, row.get("rho_kg_m3"));
        }
    }
    heat.finish();
    light.finish();
    dense.finish();
}
