//! Back from a backup to a data folder.

use std::fs;
use std::io;
use std::path::Path;

use super::{Checked, archives_in, check_backup, copy, refused, remove_all};
use crate::data_folder::DataFolder;
use crate::error::StoreError;
use crate::files::sync_folder;

/// What a file system puts into its own top folder.
const NOT_OURS: &str = "lost+found";

/// Restores a backup into a data folder that is empty or does not exist yet. The backup is checked first, what was
/// written is checked afterwards, and the archives get their name last: a restore that was cut short leaves a folder
/// that holds no run.
pub fn restore(backup: &Path, data: &Path) -> Result<Vec<Checked>, StoreError> {
    let wanted = check_backup(backup)?;
    if let Some(bad) = wanted.iter().find_map(|file| file.flaw.as_ref()) {
        return Err(refused(backup, &format!("it is not whole ({bad}); use another backup")));
    }
    check_empty(data)?;
    // From here on no server can start in it, and none was in it.
    let (folder, _lock) = DataFolder::claim(data)?;
    let beside = data.join("archive.part");
    let written = fill(backup, &beside, &wanted).and_then(|()| {
        let failed =
            |e: &io::Error| StoreError::from_io(format!("naming the archives in {}", data.display()), e);
        fs::rename(&beside, folder.archive()).map_err(|e| failed(&e))?;
        sync_folder(data).map_err(|e| failed(&e))
    });
    if let Err(error) = written {
        // Nothing that looks like runs stays behind.
        let _ = fs::remove_dir_all(&beside);
        return Err(error);
    }
    archives_in(data).map(|files| files.iter().map(|file| super::check(file)).collect())
}

fn check_empty(data: &Path) -> Result<(), StoreError> {
    let entries = match fs::read_dir(data) {
        Ok(entries) => entries,
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(e) => return Err(StoreError::from_io(format!("listing {}", data.display()), &e)),
    };
    let mut names: Vec<String> =
        entries.filter_map(|entry| Some(entry.ok()?.file_name().to_string_lossy().into_owned())).collect();
    names.retain(|name| name != NOT_OURS);
    // A restore that was cut short has got so far, and holds no run.
    let empty_names = ["FORMAT", "FORMAT.new", "LOCK", "archive.part"];
    if names.iter().all(|name| empty_names.contains(&name.as_str())) {
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
