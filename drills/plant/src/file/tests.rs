//! Tests of ship files, with a few small kinds of our own.

mod bad;
mod drains;
mod good;
mod joined;
mod kinds;
mod random;

use super::read_ship;
use crate::spec::{Problem, ShipSpec};

/// Reads one file.
fn read(text: &str) -> Result<ShipSpec, Vec<Problem>> {
    read_ship(&kinds::ALL, &[("ship.toml".to_owned(), text.to_owned())])
}

/// What is said about one file, a line each.
fn said(text: &str) -> Vec<String> {
    read(text).err().unwrap_or_default().iter().map(ToString::to_string).collect()
}
