//! The closing record of a run: its events as recorded, its readings once a second, its report, and checksums, so that it
//! can be read for ever, whatever later versions of the model compute.
//!
//! A seal is lines of text: sixteen hexadecimal digits of a BLAKE3 checksum of the rest of the line, a blank, the word of
//! the part, a blank, and one JSON value. The last line has a checksum of every byte before it. `docs/exports.md` has every
//! field. Nothing here touches a file.

mod block;
mod read;
mod write;

pub use read::{Damage, Seal, SealError, SealedEvent, looks_like_seal, open};
pub use write::{Sealing, Written, seal};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

/// What the head calls the format.
pub const FORMAT: &str = "deadship-seal";
/// Version of the format.
pub const VERSION: u32 = 1;
/// Ticks from one row of readings to the next.
pub const EVERY_TICKS: u64 = 20;
/// Rows of a block: five minutes.
const BLOCK_ROWS: usize = 300;
/// Digits of a line's checksum.
const SUM_DIGITS: usize = 16;

/// The first line: what this is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Head {
    /// [`FORMAT`].
    pub format: String,
    /// Version of the format.
    pub version: u32,
    /// Run.
    pub run: Uuid,
    /// Name of the ship.
    pub ship: String,
    /// Name of the drill.
    pub drill: String,
    /// Version of the model that made the run.
    pub model: u32,
    /// Length of a tick, s.
    pub tick_s: f64,
    /// Had the run ended?
    pub ended: bool,
    /// What wrote the seal.
    pub by: String,
}

/// A column of readings.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Column {
    /// `component.reading`.
    pub name: String,
    /// SI unit; empty for states and counts, `1` for shares.
    pub unit: String,
    /// Which list of words its values are numbers of, from 0.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub words: Option<usize>,
}

/// The readings, before their values.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Columns {
    /// Version of the model that computed them.
    pub model: u32,
    /// Ticks from one row to the next; the first row is tick 0.
    pub every_ticks: u64,
    /// Where that model differed from the record: how. The rows end before, at the last state that was proven equal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub difference: Option<String>,
    /// The columns, in the order of the values.
    pub columns: Vec<Column>,
    /// Words of states.
    pub word_lists: Vec<Vec<String>>,
}

/// Values of some rows.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Block {
    /// Number of its first row, from 0.
    pub first_row: u64,
    /// How many rows.
    pub rows: u64,
    /// Column after column, each value 64 bits (IEEE 754 binary64, the lowest byte first), compressed by zlib (RFC 1950),
    /// in base 64 (RFC 4648).
    pub data: String,
}

/// The last line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct End {
    /// Events.
    pub events: u64,
    /// Rows of readings.
    pub rows: u64,
    /// Lines before this one.
    pub lines: u64,
    /// BLAKE3 of every byte before this line, 64 hexadecimal digits.
    pub blake3: String,
}

/// The checksum of a line: of what stands after it and the blank.
fn sum_of(rest: &[u8]) -> String {
    let mut digits = blake3::hash(rest).to_hex().to_string();
    digits.truncate(SUM_DIGITS);
    digits
}

#[cfg(test)]
mod tests;
