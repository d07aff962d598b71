//! Flows and pressures of liquids, tanks, pumps, filters.

use crate::harness::{Check, Errors, Reference, Trial};
use deadship_tests::Table;

const G: f64 = 9.80665;
const BAROMETER_PA: f64 = 101_325.0;
/// Density of sea water in the model, kg/m3.
const SEA_WATER_KG_M3: f64 = 1024.0;
/// Fresh water at 25 degC (IAPWS-IF97), kg/m3.
const WATER_KG_M3: f64 = 997.0;

/// The checks of this net.
pub const CHECKS: &[Check] = &[
    Check {
        name: "liquid/sea-water-side-flow",
        source: "network_seawater.csv (scipy 1.17.1)",
        tolerance: 0.02,
        run: sea_water_flows,
    },
    Check {
        name: "liquid/sea-water-side-pressure",
        source: "network_seawater.csv (scipy 1.17.1)",
        tolerance: 0.02,
        run: sea_water_pressures,
    },
    Check {
        name: "liquid/pump-on-pipe-flow",
        source: "pump_affinity.csv (affinity laws)",
        tolerance: 0.02,
        run: pump_flows,
    },
    Check {
        name: "liquid/pump-on-pipe-head",
        source: "pump_affinity.csv (affinity laws)",
        tolerance: 0.02,
        run: pump_heads,
    },
    Check {
        name: "liquid/pump-power",
        source: "pump_affinity.csv (affinity laws)",
        tolerance: 0.02,
        run: pump_powers,
    },
    Check {
        name: "liquid/tank-drain-time",
        source: "tank_drain.csv (Torricelli; scipy 1.17.1)",
        tolerance: 0.05,
        run: tanks_drain,
    },
    Check {
        name: "liquid/tank-drain-example",
        source: "Cengel and Cimbala, ex. 5-2 (from memory): 757 s",
        tolerance: 0.05,
        run: textbook_tank,
    },
    Check {
        name: "liquid/joined-tanks-level-out",
        source: "closed form: the root of the difference falls in a straight line",
        tolerance: 0.05,
        run: joined_tanks,
    },
    Check {
        name: "liquid/valve-example",
        source: "IEC 60534-2-1 ex. 1 (printed answer in fluids 1.3.1)",
        tolerance: 0.02,
        run: textbook_valve,
    },
    Check {
        name: "liquid/gear-pump",
        source: "ISO 4409 (from memory), closed form",
        tolerance: 0.02,
        run: gear_pump,
    },
    Check {
        name: "liquid/filter-viscosity",
        source: "viscosity_d341.csv (ASTM D341), Darcy's law",
        tolerance: 0.01,
        run: filter_by_viscosity,
    },
    Check {
        name: "liquid/filter-clog",
        source: "Ruth's law of filtration at constant pressure (from memory), closed form",
        tolerance: 0.05,
        run: filter_clogs,
    },
    Check {
        name: "liquid/valves-in-series",
        source: "IEC 60534-2-1: the inverse squares of flow coefficients add up",
        tolerance: 0.02,
        run: valves_in_series,
    },
    Check {
        name: "liquid/pipe-friction",
        source: "pipe_run.csv (Colebrook or laminar, fluids 1.3.1)",
        tolerance: 0.02,
        run: pipe_friction,
    },
    Check {
        name: "liquid/pipe-friction-example",
        source: "Cengel and Cimbala, ex. 8-3 (from memory): 0.2 ft3/s at 1,700 lbf/ft2",
        tolerance: 0.02,
        run: pipe_friction_example,
    },
];

/// Names of the rig's copies in the order of the rows of network_seawater.csv.
const ROWS: [&str; 7] =
    ["one-pump", "two-pumps", "foul-strainer", "two-pumps-wide", "one-cooler-shut", "slow", "narrow-common"];

fn sea_water_side() -> (Table, Reference) {
    let table = Trial::of("liquid-sea-water").from("lined up").read(30.0, 30.0, "*");
    let reference = Reference::read("network_seawater.csv");
    assert_eq!(reference.rows().len(), ROWS.len());
    (table, reference)
}

fn sea_water_flows(errors: &mut Errors) {
    let (table, reference) = sea_water_side();
    for (row, name) in reference.rows().into_iter().zip(ROWS) {
        let value = |reading: &str| table.at(30.0, &format!("{name}.{reading}"));
        errors.add(name, value("strainer.flow"), row.get("Q_total"));
        errors.add(name, value("cooler.1.flow"), row.get("Q1"));
        errors.add_of(name, value("cooler.2.flow"), row.get("Q2"), row.get("Q2").max(0.01));
    }
    let first = reference.rows()[0];
    errors.add("sea chest", table.at(30.0, "chest.strainer.flow"), first.get("Q_total"));
}

fn sea_water_pressures(errors: &mut Errors) {
    let (table, reference) = sea_water_side();
    for (row, name) in reference.rows().into_iter().zip(ROWS) {
        let absolute = |reading: &str| table.at(30.0, &format!("{name}.{reading}")) + BAROMETER_PA;
        errors.add(name, absolute("pump.1.suction-pressure"), row.get("p_suction"));
        errors.add(name, absolute("pump.1.delivery-pressure"), row.get("p_discharge"));
        errors.add(name, absolute("common.outlet-pressure"), row.get("p_common"));
    }
}

/// Pumps of the rig with shut-off head and static head of their rows.
const PUMPS: [(&str, f64, f64); 4] =
    [("high-loss", 32.0, 4.0), ("no-static", 25.0, 0.0), ("large", 45.0, 8.0), ("high-static", 32.0, 18.0)];

/// Gives each pump the speeds of its rows one after the other, ten seconds each, and looks at the end of each.
fn pumps(mut look: impl FnMut(&str, &crate::harness::Row<'_>, &dyn Fn(&str) -> f64, &dyn Fn(&str) -> f64)) {
    let reference = Reference::read("pump_affinity.csv");
    let of_case = |h0: f64, hs: f64| {
        let rows = reference.rows();
        rows.into_iter().filter(move |row| row.get("H0") == h0 && row.get("Hs") == hs).collect::<Vec<_>>()
    };
    let mut trial = Trial::of("liquid-pump");
    for (name, h0, hs) in PUMPS {
        for (i, row) in of_case(h0, hs).iter().enumerate() {
            let speed = 100.0 * row.get("r_n");
            trial = trial.at(10.0 * (i + 1) as f64, &format!("set {name}.drive speed {speed:.4} rad/s"));
        }
    }
    let table = trial.read(100.0, 1.0, "*.pump.*,*.drive.power");
    for (name, h0, hs) in PUMPS {
        let rows = of_case(h0, hs);
        assert!(!rows.is_empty() && rows.len() <= 8, "{name}");
        let full = |reading: &str| table.at(9.0, &format!("{name}.{reading}"));
        for (i, row) in rows.iter().enumerate() {
            let end_s = 10.0 * (i + 1) as f64 + 9.0;
            let value = |reading: &str| table.at(end_s, &format!("{name}.{reading}"));
            look(&format!("{name} at {}", row.get("r_n")), row, &value, &full);
        }
    }
}

fn pump_flows(errors: &mut Errors) {
    pumps(|label, row, value, _| {
        errors.add_of(label, value("pump.flow"), row.get("Q_"), row.get("Q_").max(0.005));
    });
}

fn pump_heads(errors: &mut Errors) {
    pumps(|label, row, value, _| {
        if row.get("Q_") > 0.0 {
            let rise_pa = value("pump.delivery-pressure") - value("pump.suction-pressure");
            errors.add(label, rise_pa / (SEA_WATER_KG_M3 * G), row.get("Hpump"));
        }
    });
}

/// Without static head every speed is a homologous point: power goes with the cube; what the pump takes, its drive gives.
fn pump_powers(errors: &mut Errors) {
    pumps(|label, row, value, full| {
        if row.get("Hs") == 0.0 {
            errors.add(label, value("pump.power") / full("pump.power"), row.get("P_scale"));
            errors.add(label, value("drive.power"), value("pump.power"));
        }
    });
}

fn tanks_drain(errors: &mut Errors) {
    let table = Trial::of("liquid-tanks").from("draining").read(4000.0, 0.5, "*.tank.volume");
    let reference = Reference::read("tank_drain.csv");
    for (row, name) in reference.rows().into_iter().zip(["a", "b", "c", "d", "e"]) {
        let reading = format!("{name}.tank.volume");
        let area_m2 = row.get("A_");
        let half = table.first_below(&reading, area_m2 * row.get("h_at_t_half"));
        errors.add(&format!("{name}, half"), half, row.get("t_half"));
        // The outlet of a tank here draws air below a few centimetres, which the reference does not know.
        if row.get("h1") > 0.0 {
            let end = table.first_below(&reading, area_m2 * row.get("h1"));
            errors.add(&format!("{name}, end"), end, row.get("t_drain"));
        }
    }
}

/// Level is a share of the height, 1.3 m. A tank of 3 ft with a jet of 0.5 in: 757 s from 4 ft to 2 ft. The book's jet has no contraction.
fn textbook_tank(errors: &mut Errors) {
    let table = Trial::of("liquid-examples").from("draining").read(800.0, 0.5, "torricelli.tank.level");
    errors.add("4 to 2 ft", table.first_below("torricelli.tank.level", 0.6096 / 1.3), 757.0);
}

/// Two prismatic tanks through Kv: `sqrt(dh) = sqrt(dh0) - t (1/A1 + 1/A2) Kv sqrt(g) / 2`, Kv in m3/s at 1 bar; pipe and
/// valve of 20 Kv in series are 14.142 Kv.
fn joined_tanks(errors: &mut Errors) {
    for (start, first_m3, second_m3) in [("draining", 3.4, 0.2), ("reversed", 0.4, 1.8)] {
        let table = Trial::of("liquid-tanks").from(start).read(400.0, 1.0, "joined.tank.*.level");
        let (area_1, area_2) = (2.0, 1.0);
        let before_m: f64 = first_m3 / area_1 - second_m3 / area_2;
        // Q = Kv' sqrt(dp 1000 / (rho 1e5)) with dp = rho g dh.
        let kv_m3_s = 20.0 / 2f64.sqrt() / 3600.0;
        let fall = 0.5 * (1.0 / area_1 + 1.0 / area_2) * kv_m3_s * (G * 1000.0 / 1e5).sqrt();
        for time_s in [30.0, 60.0, 120.0] {
            let root = (before_m.abs().sqrt() - fall * time_s).max(0.0);
            let want = before_m.signum() * root * root;
            // Levels are shares of the height, 2 m.
            let level_m = |tank: u32| 2.0 * table.at(time_s, &format!("joined.tank.{tank}.level"));
            let got = level_m(1) - level_m(2);
            errors.add_of(&format!("{start} after {time_s} s"), got, want, before_m - want);
        }
    }
}

fn textbook_valve(errors: &mut Errors) {
    let table = Trial::of("liquid-lines").read(1.0, 1.0, "textbook.valve.flow");
    errors.add("360 m3/h", table.at(1.0, "textbook.valve.flow") * 3600.0, 360.0);
}

/// Q = D n (1 - slip dp / rated dp); against a shut line slip and relief share the displacement:
/// `1 - 0.08 p / 5 = (p - 7) / 0.7`, p in bar.
fn gear_pump(errors: &mut Errors) {
    let table = Trial::of("liquid-lines").read(10.0, 10.0, "gear-*.pump.*");
    let displaced = 12.0 / 3600.0 / 0.92;
    for (name, bar) in [("gear-free", 0.0), ("gear-half", 2.5), ("gear-rated", 5.0)] {
        let got = table.at(10.0, &format!("{name}.pump.flow"));
        errors.add(name, got, displaced * (1.0 - 0.08 * bar / 5.0));
    }
    let relief_bar = table.at(10.0, "gear-shut.pump.delivery-pressure") / 1e5;
    errors.add("gear-shut", relief_bar, 11.0 / (1.0 / 0.7 + 0.016));
}

fn resistance(table: &Table, name: &str, time_s: f64) -> f64 {
    let value = |reading: &str| table.at(time_s, &format!("{name}.filter.{reading}"));
    value("difference") / value("flow")
}

fn filter_by_viscosity(errors: &mut Errors) {
    let table = Trial::of("liquid-lines").read(10.0, 10.0, "filter-*.filter.*");
    let reference = Reference::read("viscosity_d341.csv");
    let at = |celsius: f64| {
        let rows = reference.rows();
        let row = rows.into_iter().find(|row| row.get("t_degC") == celsius).expect("a row");
        row.get("nu_m2_s")
    };
    let got = resistance(&table, "filter-40", 10.0) / resistance(&table, "filter-60", 10.0);
    errors.add("40 over 60 degC", got, at(40.0) / at(60.0));
}

/// Filtration at constant pressure: with dirt in proportion to what has flowed through, `Q = Q0 / sqrt(1 + 2 k Q0 t)`. At
/// full severity the fault adds twenty clean resistances in two minutes of rated flow: k Qr = 20 / 120 s.
fn filter_clogs(errors: &mut Errors) {
    let table = Trial::of("liquid-lines").at(10.0, "fault filter-40.filter.clogs 100 %").read(
        250.0,
        1.0,
        "filter-40.filter.*",
    );
    let flow = |time_s: f64| table.at(time_s, "filter-40.filter.flow");
    let share = flow(10.0) / (12.0 / 3600.0);
    for passed_s in [10.0, 30.0, 60.0, 120.0, 240.0] {
        let want = flow(10.0) / (1.0 + 2.0 * share * 20.0 / 120.0 * passed_s).sqrt();
        errors.add(&format!("after {passed_s} s"), flow(10.0 + passed_s), want);
    }
}

/// Two pipes of 10 Kv in series share 3 bar and are one of 10 / sqrt(2) Kv.
fn valves_in_series(errors: &mut Errors) {
    let table = Trial::of("gauge").read(10.0, 10.0, "gauge.pressure,first.flow,second.flow");
    errors.add("pressure between them", table.at(10.0, "gauge.pressure"), 1.5e5);
    let want = 10.0 / 2f64.sqrt() / 3600.0 * (3.0 * 1000.0 / WATER_KG_M3).sqrt();
    errors.add("flow", table.at(10.0, "first.flow"), want);
    errors.add("flow", table.at(10.0, "second.flow"), want);
}

fn pipe_friction(errors: &mut Errors) {
    let table = Trial::of("liquid-pipe-friction").read(20.0, 20.0, "*.run.flow");
    for row in Reference::read("pipe_run.csv").rows() {
        let name = row.word("case");
        let label = format!("{name}, {} at {} degC", row.word("medium"), row.get("t_degC"));
        errors.add(&label, table.at(20.0, &format!("{name}.run.flow")), row.get("Q_"));
    }
}

fn pipe_friction_example(errors: &mut Errors) {
    let table = Trial::of("liquid-pipe-friction").read(20.0, 20.0, "*.run.flow");
    errors.add("0.2 ft3/s", table.at(20.0, "cengel.run.flow"), 0.2 * 0.3048 * 0.3048 * 0.3048);
}
