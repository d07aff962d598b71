//! Names: what they may be made of, and that no two things bear one.

use super::toml_reader::{At, Problems, Reader, Spot};
use std::collections::BTreeMap;

/// The names of one sort of things.
pub(super) struct Names {
    what: &'static str,
    seen: BTreeMap<String, Spot>,
}

impl Names {
    /// `what` is what the things are called in messages: `node`.
    pub(super) fn of(what: &'static str) -> Names {
        Names { what, seen: BTreeMap::new() }
    }

    /// Reads the key `name` and claims it. A name of wrong letters is reported and still borne by the thing, lest all
    /// that names it be called wrong.
    pub(super) fn read(&mut self, reader: &Reader<'_>) -> Option<At<String>> {
        let name = reader.need("name")?.text()?;
        check_word(reader.problems(), &name);
        self.claim(reader.problems(), &name).then_some(name)
    }

    /// True when nothing else bears the name; otherwise that is reported.
    pub(super) fn claim(&mut self, problems: &Problems, name: &At<String>) -> bool {
        match self.seen.get(&name.value) {
            Some(first) => {
                let message = format!("there is already {} `{}`", with_article(self.what), name.value);
                problems.report_with_help(
                    name.spot,
                    message,
                    format!("the first is at {}", problems.describe(*first)),
                );
                false
            }
            None => {
                self.seen.insert(name.value.clone(), name.spot);
                true
            }
        }
    }
}

/// `a pipe`, `an opening`. No word of ours begins with a silent letter.
pub(super) fn with_article(what: &str) -> String {
    let article = if what.starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" };
    format!("{article} {what}")
}

/// A name that is typed in commands and joined to others with a dot.
pub(super) fn check_word(problems: &Problems, name: &At<String>) {
    let text = name.value.as_str();
    let letters =
        text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || matches!(c, '.' | '-'));
    let parts = text.split('.').all(|part| !part.is_empty());
    if text.contains('*') {
        problems
            .report(name.spot, format!("`{text}`: `*` stands only at the beginning of names in a template"));
    } else if !letters || !parts {
        let message = format!("`{text}` cannot be a name");
        problems.report_with_help(
            name.spot,
            message,
            "names are lower-case letters, digits, `-`, and parts joined by `.`",
        );
    } else if text == "surroundings" {
        problems.report(name.spot, "the name `surroundings` is kept for start states");
    }
}
