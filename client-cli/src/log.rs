//! A run's log from an archive.

use crate::cli::LogArgs;
use crate::failure::Failure;
use crate::io::Io;
use deadship_run::Envelope;
use deadship_store::archive::{ArchiveError, ArchiveFault, ArchiveReader};
use std::io::{BufRead, Cursor};
use std::path::Path;

/// Reads the log that the arguments name, from a file or a server.
pub(crate) fn read_log(
    io: &mut Io,
    args: &LogArgs,
    authority: Option<&Path>,
) -> Result<Vec<Envelope>, Failure> {
    match (&args.server, &args.key) {
        (Some(server), Some(key)) => {
            let text = crate::online::fetch_archive(server, authority, key, &args.run)?;
            let name = format!("run {} on {server}", args.run);
            let reader = ArchiveReader::new(name.clone(), Cursor::new(text.into_bytes()))?;
            read(io, &name, reader, args.whole)
        }
        _ => {
            let path = Path::new(&args.run);
            if !path.exists() {
                let help = "name an archive file, or a run on a server with `--server ADDRESS --key KEY`";
                return Err(Failure::Asked(format!("there is no file {}; {help}", args.run)));
            }
            read(io, &args.run, ArchiveReader::open(path)?, args.whole)
        }
    }
}

/// Reads the log of an archive file.
pub(crate) fn read_file(io: &mut Io, path: &Path) -> Result<Vec<Envelope>, Failure> {
    if !path.exists() {
        return Err(Failure::Asked(format!("there is no file {}", path.display())));
    }
    read(io, &path.display().to_string(), ArchiveReader::open(path)?, false)
}

fn read<R: BufRead>(
    io: &mut Io,
    name: &str,
    reader: ArchiveReader<R>,
    whole: bool,
) -> Result<Vec<Envelope>, Failure> {
    let mut envelopes = Vec::new();
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
        envelopes.push(envelope);
    }
    if envelopes.is_empty() {
        return Err(Failure::Asked(format!("{name}: the archive holds no event")));
    }
    Ok(envelopes)
}

fn can_be_left(error: &ArchiveError) -> bool {
    matches!(error.fault, ArchiveFault::Torn { .. } | ArchiveFault::Damaged { .. })
}
