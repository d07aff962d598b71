//! `deadship check`: everything that is wrong with files, in one go.

use crate::cli::CheckArgs;
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::library::{Entry, Library, Sort, read_text, sort_of, toml_files};
use deadship_plant::file::read_ship;
use deadship_plant::file::toml_reader::{Problems, nearest};
use deadship_plant::kinds::REGISTRY;
use deadship_plant::spec::Problem;
use deadship_run::drill_file::{drill_of, extended_by};
use deadship_run::opening::{OpenError, TextFile};
use deadship_run::setup::Setup;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// `deadship check`.
pub(crate) fn check(io: &mut Io, library: &mut Library, args: &CheckArgs) -> Result<u8, Failure> {
    let mut checks = Checks::default();
    if args.files.is_empty() {
        checks.everything(library);
    } else {
        checks.named(library, &gather(&args.files)?)?;
    }
    let problems: Vec<&Problem> = checks.problems.values().collect();
    for problem in &problems {
        if args.json {
            // Plain data with text keys always serialises.
            io.line(&serde_json::to_string(problem).unwrap_or_default())?;
        } else {
            io.line(&problem.to_string())?;
        }
    }
    io.flush()?;
    let files = match checks.files {
        1 => "1 file".to_owned(),
        count => format!("{count} files"),
    };
    io.tell(&match problems.len() {
        0 => format!("{files} checked: nothing is wrong"),
        1 => format!("{files} checked: 1 problem"),
        count => format!("{files} checked: {count} problems"),
    });
    Ok(if problems.is_empty() { WELL } else { NO })
}

/// The files that were named, and those in folders that were named.
pub(crate) fn gather(paths: &[PathBuf]) -> Result<BTreeMap<PathBuf, TextFile>, Failure> {
    let mut files = BTreeMap::new();
    for path in paths {
        let named = if path.is_dir() { below(path)? } else { vec![path.clone()] };
        if named.is_empty() {
            return Err(Failure::Asked(format!("{}: the folder holds no .toml file", path.display())));
        }
        for file in named {
            files.insert(file.clone(), read_text(&file)?);
        }
    }
    Ok(files)
}

/// All TOML files of a folder and the folders in it, as deep as the usual layout goes.
fn below(folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    const DEEPEST: usize = 4;
    let mut files = Vec::new();
    let mut folders = vec![(folder.to_owned(), 0)];
    while let Some((folder, depth)) = folders.pop() {
        files.extend(toml_files(&folder)?);
        let failed = |error| Failure::reading(&folder, error);
        for entry in std::fs::read_dir(&folder).map_err(failed)? {
            let path = entry.map_err(failed)?.path();
            if path.is_dir() && depth < DEEPEST {
                folders.push((path, depth + 1));
            }
        }
    }
    Ok(files)
}

/// Problems so far, by place, each once.
#[derive(Default)]
pub(crate) struct Checks {
    /// What is wrong.
    pub(crate) problems: BTreeMap<(String, u32, u32, String), Problem>,
    /// Files looked at.
    pub(crate) files: usize,
}

impl Checks {
    pub(crate) fn report(&mut self, problems: impl IntoIterator<Item = Problem>) {
        for problem in problems {
            let key = (problem.file.clone(), problem.line, problem.column, problem.message.clone());
            self.problems.insert(key, problem);
        }
    }

    /// All that is known by name.
    pub(crate) fn everything(&mut self, library: &Library) {
        for entry in Sort::ALL.into_iter().flat_map(|sort| library.all(sort)) {
            self.entry(library, entry);
        }
    }

    /// What is known by one name.
    pub(crate) fn entry(&mut self, library: &Library, entry: &Entry) {
        self.files += entry.files.len();
        match entry.sort {
            Sort::Ship | Sort::Rig => self.ship(&entry.files),
            Sort::Drill => {
                let procedures = library.procedures_for(&entry.name);
                self.drill(library, &entry.files[0], procedures);
            }
            Sort::Procedure => self.procedure_alone(library, &entry.files[0]),
        }
    }

    /// Files that were named, with what lies beside them.
    pub(crate) fn named(
        &mut self,
        library: &mut Library,
        files: &BTreeMap<PathBuf, TextFile>,
    ) -> Result<(), Failure> {
        for file in files.keys() {
            library.look_around(file)?;
        }
        self.files(library, files)
    }

    fn files(&mut self, library: &mut Library, files: &BTreeMap<PathBuf, TextFile>) -> Result<(), Failure> {
        self.files += files.len();
        let mut ship_parts: BTreeMap<PathBuf, Vec<PathBuf>> = BTreeMap::new();
        for (path, file) in files {
            let broken = syntax(file);
            if !broken.is_empty() {
                self.report(broken);
                continue;
            }
            match sort_of(&file.text) {
                Some(Sort::Drill) => {
                    // Its procedures are opened with it, so what is wrong with them is told with it, or where they are named.
                    let mut procedures = library.procedures_for(file.stem());
                    procedures.retain(|one| !is_among(files, Path::new(&one.name)));
                    self.files += procedures.len();
                    self.drill(library, file, procedures);
                }
                Some(Sort::Procedure) => self.procedure(library, file),
                Some(Sort::Rig) => self.ship(std::slice::from_ref(file)),
                Some(Sort::Ship) | None => {
                    let folder = path.parent().unwrap_or(Path::new("")).to_owned();
                    ship_parts.entry(folder).or_default().push(path.clone());
                }
            }
        }
        for (folder, parts) in ship_parts {
            self.ship_in(&folder, &parts, files)?;
        }
        Ok(())
    }

    /// Parts of a ship make sense only together: where the folder holds one ship, all its files are read.
    fn ship_in(
        &mut self,
        folder: &Path,
        named: &[PathBuf],
        files: &BTreeMap<PathBuf, TextFile>,
    ) -> Result<(), Failure> {
        let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
        let mut all = Vec::new();
        for path in toml_files(here)? {
            let text = match named.iter().find(|named| named.file_name() == path.file_name()) {
                Some(named) => files.get(named).cloned(),
                None => Some(read_text(&path)?),
            };
            all.extend(text.filter(|file| matches!(sort_of(&file.text), Some(Sort::Ship) | None)));
        }
        let heads = all.iter().filter(|file| sort_of(&file.text).is_some()).count();
        // In the usual layout a folder below `ships` is one ship, and a second head a mistake.
        let full = here.canonicalize().unwrap_or_default();
        let is_ship = full.parent().and_then(Path::file_name).is_some_and(|name| name == "ships");
        if heads == 1 || heads > 1 && is_ship {
            // A file of the folder that is no TOML gives an error of its own.
            self.ship(&all);
        } else {
            for file in named.iter().filter_map(|path| files.get(path)) {
                match without_head(file) {
                    Some(problem) => self.report([problem]),
                    None => self.ship(std::slice::from_ref(file)),
                }
            }
        }
        Ok(())
    }

    fn ship(&mut self, files: &[TextFile]) {
        let files: Vec<(String, String)> = files.iter().map(|f| (f.name.clone(), f.text.clone())).collect();
        if let Err(problems) = read_ship(REGISTRY, &files) {
            self.report(problems);
        }
    }

    /// A drill with procedures, on its ship.
    fn drill(&mut self, library: &Library, drill: &TextFile, procedures: Vec<TextFile>) {
        let opening = match library.opening(drill.clone(), procedures, None) {
            Ok(opening) => opening,
            Err(Failure::Files(problems)) => return self.report(problems),
            Err(failure) => return self.report([placed(drill, ("drill", "ship"), failure.to_string())]),
        };
        match Setup::check(opening) {
            Ok(()) => {}
            Err(OpenError::Files(problems)) => self.report(problems),
            Err(OpenError::Settle(failure)) => self.report([whole(drill, failure.to_string())]),
        }
    }

    /// A procedure by its file: checked with its drill, of which only mistakes of this file are told.
    fn procedure(&mut self, library: &mut Library, procedure: &TextFile) {
        let Some(drill) = self.drill_for(library, procedure) else { return };
        let mut own = Checks::default();
        // One that extends another means nothing without it; if that is not there, all are known by name.
        let extended = extended_by(&procedure.text);
        let mut others = library.procedures_for(drill.stem());
        others.retain(|other| extended.is_some() && other.stem() != procedure.stem());
        let is_there = others.iter().any(|other| extended.as_deref() == Some(other.stem()));
        others.retain(|other| !is_there || extended.as_deref() == Some(other.stem()));
        // What is wrong with those that it does not extend is no matter of its own.
        let apart: BTreeSet<String> =
            others.iter().filter(|_| !is_there).map(|other| other.name.clone()).collect();
        let beside: BTreeSet<String> = others.iter().map(|other| other.name.clone()).collect();
        own.drill(library, &drill, others.into_iter().chain([procedure.clone()]).collect());
        let (mine, others): (Vec<Problem>, Vec<Problem>) =
            own.problems.into_values().partition(|problem| problem.file == procedure.name);
        let others: BTreeSet<String> = others.into_iter().map(|problem| problem.file).collect();
        let others: BTreeSet<String> = others.difference(&apart).cloned().collect();
        // Two that each extend the other have said so.
        let is_said = !mine.is_empty() && others.iter().all(|file| beside.contains(file));
        if !others.is_empty() && !is_said {
            let others: Vec<String> = others.into_iter().collect();
            let text = format!("it cannot be checked to the end: first put right {}", others.join(", "));
            self.report([whole(procedure, text)]);
        }
        self.report(mine);
    }

    /// Procedures that are known by name are checked with their drill, if there is one.
    fn procedure_alone(&mut self, library: &Library, procedure: &TextFile) {
        let broken = syntax(procedure);
        if broken.is_empty() {
            self.drill_for(library, procedure);
        } else {
            self.report(broken);
        }
    }

    fn drill_for(&mut self, library: &Library, procedure: &TextFile) -> Option<TextFile> {
        let Some(name) = drill_of(&procedure.text) else {
            self.report(without_drill(procedure));
            return None;
        };
        let known: Vec<&str> = library.all(Sort::Drill).map(|entry| entry.name.as_str()).collect();
        match library.all(Sort::Drill).find(|entry| entry.name == name) {
            Some(entry) => entry.files.first().cloned(),
            None => {
                let failure = Failure::unknown("drill", &name, known);
                self.report([placed(procedure, ("procedure", "drill"), failure.to_string())]);
                None
            }
        }
    }
}

/// Is it one of these files, however its path is written? What is built in has none.
fn is_among(files: &BTreeMap<PathBuf, TextFile>, path: &Path) -> bool {
    let Ok(full) = path.canonicalize() else { return false };
    files.keys().any(|file| file.canonicalize().is_ok_and(|other| other == full))
}

/// What is said of a file that bears no head and looks like none of a ship's: that of a drill or a procedure is missing, or misspelt.
fn without_head(file: &TextFile) -> Option<Problem> {
    const PARTS: [(&str, &[&str]); 2] = [
        ("drill", &["station", "fault", "message", "aim", "expect", "objective", "variant"]),
        ("procedure", &["step"]),
    ];
    let problems = Problems::new(&[(file.name.clone(), file.text.clone())]);
    let documents = problems.parse();
    let root = documents.first()?.as_ref()?.root(&problems);
    let keys = root.not_asked();
    let heads = Sort::ALL.map(Sort::word);
    if sort_of(&file.text).is_some() {
        return None;
    }
    let misspelt = keys.iter().find_map(|key| Some((key, nearest(key, heads)?)));
    let has = |part: &&str| keys.iter().any(|key| key == part);
    let meant = PARTS.iter().find(|(_, parts)| parts.iter().any(has));
    let (key, help) = match (misspelt, meant) {
        (Some((key, head)), _) => (Some(key), Some(format!("did you mean `[{head}]`?"))),
        (None, Some((head, _))) => {
            (None, Some(format!("of a {head}, by what stands in it: write `[{head}]`")))
        }
        (None, None) if keys.iter().all(|key| key == "format") => {
            (None, Some("`deadship new` writes files to begin with".to_owned()))
        }
        _ => return None,
    };
    let spot = key.and_then(|key| root.get(key)).map_or(root.spot(), |field| field.key_spot());
    let message = "the file has no `[ship]`, `[rig]`, `[drill]` or `[procedure]`: what is it of?".to_owned();
    let (line, column) = (spot.pos.line, spot.pos.column);
    Some(Problem { line, column, help, ..whole(file, message) })
}

/// A problem of a value of the file's head.
fn placed(file: &TextFile, (table, key): (&str, &str), message: String) -> Problem {
    let problems = Problems::new(&[(file.name.clone(), file.text.clone())]);
    let documents = problems.parse();
    let root = documents.iter().flatten().next().map(|document| document.root(&problems));
    let field = root.and_then(|root| root.table(table, "a head")?.get(key));
    let (line, column) = field.map_or((1, 1), |field| (field.spot().pos.line, field.spot().pos.column));
    Problem { line, column, ..whole(file, message) }
}

/// Why no drill could be found out from the head of a procedure.
fn without_drill(file: &TextFile) -> Vec<Problem> {
    let problems = Problems::new(&[(file.name.clone(), file.text.clone())]);
    for document in problems.parse().iter().flatten() {
        if let Some(head) = document.root(&problems).table("procedure", "a procedure") {
            head.need("drill").and_then(|field| field.text());
        }
    }
    problems.sorted()
}

/// What is wrong with the TOML itself.
pub(crate) fn syntax(file: &TextFile) -> Vec<Problem> {
    let problems = Problems::new(&[(file.name.clone(), file.text.clone())]);
    problems.parse();
    problems.sorted()
}

/// A problem of a whole file.
fn whole(file: &TextFile, message: String) -> Problem {
    Problem { file: file.name.clone(), line: 1, column: 1, message, help: None }
}
