//! A file system of its own is shut down under a server that several teams work on: what no completed flush covers is
//! dropped, as when the power goes. It needs root and a loop device; without them it says so and passes.
//!
//! What this cannot show is a disk that loses what it has acknowledged as flushed.
#![cfg(target_os = "linux")]

use deadship_tests::load::{Seeded, Teams};
use deadship_tests::run;
use deadship_tests::server::ServerProcess;
use std::path::{Path, PathBuf};
use std::process::Command;

const SERVER: &str = env!("CARGO_BIN_EXE_deadship-server-under-test");

/// Rounds in the short test, unless the variable `DEADSHIP_POWER_CUTS` says another number.
const CUTS: u64 = 3;

/// Rounds in the full one.
const ALL_CUTS: u64 = 50;

const TEAMS: usize = 3;

/// `FS_IOC_SHUTDOWN` of linux/fs.h, _IOR('X', 125, __u32), with `FS_SHUTDOWN_FLAGS_NOLOGFLUSH` (0x2): nothing more is
/// written, the journal's last transaction included.
const SHUT_DOWN: &str = "import fcntl, os, struct, sys; \
                         fcntl.ioctl(os.open(sys.argv[1], os.O_RDONLY), 0x8004587d, struct.pack('I', 2))";

/// An ext4 file system in a file.
struct Disk {
    folder: tempfile::TempDir,
}

impl Disk {
    /// `None`, with the reason printed, where the system does not allow it.
    fn new() -> Option<Disk> {
        let disk = Disk { folder: tempfile::tempdir().ok()? };
        let image = std::fs::File::create(disk.image()).and_then(|file| file.set_len(256 << 20));
        image.ok()?;
        std::fs::create_dir(disk.place()).ok()?;
        tool("mkfs.ext4", &["-q", "-F"], &[&disk.image()])?;
        disk.mount()?;
        Some(disk)
    }

    fn image(&self) -> PathBuf {
        self.folder.path().join("image")
    }

    fn place(&self) -> PathBuf {
        self.folder.path().join("mounted")
    }

    fn mount(&self) -> Option<()> {
        tool("mount", &["-o", "loop"], &[&self.image(), &self.place()])
    }

    fn unmount(&self) -> Option<()> {
        tool("umount", &[], &[&self.place()])
    }

    fn cut_power(&self) -> Option<()> {
        tool("python3", &["-c", SHUT_DOWN], &[&self.place()])
    }
}

impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg("-l").arg(self.place()).output();
    }
}

fn tool(program: &str, words: &[&str], paths: &[&Path]) -> Option<()> {
    let why = match Command::new(program).args(words).args(paths).output() {
        Ok(output) if output.status.success() => return Some(()),
        Ok(output) => String::from_utf8_lossy(&output.stderr).trim().to_owned(),
        Err(error) => error.to_string(),
    };
    println!("{program} {words:?} is not possible here: {why}");
    None
}

async fn cut_again_and_again(cuts: u64) {
    let Some(disk) = Disk::new() else {
        println!("skipped: no file system of its own can be made here");
        return;
    };
    let data = disk.place().join("data");
    let mut server = ServerProcess::start(SERVER, &data);
    let mut teams = Teams::open(&server, TEAMS).await;
    let mut said = String::new();
    for round in 0..cuts {
        let wanted = 1 + Seeded(round).below(30);
        let mut was_cut = None;
        let end = |server: ServerProcess| {
            // The power goes for the program as well: it must not go on and be told good things by a file system that
            // is no more.
            server.freeze();
            was_cut = disk.cut_power();
            server.kill();
        };
        teams.work_until(server, round, wanted, end).await;
        if was_cut.is_none() {
            println!("skipped: this file system cannot be shut down");
            return;
        }
        assert!(disk.unmount().is_some() && disk.mount().is_some(), "round {round}");
        server = ServerProcess::start(SERVER, &data);
        teams.check(&server, round);
        said.clone_from(&server.printed);
    }
    server.kill();
    let verified = run(SERVER, &["verify", "--replay", "--data", &data.display().to_string()]);
    assert_eq!(verified.status, 0, "{}{}", verified.out, verified.err);
    assert_eq!(verified.out.matches("digests are the same").count(), TEAMS, "{}", verified.out);
    println!(
        "{} acknowledged over {cuts} power cuts, none lost;\n{}\n{said}",
        teams.acknowledged(),
        verified.out
    );
}

fn cuts(usual: u64) -> u64 {
    std::env::var("DEADSHIP_POWER_CUTS").ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nothing_acknowledged_is_lost_by_power_cuts() {
    cut_again_and_again(cuts(CUTS)).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
#[ignore = "the full one: fifty power cuts take minutes"]
async fn nothing_acknowledged_is_lost_by_fifty_power_cuts() {
    cut_again_and_again(cuts(ALL_CUTS)).await;
}
