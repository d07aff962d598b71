#![allow(clippy::unwrap_used)]
use super::circuit::usual_efficiency;
use super::*;
use crate::kinds::testkit::Rig;

const SHORE: &str = r#"
[[node]]
names = ["cable", "bus"]
net = "ac"
voltage = "440 V"
frequency = "60 Hz"
[[node]]
name = "shaft"
net = "shaft"
[[shore-supply]]
name = "shore"
cable = "cable"
bus = "bus"
"#;

fn on_shore(motor: &str) -> Rig {
    let mut rig =
        Rig::new(&format!("{SHORE}\n[[motor]]\nname = \"m\"\nsupply = \"bus\"\nshaft = \"shaft\"\n{motor}"));
    rig.act("shore", 0, 0.0);
    rig.run(0.1);
    rig
}

/// Rows of im_start_time.csv: J dw/dt = T(s) - Tl (w/ws)^2 on a stiff bus, motors of im_torque_slip.csv, solved by
/// scipy; volts, J, load torque at synchronous speed, then R1, X1, R2, X2, Xm, poles, time to 95 % speed.
#[test]
fn start_takes_the_time_of_the_reference() {
    let rows = [
        [460.0, 0.5, 28.790978, 0.641, 1.106, 0.332, 0.464, 26.3, 4.0, 0.58901397],
        [396.0, 2.4, 401.86539, 0.045, 0.19, 0.035, 0.21, 6.2, 4.0, 1.769408],
        [440.0, 0.45, 82.201583, 0.13, 0.42, 0.11, 0.47, 14.0, 4.0, 0.38448124],
        [396.0, 0.675, 131.52253, 0.13, 0.42, 0.11, 0.47, 14.0, 4.0, 0.76241745],
        [396.0, 1.35, 57.45379, 0.45, 1.1, 0.38, 1.2, 34.0, 6.0, 1.421799],
    ];
    for [volts, inertia, load, r1, x1, r2, x2, xm, poles, expected_s] in rows {
        let text = SHORE.replace("440 V", &format!("{volts} V"));
        let mut rig = Rig::new(&format!(
            "{text}\n[[motor]]\nname = \"m\"\nsupply = \"bus\"\nshaft = \"shaft\"\nrated-power = \"200 kW\"\n\
             poles = {poles}\ninertia = \"{inertia} kg m2\"\nstator-resistance = \"{r1} ohm\"\n\
             stator-reactance = \"{x1} ohm\"\nrotor-resistance = \"{r2} ohm\"\nrotor-reactance = \"{x2} ohm\"\n\
             magnetising-reactance = \"{xm} ohm\"\n"
        ));
        rig.act("shore", 0, 0.0);
        rig.run(0.1);
        let synchronous = 2.0 * std::f64::consts::TAU * 60.0 / poles;
        rig.brake("shaft", load, synchronous);
        rig.act("m", START, 0.0);
        let (mut time_s, mut before, goal) = (0.0, 0.0, 0.95 * synchronous);
        while rig.value("m.speed") < goal {
            before = rig.value("m.speed");
            rig.tick();
            time_s += 0.05;
            assert!(time_s < 10.0);
        }
        // Speed between two ticks by a straight line.
        let now = rig.value("m.speed");
        time_s -= 0.05 * (now - goal) / (now - before).max(1e-9);
        let error = time_s / expected_s - 1.0;
        eprintln!("start time {volts} V: {time_s:.4} s for {expected_s:.4} s ({:+.2} %)", 100.0 * error);
        assert!(error.abs() < 0.05, "{volts} V {inertia}: {time_s} for {expected_s}");
    }
}

#[test]
fn pump_motor_starts_runs_at_rating_and_coasts() {
    let mut rig = on_shore("rated-power = \"37 kW\"\n");
    rig.brake("shaft", 37e3 / 186.0, 186.0);
    rig.act("m", START, 0.0);
    rig.tick();
    // Design N, 11 kVA per kW: 407 kVA.
    assert!(
        (rig.value("m.current") / (407e3 / 440.0 / ROOT_3) - 1.0).abs() < 0.05,
        "{}",
        rig.value("m.current")
    );
    rig.run(5.0);
    let speed = rig.value("m.speed");
    assert!((182.0..188.0).contains(&speed), "{speed}");
    let power = rig.value("m.power");
    assert!((36e3..42e3).contains(&power), "{power}");
    rig.act("m", STOP, 0.0);
    rig.tick();
    assert_eq!(rig.value("m.current"), 0.0);
    assert!(rig.value("m.speed") > 50.0);
    rig.run(60.0);
    assert!(rig.value("m.speed") < 10.0);
}

/// thermal_overload.csv, tau 276.5 s from cold: 7.2 times the setting trips after 5.944 s. A seized motor draws its
/// locked-rotor current, so its time follows from `t = tau ln(i^2/(i^2 - 1.05^2))`.
#[test]
fn seized_motor_trips_in_the_time_of_the_thermal_curve() {
    let mut rig = on_shore("rated-power = \"37 kW\"\noverload-tau = \"276.5 s\"\n");
    rig.fault("m", "seized", 1.0);
    rig.act("m", START, 0.0);
    rig.run(0.5);
    let shaft = rig.value("m.speed");
    assert!(shaft.abs() < 1e-9, "{shaft}");
    let relay = 37e3 / usual_efficiency(37e3) / (0.86 * 440.0 * ROOT_3);
    let i = rig.value("m.current") / relay;
    let expected_s = 276.5 * libm::log(i * i / (i * i - 1.05 * 1.05));
    let time_s = 0.5 + rig.until(60.0, |r| r.value("m.overload-tripped") > 0.5);
    eprintln!("seized at {i:.2} times the setting: {time_s:.2} s for {expected_s:.2} s");
    assert!((time_s / expected_s - 1.0).abs() < 0.05);
    assert!((4.0..=10.0).contains(&time_s) || i < 7.0);
    assert_eq!(rig.codes("m", START), ["overload-tripped"]);
    assert_eq!(rig.codes("m", RESET), ["relay-hot"]);
    rig.run(120.0);
    rig.act("m", RESET, 0.0);
}

/// The replica alone, against rows of thermal_overload.csv (IEC 60255-149 form).
#[test]
fn thermal_replica_follows_the_reference() {
    let rows = [
        (600.0, 0.0, 1.2, 870.49973),
        (600.0, 0.8, 5.0, 11.501155),
        (300.0, 0.0, 1.5, 202.00337),
        (900.0, 0.5, 3.0, 92.256702),
        (276.5, 0.0, 2.0, 89.156337),
        (276.5, 0.0, 7.2, 5.9438569),
    ];
    for (tau, before, current, expected_s) in rows {
        let (mut theta, mut time_s) = (before * before, 0.0);
        while theta < TRIP_SQUARE {
            theta = current * current + (theta - current * current) * libm::exp(-0.005 / tau);
            time_s += 0.005;
        }
        let error: f64 = time_s / expected_s - 1.0;
        assert!(error.abs() < 0.05, "{time_s} for {expected_s}");
    }
}

#[test]
fn stiff_motor_trips_in_minutes() {
    let mut rig = on_shore("rated-power = \"37 kW\"\n");
    rig.brake("shaft", 0.85 * 37e3 / 188.0, 188.0);
    rig.act("m", START, 0.0);
    rig.run(60.0);
    assert_eq!(rig.value("m.running"), 1.0);
    rig.fault("m", "stiff", 1.0);
    let time_s = rig.until(900.0, |r| r.value("m.overload-tripped") > 0.5);
    eprintln!("stiff motor trips after {time_s:.0} s");
    assert!((30.0..600.0).contains(&time_s), "{time_s}");
}

#[test]
fn single_phasing_motor_does_not_start_and_trips() {
    let mut rig = on_shore("rated-power = \"37 kW\"\n");
    rig.brake("shaft", 0.85 * 37e3 / 188.0, 188.0);
    rig.act("m", START, 0.0);
    rig.run(10.0);
    rig.fault("m", "single-phasing", 1.0);
    rig.run(5.0);
    let (current, speed) = (rig.value("m.current"), rig.value("m.speed"));
    eprintln!("single-phasing at 85 % load: {current:.1} A, {speed:.1} rad/s");
    assert!(current > 80.0 && speed > 150.0);
    rig.until(900.0, |r| r.value("m.overload-tripped") > 0.5);
    rig.run(300.0);
    rig.act("m", RESET, 0.0);
    rig.spin("shaft", 0.0);
    rig.act("m", START, 0.0);
    rig.run(1.0);
    assert!(rig.value("m.speed") < 1.0, "{}", rig.value("m.speed"));
}

#[test]
fn restart_follows_its_mode() {
    let modes = [("by hand", None), ("automatic", Some(2.0)), ("in sequence", Some(6.0))];
    for (mode, expected_s) in modes {
        let delay = expected_s.unwrap_or(1.0);
        let mut rig = on_shore(&format!(
            "rated-power = \"11 kW\"\nrestart = \"{mode}\"\nrestart-delay = \"{delay} s\"\n"
        ));
        rig.act("m", START, 0.0);
        rig.run(2.0);
        rig.act("shore", 1, 0.0);
        rig.run(3.0);
        assert!(rig.has_found("m.lost-supply"));
        assert_eq!(rig.value("m.running"), 0.0);
        assert_eq!(rig.codes("m", START), ["no-supply"]);
        rig.act("shore", 0, 0.0);
        match expected_s {
            Some(expected_s) => {
                let time_s = rig.until(20.0, |r| r.value("m.running") > 0.5);
                assert!((time_s - expected_s).abs() < 0.11, "{mode}: {time_s}");
                assert!(rig.has_found("m.restarted"));
            }
            None => {
                rig.run(20.0);
                assert_eq!(rig.value("m.running"), 0.0);
            }
        }
    }
}

#[test]
fn local_selector_blocks_the_remote_station() {
    let mut rig = on_shore("rated-power = \"11 kW\"\nhas-selector = true\n");
    rig.act("m", SET_CONTROL, 0.0);
    let m = rig.plant.compiled.component("m").unwrap();
    let blocks = rig.plant.permit(m, Act { index: START, value: 0.0, remote: true });
    assert_eq!(blocks.len(), 1);
    assert_eq!(blocks[0].code, "in-local");
    rig.act("m", START, 0.0);
}

#[test]
fn starters_lower_the_current() {
    for (mode, share) in [("star-delta", 1.0 / 3.0), ("soft starter", 0.4)] {
        let mut rig = on_shore(&format!("rated-power = \"45 kW\"\nstart = \"{mode}\"\n"));
        rig.brake("shaft", 0.3 * 45e3 / 188.0, 188.0);
        rig.act("m", START, 0.0);
        rig.tick();
        let current = rig.value("m.current") / (495e3 / 440.0 / ROOT_3);
        assert!((current / share - 1.0).abs() < 0.05, "{mode}: {current}");
        rig.run(25.0);
        assert!(rig.value("m.speed") > 180.0, "{mode}: {}", rig.value("m.speed"));
    }
}
