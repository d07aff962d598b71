//! Motors, generators, transformers, machines in parallel.

use crate::harness::{Check, Errors, Reference, Row, Trial};
use deadship_tests::Table;
use std::f64::consts::TAU;

/// The checks of this net.
pub const CHECKS: &[Check] = &[
    Check {
        name: "electric/motor-current",
        source: "im_torque_slip.csv (exact circuit, IEEE 112)",
        tolerance: 0.02,
        run: |errors| motor_curves(errors, |row, value| vec![(value("motor.current"), row.get("I1_A"))]),
    },
    Check {
        name: "electric/motor-power",
        source: "im_torque_slip.csv (exact circuit, IEEE 112)",
        tolerance: 0.02,
        run: |errors| motor_curves(errors, |row, value| vec![(value("motor.power"), row.get("Pin_W"))]),
    },
    Check {
        name: "electric/motor-torque",
        source: "im_torque_slip.csv (exact circuit, IEEE 112)",
        tolerance: 0.02,
        run: motor_torque,
    },
    Check {
        name: "electric/motor-example",
        source: "Chapman, Electric Machinery Fundamentals, ex. 6-3 (from memory)",
        tolerance: 0.02,
        run: motor_example,
    },
    Check {
        name: "electric/motor-starting-current",
        source: "im_start_time.csv (exact circuit)",
        tolerance: 0.02,
        run: starting_current,
    },
    Check {
        name: "electric/motor-start-dip",
        source: "motor_start_dip.csv (analytic, method of Sheldrake, app. G)",
        tolerance: 0.02,
        run: start_dips,
    },
    Check {
        name: "electric/motor-start-dip-example",
        source: "Sheldrake, Handbook of Electrical Engineering, p. 572 to 579, read: 0.8040 pu, 19.6 %",
        tolerance: 0.02,
        run: start_dip_example,
    },
    Check {
        name: "electric/flux-decay",
        source: "flux_decay_step.csv (exact exponential)",
        tolerance: 0.05,
        run: flux_decay,
    },
    Check {
        name: "electric/short-circuit",
        source: "short_circuit_envelope.csv (Kundur, ch. 3; IEC 60034-4, analytic)",
        tolerance: 0.05,
        run: short_circuit,
    },
    Check {
        name: "electric/transformer-voltage",
        source: "transformer_vdrop.csv (pandapower 3.5.6)",
        tolerance: 0.001,
        run: |errors| transformers(errors, "secondary-voltage", |row| 220.0 * row.get("V_lv")),
    },
    Check {
        name: "electric/transformer-losses",
        source: "transformer_vdrop.csv (pandapower 3.5.6)",
        tolerance: 0.02,
        run: |errors| transformers(errors, "loss", |row| row.get("P_loss")),
    },
    Check {
        name: "electric/transformer-examples",
        source: "Zorbas, Electric Machines, ex. 2-2 (read); Chapman, ex. 2-5 (from memory)",
        tolerance: 0.02,
        run: transformer_examples,
    },
    Check {
        name: "electric/out-of-phase-power",
        source: "sync_closing.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: |errors| out_of_phase("mid_P_pu", 0.0, 750e3, "power", errors),
    },
    Check {
        name: "electric/out-of-phase-current",
        source: "sync_closing.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: |errors| out_of_phase("mid_I_pu", 0.0, 750e3 / 440.0 / 1.732_050_8, "current", errors),
    },
    Check {
        name: "electric/droop-sharing",
        source: "droop_sharing.csv (analytic)",
        tolerance: 0.02,
        run: droop_sharing,
    },
    Check {
        name: "electric/droop-sharing-examples",
        source: "Chapman, ch. 4 (from memory), two machines; Sheldrake, p. 48 to 49 (read), three",
        tolerance: 0.02,
        run: droop_examples,
    },
    Check {
        name: "electric/reactive-sharing",
        source: "reactive_sharing.csv (analytic)",
        tolerance: 0.02,
        run: reactive_sharing,
    },
    Check {
        name: "electric/terminal-voltage-example",
        source: "Chapman, Electric Machinery Fundamentals, ch. 4 (from memory): 410 and 468.4 V at 60 A",
        tolerance: 0.02,
        run: terminal_voltage_example,
    },
];

const MOTORS: [(&str, f64); 4] = [("chapman", 4.0), ("pump", 4.0), ("comp", 4.0), ("fan", 6.0)];
const SLIPS: [f64; 12] = [1.0, 0.6, 0.4, 0.3, 0.2, 0.15, 0.1, 0.05, 0.03, 0.022, 0.01, 0.005];

fn synchronous_rad_s(poles: f64) -> f64 {
    2.0 * TAU * 60.0 / poles
}

/// All motors of the rig at one slip after another, two seconds each.
fn held_motors() -> Table {
    let mut trial = Trial::of("electric-motor-curves").from("live");
    for (motor, poles) in MOTORS {
        let volts: &[u32] = if motor == "chapman" { &[460, 368] } else { &[440, 352] };
        for volt in volts {
            trial = trial.at(1.0, &format!("start {motor}-{volt}.motor"));
            for (i, slip) in SLIPS.into_iter().enumerate().skip(1) {
                let speed = synchronous_rad_s(poles) * (1.0 - slip);
                let words = format!("set {motor}-{volt}.drive speed {speed:.6} rad/s");
                trial = trial.at(2.0 * i as f64, &words);
            }
        }
    }
    trial.read(26.0, 0.5, "*.motor.*,*.drive.*")
}

fn motor_curves(errors: &mut Errors, pairs: impl Fn(&Row<'_>, &dyn Fn(&str) -> f64) -> Vec<(f64, f64)>) {
    let table = held_motors();
    let reference = Reference::read("im_torque_slip.csv");
    for row in reference.rows() {
        let motor = row.word("motor").split('_').next().unwrap_or_default().to_owned();
        let name = format!("{motor}-{:.0}", row.get("V_line"));
        let step = SLIPS.iter().position(|slip| *slip == row.get("slip")).expect("a slip of the list");
        let time_s = 2.0 * step as f64 + 1.5;
        let value = |reading: &str| table.at(time_s, &format!("{name}.{reading}"));
        for (got, want) in pairs(&row, &value) {
            errors.add(&format!("{name} at slip {}", row.get("slip")), got, want);
        }
    }
}

/// The drive takes what the motor gives: its power over its speed is the torque. At standstill it says nothing.
fn motor_torque(errors: &mut Errors) {
    motor_curves(errors, |row, value| {
        if row.get("slip") > 0.99 {
            return Vec::new();
        }
        vec![(-value("drive.power") / value("drive.speed"), row.get("T_Nm"))]
    });
}

/// At a slip of 2.2 %: 18.88 A, power factor 0.833, 12,530 W, 62.8 Nm.
fn motor_example(errors: &mut Errors) {
    let table = held_motors();
    let step = SLIPS.iter().position(|slip| *slip == 0.022).expect("a slip of the list");
    let value = |reading: &str| table.at(2.0 * step as f64 + 1.5, &format!("chapman-460.{reading}"));
    let (amps, watts) = (value("motor.current"), value("motor.power"));
    errors.add("current", amps, 18.88);
    errors.add("power factor", watts / (460.0 * amps * 3f64.sqrt()), 0.833);
    errors.add("input", watts, 12_530.0);
    errors.add("torque", -value("drive.power") / value("drive.speed"), 62.8);
}

fn starting_current(errors: &mut Errors) {
    let table = held_motors();
    for row in Reference::read("im_start_time.csv").rows() {
        let motor = row.word("motor").split('_').next().unwrap_or_default().to_owned();
        let name = format!("{motor}-{:.0}", row.get("V_line"));
        if !["chapman-460", "chapman-368", "pump-352", "comp-440", "fan-352"].contains(&name.as_str()) {
            continue;
        }
        errors.add(&name, table.at(1.5, &format!("{name}.motor.current")), row.get("I_start"));
    }
}

/// Voltages of the machines before and in the tick after the locked motor is connected.
fn dips() -> Table {
    let mut trial = Trial::of("electric-start-dip").from("loaded");
    for name in ["row-1", "row-2", "row-3", "row-4", "row-5", "row-6", "row-7", "sheldrake"] {
        trial = trial.at(0.05, &format!("start {name}.locked"));
    }
    trial.read(0.1, 0.05, "*.generator.voltage")
}

fn start_dips(errors: &mut Errors) {
    let table = dips();
    for (i, row) in Reference::read("motor_start_dip.csv").rows().iter().enumerate() {
        let reading = format!("row-{}.generator.voltage", i + 1);
        let got = 1.0 - table.at(0.1, &reading) / table.at(0.05, &reading);
        errors.add(&format!("row {}", i + 1), got, row.get("dip_-"));
    }
}

fn start_dip_example(errors: &mut Errors) {
    let table = dips();
    let voltage = |time_s: f64| table.at(time_s, "sheldrake.generator.voltage") / 440.0;
    errors.add("before", voltage(0.05), 1.0);
    errors.add("voltage", voltage(0.1), 0.8040);
    errors.add("dip", 1.0 - voltage(0.1) / voltage(0.05), 0.196);
}

fn flux_decay(errors: &mut Errors) {
    let mut trial = Trial::of("electric-flux-decay").from("excited");
    for case in ["f1", "f3", "f4"] {
        trial = trial.at(0.1, &format!("start {case}.reactor"));
    }
    let table = trial.read(8.5, 0.05, "*.generator.voltage");
    let reference = Reference::read("flux_decay_step.csv");
    for case in ["f1", "f3", "f4"] {
        // Below 55 % the reactor's contactor drops out, which the reference has not.
        let rows = reference.case(case);
        for row in rows.iter().filter(|row| row.get("time_s") > 0.0 && row.get("V_pu") > 0.56) {
            let time_s = row.get("time_s");
            let got = table.at(0.1 + time_s, &format!("{case}.generator.voltage")) / 440.0;
            errors.add(&format!("{case} at {time_s} s"), got, row.get("V_pu"));
        }
    }
}

fn short_circuit(errors: &mut Errors) {
    let cases = ["g1", "g3", "g4"];
    let mut trial = Trial::of("electric-short-circuit").from("excited");
    for case in cases {
        trial = trial.at(0.1, &format!("fault {case}.switch.short-circuit"));
    }
    let table = trial.read(2.5, 0.05, "*.generator.current");
    let reference = Reference::read("short_circuit_envelope.csv");
    let rated_a = 100e3 / 440.0 / 3.0_f64.sqrt();
    for case in cases {
        // The first reading is that of the tick after the fault.
        for row in reference.case(case).iter().filter(|row| row.get("time_s") > 0.04) {
            let time_s = row.get("time_s");
            let got = table.at(0.1 + time_s, &format!("{case}.generator.current")) / rated_a;
            errors.add(&format!("{case} at {time_s} s"), got, row.get("I_ac_rms_pu"));
        }
    }
}

fn loaded_transformers() -> Table {
    Trial::of("electric-transformers").from("loaded").read(5.0, 5.0, "*.transformer.*,*.load.*")
}

fn transformers(errors: &mut Errors, reading: &str, want: impl Fn(&Row<'_>) -> f64) {
    let table = loaded_transformers();
    for row in Reference::read("transformer_vdrop.csv").rows() {
        if row.get("load_fraction") > 0.0 {
            let (kva, load, pf) =
                (row.get("S_rated") / 1e3, row.get("load_fraction") * 100.0, row.get("pf_") * 100.0);
            let name = format!("kva{kva:.0}.load{load:.0}.pf{pf:.0}");
            errors.add(&name, table.at(5.0, &format!("{name}.transformer.{reading}")), want(&row));
        }
    }
}

/// High over low side by the ratio of turns, less one: 0.0492 (printed 1.049), 0.0211 (printed 2.1 %), 0.0128.
fn transformer_examples(errors: &mut Errors) {
    let table = loaded_transformers();
    for (name, low_v, want) in
        [("zorbas", 220.0, 1.049), ("chapman-08", 230.0, 1.021), ("chapman-10", 230.0, 1.0128)]
    {
        let rise = low_v / table.at(5.0, &format!("{name}.transformer.secondary-voltage"));
        errors.add_of(name, rise, want, want - 1.0);
    }
}

/// Power and current of a sub-step of 5 ms hold in its middle: the reference has them 2.5 ms earlier than speed. A reading of
/// machines closed out of phase, less `rest` and over `base`, over the largest deviation of each case.
pub fn out_of_phase(column: &str, rest: f64, base: f64, reading: &str, errors: &mut Errors) {
    let cases = ["s10", "s30", "s120"];
    let mut trial = Trial::of("electric-out-of-phase").from("turning");
    for case in cases {
        trial = trial.at(0.0, &format!("close {case}.shore"));
    }
    let table = trial.read(3.0, 0.05, "*.generator.*");
    let reference = Reference::read("sync_closing.csv");
    for case in cases {
        let rows = reference.case(case);
        let largest = rows.iter().map(|row| (row.get(column) - rest).abs()).fold(0.0, f64::max);
        for row in rows.iter().filter(|row| row.get("time_s") > 0.0) {
            let time_s = row.get("time_s");
            let got = table.at(time_s, &format!("{case}.generator.{reading}")) / base;
            errors.add_of(&format!("{case} at {time_s} s"), got, row.get(column), largest);
        }
    }
}

fn in_parallel() -> Table {
    Trial::of("electric-droop-sharing").from("parallel").read(
        180.0,
        180.0,
        "*.generator.*,*.engine.*,*.load.*",
    )
}

/// Fall of frequency over the droop from no load to rated power, and power of each machine.
fn shares(errors: &mut Errors, table: &Table, name: &str, hz: f64, machines: &[(f64, f64, f64)]) {
    for (i, (no_load_hz, power_w, droop)) in machines.iter().enumerate() {
        let value = |reading: &str| table.at(180.0, &format!("{name}.{}.{reading}", i + 1));
        let fall = no_load_hz - value("generator.frequency");
        errors.add_of(&format!("{name}, frequency of {}", i + 1), fall, no_load_hz - hz, 60.0 * droop);
        errors.add(&format!("{name}, power of {}", i + 1), value("generator.power"), *power_w);
    }
}

fn droop_sharing(errors: &mut Errors) {
    let table = in_parallel();
    for (i, row) in Reference::read("droop_sharing.csv").rows().iter().enumerate() {
        // In the third row a machine is motored, which its breaker does not allow.
        if row.get("P2_W") > 0.0 {
            let machines = [
                (row.get("f1_noload"), row.get("P1_W"), row.get("droop1")),
                (row.get("f2_noload"), row.get("P2_W"), row.get("droop2")),
            ];
            shares(errors, &table, &format!("row-{}", i + 1), row.get("f_Hz"), &machines);
        }
    }
}

fn droop_examples(errors: &mut Errors) {
    let table = in_parallel();
    shares(errors, &table, "chapman-1", 60.0, &[(61.5, 1.5e6, 0.04), (61.0, 1.0e6, 0.04)]);
    shares(errors, &table, "chapman-2", 59.5, &[(61.5, 2.0e6, 0.04), (61.0, 1.5e6, 0.04)]);
    shares(errors, &table, "chapman-3", 59.75, &[(61.5, 1.75e6, 0.04), (61.5, 1.75e6, 0.04)]);
    let three = [(60.9, 18.3221e6, 0.03), (61.6, 14.6812e6, 0.04), (61.5, 7.4966e6, 0.05)];
    shares(errors, &table, "sheldrake", 59.25101, &three);
}

fn reactive_sharing(errors: &mut Errors) {
    let table = Trial::of("electric-reactive-sharing").from("parallel").read(120.0, 60.0, "*.g1.*,*.g2.*");
    for (i, row) in Reference::read("reactive_sharing.csv").rows().iter().enumerate() {
        for (machine, column) in [("g1", "Q1"), ("g2", "Q2")] {
            let name = format!("row-{}.{machine}", i + 1);
            errors.add(&name, table.at(120.0, &format!("{name}.reactive-power")), row.get(column));
        }
    }
}

/// A machine of 277 V behind 1.0 ohm that gives 60 A, lagging and at unity.
fn terminal_voltage_example(errors: &mut Errors) {
    let table = Trial::of("electric-examples").from("loaded").read(10.0, 10.0, "*.generator.*");
    for (name, volts) in [("lagging", 410.0), ("unity", 468.4)] {
        errors.add(name, table.at(10.0, &format!("{name}.generator.voltage")), volts);
        errors.add(name, table.at(10.0, &format!("{name}.generator.current")), 60.0);
    }
}
