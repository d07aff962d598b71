//! The data that comes with the program, and data of others in the same layout.
//!
//! Names are paths: `ships/NAME/….toml`, `rigs/NAME.toml`, `library/DRILL.toml`, `procedures/NAME.toml`. Files are not
//! read here: whoever has a folder passes name and text.

use crate::drill_file::{base_of, drill_of, of_either, seed_of, ship_of};
use crate::opening::{Opening, TextFile};
use deadship_plant::file::toml_reader::nearest;
use std::collections::BTreeMap;

/// Name and text of every data file that is built in, sorted by name.
pub const BUILT_IN: &[(&str, &str)] = include!(concat!(env!("OUT_DIR"), "/data.rs"));

/// Data files by name.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Library {
    files: BTreeMap<String, String>,
}

/// A name that the library does not have.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("there is no {what} `{name}`{}", near.as_ref().map_or_else(String::new, |near| format!(" (did you mean `{near}`?)")))]
pub struct Missing {
    /// `ship`, `drill`, `procedure`.
    pub what: &'static str,
    /// As asked for.
    pub name: String,
    /// What is meant, perhaps.
    pub near: Option<String>,
}

impl Library {
    /// What is built in.
    pub fn built_in() -> Library {
        Library::default().with(BUILT_IN.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())))
    }

    /// With more files; one of the same name takes the place of another.
    pub fn with(mut self, files: impl IntoIterator<Item = (String, String)>) -> Library {
        self.files.extend(files);
        self
    }

    /// Names of the drills.
    pub fn drills(&self) -> Vec<&str> {
        self.stems("library/")
    }

    /// Names of the ships.
    pub fn ships(&self) -> Vec<&str> {
        let mut ships: Vec<&str> =
            self.below("ships/").filter_map(|(rest, _)| rest.split_once('/').map(|(ship, _)| ship)).collect();
        ships.dedup();
        ships
    }

    /// Names of the rigs.
    pub fn rigs(&self) -> Vec<&str> {
        self.stems("rigs/")
    }

    /// Names of the procedures.
    pub fn procedures(&self) -> Vec<&str> {
        self.stems("procedures/")
    }

    fn below<'l>(&'l self, folder: &'l str) -> impl Iterator<Item = (&'l str, &'l str)> {
        let files = self.files.range(folder.to_owned()..);
        files.map_while(move |(name, text)| name.strip_prefix(folder).map(|rest| (rest, text.as_str())))
    }

    fn stems<'l>(&'l self, folder: &'l str) -> Vec<&'l str> {
        let names = self.below(folder).filter_map(|(rest, _)| rest.strip_suffix(".toml"));
        names.filter(|name| !name.contains('/')).collect()
    }

    fn file(&self, name: &str) -> Option<TextFile> {
        self.files.get(name).map(|text| TextFile::new(name, text.as_str()))
    }

    /// The files of a ship, or the file of a rig.
    ///
    /// # Errors
    /// There is neither.
    pub fn ship(&self, name: &str) -> Result<Vec<TextFile>, Missing> {
        let folder = format!("ships/{name}/");
        let files: Vec<TextFile> =
            self.below(&folder).map(|(rest, text)| TextFile::new(format!("{folder}{rest}"), text)).collect();
        if !files.is_empty() {
            return Ok(files);
        }
        let rig = self.file(&format!("rigs/{name}.toml"));
        rig.map(|rig| vec![rig]).ok_or_else(|| {
            let known: Vec<&str> = self.ships().into_iter().chain(self.rigs()).collect();
            missing("ship", name, &known)
        })
    }

    /// The file of a drill.
    ///
    /// # Errors
    /// There is none.
    pub fn drill(&self, name: &str) -> Result<TextFile, Missing> {
        self.file(&format!("library/{name}.toml")).ok_or_else(|| missing("drill", name, &self.drills()))
    }

    /// The procedures for a drill.
    pub fn procedures_for(&self, drill: &str) -> Vec<TextFile> {
        let files = self.below("procedures/").filter(|(_, text)| drill_of(text).as_deref() == Some(drill));
        files.map(|(rest, text)| TextFile::new(format!("procedures/{rest}"), text)).collect()
    }

    /// All that a run of a drill is opened with. `seed`: unless the drill's own shall be taken.
    ///
    /// # Errors
    /// The drill, the one that it extends, or its ship is missing.
    pub fn opening(&self, drill: &str, seed: Option<u64>) -> Result<Opening, Missing> {
        let file = self.drill(drill)?;
        let base = base_of(&file.text).map(|base| self.drill(&base)).transpose()?;
        // A drill whose ship cannot be found out gives its own errors when it is read.
        let ship = of_either(&file, base.as_ref(), ship_of);
        let ship_files = ship.as_deref().map_or(Ok(Vec::new()), |ship| self.ship(ship))?;
        let seed = seed.or_else(|| of_either(&file, base.as_ref(), seed_of)).unwrap_or(0);
        let base = base.map(|base| {
            let of_it = self.procedures_for(base.stem());
            (base, of_it)
        });
        let (ship, procedures) = (ship.as_deref().unwrap_or(""), self.procedures_for(drill));
        Ok(Opening::new(file, ship, ship_files, procedures, seed).extending(base))
    }
}

fn missing(what: &'static str, name: &str, known: &[&str]) -> Missing {
    let near = nearest(name, known.iter().copied()).map(str::to_owned);
    Missing { what, name: name.to_owned(), near }
}
