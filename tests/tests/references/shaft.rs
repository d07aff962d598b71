//! Shafts: running up, running down, swinging.

use crate::harness::{Check, Errors, Reference, Row, Trial};
use std::f64::consts::TAU;

/// The checks of this net.
pub const CHECKS: &[Check] = &[
    Check {
        name: "shaft/motor-start-time",
        source: "im_start_time.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: start_times,
    },
    Check {
        name: "shaft/motor-start-half-way",
        source: "im_start_time.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: half_way,
    },
    Check {
        name: "shaft/fan-runs-down",
        source: "closed form of J dw/dt = -k w^2",
        tolerance: 0.05,
        run: fans_run_down,
    },
    Check {
        name: "shaft/fan-affinity",
        source: "affinity laws: flow with n, power with n^3",
        tolerance: 0.02,
        run: fan_affinity,
    },
    Check {
        name: "shaft/out-of-phase-swing",
        source: "sync_closing.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: swings,
    },
    Check {
        name: "shaft/droop-alone",
        source: "droop_sharing.csv (f = f0 - R P, analytic)",
        tolerance: 0.02,
        run: droop_alone,
    },
    Check {
        name: "shaft/acceleration-example",
        source: "Grainger and Stevenson, problem 16.1 (from memory): 437.9 electrical degrees/s2",
        tolerance: 0.05,
        run: acceleration_example,
    },
    Check {
        name: "shaft/shaft-generator-step",
        source: "shaft_generator_step.csv (scipy 1.17.1)",
        tolerance: 0.05,
        run: shaft_generator_step,
    },
    Check {
        name: "shaft/propeller-cube-law",
        source: "main_engine.csv (cube law of propellers)",
        tolerance: 0.02,
        run: propeller,
    },
];

/// Names of the rig's copies: the first word of the motor's and its voltage.
fn starts(mut look: impl FnMut(&str, &Row<'_>, &dyn Fn(f64) -> f64, f64)) {
    let reference = Reference::read("im_start_time.csv");
    let mut trial = Trial::of("electric-motor-starts").from("live");
    let names =
        ["chapman-460", "chapman-368", "pump-396", "pump-352", "comp-440", "comp-396", "fan-396", "fan-352"];
    assert_eq!(reference.rows().len(), names.len());
    for name in names {
        trial = trial.at(1.0, &format!("start {name}.motor"));
    }
    let table = trial.read(6.0, 0.05, "*.motor.speed");
    for (row, name) in reference.rows().iter().zip(names) {
        let reading = format!("{name}.motor.speed");
        let synchronous = if name.starts_with("fan") { TAU * 20.0 } else { TAU * 30.0 };
        let t95_s = table.first_above(&reading, 0.95 * synchronous) - 1.0;
        look(name, row, &|time_s| table.between(1.0 + time_s, &reading), t95_s);
    }
}

fn start_times(errors: &mut Errors) {
    starts(|name, row, _, t95_s| errors.add(name, t95_s, row.get("t95")));
}

fn half_way(errors: &mut Errors) {
    starts(|name, row, speed, _| errors.add(name, speed(0.5 * row.get("t95")), row.get("w_at_half")));
}

fn fans_run_down(errors: &mut Errors) {
    let table = Trial::of("shaft-fans").from("turning").read(200.0, 1.0, "down-*.fan.flow");
    let before = 1750.0 * TAU / 60.0;
    for (name, inertia, power_w) in [("down-light", 0.8, 4e3), ("down-heavy", 6.0, 11e3)] {
        let k = power_w / (before * before * before);
        for time_s in [2.0, 5.0, 20.0, 60.0, 200.0] {
            // Flow shows the speed: 5 m3/s at 1,750 rpm.
            let got = table.at(time_s, &format!("{name}.fan.flow")) / 5.0 * before;
            errors.add(
                &format!("{name} after {time_s} s"),
                got,
                before / (1.0 + k * before * time_s / inertia),
            );
        }
    }
}

fn fan_affinity(errors: &mut Errors) {
    let shares = [0.8, 0.6, 0.4, 0.2];
    let mut trial = Trial::of("shaft-fans");
    for (i, share) in shares.iter().enumerate() {
        trial = trial.at(10.0 * (i + 1) as f64, &format!("set held.drive speed {:.4} rpm", 1750.0 * share));
    }
    let table = trial.read(60.0, 1.0, "held.*");
    for (i, share) in shares.into_iter().enumerate() {
        let time_s = 10.0 * (i + 1) as f64 + 9.0;
        errors.add(&format!("flow at {share}"), table.at(time_s, "held.fan.flow"), 5.0 * share);
        let power = table.at(time_s, "held.drive.power");
        errors.add(&format!("power at {share}"), power, 11e3 * share * share * share);
    }
}

/// Frequency over its largest deviation.
fn swings(errors: &mut Errors) {
    crate::electric::out_of_phase("f_Hz", 60.0, 1.0, "frequency", errors);
}

/// Each machine by itself, by its engine's speed and shaft power.
fn droop_alone(errors: &mut Errors) {
    let table = Trial::of("engine-governor").from("running").read(60.0, 60.0, "shared-*.engine.*");
    let reference = Reference::read("droop_sharing.csv");
    let rows = reference.rows();
    for (name, row) in [("shared-3", rows[2]), ("shared-7", rows[6])] {
        let value = |reading: &str| table.at(60.0, &format!("{name}.engine.{reading}"));
        let hz = value("speed") / (15.0 * TAU) * 60.0;
        errors.add(name, row.get("f1_noload") - hz, row.get("f1_noload") - row.get("f_Hz"));
        errors.add(&format!("{name}, power"), value("shaft-power"), row.get("P1_W"));
    }
}

/// 437.9 electrical degrees per second squared are 1.2164 Hz/s.
fn acceleration_example(errors: &mut Errors) {
    let table = Trial::of("electric-examples").from("loaded").read(2.0, 0.05, "rejected.generator.*");
    let hz = |time_s: f64| table.at(time_s, "rejected.generator.frequency");
    for time_s in [0.5, 1.0] {
        errors.add(&format!("{time_s} s"), hz(0.2 + time_s) - hz(0.2), 1.2164 * time_s);
    }
}

/// 400 kW come on a main engine with its propeller: speed over the largest dip.
fn shaft_generator_step(errors: &mut Errors) {
    let step_s = 120.0;
    let table = Trial::of("shaft-generator").from("at sea").at(step_s, "start load.first").read(
        135.0,
        0.05,
        "me.engine.speed",
    );
    let speed = |time_s: f64| table.at(time_s, "me.engine.speed") * 60.0 / TAU / 600.0;
    let reference = Reference::read("shaft_generator_step.csv");
    let rows = reference.rows();
    let largest = rows.iter().map(|row| row.get("dw_pu").abs()).fold(0.0, f64::max);
    for row in rows {
        let time_s = row.get("time_s");
        let got = speed(step_s + time_s) - speed(step_s);
        errors.add_of(&format!("{time_s} s"), got, row.get("dw_pu"), largest);
    }
}

/// A fixed propeller takes power with the cube of speed, one of controllable pitch what is asked at one speed.
fn propeller(errors: &mut Errors) {
    crate::heat::main_engines(|row, value, label| {
        errors.add(&format!("{label}, speed"), value("speed") * 60.0 / TAU, row.get("speed_rpm"));
        errors.add(&format!("{label}, power"), value("shaft-power"), row.get("shaft_W"));
    });
}
