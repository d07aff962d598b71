//! Writes the table of the data files that the crate embeds: ships, rigs, drills and procedures, sorted by name.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs, io};

fn main() -> io::Result<()> {
    let root = PathBuf::from(env::var("CARGO_MANIFEST_DIR").map_err(io::Error::other)?).join("../data");
    let mut files = Vec::new();
    for folder in ["ships", "rigs", "library", "procedures"] {
        gather(&root, &root.join(folder), &mut files)?;
    }
    files.sort();
    let mut table = String::from("&[\n");
    for (name, path) in &files {
        writeln!(table, "    ({name:?}, include_str!({:?})),", path.display().to_string())
            .map_err(io::Error::other)?;
    }
    table.push_str("]\n");
    let out = PathBuf::from(env::var("OUT_DIR").map_err(io::Error::other)?);
    fs::write(out.join("data.rs"), table)
}

/// All TOML files below a folder; a folder that does not exist holds none.
fn gather(root: &Path, folder: &Path, files: &mut Vec<(String, PathBuf)>) -> io::Result<()> {
    println!("cargo:rerun-if-changed={}", folder.display());
    if !folder.is_dir() {
        return Ok(());
    }
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            gather(root, &path, files)?;
        } else if path.extension().is_some_and(|extension| extension == "toml") {
            println!("cargo:rerun-if-changed={}", path.display());
            let parts = path.strip_prefix(root).map_err(io::Error::other)?.components();
            let name: Vec<String> =
                parts.map(|part| part.as_os_str().to_string_lossy().into_owned()).collect();
            files.push((name.join("/"), path.canonicalize()?));
        }
    }
    Ok(())
}
