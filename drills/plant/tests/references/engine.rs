//! Engine, governor and shaft.

use super::rig::{Check, Rig, Row, Table};
use deadship_plant::kind::Verb;

const RIG: &str = include_str!("../../../data/rigs/engine-governor.toml");
const RATED_RAD_S: f64 = 94.247_779_607_693_8;

/// Opens or shuts the damper of a set's fan and compares the speed that follows; `sign` is that of the load step.
fn step(name: &str, rows: &[Row<'_>], verb: Verb, sign: f64, what: &'static str) {
    let mut rig = Rig::new(RIG, Some("running"));
    // The first tick has no load yet; the governor needs some time to forget that.
    rig.run(60.0);
    let speed = |rig: &Rig| rig.value(&format!("{name}.engine.speed")) / RATED_RAD_S;
    assert!((speed(&rig) - 1.0).abs() < 1e-6, "{name} begins at {}", speed(&rig));
    let before = speed(&rig);
    rig.act(&format!("{name}.step"), verb, "", 0.0);
    // The fan gives its new load to the shaft at the end of this tick.
    rig.tick();
    let start_s = rig.time_s();
    let largest = rows.iter().map(|row| row.get("dw_pu").abs()).fold(0.0, f64::max);
    let mut check = Check::new(what, 0.05);
    for row in rows.iter().filter(|row| row.get("time_s") > 0.0) {
        rig.run_to(start_s + row.get("time_s"));
        let label = format!("{} s", row.get("time_s"));
        check.add_of(&label, speed(&rig) - before, sign * row.get("dw_pu"), largest);
    }
    check.finish();
}

/// reference/governor_swing_step.csv: exact matrix exponential, scipy 1.17.1.
#[test]
fn governors() {
    let table = Table::new(include_str!("../../../data/rigs/reference/governor_swing_step.csv"));
    step("iso", &table.case("iso_a"), Verb::Open, 1.0, "governor without droop, speed after more load");
    step("droop", &table.case("droop_a"), Verb::Close, -1.0, "governor with droop, speed after less load");
}

/// reference/droop_sharing.csv: f = f0 - R P, each machine by itself.
#[test]
fn droop() {
    let mut rig = Rig::new(RIG, Some("running"));
    rig.run(60.0);
    let table = Table::new(include_str!("../../../data/rigs/reference/droop_sharing.csv"));
    let rows = table.rows();
    let mut fall = Check::new("droop, fall of frequency", 0.02);
    let mut frequency = Check::new("droop, frequency", 0.001);
    for (name, row) in [("shared-3", rows[2]), ("shared-7", rows[6])] {
        let got = rig.value(&format!("{name}.engine.speed")) / RATED_RAD_S * 60.0;
        fall.add(name, row.get("f1_noload") - got, row.get("f1_noload") - row.get("f_Hz"));
        frequency.add(name, got, row.get("f_Hz"));
        let power = rig.value(&format!("{name}.engine.shaft-power"));
        fall.add(&format!("{name}, power"), power, row.get("P1_W"));
    }
    fall.finish();
    frequency.finish();
}
