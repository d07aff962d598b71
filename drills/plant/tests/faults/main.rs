//! The fault catalogue of both ships: each fault of each component, injected alone in a state of the ship in which the
//! component is at work, or beside the failure that it is there for, must show somewhere where people look, and must let
//! itself be lifted; a sensor that deceived then shows the truth.
//!
//! `cargo test -p deadship-plant --test faults -- --ignored --nocapture` prints how each shows, and what stays invisible and
//! why; `SEARCH_ALL=1` searches as if nothing were known of where each shows (most of an hour of one core). `FAULTS=thermostat,dg3.` in the environment keeps the pairs that contain one of these words.

mod air;
mod catalogue;
mod failures;
mod flat;
mod onset;
mod people;
mod reasons;
mod search;
mod sequences;
mod ships;
mod untrue;
mod ways;
