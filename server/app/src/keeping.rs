//! Backing up, restoring, verifying, removing: what is done with a data folder beside serving from it.
//!
//! Exit status: 0, all is whole; 1, something is damaged, and it was said what; 2, it could not be done.

use crate::house::{HOUSE_STREAM, Memory};
use crate::privacy;
use crate::tls;
use clap::Subcommand;
use deadship_run::replay::{Verified, verify};
use deadship_run::{Envelope, Event};
use deadship_store::archive::ArchiveReader;
use deadship_store::backup::{self, Checked};
use deadship_store::{StoreError, StreamId};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use uuid::Uuid;

/// Something is damaged.
const DAMAGED: u8 = 1;

/// It could not be done.
const NOT_DONE: u8 = 2;

/// What to do with a data folder.
#[derive(Clone, Debug, Subcommand)]
pub enum Command {
    /// Back up every run and the server's own records, also while a server serves them.
    Backup {
        /// Folder to be made; it must not exist yet.
        #[arg(value_name = "DEST")]
        dest: PathBuf,
    },
    /// Bring a backup back into an empty or new data folder.
    Restore {
        /// Folder that `backup` has made.
        #[arg(value_name = "SOURCE")]
        source: PathBuf,
    },
    /// Read every record of the data folder, of backups, or of single archives, and say whether all is whole.
    Verify {
        /// Archives, data folders or backups [default: the data folder].
        #[arg(value_name = "FILE")]
        files: Vec<PathBuf>,
        /// Run every log again as well, and compare every digest. Takes a while.
        #[arg(long)]
        replay: bool,
    },
    /// Remove a person from every record: runs and the server's own. Shows what it would do; does it with --yes.
    Forget {
        /// Name, as they joined.
        #[arg(value_name = "NAME")]
        name: String,
        /// Archive files outside of the data folder [default: all of the data folder].
        #[arg(value_name = "FILE", conflicts_with = "runs")]
        files: Vec<PathBuf>,
        /// Only from this run, by its id; may be given several times. Others may have had the same name.
        #[arg(long = "run", value_name = "RUN")]
        runs: Vec<Uuid>,
        /// Do it. It cannot be undone.
        #[arg(long)]
        yes: bool,
    },
    /// Remove runs in which nobody has done anything for a number of days. Shows which; does it with --yes.
    Expire {
        /// How many days.
        #[arg(value_name = "DAYS", value_parser = clap::value_parser!(u32).range(1..))]
        days: u32,
        /// Do it. It cannot be undone.
        #[arg(long)]
        yes: bool,
    },
}

/// Does it.
pub(crate) fn run(command: Command, data: &Path) -> ExitCode {
    let done = match command {
        Command::Backup { dest } => back_up(data, &dest),
        Command::Restore { source } => restore(&source, data),
        Command::Verify { files, replay } => {
            verify_all(if files.is_empty() { vec![data.to_owned()] } else { files }, replay)
        }
        Command::Forget { name, files, runs, yes } => {
            if files.is_empty() {
                privacy::forget(data, &name, &runs, yes)
            } else {
                privacy::forget_in_files(&files, &name, yes)
            }
        }
        Command::Expire { days, yes } => privacy::expire_by_hand(data, days, yes),
    };
    match done {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::from(DAMAGED),
        Err(error) => {
            complain!("{error}");
            ExitCode::from(NOT_DONE)
        }
    }
}

fn back_up(data: &Path, dest: &Path) -> Result<bool, StoreError> {
    let files = backup::back_up(data, dest, HOUSE_STREAM, &tls::FILES)?;
    let names = Names::of(dest);
    let mut whole = true;
    for file in &files {
        let of_file = names.show(file);
        if file.is_damaged() {
            whole = false;
            say!("{of_file}: DAMAGED; the backup holds what is whole{}", why(file));
        } else {
            say!("{of_file}: {}", records(file.records()));
        }
    }
    whole &= authority(dest);
    let bytes: u64 = files.iter().map(|file| file.bytes).sum();
    let megabytes = bytes as f64 / 1e6;
    say!(
        "Backed up to {}: {} files, {megabytes:.1} MB, read back and compared.",
        dest.display(),
        files.len() + backup::check_others(dest)?.len()
    );
    if tls::look(dest).is_some() {
        say!("Keep it where nobody else reads it: whoever has the authority's key can pass for the box.");
    }
    if !whole {
        complain!(
            "Something in {} is damaged: see docs/keeping.md, \"When something is damaged\".",
            data.display()
        );
    }
    Ok(whole)
}

fn restore(source: &Path, data: &Path) -> Result<bool, StoreError> {
    let files = backup::restore(source, data, &tls::FILES)?;
    let names = Names::of(data);
    for file in &files {
        say!("{}: {}", names.show(file), records(file.records()));
    }
    let whole = authority(data);
    let count = files.len() + backup::check_others(source)?.len();
    say!("Restored to {}: {count} files, read back and compared.", data.display());
    say!("Start the server on it: deadship-server --data {}", data.display());
    Ok(whole)
}

fn verify_all(paths: Vec<PathBuf>, replay: bool) -> Result<bool, StoreError> {
    let mut whole = true;
    for path in paths {
        let files = if backup::is_backup(&path) {
            backup::check_backup(&path)?
        } else if path.is_dir() {
            backup::archives_in(&path)?.iter().map(|file| backup::check(file)).collect()
        } else {
            vec![backup::check(&path)]
        };
        if path.is_dir() {
            whole &= others(&path)?;
        }
        let names = Names::of(&path);
        if files.is_empty() {
            say!("{}: no run", path.display());
        }
        for file in &files {
            whole &= verify_one(file, &names, replay);
        }
    }
    say!("{}", if whole { "All is whole." } else { "Something is damaged: see docs/keeping.md." });
    Ok(whole)
}

/// What is beside the archives of a data folder or a backup. Says whether it is whole.
fn others(folder: &Path) -> Result<bool, StoreError> {
    let mut whole = authority(folder);
    if backup::is_backup(folder) {
        for (name, _) in backup::check_others(folder)?.iter().filter(|(_, as_listed)| !as_listed) {
            whole = false;
            say!("{name}: DAMAGED: it is missing, or is not what the list of the backup says");
        }
    }
    Ok(whole)
}

/// A line about the box's own authority, if it has one. Says whether it is whole.
fn authority(folder: &Path) -> bool {
    match tls::look(folder) {
        None => true,
        Some(Ok(authority)) => {
            let print = authority.fingerprint;
            say!("the box's own authority, with its secret key: whole; SHA-256 {print}");
            true
        }
        Some(Err(error)) => {
            say!("the box's own authority: DAMAGED: {error}");
            false
        }
    }
}

/// One line about a file. Says whether it is whole.
fn verify_one(file: &Checked, names: &Names, replay: bool) -> bool {
    let (of_file, count) = (names.show(file), records(file.records()));
    if file.is_damaged() {
        say!("{of_file}: DAMAGED after {count}{}", why(file));
        return false;
    }
    let torn = if file.is_torn() {
        ", then an unfinished end (being written, or cut off at the next start)"
    } else {
        ""
    };
    if !replay || file.stream == Some(HOUSE_STREAM) || file.head.is_none() {
        say!("{of_file}: {count}, whole{torn}");
        return true;
    }
    match replayed(file) {
        Ok(Replayed::Same(Verified { ticks, digests, .. })) => {
            let time = crate::convert::time(ticks);
            say!("{of_file}: {count}, whole{torn}; run again to {time}, {digests} digests are the same");
            true
        }
        Ok(Replayed::OtherModel(model)) => {
            let own = deadship_plant::MODEL_VERSION;
            say!(
                "{of_file}: {count}, whole{torn}; of model {model}, cannot be compared with this program's {own}"
            );
            true
        }
        Err(why) => {
            say!("{of_file}: {count}, whole{torn}; run again it DIFFERS: {why}");
            false
        }
    }
}

enum Replayed {
    Same(Verified),
    OtherModel(u32),
}

fn replayed(file: &Checked) -> Result<Replayed, String> {
    let reader = ArchiveReader::open(&file.file).map_err(|error| error.to_string())?;
    let mut log = Vec::new();
    // Up to where it was whole a moment ago: a server may be writing it.
    for record in reader.take(usize::try_from(file.records()).unwrap_or(usize::MAX)) {
        let record = record.map_err(|error| error.to_string())?;
        log.push(Envelope::decode(&record.payload).map_err(|error| error.to_string())?);
    }
    if let Some(Event::RunOpened(opening)) = log.first().map(|first| &first.event)
        && opening.model != deadship_plant::MODEL_VERSION
    {
        return Ok(Replayed::OtherModel(opening.model));
    }
    verify(&log).map(Replayed::Same).map_err(|error| error.to_string())
}

fn records(count: u64) -> String {
    if count == 1 { "1 record".to_owned() } else { format!("{count} records") }
}

fn why(file: &Checked) -> String {
    file.flaw.as_ref().map_or_else(String::new, |flaw| format!(": {flaw}"))
}

/// What people call the runs in a folder.
pub(crate) struct Names(Memory);

impl Names {
    /// From the server's own records there, as far as they can be read.
    pub(crate) fn of(folder: &Path) -> Names {
        let file = folder.join("archive").join(format!("{HOUSE_STREAM}.jsonl"));
        let payloads = ArchiveReader::open(&file).into_iter().flatten().map_while(Result::ok);
        Names(Memory::read_what_can_be(payloads.map(|record| record.payload)))
    }

    fn show(&self, file: &Checked) -> String {
        file.stream.map_or_else(|| file.file.display().to_string(), |stream| self.of_stream(stream))
    }

    /// What one of them is called.
    pub(crate) fn of_stream(&self, stream: StreamId) -> String {
        let StreamId(run) = stream;
        match self.0.runs.get(&run) {
            _ if stream == HOUSE_STREAM => "the server's own records".to_owned(),
            Some(entry) => format!("{} ({}), run {run}", entry.team, entry.drill),
            None => format!("run {run}"),
        }
    }
}
