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
