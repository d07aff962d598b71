//! What stays invisible to the probes, and why. A reason stands for one component of one ship, or for a kind's fault under
//! a condition that is looked up in the plant, so that a new component is not excused by its fault's name. A reason whose
//! pair does show is stale, and the test says so.

use deadship_plant::Plant;

const NO_AIR: &str = "it stands open, or has no air before it";
const SPARE_FEED: &str = "it feeds only when both feed pumps of its line have failed";
const LINE_OPEN: &str = "no probe shuts the line of this pump while it runs alone";
const PRESSURE_STAYS: &str = "no probe brings the pressure between its setting and where that drifts to";
const COLD_SET: &str = "this set never gets warm enough in the states for its thermostat to open";
const AT_SEA_LEVEL: &str = "the sea's own node counts its pressure from sea level, so its gauge pressure is zero and nothing runs out";
const WARM_SEA: &str = "no state is in a sea that is cold enough for slush";
const OTHER_CHOSEN: &str = "no probe fails the running pump while this pair has chosen the other";
const STILL_ON: &str = "no probe lasts until its thermostat takes it off";

/// Ship, component and fault, reason.
const OF_ONE: &[(&str, &str, &str)] = &[
    ("quillmere", "air.receiver.1.filling.leaks-through", NO_AIR),
    ("quillmere", "air.receiver.2.filling.leaks-through", NO_AIR),
    ("quillmere", "dg3.fuel.gravity.blocked", SPARE_FEED),
    ("quillmere", "dg3.ht.thermostat.opens-late", COLD_SET),
    ("quillmere", "dg3.ht.thermostat.stuck", COLD_SET),
    ("quillmere", "dg3.lube.thermostat.opens-late", COLD_SET),
    ("quillmere", "dg3.lube.thermostat.stuck", COLD_SET),
    ("quillmere", "fuel.booster.2.end.relief-stuck-shut", LINE_OPEN),
    ("quillmere", "fuel.pump.standby.end.relief-stuck-shut", LINE_OPEN),
    ("quillmere", "me.lube.standby.switch.setting-drifts", PRESSURE_STAYS),
    ("quillmere", "pair.pitch.does-not-start", OTHER_CHOSEN),
    ("quillmere", "preheat.heater.1.contactor-welded", STILL_ON),
    ("quillmere", "sea.chest.high.ice", WARM_SEA),
    ("quillmere", "sea.chest.high.valve.gland-leaks", AT_SEA_LEVEL),
    ("quillmere", "sea.chest.low.ice", WARM_SEA),
    ("quillmere", "sea.chest.low.valve.gland-leaks", AT_SEA_LEVEL),
    ("tamberwick", "air.receiver.1.filling.leaks-through", NO_AIR),
    ("tamberwick", "air.receiver.2.filling.leaks-through", NO_AIR),
    ("tamberwick", "dg2.fuel.gravity.blocked", SPARE_FEED),
    ("tamberwick", "fuel.circulating.2.end.relief-stuck-shut", LINE_OPEN),
    ("tamberwick", "fuel.pump.standby.end.relief-stuck-shut", LINE_OPEN),
    (
        "tamberwick",
        "me.engine.water-in-cylinder",
        "no probe turns or starts this engine from standstill with its cocks open",
    ),
    ("tamberwick", "pair.boiler.feed.does-not-start", OTHER_CHOSEN),
    ("tamberwick", "preheat.heater.1.contactor-welded", STILL_ON),
    ("tamberwick", "sea.chest.high.ice", WARM_SEA),
    ("tamberwick", "sea.chest.high.valve.gland-leaks", AT_SEA_LEVEL),
    ("tamberwick", "sea.chest.low.ice", WARM_SEA),
    ("tamberwick", "sea.chest.low.valve.gland-leaks", AT_SEA_LEVEL),
    (
        "tamberwick",
        "tg.breaker.fails-to-close",
        "no probe brings the turbo set in step while it is off the board",
    ),
    ("tamberwick", "tg.lube.start.switch.setting-drifts", PRESSURE_STAYS),
];

/// Is this so for a component?
type Condition = fn(&Plant, usize) -> bool;

/// Kind, fault, condition, reason.
const OF_KIND: &[(&str, &str, Condition, &str)] = &[];

/// Why a pair may stay invisible.
pub fn reason(ship: &str, plant: &Plant, component: usize, fault: usize) -> Option<&'static str> {
    let spec = &plant.compiled.spec.components[component];
    let fault = spec.kind.faults[fault].name;
    let name = format!("{}.{fault}", spec.name);
    let one = OF_ONE.iter().find(|(of, pair, _)| *of == ship && *pair == name).map(|known| known.2);
    let kind = OF_KIND
        .iter()
        .find(|(kind, of, holds, _)| *kind == spec.kind.name && *of == fault && holds(plant, component));
    one.or(kind.map(|known| known.3))
}

/// Reasons that name no pair of their ship.
pub fn of_nobody(ship: &str, pairs: &[&str]) -> Vec<&'static str> {
    let own = OF_ONE.iter().filter(|(of, _, _)| *of == ship).map(|known| known.1);
    own.filter(|pair| !pairs.contains(pair)).collect()
}
