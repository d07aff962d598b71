//! Backups: whole prefixes, made beside, checked, never half.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

use deadship_store::backup::{
    Checked, LIST, archives_in, back_up, check, check_backup, check_others, is_backup, restore,
};
use deadship_store::conformance::records;
use deadship_store::{EventStore, Expected, Options, StoreError, StreamId, open};
use uuid::Uuid;

const FIRST: StreamId = StreamId(Uuid::from_u128(7));

fn options() -> Options {
    Options { database: false, ..Options::default() }
}

fn filled(data: &Path, streams: &[StreamId], appends: u64) {
    let store = open(data, &options()).unwrap().store;
    for stream in streams {
        for n in 0..appends {
            store.append(*stream, Expected::Exact(n * 3), &records(3)).unwrap();
        }
    }
}

fn file_of(folder: &Path, stream: StreamId) -> PathBuf {
    folder.join("archive").join(format!("{stream}.jsonl"))
}

fn assert_whole(checked: &[Checked]) {
    assert!(checked.iter().all(|file| file.flaw.is_none()), "{checked:?}");
}

#[test]
fn what_is_backed_up_comes_back_to_the_byte() {
    let place = tempfile::tempdir().unwrap();
    let (data, backup, again) =
        (place.path().join("data"), place.path().join("backup"), place.path().join("again"));
    let streams = [FIRST, StreamId::random(), StreamId::random()];
    filled(&data, &streams, 4);
    let made = back_up(&data, &backup, FIRST, &[]).unwrap();
    assert_eq!((made.len(), made[0].stream), (3, Some(FIRST)));
    assert_whole(&made);
    assert!(is_backup(&backup) && !is_backup(&data));
    assert_whole(&check_backup(&backup).unwrap());
    assert_whole(&restore(&backup, &again, &[]).unwrap());
    for stream in streams {
        assert_eq!(fs::read(file_of(&data, stream)).unwrap(), fs::read(file_of(&again, stream)).unwrap());
    }
    let opened = open(&again, &options()).unwrap();
    assert!(opened.report.is_clean() && opened.report.ignored.is_empty(), "{}", opened.report);
    opened.store.append(FIRST, Expected::Exact(12), &records(1)).unwrap();
    // A backup is never written over.
    assert!(matches!(back_up(&data, &backup, FIRST, &[]), Err(StoreError::Backup { .. })));
}

#[test]
fn a_backup_is_made_while_the_store_is_written() {
    let place = tempfile::tempdir().unwrap();
    let data = place.path().join("data");
    let store = open(&data, &options()).unwrap().store;
    let done = AtomicBool::new(false);
    let streams: Vec<StreamId> = (0..3).map(|_| StreamId::random()).collect();
    for stream in &streams {
        store.append(*stream, Expected::NoStream, &records(2)).unwrap();
    }
    let (done, store) = (&done, &store);
    thread::scope(|scope| {
        for stream in &streams {
            scope.spawn(move || {
                let mut seq = 2;
                while !done.load(Ordering::SeqCst) {
                    store.append(*stream, Expected::Exact(seq), &records(5)).unwrap();
                    seq += 5;
                }
            });
        }
        for round in 0..4 {
            let backup = place.path().join(format!("backup-{round}"));
            let made = back_up(&data, &backup, FIRST, &[]);
            if round == 3 || made.is_err() {
                done.store(true, Ordering::SeqCst);
            }
            let made = made.unwrap();
            assert!(made.iter().all(|file| !file.is_damaged() && file.records() >= 2), "{made:?}");
            assert_whole(&check_backup(&backup).unwrap());
        }
    });
    // Each is the beginning of what the store has.
    for stream in &streams {
        let all = fs::read(file_of(&data, *stream)).unwrap();
        let kept = fs::read(file_of(&place.path().join("backup-3"), *stream)).unwrap();
        assert!(all.starts_with(&kept));
    }
}

#[test]
fn a_torn_end_is_left_out_and_damage_is_said() {
    let place = tempfile::tempdir().unwrap();
    let data = place.path().join("data");
    let (torn, damaged) = (StreamId::random(), StreamId::random());
    filled(&data, &[torn, damaged], 3);
    let file = file_of(&data, torn);
    let bytes = fs::read(&file).unwrap();
    fs::write(&file, &bytes[..bytes.len() - 30]).unwrap();
    let file = file_of(&data, damaged);
    let mut bytes = fs::read(&file).unwrap();
    let at = bytes.len() / 2;
    bytes[at] ^= 1;
    fs::write(&file, bytes).unwrap();
    let backup = place.path().join("backup");
    let made = back_up(&data, &backup, FIRST, &[]).unwrap();
    let of = |stream: StreamId| made.iter().find(|file| file.stream == Some(stream)).unwrap();
    assert!(of(torn).is_torn() && of(torn).records() == 6, "{made:?}");
    assert!(of(damaged).is_damaged() && of(damaged).records() < 9, "{made:?}");
    assert_whole(&check_backup(&backup).unwrap());
    assert!(check(&file_of(&data, damaged)).is_damaged());
}

/// A file cut exactly between two appends looks whole by itself; the list knows better.
#[test]
fn a_backup_that_lost_something_is_not_restored() {
    let place = tempfile::tempdir().unwrap();
    let (data, backup) = (place.path().join("data"), place.path().join("backup"));
    let stream = StreamId::random();
    filled(&data, &[stream], 1);
    let short = fs::read(file_of(&data, stream)).unwrap();
    fs::remove_dir_all(&data).unwrap();
    filled(&data, &[stream, FIRST], 3);
    back_up(&data, &backup, FIRST, &[]).unwrap();
    let whole = fs::read(file_of(&backup, stream)).unwrap();
    let again = place.path().join("again");
    let lines: Vec<&[u8]> = whole.split_inclusive(|byte| *byte == b'\n').collect();
    fs::write(file_of(&backup, stream), lines[..4].concat()).unwrap();
    assert!(check(&file_of(&backup, stream)).flaw.is_none());
    let checked = check_backup(&backup).unwrap();
    assert_eq!(checked.iter().filter(|file| file.is_damaged()).count(), 1);
    assert!(matches!(restore(&backup, &again, &[]), Err(StoreError::Backup { .. })));
    assert!(!again.exists());
    fs::write(file_of(&backup, stream), short).unwrap();
    assert!(restore(&backup, &again, &[]).is_err(), "another run's records under its name");
    fs::remove_file(file_of(&backup, stream)).unwrap();
    assert!(matches!(check_backup(&backup), Err(StoreError::Backup { .. })));
    let list = fs::read_to_string(backup.join(LIST)).unwrap();
    fs::write(backup.join(LIST), list.replacen('1', "2", 1)).unwrap();
    assert!(check_backup(&backup).is_err());
}

#[test]
fn a_folder_in_use_or_not_empty_is_not_restored_into() {
    let place = tempfile::tempdir().unwrap();
    let (data, backup) = (place.path().join("data"), place.path().join("backup"));
    filled(&data, &[FIRST], 2);
    back_up(&data, &backup, FIRST, &[]).unwrap();
    let before = fs::read(file_of(&data, FIRST)).unwrap();
    let held = open(&data, &options()).unwrap();
    assert!(matches!(restore(&backup, &data, &[]), Err(StoreError::Locked { .. })));
    drop(held);
    let error = restore(&backup, &data, &[]).unwrap_err();
    assert!(matches!(error, StoreError::Backup { .. }) && error.to_string().contains("not empty"), "{error}");
    assert_eq!(fs::read(file_of(&data, FIRST)).unwrap(), before);
    // A folder that the backup does not have is somebody's, also when it is empty.
    let someone = place.path().join("someone");
    fs::create_dir_all(someone.join("papers")).unwrap();
    assert!(restore(&backup, &someone, &[]).is_err() && !someone.join("FORMAT").exists());
    // What a restore that was cut short leaves is no obstacle.
    let again = place.path().join("again");
    fs::create_dir_all(again.join("archive.part")).unwrap();
    fs::write(again.join("archive.part/half.jsonl"), "half").unwrap();
    assert_whole(&restore(&backup, &again, &[]).unwrap());
    assert!(!again.join("archive.part").exists());
    assert_eq!(archives_in(&again).unwrap().len(), 1);
}

const OTHERS: [&str; 3] = ["seal/key", "seal/print", "seal/none"];

fn seal(data: &Path) {
    fs::create_dir_all(data.join("seal")).unwrap();
    fs::write(data.join("seal/key"), "secret").unwrap();
    fs::write(data.join("seal/print"), "for all").unwrap();
    fs::write(data.join("seal/draft"), "not asked for").unwrap();
}

#[test]
fn files_beside_the_archives_come_back_for_their_owner_alone() {
    let place = tempfile::tempdir().unwrap();
    let (data, backup, again) =
        (place.path().join("data"), place.path().join("backup"), place.path().join("again"));
    filled(&data, &[FIRST], 2);
    seal(&data);
    back_up(&data, &backup, FIRST, &OTHERS).unwrap();
    let names = |folder: &Path| {
        let entries = fs::read_dir(folder.join("seal")).unwrap();
        let mut names: Vec<_> = entries.map(|entry| entry.unwrap().file_name()).collect();
        names.sort();
        names
    };
    assert_eq!(names(&backup), ["key", "print"]);
    assert_eq!(
        check_others(&backup).unwrap(),
        [("seal/key".to_owned(), true), ("seal/print".to_owned(), true)]
    );
    // Who does not know a file does not lose it in silence.
    let error = restore(&backup, &again, &OTHERS[1..]).unwrap_err();
    assert!(error.to_string().contains("seal/key") && !again.exists(), "{error}");
    // A restore that was cut short had already placed them.
    fs::create_dir_all(again.join("seal")).unwrap();
    fs::write(again.join("seal/key"), "secret").unwrap();
    assert_whole(&restore(&backup, &again, &OTHERS).unwrap());
    assert_eq!(fs::read_to_string(again.join("seal/key")).unwrap(), "secret");
    assert_eq!(names(&again), ["key", "print"]);
    assert!(!again.join("others.part").exists());
    #[cfg(unix)]
    for path in [backup.join("seal/key"), again.join("seal/key")] {
        use std::os::unix::fs::PermissionsExt as _;
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600, "{}", path.display());
    }
}

#[test]
fn files_beside_the_archives_are_checked_and_never_written_over() {
    let place = tempfile::tempdir().unwrap();
    let (data, backup, again) =
        (place.path().join("data"), place.path().join("backup"), place.path().join("again"));
    filled(&data, &[FIRST], 2);
    seal(&data);
    back_up(&data, &backup, FIRST, &OTHERS).unwrap();
    fs::create_dir_all(again.join("seal")).unwrap();
    fs::write(again.join("seal/key"), "another").unwrap();
    let error = restore(&backup, &again, &OTHERS).unwrap_err();
    assert!(error.to_string().contains("not empty"), "{error}");
    assert_eq!(fs::read_to_string(again.join("seal/key")).unwrap(), "another");
    fs::remove_dir_all(&again).unwrap();
    fs::write(backup.join("seal/key"), "secreT").unwrap();
    assert_eq!(check_others(&backup).unwrap()[0], ("seal/key".to_owned(), false));
    let error = restore(&backup, &again, &OTHERS).unwrap_err();
    assert!(error.to_string().contains("seal/key is missing or damaged") && !again.exists(), "{error}");
    fs::remove_file(backup.join("seal/key")).unwrap();
    assert_eq!(check_others(&backup).unwrap()[0], ("seal/key".to_owned(), false));
}

/// The form before this one had no files beside the archives.
#[test]
fn a_backup_of_the_first_format_is_restored() {
    let place = tempfile::tempdir().unwrap();
    let (data, backup, again) =
        (place.path().join("data"), place.path().join("backup"), place.path().join("again"));
    filled(&data, &[FIRST], 2);
    back_up(&data, &backup, FIRST, &[]).unwrap();
    let list = fs::read_to_string(backup.join(LIST)).unwrap();
    let (lines, _) = list.trim_end().rsplit_once('\n').unwrap();
    let lines = format!("{}\n", lines.replacen("deadship-backup 2", "deadship-backup 1", 1));
    assert!(lines.starts_with("deadship-backup 1\n"), "{lines}");
    fs::write(backup.join(LIST), format!("{lines}end {:08x}\n", crc32fast::hash(lines.as_bytes()))).unwrap();
    assert_whole(&restore(&backup, &again, &OTHERS).unwrap());
}

/// On a real disk that is full.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_no_half_backup() {
    let place = tempfile::tempdir().unwrap();
    let (data, disk) = (place.path().join("data"), place.path().join("disk"));
    let streams: Vec<StreamId> = (0..4).map(|_| StreamId::random()).collect();
    filled(&data, &streams, 100);
    fs::create_dir(&disk).unwrap();
    let mount = std::process::Command::new("mount")
        .args(["-t", "tmpfs", "-o", "size=128k", "tmpfs"])
        .arg(&disk)
        .output();
    if !mount.as_ref().is_ok_and(|output| output.status.success()) {
        println!("skipped: no small file system can be mounted here: {mount:?}");
        return;
    }
    let made = back_up(&data, &disk.join("backup"), FIRST, &[]);
    let left: Vec<_> = fs::read_dir(&disk).unwrap().collect();
    // Before anything is asserted, so that nothing stays mounted.
    let unmounted = std::process::Command::new("umount").arg(&disk).status().unwrap();
    assert!(unmounted.success());
    assert!(matches!(made, Err(StoreError::Full { .. })), "{made:?}");
    assert!(left.is_empty(), "{left:?}");
}
