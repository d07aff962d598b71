//! The ships as the tests need to know them: names and figures, no more.

/// What a test needs to know of a ship.
pub struct Ship {
    /// Folder of her files.
    pub name: &'static str,
    /// Her diesel generators.
    pub sets: &'static [&'static str],
    /// Rated power of one of them, W.
    pub set_w: f64,
    /// Rated power of her emergency generator, W.
    pub emergency_w: f64,
    /// Speed of a set, rpm.
    pub set_rpm: f64,
    /// State with two of them in parallel.
    pub in_parallel: &'static str,
    /// Feeders without which the sets are still cooled and fed.
    pub feeders: &'static [&'static str],
    /// Her largest motor that starts direct on line on the main switchboard.
    pub largest_motor: &'static str,
    /// Starts of her main engine without refilling: six, and twelve where it is reversed.
    pub main_engine_starts: u32,
    /// What it needs beside air: water, oil, and for a start at zero pitch its pump.
    pub main_engine_needs: &'static [&'static str],
    /// What a set at 60 % without sea water reaches: reading, degC, minutes by heat balance.
    pub without_sea_water: &'static [(&'static str, f64, f64)],
    /// Temperatures at 60 %, degC by heat balance, and how near: HT out, LT in, oil in, charge air.
    pub at_60: [(f64, f64); 4],
}

/// HT out, LT in, oil in, charge air of the first set.
pub const TEMPERATURES: [&str; 4] = [
    "dg1.ht.thermostat.temperature",
    "dg1.lt.gauge.temperature",
    "dg1.engine.lube-temperature",
    "dg1.charge-air.air-temperature",
];

/// Times are those of a lumped model of the ship's own figures, which shares no code with the plant; those of the
/// second ship are its times for the first by the ratio of heat over capacity of the two sets, 1.04.
pub const SHIPS: [Ship; 2] = [
    Ship {
        name: "quillmere",
        sets: &["dg1", "dg2", "dg3"],
        set_w: 600e3,
        emergency_w: 120e3,
        set_rpm: 900.0,
        in_parallel: "at sea, two sets",
        feeders: &["board.2", "board.3"],
        largest_motor: "load.ballast.1",
        main_engine_starts: 6,
        main_engine_needs: &["me.lube.standby", "me.lt.pump.1", "me.ht.standby", "load.pitch.1"],
        without_sea_water: &[
            ("dg1.lt.gauge.temperature", 46.0, 1.6),
            ("dg1.charge-air.air-temperature", 60.0, 3.0),
            ("dg1.engine.lube-temperature", 75.0, 6.2),
            ("dg1.engine.ht-temperature", 92.0, 10.2),
            ("dg1.engine.ht-temperature", 97.0, 12.3),
        ],
        at_60: [(79.3, 1.0), (32.6, 1.0), (61.4, 1.5), (40.1, 1.0)],
    },
    Ship {
        name: "tamberwick",
        sets: &["dg1", "dg2"],
        set_w: 950e3,
        emergency_w: 250e3,
        set_rpm: 720.0,
        in_parallel: "in port",
        feeders: &["board.2", "board.3", "board.cargo"],
        largest_motor: "sea.pump.1",
        main_engine_starts: 12,
        main_engine_needs: &["me.lube.pump.1", "me.lt.pump.1", "me.ht.pump.1"],
        without_sea_water: &[
            ("dg1.lt.gauge.temperature", 46.0, 1.66),
            ("dg1.charge-air.air-temperature", 60.0, 3.1),
            ("dg1.engine.lube-temperature", 75.0, 6.4),
            ("dg1.engine.ht-temperature", 92.0, 10.6),
            ("dg1.engine.ht-temperature", 97.0, 12.8),
        ],
        at_60: [(79.3, 1.0), (32.6, 1.0), (61.4, 1.5), (40.1, 1.5)],
    },
];

impl Ship {
    /// A load bank of the rated power of a set on the main switchboard, power factor 0.8.
    pub fn load_bank(&self) -> String {
        bank("bank", "msb", self.set_w)
    }
}

/// A load bank on a board.
pub fn bank(name: &str, board: &str, power_w: f64) -> String {
    format!(
        "[[load]]\nname = \"{name}\"\ntitle = \"Load bank\"\nplace = \"control-room\"\nsupply = \"{board}\"\n\
         power = \"{} kW\"\npower-factor = \"80 %\"\nuse = \"0 %\"\n",
        power_w / 1e3
    )
}
