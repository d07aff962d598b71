//! The file layer on a real disk.

use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use super::{FileLayer, sync_folder};

/// Most files kept open for appending. A class has a dozen; the bound is for a store with years of runs.
const MAX_OPEN: usize = 128;

/// Files in a folder of the data folder.
#[derive(Debug)]
pub struct DiskFiles {
    folder: PathBuf,
    quarantine: PathBuf,
    open: Mutex<BTreeMap<String, Arc<File>>>,
}

impl DiskFiles {
    /// Uses this folder, which is created if it is missing; `quarantine` is created when something goes
    /// there.
    pub fn new(folder: &Path, quarantine: &Path) -> io::Result<Self> {
        if !folder.is_dir() {
            fs::create_dir_all(folder)?;
            sync_folder(folder.parent().unwrap_or(Path::new("")))?;
        }
        Ok(Self { folder: folder.to_owned(), quarantine: quarantine.to_owned(), open: Mutex::default() })
    }

    fn handle(&self, name: &str) -> io::Result<Arc<File>> {
        let mut open = self.open.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(file) = open.get(name) {
            return Ok(Arc::clone(file));
        }
        if open.len() >= MAX_OPEN {
            // Handles in use live on in their callers; the rest is reopened when needed.
            open.clear();
        }
        let file = Arc::new(OpenOptions::new().append(true).create(true).open(self.folder.join(name))?);
        open.insert(name.to_owned(), Arc::clone(&file));
        Ok(file)
    }
}

impl FileLayer for DiskFiles {
    fn list(&self) -> io::Result<Vec<String>> {
        let mut names = Vec::new();
        for entry in fs::read_dir(&self.folder)? {
            names.push(entry?.file_name().to_string_lossy().into_owned());
        }
        names.sort();
        Ok(names)
    }

    fn read(&self, name: &str) -> io::Result<Vec<u8>> {
        fs::read(self.folder.join(name))
    }

    fn read_at(&self, name: &str, offset: u64, len: usize) -> io::Result<Vec<u8>> {
        let mut file = File::open(self.folder.join(name))?;
        file.seek(SeekFrom::Start(offset))?;
        let mut bytes = vec![0; len];
        file.read_exact(&mut bytes)?;
        Ok(bytes)
    }

    fn append(&self, name: &str, bytes: &[u8]) -> io::Result<()> {
        (&*self.handle(name)?).write_all(bytes)
    }

    fn sync(&self, name: &str) -> io::Result<()> {
        self.handle(name)?.sync_data()
    }

    fn sync_folder(&self) -> io::Result<()> {
        sync_folder(&self.folder)
    }

    fn truncate(&self, name: &str, len: u64) -> io::Result<()> {
        self.handle(name)?.set_len(len)
    }

    fn remove(&self, name: &str) -> io::Result<()> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner).remove(name);
        fs::remove_file(self.folder.join(name))
    }

    fn set_aside(&self, name: &str, bytes: &[u8]) -> io::Result<String> {
        if !self.quarantine.is_dir() {
            fs::create_dir_all(&self.quarantine)?;
            sync_folder(self.quarantine.parent().unwrap_or(Path::new("")))?;
        }
        let path = free_name(&self.quarantine, name);
        let mut file = OpenOptions::new().write(true).create_new(true).open(&path)?;
        file.write_all(bytes)?;
        file.sync_all()?;
        sync_folder(&self.quarantine)?;
        Ok(path.display().to_string())
    }

    fn let_go(&self) {
        self.open.lock().unwrap_or_else(PoisonError::into_inner).clear();
    }

    fn show(&self, name: &str) -> String {
        self.folder.join(name).display().to_string()
    }
}

/// A name in the folder that nothing has yet: `name`, `name.2`, `name.3`… Numbers, because a clock can go
/// back.
pub(crate) fn free_name(folder: &Path, name: &str) -> PathBuf {
    let numbered = (2u32..).map(|n| folder.join(format!("{name}.{n}")));
    let mut names = std::iter::once(folder.join(name)).chain(numbered);
    names.find(|path| fs::symlink_metadata(path).is_err()).unwrap_or_else(|| folder.join(name))
}
