//! Lengths of pipe.

use super::rig::{Check, Rig, Table, ZERO_C_K};
use std::f64::consts::PI;

/// reference/pipe_dp.csv: Darcy-Weisbach with Colebrook or 64/Re, fluids 1.3.1.
#[test]
fn pipes_by_bore_and_roughness() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/liquid-pipe-runs.toml"), None);
    rig.run(20.0);
    let mut laminar = Check::new("pipes, laminar, flow", 0.02);
    let mut turbulent = Check::new("pipes, turbulent, flow", 0.02);
    for (name, bore_m, velocity_m_s, is_laminar) in [
        ("sea-1", 0.1, 1.0, false),
        ("sea-3", 0.1, 3.0, false),
        ("sea-small", 0.05, 2.0, false),
        ("sea-wide", 0.2, 3.0, false),
        ("water-1", 0.1, 1.0, false),
        ("water-small", 0.05, 2.0, false),
        ("water-wide", 0.2, 3.0, false),
        ("oil-cold", 0.1, 1.0, true),
        ("oil-cold-small", 0.05, 2.0, true),
        ("oil-cold-wide", 0.2, 1.0, true),
        ("oil-warm", 0.1, 1.0, true),
        ("oil-warm-fast", 0.2, 3.0, false),
        ("oil-warm-thin", 0.025, 3.0, true),
    ] {
        let expected = velocity_m_s * 0.25 * PI * bore_m * bore_m;
        let got = rig.value(&format!("{name}.pipe.flow"));
        if is_laminar { &mut laminar } else { &mut turbulent }.add(name, got, expected);
    }
    laminar.finish();
    turbulent.finish();
}

/// reference/water_iapws.csv: 600 L warmed from 20 to about 80 degC.
#[test]
fn an_expansion_tank_rises_as_its_circuit_warms() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/liquid-swelling.toml"), Some("cold"));
    rig.run(20.0);
    let before = rig.value("tank.volume");
    rig.run(7200.0);
    let table = Table::new(include_str!("../../../data/rigs/reference/water_iapws.csv"));
    let rho = |celsius: f64| {
        let rows = table.rows();
        let above = rows.iter().position(|row| row.get("t_degC") >= celsius).expect("in the table").max(1);
        let (low, high) = (rows[above - 1], rows[above]);
        let share = (celsius - low.get("t_degC")) / (high.get("t_degC") - low.get("t_degC"));
        low.get("rho_kg_m3") + share * (high.get("rho_kg_m3") - low.get("rho_kg_m3"))
    };
    let warm = rig.value("heater.inlet-temperature") - ZERO_C_K;
    assert!((75.0..90.0).contains(&warm), "{warm}");
    // In volumes at 60 degC, about the density of reference at which flows are counted.
    let expected = 0.6 * (rho(20.0) - rho(warm)) / rho(60.0);
    let mut check = Check::new("expansion tank, rise", 0.02);
    check.add("from 20 degC", rig.value("tank.volume") - before, expected);
    check.finish();
}
