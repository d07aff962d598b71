//! Where an export goes: to a new file, or to the output. Nothing is overwritten and nothing half written is left.

use crate::failure::Failure;
use crate::io::Io;
use std::fs::{self, OpenOptions};
use std::io::{self, BufWriter, ErrorKind, Write};
use std::path::Path;

/// A file or the output, and how its failures are told.
pub(crate) struct Output<'a> {
    path: Option<&'a Path>,
    writer: &'a mut dyn Write,
}

impl Output<'_> {
    /// Into memory, for tests.
    #[cfg(test)]
    pub(crate) fn to(bytes: &mut Vec<u8>) -> Output<'_> {
        Output { path: None, writer: bytes }
    }

    /// A line.
    pub(crate) fn line(&mut self, text: &str) -> Result<(), Failure> {
        self.bytes(text.as_bytes())?;
        self.bytes(b"\n")
    }

    /// These bytes and no others.
    pub(crate) fn bytes(&mut self, bytes: &[u8]) -> Result<(), Failure> {
        self.writer.write_all(bytes).map_err(|error| failure(self.path, error))
    }
}

/// What a failed write is called.
fn failure(path: Option<&Path>, error: io::Error) -> Failure {
    match path {
        Some(path) => Failure::writing(path, error),
        None => Failure::Output(error),
    }
}

/// Writes a new file at this path, or to the output.
///
/// # Errors
/// There is something at the path already; or it cannot be written, and then what was begun is removed.
pub(crate) fn write_new<T>(
    io: &mut Io,
    path: Option<&Path>,
    write: &mut dyn FnMut(&mut Output) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let Some(path) = path else {
        let done = write(&mut Output { path: None, writer: &mut io.out })?;
        io.flush()?;
        return Ok(done);
    };
    let file =
        OpenOptions::new().write(true).create_new(true).open(path).map_err(|error| match error.kind() {
            ErrorKind::AlreadyExists => exists(path),
            _ => Failure::writing(path, error),
        })?;
    let mut writer = BufWriter::new(file);
    let mut written = write(&mut Output { path: Some(path), writer: &mut writer });
    if written.is_ok() {
        let kept = writer.flush().and_then(|()| writer.get_ref().sync_all());
        if let Err(error) = kept {
            written = Err(Failure::writing(path, error));
        }
    }
    if written.is_err() {
        // The failure is what is told; a file that cannot be removed either changes nothing about it.
        let _ = fs::remove_file(path);
    }
    written
}

/// What is said of a path where there is something already.
pub(crate) fn exists(path: &Path) -> Failure {
    let path = path.display();
    Failure::Asked(format!("{path} exists already, and nothing is overwritten: name another file"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn talker() -> Io {
        Io {
            input: Box::new(io::empty()),
            out: Box::new(io::sink()),
            talk: Box::new(io::sink()),
            interactive: false,
            state_folder: None,
        }
    }

    #[test]
    fn nothing_is_overwritten_and_nothing_half_written_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a");
        write_new(&mut talker(), Some(&path), &mut |out| out.line("one")).unwrap();
        let again = write_new(&mut talker(), Some(&path), &mut |out| out.line("two"));
        assert!(again.unwrap_err().to_string().contains("exists already"));
        assert_eq!(fs::read_to_string(&path).unwrap(), "one\n");

        let other = folder.path().join("b");
        let full: Result<(), Failure> = write_new(&mut talker(), Some(&other), &mut |out| {
            out.line("begun")?;
            Err(failure(out.path, io::Error::from(ErrorKind::StorageFull)))
        });
        let told = full.unwrap_err().to_string();
        assert!(told.contains("b: writing failed: "), "{told}");
        assert!(!other.exists());
        let nowhere = folder.path().join("no/such/folder");
        let nowhere = write_new(&mut talker(), Some(&nowhere), &mut |out| out.line("x"));
        assert!(nowhere.unwrap_err().to_string().contains("writing failed"));
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn a_full_disk_is_told() {
        // The system's own device that is always full.
        let mut full = OpenOptions::new().write(true).open("/dev/full").unwrap();
        let path = Path::new("/dev/full");
        let told = Output { path: Some(path), writer: &mut full }.line("x").unwrap_err().to_string();
        assert!(told.starts_with("/dev/full: writing failed: No space left"), "{told}");
    }
}
