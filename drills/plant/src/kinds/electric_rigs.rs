//! The electric rigs as files: read, run, and brought back from a checkpoint.

use super::testkit::Rig;

const MOTOR: &str = include_str!("../../../data/rigs/electric-motor.toml");
const TWO_SETS: &str = include_str!("../../../data/rigs/electric-two-sets.toml");
const EMERGENCY: &str = include_str!("../../../data/rigs/electric-emergency-board.toml");
const SHORT_CIRCUIT: &str = include_str!("../../../data/rigs/electric-short-circuit.toml");
const ENVELOPE: &str = include_str!("../../../data/rigs/reference/short_circuit_envelope.csv");
const RATED_900: f64 = 94.24777960769379;
const RATED_1800: f64 = 188.49555921538757;

fn two_sets(text: &str) -> Rig {
    let mut rig = Rig::read(text, Some("parallel"));
    for shaft in ["set1.shaft", "set2.shaft"] {
        rig.spin(shaft, RATED_900);
        rig.govern(shaft, RATED_900 * 1.005, 600e3);
    }
    rig
}

fn emergency() -> Rig {
    let mut rig = Rig::read(EMERGENCY, Some("from main"));
    rig.brake("harbour-shaft", 9e3 / RATED_1800, RATED_1800);
    rig.brake("fuel-shaft", 0.9e3 / RATED_1800, RATED_1800);
    rig
}

/// im_start_time.csv: chapman_25hp_460V with 28.79 Nm at synchronous speed reaches 95 % after 0.589 s.
#[test]
fn textbook_motor_comes_up_in_its_time() {
    let mut rig = Rig::read(MOTOR, Some("on shore"));
    rig.brake("textbook-shaft", 28.790978, RATED_1800);
    rig.run(0.2);
    rig.act("textbook", 0, 0.0);
    rig.tick();
    let current = rig.value("textbook.current");
    assert!((current / 144.53 - 1.0).abs() < 0.02, "{current}");
    let time_s = 0.05 + rig.until(2.0, |r| r.value("textbook.speed") >= 0.95 * RATED_1800);
    assert!((time_s - 0.589).abs() < 0.06, "{time_s}");
}

/// Quadrature droop `V = V0 - q Q/S` on one bus (reactive_sharing.csv, rows 1 and 3 in form: equal and unlike set
/// points): the difference of set points over the droop is the difference of reactive powers per unit.
#[test]
fn reactive_power_is_shared_by_droop() {
    let mut rig = two_sets(TWO_SETS);
    rig.run(1.0);
    rig.act("reactor", 0, 0.0);
    rig.run(40.0);
    let (q1, q2) = (rig.value("set1.generator.reactive-power"), rig.value("set2.generator.reactive-power"));
    assert!((q1 / q2 - 1.0).abs() < 0.02, "{q1} {q2}");
    rig.act("set1.generator", 1, 440.0 * 1.005);
    rig.run(60.0);
    let (q1, q2) = (rig.value("set1.generator.reactive-power"), rig.value("set2.generator.reactive-power"));
    // 3 % droop at rated reactive power of 450 kvar: 0.5 % of voltage is 75 kvar between the two.
    assert!(((q1 - q2) / 75e3 - 1.0).abs() < 0.05, "{q1} {q2}");
}

#[test]
fn motor_start_in_parallel_dips_less_than_on_one_set() {
    let mut rig = two_sets(TWO_SETS);
    rig.brake("pump-shaft", 40e3 / RATED_1800, RATED_1800);
    rig.run(2.0);
    let before = rig.volts("bus");
    rig.act("ballast", 0, 0.0);
    let mut lowest = before;
    for _ in 0..40 {
        rig.tick();
        lowest = lowest.min(rig.volts("bus"));
    }
    let dip = 1.0 - lowest / before;
    eprintln!("45 kW direct start on two sets: dip {:.1} %", 100.0 * dip);
    assert!((0.04..0.09).contains(&dip), "{dip}");
}

/// With the inertia of real sets (H 0.95 s) a set closed in parallel swings in and stays.
#[test]
fn light_sets_stay_together_through_a_start() {
    let mut rig = two_sets(&TWO_SETS.replace("1000 kg m2", "160 kg m2"));
    rig.brake("pump-shaft", 40e3 / RATED_1800, RATED_1800);
    rig.run(3.0);
    rig.act("reactor", 0, 0.0);
    rig.act("ballast", 0, 0.0);
    rig.run(20.0);
    let (p1, p2) = (rig.value("set1.generator.power"), rig.value("set2.generator.power"));
    assert!((p1 - p2).abs() < 5e3, "{p1} {p2}");
    let first = p1;
    rig.tick();
    assert!((rig.value("set1.generator.power") - first).abs() < 2e3, "still swinging");
    assert_eq!(rig.value("set1.breaker.closed") + rig.value("set2.breaker.closed"), 2.0, "{:?}", rig.found);
}

#[test]
fn change_over_stops_the_harbour_pump_and_not_the_fuel_pump() {
    let mut rig = emergency();
    rig.run(5.0);
    assert_eq!(rig.value("harbour.running") + rig.value("fuel.running") + rig.value("light.on"), 3.0);
    rig.act("shore", 1, 0.0);
    rig.run(1.5);
    assert_eq!(rig.value("transfer.supply"), 0.0);
    rig.spin("eg.shaft", RATED_1800);
    rig.until(10.0, |r| r.value("transfer.supply") > 1.5);
    rig.run(5.0);
    assert_eq!(rig.value("harbour.running"), 0.0);
    assert_eq!(rig.value("fuel.running"), 1.0);
    assert_eq!(rig.value("light.on"), 1.0);
    // An 11 kW motor direct on line on the emergency generator: at most 15 % (rule of a classification society).
    let before = rig.volts("emergency");
    rig.act("harbour", 0, 0.0);
    let mut lowest = before;
    for _ in 0..20 {
        rig.tick();
        lowest = lowest.min(rig.volts("emergency"));
    }
    let dip = 1.0 - lowest / before;
    eprintln!("11 kW direct start on the emergency generator: dip {:.1} %", 100.0 * dip);
    assert!(dip < 0.15, "{dip}");
    rig.act("shore", 0, 0.0);
    rig.run(11.0);
    rig.act("transfer", 0, 0.0);
    rig.run(10.0);
    assert_eq!(rig.value("transfer.supply"), 1.0);
    assert_eq!(rig.value("harbour.running"), 0.0);
    assert_eq!(rig.value("fuel.running"), 1.0);
}

#[test]
fn a_checkpoint_brings_back_the_same_run() {
    for mut rig in [two_sets(TWO_SETS), emergency()] {
        rig.run(3.0);
        let bytes = rig.plant.checkpoint();
        let text = if rig.plant.compiled.component("transfer").is_some() { EMERGENCY } else { TWO_SETS };
        let start = if text == EMERGENCY { "from main" } else { "parallel" };
        let mut again = Rig::read(text, Some(start));
        again.plant.restore(&bytes).unwrap();
        again.brakes = rig.brakes.clone();
        again.governors = rig.governors.clone();
        rig.run(5.0);
        again.run(5.0);
        assert_eq!(rig.plant.digest(), again.plant.digest());
    }
}

/// short_circuit_envelope.csv (Kundur, ch. 3; IEC 60034-4): from the sub-transient over the transient to the steady current.
#[test]
fn a_short_circuit_falls_as_in_the_reference() {
    let mut rig = Rig::read(SHORT_CIRCUIT, Some("excited"));
    rig.run(0.1);
    for case in ["g1", "g3", "g4"] {
        rig.fault(&format!("{case}.switch"), "short-circuit", 1.0);
    }
    let rows = ENVELOPE.lines().filter(|line| line.starts_with('g')).map(|line| {
        let cells: Vec<&str> = line.split(',').collect();
        (cells[0], cells[7].parse::<f64>().unwrap(), cells[8].parse::<f64>().unwrap())
    });
    let (rated_a, mut worst) = (100e3 / 440.0 / 1.7320508, 0.0f64);
    let rows: Vec<(&str, f64, f64)> = rows.filter(|row| row.1 > 0.04).collect();
    assert_eq!(rows.len(), 21);
    for tick in 1..=40u32 {
        rig.tick();
        for (case, _, expected) in rows.iter().filter(|row| (row.1 * 20.0).round() as u32 == tick) {
            let found = rig.value(&format!("{case}.generator.current")) / rated_a;
            worst = worst.max((found / expected - 1.0).abs());
        }
    }
    eprintln!("short circuit: worst error {:.2} % of the current", 100.0 * worst);
    assert!(worst < 0.05, "{worst}");
}
