use super::*;
use crate::kinds::testkit::Rig;

/// Two sets of 750 kVA on heavy shafts, each with its breaker, and a bus with a consumer.
fn two_sets(load_kw: f64, more: &str) -> Rig {
    let mut text = format!(
        "format = 1\n[rig]\ntitle = \"two sets\"\nabout = \"for a test\"\n\
         [[node]]\nnames = [\"t1\", \"t2\", \"bus\"]\nnet = \"ac\"\n\
         [[node]]\nnames = [\"s1\", \"s2\"]\nnet = \"shaft\"\ninertia = \"1000 kg m2\"\n\
         [[load]]\nname = \"load\"\nsupply = \"bus\"\npower = \"{load_kw} kW\"\npower-factor = \"80 %\"\n{more}\n"
    );
    for n in [1, 2] {
        text += &format!(
            "[[generator]]\nname = \"g{n}\"\nshaft = \"s{n}\"\nterminals = \"t{n}\"\nrated-power = \"600 kW\"\n\
             [[generator-breaker]]\nname = \"b{n}\"\ngenerator = \"t{n}\"\nbus = \"bus\"\n\
             rated-current = \"984 A\"\nrated-power = \"600 kW\"\n"
        );
    }
    text += "[[state]]\nname = \"excited\"\nabout = \"both\"\n[state.set]\n\"*.excited\" = true\n";
    let mut rig = Rig::read(&text, Some("excited"));
    for shaft in ["s1", "s2"] {
        rig.spin(shaft, RATED);
        rig.govern(shaft, RATED * 1.02, 600e3);
    }
    rig.run(1.0);
    rig
}

const RATED: f64 = 94.24777960769379;

#[test]
fn on_a_dead_bus_the_first_breaker_wins_even_in_one_tick() {
    let mut rig = two_sets(100.0, "");
    assert_eq!(rig.value("b1.ready-to-close"), 1.0);
    assert_eq!(rig.codes("b2", CLOSE).len(), 0);
    rig.act("b1", CLOSE, 0.0);
    assert_eq!(rig.codes("b2", CLOSE), ["another-breaker-closed"]);
    rig.tick();
    assert!(rig.volts("bus") > 400.0);
}

/// The second set a little faster than the bus.
fn come_up(rig: &mut Rig) {
    rig.run(10.0);
    let wanted = RATED * (rig.value("b1.bus-frequency") + 0.12) / 60.0;
    rig.govern("s2", wanted + 0.0004 * RATED, 600e3);
    rig.run(5.0);
}

#[test]
fn live_bus_wants_synchronism() {
    let mut rig = two_sets(100.0, "");
    rig.act("b1", CLOSE, 0.0);
    rig.run(0.1);
    rig.act("load", 0, 0.0);
    rig.run(2.0);
    rig.govern("s2", RATED * 1.05, 600e3);
    rig.run(10.0);
    assert!(rig.codes("b2", CLOSE).contains(&"slip"));
    come_up(&mut rig);
    rig.until(30.0, |r| r.value("b2.ready-to-close") > 0.5);
    rig.act("b2", CLOSE, 0.0);
    rig.tick();
    let first = rig.value("b2.current") / 984.0;
    assert!(first < 1.0, "closing current {first}");
    rig.run(30.0);
    let shares = rig.value("b1.power") + rig.value("b2.power");
    assert!((shares / rig.value("load.power") - 1.0).abs() < 0.01);
    assert!(rig.value("b2.closed") > 0.5);
    // Droop in voltage shares reactive power between equal sets.
    let (q1, q2) = (rig.value("g1.reactive-power"), rig.value("g2.reactive-power"));
    assert!((q1 - q2).abs() < 20e3, "{q1} {q2}");
}

#[test]
fn blocks_say_what_is_missing() {
    let mut rig = two_sets(100.0, "");
    rig.act("g1", crate::kinds::generator::SET_EXCITATION, 0.0);
    rig.govern("s1", 61.0, 600e3);
    rig.run(30.0);
    rig.spin("s1", 60.0);
    rig.tick();
    assert_eq!(rig.codes("b1", CLOSE), ["not-excited", "frequency-off"]);
    let text = &rig.blocks("b1", CLOSE, 0.0)[1].text;
    assert!(text.contains("38.3 Hz") && text.contains("51.0"), "{text}");
}

/// Very inverse, TMS 0.18, pick-up 1.1 In: `t = 0.18 x 13.5 / (M - 1)` (IEC 60255-151), M = I / 1.1 In. The current
/// moves a little with the voltage, so the test adds up `dt / t(M)` of what the breaker's own meter shows.
#[test]
fn long_time_trip_follows_its_curve() {
    for overload in [1.25, 1.5] {
        let mut rig = two_sets(overload * 600.0, "behaviour = \"constant power\"");
        rig.act("b1", CLOSE, 0.0);
        rig.run(0.5);
        rig.act("load", 0, 0.0);
        let (mut travel, mut time_s) = (0.0, 0.0);
        while rig.value("b1.tripped") < 0.5 && time_s < 60.0 {
            rig.tick();
            time_s += 0.05;
            travel += 0.05 * (rig.value("b1.current") / (1.1 * 984.0) - 1.0).max(0.0) / (0.18 * 13.5);
        }
        eprintln!("long time at {overload} x rated power: trips after {time_s:.2} s, travel {travel:.3}");
        assert!((travel - 1.0f64).abs() < 0.02 + 0.05 / time_s, "{travel}");
        assert_eq!(rig.value("b1.tripped"), 1.0);
        assert!(rig.has_found("b1.shed-1"));
        assert!(rig.codes("b1", CLOSE).contains(&"not-reset"));
        rig.act("b1", RESET, 0.0);
    }
}

#[test]
fn reverse_power_trips_after_its_delay() {
    let mut rig = two_sets(300.0, "");
    rig.act("b1", CLOSE, 0.0);
    rig.run(0.1);
    rig.act("load", 0, 0.0);
    rig.run(1.0);
    come_up(&mut rig);
    rig.until(30.0, |r| r.value("b2.ready-to-close") > 0.5);
    rig.act("b2", CLOSE, 0.0);
    rig.run(1.0);
    // No fuel, and an engine's friction on the shaft of the second set: it motors.
    rig.governors.pop();
    rig.brake("s2", 1200.0, RATED);
    let time_s = rig.until(30.0, |r| r.value("b2.tripped") > 0.5);
    assert_eq!(rig.value("b2.tripped"), 4.0, "{:?}", rig.found);
    assert!(time_s > 6.0, "{time_s}");
}

#[test]
fn lost_voltage_opens_the_breaker_by_its_release() {
    let mut rig = two_sets(100.0, "");
    rig.act("b1", CLOSE, 0.0);
    rig.run(2.0);
    rig.act("g1", crate::kinds::generator::SET_EXCITATION, 0.0);
    rig.until(20.0, |r| r.value("b1.tripped") > 0.5);
    assert_eq!(rig.value("b1.tripped"), 5.0);
}

#[test]
fn feeder_is_shed_by_stage_and_closes_again_when_it_is_reset() {
    let more = "[[node]]\nname = \"hotel\"\nnet = \"ac\"\n[[load]]\nname = \"galley\"\nsupply = \"hotel\"\n\
                power = \"10 kW\"\n[[breaker]]\nname = \"f\"\nfrom = \"bus\"\nto = \"hotel\"\n\
                rated-current = \"100 A\"\nshed-by = \"b1.shed-stage\"\nshed-by-2 = \"b2.shed-stage\"\n";
    let mut rig = two_sets(640.0, &format!("behaviour = \"constant power\"\n{more}"));
    rig.act("b1", CLOSE, 0.0);
    rig.act("f", crate::kinds::breaker::CLOSE, 0.0);
    rig.run(0.5);
    rig.act("galley", 0, 0.0);
    rig.act("load", 0, 0.0);
    let time_s = rig.until(20.0, |r| r.value("f.tripped") > 0.5);
    assert!((5.0..5.5).contains(&time_s), "{time_s}");
    assert!(rig.has_found("f.shed"));
    rig.act("load", 1, 0.0);
    rig.run(1.0);
    assert_eq!(rig.codes("f", crate::kinds::breaker::CLOSE), ["not-reset"]);
    rig.act("f", crate::kinds::breaker::RESET, 0.0);
    rig.act("f", crate::kinds::breaker::CLOSE, 0.0);
    rig.run(0.5);
    assert!((rig.volts("hotel") - 440.0).abs() < 20.0);
}
