//! The fault catalogue of both ships: each fault of each component, injected alone in a state of the ship in which the
//! component is at work, must show somewhere where people look, and must let itself be lifted.
//!
//! `cargo test -p deadship-plant --test faults -- --nocapture` prints how each shows, and what stays invisible and why.

mod air;
mod catalogue;
mod flat;
mod onset;
mod people;
mod ships;
mod untrue;
