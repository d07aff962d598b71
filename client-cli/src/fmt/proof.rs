//! Does a text say the same as before? Asked before anything is written: a formatter that could lose a word of an author would be worse
//! than none.

use super::pieces;
use toml_edit::{Document, Item, Table, TableLike, Value};

/// What differs between two texts that should say the same.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub(super) enum Differs {
    /// The new text is not well formed.
    #[error("it would be not well formed: {0}")]
    Syntax(String),
    /// A key has another value, or stands elsewhere.
    #[error("`{0}` would not be the same")]
    Value(String),
    /// A comment is another, or stands elsewhere.
    #[error("the comment `{0}` would not be the same")]
    Comment(String),
}

/// Are values and comments the same, in the same order?
pub(super) fn says_the_same(before: &str, after: &str) -> Result<(), Differs> {
    let parse = |text| Document::parse(text).map_err(|error| Differs::Syntax(error.message().to_owned()));
    let (old, new) = (parse(before)?, parse(after)?);
    if let Some(key) = difference(old.as_table(), new.as_table()) {
        return Err(Differs::Value(key));
    }
    let (old, new) = (pieces::comments(before), pieces::comments(after));
    let differ = old.iter().zip(&new).find(|(old, new)| old != new).map(|(old, _)| *old);
    let lost = || old.get(new.len()).or(new.get(old.len())).copied();
    match differ.or_else(lost) {
        Some(comment) => Err(Differs::Comment(comment.to_owned())),
        None => Ok(()),
    }
}

/// The first key, with those above it, that is not the same.
fn difference(old: &dyn TableLike, new: &dyn TableLike) -> Option<String> {
    let mut others = new.iter();
    for (key, item) in old.iter() {
        let found = others.next().filter(|(other, _)| *other == key);
        let below = found.map_or(Some(String::new()), |(_, other)| of_items(item, other));
        if let Some(below) = below {
            return Some(if below.is_empty() { key.to_owned() } else { format!("{key}.{below}") });
        }
    }
    others.next().map(|(key, _)| key.to_owned())
}

/// `None`: the same. Else the key below this one at which they differ, or nothing.
fn of_items(old: &Item, new: &Item) -> Option<String> {
    match (old, new) {
        (Item::None, Item::None) => None,
        (Item::Table(old), Item::Table(new)) => of_tables(old, new),
        (Item::ArrayOfTables(old), Item::ArrayOfTables(new)) if old.len() == new.len() => {
            old.iter().zip(new.iter()).find_map(|(old, new)| of_tables(old, new))
        }
        (Item::Value(old), Item::Value(new)) => of_values(old, new),
        _ => Some(String::new()),
    }
}

fn of_tables(old: &Table, new: &Table) -> Option<String> {
    let same_sort = (old.is_implicit(), old.is_dotted()) == (new.is_implicit(), new.is_dotted());
    if same_sort { difference(old, new) } else { Some(String::new()) }
}

fn of_values(old: &Value, new: &Value) -> Option<String> {
    let same = match (old, new) {
        (Value::String(old), Value::String(new)) => old.value() == new.value(),
        (Value::Integer(old), Value::Integer(new)) => old.value() == new.value(),
        (Value::Float(old), Value::Float(new)) => old.value().to_bits() == new.value().to_bits(),
        (Value::Boolean(old), Value::Boolean(new)) => old.value() == new.value(),
        (Value::Datetime(old), Value::Datetime(new)) => old.value() == new.value(),
        (Value::Array(old), Value::Array(new)) => {
            let differ = old.iter().zip(new.iter()).find_map(|(old, new)| of_values(old, new));
            return if old.len() == new.len() { differ } else { Some(String::new()) };
        }
        (Value::InlineTable(old), Value::InlineTable(new)) => return difference(old, new),
        _ => false,
    };
    if same { None } else { Some(String::new()) }
}

#[cfg(test)]
mod tests {
    use super::{Differs, says_the_same};

    #[test]
    fn every_change_of_meaning_is_found() {
        let text = "# one\na = 1 # two\n[b]\nc = [\"x\", { d = 'y' }]\n[[e]]\nf.g = 1.5\n[[e]]\n";
        let same = |after: &str| says_the_same(text, after);
        assert_eq!(same(text), Ok(()));
        assert_eq!(same(&text.replace(" = ", "=").replace('\n', " \n\n")), Ok(()));
        let value = |key: &str| Err(Differs::Value(key.to_owned()));
        let comment = |words: &str| Err(Differs::Comment(words.to_owned()));
        for (old, new, told) in [
            ("a = 1", "a = 2", value("a")),
            ("a = 1", "a = 1.0", value("a")),
            ("a = 1", "z = 1", value("a")),
            ("'y'", "'z'", value("b.c.d")),
            ("\"x\"", "\"x\", \"x\"", value("b.c")),
            ("f.g", "f.h", value("e.f.g")),
            ("1.5\n[[e]]\n", "1.5\n", value("e")),
            ("# one", "# won", comment("# one")),
            ("# two", "", comment("# two")),
        ] {
            assert_eq!(same(&text.replacen(old, new, 1)), told, "{old} to {new}");
        }
        assert_eq!(same(&format!("{text}# three\n")), comment("# three"));
        assert_eq!(same(&format!("{text}[h]\n")), value("h"));
        assert!(matches!(same("a = "), Err(Differs::Syntax(_))));
    }
}
