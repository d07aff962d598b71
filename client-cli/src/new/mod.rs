//! `deadship new`: commented files to begin with, which are right as they stand.

mod work;

use crate::cli::{NewArgs, NewSort};
use crate::failure::{Failure, WELL};
use crate::io::Io;
use crate::library::{Library, Sort};
use crate::trial::open_failed;
use deadship_run::setup::Setup;
use std::fs::{self, OpenOptions};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};
use work::Work;

/// The ship of a new drill, unless another is named.
const USUAL_SHIP: &str = "quillmere";
/// Longest name: it becomes a file's.
const LONGEST: usize = 60;

/// A file to be written.
struct Fresh {
    path: PathBuf,
    text: String,
}

/// `deadship new`.
pub(crate) fn new(
    io: &mut Io,
    library: &mut Library,
    args: &NewArgs,
    data: Option<&Path>,
) -> Result<u8, Failure> {
    let home = data.unwrap_or(Path::new("")).to_owned();
    library.add_folder(if data.is_some() { &home } else { Path::new(".") })?;
    let name = check_name(&args.name)?;
    let sort = match args.sort {
        NewSort::Drill => Sort::Drill,
        NewSort::Procedure => Sort::Procedure,
        NewSort::Ship => Sort::Ship,
        NewSort::Rig => Sort::Rig,
    };
    if library.get(sort, name).is_some() {
        let text = format!("there is a {} `{name}` already: choose another name", sort.word());
        return Err(Failure::Asked(text));
    }
    let files = match args.sort {
        NewSort::Drill => drill(library, &home, name, args.ship.as_deref().unwrap_or(USUAL_SHIP))?,
        NewSort::Procedure => vec![procedure(library, &home, name, args.drill.as_deref())?],
        NewSort::Ship => ship(&home, name),
        NewSort::Rig => vec![rig(&home, name)],
    };
    write_all(&files)?;
    for file in &files {
        io.line(&file.path.display().to_string())?;
    }
    io.flush()?;
    io.tell(&next(args.sort, &home, name, &files));
    Ok(WELL)
}

/// A name that can be typed and be a file's everywhere.
fn check_name(name: &str) -> Result<&str, Failure> {
    let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
    let begins = name.starts_with(|c: char| c.is_ascii_lowercase());
    if begins && name.chars().all(plain) && name.len() <= LONGEST {
        return Ok(name);
    }
    Err(Failure::Asked(format!(
        "`{name}` cannot be a name: small letters, digits and `-`, a letter first, at most {LONGEST}"
    )))
}

/// `night-watch`: `Night watch`.
fn title(name: &str) -> String {
    let spaced = name.replace('-', " ");
    let mut letters = spaced.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// As a text of TOML: what JSON escapes, TOML escapes alike.
fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

fn fill(template: &str, with: &[(&str, &str)]) -> String {
    with.iter().fold(template.to_owned(), |text, (key, value)| text.replace(&format!("@{key}@"), value))
}

fn drill(library: &Library, home: &Path, name: &str, ship: &str) -> Result<Vec<Fresh>, Failure> {
    let work = Work::find(library, ship)?;
    let path = home.join("library").join(format!("{name}.toml"));
    let title = title(name);
    let start = work.state.as_ref().map_or_else(String::new, |state| format!("start = {}\n", quoted(state)));
    let begins =
        work.begins.as_ref().map_or_else(String::new, |place| format!("start = {}\n", quoted(place)));
    let brief = format!("{} is not in service. Bring it into service.", work.title);
    let expect = format!("{} is in service", work.title);
    let text = fill(
        include_str!("templates/drill.toml"),
        &[
            ("TITLE", title.as_str()),
            ("TITLE_TEXT", &quoted(&title)),
            ("SHIP_TEXT", &quoted(ship)),
            ("SHIP", ship),
            ("FILE", &path.display().to_string()),
            ("START", &start),
            ("STATION_START", &begins),
            ("BRIEF", &brief.replace('\\', "\\\\").replace('"', "'")),
            ("FAULT", &quoted(&work.fault)),
            ("EXPECT_TEXT", &quoted(&expect)),
            ("CONDITION", &work.condition),
            ("WITHIN", &format!("{} min", work.minutes)),
        ],
    );
    let steps: Vec<String> = work.go.iter().chain([&work.act]).map(|line| quoted(line)).collect();
    let look = quoted(&format!("read {}", work.component));
    let expert = expert(home, name, "machines", &look, &steps.join(", "), &work.condition, &work.title);
    let error_text = format!("Nobody brings {} into service", work.title);
    let error = error(home, &format!("{name}-left-out"), name, "work", "in-service", &error_text);
    Ok(vec![Fresh { path, text }, expert, error])
}

fn expert(
    home: &Path,
    drill: &str,
    station: &str,
    look: &str,
    acts: &str,
    condition: &str,
    what: &str,
) -> Fresh {
    let text = fill(
        include_str!("templates/expert.toml"),
        &[
            ("TITLE_TEXT", &quoted(&format!("{}, as an expert crew does it", title(drill)))),
            ("DRILL_TEXT", &quoted(drill)),
            ("DRILL", drill),
            ("STATION", &quoted(station)),
            ("LOOK", look),
            ("WORK_TITLE", &quoted(&format!("Bring {what} into service"))),
            ("ACT", acts),
            ("CONDITION", condition),
        ],
    );
    Fresh { path: home.join("procedures").join(format!("{drill}.toml")), text }
}

fn error(home: &Path, name: &str, drill: &str, without: &str, misses: &str, what: &str) -> Fresh {
    let mut missed: Vec<String> = Vec::new();
    if !misses.is_empty() {
        missed.push(quoted(misses));
    }
    missed.push(quoted("aim"));
    let text = fill(
        include_str!("templates/error.toml"),
        &[
            ("TITLE_TEXT", &quoted(&title(name))),
            ("DRILL_TEXT", &quoted(drill)),
            ("DRILL", drill),
            ("WITHOUT", &quoted(without)),
            ("MISSES", &missed.join(", ")),
            ("ERROR", &quoted(what)),
        ],
    );
    Fresh { path: home.join("procedures").join(format!("{name}.toml")), text }
}

/// A procedure for a drill that is known: its expert's where it has none, else one that shows an error.
fn procedure(library: &Library, home: &Path, name: &str, drill: Option<&str>) -> Result<Fresh, Failure> {
    let known: Vec<&str> = library.all(Sort::Drill).map(|entry| entry.name.as_str()).collect();
    // `first-light-my-error` is for `first-light`; of several the longest.
    let begun =
        || known.iter().filter(|drill| name.starts_with(**drill)).max_by_key(|drill| drill.len()).copied();
    let Some(drill) = drill.or_else(begun) else {
        let text = "which drill is it for? Say `--drill NAME`, or let its name begin with the drill's";
        return Err(Failure::Asked(text.to_owned()));
    };
    let Some(entry) = library.get(Sort::Drill, drill) else {
        return Err(Failure::unknown("drill", drill, known));
    };
    let opening = library.opening(entry.files[0].clone(), library.procedures_for(drill), None)?;
    let (setup, _) = Setup::new(opening).map_err(open_failed)?;
    let expert_of = setup.procedures.iter().find(|procedure| procedure.name == drill);
    if let Some(last) = expert_of.and_then(|expert| expert.steps.last()) {
        return Ok(error(home, name, drill, &last.name, "", "Say in words what is done wrong"));
    }
    if name != drill {
        let text =
            format!("`{drill}` has no procedure for an expert crew yet: begin with `new procedure {drill}`");
        return Err(Failure::Asked(text));
    }
    let Some(station) = setup.drill.stations.first() else {
        return Err(Failure::Asked(format!(
            "the drill `{drill}` has no station: write a `[[station]]` first"
        )));
    };
    let done = setup.drill.aim.as_ref().map_or("time > 0", |aim| aim.condition.text());
    // A condition of several lines goes into a text of one.
    let done = done.split_whitespace().collect::<Vec<_>>().join(" ");
    Ok(expert(home, drill, &station.name, &quoted("alerts"), &quoted("alerts"), &done, "the ship"))
}

fn ship(home: &Path, name: &str) -> Vec<Fresh> {
    let folder = home.join("ships").join(name);
    let (title, shown) = (title(name), folder.display().to_string());
    let file = |file: &str, template: &str| Fresh {
        path: folder.join(file),
        text: fill(template, &[("TITLE", title.as_str()), ("FOLDER", &shown)]),
    };
    vec![
        file("00-ship.toml", include_str!("templates/ship-head.toml")),
        file("electric.toml", include_str!("templates/ship-electric.toml")),
        file("sea-water.toml", include_str!("templates/ship-sea-water.toml")),
        file("states.toml", include_str!("templates/ship-states.toml")),
    ]
}

fn rig(home: &Path, name: &str) -> Fresh {
    let path = home.join("rigs").join(format!("{name}.toml"));
    let shown = path.display().to_string();
    let text = fill(include_str!("templates/rig.toml"), &[("TITLE", title(name).as_str()), ("FILE", &shown)]);
    Fresh { path, text }
}

/// Writes all files or none: nothing is overwritten, and what was begun is taken away again.
fn write_all(files: &[Fresh]) -> Result<(), Failure> {
    if let Some(file) = files.iter().find(|file| file.path.exists()) {
        return Err(exists(&file.path));
    }
    for (count, file) in files.iter().enumerate() {
        if let Err(failure) = write(file) {
            for begun in &files[..count] {
                // The failure that is told is the first one.
                let _ = fs::remove_file(&begun.path);
            }
            return Err(failure);
        }
    }
    Ok(())
}

fn write(file: &Fresh) -> Result<(), Failure> {
    let failed = |error| Failure::writing(&file.path, error);
    if let Some(folder) = file.path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        fs::create_dir_all(folder).map_err(failed)?;
    }
    let opened = OpenOptions::new().write(true).create_new(true).open(&file.path);
    let mut opened = opened.map_err(|error| match error.kind() {
        ErrorKind::AlreadyExists => exists(&file.path),
        _ => failed(error),
    })?;
    opened.write_all(file.text.as_bytes()).map_err(failed)
}

fn exists(path: &Path) -> Failure {
    Failure::Asked(format!(
        "{} exists already, and nothing is overwritten: choose another name",
        path.display()
    ))
}

/// What to do next.
fn next(sort: NewSort, home: &Path, name: &str, files: &[Fresh]) -> String {
    let path = files[0].path.display().to_string();
    let folder = home.join("ships").join(name).display().to_string();
    let (what, lines) = match sort {
        NewSort::Drill => (
            "It is whole as it stands. Read it, change it, and ask after each change:",
            vec![format!("check {path}"), format!("lint {path}"), format!("prove {path} --seeds 2")],
        ),
        NewSort::Procedure => (
            "Say in it what is done, or done wrong, then:",
            vec![format!("check {path}"), "prove DRILL --seeds 2".to_owned()],
        ),
        NewSort::Ship => (
            "She is small and works. Add one system at a time, and try it:",
            vec![
                format!("check {folder}"),
                format!(
                    "trial {folder} --state \"shore power\" --for \"1 min\" --every 10s --readings \"*\""
                ),
                format!("new drill NAME --ship {name}"),
            ],
        ),
        NewSort::Rig => (
            "It works as it stands:",
            vec![
                format!("check {path}"),
                format!("trial {path} --for \"10 s\" --readings \"*\" --display-units"),
            ],
        ),
    };
    let lines: Vec<String> = lines.into_iter().map(|line| format!("  deadship {line}")).collect();
    format!("{what}\n{}", lines.join("\n"))
}
