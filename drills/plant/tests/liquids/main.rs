//! Fuels, pipes, drains and what else belongs to liquids, each against a source outside the project.

#[path = "../references/rig.rs"]
#[allow(dead_code, unused_imports)]
mod rig;

#[path = "../ship/hands.rs"]
#[allow(dead_code)]
mod hands;

mod air;
mod chest;
mod fuel;
mod gear_pump;
mod pipes;
mod ship;
mod trapped_air;
