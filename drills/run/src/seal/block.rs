//! Values of readings to text and back.

use super::Block;
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use flate2::Compression;
use flate2::read::ZlibDecoder;
use flate2::write::ZlibEncoder;
use std::io::{Read, Write};

/// Bytes of a value.
const VALUE_BYTES: usize = 8;

/// Rows on their way into a block.
pub(super) struct Rows {
    first_row: u64,
    /// Column after column.
    columns: Vec<Vec<f64>>,
}

impl Rows {
    pub(super) fn new(columns: usize) -> Rows {
        Rows { first_row: 0, columns: vec![Vec::new(); columns] }
    }

    pub(super) fn len(&self) -> usize {
        self.columns.first().map_or(0, Vec::len)
    }

    pub(super) fn push(&mut self, row: &[f64]) {
        self.columns.iter_mut().zip(row).for_each(|(column, value)| column.push(*value));
    }

    /// The block of what is there; the rows that follow go into the next.
    pub(super) fn take(&mut self) -> Block {
        let rows = self.len() as u64;
        let values: Vec<u8> = self.columns.iter().flatten().flat_map(|value| value.to_le_bytes()).collect();
        let block = Block { first_row: self.first_row, rows, data: STANDARD.encode(compressed(&values)) };
        self.first_row += rows;
        self.columns.iter_mut().for_each(Vec::clear);
        block
    }
}

fn compressed(values: &[u8]) -> Vec<u8> {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::default());
    // Writing to memory cannot fail.
    let written = encoder.write_all(values).and_then(|()| encoder.finish());
    written.unwrap_or_default()
}

/// The values of a block, column after column; `None`: it does not hold what it says.
pub(super) fn values(block: &Block, columns: usize) -> Option<Vec<f64>> {
    let count = usize::try_from(block.rows).ok()?.checked_mul(columns)?;
    let length = count.checked_mul(VALUE_BYTES)?;
    let packed = STANDARD.decode(&block.data).ok()?;
    let mut bytes = Vec::new();
    // One byte more than there should be tells too much from enough, and no file can ask for all memory.
    ZlibDecoder::new(&packed[..]).take(length as u64 + 1).read_to_end(&mut bytes).ok()?;
    if bytes.len() != length {
        return None;
    }
    let value = |bytes: &[u8; VALUE_BYTES]| f64::from_le_bytes(*bytes);
    let (values, _) = bytes.as_chunks::<VALUE_BYTES>();
    Some(values.iter().map(value).collect())
}
