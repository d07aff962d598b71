//! The rules of an append that every backend shares: what may be kept, and where.

use serde::de::IgnoredAny;
use uuid::Uuid;

use crate::error::StoreError;
use crate::types::{Expected, Head, NewRecord, StreamId};

/// Most records in one append.
pub const MAX_RECORDS: usize = 65_536;
/// Most bytes in one payload. The first event of a run carries the full text of its ship and drill.
pub const MAX_PAYLOAD_BYTES: usize = 16 << 20;

/// What to do with an append.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Verdict {
    /// It follows the head: write it.
    Write,
    /// The same events are there already.
    Already { first: u64, last: u64 },
}

/// Refuses what could not be read back as one JSON line a record.
pub(crate) fn fits(records: &[NewRecord]) -> Result<(), StoreError> {
    if records.is_empty() {
        return Err(StoreError::Refused { what: "it holds no record".into() });
    }
    if records.len() > MAX_RECORDS {
        let what = format!("it holds {} records, the limit is {MAX_RECORDS}; split it", records.len());
        return Err(StoreError::Refused { what });
    }
    for (place, record) in (1..).zip(records) {
        payload_fits(&record.payload)
            .map_err(|what| StoreError::Refused { what: format!("record {place} of the append {what}") })?;
    }
    Ok(())
}

fn payload_fits(payload: &str) -> Result<(), String> {
    if payload.len() > MAX_PAYLOAD_BYTES {
        return Err(format!("has {} bytes, the limit is {MAX_PAYLOAD_BYTES}", payload.len()));
    }
    if payload.contains(['\n', '\r']) {
        return Err("has a line break; write the JSON value on one line".into());
    }
    serde_json::from_str::<IgnoredAny>(payload).map(|_| ()).map_err(|e| format!("is not a JSON value: {e}"))
}

/// Compares where the caller believes the stream ends with where it ends. `event_at` tells the id of a stored
/// event.
pub(crate) fn judge(
    stream: StreamId,
    expected: Expected,
    head: Option<Head>,
    records: &[NewRecord],
    event_at: impl Fn(u64) -> Option<Uuid>,
) -> Result<Verdict, StoreError> {
    let found = head.map_or(0, |h| h.seq);
    let expected = expected.seq();
    if expected == found {
        return Ok(Verdict::Write);
    }
    // Only ids are compared: a repeated request may well carry another time of day in its payload.
    let repeated = expected < found
        && (expected + 1..).zip(records).all(|(seq, record)| event_at(seq) == Some(record.event_id));
    if repeated {
        return Ok(Verdict::Already { first: expected + 1, last: expected + records.len() as u64 });
    }
    Err(StoreError::Conflict { stream, expected, found })
}
