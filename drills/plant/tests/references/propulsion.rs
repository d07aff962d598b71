//! Steam plant, main engine and shaft generator.

use super::rig::{Check, Rig, Row, Table, ZERO_C_K};
use deadship_plant::kind::Verb;
use deadship_plant::kinds::steam;

const STEAM: &str = include_str!("../../../data/rigs/steam-turbine.toml");
const RPM: f64 = std::f64::consts::TAU / 60.0;

/// reference/water_iapws.csv, column psat: IAPWS-IF97, iapws 1.5.5.
#[test]
fn saturation_pressure() {
    let table = Table::new(include_str!("../../../data/rigs/reference/water_iapws.csv"));
    let mut check = Check::new("saturation pressure of water", 0.001);
    let mut back = Check::new("saturation temperature, over 1 K", 0.01);
    for row in table.rows() {
        let label = format!("{} degC", row.get("t_degC"));
        check.add(&label, steam::saturation_pa(row.get("T_K")), row.get("psat_Pa"));
        back.add_of(&label, steam::saturation_k(row.get("psat_Pa")), row.get("T_K"), 1.0);
    }
    check.finish();
    back.finish();
}

/// reference/steam_turbine.csv: steady states solved with IAPWS-IF97, iapws 1.5.5, scipy 1.17.1; and the hand formula
/// flow = power / (efficiency x isentropic drop), which holds at full load.
#[test]
fn steam_turbine() {
    let mut rig = Rig::new(STEAM, Some("no load"));
    let table = Table::new(include_str!("../../../data/rigs/reference/steam_turbine.csv"));
    let mut checks = SteamChecks::new();
    rig.run(5.0);
    rig.act("load.full", Verb::Start, "", 0.0);
    rig.run(300.0);
    let full = table.case("full")[0];
    checks.add(&rig, "full", full);
    let hand = rig.value("turbine.power") / (0.70 * rig.value("turbine.isentropic-drop"));
    let mut formula = Check::new("steam by power over efficiency and isentropic drop", 0.02);
    formula.add("full load", rig.value("turbine.steam-flow"), hand);
    formula.add("4,974 kg/h", rig.value("turbine.steam-flow"), 4974.0 / 3600.0);
    formula.finish();
    rig.act("load.full", Verb::Stop, "", 0.0);
    rig.act("load.half", Verb::Start, "", 0.0);
    rig.run(300.0);
    checks.add(&rig, "half", table.case("half")[0]);
    checks.finish();
}

struct SteamChecks {
    flow: Check,
    droop: Check,
    heat: Check,
    vacuum: Check,
    drop: Check,
}

impl SteamChecks {
    fn new() -> SteamChecks {
        SteamChecks {
            flow: Check::new("steam turbine, steam flow", 0.02),
            droop: Check::new("steam turbine, speed, over the droop", 0.02),
            heat: Check::new("condenser, heat", 0.02),
            vacuum: Check::new("condenser, temperature over that of the sea", 0.02),
            drop: Check::new("steam turbine, isentropic drop after throttling", 0.02),
        }
    }

    fn add(&mut self, rig: &Rig, label: &str, row: Row<'_>) {
        // The reference was solved for the shaft power that the rig settles at.
        let off = rig.value("turbine.power") / row.get("shaft_W") - 1.0;
        assert!(off.abs() < 2e-3, "{label}: shaft power {:.3} % off", 100.0 * off);
        self.flow.add(label, rig.value("turbine.steam-flow"), row.get("steam_kg_s"));
        self.droop.add_of(label, rig.value("turbine.speed") / RPM, row.get("speed_rpm"), 360.0);
        self.heat.add(label, rig.value("condenser.heat"), row.get("condenser_W"));
        let over = |t_c: f64| t_c - 25.0;
        let got = over(rig.value("condenser.condensing-temperature") - ZERO_C_K);
        self.vacuum.add(label, got, over(row.get("condensing_degC")));
        let throttled = rig.value("turbine.isentropic-drop") - rig.value("turbine.throttle-loss");
        self.drop.add(label, throttled, row.get("drop_J_kg"));
    }

    fn finish(self) {
        self.flow.finish();
        self.droop.finish();
        self.heat.finish();
        self.vacuum.finish();
        self.drop.finish();
    }
}

/// A turbine trips when its condenser loses sea water or air gets in, and cannot be started before it is reset, warm
/// and under vacuum.
#[test]
fn steam_turbine_trips_and_starts() {
    let mut rig = Rig::new(STEAM, Some("no load"));
    rig.run(5.0);
    rig.act("load.full", Verb::Start, "", 0.0);
    rig.run(60.0);
    rig.fault("condenser", "air-in-leak", 1.0);
    rig.run(900.0);
    assert_eq!(rig.value("turbine.tripped"), 2.0, "by vacuum, at {} Pa", rig.value("condenser.vacuum"));
    assert!(rig.value("turbine.steam-flow") < 1e-3);
    rig.fault("condenser", "air-in-leak", 0.0);
    rig.run(1200.0);
    assert!(rig.value("turbine.speed") < 0.5 * 9000.0 * RPM);
    assert_eq!(rig.codes("turbine", Verb::Start), ["not-reset"]);
    rig.act("turbine", Verb::Reset, "", 0.0);
    assert!(rig.codes("turbine", Verb::Start).is_empty(), "still warm enough");
    let mut cold = Rig::new(STEAM, Some("cold"));
    cold.run(10.0);
    assert_eq!(cold.codes("turbine", Verb::Start), ["vacuum-low", "not-warm"]);
    cold.act("turbine", Verb::Set, "warming", 1.0);
    cold.run(400.0);
    cold.act("turbine", Verb::Start, "", 0.0);
    cold.run(200.0);
    assert_eq!(cold.value("turbine.running"), 1.0);
    let share = cold.value("turbine.speed") / (9000.0 * RPM);
    assert!((share - 1.02).abs() < 0.01, "{share}");
}

const ENGINES: &str = include_str!("../../../data/rigs/main-engine.toml");

/// reference/main_engine.csv: own analytic. Fuel and its heat at four loads, and that nothing of it is lost.
#[test]
fn main_engines() {
    let table = Table::new(include_str!("../../../data/rigs/reference/main_engine.csv"));
    let mut rig = Rig::new(ENGINES, Some("running"));
    let mut speed = Check::new("main engines, speed", 0.005);
    let mut fuel = Check::new("main engines, fuel", 0.02);
    let mut heat = Check::new("main engines, heat by where it goes, over fuel", 0.01);
    let mut closed = Check::new("main engines, shaft and heats over fuel", 0.01);
    let mut carried = Check::new("main engines, heat that jacket water carries away", 0.02);
    for load in [0.25, 0.6, 0.8, 1.0] {
        for name in ["pitch", "fixed"] {
            rig.act(&format!("{name}.engine"), Verb::Set, "load", load);
        }
        rig.run(3600.0);
        for name in ["pitch", "fixed"] {
            let rows = table.case(name);
            let row = rows.into_iter().find(|row| row.get("load") == load).expect("a row of this load");
            let label = format!("{name} at {load}");
            let value = |reading: &str| rig.value(&format!("{name}.engine.{reading}"));
            speed.add(&label, value("speed") / RPM, row.get("speed_rpm"));
            fuel.add(&label, value("fuel-power"), row.get("fuel_W"));
            let parts = ["jacket", "lube", "charge-air", "room", "exhaust"];
            let columns = ["jacket_W", "lube_W", "air_W", "room_W", "exhaust_W"];
            for (part, column) in parts.into_iter().zip(columns) {
                let got = value(&format!("heat-{part}"));
                heat.add_of(&format!("{label}, {part}"), got, row.get(column), row.get("fuel_W"));
            }
            let sum: f64 = parts.iter().map(|part| value(&format!("heat-{part}"))).sum();
            closed.add(&label, sum + value("shaft-power"), value("fuel-power"));
            // 985 kg/m3 and 4,185 J/(kg K), water in at 75 degC; what the block loses to the room is no water's.
            let rate = rig.value(&format!("{name}.ht-outlet.flow")) * 985.0 * 4185.0;
            let room_k = rig.value(&format!("{name}.room.air.temperature"));
            let standing = 190.0 * (value("ht-temperature") - room_k);
            let water = rate * (value("ht-temperature") - ZERO_C_K - 75.0);
            carried.add(&label, water + standing, row.get("jacket_W"));
        }
    }
    for check in [speed, fuel, heat, closed, carried] {
        check.finish();
    }
}

/// A stopped engine keeps its heat for hours: C dT/dt = -G (T - T_room), exact exponential.
#[test]
fn a_stopped_main_engine_cools_over_hours() {
    // Without a difference of pressure no water moves; a thin hull keeps the room at 28 degC.
    let text = ENGINES.replace("pressure = \"3 bar\"", "pressure = \"0 bar\"");
    let text = text.replace("hull = \"5 kW/K\"", "hull = \"1000 kW/K\"");
    let mut rig = Rig::new(&text, Some("warm"));
    rig.run(5.0 * 3600.0);
    let capacity = 985.0 * 4185.0 + 10e6;
    let mut check = Check::new("main engine that cools, fall over five hours", 0.05);
    let room_k = 301.15;
    let fall = |t_k: f64| 348.15 - t_k;
    let wanted = (348.15 - room_k) * libm::exp(-190.0 * 18000.0 / capacity) + room_k;
    check.add("jacket", fall(rig.value("pitch.engine.ht-temperature")), fall(wanted));
    check.finish();
}

const SHAFT: &str = include_str!("../../../data/rigs/shaft-generator.toml");

/// reference/shaft_generator_step.csv: scipy 1.17.1, solve_ivp.
#[test]
fn shaft_generator_step() {
    let table = Table::new(include_str!("../../../data/rigs/reference/shaft_generator_step.csv"));
    let mut rig = Rig::new(SHAFT, Some("at sea"));
    rig.run(120.0);
    let speed = |rig: &Rig| rig.value("me.engine.speed") / (600.0 * RPM);
    let before = speed(&rig);
    assert!((before - 1.0).abs() < 1e-4, "{before}");
    rig.act("load.first", Verb::Start, "", 0.0);
    let start_s = rig.time_s();
    let rows = table.rows();
    let largest = rows.iter().map(|row| row.get("dw_pu").abs()).fold(0.0, f64::max);
    let mut check = Check::new("shaft generator takes 400 kW, speed over largest dip", 0.05);
    let (mut lowest, mut last_outside_s): (f64, f64) = (1.0, 0.0);
    for row in rows {
        while rig.time_s() < start_s + row.get("time_s") - 1e-6 {
            rig.tick();
            lowest = lowest.min(speed(&rig));
            if (speed(&rig) - 1.0).abs() > 0.01 {
                last_outside_s = rig.time_s() - start_s;
            }
        }
        let label = format!("{} s", row.get("time_s"));
        check.add_of(&label, speed(&rig) - before, row.get("dw_pu"), largest);
    }
    check.finish();
    println!("lowest {:.2} %, within 1 % after {last_outside_s:.2} s", 100.0 * (lowest - 1.0));
    // The ship's own figures: 2 % for 400 kW, held within 1 %.
    assert!((0.975..0.985).contains(&lowest), "{lowest}");
    assert!(last_outside_s < 2.0, "{last_outside_s}");
    let ratio = rig.value("sg.gear.speed") / rig.value("me.engine.speed");
    assert!((ratio - 3.0).abs() < 1e-9, "{ratio}");
    let shaft = rig.value("me.engine.shaft-power");
    let taken = rig.value("me.engine.propeller-power") + rig.value("sg.gear.power");
    assert!((shaft / taken - 1.0).abs() < 1e-3, "{shaft} W for {taken} W");
}

/// The engine shuts down: the breaker goes by under-frequency or reverse power, a stopped engine is started again.
#[test]
fn shaft_generator_goes_with_the_engine_and_comes_back() {
    let mut rig = Rig::new(SHAFT, Some("at sea"));
    rig.run(10.0);
    rig.act("load.first", Verb::Start, "", 0.0);
    rig.run(10.0);
    rig.fault("me.engine", "shuts-down", 1.0);
    rig.run(60.0);
    assert!(rig.value("sg.breaker.closed") < 0.5);
    assert_eq!(rig.value("me.engine.shutdown"), 4.0);
    rig.fault("me.engine", "shuts-down", 0.0);
    rig.run(300.0);
    assert_eq!(rig.value("me.engine.phase"), 0.0, "at {} rpm", rig.value("me.engine.speed") / RPM);
    assert_eq!(rig.codes("me.engine", Verb::Start), ["shutdown-not-reset"]);
    rig.act("me.engine", Verb::Reset, "", 0.0);
    rig.act("me.engine", Verb::Start, "", 0.0);
    rig.run(60.0);
    assert_eq!(rig.value("me.engine.running"), 1.0, "at {} rpm", rig.value("me.engine.speed") / RPM);
    assert!((rig.value("sg.gear.speed") / (1800.0 * RPM) - 1.0).abs() < 0.01);
}

const CONVERTER: &str = include_str!("../../../data/rigs/shaft-converter.toml");

/// Own analytic: f = f0 (s - R P/Pr), P_shaft = P + idle + (all - idle) (P/Pr)^2, current at its limit.
#[test]
fn shaft_converter() {
    let rated_a = 1e6 / 440.0 / libm::sqrt(3.0);
    let mut rig = Rig::new(CONVERTER, Some("alone"));
    let mut frequency = Check::new("converter, frequency at any speed of its shaft", 0.001);
    let mut shaft = Check::new("converter, power from the shaft", 0.02);
    let mut current = Check::new("converter at its limit, current", 0.02);
    rig.run(5.0);
    frequency.add("no load", rig.value("converter.frequency"), 61.2);
    rig.act("load.400", Verb::Start, "", 0.0);
    for rpm in [600.0, 450.0, 660.0] {
        rig.act("drive", Verb::Set, "speed", rpm * RPM);
        rig.run(10.0);
        let (label, power) = (format!("{rpm} rpm"), rig.value("converter.power"));
        assert!((power / 400e3 - 1.0).abs() < 0.05, "{label}: {power} W");
        assert!((rig.value("converter.voltage") / 440.0 - 1.0).abs() < 0.03, "{label}");
        frequency.add(&label, rig.value("converter.frequency"), 60.0 * (1.02 - 0.02 * power / 800e3));
        let all = 800e3 * (1.0 / 0.92 - 1.0);
        let share = power / 800e3;
        let wanted = power + 12e3 + (all - 12e3) * share * share;
        shaft.add(&label, rig.value("converter.shaft-power"), wanted);
        shaft.add(&format!("{label}, at the drive"), rig.value("drive.power"), wanted);
    }
    rig.act("load.overload", Verb::Start, "", 0.0);
    rig.run(0.1);
    assert!(rig.value("converter.limited") > 0.5);
    assert!(rig.value("converter.power") < 1.11 * 800e3, "{}", rig.value("converter.power"));
    assert!(rig.value("converter.current") < 1.02 * 1.5 * rated_a, "{}", rig.value("converter.current"));
    // The voltage is gone for so long that contactors drop out; then it comes back by itself.
    rig.run(5.0);
    assert!(rig.value("load.overload.on") < 0.5);
    assert!((rig.value("converter.voltage") / 440.0 - 1.0).abs() < 0.02);
    rig.act("drive", Verb::Set, "speed", 300.0 * RPM);
    rig.run(1.0);
    assert_eq!(rig.value("converter.tripped"), 1.0, "by shaft speed");
    rig.act("converter", Verb::Reset, "", 0.0);
    assert_eq!(rig.codes("converter", Verb::Start), ["speed-off"]);
    let mut weak = Rig::new(CONVERTER, Some("alone"));
    weak.run(5.0);
    weak.fault("converter", "valves-lost", 0.8);
    weak.act("load.400", Verb::Start, "", 0.0);
    weak.run(3.0);
    assert!(weak.value("converter.limited") > 0.5);
    let (amps, power) = (weak.value("converter.current"), weak.value("converter.power"));
    // Power is at its limit first: 1.1 x 0.2 of rated; 1.5 x 0.2 of current is not reached.
    current.add("power limit", power, 1.1 * 0.2 * 800e3);
    assert!(amps < 1.5 * 0.2 * rated_a * 1.02, "{amps} A");
    for check in [frequency, shaft, current] {
        check.finish();
    }
}

/// Beside a generator that holds 60 Hz: by droop it carries what its set point says, f0 (s - 1) = R P/Pr.
#[test]
fn shaft_converter_in_parallel() {
    let mut rig = Rig::new(CONVERTER, Some("parallel"));
    rig.run(5.0);
    rig.act("load.400", Verb::Start, "", 0.0);
    rig.run(5.0);
    rig.act("converter", Verb::Set, "frequency", 60.15);
    for _ in 0..400 {
        if rig.codes("converter.breaker", Verb::Close).is_empty() {
            break;
        }
        rig.tick();
    }
    rig.act("converter.breaker", Verb::Close, "", 0.0);
    rig.run(20.0);
    let mut check = Check::new("converter in parallel, power by droop", 0.02);
    check.add("60.15 Hz", rig.value("converter.power"), 800e3 * 0.0025 / 0.02);
    rig.act("converter", Verb::Set, "frequency", 60.48);
    rig.run(20.0);
    check.add("60.48 Hz", rig.value("converter.power"), 800e3 * 0.008 / 0.02);
    check.finish();
    assert!(rig.value("converter.breaker.closed") > 0.5 && rig.value("dg.breaker.closed") > 0.5);
}

/// Water on a piston: blown through with open cocks it comes out and the engine starts; turned with shut cocks it
/// bends a rod, and the start fails.
#[test]
fn water_in_a_cylinder_is_blown_out_or_bends_a_rod() {
    let engine = "pitch.engine";
    let mut careful = Rig::new(ENGINES, Some("warm"));
    careful.run(5.0);
    careful.fault(engine, "water-in-cylinder", 1.0);
    careful.run(1.0);
    careful.act(engine, Verb::Open, "", 0.0);
    careful.act(engine, Verb::Start, "", 0.0);
    careful.run(2.0);
    assert_eq!(careful.value("pitch.engine.cocks-show"), 2.0, "water comes");
    careful.run(120.0);
    assert_eq!(careful.value("pitch.engine.phase"), 0.0);
    careful.act(engine, Verb::Close, "", 0.0);
    careful.act(engine, Verb::Start, "", 0.0);
    careful.run(60.0);
    assert_eq!(careful.value("pitch.engine.running"), 1.0);
    let mut careless = Rig::new(ENGINES, Some("warm"));
    careless.run(5.0);
    careless.fault(engine, "water-in-cylinder", 1.0);
    careless.run(1.0);
    careless.act(engine, Verb::Start, "", 0.0);
    careless.run(60.0);
    assert_eq!(careless.value("pitch.engine.running"), 0.0);
}
