//! A file's text put in the place of another: wholly, or not at all.

use crate::failure::Failure;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Puts the text in the place of the file's, by way of a new file beside it. Its permissions stay; where the path is a link, the
/// file that it leads to is replaced and the link stays.
///
/// # Errors
/// It cannot be written; then the file is as it was.
pub(super) fn replace(path: &Path, text: &str) -> Result<(), Failure> {
    let failed = |error| Failure::writing(path, error);
    let target = fs::canonicalize(path).map_err(failed)?;
    let permissions = fs::metadata(&target).map_err(failed)?.permissions();
    if permissions.readonly() {
        return Err(failed(io::Error::from(io::ErrorKind::PermissionDenied)));
    }
    let (beside, file) = new_beside(&target).map_err(failed)?;
    let written = write(file, text, permissions).and_then(|()| fs::rename(&beside, &target));
    if written.is_err() {
        // The failure is what is told; a file that cannot be removed either changes nothing about it.
        let _ = fs::remove_file(&beside);
    }
    written.map_err(failed)
}

fn write(mut file: File, text: &str, permissions: fs::Permissions) -> io::Result<()> {
    file.write_all(text.as_bytes())?;
    file.set_permissions(permissions)?;
    file.sync_all()
}

/// A new file in the same folder, under a name that nobody reads: not one of a TOML file.
fn new_beside(target: &Path) -> io::Result<(PathBuf, File)> {
    const TRIES: u32 = 100;
    let name = target.file_name().unwrap_or_default().to_string_lossy();
    for number in 0..TRIES {
        let beside = target.with_file_name(format!(".{name}.{}-{number}.new", std::process::id()));
        match OpenOptions::new().write(true).create_new(true).open(&beside) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            made => return made.map(|file| (beside, file)),
        }
    }
    Err(io::Error::from(io::ErrorKind::AlreadyExists))
}

#[cfg(test)]
mod tests {
    use super::replace;
    use std::fs;

    #[test]
    fn a_failure_leaves_everything_as_it_was() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.toml");
        fs::write(&path, "old").unwrap();
        let mut locked = fs::metadata(&path).unwrap().permissions();
        locked.set_readonly(true);
        fs::set_permissions(&path, locked).unwrap();
        let told = replace(&path, "new").unwrap_err().to_string();
        assert!(told.contains("a.toml: writing failed"), "{told}");
        assert_eq!(fs::read_to_string(&path).unwrap(), "old");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        assert!(replace(&folder.path().join("none.toml"), "new").is_err());
    }

    #[cfg(unix)]
    #[test]
    fn permissions_and_links_stay() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = tempfile::tempdir().unwrap();
        let (path, link) = (folder.path().join("a.toml"), folder.path().join("b.toml"));
        fs::write(&path, "old").unwrap();
        fs::set_permissions(&path, fs::Permissions::from_mode(0o640)).unwrap();
        symlink(&path, &link).unwrap();
        replace(&link, "new").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "new");
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o640);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
    }
}
