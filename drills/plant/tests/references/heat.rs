//! Coolers, mixing, heaters, tanks, and fronts of temperature.

use super::rig::{Check, Rig, Table, ZERO_C_K};

/// reference/hx_counterflow_cases.csv: ht 1.2.0, effectiveness_NTU_method.
#[test]
fn coolers() {
    let text = include_str!("../../../data/rigs/heat-coolers.toml");
    let table = Table::new(include_str!("../../../data/rigs/reference/hx_counterflow_cases.csv"));
    let names = ["row-1", "row-2", "row-5", "row-6", "row-7"];
    let rows = table.rows();
    assert_eq!(rows.len(), names.len());
    let mut rig = Rig::new(text, None);
    rig.run(10.0);
    let mut heat = Check::new("coolers, heat", 0.02);
    let mut outlets = Check::new("coolers, outlet temperatures over inlet difference", 0.02);
    for (row, name) in rows.iter().zip(names) {
        let value = |reading: &str| rig.value(&format!("{name}.cooler.{reading}"));
        let span = row.get("t_hot_in") - row.get("t_cold_in");
        heat.add(name, value("heat"), row.get("Q_W"));
        outlets.add_of(name, value("hot-outlet-temperature") - ZERO_C_K, row.get("t_hot_out_degC"), span);
        outlets.add_of(name, value("cold-outlet-temperature") - ZERO_C_K, row.get("t_cold_out"), span);
    }
    heat.finish();
    outlets.finish();
    let mut fouled = Check::new("coolers, heat fouled", 0.02);
    for (row, name) in rows.iter().zip(names) {
        // UA' = 1/(1/UA + R): the share lost is UA R / (1 + UA R).
        let extra = row.get("UA_W_K") * row.get("RfA");
        rig.fault(&format!("{name}.cooler"), "fouled", extra / (1.0 + extra));
    }
    rig.run(2.0);
    for (row, name) in rows.iter().zip(names) {
        fouled.add(name, rig.value(&format!("{name}.cooler.heat")), row.get("Q_fouled"));
    }
    fouled.finish();
}

/// reference/mixing_valve.csv: energy balance; the thermostat comes to rest by itself.
#[test]
fn thermostats() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/heat-thermostats.toml"), None);
    rig.run(600.0);
    let table = Table::new(include_str!("../../../data/rigs/reference/mixing_valve.csv"));
    let mut mixed = Check::new("thermostats, mixture over difference of streams", 0.02);
    let mut opening = Check::new("thermostats, hot share", 0.02);
    for (row, name) in table.rows().into_iter().zip(["row-1", "row-2", "row-3", "row-4"]) {
        let span = row.get("t_hot") - row.get("t_cold");
        let got = rig.value(&format!("{name}.valve.temperature")) - ZERO_C_K;
        mixed.add_of(name, got, row.get("t_mix"), span);
        let hot_share = 1.0 - rig.value(&format!("{name}.valve.position"));
        opening.add_of(name, hot_share, row.get("hot_fraction"), 1.0);
    }
    mixed.finish();
    opening.finish();
}

/// reference/heater_warmup.csv: analytic lumped mass.
#[test]
fn warming_and_cooling_tanks() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/heat-heater.toml"), Some("reference"));
    let table = Table::new(include_str!("../../../data/rigs/reference/heater_warmup.csv"));
    let (warm, cool) = (table.case("C2e+06_P12000"), table.case("C4e+06_P0"));
    let mut warming = Check::new("heater, rise of temperature", 0.05);
    let mut cooling = Check::new("cooling tank, fall of temperature", 0.05);
    for (warm, cool) in warm.into_iter().zip(cool) {
        rig.run_to(warm.get("time_s"));
        let label = format!("{} s", warm.get("time_s"));
        let rise = |row: &super::rig::Row<'_>| row.get("t_degC") - row.get("t_init");
        let got = |tank: &str| rig.value(&format!("{tank}.temperature")) - ZERO_C_K;
        warming.add(&label, got("warming") - warm.get("t_init"), rise(&warm));
        cooling.add(&label, got("cooling") - cool.get("t_init"), rise(&cool));
    }
    warming.finish();
    cooling.finish();
}

/// reference/mixed_cells_step.csv: regularised gamma function, scipy 1.17.1.
#[test]
fn fronts_through_cells() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/heat-cells.toml"), None);
    let table = Table::new(include_str!("../../../data/rigs/reference/mixed_cells_step.csv"));
    let mut check = Check::new("fronts through cells, share of the step", 0.05);
    let mut due: Vec<(f64, f64, &str, &str)> = Vec::new();
    for row in table.rows() {
        let name = match row.get("n_cells") {
            1.0 => "one",
            3.0 => "three",
            5.0 => "five",
            _ => continue,
        };
        due.push((row.get("x_"), row.get("outlet_step"), name, "pipe.1.flow"));
    }
    assert_eq!(due.len(), 16);
    due.sort_by(|a, b| a.0.total_cmp(&b.0));
    rig.run(1.0);
    let residence = |name: &str| {
        let litres = if name == "five" { 100.0 } else { 60.0 };
        litres * 1e-3 / rig.value(&format!("{name}.pipe.1.flow"))
    };
    let times: Vec<f64> = due.iter().map(|(x, _, name, _)| x * residence(name)).collect();
    let mut order: Vec<usize> = (0..due.len()).collect();
    order.sort_by(|a, b| times[*a].total_cmp(&times[*b]));
    for i in order {
        let (x, want, name, _) = due[i];
        rig.run_to(times[i]);
        let got = (rig.value(&format!("{name}.gauge.temperature")) - ZERO_C_K - 20.0) / 40.0;
        check.add_of(&format!("{name} at {x}"), got, want, 1.0);
    }
    check.finish();
}
