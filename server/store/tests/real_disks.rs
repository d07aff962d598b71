//! Real file systems that fill up or let nothing be changed. They need root; without it each says so and passes.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::{Mutex, MutexGuard, PoisonError};

use deadship_store::conformance::records;
use deadship_store::{EventStore, Expected, Opened, Options, StoreError, StreamId, open};

/// A file system of its own, taken away again at the end.
struct Mounted {
    folder: tempfile::TempDir,
}

impl Mounted {
    /// `None`, with the reason printed, where the system does not allow it.
    fn tmpfs(size: &str) -> Option<Self> {
        let folder = tempfile::tempdir().unwrap();
        let options = format!("size={size}");
        run("mount", &["-t", "tmpfs", "-o", &options, "tmpfs", &folder.path().display().to_string()])?;
        Some(Self { folder })
    }

    fn data(&self) -> PathBuf {
        self.folder.path().join("data")
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        let _ = run("umount", &["-l", &self.folder.path().display().to_string()]);
    }
}

fn run(program: &str, args: &[&str]) -> Option<()> {
    let why = match Command::new(program).args(args).output() {
        Ok(output) if output.status.success() => return Some(()),
        Ok(output) => String::from_utf8_lossy(&output.stderr).trim().to_owned(),
        Err(error) => error.to_string(),
    };
    println!("skipped: {program} {} is not possible here: {why}", args.join(" "));
    None
}

/// One test at a time: a child between its fork and its exec holds the folder's lock of whoever runs beside it.
fn alone() -> MutexGuard<'static, ()> {
    static ONE: Mutex<()> = Mutex::new(());
    ONE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Takes all the room that is left.
fn fill(ballast: &Path) {
    let chunk = vec![0_u8; 64 << 10];
    let mut file = fs::File::create(ballast).unwrap();
    while std::io::Write::write_all(&mut file, &chunk).is_ok() {}
}

fn appended(store: &dyn EventStore, stream: StreamId, kept: &mut u64) -> Result<(), StoreError> {
    store.append(stream, Expected::Exact(*kept), &records(50))?;
    *kept += 50;
    Ok(())
}

#[test]
fn a_full_disk_is_come_back_from() {
    let _alone = alone();
    for database in [false, cfg!(feature = "sled")] {
        let Some(disk) = Mounted::tmpfs("8m") else { return };
        let options = Options { database, cache_bytes: 1 << 20 };
        let Opened { store, .. } = open(&disk.data(), &options).unwrap();
        let (stream, mut kept) = (StreamId::random(), 0);
        for _ in 0..5 {
            appended(&store, stream, &mut kept).unwrap();
        }
        let ballast = disk.folder.path().join("ballast");
        fill(&ballast);
        let error = loop {
            // What is left in the last page still takes some.
            if let Err(error) = appended(&store, stream, &mut kept) {
                break error;
            }
        };
        assert!(matches!(error, StoreError::Full { .. }), "{error}");
        assert!(matches!(store.recover(), Err(StoreError::Full { .. })));
        assert_eq!(store.read(stream, 1, u32::MAX).unwrap().len() as u64, kept);
        fs::remove_file(&ballast).unwrap();
        store.recover().unwrap();
        for _ in 0..5 {
            appended(&store, stream, &mut kept).unwrap();
        }
        drop(store);
        let Opened { store, report, .. } = open(&disk.data(), &options).unwrap();
        assert!(report.torn.is_empty() && report.refused.is_empty() && report.rescued.is_empty(), "{report}");
        assert_eq!(store.read(stream, 1, u32::MAX).unwrap().len() as u64, kept);
    }
}

/// A file system with files open for writing cannot be made read-only by hand. The nearest to it: files that the file
/// system lets nobody change any more, not even those who have them open.
#[test]
fn files_that_must_not_be_changed_are_come_back_from() {
    let _alone = alone();
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    let options = Options { database: false, ..Options::default() };
    let Opened { store, .. } = open(&data, &options).unwrap();
    let (stream, mut kept) = (StreamId::random(), 0);
    appended(&store, stream, &mut kept).unwrap();
    let archive = data.join("archive").display().to_string();
    let Some(()) = run("chattr", &["-R", "+i", &archive]) else { return };
    let failed = appended(&store, stream, &mut kept);
    let still = store.recover();
    // Before anything is asserted: a folder that cannot be changed cannot be cleaned up either.
    run("chattr", &["-R", "-i", &archive]).unwrap();
    if failed.is_ok() {
        println!("skipped: this file system lets open files be changed that are immutable");
        return;
    }
    assert!(matches!(failed, Err(StoreError::Io { .. })), "{failed:?}");
    assert!(matches!(still, Err(StoreError::Io { .. })), "{still:?}");
    store.recover().unwrap();
    appended(&store, stream, &mut kept).unwrap();
    assert_eq!(store.read(stream, 1, u32::MAX).unwrap().len() as u64, kept);
}

/// Where nothing is held open, a file system can be made read-only under the store.
#[test]
fn a_read_only_file_system_is_come_back_from() {
    let _alone = alone();
    let Some(disk) = Mounted::tmpfs("8m") else { return };
    // The lock stays outside, or the file system could not be made read-only.
    let outside = tempfile::tempdir().unwrap();
    let data = outside.path().join("data");
    fs::create_dir_all(&data).unwrap();
    let archive = disk.folder.path().join("archive");
    fs::create_dir_all(&archive).unwrap();
    std::os::unix::fs::symlink(&archive, data.join("archive")).unwrap();
    let options = Options { database: false, ..Options::default() };
    let Opened { store, .. } = open(&data, &options).unwrap();
    let mount = disk.folder.path().display().to_string();
    let stream = StreamId::random();
    let Some(()) = run("mount", &["-o", "remount,ro", &mount]) else { return };
    let error = store.append(stream, Expected::NoStream, &records(2)).unwrap_err();
    assert!(matches!(error, StoreError::Io { .. }), "{error}");
    assert!(matches!(store.recover(), Err(StoreError::Io { .. })));
    run("mount", &["-o", "remount,rw", &mount]).unwrap();
    store.recover().unwrap();
    let mut kept = 0;
    appended(&store, stream, &mut kept).unwrap();
    assert_eq!(store.read(stream, 1, 99).unwrap().len(), 50);
}
