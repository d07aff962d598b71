//! What three people do in the first drill, each at a station: the same for links, for screens and for lines.

use Step::{Above, Do, Shows};

/// What one of the team does next.
#[derive(Clone, Copy, Debug)]
pub enum Step {
    /// Give this order, again and again while hands are busy or something is not ready yet.
    Do(&'static str),
    /// Wait until a reading is above a number.
    Above(&'static str, f64),
    /// Wait until a reading shows a word.
    Shows(&'static str, &'static str),
}
/// The engine room's part.
pub fn engine() -> Vec<Step> {
    vec![
        Do("go generator-flat"),
        Do("close air.receiver.emergency.drain"),
        Do("start air.compressor.emergency"),
        Do("start dg1.priming"),
        Shows("dg1.sump.tank.volume", "399 L"),
        Do("stop dg1.priming"),
        Do("close dg1.sump.drain"),
        Do("open dg1.sump.filling"),
        Do("open fw.expansion.filling"),
        Do("open dg1.ht.valve"),
        Do("open dg1.lt.valve"),
        Shows("air.compressor.emergency.overload-tripped", "yes"),
        Do("reset air.compressor.emergency"),
        Do("start air.compressor.emergency"),
        Above("dg1.sump.tank.volume", 505.0),
        Do("close dg1.sump.filling"),
        Do("start dg1.priming"),
        Do("go purifier-flat"),
        Do("reset fuel.diesel.quick-closing"),
        Do("open fuel.diesel.quick-closing"),
        Do("go generator-flat"),
        Do("set fuel.changeover diesel"),
        Do("open dg1.fuel.valve"),
        Do("open dg1.fuel.standby"),
        Do("start fuel.pump.standby"),
        Do("close fw.expansion.filling"),
        Do("go floor-plates"),
        Do("open sea.chest.low.valve"),
        Do("open dg1.sea.inlet"),
        Do("open dg1.sea.outlet"),
        Do("open sea.overboard.valve"),
        Do("close sea.me.valve"),
        Do("start sea.pump.harbour"),
        Do("go generator-flat"),
        Do("open air.receiver.emergency.valve"),
        Do("open dg1.air.valve"),
        Do("set dg1.controls turning-gear out"),
        Do("reset dg1.controls"),
        Above("dg1.engine.start-air-pressure", 18.0),
        Shows("dg1.controls.primed", "yes"),
        Do("start dg1.controls"),
        Shows("dg1.controls.phase", "running"),
        Do("set dg1.controls remote"),
        Do("set dg1.priming.switch automatic"),
        Do("say DG 1 runs, control is remote"),
    ]
}

/// The control room's part.
pub fn boards() -> Vec<Step> {
    vec![
        Shows("dg1.controls.phase", "running"),
        Shows("dg1.controls.control", "remote"),
        Do("set dg1.generator excitation on"),
        Above("dg1.generator.voltage", 430.0),
        Do("start msb.insulation"),
        Do("close dg1.breaker"),
        Do("set esb.transfer normal"),
        Shows("esb.transfer.supply", "normal"),
        Do("close panel.1.breaker"),
        Do("close panel.2.breaker"),
        Do("start sea.pump.1"),
        Do("start sea.pump.harbour"),
        Do("close transformer.1"),
        Do("close board.1.breaker"),
        Do("close board.2.breaker"),
        Do("start fan.engine-room.1"),
        Do("start fan.engine-room.2"),
        Do("start fan.purifier-room"),
        Do("start fan.accommodation"),
        Do("start fan.control-rooms"),
        Do("ack all"),
        Do("set dg1.standby automatic"),
    ]
}

/// The emergency generator room's part.
pub fn emergency() -> Vec<Step> {
    vec![
        Do("go emergency-room"),
        Shows("esb.transfer.supply", "normal"),
        Do("set eg.controls local"),
        Above("eg.controls.unloaded-for", 180.0),
        Do("stop eg.controls"),
        Shows("eg.controls.phase", "stopped"),
        Do("set eg.controls remote"),
    ]
}

/// Refusals that pass by themselves.
pub const PASSING: &[&str] = &[
    "busy",
    "walking",
    "not-here",
    "normal-not-steady",
    "normal-not-available",
    "blocking-alert",
    "not-primed",
];

/// The number with which a reading begins.
pub fn number(text: &str) -> f64 {
    text.split(' ').next().and_then(|number| number.parse().ok()).unwrap_or(f64::NAN)
}

impl Step {
    /// Is it done, by these readings? Something to do is never done by looking.
    pub fn is_seen(&self, reading: impl Fn(&str) -> Option<String>) -> bool {
        match self {
            Do(_) => false,
            Above(name, limit) => reading(name).is_some_and(|text| number(&text) > *limit),
            // The level at the alarm is passed, not hit.
            Shows("dg1.sump.tank.volume", limit) => {
                reading("dg1.sump.tank.volume").is_some_and(|text| number(&text) <= number(limit))
            }
            Shows(name, word) => reading(name).as_deref() == Some(*word),
        }
    }

    /// The reading that it waits for.
    pub fn reading(&self) -> Option<&'static str> {
        match self {
            Do(_) => None,
            Above(reading, _) | Shows(reading, _) => Some(reading),
        }
    }
}
