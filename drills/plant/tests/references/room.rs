//! The air of an engine room.

use super::rig::{Check, Rig, Row, Table, ZERO_C_K};

/// reference/engine_room_air.csv: analytic single-node balance.
#[test]
fn engine_rooms() {
    let mut rig = Rig::new(include_str!("../../../data/rigs/room.toml"), Some("reference"));
    let table = Table::new(include_str!("../../../data/rigs/reference/engine_room_air.csv"));
    let (aired, shut) = (table.case("er1"), table.case("er4"));
    let mut rises = Check::new("engine rooms, rise of temperature", 0.05);
    let rise = |row: &Row<'_>| row.get("t_degC") - row.get("t_init");
    let got = |rig: &Rig, row: &Row<'_>, name: &str| {
        rig.value(&format!("{name}.temperature")) - ZERO_C_K - row.get("t_init")
    };
    for (a, s) in aired.iter().zip(&shut) {
        rig.run_to(a.get("time_s"));
        let label = format!("{} s", a.get("time_s"));
        rises.add(&format!("er1 at {label}"), got(&rig, a, "er1"), rise(a));
        rises.add(&format!("er4 at {label}"), got(&rig, s, "er4"), rise(s));
    }
    rises.finish();
    let last = aired.last().expect("rows");
    let mut steady = Check::new("engine room aired, steady rise", 0.02);
    steady.add("er1", got(&rig, last, "er1"), rise(last));
    steady.finish();
}
