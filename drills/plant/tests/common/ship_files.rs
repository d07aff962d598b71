//! The ships of the library, read from their folders, for tests and benchmarks.

use deadship_plant::spec::ShipSpec;
use deadship_plant::{file, kinds};
use std::path::Path;

/// Name and text of a ship's files, in order.
pub fn files(ship: &str) -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../data/ships").join(ship);
    let mut files: Vec<(String, String)> = std::fs::read_dir(folder)
        .expect("the ship's folder")
        .map(|entry| entry.expect("an entry").path())
        .map(|path| (path.display().to_string(), std::fs::read_to_string(&path).expect("a text")))
        .collect();
    files.sort();
    files
}

/// What files say that are known to be good.
pub fn read(files: &[(String, String)]) -> ShipSpec {
    file::read_ship(kinds::REGISTRY, files).unwrap_or_else(|problems| panic!("{problems:?}"))
}
