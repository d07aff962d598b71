//! `deadship lint`: is it a good drill? What is wrong with files comes first; then rules that look at a drill as a whole, on its
//! ship, in the state in which it begins.

mod asking;
mod deadlines;
mod drill;
mod expectations;
mod load;
mod never;
mod places;
mod rules;

use crate::check::{Checks, gather};
use crate::cli::LintArgs;
use crate::failure::{Failure, NO, WELL};
use crate::io::{Io, beside};
use crate::library::{Library, Sort, as_path, sort_of, stem};
use deadship_plant::Plant;
use deadship_plant::spec::Problem;
use deadship_run::drill_file::drill_of;
use deadship_run::opening::{OpenError, TextFile};
use deadship_run::proof::{Bench, Hands, Made, Trial};
use deadship_run::setup::Setup;
use places::Place;
use rules::RULES;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// The id under which what `check` finds is told.
const CHECK: &str = "check";

/// What a rule found.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
struct Finding {
    file: String,
    line: u32,
    column: u32,
    /// Id of the rule.
    rule: String,
    /// What is wrong.
    message: String,
    /// What to do.
    help: Option<String>,
}

impl Finding {
    fn of_check(problem: Problem) -> Finding {
        let Problem { file, line, column, message, help } = problem;
        Finding { file, line, column, rule: CHECK.to_owned(), message, help }
    }

    fn to_line(&self) -> String {
        let Finding { file, line, column, rule, message, help } = self;
        let help = help.as_ref().map_or_else(String::new, |help| format!(" ({help})"));
        format!("{file}:{line}:{column}: {rule}: {message}{help}")
    }
}

/// A drill as rules look at it.
struct Subject {
    drill_file: TextFile,
    procedure_files: Vec<TextFile>,
    setup: Setup,
    /// The ship as the drill finds her.
    plant: Plant,
    /// What became of it with the expert; `None`: there is none, or nobody wants to know.
    by_expert: Option<Made>,
}

impl Subject {
    /// Where something stands: in the drill's file, else in that of the drill that it extends. Of a list of tables the one of
    /// this name is meant.
    fn place(&self, table: &str, name: &str, key: &str) -> Place {
        let found = self.drill_files().find_map(|file| Place::find(file, table, name, key));
        found.unwrap_or_else(|| Place::beginning(&self.drill_file))
    }

    /// The drill's file, and that of the drill that it extends.
    fn drill_files(&self) -> impl Iterator<Item = &TextFile> {
        let base = self.setup.opening.base.iter().map(|base| &base.drill_file);
        std::iter::once(&self.drill_file).chain(base)
    }
}

/// What is to be looked at.
#[derive(Default)]
struct Wanted {
    checks: Checks,
    /// Drills, and of each the files whose findings are told; `None`: all.
    drills: BTreeMap<String, (TextFile, Option<BTreeSet<String>>)>,
}

/// `deadship lint`.
pub(crate) fn lint(io: &mut Io, library: &mut Library, args: &LintArgs) -> Result<u8, Failure> {
    if args.rules {
        return list_rules(io, args.json);
    }
    let mut wanted = Wanted::default();
    if args.files.is_empty() {
        wanted.everything(library);
    }
    for given in &args.files {
        wanted.add(library, given)?;
    }
    let mut findings = BTreeSet::new();
    for (drill, files) in wanted.drills.values() {
        let found = look_at(library, drill, files.is_none(), &mut wanted.checks)?;
        findings.extend(
            found.into_iter().filter(|one| files.as_ref().is_none_or(|files| files.contains(&one.file))),
        );
    }
    findings.extend(wanted.checks.problems.into_values().map(Finding::of_check));
    for finding in &findings {
        if args.json {
            // Plain data with text keys always serialises.
            io.line(&serde_json::to_string(finding).unwrap_or_default())?;
        } else {
            io.line(&finding.to_line())?;
        }
    }
    io.flush()?;
    let plural = |count: usize, what: &str| format!("{count} {what}{}", if count == 1 { "" } else { "s" });
    let files = plural(wanted.checks.files, "file");
    io.tell(&match findings.len() {
        0 => format!("{files} looked at: nothing found"),
        count => format!("{files} looked at: {}", plural(count, "finding")),
    });
    Ok(if findings.is_empty() { WELL } else { NO })
}

fn list_rules(io: &mut Io, json: bool) -> Result<u8, Failure> {
    for rule in RULES {
        if json {
            io.line(
                &serde_json::json!({ "rule": rule.id, "for": rule.purpose, "help": rule.help }).to_string(),
            )?;
        } else {
            io.line(&beside(rule.id, 32, rule.purpose))?;
        }
    }
    if !json {
        io.line(&format!("\n{}", rules::LEFT_OUT))?;
    }
    Ok(WELL)
}

impl Wanted {
    fn everything(&mut self, library: &Library) {
        self.checks.everything(library);
        for entry in library.all(Sort::Drill) {
            self.drills.insert(entry.files[0].name.clone(), (entry.files[0].clone(), None));
        }
    }

    /// A name of any sort, else a path.
    fn add(&mut self, library: &mut Library, given: &str) -> Result<(), Failure> {
        let named = Sort::ALL.into_iter().find_map(|sort| library.get(sort, given)).cloned();
        match named {
            Some(entry) => {
                self.checks.entry(library, &entry);
                self.file(library, &entry.name, entry.sort, &entry.files[0]);
                Ok(())
            }
            None if as_path(given).is_some() || Path::new(given).exists() => self.path(library, given),
            None => {
                let known = Sort::ALL.into_iter().flat_map(|sort| library.all(sort));
                let known: Vec<&str> = known.map(|entry| entry.name.as_str()).collect();
                Err(Failure::unknown("drill, procedure, ship or rig", given, known))
            }
        }
    }

    fn path(&mut self, library: &mut Library, given: &str) -> Result<(), Failure> {
        let files = gather(&[Path::new(given).to_owned()])?;
        self.checks.named(library, &files)?;
        for (path, file) in &files {
            if let Some(sort) = sort_of(&file.text) {
                self.file(library, &stem(path), sort, file);
            }
        }
        Ok(())
    }

    /// A drill is looked at with its procedures, a procedure with its drill, of which nothing is told.
    fn file(&mut self, library: &Library, name: &str, sort: Sort, file: &TextFile) {
        match sort {
            Sort::Drill => {
                self.drills.insert(file.name.clone(), (file.clone(), None));
                self.checks.files += library.procedures_for(name).len();
            }
            Sort::Procedure => {
                let drill = drill_of(&file.text).and_then(|drill| library.get(Sort::Drill, &drill));
                let Some(drill) = drill.map(|entry| entry.files[0].clone()) else { return };
                let known = self.drills.entry(drill.name.clone()).or_insert((drill, Some(BTreeSet::new())));
                if let Some(files) = &mut known.1 {
                    files.insert(file.name.clone());
                }
            }
            Sort::Rig | Sort::Ship => {}
        }
    }
}

/// What the rules find in a drill and its procedures; nothing where its files are wrong, which is put to the checks.
fn look_at(
    library: &Library,
    drill: &TextFile,
    with_expert: bool,
    checks: &mut Checks,
) -> Result<Vec<Finding>, Failure> {
    let procedure_files = library.procedures_for(drill.stem());
    let opening = match library.opening(drill.clone(), procedure_files.clone(), None) {
        Ok(opening) => opening,
        // The check has told it.
        Err(Failure::Files(_) | Failure::Unknown { .. }) => return Ok(Vec::new()),
        Err(failure) => return Err(failure),
    };
    let (setup, plant) = match Setup::new(opening.clone()) {
        Ok(made) => made,
        Err(OpenError::Files(problems)) => {
            checks.report(problems);
            return Ok(Vec::new());
        }
        Err(OpenError::Settle(_)) => return Ok(Vec::new()),
    };
    let by_expert = if with_expert { by_expert(&setup) } else { None };
    let subject = Subject { drill_file: drill.clone(), procedure_files, setup, plant, by_expert };
    let mut findings = Vec::new();
    for rule in RULES {
        findings.extend((rule.find)(&subject).into_iter().map(|(place, message)| Finding {
            file: place.file,
            line: place.line,
            column: place.column,
            rule: rule.id.to_owned(),
            message,
            help: Some(rule.help.to_owned()),
        }));
    }
    Ok(findings)
}

/// The drill once by its expert, with its own seed.
fn by_expert(setup: &Setup) -> Option<Made> {
    let bench = Bench::new(setup.opening.clone()).ok().filter(|bench| bench.has_expert)?;
    bench.make(&Trial { hands: Hands::Expert, seed: setup.opening.seed, variant: None }).ok()
}
