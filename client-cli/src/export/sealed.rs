//! Readings from a seal: what was computed when the run was sealed, whatever this program's model computes.

use super::output::write_new;
use super::table::{head, row_of};
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use deadship_plant::MODEL_VERSION;
use deadship_plant::file::toml_reader::matches;
use deadship_run::seal::{Column, Columns, Seal};
use deadship_run::timeline::clock;
use std::path::Path;

/// Were the readings computed by another model than this program's?
pub(crate) fn is_of_another_model(seal: &Seal) -> bool {
    seal.columns.as_ref().is_some_and(|columns| columns.model != MODEL_VERSION)
}

/// The readings of a seal, once a second.
pub(super) fn readings(
    io: &mut Io,
    seal: &Seal,
    patterns: &[String],
    path: Option<&Path>,
) -> Result<u8, Failure> {
    let columns = columns(seal)?;
    let all = ["*".to_owned()];
    let chosen = choose(columns, if patterns.is_empty() { &all } else { patterns })?;
    write_new(io, path, &mut |out| {
        head(out, chosen.iter().map(|index| header(&columns.columns[*index])))?;
        for block in &seal.blocks {
            // One that cannot be unpacked has been told as a damage.
            let (Some(values), Ok(rows)) = (seal.values(block), usize::try_from(block.rows)) else {
                continue;
            };
            for row in 0..rows {
                let tick = block.first_row.saturating_add(row as u64).saturating_mul(columns.every_ticks);
                row_of(out, tick, chosen.iter().map(|index| values[index * rows + row]))?;
            }
        }
        Ok(())
    })?;
    tell_model(io, columns);
    match &columns.difference {
        Some(difference) => {
            io.tell(&format!(
                "the readings end before this, which was found when the run was sealed: {difference}"
            ));
            Ok(NO)
        }
        None => Ok(WELL),
    }
}

/// The readings of a seal at a tick, or the last whole second before it.
pub(crate) fn readings_at(io: &mut Io, seal: &Seal, tick: u64, patterns: &[String]) -> Result<u8, Failure> {
    let columns = columns(seal)?;
    let chosen = choose(columns, patterns)?;
    let Some((tick, values)) = seal.row_at(tick) else {
        let text = format!("the seal has no readings at {}", clock(tick).trim());
        return Err(Failure::Asked(text));
    };
    tell_model(io, columns);
    io.tell(&format!("{}, in SI units", clock(tick).trim()));
    let width = chosen.iter().map(|index| columns.columns[*index].name.chars().count()).max().unwrap_or(0);
    for index in chosen {
        let column = &columns.columns[index];
        io.line(&format!("{:<width$}  {}", column.name, shown(columns, column, values[index])))?;
    }
    io.flush()?;
    Ok(WELL)
}

fn columns(seal: &Seal) -> Result<&Columns, Failure> {
    let none = || Failure::Asked("the columns of the sealed readings are damaged".to_owned());
    seal.columns.as_ref().ok_or_else(none)
}

/// That the facts stand, and by whom they were computed.
fn tell_model(io: &mut Io, columns: &Columns) {
    if columns.model != MODEL_VERSION {
        io.tell(&format!(
            "sealed by version {} of the model, this program has version {MODEL_VERSION}: these are the sealed readings",
            columns.model
        ));
    }
}

/// The columns that the patterns name, in the order of the patterns, each once; a component's name stands for all of its
/// readings.
fn choose(columns: &Columns, patterns: &[String]) -> Result<Vec<usize>, Failure> {
    let mut chosen = Vec::new();
    for pattern in patterns.iter().map(|pattern| pattern.trim()) {
        let before = chosen.len();
        let mut any = false;
        for (index, column) in columns.columns.iter().enumerate() {
            let owner = column.name.rsplit_once('.').is_some_and(|(owner, _)| owner == pattern);
            if owner || matches(pattern, &column.name) {
                any = true;
                if !chosen[..before].contains(&index) {
                    chosen.push(index);
                }
            }
        }
        if !any {
            let known = columns.columns.iter().map(|column| column.name.as_str());
            return Err(Failure::unknown("reading", pattern, known));
        }
    }
    Ok(chosen)
}

fn header(column: &Column) -> String {
    match column.unit.as_str() {
        "" => column.name.clone(),
        unit => format!("{} [{unit}]", column.name),
    }
}

/// The word of a state, or the number with its unit.
fn shown(columns: &Columns, column: &Column, value: f64) -> String {
    let words = column.words.and_then(|list| columns.word_lists.get(list));
    match words.and_then(|words| words.get(value.round().max(0.0) as usize)) {
        Some(word) => word.clone(),
        None => format!("{value} {}", column.unit).trim_end().to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::open_seal;
    use std::io::{self, Write};
    use std::sync::{Arc, Mutex};

    #[derive(Clone, Default)]
    struct Kept(Arc<Mutex<Vec<u8>>>);

    impl Write for Kept {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            self.0.lock().unwrap().write(bytes)
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    fn told(does: impl FnOnce(&mut Io) -> Result<u8, Failure>) -> (u8, String, String) {
        let (out, talk) = (Kept::default(), Kept::default());
        let mut io = Io {
            input: Box::new(io::empty()),
            out: Box::new(out.clone()),
            talk: Box::new(talk.clone()),
            interactive: false,
            state_folder: None,
        };
        let status = does(&mut io).unwrap();
        let text = |kept: Kept| String::from_utf8(kept.0.lock().unwrap().clone()).unwrap();
        (status, text(out), text(talk))
    }

    fn frozen(model: u32) -> Seal {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/fixtures/run-v1.seal");
        let mut seal = open_seal(&path).unwrap();
        seal.columns.as_mut().unwrap().model = model;
        seal
    }

    #[test]
    fn what_another_model_computed_is_shown_as_sealed() {
        let other = frozen(MODEL_VERSION + 1);
        assert!(is_of_another_model(&other) && !is_of_another_model(&frozen(MODEL_VERSION)));
        let patterns = ["shore.closed".to_owned(), "pump.bilge.speed".to_owned()];
        let (status, out, talk) = told(|io| readings_at(io, &other, 45 * 20 + 3, &patterns));
        assert_eq!(status, WELL);
        assert!(
            talk.contains("these are the sealed readings") && talk.contains("0:45.0, in SI units"),
            "{talk}"
        );
        assert!(out.starts_with("shore.closed      yes\npump.bilge.speed  1"), "{out}");
        assert!(out.ends_with(" rad/s\n"), "{out}");
        let (status, out, talk) = told(|io| readings(io, &other, &patterns, None));
        assert!(status == WELL && talk.contains("these are the sealed readings"), "{talk}");
        assert_eq!(out.lines().count() as u64, other.rows() + 1);
    }

    #[test]
    fn where_readings_end_before_the_run_it_is_told() {
        let mut seal = frozen(MODEL_VERSION);
        seal.columns.as_mut().unwrap().difference = Some("they differ".to_owned());
        let (status, _, talk) = told(|io| readings(io, &seal, &[], None));
        assert!(status == NO && talk.contains("they differ"), "{talk}");
        seal.blocks.clear();
        let late = told(|io| {
            let failed = readings_at(io, &seal, 20, &["*".to_owned()]).unwrap_err();
            assert!(failed.to_string().contains("no readings at 0:01.0"), "{failed}");
            Ok(WELL)
        });
        assert_eq!(late.0, WELL);
    }
}
