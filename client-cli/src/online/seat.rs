//! Seats that were taken, so that they can be taken back: one small file a server.

use super::address::Address;
use crate::failure::Failure;
use crate::io::Io;
use serde::{Deserialize, Serialize};
use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

/// A seat.
#[derive(Clone, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Seat {
    /// Join code with which it was taken.
    pub(crate) code: String,
    /// Name.
    pub(crate) name: String,
    /// What proves that it is one's own.
    pub(crate) token: String,
    /// The last event that was seen.
    pub(crate) last_seq: u64,
}

fn file(folder: Option<&Path>, address: &Address) -> Option<PathBuf> {
    Some(folder?.join("seats").join(format!("{}.json", address.file_name())))
}

/// The seat on this server, if there is one that can be read.
pub(crate) fn load(io: &Io, address: &Address) -> Option<Seat> {
    let text = fs::read_to_string(file(io.state_folder.as_deref(), address)?).ok()?;
    serde_json::from_str(&text).ok()
}

/// Remembers a seat. A terminal that cannot remember still works, so a failure is only told.
pub(crate) fn save(io: &mut Io, address: &Address, seat: &Seat) {
    if let Err(failure) = write_to(io.state_folder.as_deref(), address, seat) {
        io.tell(&format!("your seat cannot be remembered: {failure}"));
    }
}

/// Remembers a seat in this folder; without one nothing is remembered.
///
/// # Errors
/// What the system said.
pub(crate) fn write_to(folder: Option<&Path>, address: &Address, seat: &Seat) -> Result<(), Failure> {
    file(folder, address).map_or(Ok(()), |path| write(&path, seat))
}

/// In a file of its own first, so that a crash leaves the old one or the new one.
fn write(path: &Path, seat: &Seat) -> Result<(), Failure> {
    let failed = |error| Failure::writing(path, error);
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).map_err(failed)?;
    }
    let fresh = path.with_extension("new");
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    // The token is as good as the seat: nobody else's to read.
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(&fresh).map_err(failed)?;
    // Plain data with text keys always serialises.
    let text = serde_json::to_string(seat).unwrap_or_default();
    file.write_all(text.as_bytes()).map_err(failed)?;
    fs::rename(&fresh, path).map_err(failed)
}
