//! The texts being read and the list of what is wrong with them.

use super::learn::Learned;
use super::nearest;
use super::reader::Reader;
use super::syntax;
use crate::spec::{Pos, Problem};
use std::cell::{Cell, RefCell};
use std::ops::Range;
use toml_edit::Document;

/// A value and where it was written.
#[derive(Clone, Debug, PartialEq)]
pub struct At<T> {
    /// The value.
    pub value: T,
    /// Where it was written.
    pub spot: Spot,
}

/// A position, and for what was written in a template, in which use of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Spot {
    /// File, line, column.
    pub pos: Pos,
    /// 0, or 1 + index into the notes of [`Problems`].
    note: u32,
}

/// One file.
struct Text {
    name: String,
    text: String,
    /// Byte at which each line starts.
    starts: Vec<usize>,
}

/// One mistake, before sorting.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Found {
    pos: Pos,
    message: String,
    help: Option<String>,
    note: u32,
}

/// In which use of which template.
struct Note {
    template: String,
    used_as: String,
}

/// The texts of some files that belong together, and everything found wrong with them so far.
pub struct Problems {
    texts: Vec<Text>,
    found: RefCell<Vec<Found>>,
    notes: RefCell<Vec<Note>>,
    incomplete: Cell<bool>,
    learned: RefCell<Option<Learned>>,
}

/// A file whose TOML is well formed.
pub struct Parsed<'a> {
    file: u32,
    document: Document<&'a str>,
}

impl<'a> Parsed<'a> {
    /// The reader of the whole file.
    pub fn root(&'a self, problems: &'a Problems) -> Reader<'a> {
        let spot = Spot { pos: Pos { file: self.file, line: 1, column: 1 }, note: 0 };
        Reader::new(problems, self.document.as_table(), spot, "a file", None)
    }
}

impl Problems {
    /// For these files: name and text.
    pub fn new(files: &[(String, String)]) -> Problems {
        let texts = files
            .iter()
            .map(|(name, text)| {
                let breaks = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n');
                let starts = std::iter::once(0).chain(breaks.map(|(at, _)| at + 1)).collect();
                Text { name: name.clone(), text: text.clone(), starts }
            })
            .collect();
        Problems {
            texts,
            found: RefCell::default(),
            notes: RefCell::default(),
            incomplete: Cell::new(false),
            learned: RefCell::default(),
        }
    }

    /// The same, learning what readers ask for meanwhile.
    pub fn learning(files: &[(String, String)]) -> Problems {
        Problems { learned: RefCell::new(Some(Learned::default())), ..Problems::new(files) }
    }

    /// What has been learned; nothing, unless that was wanted.
    pub fn learned(&self) -> Learned {
        self.learned.borrow().clone().unwrap_or_default()
    }

    pub(super) fn is_learning(&self) -> bool {
        self.learned.borrow().is_some()
    }

    /// Learns something, if that is wanted.
    pub(super) fn learn(&self, take: impl FnOnce(&mut Learned)) {
        if let Some(learned) = self.learned.borrow_mut().as_mut() {
            take(learned);
        }
    }

    /// Parses all files. A file that is not well formed gives `None` and a problem; the others are read all the same.
    pub fn parse(&self) -> Vec<Option<Parsed<'_>>> {
        let mut parsed = Vec::with_capacity(self.texts.len());
        for (file, text) in (0u32..).zip(&self.texts) {
            if let Some(at) = text.text.find(char::REPLACEMENT_CHARACTER) {
                let spot = Spot { pos: self.pos(file, at), note: 0 };
                let help = "save the file as UTF-8 (most editors offer it at `save as`)".to_owned();
                self.push(spot, "what stands here is not text that can be read".to_owned(), Some(help));
                self.mark_incomplete();
                parsed.push(None);
                continue;
            }
            parsed.push(match Document::parse(text.text.as_str()) {
                Ok(document) => Some(Parsed { file, document }),
                Err(error) => {
                    for wrong in syntax::mistakes(&text.text, &error) {
                        let spot = Spot { pos: self.pos(file, wrong.at), note: 0 };
                        self.push(spot, wrong.message, wrong.help);
                    }
                    self.mark_incomplete();
                    None
                }
            });
        }
        parsed
    }

    /// Puts a mistake on the list.
    pub fn report(&self, spot: Spot, message: impl Into<String>) {
        self.push(spot, message.into(), None);
    }

    /// Puts a mistake on the list together with what to do about it.
    pub fn report_with_help(&self, spot: Spot, message: impl Into<String>, help: impl Into<String>) {
        self.push(spot, message.into(), Some(help.into()));
    }

    /// Puts on the list that a name is not known, with the nearest known one, which is given back.
    ///
    /// Says nothing when a file could not be read: the name may well stand in it.
    pub fn unknown<'k>(
        &self,
        spot: Spot,
        message: impl Into<String>,
        name: &str,
        known: impl IntoIterator<Item = &'k str>,
    ) -> Option<&'k str> {
        let known: Vec<&str> = known.into_iter().collect();
        let (near, help) = nearest::help(name, &known);
        if !self.is_incomplete() {
            self.push(spot, message.into(), help);
        }
        near
    }

    /// A file could not be read, so that names which are not found may stand there.
    pub fn mark_incomplete(&self) {
        self.incomplete.set(true);
    }

    /// Could a file not be read?
    pub fn is_incomplete(&self) -> bool {
        self.incomplete.get()
    }

    /// Is anything on the list?
    pub fn any(&self) -> bool {
        !self.found.borrow().is_empty()
    }

    /// Names of the files.
    pub fn file_names(&self) -> Vec<String> {
        self.texts.iter().map(|text| text.name.clone()).collect()
    }

    /// A position for people: `ship.toml:12:3`.
    pub fn describe(&self, spot: Spot) -> String {
        let pos = spot.pos;
        format!("{}:{}:{}", self.file_name(pos.file), pos.line, pos.column)
    }

    /// The list, sorted by position. The same mistake in several uses of one template is said once.
    pub fn sorted(&self) -> Vec<Problem> {
        let mut found = self.found.borrow().clone();
        found.sort();
        found.dedup();
        let notes = self.notes.borrow();
        let same = |a: &Found, b: &Found| (a.pos, &a.message, &a.help) == (b.pos, &b.message, &b.help);
        found
            .chunk_by(same)
            .map(|group| {
                let first = &group[0];
                Problem {
                    file: self.file_name(first.pos.file).to_owned(),
                    line: first.pos.line,
                    column: first.pos.column,
                    message: format!("{}{}", first.message, in_uses(group, &notes)),
                    help: first.help.clone(),
                }
            })
            .collect()
    }

    /// Line and column of a byte, both from 1; columns count characters.
    pub(super) fn pos(&self, file: u32, byte: usize) -> Pos {
        let Some(text) = self.texts.get(file as usize) else {
            return Pos { file, line: 1, column: 1 };
        };
        let line = text.starts.partition_point(|start| *start <= byte).max(1);
        let start = text.starts[line - 1];
        let column = text.text.get(start..byte).map_or(0, |before| before.chars().count());
        Pos { file, line: line as u32, column: column as u32 + 1 }
    }

    /// The spot of a span; the one given where the parser kept no span.
    pub(super) fn spot(&self, span: Option<Range<usize>>, otherwise: Spot) -> Spot {
        match span {
            Some(span) => Spot { pos: self.pos(otherwise.pos.file, span.start), note: otherwise.note },
            None => otherwise,
        }
    }

    /// Where a character of a text between quotes stands; nothing where escapes make that uncertain.
    pub(super) fn spot_in_text(&self, of: Spot, span: Range<usize>, character: usize) -> Option<Spot> {
        let raw = self.texts.get(of.pos.file as usize)?.text.get(span.clone())?;
        let quote = ["'''", "\"\"\"", "'", "\""].into_iter().find(|quote| raw.starts_with(quote))?;
        if quote.starts_with('"') && raw.contains('\\') {
            return None;
        }
        let mut inner = &raw[quote.len()..];
        // A line end right behind the quotes of a text of several lines is not of the text.
        if quote.len() == 3 {
            inner = inner.strip_prefix("\r\n").or_else(|| inner.strip_prefix('\n')).unwrap_or(inner);
        }
        let byte = inner.char_indices().nth(character).map_or(inner.len() - quote.len(), |(at, _)| at);
        Some(Spot { pos: self.pos(of.pos.file, span.end - inner.len() + byte), note: of.note })
    }

    /// Makes a note of a use of a template; what is reported at [`Spot::noted`] mentions it.
    pub(super) fn note(&self, template: &str, used_as: &str) -> u32 {
        let mut notes = self.notes.borrow_mut();
        notes.push(Note { template: template.to_owned(), used_as: used_as.to_owned() });
        notes.len() as u32
    }

    fn push(&self, spot: Spot, message: String, help: Option<String>) {
        self.found.borrow_mut().push(Found { pos: spot.pos, message, help, note: spot.note });
    }

    fn file_name(&self, file: u32) -> &str {
        self.texts.get(file as usize).map_or("", |text| text.name.as_str())
    }
}

impl Spot {
    /// A position that is not in the use of a template.
    pub(crate) fn at(pos: Pos) -> Spot {
        Spot { pos, note: 0 }
    }

    /// The same position, in this use of a template.
    pub(super) fn noted(self, note: u32) -> Spot {
        Spot { note, ..self }
    }
}

/// " in template `set` used as `dg1`, `dg2`", or nothing.
fn in_uses(group: &[Found], notes: &[Note]) -> String {
    let uses: Vec<&Note> =
        group.iter().filter_map(|found| notes.get((found.note as usize).checked_sub(1)?)).collect();
    match uses.first() {
        Some(first) => {
            let names: Vec<String> = uses.iter().map(|note| format!("`{}`", note.used_as)).collect();
            format!(", in template `{}` used as {}", first.template, names.join(", "))
        }
        None => String::new(),
    }
}
