//! The ships of the library, read from their folders.

use deadship_plant::spec::ShipSpec;
use deadship_plant::{file, kinds};
use std::path::Path;

/// Folders under `drills/data/ships`.
pub const NAMES: &[&str] = &["quillmere", "tamberwick"];

/// Reads a ship; its files are known to be good.
pub fn read(name: &str) -> ShipSpec {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../data/ships").join(name);
    let mut files: Vec<(String, String)> = std::fs::read_dir(folder)
        .expect("the ship's folder")
        .map(|entry| entry.expect("an entry").path())
        .map(|path| (path.display().to_string(), std::fs::read_to_string(&path).expect("a text")))
        .collect();
    files.sort();
    file::read_ship(kinds::REGISTRY, &files).unwrap_or_else(|problems| panic!("{problems:?}"))
}
