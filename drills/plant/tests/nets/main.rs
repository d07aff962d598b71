//! The nets under random circuits: what must hold whatever is joined to what.
//!
//! Sources: conservation of mass and energy; that a network of resistances with rising characteristics has pressures
//! between those of its boundaries and follows them without overshoot (maximum and comparison principle of M-matrices,
//! any text on numerical linear algebra).

mod air;
mod heat;
mod liquid;
