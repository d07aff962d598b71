//! Compressed air: nozzles, receivers, compressors, starts.

use crate::harness::{Check, Errors, Reference, Row, Trial};
use deadship_tests::Table;

const BAROMETER_PA: f64 = 101_325.0;
/// Gas constant of air in the model, J/(kg K).
const R_AIR: f64 = 287.055;

/// The checks of this net.
pub const CHECKS: &[Check] = &[
    Check {
        name: "air/nozzle-flow-ideal",
        source: "nozzle_isentropic.csv (analytic)",
        tolerance: 0.02,
        run: |errors| nozzles("m_ideal", errors),
    },
    Check {
        name: "air/nozzle-flow-real",
        source: "nozzle_isentropic.csv (CoolProp 8.0.0)",
        tolerance: 0.02,
        run: |errors| nozzles("m_realgas", errors),
    },
    Check {
        name: "air/blow-down-isothermal",
        source: "receiver_blowdown.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: isothermal_blow_down,
    },
    Check {
        name: "air/blow-down-adiabatic-pressure",
        source: "receiver_blowdown.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: |errors| adiabatic_blow_down("pressure", "p_Pa", BAROMETER_PA, errors),
    },
    Check {
        name: "air/blow-down-adiabatic-temperature",
        source: "receiver_blowdown.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: |errors| adiabatic_blow_down("temperature", "T_K", 0.0, errors),
    },
    Check {
        name: "air/blow-down-adiabatic-mass",
        source: "receiver_blowdown.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: |errors| adiabatic_blow_down("mass", "m_kg", 0.0, errors),
    },
    Check {
        name: "air/receiver-filling-time",
        source: "receiver_fill.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: filling_times,
    },
    Check {
        name: "air/receiver-filling-pressure",
        source: "receiver_fill.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: filling_pressures,
    },
    Check {
        name: "air/start-first-fall",
        source: "starts_count.csv (isentropic expansion, analytic)",
        tolerance: 0.02,
        run: first_fall,
    },
    Check {
        name: "air/starts-number",
        source: "starts_count.csv (isothermal balance, analytic)",
        tolerance: 0.0,
        run: number_of_starts,
    },
    Check {
        name: "air/starts-pressure-used",
        source: "starts_count.csv (isothermal balance, analytic)",
        tolerance: 0.02,
        run: pressure_used,
    },
    Check {
        name: "air/receiver-sizing-example",
        source: "public receiver calculation sheet, read: 4.30 m3 give 16.16 kg from 9 to 6 bar at 5 degC",
        tolerance: 0.02,
        run: sizing_example,
    },
];

fn nozzles(column: &str, errors: &mut Errors) {
    let reference = Reference::read("nozzle_isentropic.csv");
    for (state, kelvin) in [("15 degC", 288.15), ("40 degC", 313.15)] {
        let table = Trial::of("air-nozzles").from(state).read(0.1, 0.05, "*.nozzle.flow");
        for row in reference.rows().into_iter().filter(|row| row.get("T1_K") == kelvin) {
            let (bar, ratio) = (row.get("p1_Pa") / 1e5, row.get("p2_over"));
            let name = format!("p{bar:.0}.r{:.0}", 1000.0 * ratio);
            errors.add(&name, table.at(0.1, &format!("{name}.nozzle.flow")), row.get(column));
        }
    }
}

fn isothermal_blow_down(errors: &mut Errors) {
    let table = Trial::of("air-blow-down-isothermal").from("full").read(120.0, 0.05, "gauge.*");
    let reference = Reference::read("receiver_blowdown.csv");
    for row in reference.case("iso_0.5m3").iter().filter(|row| row.get("time_s") > 0.0) {
        let time_s = row.get("time_s");
        let got = table.at(time_s, "gauge.outlet-pressure") + BAROMETER_PA;
        errors.add(&format!("{time_s} s"), got, row.get("p_Pa"));
    }
}

fn adiabatic_blow_down(reading: &str, column: &str, offset: f64, errors: &mut Errors) {
    let table = Trial::of("air-blow-down-adiabatic").from("full").read(120.0, 0.05, "receiver.*");
    let reference = Reference::read("receiver_blowdown.csv");
    let rows = reference.case("adi_0.25m3");
    let above = rows.iter().take_while(|row| row.get("p_Pa") > BAROMETER_PA);
    for row in above.filter(|row| row.get("time_s") > 0.0) {
        let time_s = row.get("time_s");
        let got = table.at(time_s, &format!("receiver.{reading}")) + offset;
        errors.add(&format!("{time_s} s"), got, row.get(column));
    }
}

const COMPRESSORS: [&str; 4] = ["c1", "c3", "c6", "hour"];

fn filling() -> (Table, Reference) {
    let table = Trial::of("air-filling").read(3700.0, 1.0, "*.receiver.pressure");
    (table, Reference::read("receiver_fill.csv"))
}

/// `hour` takes the hour that a classification society allows, the others less (DNV-RU-SHIP Pt.4 Ch.6 Sec.5.9.4, read in a public page).
fn filling_times(errors: &mut Errors) {
    let (table, reference) = filling();
    for name in COMPRESSORS {
        let row = reference.case(name)[0];
        let reading = format!("{name}.receiver.pressure");
        let got = table.first_above(&reading, row.get("p_end") - BAROMETER_PA);
        errors.add(name, got, row.get("t_fill_s"));
    }
}

fn filling_pressures(errors: &mut Errors) {
    let (table, reference) = filling();
    for name in COMPRESSORS {
        for row in reference.case(name) {
            let time_s = row.get("time_s");
            let got = table.at(time_s, &format!("{name}.receiver.pressure")) + BAROMETER_PA;
            errors.add(&format!("{name} at {time_s} s"), got, row.get("p_Pa"));
        }
    }
}

/// A start as the rig draws it: its nozzle is open until the receiver has given its portion.
struct Starts {
    name: &'static str,
    full_kg: f64,
    portion_kg: f64,
    /// Receiver's mass over that at the beginning, with the nozzle open.
    course: Vec<(f64, f64)>,
}

const RECEIVERS: [&str; 4] = ["row-1", "row-2", "row-3", "row-4"];
/// Between starts the receiver takes the temperature around again.
const REST_S: f64 = 3000.0;

impl Starts {
    fn of(name: &'static str, row: &Row<'_>) -> Starts {
        let table = blowing();
        let reading = format!("{name}.receiver.mass");
        let full_kg = table.at(0.0, &reading);
        let course = table.course(&reading).into_iter().map(|(time_s, kg)| (time_s, kg / full_kg)).collect();
        Starts { name, full_kg, portion_kg: row.get("Vs_free") * BAROMETER_PA / (R_AIR * 303.15), course }
    }

    /// When the nozzle of the start with this number (from 0) must shut after it was opened, to the nearest tick. While it
    /// blows choked, mass falls by the same share in the same time from any pressure.
    fn lasts_s(&self, number: u32) -> f64 {
        let before_kg = self.full_kg - f64::from(number) * self.portion_kg;
        let left = 1.0 - self.portion_kg / before_kg;
        let nearest = self.course.iter().min_by(|a, b| (a.1 - left).abs().total_cmp(&(b.1 - left).abs()));
        nearest.expect("a course").0
    }
}

/// All nozzles open from the beginning, every tick.
fn blowing() -> Table {
    let mut trial = Trial::of("air-starts").from("full");
    for name in RECEIVERS {
        trial = trial.at(0.0, &format!("open {name}.start"));
    }
    trial.read(30.0, 0.05, "*.receiver.*")
}

/// Right after the portion has been drawn; the receiver cools with the expansion.
fn first_fall(errors: &mut Errors) {
    let reference = Reference::read("starts_count.csv");
    let table = blowing();
    for (row, name) in reference.rows().iter().zip(RECEIVERS) {
        let lasts_s = Starts::of(name, row).lasts_s(0);
        let got = table.at(lasts_s, &format!("{name}.receiver.pressure")) + BAROMETER_PA;
        errors.add(name, row.get("p_high") - got, row.get("p_high") - row.get("p_after_1"));
    }
}

/// All starts of all receivers and one more, each followed by its rest.
fn all_starts(reference: &Reference) -> Table {
    let rows = reference.rows();
    let most = rows.iter().map(|row| row.get("n_starts") as u32 + 1).max().expect("rows");
    let mut trial = Trial::of("air-starts").from("full");
    for (row, name) in rows.iter().zip(RECEIVERS) {
        let starts = Starts::of(name, row);
        for number in 0..=row.get("n_starts") as u32 {
            let opens_s = f64::from(number) * REST_S;
            let shuts_s = opens_s + starts.lasts_s(number);
            trial = trial.at(opens_s, &format!("open {}.start", starts.name));
            trial = trial.at(shuts_s, &format!("close {}.start", starts.name));
        }
    }
    trial.read(f64::from(most) * REST_S, 10.0, "*.receiver.pressure")
}

fn number_of_starts(errors: &mut Errors) {
    let reference = Reference::read("starts_count.csv");
    let table = all_starts(&reference);
    for (row, name) in reference.rows().iter().zip(RECEIVERS) {
        let rested = |number: u32| {
            let time_s = f64::from(number) * REST_S - 10.0;
            table.at(time_s, &format!("{name}.receiver.pressure")) + BAROMETER_PA
        };
        let allowed = row.get("n_starts") as u32;
        let got = (1..=allowed + 1).take_while(|number| rested(*number) >= row.get("p_low")).count();
        errors.add(name, got as f64, f64::from(allowed));
    }
}

fn pressure_used(errors: &mut Errors) {
    let reference = Reference::read("starts_count.csv");
    let table = all_starts(&reference);
    for (row, name) in reference.rows().iter().zip(RECEIVERS) {
        let time_s = row.get("n_starts") * REST_S - 10.0;
        let got = table.at(time_s, &format!("{name}.receiver.pressure")) + BAROMETER_PA;
        errors.add(name, row.get("p_high") - got, row.get("p_high") - row.get("p_after_n"));
    }
}

/// 50 Nm3/h for a quarter of an hour from 9 to 6 bar at 5 degC take 4.30 m3 and 16.16 kg: the air that leaves.
fn sizing_example(errors: &mut Errors) {
    let table = Trial::of("air-examples").from("full").read(1800.0, 1.0, "receiver.*,nozzle.*");
    let end_s = table.first_below("receiver.pressure", 6e5);
    let left = |time_s: f64| table.at(time_s, "receiver.mass");
    errors.add("kg", left(0.0) - left(end_s), 16.16);
}
