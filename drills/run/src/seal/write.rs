//! From a log to its seal.

use super::block::Rows;
use super::{BLOCK_ROWS, Block, Column, Columns, EVERY_TICKS, End, FORMAT, Head, VERSION, sum_of};
use crate::debrief::Debrief;
use crate::envelope::Envelope;
use crate::event::Event;
use crate::opening::Opening;
use crate::replay::{Diverged, ReplayError, Until, visit};
use crate::run::Run;
use deadship_plant::MODEL_VERSION;
use deadship_plant::plant::Compiled;
use deadship_plant::unit::Dimension;
use serde::Serialize;

/// What is sealed, and how.
pub struct Sealing<'a> {
    /// The log.
    pub log: &'a [Envelope],
    /// Its events as they were recorded, word for word.
    pub texts: &'a [String],
    /// What writes the seal.
    pub by: &'a str,
    /// The SI unit of a dimension.
    pub unit: fn(Dimension) -> &'static str,
}

/// A seal.
pub struct Written {
    /// Its bytes.
    pub bytes: Vec<u8>,
    /// Events in it.
    pub events: u64,
    /// Rows of readings in it.
    pub rows: u64,
    /// Where this model differs from the record; the readings end before.
    pub difference: Option<Box<Diverged>>,
}

/// Seals a log.
///
/// # Errors
/// The log is not one whole run, or its texts cannot be read.
pub fn seal(what: &Sealing) -> Result<Written, ReplayError> {
    let first = what.log.first().ok_or(ReplayError::Empty)?;
    let Event::RunOpened(opening) = &first.event else { return Err(ReplayError::NoOpening) };
    let mut readings = readings(what, Until::End)?;
    if let Some(difference) = &readings.difference {
        let proven = proven_tick(what.log, difference);
        let until = proven.map(|tick| self::readings(what, Until::Tick(tick))).transpose()?;
        let (blocks, rows) = until.map_or((Vec::new(), 0), |until| (until.blocks, until.rows));
        (readings.blocks, readings.rows) = (blocks, rows);
    }
    let mut lines = Lines::default();
    lines.json("head", &head(what, first, opening));
    what.texts.iter().for_each(|text| lines.push("event", text));
    lines.json("columns", &readings.columns);
    readings.blocks.iter().for_each(|block| lines.json("block", block));
    lines.json("debrief", &Debrief::of(what.log));
    let (events, rows) = (what.texts.len() as u64, readings.rows);
    let blake3 = blake3::hash(&lines.bytes).to_hex().to_string();
    let end = End { events, rows, lines: lines.count, blake3 };
    lines.json("end", &end);
    Ok(Written { bytes: lines.bytes, events, rows, difference: readings.difference })
}

fn head(what: &Sealing, first: &Envelope, opening: &Opening) -> Head {
    Head {
        format: FORMAT.to_owned(),
        version: VERSION,
        run: first.run,
        ship: opening.ship.clone(),
        drill: opening.drill.clone(),
        model: opening.model,
        tick_s: opening.tick_s,
        ended: what.log.iter().any(|envelope| matches!(envelope.event, Event::RunEnded { .. })),
        by: what.by.to_owned(),
    }
}

/// The last tick before a difference whose whole state was compared and was equal.
fn proven_tick(log: &[Envelope], difference: &Diverged) -> Option<u64> {
    let before = log.iter().take_while(|envelope| envelope.seq < difference.seq);
    let digests = before.filter(|envelope| matches!(envelope.event, Event::Digest { .. }));
    digests.last().map(|envelope| envelope.tick)
}

struct Readings {
    columns: Columns,
    blocks: Vec<Block>,
    rows: u64,
    difference: Option<Box<Diverged>>,
}

/// Replays the log and looks at the plant once a second.
fn readings(what: &Sealing, until: Until) -> Result<Readings, ReplayError> {
    let mut rows: Option<Rows> = None;
    let (mut blocks, mut count) = (Vec::new(), 0_u64);
    let rebuilt = visit(what.log, until, &mut |run: &Run| {
        // Visited twice at the last tick; a run that differs may stop between.
        if run.tick() != count * EVERY_TICKS {
            return;
        }
        let values = run.plant.readings();
        let rows = rows.get_or_insert_with(|| Rows::new(values.len()));
        rows.push(values);
        count += 1;
        if rows.len() == BLOCK_ROWS {
            blocks.push(rows.take());
        }
    })?;
    blocks.extend(rows.filter(|rows| rows.len() > 0).map(|mut rows| rows.take()));
    let run = rebuilt.recorder.run();
    let mut columns = columns(&run.setup.compiled, run.plant.readings().len(), what.unit);
    columns.difference = rebuilt.difference.as_ref().map(ToString::to_string);
    Ok(Readings { columns, blocks, rows: count, difference: rebuilt.difference })
}

fn columns(compiled: &Compiled, count: usize, unit: fn(Dimension) -> &'static str) -> Columns {
    let mut word_lists: Vec<Vec<String>> = Vec::new();
    let column = |flat: usize| {
        let (component, reading) = compiled.reading_at(flat);
        let def = &compiled.spec.components[component].kind.readings[reading];
        let words: Vec<String> = def.words.iter().map(|word| (*word).to_owned()).collect();
        let words = (!words.is_empty()).then(|| {
            word_lists.iter().position(|known| *known == words).unwrap_or_else(|| {
                word_lists.push(words);
                word_lists.len() - 1
            })
        });
        let name = compiled.reading_name((component, reading));
        Column { name, unit: unit(def.dimension).to_owned(), words }
    };
    let columns = (0..count).map(column).collect();
    Columns { model: MODEL_VERSION, every_ticks: EVERY_TICKS, difference: None, columns, word_lists }
}

/// The lines of a seal as they come.
#[derive(Default)]
struct Lines {
    bytes: Vec<u8>,
    count: u64,
}

impl Lines {
    fn json(&mut self, part: &str, value: &impl Serialize) {
        // Plain data with text keys and finite numbers always serialises.
        self.push(part, &serde_json::to_string(value).unwrap_or_default());
    }

    fn push(&mut self, part: &str, text: &str) {
        let rest = format!("{part} {text}");
        self.bytes.extend(sum_of(rest.as_bytes()).bytes());
        self.bytes.push(b' ');
        self.bytes.extend(rest.bytes());
        self.bytes.push(b'\n');
        self.count += 1;
    }
}
