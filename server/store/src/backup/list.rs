//! The list of a backup: where each of its archives ends, so that one that was cut between two appends is found out, and
//! what is in it beside them.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::Path;

use super::others::Other;
use super::{Checked, refused};
use crate::error::StoreError;
use crate::types::{Head, StreamId};

/// Its name in the backup.
pub const LIST: &str = "LIST";

/// The format of backups that this version writes, and the newest that it reads. 2 has files beside the archives.
pub const BACKUP_FORMAT: u32 = 2;

const MARK: &str = "deadship-backup ";

/// The first word of a line about a file beside the archives.
const FILE: &str = "file";

/// What a backup holds.
#[derive(Default)]
pub(super) struct Listed {
    /// The end of every stream.
    pub(super) ends: BTreeMap<StreamId, Head>,
    /// Files beside the archives.
    pub(super) others: Vec<Other>,
}

/// Writes the list, durably.
pub(super) fn write(folder: &Path, files: &[Checked], others: &[Other]) -> Result<(), StoreError> {
    let mut text = format!("{MARK}{BACKUP_FORMAT}\n");
    for file in files {
        if let (Some(stream), Some(head)) = (file.stream, file.head) {
            // Writing to a string cannot fail.
            let _ = writeln!(text, "{stream} {} {} {}", head.seq, head.chain, file.bytes);
        }
    }
    for Other { name, bytes, hash } in others {
        let _ = writeln!(text, "{FILE} {name} {bytes} {hash}");
    }
    let _ = writeln!(text, "end {:08x}", crc32fast::hash(text.as_bytes()));
    let path = folder.join(LIST);
    let written = || -> io::Result<()> {
        let mut file = File::create(&path)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()
    };
    written().map_err(|e| StoreError::from_io(format!("writing {}", path.display()), &e))
}

/// Reads the list.
pub(super) fn read(folder: &Path) -> Result<Listed, StoreError> {
    let path = folder.join(LIST);
    let text = fs::read_to_string(&path).map_err(|e| match e.kind() {
        io::ErrorKind::NotFound => refused(folder, "it is no backup: it has no LIST"),
        _ => StoreError::from_io(format!("reading {}", path.display()), &e),
    })?;
    let format = text.strip_prefix(MARK).and_then(|rest| rest.lines().next()?.parse::<u32>().ok());
    if let Some(found) = format.filter(|found| *found > BACKUP_FORMAT) {
        let what = format!("the backup {}", folder.display());
        return Err(StoreError::Newer { what, found, known: BACKUP_FORMAT });
    }
    let broken = || refused(&path, "it is damaged; use another backup, or copy single archives by hand");
    let (lines, end) = text.trim_end().rsplit_once('\n').ok_or_else(broken)?;
    let said = end.strip_prefix("end ").and_then(|hex| u32::from_str_radix(hex, 16).ok());
    if format.is_none() || said != Some(crc32fast::hash(format!("{lines}\n").as_bytes())) {
        return Err(broken());
    }
    let mut listed = Listed::default();
    for line in lines.lines().skip(1) {
        match line.split_once(' ') {
            Some((FILE, rest)) => listed.others.push(Other::read(rest).ok_or_else(broken)?),
            _ => {
                let (stream, head) = entry(line).ok_or_else(broken)?;
                listed.ends.insert(stream, head);
            }
        }
    }
    Ok(listed)
}

fn entry(line: &str) -> Option<(StreamId, Head)> {
    let mut words = line.split(' ');
    let stream = words.next()?.parse().ok()?;
    let head = Head { seq: words.next()?.parse().ok()?, chain: words.next()?.parse().ok()? };
    Some((stream, head))
}
