use super::*;
use crate::kinds::testkit::Rig;

/// Nodes, a breaker and a generator on a shaft too heavy to change its speed; `more` adds to the generator's table.
fn head(more: &str, state: &str) -> String {
    format!(
        r#"
format = 1
[rig]
title = "a generator on its own"
about = "for a test"
[[node]]
name = "bus"
net = "ac"
[[node]]
name = "shaft"
net = "shaft"
inertia = "1000000000 kg m2"
[[generator]]
name = "g"
shaft = "shaft"
terminals = "bus"
{more}
[[state]]
name = "excited"
about = "at rated voltage"
[state.set]
{state}
"#
    )
}

fn spun(text: &str, start: Option<&str>, rad_s: f64) -> Rig {
    let mut rig = Rig::read(text, start);
    rig.spin("shaft", rad_s);
    rig
}

const RATED_900: f64 = 94.24777960769379;

/// flux_decay_step.csv: a machine without load at V = 1 closed on an inductive load Xl at constant field, exact
/// exponential `T'd0 dE/dt = Efd - E - (Xd - X'd) Id`; Xd, X'd, T'd0, Xl, then time and voltage.
#[test]
fn flux_decays_as_in_the_reference() {
    let cases = [
        (2.0, 0.25, 3.0, 1.5, [(0.1, 0.82950299), (0.5, 0.73565628), (1.0, 0.64860734)]),
        (2.4, 0.3, 2.2, 2.0, [(0.1, 0.83500111), (0.5, 0.72323149), (1.0, 0.62849424)]),
        (1.8, 0.2, 4.0, 0.5, [(0.05, 0.69429097), (0.1, 0.6751008), (0.2, 0.63900599)]),
    ];
    let mut worst: f64 = 0.0;
    for (xd, xd1, td0, load_x, rows) in cases {
        let power = 750e3 / load_x * 0.01;
        let text = head(
            &format!(
                "rated-power = \"600 kW\"\nxd = \"{} %\"\nxd1 = \"{} %\"\ntd0 = \"{td0} s\"\navr-kp = 0\navr-ki = 0\n\
                 armature-resistance = \"0.01 %\"\n[[load]]\nname = \"reactor\"\nsupply = \"bus\"\n\
                 power = \"{power} W\"\npower-factor = \"1 %\"\n",
                100.0 * xd,
                100.0 * xd1
            ),
            "\"g.excited\" = true\n",
        );
        let mut rig = spun(&text, Some("excited"), RATED_900);
        rig.run(0.1);
        assert!((rig.volts("bus") / 440.0 - 1.0).abs() < 1e-3);
        rig.act("reactor", 0, 0.0);
        let mut now_s = 0.0;
        for (time_s, expected) in rows {
            rig.run(time_s - now_s);
            now_s = time_s;
            worst = worst.max((rig.volts("bus") / 440.0 / expected - 1.0).abs());
        }
    }
    eprintln!("flux decay: worst error {:.3} %", 100.0 * worst);
    assert!(worst < 0.05, "{worst}");
}

/// motor_start_dip.csv (constant E' behind Rg + jX'd, load and locked motor as impedances; Sheldrake, Handbook of
/// Electrical Engineering, app. G): S, X'd, Rg, load W, pf, locked VA, pf, E', dip. With Xd near X'd the flux hardly
/// moves within the tick after which the dip is read.
#[test]
fn motor_start_dips_as_in_the_reference() {
    let rows = [
        [1250e3, 0.25, 0.01, 400e3, 0.85, 500e3, 0.3, 1.0556663, 0.08528026],
        [1000e3, 0.3, 0.02, 300e3, 0.8, 600e3, 0.25, 1.0768995, 0.14288331],
        [250e3, 0.28, 0.02, 60e3, 0.8, 200e3, 0.35, 1.0571149, 0.17216556],
        [1600e3, 0.2, 0.01, 900e3, 0.85, 800e3, 0.25, 1.0808578, 0.084413931],
        [800e3, 0.35, 0.02, 250e3, 0.8, 400e3, 0.3, 1.0933049, 0.13699221],
        [2000e3, 0.18, 0.01, 700e3, 0.85, 300e3, 0.2, 1.0443171, 0.025148581],
    ];
    let mut worst: f64 = 0.0;
    for [va, xd1, rg, load_w, pf, locked_va, locked_pf, e1, dip] in rows {
        let text = head(
            &format!(
                "rated-power = \"{} W\"\nxd = \"{} %\"\nxd1 = \"{} %\"\ntd0 = \"15 s\"\navr-kp = 0\navr-ki = 0\n\
                 armature-resistance = \"{} %\"\n[[load]]\nname = \"load\"\nsupply = \"bus\"\npower = \"{load_w} W\"\n\
                 power-factor = \"{} %\"\n[[load]]\nname = \"locked\"\nsupply = \"bus\"\npower = \"{} W\"\n\
                 power-factor = \"{} %\"\n",
                0.8 * va,
                100.0 * (xd1 + 0.05f64).max(0.3),
                100.0 * xd1,
                100.0 * rg,
                100.0 * pf,
                locked_va * locked_pf,
                100.0 * locked_pf
            ),
            &format!(
                "\"g.excited\" = true\n\"g.flux\" = {e1}\n\"g.field\" = {e1}\n\"g.avr-integral\" = {e1}\n\
                 \"load.on\" = true\n"
            ),
        );
        let mut rig = spun(&text, Some("excited"), RATED_900);
        rig.tick();
        let before = rig.volts("bus") / 440.0;
        assert!((before - 1.0).abs() < 0.003, "before {before}");
        rig.act("locked", 0, 0.0);
        rig.tick();
        let found = 1.0 - rig.volts("bus") / 440.0 / before;
        worst = worst.max((found / dip - 1.0).abs());
    }
    eprintln!("motor-start dip: worst error {:.3} % of the dip", 100.0 * worst);
    assert!(worst < 0.02, "{worst}");
}

/// The largest motor direct on line on a 750 kVA set at 167 kW: dip at most 15 %, back within 1.5 s (naval rules of
/// a classification society, read in a public text: 15 % and 1.5 s for 50 % of rated kVA at pf 0.4).
#[test]
fn largest_motor_start_keeps_to_the_figures_of_the_rules() {
    let text = head(
        "rated-power = \"600 kW\"\n[[node]]\nname = \"pump-shaft\"\nnet = \"shaft\"\n[[load]]\nname = \"base\"\nsupply = \"bus\"\npower = \"167 kW\"\n\
         power-factor = \"89 %\"\n[[motor]]\nname = \"ballast\"\nsupply = \"bus\"\nshaft = \"pump-shaft\"\n\
         rated-power = \"45 kW\"\n",
        "\"g.excited\" = true\n\"base.on\" = true\n",
    );
    let mut rig = spun(&text, Some("excited"), RATED_900);
    rig.run(10.0);
    let before = rig.volts("bus");
    assert!((before / 440.0 - 1.0).abs() < 0.02, "{before}");
    rig.brake("pump-shaft", 45e3 / 188.0, 188.0);
    rig.act("ballast", 0, 0.0);
    let (mut lowest, mut back_s, mut time_s) = (1.0f64, 0.0, 0.0);
    while time_s < 4.0 {
        rig.tick();
        time_s += 0.05;
        let share = rig.volts("bus") / before;
        lowest = lowest.min(share);
        if share < 0.97 {
            back_s = time_s;
        }
    }
    eprintln!("45 kW direct start: dip {:.1} %, above 97 % after {back_s:.2} s", 100.0 * (1.0 - lowest));
    assert!((0.85..0.93).contains(&lowest), "{lowest}");
    assert!(back_s <= 1.5, "{back_s}");
    assert!(rig.value("ballast.speed") > 180.0);
}

#[test]
fn voltage_builds_up_when_excited_and_not_before() {
    let text = head("rated-power = \"600 kW\"\n", "");
    let mut rig = spun(&text, None, 40.0);
    assert_eq!(rig.blocks("g", SET_EXCITATION, 1.0)[0].code, "speed-low");
    rig.spin("shaft", RATED_900);
    rig.run(5.0);
    assert!((rig.value("g.voltage") / 440.0 - 0.03).abs() < 0.005, "{}", rig.value("g.voltage"));
    rig.act("g", SET_EXCITATION, 1.0);
    let time_s = rig.until(10.0, |r| r.value("g.voltage") > 0.97 * 440.0);
    eprintln!("voltage built up after {time_s:.2} s");
    assert!((1.5..3.0).contains(&time_s), "{time_s}");
    rig.run(5.0);
    assert!((rig.value("g.voltage") - 440.0).abs() < 1.0, "{}", rig.value("g.voltage"));
    assert!((rig.value("g.field") - 1.0).abs() < 0.02);
    rig.act("g", SET_VOLTAGE, 450.0);
    rig.run(5.0);
    assert!((rig.value("g.voltage") - 450.0).abs() < 1.0);
    rig.act("g", SET_EXCITATION, 0.0);
    rig.run(15.0);
    assert!(rig.value("g.voltage") < 30.0);
}

#[test]
fn without_residual_field_no_voltage_comes() {
    let mut rig = spun(&head("rated-power = \"600 kW\"\n", ""), None, RATED_900);
    rig.fault("g", "residual-lost", 1.0);
    rig.run(30.0);
    rig.act("g", SET_EXCITATION, 1.0);
    rig.run(30.0);
    assert!(rig.value("g.voltage") < 10.0, "{}", rig.value("g.voltage"));
}

#[test]
fn failed_regulator_trips_by_over_voltage() {
    let mut rig =
        spun(&head("rated-power = \"600 kW\"\n", "\"g.excited\" = true\n"), Some("excited"), RATED_900);
    rig.run(1.0);
    rig.fault("g", "avr-fails-high", 1.0);
    rig.until(5.0, |r| r.has_found("g.tripped-over-voltage"));
    assert!(rig.value("g.voltage") < 1.6 * 440.0, "{}", rig.value("g.voltage"));
    rig.run(20.0);
    assert_eq!(rig.value("g.excited"), 0.0);
    assert_eq!(rig.codes("g", RESET).len(), 0);
}

/// Sustained short circuit: at least three times rated current for 2 s (IACS UR E13, from memory).
#[test]
fn a_short_circuit_is_sustained() {
    let text = head(
        "rated-power = \"600 kW\"\n[[load]]\nname = \"fault\"\nsupply = \"bus\"\npower = \"100 kW\"\n",
        "\"g.excited\" = true\n\"fault.on\" = true\n",
    );
    let mut rig = spun(&text, Some("excited"), RATED_900);
    rig.run(1.0);
    let on = rig.plant.compiled.component("fault").unwrap();
    let slot = rig.plant.compiled.wiring[on].faults;
    rig.plant.courses[slot].severity = 50.0;
    rig.plant.courses[slot].target = 50.0;
    rig.plant.courses_under_way.push(slot);
    rig.tick();
    let first = rig.value("g.current") / 984.0;
    let mut least = first;
    for _ in 0..40 {
        // The contactor of a real consumer would drop out: this one is a fault in the cable before it.
        let low_s = rig.plant.compiled.wiring[on].state + crate::kinds::load::LOW_S;
        rig.plant.state[low_s] = 0.0;
        rig.tick();
        least = least.min(rig.value("g.current") / 984.0);
    }
    eprintln!("short circuit: {first:.2} In at once, {least:.2} In at least in 2 s");
    assert!(first > 3.5 && least > 2.5, "{first} {least}");
}

/// sync_closing.csv, case s10 (classical machine closed on an infinite 60 Hz bus, scipy): H 1 s, D 2, x 0.3 pu,
/// E = V = 1, closed 10 degrees ahead at equal frequency. Time, angle in degrees. Xd = X'd keeps the flux.
#[test]
fn closed_out_of_phase_it_swings_as_in_the_reference() {
    let rows = [
        (0.05, 3.2559085),
        (0.1, -7.5168753),
        (0.15, -7.7063295),
        (0.2, 2.4249021),
        (0.3, 3.0978086),
        (0.5, 7.7655242),
        (1.0, 6.0186852),
        (2.0, 3.6006328),
    ];
    let text = r#"
format = 1
[rig]
title = "a set closed on shore"
about = "for a test"
[[node]]
names = ["cable", "bus"]
net = "ac"
[[node]]
name = "shaft"
net = "shaft"
[[shore-supply]]
name = "shore"
cable = "cable"
bus = "bus"
resistance = "0.0000002 ohm"
reactance = "0.0000001 ohm"
[[generator]]
name = "g"
shaft = "shaft"
terminals = "bus"
rated-power = "750 kW"
power-factor = "100 %"
xd = "30 %"
xd1 = "30 %"
armature-resistance = "0.01 %"
avr-kp = 0
avr-ki = 0
damping = 2
efficiency = "99 %"
inertia-constant = "1 s"
[[state]]
name = "excited"
about = "at rated voltage"
[state.set]
"g.excited" = true
"#;
    let mut rig = spun(text, Some("excited"), RATED_900);
    let g = rig.plant.compiled.component("g").unwrap();
    let angle = rig.plant.compiled.wiring[g].state + ANGLE;
    rig.plant.state[angle] = 10.0 * PI / 180.0;
    rig.act("shore", 0, 0.0);
    let (mut worst, mut now_s) = (0.0f64, 0.0);
    for (time_s, expected) in rows {
        rig.run(time_s - now_s);
        now_s = time_s;
        worst = worst.max((rig.plant.state[angle] * 180.0 / PI - expected).abs());
    }
    eprintln!("swing: worst error {worst:.2} degrees of 10");
    assert!(worst < 1.2, "{worst}");
}
