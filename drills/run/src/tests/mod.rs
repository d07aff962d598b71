//! Tests of whole runs, on a small ship of their own.

mod annunciation;
mod asking;
mod by_objective;
mod dials;
mod envelopes;
mod extends;
mod failure;
mod files;
pub(crate) mod kit;
mod life;
mod notes;
mod orders;
mod plans;
mod proof;
mod random;
mod ratings;
mod reel;
mod refusals;
mod removal;
mod replay;
mod reports;
