//! Every ship and rig of the data folder is sound: nothing in it is refused.
#![allow(clippy::unwrap_used)]

use std::path::{Path, PathBuf};

fn texts(folder: &Path) -> Vec<(String, String)> {
    let mut paths: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
    paths.sort();
    let name = |path: &Path| path.file_name().unwrap().to_string_lossy().into_owned();
    paths.iter().map(|path| (name(path), std::fs::read_to_string(path).unwrap())).collect()
}

#[test]
fn ships_and_rigs_are_sound() {
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("../data");
    let mut wholes: Vec<Vec<(String, String)>> = Vec::new();
    for ship in std::fs::read_dir(data.join("ships")).unwrap() {
        wholes.push(texts(&ship.unwrap().path()));
    }
    wholes.extend(texts(&data.join("rigs")).into_iter().map(|rig| vec![rig]));
    assert!(wholes.len() > 10);
    for files in wholes {
        let read = deadship_plant::file::read_ship(deadship_plant::kinds::REGISTRY, &files);
        let said: Vec<String> = read.err().unwrap_or_default().iter().map(ToString::to_string).collect();
        assert!(said.is_empty(), "{}", said.join("\n"));
    }
}
