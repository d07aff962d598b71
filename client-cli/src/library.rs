//! Where names of ships, rigs, drills and procedures lead: to a path, the data folder, or what is built in.

use crate::failure::Failure;
use deadship_plant::file::toml_reader::Problems;
use deadship_run::drill_file::{base_of, drill_of, of_either, seed_of, ship_of, without_base, without_ship};
use deadship_run::library::BUILT_IN;
use deadship_run::opening::{Opening, TextFile};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// What a name can be the name of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sort {
    /// A drill.
    Drill,
    /// A procedure.
    Procedure,
    /// A rig.
    Rig,
    /// A ship.
    Ship,
}

impl Sort {
    /// All, in the order in which they are listed.
    pub const ALL: [Sort; 4] = [Sort::Drill, Sort::Ship, Sort::Rig, Sort::Procedure];

    /// The word.
    pub fn word(self) -> &'static str {
        match self {
            Sort::Drill => "drill",
            Sort::Procedure => "procedure",
            Sort::Rig => "rig",
            Sort::Ship => "ship",
        }
    }

    /// The folder that holds them.
    fn folder(self) -> &'static str {
        match self {
            Sort::Drill => "library",
            Sort::Procedure => "procedures",
            Sort::Rig => "rigs",
            Sort::Ship => "ships",
        }
    }
}

/// A known ship, rig, drill or procedure.
#[derive(Clone, Debug)]
pub struct Entry {
    /// What it is.
    pub sort: Sort,
    /// Its name.
    pub name: String,
    /// Is it built in, or from a folder?
    pub built_in: bool,
    /// Its files.
    pub files: Vec<TextFile>,
}

impl Entry {
    /// Title, and for drills the ship that their own file names, for procedures the drill.
    fn head(&self) -> (String, Option<String>) {
        let mut title = String::new();
        let table = match self.sort {
            Sort::Drill => "drill",
            Sort::Procedure => "procedure",
            Sort::Rig => "rig",
            Sort::Ship => "ship",
        };
        for file in &self.files {
            title = title_of(&file.text, table).unwrap_or(title);
        }
        let text = self.files.first().map_or("", |file| &file.text);
        let of = match self.sort {
            Sort::Drill => ship_of(text),
            Sort::Procedure => drill_of(text),
            Sort::Rig | Sort::Ship => None,
        };
        (title, of)
    }
}

fn title_of(text: &str, table: &str) -> Option<String> {
    let problems = Problems::new(&[(String::new(), text.to_owned())]);
    let documents = problems.parse();
    let root = documents.first()?.as_ref()?.root(&problems);
    let title = root.table(table, "a head")?.get("title")?.text()?;
    Some(title.value)
}

/// What kind of file a text is, by its top-level table.
pub fn sort_of(text: &str) -> Option<Sort> {
    let problems = Problems::new(&[(String::new(), text.to_owned())]);
    let documents = problems.parse();
    let root = documents.first()?.as_ref()?.root(&problems);
    // A head with too many brackets is told by the reader of that sort.
    let has = |sort: &Sort| {
        root.table(sort.word(), "a head").is_some() || !root.tables(sort.word(), "a head").is_empty()
    };
    [Sort::Drill, Sort::Procedure, Sort::Rig, Sort::Ship].into_iter().find(has)
}

/// All that is known by name.
pub struct Library {
    /// By sort and name; what comes from a folder stands before what is built in.
    entries: BTreeMap<(Sort, String), Entry>,
}

impl Library {
    /// What is built in, and what the data folder holds.
    ///
    /// # Errors
    /// When the data folder cannot be read.
    pub fn new(data: Option<&Path>) -> Result<Library, Failure> {
        let mut library = Library { entries: BTreeMap::new() };
        for sort in Sort::ALL {
            let start = format!("{}/", sort.folder());
            for (name, text) in BUILT_IN {
                if let Some(rest) = name.strip_prefix(&start) {
                    library.add(sort, entry_name(sort, rest), true, TextFile::new(*name, *text));
                }
            }
        }
        if let Some(folder) = data {
            if !folder.is_dir() {
                let wants = "`--data` wants one with ships, rigs, library or procedures";
                let text = format!("{} is not a folder; {wants}", folder.display());
                return Err(Failure::Asked(text));
            }
            library.add_folder(folder)?;
        }
        Ok(library)
    }

    fn add(&mut self, sort: Sort, name: &str, built_in: bool, file: TextFile) {
        let fresh = || Entry { sort, name: name.to_owned(), built_in, files: Vec::new() };
        let entry = self.entries.entry((sort, name.to_owned())).or_insert_with(fresh);
        entry.files.push(file);
    }

    /// Adds what a folder of the usual layout holds, in front of what has the same name.
    pub(crate) fn add_folder(&mut self, folder: &Path) -> Result<(), Failure> {
        for sort in Sort::ALL {
            let home = folder.join(sort.folder());
            for path in children(&home)? {
                if path.is_dir() && sort == Sort::Ship {
                    self.replace(sort, &path, &toml_files(&path)?)?;
                } else if is_toml(&path) {
                    self.replace(sort, &path, std::slice::from_ref(&path))?;
                }
            }
        }
        Ok(())
    }

    fn replace(&mut self, sort: Sort, path: &Path, files: &[PathBuf]) -> Result<(), Failure> {
        if files.is_empty() {
            return Ok(());
        }
        let name = stem(path);
        self.entries.remove(&(sort, name.clone()));
        for file in files {
            self.add(sort, &name, false, read_text(file)?);
        }
        Ok(())
    }

    /// All of one sort, by name.
    pub fn all(&self, sort: Sort) -> impl Iterator<Item = &Entry> {
        self.entries.values().filter(move |entry| entry.sort == sort)
    }

    pub(crate) fn get(&self, sort: Sort, name: &str) -> Option<&Entry> {
        self.entries.get(&(sort, name.to_owned()))
    }

    /// A drill by name or path. What lies beside the file (ships, rigs, procedures) becomes known.
    ///
    /// # Errors
    /// When there is none, or a file cannot be read.
    pub fn drill(&mut self, given: &str) -> Result<TextFile, Failure> {
        if let Some(path) = as_path(given) {
            self.look_around(&path)?;
            return read_text(&path);
        }
        match self.get(Sort::Drill, given) {
            // An entry has a file.
            Some(entry) => Ok(entry.files[0].clone()),
            None => Err(self.no_drill(given)),
        }
    }

    /// That a drill is not known; where else it may be looked for.
    fn no_drill(&self, given: &str) -> Failure {
        let is_ship = self.get(Sort::Ship, given).or_else(|| self.get(Sort::Rig, given)).is_some();
        let hint = match lying_about(given) {
            _ if is_ship => Some(format!("it is a ship or rig: `deadship inspect --ship {given}`")),
            Some(path) => {
                let path = path.display();
                Some(format!(
                    "there is {path}: name it so, or say `--data .` for names of the folder you are in"
                ))
            }
            None => None,
        };
        match hint {
            Some(hint) => {
                Failure::Asked(format!("there is no drill `{given}` that is known by name; {hint}"))
            }
            None => Failure::unknown("drill", given, self.all(Sort::Drill).map(|e| e.name.as_str())),
        }
    }

    /// A file given by its path may stand in a folder of the usual layout, or beside its ship.
    pub fn look_around(&mut self, path: &Path) -> Result<(), Failure> {
        let here = path.parent().unwrap_or(Path::new(""));
        let here = if here.as_os_str().is_empty() { Path::new(".") } else { here };
        let home = home_of(here);
        if let Some(home) = &home {
            self.add_folder(home)?;
        }
        self.add_folder(here)?;
        for path in children(here)? {
            if path.is_dir() {
                // A neighbour that cannot be looked into is none.
                let files = toml_files(&path).unwrap_or_default();
                let heads = files.iter().filter_map(|file| fs::read_to_string(file).ok());
                if heads.filter_map(|text| sort_of(&text)).any(|sort| sort == Sort::Ship) {
                    self.replace(Sort::Ship, &path, &files)?;
                }
            } else if is_toml(&path) && home.is_none() {
                let sort = fs::read_to_string(&path).ok().and_then(|text| sort_of(&text));
                if let Some(sort) = sort {
                    self.replace(sort, &path, std::slice::from_ref(&path))?;
                }
            }
        }
        Ok(())
    }

    /// A ship or rig by name or path: its name and files.
    ///
    /// # Errors
    /// When there is none, or a file cannot be read.
    pub fn ship(&self, given: &str) -> Result<(String, Vec<TextFile>), Failure> {
        if let Some(path) = as_path(given) {
            let files = if path.is_dir() { toml_files(&path)? } else { vec![path.clone()] };
            if files.is_empty() {
                let text = format!("{}: the folder holds no .toml file", path.display());
                return Err(Failure::Asked(text));
            }
            let texts: Result<Vec<TextFile>, Failure> = files.iter().map(|file| read_text(file)).collect();
            return Ok((stem(&path), texts?));
        }
        Ok((given.to_owned(), self.ship_files(given)?))
    }

    /// The files of a ship or rig that a file names: never a path.
    fn ship_files(&self, name: &str) -> Result<Vec<TextFile>, Failure> {
        let entry = self.get(Sort::Ship, name).or_else(|| self.get(Sort::Rig, name));
        entry.map(|entry| entry.files.clone()).ok_or_else(|| self.no_ship(name))
    }

    fn no_ship(&self, name: &str) -> Failure {
        let known = self.all(Sort::Ship).chain(self.all(Sort::Rig)).map(|entry| entry.name.as_str());
        Failure::unknown("ship or rig", name, known)
    }

    /// A procedure by name or path.
    ///
    /// # Errors
    /// When there is none, or a file cannot be read.
    pub fn procedure(&self, given: &str) -> Result<TextFile, Failure> {
        if let Some(path) = as_path(given) {
            return read_text(&path);
        }
        match self.get(Sort::Procedure, given) {
            Some(entry) => Ok(entry.files[0].clone()),
            None => {
                Err(Failure::unknown("procedure", given, self.all(Sort::Procedure).map(|e| e.name.as_str())))
            }
        }
    }

    /// The procedures that are for a drill, by name.
    pub fn procedures_for(&self, drill: &str) -> Vec<TextFile> {
        let fits = |entry: &&Entry| drill_of(&entry.files[0].text).as_deref() == Some(drill);
        self.all(Sort::Procedure).filter(fits).map(|entry| entry.files[0].clone()).collect()
    }

    /// What a run of this drill is opened with; without a seed, the drill's own.
    ///
    /// # Errors
    /// When the drill names no known ship, or extends no known drill.
    pub fn opening(
        &self,
        drill: TextFile,
        procedures: Vec<TextFile>,
        seed: Option<u64>,
    ) -> Result<Opening, Failure> {
        let base = self.base(&drill)?;
        let Some(ship) = of_either(&drill, base.as_ref(), ship_of) else {
            return Err(Failure::Files(without_ship(&drill, base.as_ref())));
        };
        let files = self.ship_files(&ship)?;
        let seed = seed.or_else(|| of_either(&drill, base.as_ref(), seed_of)).unwrap_or(0);
        let base = base.map(|base| {
            let of_it = self.procedures_for(base.stem());
            (base, of_it)
        });
        Ok(Opening::new(drill, &ship, files, procedures, seed).extending(base))
    }

    /// The file of the drill that a drill extends.
    fn base(&self, drill: &TextFile) -> Result<Option<TextFile>, Failure> {
        let Some(name) = base_of(&drill.text) else { return Ok(None) };
        match self.get(Sort::Drill, &name) {
            Some(entry) => Ok(entry.files.first().cloned()),
            None => {
                let known = self.all(Sort::Drill).map(|entry| entry.name.as_str());
                Err(Failure::Files(without_base(drill, known)))
            }
        }
    }

    /// Title of an entry, and for drills the ship, for procedures the drill.
    pub(crate) fn head(&self, entry: &Entry) -> (String, Option<String>) {
        let (title, of) = entry.head();
        let base = |text: &TextFile| self.get(Sort::Drill, &base_of(&text.text)?)?.head().1;
        let is_drill = entry.sort == Sort::Drill;
        (title, of.or_else(|| entry.files.first().filter(|_| is_drill).and_then(base)))
    }
}

/// A drill's file of this name near where one is.
fn lying_about(name: &str) -> Option<PathBuf> {
    let near = [format!("library/{name}.toml"), format!("{name}.toml")];
    near.into_iter().map(PathBuf::from).find(|path| path.is_file())
}

/// The folder that holds this one, if this is one of the usual layout.
fn home_of(folder: &Path) -> Option<PathBuf> {
    let full = folder.canonicalize().ok()?;
    let name = full.file_name()?.to_str()?;
    if !Sort::ALL.iter().any(|sort| sort.folder() == name) {
        return None;
    }
    // The shortest way to write it.
    Some(match folder.parent() {
        Some(parent) if folder.file_name().is_some() && parent.as_os_str().is_empty() => PathBuf::from("."),
        Some(parent) if folder.file_name().is_some() => parent.to_owned(),
        _ => folder.join(".."),
    })
}

/// The name of an entry whose file lies here below its sort's folder.
fn entry_name(sort: Sort, rest: &str) -> &str {
    match (sort, rest.split_once('/')) {
        (Sort::Ship, Some((folder, _))) => folder,
        _ => rest.strip_suffix(".toml").unwrap_or(rest),
    }
}

/// A path, unless it can only be a name.
pub(crate) fn as_path(given: &str) -> Option<PathBuf> {
    let looks = given.contains(['/', '\\']) || given.ends_with(".toml");
    looks.then(|| PathBuf::from(given))
}

fn is_toml(path: &Path) -> bool {
    path.is_file() && path.extension().is_some_and(|extension| extension == "toml")
}

/// Sorted by name, so that nothing depends on the order of a folder. A folder that does not exist is empty.
fn children(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    if !folder.is_dir() {
        return Ok(Vec::new());
    }
    let failed = |error| Failure::reading(folder, error);
    let mut paths = Vec::new();
    for entry in fs::read_dir(folder).map_err(failed)? {
        paths.push(entry.map_err(failed)?.path());
    }
    paths.sort();
    Ok(paths)
}

/// The TOML files of a ship's folder.
pub(crate) fn toml_files(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    Ok(children(folder)?.into_iter().filter(|path| is_toml(path)).collect())
}

/// A file's text under the name by which people find it. What is not UTF-8 in it is told, with its place, by who reads it:
/// so a file that nobody asked for stops nothing.
pub(crate) fn read_text(path: &Path) -> Result<TextFile, Failure> {
    let bytes = fs::read(path).map_err(|error| Failure::reading(path, error))?;
    Ok(TextFile::new(path.display().to_string(), String::from_utf8_lossy(&bytes)))
}

/// The name without folders and ending.
pub(crate) fn stem(path: &Path) -> String {
    let name = path.file_name().and_then(|name| name.to_str()).unwrap_or("ship");
    name.strip_suffix(".toml").unwrap_or(name).to_owned()
}
