//! Compressed air: nozzles, receivers, compressors, starts.

use super::rig::{Check, Rig, Table};
use deadship_plant::kind::Verb;
use deadship_plant::nets::air::{AirNet, R_AIR};

const BAROMETER_PA: f64 = 101_325.0;

/// Flow of a restriction between two vessels too large to change, kg/s.
fn net_flow(conductance: f64, critical: f64, p1_pa: f64, p2_pa: f64, t_k: f64) -> f64 {
    let mut net = AirNet::new(vec![1e6; 2], BAROMETER_PA, t_k, &[(0, Some(1))]);
    net.set_pressure(0, p1_pa);
    net.set_pressure(1, p2_pa);
    net.branches[0].conductance_m3_s_pa = conductance;
    net.branches[0].critical_ratio = critical;
    net.step(0.05).expect("vessels are full");
    net.flow_kg_s[0]
}

/// reference/iso6358_flow.csv: ISO 6358-1.
#[test]
fn restrictions_of_iso_6358() {
    let table = Table::new(include_str!("../../../data/rigs/reference/iso6358_flow.csv"));
    let mut check = Check::new("restrictions of ISO 6358, mass flow", 0.02);
    for row in table.rows() {
        let (p1, ratio) = (row.get("p1_Pa"), row.get("p2_over"));
        let got = net_flow(row.get("C_"), row.get("b_"), p1, p1 * ratio, row.get("T1_K"));
        check.add(&format!("C {}, ratio {ratio}", row.get("C_")), got, row.get("m_kg_s"));
    }
    check.finish();
}

/// reference/nozzle_isentropic.csv (ideal column analytic, real column CoolProp 8.0.0): the air valve stands for a
/// nozzle by the ellipse of ISO 6358, and its air is an ideal gas.
#[test]
fn nozzle_by_an_ellipse() {
    let table = Table::new(include_str!("../../../data/rigs/reference/nozzle_isentropic.csv"));
    let mut ideal = Check::new("nozzle by the ellipse, ideal gas", 0.02);
    let mut real = Check::new("nozzle by the ellipse, real gas", 0.02);
    for row in table.rows() {
        let (p1, t1, ratio) = (row.get("p1_Pa"), row.get("T1_K"), row.get("p2_over"));
        // C = A 0.040415 / (rho0 sqrt(T0)), as the air valve has it.
        let conductance = row.get("A_m2") * 0.040415 / (1.185 * libm::sqrt(293.15));
        let got = net_flow(conductance, 0.528, p1, p1 * ratio, t1);
        let label = format!("{p1} Pa, {t1} K, ratio {ratio}");
        ideal.add(&label, got, row.get("m_ideal"));
        real.add(&label, got, row.get("m_realgas"));
    }
    ideal.finish();
    real.finish();
}

/// reference/receiver_blowdown.csv, isothermal: scipy 1.17.1.
#[test]
fn isothermal_blow_down() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/air-blow-down-isothermal.toml"), Some("full"));
    let table = Table::new(include_str!("../../../data/rigs/reference/receiver_blowdown.csv"));
    let mut check = Check::new("isothermal blow-down, pressure", 0.05);
    for row in table.case("iso_0.5m3").iter().filter(|row| row.get("time_s") > 0.0) {
        rig.run_to(row.get("time_s"));
        let got = rig.value("gauge.outlet-pressure") + BAROMETER_PA;
        check.add(&format!("{} s", row.get("time_s")), got, row.get("p_Pa"));
    }
    check.finish();
}

/// reference/receiver_blowdown.csv, adiabatic: scipy 1.17.1.
#[test]
fn adiabatic_blow_down() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/air-blow-down-adiabatic.toml"), Some("full"));
    let table = Table::new(include_str!("../../../data/rigs/reference/receiver_blowdown.csv"));
    let mut pressure = Check::new("adiabatic blow-down, pressure", 0.05);
    let mut temperature = Check::new("adiabatic blow-down, temperature", 0.05);
    let mut mass = Check::new("adiabatic blow-down, mass", 0.05);
    for row in table.case("adi_0.25m3").iter().filter(|row| row.get("time_s") > 0.0) {
        if row.get("p_Pa") <= BAROMETER_PA {
            break;
        }
        rig.run_to(row.get("time_s"));
        let label = format!("{} s", row.get("time_s"));
        pressure.add(&label, rig.value("receiver.pressure") + BAROMETER_PA, row.get("p_Pa"));
        temperature.add(&label, rig.value("receiver.temperature"), row.get("T_K"));
        mass.add(&label, rig.value("receiver.mass"), row.get("m_kg"));
    }
    pressure.finish();
    temperature.finish();
    mass.finish();
}

/// reference/receiver_fill.csv: scipy 1.17.1.
#[test]
fn compressors_fill_receivers() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/air-filling.toml"), None);
    let table = Table::new(include_str!("../../../data/rigs/reference/receiver_fill.csv"));
    let mut pressures = Check::new("filling receivers, pressure on the way", 0.05);
    let mut times = Check::new("filling receivers, time", 0.05);
    let mut due = Vec::new();
    for name in ["c1", "c3", "c6"] {
        let rows = table.case(name);
        due.extend(rows.iter().map(|row| (row.get("time_s"), name, row.get("p_Pa"))));
    }
    due.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut open = vec!["c1", "c3", "c6"];
    let mut next = due.iter().peekable();
    while !open.is_empty() || next.peek().is_some() {
        rig.tick();
        let now = rig.time_s();
        assert!(now < 3600.0, "not full within an hour: {open:?}");
        while let Some((_, name, want)) = next.next_if(|(time, ..)| *time <= now) {
            let got = rig.value(&format!("{name}.receiver.pressure")) + BAROMETER_PA;
            pressures.add(&format!("{name} at {now} s"), got, *want);
        }
        open.retain(|name| {
            let row = table.case(name)[0];
            let full = rig.value(&format!("{name}.receiver.pressure")) + BAROMETER_PA >= row.get("p_end");
            if full {
                times.add(name, now, row.get("t_fill_s"));
            }
            !full
        });
    }
    pressures.finish();
    times.finish();
}

/// reference/starts_count.csv: isothermal balance; isentropic expansion right after the first start.
#[test]
fn starts_from_a_receiver() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/air-starts.toml"), Some("full"));
    let table = Table::new(include_str!("../../../data/rigs/reference/starts_count.csv"));
    let rows = table.rows();
    let names = ["row-1", "row-2", "row-3", "row-4"];
    let mut first = Check::new("starts, first fall of pressure", 0.02);
    let mut last = Check::new("starts, pressure used by all", 0.02);
    let absolute = |rig: &Rig, name: &str| rig.value(&format!("{name}.receiver.pressure")) + BAROMETER_PA;
    let most = rows.iter().map(|row| row.get("n_starts") as u32).max().expect("rows");
    // One more than allowed, so that a count that is too great would show.
    for start in 1..=most + 1 {
        let mut drawing: Vec<(&str, f64)> = Vec::new();
        for (row, name) in rows.iter().zip(names) {
            let portion_kg = row.get("Vs_free") * BAROMETER_PA / (R_AIR * 303.15);
            drawing.push((name, rig.value(&format!("{name}.receiver.mass")) - portion_kg));
            rig.act(&format!("{name}.start"), Verb::Open, "", 0.0);
        }
        draw(&mut rig, drawing);
        if start == 1 {
            for (row, name) in rows.iter().zip(names) {
                let fall = row.get("p_high") - row.get("p_after_1");
                first.add(name, row.get("p_high") - absolute(&rig, name), fall);
            }
        }
        rig.run(3000.0);
        for (row, name) in rows.iter().zip(names) {
            let allowed = row.get("n_starts") as u32;
            let enough = absolute(&rig, name) >= row.get("p_low");
            assert!(start > allowed + 1 || enough == (start <= allowed), "{name}: start {start}");
            if start == allowed {
                let used = row.get("p_high") - row.get("p_after_n");
                last.add(name, row.get("p_high") - absolute(&rig, name), used);
            }
        }
    }
    first.finish();
    last.finish();
}

/// Lets each nozzle blow until its receiver is down to its mass, to the nearest tick.
fn draw(rig: &mut Rig, mut drawing: Vec<(&str, f64)>) {
    for _ in 0..1000 {
        rig.tick();
        drawing.retain(|(name, until_kg)| {
            let mass = rig.value(&format!("{name}.receiver.mass"));
            let half_tick = 0.5 * 0.05 * rig.value(&format!("{name}.start.flow"));
            let more = mass - half_tick > *until_kg;
            if !more {
                rig.act(&format!("{name}.start"), Verb::Close, "", 0.0);
            }
            more
        });
        if drawing.is_empty() {
            return;
        }
    }
    panic!("the starts did not end: {drawing:?}");
}
