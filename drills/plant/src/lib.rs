//! deadship's plant: ship and rig files in, a plant out that can be stepped.
//!
//! A ship is data. This crate knows *kinds* of component ([`kinds`]) and a few *nets* ([`nets`]), never a particular
//! ship. It has no clock, no files, no sockets and no randomness of its own: the same ship, the same start state
//! and the same acts give the same numbers, to the bit, on every machine.
//!
//! The way in: [`file::read_ship`] decodes text to a [`spec::ShipSpec`]; [`Plant::new`] compiles it; [`Plant::step`]
//! advances it by one tick of [`TICK_S`]; [`Plant::permit`] and [`Plant::act`] are what hands can do.
//!
//! Training data and simplified physics: never for use on board.

pub mod compile;
pub mod ctx;
pub mod digest;
pub mod file;
pub mod fluid;
pub mod kind;
pub mod kinds;
pub mod nets;
pub mod plant;
pub mod spec;
pub mod unit;

pub use plant::Plant;

/// Length of a tick, s. Part of what makes a run reproducible: it never changes within a model version.
pub const TICK_S: f64 = 0.05;
/// Sub-steps of a tick for what is electric or turns.
pub const SUBSTEPS: u32 = 10;
/// Length of a sub-step, s.
pub const SUBSTEP_S: f64 = TICK_S / SUBSTEPS as f64;
/// Ticks between two steps of the heat net.
pub const HEAT_TICKS: u64 = 4;
/// Version of the model: raised whenever the same inputs give other numbers.
pub const MODEL_VERSION: u32 = 5;
