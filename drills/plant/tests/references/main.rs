//! The plant against references from outside: rigs of few components, stepped and compared with tables.
//!
//! Tables stand in `drills/data/rigs/reference`, each with its source in its first line; rigs in `drills/data/rigs`,
//! each with what it checks, from where, and how closely. Tolerances are those that the sources support: properties
//! 1 %, steady flows and heat 2 %, transients 5 %. Every test prints the error that it found.

mod air;
mod engine;
mod heat;
mod liquid;
mod properties;
mod propulsion;
mod rig;
mod room;
