//! Fuels.

use super::rig::{Check, Rig, Table, ZERO_C_K};
use deadship_plant::kind::Verb;

fn rig() -> Rig {
    Rig::new(include_str!("../../../data/rigs/fuel.toml"), Some("mixing"))
}

/// Conservation: heavy fuel in two tanks that are pumped over one another is neither lost nor made, and both end alike.
#[test]
fn blends_keep_what_is_in_them() {
    let mut rig = rig();
    let heavy = |rig: &Rig| {
        (1..=2)
            .map(|tank| {
                let value = |what: &str| rig.value(&format!("round.tank.{tank}.{what}"));
                value("volume") * value("heavy-share")
            })
            .sum::<f64>()
    };
    let volume = |rig: &Rig| rig.value("round.tank.1.volume") + rig.value("round.tank.2.volume");
    let (before, whole) = (heavy(&rig), volume(&rig));
    assert!((before - 1.6).abs() < 1e-9);
    rig.run(20_000.0);
    // Both tanks alike, and with them the 60 L of the lines, which began as diesel.
    let share = rig.value("round.tank.1.heavy-share");
    assert!((rig.value("round.tank.2.heavy-share") - share).abs() < 1e-4);
    let lines = 0.06;
    let off = heavy(&rig) + share * lines - before;
    println!(
        "two fuels mixed for 20,000 s: {off:.2e} m3 of {before} m3 off, volume {:.2e} m3",
        volume(&rig) - whole
    );
    assert!(off.abs() < 1e-6 * before, "{off}");
}

/// reference/viscosity_d341.csv and viscosity_fuels.csv (ASTM D341; anchors from memory); Darcy for the filter, ISO 4409 (from memory) for the slip.
#[test]
fn pumps_and_filters_follow_viscosity() {
    let mut rig = rig();
    rig.run(5.0);
    let oils = Table::new(include_str!("../../../data/rigs/reference/viscosity_d341.csv"));
    let fuels = Table::new(include_str!("../../../data/rigs/reference/viscosity_fuels.csv"));
    let at = |oil: &str, celsius: f64| {
        let rows = if oil == "MDO_DMA" { fuels.case(oil) } else { oils.rows() };
        rows.iter().find(|row| row.get("t_degC") == celsius).expect("a row").get("nu_m2_s")
    };
    let (sae, diesel) = ("SAE40_ISOVG150", "MDO_DMA");
    let mut slip = Check::new("gear pump, slip by viscosity", 0.01);
    let mut filter = Check::new("filter, flow by viscosity", 0.01);
    let displaced = 6.0 / 3600.0 / 0.9;
    let slips = |name: &str| displaced - rig.value(&format!("{name}.pump.flow"));
    slip.add("diesel, 40 degC", slips("diesel-40"), displaced * 0.1 * 4.0 / 5.0);
    slip.add(
        "diesel, 20 over 40 degC",
        slips("diesel-20") / slips("diesel-40"),
        at(diesel, 40.0) / at(diesel, 20.0),
    );
    slip.add("oil, 100 over 65 degC", slips("oil-100") / slips("oil-65"), 45.003_529e-6 / at(sae, 100.0));
    slip.finish();
    let flow = |name: &str| rig.value(&format!("{name}.filter.flow"));
    filter.add("diesel, 40 degC: rated", flow("diesel-40"), 6.0 / 3600.0);
    filter.add(
        "diesel, 20 over 40 degC",
        flow("diesel-20") / flow("diesel-40"),
        at(diesel, 40.0) / at(diesel, 20.0),
    );
    filter.add("oil, 100 over 65 degC", flow("oil-100") / flow("oil-65"), 45.003_529e-6 / at(sae, 100.0));
    filter.finish();
}

/// Filter clogging (Darcy): the dirt that it takes up in a minute at rated flow adds to its resistance.
#[test]
fn a_filter_clogs_by_what_flows_through_it() {
    let mut rig = rig();
    rig.run(5.0);
    let clean = rig.value("diesel-40.filter.flow");
    rig.fault("diesel-40.filter", "clogs", 0.5);
    // dR/dt = k Q with the pressure held: (1 + d)^2 = 1 + 2 k t, k = 0.5 x 20 / 120 s of clean resistances at rated flow.
    let mut check = Check::new("filter that clogs, flow", 0.02);
    for minutes in 1..=4 {
        rig.run(60.0);
        let time_s = 60.0 * f64::from(minutes);
        let resistance = (1.0 + 2.0 * 0.5 * 20.0 / 120.0 * time_s).sqrt();
        check.add(&format!("{minutes} min"), rig.value("diesel-40.filter.flow"), clean / resistance);
    }
    check.finish();
}

/// The final heater: 2 K a minute, then 13.5 mm2/s, which this heavy fuel has at 133 degC.
#[test]
fn final_heater_keeps_its_ramp_and_its_viscosity() {
    let mut rig = rig();
    rig.run(10.0);
    rig.act("final.heater", Verb::Set, "mode", 2.0);
    let mut ramp = Check::new("final heater, ramp", 0.05);
    rig.run(120.0);
    let from = rig.value("final.heater.outlet-temperature");
    rig.run(600.0);
    ramp.add("ten minutes", rig.value("final.heater.outlet-temperature") - from, 20.0);
    ramp.finish();
    rig.run(2400.0);
    let mut held = Check::new("final heater, viscosity held", 0.02);
    held.add("viscosity", rig.value("final.heater.viscosity"), 13.5e-6);
    held.add_of("degC", rig.value("final.heater.outlet-temperature") - ZERO_C_K, 133.0, 133.0);
    held.finish();
    // Deposits in its viscometer: it shows what is wanted, the fuel is thinner.
    rig.fault("final.heater", "viscometer-reads-high", 0.3);
    rig.run(1800.0);
    assert!((rig.value("final.heater.viscosity") / 13.5e-6 - 1.0).abs() < 0.03);
    assert!(rig.value("final.heater.outlet-temperature") - ZERO_C_K > 138.0);
}
