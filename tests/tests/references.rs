//! One check of each net against something outside the project, run the way an author would: `deadship trial` on a rig
//! file. The full set of checks stands in `drills/plant/tests`; errors and tolerances in `docs/physics.md`.

use deadship_tests::{Table, run, top};

fn trial(rig: &str, args: &[&str]) -> Table {
    let mut all = vec!["trial", rig, "--format", "csv"];
    all.extend_from_slice(args);
    let said = run(env!("CARGO_BIN_EXE_deadship-under-test"), &all);
    assert_eq!(said.status, 0, "{}", said.err);
    Table::read(&said.out)
}

fn near(what: &str, got: f64, expected: f64, tolerance_share: f64) {
    let error_share = (got - expected).abs() / expected.abs();
    println!(
        "{what}: {got} for {expected}, error {:.3} %, tolerance {} %",
        100.0 * error_share,
        100.0 * tolerance_share
    );
    assert!(error_share <= tolerance_share, "{what}: {got} for {expected}");
}

/// Source: network_seawater.csv, row 1 (nodal solution with scipy 1.17.1, fsolve).
#[test]
fn liquid_net_solves_a_sea_water_side() {
    let table = trial(
        "liquid-sea-water",
        &["--state", "lined up", "--for", "60s", "--every", "60s", "--readings", "one-pump.*"],
    );
    near("total flow", table.at(60.0, "one-pump.common.flow"), 0.064291857, 0.02);
    near("first cooler", table.at(60.0, "one-pump.cooler.1.flow"), 0.038575114, 0.02);
    near("second cooler", table.at(60.0, "one-pump.cooler.2.flow"), 0.025716743, 0.02);
}

/// Source: hx_counterflow_cases.csv, rows 1 and 2 (ht 1.2.0, effectiveness_NTU_method).
#[test]
fn heat_net_cools_by_effectiveness() {
    let table =
        trial("heat-coolers", &["--for", "600s", "--every", "600s", "--readings", "row-*.cooler.heat"]);
    near("row 1", table.at(600.0, "row-1.cooler.heat"), 862_751.74, 0.02);
    near("row 2", table.at(600.0, "row-2.cooler.heat"), 1_107_491.1, 0.02);
}

/// Source: receiver_blowdown.csv, isothermal 0.5 m3 (scipy 1.17.1, solve_ivp).
#[test]
fn air_net_blows_a_vessel_down() {
    let reference = std::fs::read_to_string(top().join("drills/data/rigs/reference/receiver_blowdown.csv"))
        .expect("the reference table");
    let rows: Vec<Vec<&str>> = reference
        .lines()
        .filter(|line| line.starts_with("iso_0.5m3"))
        .map(|line| line.split(',').collect())
        .collect();
    assert!(rows.len() >= 3);
    let table = trial(
        "air-blow-down-isothermal",
        &[
            "--state",
            "full",
            "--for",
            "60s",
            "--every",
            "1s",
            "--readings",
            "gauge.outlet-pressure,nozzle.flow",
        ],
    );
    let mut checked = 0;
    for row in rows {
        let (time_s, absolute_pa): (f64, f64) =
            (row[6].parse().expect("a time"), row[7].parse().expect("a pressure"));
        if time_s > 0.0 && time_s <= 60.0 && time_s.fract() == 0.0 {
            // Which column shows the vessel: what flows out of it is choked, m = 0.040415 A p / sqrt(T).
            let flow = table.at(time_s, "nozzle.flow");
            let from_flow = flow * 303.15f64.sqrt() / (0.040415 * 2e-4);
            if absolute_pa > 2.2e5 {
                near(&format!("pressure after {time_s} s"), from_flow, absolute_pa, 0.05);
                checked += 1;
            }
        }
    }
    assert!(checked >= 3, "only {checked} rows were in reach");
}

/// Source: engine_room_air.csv, case er1 (analytic single-node balance).
#[test]
fn room_warms_by_its_balance() {
    let table = trial(
        "room",
        &["--state", "reference", "--for", "1200s", "--every", "60s", "--readings", "er1.temperature"],
    );
    for (time_s, expected_c) in [(300.0, 41.023093), (600.0, 42.585486), (1200.0, 43.095903)] {
        let rise = table.at(time_s, "er1.temperature") - 273.15 - 35.0;
        near(&format!("rise after {time_s} s"), rise, expected_c - 35.0, 0.05);
    }
}

/// Electric and shaft nets. Source: im_start_time.csv, chapman_25hp_460V (exact circuit of Chapman, Electric Machinery
/// Fundamentals, ch. 6): 144.53 A and 106.56 Nm at standstill; with 0.5 kg m2 the shaft gains T t / J at first.
#[test]
fn motor_draws_its_starting_current_and_accelerates_its_shaft() {
    let actions = tempfile::NamedTempFile::new().expect("a file");
    std::fs::write(actions.path(), "at 1s: start textbook\n").expect("written");
    let table = trial(
        "electric-motor",
        &[
            "--state",
            "on shore",
            "--actions",
            &actions.path().display().to_string(),
            "--for",
            "2s",
            "--every",
            "0.05s",
            "--readings",
            "textbook.current,textbook.speed",
        ],
    );
    near("starting current", table.at(1.05, "textbook.current"), 144.52766, 0.02);
    near("speed after 50 ms", table.at(1.05, "textbook.speed"), 106.5621 / 0.5 * 0.05, 0.10);
}
