//! How the ships can be found: every state in service is steady, and stands where it says.

use crate::hands::Hands;
use crate::ships::SHIPS;
use deadship_plant::ctx::Found;

/// What a state in service says of itself: reading, value in the unit of the name, how near.
struct InService {
    ship: &'static str,
    state: &'static str,
    /// A diesel generator in service, if there is one.
    running: &'static str,
    says: &'static [(&'static str, f64, f64)],
}

const IN_SERVICE: &[InService] = &[
    InService {
        ship: "quillmere",
        state: "at anchor",
        running: "dg1",
        says: &[("dg1.breaker.power", 200e3, 10e3), ("dg1.generator.frequency", 60.0, 0.1)],
    },
    InService {
        ship: "quillmere",
        state: "ready to sail",
        running: "dg1",
        says: &[
            ("dg1.breaker.power", 279e3, 8e3),
            ("dg1.generator.frequency", 60.0, 0.1),
            ("me.engine.ready-to-start", 1.0, 0.0),
            ("me.engine.lube-pressure", 4.3e5, 0.5e5),
        ],
    },
    InService {
        ship: "quillmere",
        state: "in port",
        running: "dg1",
        says: &[("dg1.breaker.power", 370e3, 15e3), ("dg1.generator.frequency", 59.9, 0.1)],
    },
    InService {
        ship: "quillmere",
        state: "at sea, two sets",
        running: "dg1",
        says: &[
            // The final heaters, which warm what the main engine burns, come and go.
            ("dg1.breaker.power", 187e3, 5e3),
            ("dg2.breaker.power", 187e3, 5e3),
            ("dg1.generator.frequency", 60.0, 0.1),
        ],
    },
    InService {
        ship: "quillmere",
        state: "at sea, shaft generator",
        running: "",
        says: &[
            ("sg.breaker.power", 380e3, 12e3),
            ("sg.generator.frequency", 60.0, 0.1),
            ("me.engine.load", 0.88, 0.03),
            ("dg1.standby.ready", 1.0, 0.0),
        ],
    },
    InService {
        ship: "tamberwick",
        state: "at anchor",
        running: "dg1",
        says: &[("dg1.breaker.power", 520e3, 20e3), ("dg1.generator.frequency", 60.0, 0.1)],
    },
    InService {
        ship: "tamberwick",
        state: "at sea",
        running: "",
        says: &[
            ("tg.breaker.power", 640e3, 15e3),
            ("tg.generator.frequency", 60.0, 0.1),
            ("steam.header.pressure", 7.0e5, 0.05e5),
            ("tg.condenser.vacuum", 0.935e5, 0.01e5),
            ("tg.turbine.lube-pressure", 1.5e5, 0.2e5),
            ("dg1.standby.ready", 1.0, 0.0),
            ("dg2.standby.mode", 0.0, 0.0),
        ],
    },
    InService {
        ship: "tamberwick",
        state: "in port",
        running: "dg1",
        says: &[
            ("dg1.breaker.power", 740e3, 25e3),
            ("dg2.breaker.power", 740e3, 25e3),
            ("dg1.generator.frequency", 60.0, 0.1),
        ],
    },
];

/// Nothing is found out in five minutes: no alert, no trip, no need lost, nothing that starts by itself. What it says
/// of itself holds at once and at the end.
#[test]
fn a_ship_found_in_service_stays_as_she_is() {
    for found in IN_SERVICE {
        let mut hands = Hands::on_ship(found.ship, found.state, "");
        let compiled = hands.plant.compiled.clone();
        for second in 0..300 {
            for _ in 0..20 {
                let findings = hands.plant.step().expect("no failure");
                if let Some(finding) = findings.first() {
                    let what = match finding.what {
                        Found::AlertOn(alert) | Found::AlertOff(alert) => {
                            compiled.spec.alerts[alert].name.clone()
                        }
                        Found::Kind(component, code) => format!(
                            "{} {}",
                            compiled.spec.components[component].name,
                            compiled.spec.components[component].kind.findings[code].code
                        ),
                        Found::NeedLost(component, _) | Found::NeedMet(component, _) => {
                            compiled.spec.components[component].name.clone()
                        }
                    };
                    panic!("{}, {}, {second} s: {what} {finding:?}", found.ship, found.state);
                }
            }
            if second == 1 || second == 299 {
                stands_where_it_says(&hands, found);
            }
        }
    }
}

fn stands_where_it_says(hands: &Hands, found: &InService) {
    let always = [
        ("control.supply.voltage", 26.4, 0.2),
        ("esb.transfer.voltage", 440.0, 6.0),
        ("esb.transfer.supply", 1.0, 0.0),
    ];
    let set = found.running;
    let warm = [
        (format!("{set}.engine.lube-pressure"), 4.2e5, 0.3e5),
        (format!("{set}.ht.thermostat.temperature"), 273.15 + 79.5, 1.5),
        (format!("{set}.lt.gauge.temperature"), 273.15 + 32.0, 1.5),
        (format!("{set}.engine.lube-temperature"), 273.15 + 61.5, 1.5),
    ];
    let warm = warm.iter().filter(|_| !set.is_empty()).map(|(name, value, by)| (name.as_str(), *value, *by));
    for (reading, expected, by) in always.iter().chain(found.says).copied().chain(warm) {
        let value = hands.value(reading);
        let off = (value - expected).abs();
        assert!(off <= by, "{}, {}: {reading} is {value}, not {expected}", found.ship, found.state);
    }
}

/// Blackout: the main switchboard is dead at once and no set takes it; the emergency set is ordered to start after two
/// seconds and takes its board; what restarts by hand stays off.
#[test]
fn a_blackout_under_way_takes_its_course() {
    for ship in &SHIPS {
        let mut hands = Hands::on_ship(ship.name, "blackout under way", "");
        hands.run(1.0);
        assert!(hands.value("dg1.breaker.bus-voltage") < 20.0);
        assert!(hands.value("control.supply.voltage") > 23.0, "the battery holds the control supply");
        let ordered = hands.until(5.0, |h| h.value("eg.controls.phase") > 0.5).expect("a start order");
        assert!((0.5..1.5).contains(&ordered), "ordered {ordered} s after the first second");
        let live = hands.until(44.0, |h| h.value("esb.transfer.voltage") > 380.0).expect("emergency supply");
        eprintln!("{}: emergency switchboard live after {:.1} s", ship.name, 1.0 + ordered + live);
        hands.run(120.0);
        for set in ship.sets {
            assert!(!hands.is(&format!("{set}.breaker.closed")), "{}: {set}", ship.name);
        }
        assert!(!hands.is("sea.pump.1.running") && hands.is("preheat.pump.running"));
    }
}

/// What stands in the way of each standby set is what the state says.
#[test]
fn a_blackout_shows_why_no_set_came() {
    let mut hands = Hands::on_ship("quillmere", "blackout under way", "");
    hands.run(30.0);
    assert!(hands.value("dg1.controls.shutdown") > 0.5 && hands.value("dg1.breaker.tripped") > 0.5);
    assert_eq!(hands.value("dg2.controls.shutdown"), 5.0, "start failure");
    assert_eq!(hands.value("dg2.controls.tries"), 3.0);
    assert!(hands.value("dg3.standby.mode") < 0.5);
    let mut hands = Hands::on_ship("tamberwick", "blackout under way", "");
    hands.run(30.0);
    let codes: Vec<&str> = hands.blocks_remote("start dg1.controls").iter().map(|block| block.code).collect();
    assert_eq!(codes, ["not-primed"]);
    assert_eq!(hands.value("tg.turbine.tripped"), 2.0, "vacuum");
    assert!(hands.value("dg2.standby.mode") < 0.5 && hands.blocks_remote("start dg2.controls").is_empty());
}
