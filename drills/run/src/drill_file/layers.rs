//! A file that extends another: its tables over those of the other, as its author wrote them, before anything is read.

use crate::dials::{POSITIONS, Positions};
use deadship_plant::file::toml_reader::{At, Problems, Reader, Spot};

/// Lists of named tables that a drill has from the one that it extends.
const NAMED: [(&str, &str); 8] = [
    ("station", "a station"),
    ("fault", "a fault"),
    ("message", "a message"),
    ("probe", "a probe"),
    ("decision", "a decision"),
    ("expect", "an expectation"),
    ("objective", "an objective"),
    ("variant", "a variant"),
];

/// Keys of `[drill]` that say what this file is, and are not taken over: what is measured of the other drill is not true of this.
const OF_ITS_OWN: &[&str] = &["title", "length", "difficulty", "extends", "without"];

/// A drill's file, over the one that it extends.
pub(super) struct Layers<'a> {
    own: Reader<'a>,
    base: Option<Reader<'a>>,
    left_out: Vec<LeftOut>,
}

/// Something that is left out.
#[derive(Clone)]
pub(super) struct LeftOut {
    /// Key of its list: `expect`.
    pub(super) list: &'static str,
    pub(super) name: At<String>,
}

impl<'a> Layers<'a> {
    /// `base`: the root of the file that `extends` names.
    pub(super) fn new(own: Reader<'a>, base: Option<Reader<'a>>) -> Layers<'a> {
        let head = own.table("drill", "a drill");
        let without = head.as_ref().and_then(|head| head.get_texts("without"));
        let left_out = match (without, &base) {
            (None, _) => Vec::new(),
            (Some(field), None) => {
                field.report("it leaves out parts of the drill that `extends` names");
                Vec::new()
            }
            (Some(field), Some(base)) => {
                let names = field.texts().unwrap_or_default();
                names.into_iter().filter_map(|name| find_left_out(own.problems(), base, name)).collect()
            }
        };
        Layers { own, base, left_out }
    }

    pub(super) fn left_out(&self) -> &[LeftOut] {
        &self.left_out
    }

    /// Where the drill's own file begins.
    pub(super) fn spot(&self) -> Spot {
        self.own.spot()
    }

    /// The head: what it does not say is as in the other, but for what is true of one file alone.
    pub(super) fn head(&self) -> Option<Reader<'a>> {
        self.table("drill", "a drill", OF_ITS_OWN)
    }

    pub(super) fn table(&self, key: &str, what: &str, except: &'static [&'static str]) -> Option<Reader<'a>> {
        let base = self.base.as_ref().and_then(|base| base.table(key, what));
        match (self.own.table(key, what), base) {
            (Some(own), Some(base)) => Some(own.over(base, except)),
            // A head of its own says what the drill is; everything else can be the other's as it is.
            (None, base) if key != "drill" => base,
            (own, _) => own,
        }
    }

    pub(super) fn tables(&self, key: &str, what: &str) -> Vec<Reader<'a>> {
        let base = self.base.as_ref().map_or_else(Vec::new, |base| base.tables(key, what));
        let is_out = |name: &str| self.left_out.iter().any(|out| out.list == key && out.name.value == name);
        combine(base, self.own.tables(key, what), is_out)
    }

    /// Reports keys that nobody asked for; those named are read by others.
    pub(super) fn finish(&self, also_known: &[&str]) {
        for root in std::iter::once(&self.own).chain(&self.base) {
            root.also_known(also_known.iter().copied());
            root.finish();
        }
    }
}

/// What a name of `without` leaves out: `NAME`, or `expect/NAME` where several sorts of things bear it.
fn find_left_out(problems: &Problems, base: &Reader<'_>, name: At<String>) -> Option<LeftOut> {
    let (wanted, bare) = match name.value.split_once('/') {
        Some((list, bare)) => (Some(list), bare),
        None => (None, name.value.as_str()),
    };
    let known: Vec<(&'static str, String)> = NAMED
        .iter()
        .flat_map(|(list, what)| base.tables(list, what).into_iter().map(move |table| (*list, table)))
        .filter_map(|(list, table)| Some((list, name_of(&table)?)))
        .collect();
    let fits = |(list, known): &&(&'static str, String)| {
        known == bare && wanted.is_none_or(|wanted| wanted == *list)
    };
    let found: Vec<&'static str> = known.iter().filter(fits).map(|(list, _)| *list).collect();
    match found.as_slice() {
        [list] => Some(LeftOut { list, name: At { value: bare.to_owned(), spot: name.spot } }),
        [] => {
            let message = format!("the drill that it extends has no `{}`", name.value);
            problems.unknown(name.spot, message, bare, known.iter().map(|(_, known)| known.as_str()));
            None
        }
        several => {
            let forms: Vec<String> = several.iter().map(|list| format!("`{list}/{bare}`")).collect();
            let message = format!("`{bare}` is the name of several things: write {}", forms.join(" or "));
            problems.report(name.spot, message);
            None
        }
    }
}

/// The tables of the other file without those that are left out, and own ones: in the place of a namesake, or after all.
pub(super) fn combine<'a>(
    base: Vec<Reader<'a>>,
    own: Vec<Reader<'a>>,
    is_out: impl Fn(&str) -> bool,
) -> Vec<Reader<'a>> {
    let mut names: Vec<Option<String>> = base.iter().map(name_of).collect();
    let mut tables: Vec<Reader<'a>> = base;
    for table in own {
        let name = name_of(&table);
        let place = name.as_ref().and_then(|_| names.iter().position(|known| *known == name));
        match place {
            // Its name is given away, so that a second own table of this name is told as a mistake.
            Some(at) => {
                tables[at] = table;
                names[at] = None;
            }
            None => {
                tables.push(table);
                names.push(None);
            }
        }
    }
    let is_left = names.iter().map(|name| !name.as_deref().is_some_and(&is_out));
    let is_left: Vec<bool> = is_left.collect();
    tables.into_iter().zip(is_left).filter(|(_, is_left)| *is_left).map(|(table, _)| table).collect()
}

/// The name of a table, where it has one.
pub(super) fn name_of(table: &Reader<'_>) -> Option<String> {
    Some(table.peek("name")?.text()?.value)
}

/// With which positions of the dials a table is there.
pub(super) fn positions(table: &Reader<'_>) -> Positions {
    let of_one = |key: &str| {
        let Some(field) = table.get_texts(key) else { return [true; 3] };
        let Some(words) = field.texts() else { return [true; 3] };
        for word in words.iter().filter(|word| !POSITIONS.contains(&word.value.as_str())) {
            let message = format!("`{key}`: `{}` is no position of a dial", word.value);
            table.problems().unknown(word.spot, message, &word.value, POSITIONS);
        }
        if words.is_empty() {
            field.report("it names positions of a dial, one or more: `[\"usual\", \"high\"]`");
        }
        POSITIONS.map(|position| words.iter().any(|word| word.value == position))
    };
    Positions { difficulty: of_one("difficulty"), stress: of_one("stress") }
}
