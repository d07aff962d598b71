//! One line of an archive: a fixed layout that is valid JSON, written and read without a JSON parser.
//!
//! A record is
//! `{"seq":7,"event":"<uuid>","part":[1,2],"crc":"<8 hex>","chain":"<32 hex>","payload":<JSON value>}` with
//! exactly these fields in this order and no spaces outside the payload. There is one spelling for every
//! value, so a changed byte anywhere in a line is found: it breaks the layout, the checksum, or the chain.

use std::io::Write;

use uuid::Uuid;

use crate::chain::{ChainHash, checksum};
use crate::types::{Record, StreamId};

/// The archive format that this version writes, and the newest that it reads.
pub const FORMAT: u32 = 1;

const HEAD_START: &str = "{\"format\":\"deadship-archive\",\"version\":";

/// What the first line of an archive says.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum HeadLine {
    /// A file of this format for this stream.
    Ours(StreamId),
    /// A later format.
    Newer(u32),
}

/// The first line of an archive, with its line end.
pub(crate) fn head_line(stream: StreamId) -> String {
    format!("{HEAD_START}{FORMAT},\"stream\":\"{stream}\"}}\n")
}

/// Reads the first line, without its line end.
pub(crate) fn read_head_line(line: &[u8]) -> Option<HeadLine> {
    let rest = std::str::from_utf8(line).ok()?.strip_prefix(HEAD_START)?;
    let digits = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    let version = u32::try_from(number(&rest[..digits])?).ok()?;
    if version > FORMAT {
        // The rest of a later format's line is not ours to judge.
        return Some(HeadLine::Newer(version));
    }
    if version != FORMAT {
        return None;
    }
    let id = rest[digits..].strip_prefix(",\"stream\":\"")?.strip_suffix("\"}")?;
    Some(HeadLine::Ours(StreamId(uuid(id)?)))
}

/// Writes a record with its line end.
pub(crate) fn encode(out: &mut Vec<u8>, record: &Record) {
    // Writing into a Vec cannot fail.
    let _ = writeln!(
        out,
        "{{\"seq\":{},\"event\":\"{}\",\"part\":[{},{}],\"crc\":\"{:08x}\",\"chain\":\"{}\",\"payload\":{}}}",
        record.seq,
        record.event_id.hyphenated(),
        record.part,
        record.of,
        record.crc32,
        record.chain,
        record.payload
    );
}

/// Reads a record from a line without its line end and checks its checksum. Sequence and chain are the
/// reader's.
pub(crate) fn decode(stream: StreamId, line: &[u8]) -> Result<Record, &'static str> {
    let text = std::str::from_utf8(line).map_err(|_| "the line is not UTF-8 text")?;
    let record = layout(text).ok_or("the line does not have the layout of a record")?;
    if checksum(stream, &record) != record.crc32 {
        return Err("the checksum does not match the record");
    }
    Ok(record)
}

fn layout(text: &str) -> Option<Record> {
    let (seq, rest) = text.strip_prefix("{\"seq\":")?.split_once(",\"event\":\"")?;
    let (event_id, rest) = rest.split_once("\",\"part\":[")?;
    let (part, rest) = rest.split_once(',')?;
    let (of, rest) = rest.split_once("],\"crc\":\"")?;
    let (crc32, rest) = rest.split_once("\",\"chain\":\"")?;
    let (chain, rest) = rest.split_once("\",\"payload\":")?;
    Some(Record {
        seq: number(seq)?,
        event_id: uuid(event_id)?,
        part: u32::try_from(number(part)?).ok()?,
        of: u32::try_from(number(of)?).ok()?,
        crc32: checksum_text(crc32)?,
        chain: chain.parse::<ChainHash>().ok()?,
        payload: rest.strip_suffix('}')?.to_owned(),
    })
}

/// Decimal digits without sign or leading zeros.
fn number(text: &str) -> Option<u64> {
    let plain = text.bytes().all(|b| b.is_ascii_digit()) && (text == "0" || !text.starts_with('0'));
    if plain { text.parse().ok() } else { None }
}

fn checksum_text(text: &str) -> Option<u32> {
    let plain = text.len() == 8 && text.bytes().all(|b| matches!(b, b'0'..=b'9' | b'a'..=b'f'));
    if plain { u32::from_str_radix(text, 16).ok() } else { None }
}

/// Only the hyphenated lowercase spelling.
fn uuid(text: &str) -> Option<Uuid> {
    let plain = text.len() == 36 && !text.bytes().any(|b| b.is_ascii_uppercase());
    if plain { Uuid::try_parse(text).ok() } else { None }
}
