//! Lengths of pipe.

use super::rig::{Check, Rig};
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
