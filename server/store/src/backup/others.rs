//! Small files that belong to a data folder beside its archives. Whoever uses the store names them, as `folder/file`;
//! here they are bytes, and may be secret: every copy is for its owner alone.

use std::collections::BTreeSet;
use std::fs::{self, DirBuilder, OpenOptions};
use std::io::{self, Write as _};
use std::path::Path;

use super::{list, refused};
use crate::error::StoreError;
use crate::files::sync_folder;

/// Such a file as the list of a backup has it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Other {
    pub(super) name: String,
    pub(super) bytes: u64,
    pub(super) hash: blake3::Hash,
}

impl Other {
    fn of(name: &str, content: &[u8]) -> Other {
        Other { name: name.to_owned(), bytes: content.len() as u64, hash: blake3::hash(content) }
    }

    /// From its line in the list, of which the first word is taken already.
    pub(super) fn read(rest: &str) -> Option<Other> {
        let mut words = rest.split(' ');
        let name = words.next().filter(|name| is_name(name))?.to_owned();
        let other = Other {
            name,
            bytes: words.next()?.parse().ok()?,
            hash: blake3::Hash::from_hex(words.next()?).ok()?,
        };
        words.next().is_none().then_some(other)
    }

    /// Does this folder have it, to the byte?
    fn is_in(&self, folder: &Path) -> Result<bool, StoreError> {
        let content = content(folder, &self.name)?;
        Ok(content.is_some_and(|content| Other::of(&self.name, &content) == *self))
    }

    fn folder(&self) -> &str {
        self.name.split_once('/').map_or("", |(folder, _)| folder)
    }
}

/// A folder and a file in it, and no way out of there.
fn is_name(name: &str) -> bool {
    let plain = |part: &str| {
        let letter = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_');
        !part.is_empty() && !part.starts_with('.') && part.chars().all(letter)
    };
    name.split_once('/').is_some_and(|(folder, file)| plain(folder) && plain(file))
}

/// The files beside the archives that the list of a backup names, and whether each is there to the byte.
///
/// # Errors
/// The list or a file cannot be read.
pub fn check_others(backup: &Path) -> Result<Vec<(String, bool)>, StoreError> {
    let others = list::read(backup)?.others;
    others.into_iter().map(|other| Ok((other.name.clone(), other.is_in(backup)?))).collect()
}

/// Copies those of these files that there are, durably.
pub(super) fn copy(from: &Path, to: &Path, names: &[&str]) -> Result<Vec<Other>, StoreError> {
    let mut copied = Vec::new();
    for name in names {
        let Some(content) = content(from, name)? else { continue };
        let path = to.join(name);
        write(&path, &content).map_err(|e| StoreError::from_io(format!("writing {}", path.display()), &e))?;
        copied.push(Other::of(name, &content));
    }
    Ok(copied)
}

/// Copies what a backup has of them into a folder beside their places in a data folder.
pub(super) fn stage(backup: &Path, beside: &Path, others: &[Other]) -> Result<(), StoreError> {
    let names: Vec<&str> = others.iter().map(|other| other.name.as_str()).collect();
    copy(backup, beside, &names)?;
    for other in others {
        if !other.is_in(beside)? {
            let what = "what was written does not read back as it was; see to that disk, and use another";
            return Err(refused(&beside.join(&other.name), what));
        }
    }
    Ok(())
}

/// Gives what was staged its places.
pub(super) fn place(beside: &Path, data: &Path, others: &[Other]) -> io::Result<()> {
    let folders: BTreeSet<&str> = others.iter().map(Other::folder).collect();
    for folder in folders {
        // The same from a restore that was cut short: that was looked at before.
        match fs::remove_dir_all(data.join(folder)) {
            Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
            _ => fs::rename(beside.join(folder), data.join(folder))?,
        }
    }
    sync_folder(data)
}

/// Is this folder of a data folder theirs, and everything in it one of them, to the byte?
pub(super) fn are_all_of(data: &Path, folder: &str, others: &[Other]) -> bool {
    if !others.iter().any(|other| other.folder() == folder) {
        return false;
    }
    let Ok(entries) = fs::read_dir(data.join(folder)) else { return false };
    let mut names = entries.map(|entry| Some(format!("{folder}/{}", entry.ok()?.file_name().to_str()?)));
    names.all(|name| {
        let other = others.iter().find(|other| Some(&other.name) == name.as_ref());
        other.is_some_and(|other| other.is_in(data).unwrap_or(false))
    })
}

fn content(folder: &Path, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
    let path = folder.join(name);
    match fs::read(&path) {
        Ok(content) => Ok(Some(content)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(StoreError::from_io(format!("reading {}", path.display()), &error)),
    }
}

fn write(path: &Path, content: &[u8]) -> io::Result<()> {
    let (mut folders, mut options) = (DirBuilder::new(), OpenOptions::new());
    folders.recursive(true);
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        std::os::unix::fs::DirBuilderExt::mode(&mut folders, 0o700);
        std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    }
    let folder = path.parent().unwrap_or(path);
    folders.create(folder)?;
    let mut file = options.open(path)?;
    file.write_all(content)?;
    file.sync_all()?;
    sync_folder(folder)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_list_names_nothing_outside_the_folder() {
        let hash = blake3::hash(b"text").to_hex();
        assert!(Other::read(&format!("authority/authority.key 4 {hash}")).is_some());
        for name in ["key", "/etc/shadow", "../key", "a/../b", "a/b/c", "a/.b", "a/", "a\\b/c", "a/b\0"] {
            assert_eq!(Other::read(&format!("{name} 4 {hash}")), None, "{name}");
        }
        assert_eq!(Other::read(&format!("a/b 4 {hash} more")), None);
    }
}
