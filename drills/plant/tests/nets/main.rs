//! The nets under random circuits: what must hold whatever is joined to what.
//!
//! Sources: conservation of mass and energy; that a network of resistances with rising characteristics has pressures
//! between those of its boundaries and follows them without overshoot (maximum and comparison principle of M-matrices,
//! any text on numerical linear algebra).

mod air;
mod heat;
mod liquid;

use proptest::test_runner::{Config, RngSeed};

/// The same cases on every run and every machine.
fn config(cases: u32) -> Config {
    Config { cases, failure_persistence: None, rng_seed: RngSeed::Fixed(20_240_229), ..Config::default() }
}
