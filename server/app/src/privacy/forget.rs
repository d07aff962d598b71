//! `deadship-server forget`: a person out of every record.

use super::own_records::without_person;
use super::{Log, appends, house_records, read_log};
use crate::clock;
use crate::house::{HOUSE_STREAM, HouseRecord};
use crate::keeping::Names as RunNames;
use deadship_run::names::Names;
use deadship_run::removal::{Digests, remove_person};
use deadship_store::{Append, NewRecord, Rewriting, StoreError, StreamId, replace_archive};
use std::fs;
use std::path::{Path, PathBuf};
use uuid::Uuid;

const ELSEWHERE: &str = "Backups, seals, reports, exports and copies that were made before still hold the name: delete \
                         them, and make new ones.";

/// Removes a person from the runs of a data folder, or some of them, and from the server's own records. Says whether all
/// could be read.
pub(crate) fn forget(data: &Path, name: &str, only: &[Uuid], yes: bool) -> Result<bool, StoreError> {
    let mut rewriting = Rewriting::begin(data)?;
    let called = RunNames::of(data);
    let mut tally = Tally::default();
    let mut runs = Vec::new();
    for file in rewriting.archives()? {
        let stream = file.file_stem().and_then(|stem| stem.to_str()?.parse::<StreamId>().ok());
        let Some(stream) = stream.filter(|stream| *stream != HOUSE_STREAM) else { continue };
        if !only.is_empty() && !only.contains(&stream.0) {
            continue;
        }
        let replaced = &mut |appends: &[Append<NewRecord>]| rewriting.replace(stream, appends);
        if tally.one_run(&file, &called.of_stream(stream), name, yes, replaced)? {
            runs.push(stream.0);
        }
    }
    if let Some(records) = house_records(&rewriting, HOUSE_STREAM)? {
        let changed = without_person(&records, name, only)?;
        if changed.count > 0 {
            tally.found += 1;
            say!("the server's own records: {}", count(changed.count, "record"));
        }
        if yes && (changed.count > 0 || !runs.is_empty()) {
            changed.write(&mut rewriting, &HouseRecord::PersonRemoved { runs })?;
        }
    }
    if only.is_empty() {
        tally.quarantine(&rewriting, name, yes)?;
    }
    Ok(tally.close(name, yes))
}

/// Removes a person from archive files.
pub(crate) fn forget_in_files(files: &[PathBuf], name: &str, yes: bool) -> Result<bool, StoreError> {
    let mut tally = Tally::default();
    for file in files {
        let stream = read_log(file).map(|log| log.stream);
        let replaced = &mut |appends: &[Append<NewRecord>]| match &stream {
            Ok(stream) => replace_archive(file, *stream, appends),
            // What cannot be read is never replaced.
            Err(_) => Ok(()),
        };
        tally.one_run(file, &file.display().to_string(), name, yes, replaced)?;
    }
    Ok(tally.close(name, yes))
}

/// Puts other records in the place of an archive's.
type Replace<'a> = dyn FnMut(&[Append<NewRecord>]) -> Result<(), StoreError> + 'a;

/// What was found, in how many places, and what could not be looked at.
#[derive(Default)]
struct Tally {
    found: u64,
    unread: u64,
}

impl Tally {
    /// One run: looked at, and written anew if that is wanted. Says whether the person is in it.
    fn one_run(
        &mut self,
        file: &Path,
        called: &str,
        name: &str,
        yes: bool,
        replace: &mut Replace<'_>,
    ) -> Result<bool, StoreError> {
        let log = match read_log(file) {
            Ok(log) => log,
            Err(why) => {
                self.unread += 1;
                say!("{called}: NOT LOOKED AT, it may hold the name: {why}");
                return Ok(false);
            }
        };
        if !yes {
            let Some((names, pseudonym)) = Names::without(&log.events, name) else { return Ok(false) };
            let events = log.events.iter().filter(|event| names.hide(event) != **event).count() as u64;
            self.found += 1;
            say!("{called}: {} hold the name; it would be {pseudonym}", count(events, "event"));
            return Ok(true);
        }
        match remove_person(&log.events, name, &clock::now()) {
            Ok(None) => Ok(false),
            Ok(Some(removal)) => {
                let Log { sizes, .. } = log;
                replace(&appends(&removal.log, &sizes))?;
                self.found += 1;
                let events = count(removal.events, "event");
                say!("{called}: {events} changed, {}; {}", removal.pseudonym, told(&removal.digests));
                Ok(true)
            }
            Err(why) => {
                self.unread += 1;
                say!("{called}: LEFT AS IT IS, it holds the name: {why}");
                Ok(false)
            }
        }
    }

    /// What was moved or cut away is for people to look at, and nobody needs a name for that.
    fn quarantine(&mut self, rewriting: &Rewriting, name: &str, yes: bool) -> Result<(), StoreError> {
        for file in rewriting.quarantined()? {
            let failed = |doing: &str, e: &std::io::Error| {
                StoreError::from_io(format!("{doing} {}", file.display()), e)
            };
            let bytes = fs::read(&file).map_err(|e| failed("reading", &e))?;
            if !bytes.windows(name.len().max(1)).any(|window| window == name.as_bytes()) {
                continue;
            }
            self.found += 1;
            if yes {
                fs::remove_file(&file).map_err(|e| failed("removing", &e))?;
            }
            say!(
                "{}: holds the name; {}",
                file.display(),
                if yes { "deleted" } else { "it would be deleted" }
            );
        }
        Ok(())
    }

    /// The last words. Says whether all could be looked at.
    fn close(self, name: &str, yes: bool) -> bool {
        match (self.found, yes) {
            (0, _) => say!("No record that could be read names {name}."),
            (_, false) => {
                say!("Nothing was changed. With --yes it is done, and cannot be undone. {ELSEWHERE}");
            }
            (_, true) => say!("{name} is removed. {ELSEWHERE}"),
        }
        if self.unread > 0 {
            complain!("{} could not be looked at: see docs/privacy.md.", count(self.unread, "archive"));
        }
        self.unread == 0
    }
}

fn told(digests: &Digests) -> String {
    match digests {
        Digests::ComputedAgain(number) => {
            format!(
                "run again without the name: all else is the same, {} computed again",
                count(*number, "digest")
            )
        }
        Digests::Emptied { why } => format!("digests emptied, because it cannot be run again: {why}"),
    }
}

fn count(number: u64, what: &str) -> String {
    if number == 1 { format!("1 {what}") } else { format!("{number} {what}s") }
}
