//! Flows and pressures of liquids, tanks, pumps.

use super::rig::{Check, Rig, Table};
use deadship_plant::kind::Verb;
use deadship_plant::nets::liquid::LiquidNet;

const G: f64 = 9.80665;
const BAROMETER_PA: f64 = 101_325.0;
/// Names of the rig's copies in the order of the rows of network_seawater.csv.
const ROWS: [&str; 7] =
    ["one-pump", "two-pumps", "foul-strainer", "two-pumps-wide", "one-cooler-shut", "slow", "narrow-common"];

/// reference/network_seawater.csv: nodal solution with scipy 1.17.1.
#[test]
fn sea_water_side() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/liquid-sea-water.toml"), Some("lined up"));
    rig.run(30.0);
    let table = Table::new(include_str!("../../../data/rigs/reference/network_seawater.csv"));
    let mut flows = Check::new("sea water side, flows", 0.02);
    let mut pressures = Check::new("sea water side, pressures", 0.02);
    assert_eq!(table.rows().len(), ROWS.len());
    for (row, name) in table.rows().into_iter().zip(ROWS) {
        let value = |reading: &str| rig.value(&format!("{name}.{reading}"));
        flows.add(name, value("strainer.flow"), row.get("Q_total"));
        flows.add(name, value("cooler.1.flow"), row.get("Q1"));
        flows.add_of(name, value("cooler.2.flow"), row.get("Q2"), row.get("Q2").max(0.01));
        let absolute = |reading: &str| value(reading) + BAROMETER_PA;
        pressures.add(name, absolute("pump.1.suction-pressure"), row.get("p_suction"));
        pressures.add(name, absolute("pump.1.delivery-pressure"), row.get("p_discharge"));
        pressures.add(name, absolute("common.outlet-pressure"), row.get("p_common"));
    }
    let first = table.rows()[0];
    flows.add("sea chest", rig.value("chest.strainer.flow"), first.get("Q_total"));
    flows.finish();
    pressures.finish();
}

/// reference/pump_affinity.csv: affinity laws and the analytic intersection with the pipe.
#[test]
fn pump_on_a_pipe() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/liquid-pump.toml"), None);
    let table = Table::new(include_str!("../../../data/rigs/reference/pump_affinity.csv"));
    let cases = [
        ("high-loss", 32.0, 4.0),
        ("no-static", 25.0, 0.0),
        ("large", 45.0, 8.0),
        ("high-static", 32.0, 18.0),
    ];
    let mut flows = Check::new("pump on a pipe, flow", 0.02);
    let mut heads = Check::new("pump on a pipe, head", 0.02);
    let mut powers = Check::new("pump on a pipe, power at homologous points", 0.02);
    for (name, shut_off, static_head) in cases {
        let set = |rig: &mut Rig, r: f64| {
            rig.act(&format!("{name}.drive"), Verb::Set, "speed", 100.0 * r);
            rig.run(5.0);
        };
        set(&mut rig, 1.0);
        let full_power = rig.value(&format!("{name}.pump.power"));
        let rows = table.rows();
        let of_case = rows.iter().filter(|row| row.get("H0") == shut_off && row.get("Hs") == static_head);
        let mut seen = 0;
        for row in of_case {
            let r = row.get("r_n");
            set(&mut rig, r);
            seen += 1;
            let value = |reading: &str| rig.value(&format!("{name}.pump.{reading}"));
            let label = format!("{name} at {r}");
            flows.add_of(&label, value("flow"), row.get("Q_"), row.get("Q_").max(0.005));
            if row.get("Q_") > 0.0 {
                let head_m = (value("delivery-pressure") - value("suction-pressure")) / (1024.0 * G);
                heads.add(&label, head_m, row.get("Hpump"));
            }
            if static_head == 0.0 {
                powers.add(&label, value("power") / full_power, row.get("P_scale"));
                powers.add(&label, rig.value(&format!("{name}.drive.power")), value("power"));
            }
        }
        assert!(seen > 0, "{name}");
    }
    flows.finish();
    heads.finish();
    powers.finish();
}

/// reference/tank_drain.csv: Torricelli's law, checked there with scipy 1.17.1.
#[test]
fn tanks_drain() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/liquid-tanks.toml"), Some("draining"));
    let table = Table::new(include_str!("../../../data/rigs/reference/tank_drain.csv"));
    let mut check = Check::new("tanks drain, time", 0.05);
    let mut waiting: Vec<(String, f64, f64)> = Vec::new();
    for (row, name) in table.rows().into_iter().zip(["a", "b", "c", "d", "e"]) {
        let area = row.get("A_");
        waiting.push((name.to_owned(), area * row.get("h_at_t_half"), row.get("t_half")));
        if row.get("h1") > 0.0 {
            waiting.push((name.to_owned(), area * row.get("h1"), row.get("t_drain")));
        }
    }
    assert_eq!(waiting.len(), 8);
    while !waiting.is_empty() {
        rig.tick();
        let now = rig.time_s();
        assert!(now < 4000.0, "still full: {waiting:?}");
        waiting.retain(|(name, volume, time)| {
            let full = rig.value(&format!("{name}.tank.volume")) > *volume;
            if !full {
                check.add(name, now, *time);
            }
            full
        });
    }
    check.finish();
}

/// Content of two joined tanks is kept, in either direction, and nothing moves through shut valves.
#[test]
fn joined_tanks_keep_their_content() {
    let text = include_str!("../../../data/rigs/liquid-tanks.toml");
    for (start, sign) in [("draining", 1.0), ("reversed", -1.0)] {
        let mut rig = Rig::new(text, Some(start));
        let content = |rig: &Rig| rig.value("joined.tank.1.volume") + rig.value("joined.tank.2.volume");
        let before = content(&rig);
        rig.run(1.0);
        assert!(sign * rig.value("joined.valve.flow") > 1e-4, "{start}");
        rig.run(2000.0);
        println!("joined tanks, {start}: content off by {:.3e} m3", content(&rig) - before);
        assert!((content(&rig) - before).abs() < 1e-6 * before, "{start}");
        let levels = (rig.value("joined.tank.1.level"), rig.value("joined.tank.2.level"));
        assert!((levels.0 - levels.1).abs() < 2e-3, "{start}: {levels:?}");
    }
    let mut rig = Rig::new(text, Some("shut"));
    rig.run(3600.0);
    for name in ["a", "b", "c", "d", "e"] {
        assert!((rig.value(&format!("{name}.tank.volume")) - 0.9).abs() < 1e-4, "{name}");
    }
}

/// A tank that has run empty stays at nothing: content is never negative.
#[test]
fn an_empty_tank_stays_empty() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/liquid-tanks.toml"), Some("draining"));
    rig.run(20_000.0);
    for name in ["a", "b", "c", "d", "e"] {
        let level = rig.value(&format!("{name}.tank.level"));
        assert!((0.0..0.02).contains(&level), "{name}: {level}");
    }
    let before = rig.value("b.tank.volume");
    rig.run(600.0);
    assert!(rig.value("b.tank.volume") <= before);
}

/// reference/valve_liquid.csv (IEC 60534-2-1; Kv checked back by fluids 1.3.1) on the net itself, any density.
#[test]
fn valves_by_the_net() {
    let table = Table::new(include_str!("../../../data/rigs/reference/valve_liquid.csv"));
    let mut check = Check::new("valves of IEC 60534, flow", 0.02);
    for row in table.rows() {
        let (kv, rho) = (row.get("Kv_m3_h"), row.get("rho"));
        let mut net = LiquidNet::new(vec![0.0; 2], vec![rho; 2], vec![true; 2], &[(0, 1)]);
        net.branches[0].set_kv(kv / 3600.0, rho);
        net.pressure_pa[0] = row.get("dp");
        net.solve(0.05).expect("two fixed nodes");
        check.add(&format!("Kv {kv}, {rho} kg/m3"), net.flow_m3_s[0], row.get("Q_"));
    }
    check.finish();
}

/// IEC 60534-2-1, worked example 1: 360 m3/h through Kv 165 from 680 to 220 kPa.
#[test]
fn textbook_valve() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/liquid-lines.toml"), None);
    rig.run(1.0);
    let mut check = Check::new("valve of the standard's example, flow", 0.02);
    check.add("example 1", rig.value("textbook.valve.flow") * 3600.0, 360.0);
    check.finish();
}

/// Gear pump with slip in proportion to pressure; against a shut line its relief valve takes all (ISO 4409, from
/// memory). Filter in proportion to viscosity (Darcy; reference/viscosity_d341.csv).
#[test]
fn gear_pump_and_filter() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/liquid-lines.toml"), None);
    rig.run(10.0);
    let displaced = 12.0 / 3600.0 / 0.92;
    let mut pump = Check::new("gear pump, flow and relief pressure", 0.02);
    for (name, bar) in [("gear-free", 0.0), ("gear-half", 2.5), ("gear-rated", 5.0)] {
        pump.add(name, rig.value(&format!("{name}.pump.flow")), displaced * (1.0 - 0.08 * bar / 5.0));
    }
    // Slip and relief share the displacement: 1 - 0.08 p / 5 = (p - 7) / 0.7, p in bar.
    pump.add("gear-shut", rig.value("gear-shut.pump.delivery-pressure") / 1e5, 11.0 / (1.0 / 0.7 + 0.016));
    pump.finish();
    let table = Table::new(include_str!("../../../data/rigs/reference/viscosity_d341.csv"));
    let at = |celsius: f64| {
        let rows = table.rows();
        let row = rows.iter().find(|row| row.get("t_degC") == celsius).expect("a row");
        row.get("nu_m2_s")
    };
    let resistance = |name: &str| {
        rig.value(&format!("{name}.filter.difference")) / rig.value(&format!("{name}.filter.flow"))
    };
    let mut filter = Check::new("filter, resistance by viscosity", 0.01);
    filter.add("40 over 60 degC", resistance("filter-40") / resistance("filter-60"), at(40.0) / at(60.0));
    filter.finish();
}
