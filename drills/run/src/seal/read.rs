//! From the bytes of a seal to what is in it, also of a damaged one: each line proves itself.

use super::{Block, Columns, End, FORMAT, Head, SUM_DIGITS, VERSION, block, sum_of};
use serde::de::DeserializeOwned;

/// Why bytes give nothing.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SealError {
    /// No line of it is one of a seal.
    #[error("it is not a seal, or nothing of it is whole")]
    NotASeal,
    /// Written by a later version of the program.
    #[error(
        "it is a seal of version {found}, and this version of the program reads up to {VERSION}: take a newer one"
    )]
    Newer {
        /// Version found.
        found: u32,
    },
}

/// Something that is not as it was written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {what}")]
pub struct Damage {
    /// Line, from 1.
    pub line: u64,
    /// What is wrong.
    pub what: String,
}

/// An event as recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SealedEvent {
    /// Line of the seal, from 1.
    pub line: u64,
    /// Its text, as [`crate::Envelope::decode`] reads it.
    pub text: String,
}

/// What could be read.
#[derive(Clone, Debug, Default)]
pub struct Seal {
    /// The first line.
    pub head: Option<Head>,
    /// The events, in order.
    pub events: Vec<SealedEvent>,
    /// The readings' columns.
    pub columns: Option<Columns>,
    /// Their values, in order.
    pub blocks: Vec<Block>,
    /// The report, as JSON.
    pub debrief: Option<String>,
    /// The last line.
    pub end: Option<End>,
    /// All that is damaged; none: it is whole.
    pub damages: Vec<Damage>,
}

impl Seal {
    /// Is every byte as it was written?
    pub fn is_whole(&self) -> bool {
        self.damages.is_empty()
    }

    /// Rows of readings that can be read.
    pub fn rows(&self) -> u64 {
        self.blocks.iter().fold(0, |rows, block| rows.saturating_add(block.rows))
    }

    /// The values of a block, column after column; `None`: it does not hold what it says.
    pub fn values(&self, block: &Block) -> Option<Vec<f64>> {
        block::values(block, self.columns.as_ref()?.columns.len())
    }

    /// The row of readings that stands at this tick or the last one before, and its tick.
    pub fn row_at(&self, tick: u64) -> Option<(u64, Vec<f64>)> {
        let every = self.columns.as_ref()?.every_ticks.max(1);
        let row = tick / every;
        let block = self
            .blocks
            .iter()
            .find(|block| row.checked_sub(block.first_row).is_some_and(|within| within < block.rows))?;
        let values = self.values(block)?;
        let (rows, within) =
            (usize::try_from(block.rows).ok()?, usize::try_from(row - block.first_row).ok()?);
        Some((row.saturating_mul(every), values.chunks(rows).map(|column| column[within]).collect()))
    }
}

/// Do these bytes begin as a seal does? Enough to tell one from an archive.
pub fn looks_like_seal(bytes: &[u8]) -> bool {
    let digits = bytes.get(..SUM_DIGITS).is_some_and(|sum| sum.iter().all(u8::is_ascii_hexdigit));
    digits && bytes[SUM_DIGITS..].starts_with(b" head ")
}

/// Reads a seal, and takes note of all that is damaged.
///
/// # Errors
/// Nothing of it is that of a seal that this version reads.
pub fn open(bytes: &[u8]) -> Result<Seal, SealError> {
    let mut seal = Seal::default();
    let (mut at, mut line) = (0, 0);
    let mut any = false;
    while at < bytes.len() {
        line += 1;
        let length = bytes[at..].iter().position(|byte| *byte == b'\n');
        let text = &bytes[at..length.map_or(bytes.len(), |length| at + length)];
        if seal.end.is_some() {
            seal.damage(line, "it stands after the closing line");
        }
        match proven(text) {
            None => seal.damage(line, "it is not as it was written"),
            Some((part, json)) => {
                any = true;
                seal.take(line, part, json, &bytes[..at])?;
            }
        }
        if length.is_none() {
            seal.damage(line, "its end is missing");
        }
        at += text.len() + 1;
    }
    if !any {
        return Err(SealError::NotASeal);
    }
    seal.complete(line);
    Ok(seal)
}

/// Part and value of a line that is as it was written.
fn proven(line: &[u8]) -> Option<(&str, &str)> {
    let text = str::from_utf8(line).ok()?;
    let (sum, rest) = text.split_once(' ')?;
    (sum == sum_of(rest.as_bytes())).then(|| rest.split_once(' '))?
}

impl Seal {
    fn damage(&mut self, line: u64, what: &str) {
        self.damages.push(Damage { line, what: what.to_owned() });
    }

    fn take(&mut self, line: u64, part: &str, json: &str, before: &[u8]) -> Result<(), SealError> {
        match part {
            "head" => {
                // The version first: a newer head may have other fields.
                let value: serde_json::Value = serde_json::from_str(json).unwrap_or_default();
                let version = value["version"].as_u64().and_then(|version| u32::try_from(version).ok());
                match version {
                    _ if value["format"] != FORMAT => self.damage(line, "it is the head of another format"),
                    Some(found) if found > VERSION => return Err(SealError::Newer { found }),
                    _ => self.head = self.parsed(line, json),
                }
            }
            "event" => self.events.push(SealedEvent { line, text: json.to_owned() }),
            "columns" => self.columns = self.parsed(line, json),
            "block" => {
                if let Some(block) = self.parsed(line, json) {
                    self.block(line, block);
                }
            }
            "debrief" => self.debrief = Some(json.to_owned()),
            "end" => {
                self.end = self.parsed(line, json);
                let fits = |end: &End| end.blake3 == blake3::hash(before).to_hex().as_str();
                if self.end.as_ref().is_some_and(|end| !fits(end)) && self.damages.is_empty() {
                    self.damage(line, "lines before it are missing, moved or others");
                }
            }
            other => self.damage(line, &format!("a part `{other}` is not known")),
        }
        Ok(())
    }

    /// A block is kept if its values can be had.
    fn block(&mut self, line: u64, block: Block) {
        match self.columns.is_some() && self.values(&block).is_none() {
            true => self.damage(line, "its values cannot be unpacked"),
            false => self.blocks.push(block),
        }
    }

    fn parsed<T: DeserializeOwned>(&mut self, line: u64, json: &str) -> Option<T> {
        let parsed = serde_json::from_str(json);
        if let Err(error) = &parsed {
            self.damage(line, &error.to_string());
        }
        parsed.ok()
    }

    /// What should be there and is not.
    fn complete(&mut self, last: u64) {
        let end = self.end.clone();
        match end {
            None => self.damage(last, "the closing line is missing: the file was cut short"),
            Some(end) if self.is_whole() => {
                let (events, rows) = (self.events.len() as u64, self.rows());
                if (end.events, end.rows, end.lines.saturating_add(1)) != (events, rows, last) {
                    self.damage(last, "the counts of the closing line do not fit");
                }
            }
            Some(_) => {}
        }
        let missing = [
            (self.head.is_none(), "head"),
            (self.columns.is_none(), "columns"),
            (self.debrief.is_none(), "debrief"),
        ];
        for (_, part) in missing.into_iter().filter(|(missing, _)| *missing) {
            self.damage(last, &format!("the part `{part}` is missing"));
        }
    }
}
