//! A run's log from an archive or a seal.

use crate::cli::LogArgs;
use crate::failure::Failure;
use crate::io::Io;
use deadship_run::Envelope;
use deadship_run::seal::{self, Seal, looks_like_seal};
use deadship_store::archive::{ArchiveError, ArchiveFault, ArchiveReader};
use std::fs::{self, File};
use std::io::{BufRead, Cursor, Read};
use std::path::Path;

/// Bytes that tell a seal from an archive.
const BEGINNING: u64 = 64;

/// A run as it was kept.
#[derive(Default)]
pub(crate) struct Kept {
    /// Its events.
    pub(crate) log: Vec<Envelope>,
    /// The same as they were recorded, word for word.
    pub(crate) texts: Vec<String>,
    /// The seal that they are from.
    pub(crate) seal: Option<Seal>,
}

/// Reads the log that the arguments name, from a file or a server.
pub(crate) fn read_log(
    io: &mut Io,
    args: &LogArgs,
    authority: Option<&Path>,
) -> Result<Vec<Envelope>, Failure> {
    read_run(io, args, authority).map(|kept| kept.log)
}

/// As [`read_log`], with all that was kept beside the events.
pub(crate) fn read_run(io: &mut Io, args: &LogArgs, authority: Option<&Path>) -> Result<Kept, Failure> {
    if let (Some(server), Some(key)) = (&args.server, &args.key) {
        let text = crate::online::fetch_archive(server, authority, key, &args.run)?;
        let name = format!("run {} on {server}", args.run);
        let reader = ArchiveReader::new(name.clone(), Cursor::new(text.into_bytes()))?;
        return read(io, &name, reader, args.whole);
    }
    let path = Path::new(&args.run);
    if !path.exists() {
        let help = "name an archive file, or a run on a server with `--server ADDRESS --key KEY`";
        return Err(Failure::Asked(format!("there is no file {}; {help}", args.run)));
    }
    from_file(io, path, args.whole)
}

/// Reads the log of an archive file or a seal.
pub(crate) fn read_file(io: &mut Io, path: &Path) -> Result<Vec<Envelope>, Failure> {
    if !path.exists() {
        return Err(Failure::Asked(format!("there is no file {}", path.display())));
    }
    from_file(io, path, false).map(|kept| kept.log)
}

fn from_file(io: &mut Io, path: &Path, whole: bool) -> Result<Kept, Failure> {
    let name = path.display().to_string();
    match is_seal(path)? {
        true => sealed(io, &name, open_seal(path)?, whole),
        false => read(io, &name, ArchiveReader::open(path)?, whole),
    }
}

/// Does the file begin as a seal does?
fn is_seal(path: &Path) -> Result<bool, Failure> {
    if path.is_dir() {
        return Ok(false);
    }
    let mut begin = Vec::new();
    let read = File::open(path).and_then(|file| file.take(BEGINNING).read_to_end(&mut begin));
    read.map_err(|error| Failure::reading(path, error))?;
    Ok(looks_like_seal(&begin))
}

/// A seal, whole or not.
pub(crate) fn open_seal(path: &Path) -> Result<Seal, Failure> {
    let bytes = fs::read(path).map_err(|error| Failure::reading(path, error))?;
    seal::open(&bytes).map_err(|error| Failure::Asked(format!("{}: {error}", path.display())))
}

/// The events of a seal; of a damaged one, if that is asked for, those before the first that is missing.
fn sealed(io: &mut Io, name: &str, seal: Seal, whole: bool) -> Result<Kept, Failure> {
    if let Some(damage) = seal.damages.first() {
        if !whole {
            return Err(Failure::Asked(format!(
                "{name}, {damage}\n`deadship seal --check {name}` says what can still be read; with `--whole`, what stands \
                 before the first missing event is used."
            )));
        }
        io.tell(&format!("{name}, {damage}"));
    }
    let mut kept = Kept::default();
    for event in &seal.events {
        let envelope = Envelope::decode(&event.text)
            .map_err(|error| Failure::Asked(format!("{name}, line {}: {error}", event.line)))?;
        if envelope.seq != kept.log.len() as u64 + 1 {
            break;
        }
        kept.log.push(envelope);
        kept.texts.push(event.text.clone());
    }
    kept.seal = Some(seal);
    some(name, kept)
}

fn read<R: BufRead>(io: &mut Io, name: &str, reader: ArchiveReader<R>, whole: bool) -> Result<Kept, Failure> {
    let mut kept = Kept::default();
    for record in reader {
        let record = match record {
            Ok(record) => record,
            Err(error) if whole && can_be_left(&error) => {
                io.tell(&format!("{error}"));
                break;
            }
            Err(error) => return Err(error.into()),
        };
        let envelope = Envelope::decode(&record.payload).map_err(|error| {
            // The first line is the head.
            Failure::Asked(format!("{name}, line {}: {error}", record.seq + 1))
        })?;
        kept.log.push(envelope);
        kept.texts.push(record.payload);
    }
    some(name, kept)
}

fn some(name: &str, kept: Kept) -> Result<Kept, Failure> {
    match kept.log.is_empty() {
        true => Err(Failure::Asked(format!("{name}: the archive holds no event"))),
        false => Ok(kept),
    }
}

fn can_be_left(error: &ArchiveError) -> bool {
    matches!(error.fault, ArchiveFault::Torn { .. } | ArchiveFault::Damaged { .. })
}
