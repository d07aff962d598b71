//! Back from a backup to a data folder.

use std::fs;
use std::io;
use std::path::Path;

use super::others::{self, Other};
use super::{Checked, archives_in, check_backup, check_others, copy, list, refused, remove_all};
use crate::data_folder::DataFolder;
use crate::error::StoreError;
use crate::files::sync_folder;

/// What a file system puts into its own top folder.
const NOT_OURS: &str = "lost+found";

/// Restores a backup into a data folder that is empty or does not exist yet, with those `known` files beside the archives
/// that it has. The backup is checked first, what was written is checked afterwards, and the archives get their name
/// last: a restore that was cut short leaves a folder that holds no run.
pub fn restore(backup: &Path, data: &Path, known: &[&str]) -> Result<Vec<Checked>, StoreError> {
    let wanted = check_backup(backup)?;
    if let Some(bad) = wanted.iter().find_map(|file| file.flaw.as_ref()) {
        return Err(refused(backup, &format!("it is not whole ({bad}); use another backup")));
    }
    let others = whole_others(backup, known)?;
    check_empty(data, &others)?;
    // From here on no server can start in it, and none was in it.
    let (folder, _lock) = DataFolder::claim(data)?;
    let (archives, files) = (data.join("archive.part"), data.join("others.part"));
    let written = remove_all(&files)
        .and_then(|()| others::stage(backup, &files, &others))
        .and_then(|()| fill(backup, &archives, &wanted))
        .and_then(|()| {
            let named = others::place(&files, data, &others)
                .and_then(|()| fs::rename(&archives, folder.archive()))
                .and_then(|()| sync_folder(data));
            named.map_err(|e| StoreError::from_io(format!("naming the files in {}", data.display()), &e))
        });
    // Nothing that looks like runs stays behind.
    let _ = fs::remove_dir_all(&files);
    if let Err(error) = written {
        let _ = fs::remove_dir_all(&archives);
        return Err(error);
    }
    archives_in(data).map(|files| files.iter().map(|file| super::check(file)).collect())
}

/// What the backup has beside the archives, all of it known and whole.
fn whole_others(backup: &Path, known: &[&str]) -> Result<Vec<Other>, StoreError> {
    let others = list::read(backup)?.others;
    if let Some(strange) = others.iter().find(|other| !known.contains(&other.name.as_str())) {
        let what = format!("its list names {}, which no server here uses; use another backup", strange.name);
        return Err(refused(backup, &what));
    }
    match check_others(backup)?.iter().find(|(_, whole)| !whole) {
        Some((name, _)) => {
            let what = format!("it is not whole ({name} is missing or damaged); use another backup");
            Err(refused(backup, &what))
        }
        None => Ok(others),
    }
}

fn check_empty(data: &Path, others: &[Other]) -> Result<(), StoreError> {
    let entries = match fs::read_dir(data) {
        Ok(entries) => entries,
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(e) => return Err(StoreError::from_io(format!("listing {}", data.display()), &e)),
    };
    let mut names: Vec<String> =
        entries.filter_map(|entry| Some(entry.ok()?.file_name().to_string_lossy().into_owned())).collect();
    names.retain(|name| name != NOT_OURS);
    // A restore that was cut short has got so far, and holds no run.
    let empty_names = ["FORMAT", "FORMAT.new", "LOCK", "archive.part", "others.part"];
    let is_nothing =
        |name: &String| empty_names.contains(&name.as_str()) || others::are_all_of(data, name, others);
    if names.iter().all(is_nothing) {
        return Ok(());
    }
    DataFolder::not_in_use(data)?;
    let what = "it is not empty; a backup is restored into a new or empty folder: name another with --data, or move \
                this one away";
    Err(refused(data, what))
}

fn fill(backup: &Path, beside: &Path, wanted: &[Checked]) -> Result<(), StoreError> {
    remove_all(beside)?;
    let failed = |what: &str, e: &io::Error| StoreError::from_io(format!("{what} {}", beside.display()), e);
    fs::create_dir_all(beside).map_err(|e| failed("creating", &e))?;
    for (file, wanted) in archives_in(backup)?.iter().zip(wanted) {
        let copied = copy(file, beside)?;
        let written = super::check(&beside.join(file.file_name().unwrap_or_default()));
        if (copied.head, written.head, &written.flaw) != (wanted.head, wanted.head, &None) {
            let what = "what was written does not read back as it was; see to that disk, and use another";
            return Err(refused(beside, what));
        }
    }
    sync_folder(beside).map_err(|e| failed("flushing", &e))
}
