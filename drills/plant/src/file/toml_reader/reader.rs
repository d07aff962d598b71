//! One table being read.

use super::field::Field;
use super::fill::Fill;
use super::learn::Form;
use super::problems::{Problems, Spot};
use std::cell::RefCell;
use std::collections::BTreeSet;
use toml_edit::{Item, TableLike};

/// A table that remembers which keys it was asked for.
#[derive(Clone)]
pub struct Reader<'a> {
    problems: &'a Problems,
    table: &'a dyn TableLike,
    spot: Spot,
    what: String,
    asked: RefCell<BTreeSet<String>>,
    fill: Option<&'a Fill>,
    /// The table whose keys stand where this one gives none.
    under: Option<Box<Under<'a>>>,
}

/// A table below another.
#[derive(Clone)]
struct Under<'a> {
    table: Reader<'a>,
    /// Keys that are not taken over.
    except: &'static [&'static str],
}

impl<'a> Reader<'a> {
    pub(super) fn new(
        problems: &'a Problems,
        table: &'a dyn TableLike,
        spot: Spot,
        what: &str,
        fill: Option<&'a Fill>,
    ) -> Reader<'a> {
        Reader { problems, table, spot, what: what.to_owned(), asked: RefCell::default(), fill, under: None }
    }

    /// The same table, nothing asked yet, with its strings as they are in one use of a template.
    pub(crate) fn filled(&self, fill: &'a Fill) -> Reader<'a> {
        Reader::new(self.problems, self.table, self.spot.noted(fill.note), &self.what, Some(fill))
    }

    /// The same table over another: keys that this one does not give are the other's, but for those named.
    pub fn over(self, table: Reader<'a>, except: &'static [&'static str]) -> Reader<'a> {
        Reader { under: Some(Box::new(Under { table, except })), ..self }
    }

    /// Where the table begins.
    pub fn spot(&self) -> Spot {
        self.spot
    }

    /// The list that problems are put on.
    pub fn problems(&self) -> &'a Problems {
        self.problems
    }

    /// What the table is called in messages, with its article: `a drill`.
    pub fn what(&self) -> &str {
        &self.what
    }

    /// The value of a key that may be absent. The key is known from now on.
    pub fn get(&self, key: &str) -> Option<Field<'a>> {
        self.problems.learn(|learned| learned.key(&self.what, key).optional = true);
        self.look(key)
    }

    /// As [`Reader::get`] for a list of texts; that it is one is learned whether or not it is there.
    pub fn get_texts(&self, key: &str) -> Option<Field<'a>> {
        self.problems.learn(|learned| {
            learned.key(&self.what, key).forms.insert(Form::Texts);
        });
        self.get(key)
    }

    /// The value of a key that is asked for elsewhere: whether it may be absent is learned there.
    pub fn peek(&self, key: &str) -> Option<Field<'a>> {
        self.look(key)
    }

    fn look(&self, key: &str) -> Option<Field<'a>> {
        self.asked.borrow_mut().insert(key.to_owned());
        // The table below is asked in any case: so the key is known there, too.
        let below = self.under.as_ref().and_then(|under| under.table.look(key));
        let own = self.table.get_key_value(key).filter(|(_, item)| !item.is_none());
        match own {
            Some((written, item)) => Some(self.field(written.get().to_owned(), written.span(), item)),
            None => below.filter(|_| self.takes_over(key)),
        }
    }

    /// May this key stand in the table below?
    fn takes_over(&self, key: &str) -> bool {
        self.under.as_ref().is_some_and(|under| !under.except.contains(&key))
    }

    /// The value of a key that must be there.
    pub fn need(&self, key: &str) -> Option<Field<'a>> {
        let field = self.look(key);
        let takes_over = self.takes_over(key);
        self.problems.learn(|learned| {
            let shape = learned.key(&self.what, key);
            shape.needed = true;
            shape.optional |= takes_over;
        });
        if field.is_none() {
            self.problems.report(self.spot, format!("{} needs `{key}`", self.what));
        }
        field
    }

    /// A sub-table that may be absent; `what` is its name in messages: `a crew`.
    pub fn table(&self, key: &str, what: &str) -> Option<Reader<'a>> {
        self.get(key)?.table(what)
    }

    /// A list of tables, empty when absent.
    pub fn tables(&self, key: &str, what: &str) -> Vec<Reader<'a>> {
        self.get(key).map_or_else(Vec::new, |field| field.tables(what))
    }

    /// All keys in the order written, each known from now on: for tables whose keys are names given by the author.
    pub fn fields(&self) -> Vec<Field<'a>> {
        self.problems.learn(|learned| learned.table(&self.what).is_open = true);
        let keys: Vec<String> = self.table.iter().map(|(key, _)| key.to_owned()).collect();
        keys.iter().filter_map(|key| self.get(key)).collect()
    }

    /// As [`Reader::fields`], with tables taken apart into their values.
    ///
    /// Keys with dots that are not quoted (`sea.valve.position = …`) come as one name with dots.
    pub fn entries(&self) -> Vec<Field<'a>> {
        let mut entries = Vec::new();
        for field in self.fields() {
            field.flatten_into(&mut entries);
        }
        entries
    }

    /// All texts at any depth.
    pub(crate) fn texts(&self) -> Vec<String> {
        let mut texts = Vec::new();
        for (key, item) in self.table.iter() {
            self.field(key.to_owned(), None, item).texts_within(&mut texts);
        }
        texts
    }

    /// All texts at any depth below keys that were not asked for: what they name cannot be called missing.
    pub(crate) fn texts_not_asked(&self) -> Vec<String> {
        let mut texts = Vec::new();
        for key in self.not_asked() {
            if let Some((_, item)) = self.table.get_key_value(&key) {
                self.field(key, None, item).texts_within(&mut texts);
            }
        }
        texts
    }

    /// Keys present that were not asked for so far, e.g. names of kinds.
    pub fn not_asked(&self) -> Vec<String> {
        let asked = self.asked.borrow();
        self.table.iter().map(|(key, _)| key.to_owned()).filter(|key| !asked.contains(key)).collect()
    }

    /// Checks `format = n` against the newest that this program reads. When false, the file should be left alone.
    pub fn format(&self, newest: i64) -> bool {
        let Some(format) = self.need("format").and_then(|field| field.whole(1, i64::MAX)) else {
            return true;
        };
        if format.value > newest {
            let message = format!("this file is format {}, this program reads {newest}", format.value);
            self.problems.report_with_help(format.spot, message, "a newer version of the program is needed");
            self.problems.mark_incomplete();
        }
        format.value <= newest
    }

    /// Makes keys known without reading them: for keys that another reader of the same table takes.
    pub fn also_known<'k>(&self, keys: impl IntoIterator<Item = &'k str>) {
        self.asked.borrow_mut().extend(keys.into_iter().map(str::to_owned));
    }

    /// Reports the keys that nobody asked for.
    pub fn finish(&self) {
        self.finish_or("");
    }

    /// The same, with this help where neither a near key nor a few keys can be told.
    pub(crate) fn finish_or(&self, otherwise: &str) {
        if let Some(under) = &self.under {
            under.table.finish();
        }
        for key in self.not_asked() {
            let span = self.table.key(&key).and_then(toml_edit::Key::span);
            let spot = self.problems.spot(span, self.spot);
            let asked = self.asked.borrow();
            let message = format!("{} has no `{key}`", self.what);
            let known: Vec<&str> = asked.iter().map(String::as_str).collect();
            let (_, help) = super::nearest::help(&key, &known);
            match help.or_else(|| (!otherwise.is_empty()).then(|| otherwise.to_owned())) {
                Some(help) => self.problems.report_with_help(spot, message, help),
                None => self.problems.report(spot, message),
            }
        }
    }

    fn field(&self, key: String, span: Option<std::ops::Range<usize>>, item: &'a Item) -> Field<'a> {
        let key_spot = self.problems.spot(span, self.spot);
        let spot = self.problems.spot(item.span(), key_spot);
        let of = self.problems.is_learning().then(|| self.what.clone());
        Field { problems: self.problems, key, key_spot, spot, item, fill: self.fill, of }
    }
}
