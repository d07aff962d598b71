//! Steam: a turbine with its condenser.

use crate::harness::{Check, Errors, Reference, Row, Trial};
use std::f64::consts::TAU;

/// The checks of this net.
pub const CHECKS: &[Check] = &[
    Check {
        name: "steam/turbine-consumption",
        source: "steam_turbine.csv (IAPWS-IF97, iapws 1.5.5, scipy 1.17.1)",
        tolerance: 0.02,
        run: |errors| {
            states(errors, |row, value| vec![(value("turbine.steam-flow"), row.get("steam_kg_s"), 1.0)])
        },
    },
    Check {
        name: "steam/turbine-drop",
        source: "steam_turbine.csv (IAPWS-IF97, iapws 1.5.5, scipy 1.17.1)",
        tolerance: 0.02,
        run: |errors| states(errors, drop),
    },
    Check {
        name: "steam/turbine-droop",
        source: "steam_turbine.csv (IAPWS-IF97, iapws 1.5.5, scipy 1.17.1)",
        tolerance: 0.02,
        run: |errors| states(errors, droop),
    },
    Check {
        name: "steam/condenser-heat",
        source: "steam_turbine.csv (effectiveness of a condenser)",
        tolerance: 0.02,
        run: |errors| {
            states(errors, |row, value| vec![(value("condenser.heat"), row.get("condenser_W"), 1.0)])
        },
    },
    Check {
        name: "steam/condenser-temperature",
        source: "steam_turbine.csv (effectiveness of a condenser)",
        tolerance: 0.02,
        run: |errors| states(errors, condensing),
    },
];

/// What was read, what was expected, and over how many times the latter the error is taken.
type Pairs = Vec<(f64, f64, f64)>;

/// Full load for five minutes, then half load; the reference was solved for the shaft powers at which the rig settles.
fn states(errors: &mut Errors, pairs: impl Fn(&Row<'_>, &dyn Fn(&str) -> f64) -> Pairs) {
    let table = Trial::of("steam-turbine")
        .from("no load")
        .at(5.0, "start load.full")
        .at(305.0, "stop load.full")
        .at(305.0, "start load.half")
        .read(605.0, 5.0, "turbine.*,condenser.*");
    let reference = Reference::read("steam_turbine.csv");
    for (case, time_s) in [("full", 305.0), ("half", 605.0)] {
        let row = reference.case(case)[0];
        let value = |reading: &str| table.at(time_s, reading);
        let off = value("turbine.power") / row.get("shaft_W") - 1.0;
        assert!(off.abs() < 2e-3, "{case}: shaft power {:.3} % off", 100.0 * off);
        for (got, want, over) in pairs(&row, &value) {
            errors.add_of(case, got, want, want * over);
        }
    }
}

/// Isentropic drop that throttling has left.
fn drop(row: &Row<'_>, value: &dyn Fn(&str) -> f64) -> Pairs {
    vec![(value("turbine.isentropic-drop") - value("turbine.throttle-loss"), row.get("drop_J_kg"), 1.0)]
}

/// Speed over the droop, 4 % of 9,000 rpm.
fn droop(row: &Row<'_>, value: &dyn Fn(&str) -> f64) -> Pairs {
    let rpm = row.get("speed_rpm");
    vec![(value("turbine.speed") * 60.0 / TAU, rpm, 360.0 / rpm)]
}

/// Above the sea water, 25 degC.
fn condensing(row: &Row<'_>, value: &dyn Fn(&str) -> f64) -> Pairs {
    let sea_k = 298.15;
    let want = row.get("condensing_degC") + 273.15;
    vec![(value("condenser.condensing-temperature"), want, (want - sea_k) / want)]
}
