//! Rooms: their air, what warms it, what airs them.

use crate::harness::{Check, Errors, Reference, Trial};

const ZERO_C_K: f64 = 273.15;
/// The model's air at 35 degC and 1,013.25 mbar, kg/m3, and its specific heat, J/(kg K).
const AIR_KG_M3: f64 = 101_325.0 / (287.055 * 308.15);
const CP_AIR: f64 = 1004.7;

/// The checks of this net.
pub const CHECKS: &[Check] = &[
    Check {
        name: "room/aired-rise",
        source: "engine_room_air.csv er1 (analytic)",
        tolerance: 0.05,
        run: |errors| rises("er1", errors),
    },
    Check {
        name: "room/shut-rise",
        source: "engine_room_air.csv er4 (analytic)",
        tolerance: 0.05,
        run: |errors| rises("er4", errors),
    },
    Check {
        name: "room/aired-at-rest",
        source: "engine_room_air.csv er1 (analytic)",
        tolerance: 0.02,
        run: at_rest,
    },
    Check {
        name: "room/iso-8861-heat",
        source: "ventilation_iso8861.csv (form of ISO 8861:1998 from memory): 12.5 K",
        tolerance: 0.02,
        run: iso_8861,
    },
    Check {
        name: "room/generator-heat-example",
        source: "public note on generator-set ventilation, read: 975 kW at 92 % give 84.78 kW",
        tolerance: 0.02,
        run: generator_heat,
    },
    Check {
        name: "room/fan-stopped",
        source: "closed form of the single-node balance, before and after",
        tolerance: 0.05,
        run: fan_stopped,
    },
];

fn rises(case: &str, errors: &mut Errors) {
    let table = Trial::of("room").from("reference").read(3600.0, 60.0, "*.temperature");
    let reference = Reference::read("engine_room_air.csv");
    for row in reference.case(case) {
        let time_s = row.get("time_s");
        let got = table.at(time_s, &format!("{case}.temperature")) - ZERO_C_K - row.get("t_init");
        errors.add(&format!("{time_s} s"), got, row.get("t_degC") - row.get("t_init"));
    }
}

fn at_rest(errors: &mut Errors) {
    let table = Trial::of("room").from("reference").read(3600.0, 60.0, "*.temperature");
    let reference = Reference::read("engine_room_air.csv");
    let rows = reference.case("er1");
    let last = rows.last().expect("rows");
    let got = table.at(last.get("time_s"), "er1.temperature") - ZERO_C_K - last.get("t_init");
    errors.add("er1", got, last.get("t_degC") - last.get("t_init"));
}

/// With the air that the standard asks for against heat, a room is 12.5 K warmer than outside.
fn iso_8861(errors: &mut Errors) {
    let table = Trial::of("room-heat").from("aired").read(10_800.0, 600.0, "row-*.room.temperature");
    for row in 1..=Reference::read("ventilation_iso8861.csv").rows().len() {
        let rise = table.at(10_800.0, &format!("row-{row}.room.temperature")) - ZERO_C_K - 35.0;
        errors.add(&format!("row {row}"), rise, 12.5);
    }
}

/// Its losses, and what the air of the room carries away when nothing changes any more.
fn generator_heat(errors: &mut Errors) {
    let table = Trial::of("room-heat").from("aired").read(3600.0, 60.0, "generator.*");
    errors.add("losses", table.at(3600.0, "generator.machine.loss"), 84.78e3);
    let rise = table.at(3600.0, "generator.room.temperature") - ZERO_C_K - 35.0;
    let carried = rise * CP_AIR * AIR_KG_M3 * table.at(3600.0, "generator.room.ventilation");
    errors.add("carried away", carried, 84.78e3);
}

/// A quarter of an hour with the fan, then half an hour without it.
fn fan_stopped(errors: &mut Errors) {
    let table = Trial::of("room-heat").from("aired").at(900.0, "set stopped.drive speed 0 rpm").read(
        2700.0,
        60.0,
        "stopped.room.temperature",
    );
    let capacity = 900.0 * AIR_KG_M3 * CP_AIR * 3.0;
    let rise_after = |before: f64, air_m3_s: f64, time_s: f64| {
        let rate = air_m3_s * AIR_KG_M3 * CP_AIR + 700.0;
        let end = 120e3 / rate;
        end + (before - end) * libm::exp(-time_s * rate / capacity)
    };
    let stopped_at = rise_after(0.0, 12.0, 900.0);
    for time_s in [120.0, 300.0, 900.0, 1200.0, 1800.0, 2700.0] {
        let want = match time_s <= 900.0 {
            true => rise_after(0.0, 12.0, time_s),
            false => rise_after(stopped_at, 0.3, time_s - 900.0),
        };
        let got = table.at(time_s, "stopped.room.temperature") - ZERO_C_K - 35.0;
        errors.add(&format!("{time_s} s"), got, want);
    }
}
