//! What the strings of a template become in one use of it.

use super::problems::Problems;
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

/// One use of a template: its name and its placeholders.
pub(crate) struct Fill {
    /// Stands for `*` in strings that begin with `*.`.
    name: String,
    /// What stands for `{key}`.
    with: BTreeMap<String, String>,
    used: RefCell<BTreeSet<String>>,
    pub(super) note: u32,
}

impl Fill {
    /// For the use of this template as `name`.
    pub(crate) fn new(
        problems: &Problems,
        template: &str,
        name: &str,
        with: BTreeMap<String, String>,
    ) -> Fill {
        Fill { name: name.to_owned(), with, used: RefCell::default(), note: problems.note(template, name) }
    }

    /// Keys that no string of the template asked for.
    pub(crate) fn unused(&self) -> Vec<&str> {
        let used = self.used.borrow();
        self.with.keys().map(String::as_str).filter(|key| !used.contains(*key)).collect()
    }

    /// The string in this use, or the placeholder that is not known.
    pub(super) fn apply(&self, text: &str) -> Result<String, String> {
        let (mut filled, mut rest) = match text.strip_prefix("*.") {
            Some(rest) => (format!("{}.", self.name), rest),
            None => (String::new(), text),
        };
        while let Some(open) = rest.find('{') {
            let Some(length) = rest[open..].find('}') else {
                break;
            };
            let key = &rest[open + 1..open + length];
            let Some(value) = self.with.get(key) else {
                return Err(key.to_owned());
            };
            self.used.borrow_mut().insert(key.to_owned());
            filled.push_str(&rest[..open]);
            filled.push_str(value);
            rest = &rest[open + length + 1..];
        }
        filled.push_str(rest);
        Ok(filled)
    }

    /// Known placeholders.
    pub(super) fn keys(&self) -> Vec<&str> {
        self.with.keys().map(String::as_str).collect()
    }
}
