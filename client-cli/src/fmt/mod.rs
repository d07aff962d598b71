//! `deadship fmt`: files laid out in one way, so that what differs between two versions is what their authors meant. `layout` has the
//! rules.

mod layout;
mod pieces;
mod proof;
mod replace;
#[cfg(test)]
mod tests;

use crate::check::{gather, syntax};
use crate::cli::FmtArgs;
use crate::failure::{Failure, NO, WELL};
use crate::io::Io;
use crate::library::{Library, Sort};
use deadship_plant::spec::Problem;
use deadship_run::opening::TextFile;
use std::path::{Path, PathBuf};

/// Name of what is read from the input.
const INPUT: &str = "-";

/// A file that is looked at.
struct Looked {
    file: TextFile,
    /// What is wrong with it as TOML: it is left alone.
    wrong: Vec<Problem>,
    /// Its text laid out, where that is another.
    other: Option<String>,
}

/// `deadship fmt`.
pub(crate) fn fmt(io: &mut Io, library: &Library, args: &FmtArgs) -> Result<u8, Failure> {
    if args.files.iter().any(|file| file == Path::new(INPUT)) {
        return from_input(io, args);
    }
    let mut looked = Vec::new();
    for file in wanted(library, args)? {
        looked.push(look_at(file)?);
    }
    // Everything was looked at before anything is written.
    for one in &looked {
        for problem in &one.wrong {
            io.line(&told(problem, args.json))?;
        }
        let Some(other) = &one.other else { continue };
        if !args.check {
            replace::replace(Path::new(&one.file.name), other)?;
        }
        let message = if args.check { "is not formatted" } else { "formatted" };
        io.line(&told(&first_difference(&one.file, other, message), args.json))?;
    }
    io.flush()?;
    tell(io, &looked, args.check);
    let is_wrong = |one: &Looked| !one.wrong.is_empty() || args.check && one.other.is_some();
    Ok(if looked.iter().any(is_wrong) { NO } else { WELL })
}

/// The files that were named. Without any: those of the data folder, and to look only also those that are built in.
fn wanted(library: &Library, args: &FmtArgs) -> Result<Vec<TextFile>, Failure> {
    if !args.files.is_empty() {
        return Ok(gather(&args.files)?.into_values().collect());
    }
    let entries = Sort::ALL.into_iter().flat_map(|sort| library.all(sort));
    let own = entries.filter(|entry| args.check || !entry.built_in);
    let files: Vec<TextFile> = own.flat_map(|entry| entry.files.clone()).collect();
    if files.is_empty() {
        let text = "nothing to format: name files or folders, or give a folder of your own with `--data`";
        return Err(Failure::Asked(text.to_owned()));
    }
    Ok(files)
}

fn look_at(file: TextFile) -> Result<Looked, Failure> {
    let wrong = syntax(&file);
    if !wrong.is_empty() {
        return Ok(Looked { file, wrong, other: None });
    }
    let text = formatted(&file)?;
    let other = (text != file.text).then_some(text);
    Ok(Looked { file, wrong, other })
}

/// The text of a well-formed file, laid out.
///
/// # Errors
/// It would not say the same.
fn formatted(file: &TextFile) -> Result<String, Failure> {
    let text = layout::laid_out(&file.text);
    match proof::says_the_same(&file.text, &text) {
        Ok(()) => Ok(text),
        Err(differs) => Err(Failure::Asked(format!(
            "{}: formatted, {differs}. That is a fault of this program: nothing was written, please report it",
            file.name
        ))),
    }
}

/// From the input to the output; nothing else goes there, so that an editor can take it.
fn from_input(io: &mut Io, args: &FmtArgs) -> Result<u8, Failure> {
    if args.files.len() > 1 {
        let text = "`-` is for the input alone: name no other file beside it";
        return Err(Failure::Asked(text.to_owned()));
    }
    let mut text = String::new();
    io.input
        .read_to_string(&mut text)
        .map_err(|error| Failure::reading(&PathBuf::from("the input"), error))?;
    let looked = look_at(TextFile::new(INPUT, text))?;
    for problem in &looked.wrong {
        io.tell(&told(problem, args.json));
    }
    match (&looked.other, args.check) {
        _ if !looked.wrong.is_empty() => Ok(NO),
        (None, true) => Ok(WELL),
        (Some(other), true) => {
            io.line(&told(&first_difference(&looked.file, other, "is not formatted"), args.json))?;
            Ok(NO)
        }
        (other, false) => {
            let text = other.as_ref().unwrap_or(&looked.file.text);
            io.out.write_all(text.as_bytes()).map_err(Failure::Output)?;
            Ok(WELL)
        }
    }
}

/// A line of the result.
fn told(problem: &Problem, json: bool) -> String {
    match json {
        // Plain data with text keys always serialises.
        true => serde_json::to_string(problem).unwrap_or_default(),
        false => problem.to_string(),
    }
}

/// The first line that is another, and what it becomes.
fn first_difference(file: &TextFile, other: &str, message: &str) -> Problem {
    const LONGEST: usize = 80;
    let (mut old, mut new) = (file.text.split('\n'), other.split('\n'));
    let mut line = 0_u32;
    let (was, is) = loop {
        line += 1;
        match (old.next(), new.next()) {
            (Some(was), Some(is)) if was == is => {}
            differ => break differ,
        }
    };
    let help = match (was, is) {
        (_, None) => "no blank line at the end".to_owned(),
        (None, _) => "a line end at the end".to_owned(),
        (Some(was), Some(is)) if was.trim_start_matches('\u{feff}') == is => {
            "without the byte order mark at the beginning".to_owned()
        }
        (Some(was), Some(is)) if was.trim_end_matches('\r') == is.trim_end_matches('\r') => {
            "lines end as the first one does, also the last one".to_owned()
        }
        (Some(was), Some(is)) if was.trim_end() == is.trim_end() => "no spaces at its end".to_owned(),
        (_, Some(is)) if is.trim().is_empty() => "a blank line before it".to_owned(),
        (Some(was), Some(_)) if was.trim().is_empty() => "without this blank line".to_owned(),
        (_, Some(is)) if is.chars().count() > LONGEST => {
            format!("becomes `{}…`", is.trim_end().chars().take(LONGEST).collect::<String>())
        }
        (_, Some(is)) => format!("becomes `{}`", is.trim_end()),
    };
    Problem { file: file.name.clone(), line, column: 1, message: message.to_owned(), help: Some(help) }
}

fn tell(io: &mut Io, looked: &[Looked], check: bool) {
    let files = match looked.len() {
        1 => "1 file".to_owned(),
        count => format!("{count} files"),
    };
    let others = looked.iter().filter(|one| one.other.is_some()).count();
    let wrong = looked.iter().filter(|one| !one.wrong.is_empty()).count();
    let mut said = format!("{files} looked at: ");
    said.push_str(&match (others, check) {
        (0, _) => "nothing to format".to_owned(),
        (1, true) => "1 is not formatted".to_owned(),
        (others, true) => format!("{others} are not formatted"),
        (others, false) => format!("{others} formatted"),
    });
    if wrong > 0 {
        said.push_str(&format!(", {wrong} left alone because of mistakes in the TOML"));
    }
    io.tell(&said);
}
