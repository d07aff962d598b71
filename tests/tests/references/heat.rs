//! Coolers, mixing, heaters, tanks, fronts of temperature, engines that warm up.

use crate::harness::{Check, Errors, Reference, Row, Trial};
use deadship_tests::Table;

const ZERO_C_K: f64 = 273.15;

/// The checks of this net.
pub const CHECKS: &[Check] = &[
    Check {
        name: "heat/cooler-heat",
        source: "hx_counterflow_cases.csv (ht 1.2.0, effectiveness-NTU)",
        tolerance: 0.02,
        run: cooler_heat,
    },
    Check {
        name: "heat/cooler-outlets",
        source: "hx_counterflow_cases.csv (ht 1.2.0, effectiveness-NTU)",
        tolerance: 0.02,
        run: cooler_outlets,
    },
    Check {
        name: "heat/cooler-fouled",
        source: "hx_counterflow_cases.csv (ht 1.2.0, effectiveness-NTU)",
        tolerance: 0.02,
        run: cooler_fouled,
    },
    Check {
        name: "heat/oil-cooler-example",
        source: "Incropera, ex. 11.1 (answers from memory): 8,524 W, 60.0 and 40.2 degC",
        tolerance: 0.02,
        run: oil_cooler_example,
    },
    Check {
        name: "heat/mixing-at-rest",
        source: "mixing_valve.csv (energy balance)",
        tolerance: 0.02,
        run: mixing,
    },
    Check {
        name: "heat/heater-warm-up",
        source: "heater_warmup.csv (analytic)",
        tolerance: 0.05,
        run: |errors| tank("warming", "C2e+06_P12000", errors),
    },
    Check {
        name: "heat/tank-cooling",
        source: "heater_warmup.csv (analytic)",
        tolerance: 0.05,
        run: |errors| tank("cooling", "C4e+06_P0", errors),
    },
    Check {
        name: "heat/front-through-cells",
        source: "mixed_cells_step.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: fronts,
    },
    Check {
        name: "heat/engine-warm-up",
        source: "engine_circuit.csv (scipy 1.17.1, LSODA)",
        tolerance: 0.05,
        run: engine_warm_up,
    },
    Check {
        name: "heat/engine-at-rest",
        source: "engine_circuit.csv (scipy 1.17.1, LSODA)",
        tolerance: 0.02,
        run: engine_at_rest,
    },
    Check {
        name: "heat/radiator",
        source: "radiator.csv (ht 1.2.0, effectiveness-NTU)",
        tolerance: 0.02,
        run: radiators,
    },
    Check {
        name: "heat/engine-heat-balance",
        source: "first law: shaft and heats are the fuel's",
        tolerance: 0.01,
        run: engine_heat_balance,
    },
    Check {
        name: "heat/main-engine-fuel",
        source: "main_engine.csv (analytic: efficiency by load)",
        tolerance: 0.02,
        run: main_engine_fuel,
    },
    Check {
        name: "heat/main-engine-heats",
        source: "main_engine.csv (analytic: shares by load, exhaust the rest)",
        tolerance: 0.02,
        run: main_engine_heats,
    },
];

/// Names of the rig's copies in the order of the rows of hx_counterflow_cases.csv that are between liquids.
const COOLERS: [&str; 5] = ["row-1", "row-2", "row-5", "row-6", "row-7"];

fn coolers(mut look: impl FnMut(&str, &Row<'_>, &Table)) {
    let reference = Reference::read("hx_counterflow_cases.csv");
    let mut trial = Trial::of("heat-coolers");
    assert_eq!(reference.rows().len(), COOLERS.len());
    for (row, name) in reference.rows().iter().zip(COOLERS) {
        // UA' = 1/(1/UA + R): the share lost is UA R / (1 + UA R).
        let extra = row.get("UA_W_K") * row.get("RfA");
        trial = trial.at(10.0, &format!("fault {name}.cooler.fouled {:.6} %", 100.0 * extra / (1.0 + extra)));
    }
    let table = trial.read(20.0, 10.0, "*.cooler.*");
    for (row, name) in reference.rows().iter().zip(COOLERS) {
        look(name, row, &table);
    }
}

fn cooler_heat(errors: &mut Errors) {
    coolers(|name, row, table| {
        errors.add(name, table.at(10.0, &format!("{name}.cooler.heat")), row.get("Q_W"));
    });
}

fn cooler_outlets(errors: &mut Errors) {
    coolers(|name, row, table| {
        let span = row.get("t_hot_in") - row.get("t_cold_in");
        for (reading, column) in
            [("hot-outlet-temperature", "t_hot_out_degC"), ("cold-outlet-temperature", "t_cold_out_degC")]
        {
            let got = table.at(10.0, &format!("{name}.cooler.{reading}")) - ZERO_C_K;
            errors.add_of(name, got, row.get(column), span);
        }
    });
}

fn cooler_fouled(errors: &mut Errors) {
    coolers(|name, row, table| {
        errors.add(name, table.at(20.0, &format!("{name}.cooler.heat")), row.get("Q_fouled"));
    });
}

/// Oil from 100 degC is cooled to 60 by water from 30; temperatures over the difference of the inlets, 70 K.
fn oil_cooler_example(errors: &mut Errors) {
    let table = Trial::of("heat-examples").read(10.0, 10.0, "incropera.cooler.*");
    let value = |reading: &str| table.at(10.0, &format!("incropera.cooler.{reading}"));
    errors.add("heat", value("heat"), 8524.0);
    errors.add_of("oil out", value("hot-outlet-temperature") - ZERO_C_K, 60.0, 70.0);
    errors.add_of("water out", value("cold-outlet-temperature") - ZERO_C_K, 40.2, 70.0);
}

/// The thermostats come to rest by themselves: mixture over the difference of the streams, and the hot share.
fn mixing(errors: &mut Errors) {
    let table = Trial::of("heat-thermostats").read(600.0, 600.0, "*.valve.*");
    let reference = Reference::read("mixing_valve.csv");
    for (row, name) in reference.rows().into_iter().zip(["row-1", "row-2", "row-3", "row-4"]) {
        let span = row.get("t_hot") - row.get("t_cold");
        let value = |reading: &str| table.at(600.0, &format!("{name}.valve.{reading}"));
        errors.add_of(name, value("temperature") - ZERO_C_K, row.get("t_mix"), span);
        errors.add_of(name, 1.0 - value("position"), row.get("hot_fraction"), 1.0);
    }
}

fn tank(name: &str, case: &str, errors: &mut Errors) {
    let table = Trial::of("heat-heater").from("reference").read(14_400.0, 60.0, "*.temperature");
    let reference = Reference::read("heater_warmup.csv");
    for row in reference.case(case) {
        let time_s = row.get("time_s");
        let got = table.at(time_s, &format!("{name}.temperature")) - ZERO_C_K - row.get("t_init");
        errors.add(&format!("{time_s} s"), got, row.get("t_degC") - row.get("t_init"));
    }
}

/// Share of the step at the last of one, three and five cells, at so many residence times.
fn fronts(errors: &mut Errors) {
    let table = Trial::of("heat-cells").read(400.0, 0.5, "*.gauge.temperature,*.pipe.1.flow");
    let reference = Reference::read("mixed_cells_step.csv");
    for row in reference.rows() {
        let (name, litres) = match row.get("n_cells") {
            1.0 => ("one", 60.0),
            3.0 => ("three", 60.0),
            5.0 => ("five", 100.0),
            _ => continue,
        };
        let residence_s = litres * 1e-3 / table.at(1.0, &format!("{name}.pipe.1.flow"));
        let x = row.get("x_");
        let kelvin = table.at(x * residence_s, &format!("{name}.gauge.temperature"));
        errors.add_of(
            &format!("{name} at {x}"),
            (kelvin - ZERO_C_K - 20.0) / 40.0,
            row.get("outlet_step"),
            1.0,
        );
    }
}

/// Temperatures of the circuit and where the test reads them.
const CIRCUIT: [(&str, &str); 3] = [
    ("engine.ht-temperature", "t_jacket"),
    ("cooler.hot-outlet-temperature", "t_cooler_out"),
    ("mixed.temperature", "t_mixed"),
];

fn circuit() -> (Table, Reference) {
    let readings =
        "engine.ht-temperature,cooler.hot-outlet-temperature,mixed.temperature,thermostat.position";
    let table = Trial::of("heat-engine-circuit").from("started cold").read(7200.0, 10.0, readings);
    (table, Reference::read("engine_circuit.csv"))
}

/// From cold at half load, over the rise of the jacket; the thermostat opens on the way.
fn engine_warm_up(errors: &mut Errors) {
    let (table, reference) = circuit();
    let rows = reference.rows();
    let last = rows.last().expect("rows");
    let rise = last.get("t_jacket") - rows[0].get("t_jacket");
    for row in rows.iter().filter(|row| row.get("time_s") > 0.0) {
        let time_s = row.get("time_s");
        for (reading, column) in CIRCUIT {
            let got = table.at(time_s, reading) - ZERO_C_K;
            errors.add_of(&format!("{reading} at {time_s} s"), got, row.get(column), rise);
        }
    }
}

fn engine_at_rest(errors: &mut Errors) {
    let (table, reference) = circuit();
    let rows = reference.rows();
    let (first, last) = (rows[0], rows[rows.len() - 1]);
    for (reading, column) in CIRCUIT {
        let got = table.at(last.get("time_s"), reading) - ZERO_C_K - first.get(column);
        errors.add(reading, got, last.get(column) - first.get(column));
    }
    errors.add("opening", table.at(last.get("time_s"), "thermostat.position"), last.get("opening"));
}

/// The fan at one speed after another, ten seconds each.
fn radiators(errors: &mut Errors) {
    let reference = Reference::read("radiator.csv");
    let mut trial = Trial::of("heat-radiator");
    for (i, row) in reference.rows().iter().enumerate() {
        let rpm = 1800.0 * row.get("share");
        trial = trial.at(10.0 * i as f64, &format!("set drive speed {rpm} rpm"));
    }
    let table = trial.read(60.0, 1.0, "radiator.heat");
    for (i, row) in reference.rows().iter().enumerate() {
        let got = table.at(10.0 * i as f64 + 9.0, "radiator.heat");
        errors.add(&format!("fan at {}", row.get("share")), got, row.get("Q_W"));
    }
}

/// Exhaust: air by its temperature above the room's, 25 degC, with 1.06 times the specific heat of air for its fuel.
fn engine_heat_balance(errors: &mut Errors) {
    let table = Trial::of("heat-engine-circuit").from("started cold").read(7200.0, 10.0, "engine.*");
    for time_s in [60.0, 1200.0, 7200.0] {
        let value = |reading: &str| table.at(time_s, &format!("engine.{reading}"));
        let above_room_k = value("exhaust-temperature") - ZERO_C_K - 25.0;
        let exhaust = value("air-flow") * 1.06 * 1004.7 * above_room_k;
        let parts = ["shaft-power", "heat-jacket", "heat-lube", "heat-room"];
        let sum: f64 = parts.iter().map(|part| value(part)).sum();
        errors.add(&format!("{time_s} s"), sum + exhaust, value("fuel-power"));
    }
}

/// Main engines with controllable pitch and with a fixed propeller at one load after another, forty minutes each.
pub fn main_engines(mut look: impl FnMut(&Row<'_>, &dyn Fn(&str) -> f64, &str)) {
    const STAY_S: f64 = 2400.0;
    let loads = [0.25, 0.6, 0.8, 1.0];
    let mut trial = Trial::of("main-engine").from("running");
    for (i, load) in loads.iter().enumerate() {
        for name in ["pitch", "fixed"] {
            trial = trial.at(STAY_S * i as f64, &format!("set {name}.engine load {} %", 100.0 * load));
        }
    }
    let table = trial.read(STAY_S * loads.len() as f64, 60.0, "*.engine.*");
    for row in Reference::read("main_engine.csv").rows() {
        let step = loads.iter().position(|load| *load == row.get("load")).expect("a load of the list");
        let time_s = STAY_S * (step + 1) as f64 - 60.0;
        let name = row.word("case");
        let value = |reading: &str| table.at(time_s, &format!("{name}.engine.{reading}"));
        look(&row, &value, &format!("{name} at {}", row.get("load")));
    }
}

fn main_engine_fuel(errors: &mut Errors) {
    main_engines(|row, value, label| errors.add(label, value("fuel-power"), row.get("fuel_W")));
}

fn main_engine_heats(errors: &mut Errors) {
    let parts = [
        ("jacket", "jacket_W"),
        ("lube", "lube_W"),
        ("charge-air", "air_W"),
        ("room", "room_W"),
        ("exhaust", "exhaust_W"),
    ];
    main_engines(|row, value, label| {
        for (part, column) in parts {
            errors.add(&format!("{label}, {part}"), value(&format!("heat-{part}")), row.get(column));
        }
    });
}
