//! Calls the program in this process, and keeps what it says.

#![allow(clippy::unwrap_used, reason = "a test that cannot go on has failed")]

use deadship::io::Io;
use std::fs;
use std::io::{self, Write};
use std::path::Path;
use std::sync::{Arc, Mutex};

/// What a call said.
pub struct Told {
    /// Exit status.
    pub status: u8,
    /// Results.
    pub out: String,
    /// Talk.
    pub talk: String,
}

/// Collects what is written.
#[derive(Clone, Default)]
struct Kept(Arc<Mutex<Vec<u8>>>);

impl Write for Kept {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl Kept {
    fn text(&self) -> String {
        String::from_utf8(self.0.lock().unwrap().clone()).unwrap()
    }
}

/// Calls the program.
pub fn deadship(args: &[&str]) -> Told {
    deadship_with("", args)
}

/// Calls the program with this for its input.
#[allow(dead_code, reason = "not every test file needs it")]
pub fn deadship_with(input: &str, args: &[&str]) -> Told {
    let (out, talk) = (Kept::default(), Kept::default());
    let mut io = Io {
        input: Box::new(io::Cursor::new(input.as_bytes().to_vec())),
        out: Box::new(out.clone()),
        talk: Box::new(talk.clone()),
        interactive: false,
        state_folder: None,
    };
    let status = deadship::run_with([&["deadship"], args].concat(), &mut io);
    Told { status, out: out.text(), talk: talk.text() }
}

/// A reader that has gone.
struct Closed;

impl Write for Closed {
    fn write(&mut self, _: &[u8]) -> io::Result<usize> {
        Err(io::ErrorKind::BrokenPipe.into())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

/// Calls the program when nobody reads its results; the exit status.
#[allow(dead_code, reason = "not every test file needs it")]
pub fn deadship_to_closed(args: &[&str]) -> u8 {
    let mut io = Io {
        input: Box::new(io::empty()),
        out: Box::new(Closed),
        talk: Box::new(io::sink()),
        interactive: false,
        state_folder: None,
    };
    deadship::run_with([&["deadship"], args].concat(), &mut io)
}

/// Path of a fixture, as tests are run in the crate's folder.
#[allow(dead_code, reason = "not every test file needs it")]
pub fn fixture(name: &str) -> String {
    format!("tests/fixtures/{name}").trim_end_matches('/').to_owned()
}

/// A folder for one test.
#[allow(dead_code, reason = "not every test file needs it")]
pub fn folder() -> tempfile::TempDir {
    tempfile::tempdir().unwrap()
}

/// Copies the fixtures, to spoil them.
#[allow(dead_code, reason = "not every test file needs it")]
pub fn copy_fixtures(to: &Path) {
    copy(Path::new("tests/fixtures"), to);
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copy(&path, &target);
        } else {
            fs::copy(&path, &target).unwrap();
        }
    }
}
