//! How a file is laid out. The rules are few, and those that the library keeps already:
//!
//! - a key, ` = `, and its value; no spaces round the dots of a key, none behind a line;
//! - one blank line before the head of a table, above the comments that stand right over it; where a table goes on with a table of
//!   its own (`[state.set]` below `[[state]]`) the author chooses; no blank line right below a head, and never two;
//! - `["a", "b"]` and `{ a = 1, b = 2 }`; a list that would be wider than [`WIDTH`], or that the author broke, has each of its
//!   elements on a line, four spaces in, with a comma behind each;
//! - a comment stays where it is, with the spaces before it;
//! - lines end as the first one does, the last one too; no byte order mark.

use super::pieces::{self, Group, Item, Line, Pair, Part, Remark, Value, What};

/// Widest line that a list may make, characters.
const WIDTH: usize = 120;
/// How far the elements of a broken list stand in, spaces.
const STEP: usize = 4;

/// A well-formed text, laid out.
pub(super) fn laid_out(text: &str) -> String {
    let mut lines = pieces::lines(text);
    place_blank_lines(&mut lines);
    let end = pieces::line_end(text);
    let mut out = Out { text: String::new(), end };
    for line in &lines {
        if line.blank_before {
            out.text.push_str(end);
        }
        out.line(line);
        out.text.push_str(end);
    }
    out.text
}

/// Blank lines as the rules want them.
fn place_blank_lines(lines: &mut [Line<'_>]) {
    for at in 0..lines.len() {
        if let What::Header { .. } = lines[at].what {
            let goes_on = goes_on(&lines[..=at]);
            let mut top = at;
            while top > 0 && !lines[top].blank_before && matches!(lines[top - 1].what, What::Comment { .. }) {
                top -= 1;
            }
            lines[top].blank_before |= !goes_on;
            if let Some(next) = lines.get_mut(at + 1).filter(|next| matches!(next.what, What::Pair { .. })) {
                next.blank_before = false;
            }
        }
    }
    if let Some(first) = lines.first_mut() {
        first.blank_before = false;
    }
}

/// Is the last line the head of a table within the table of the head before it?
fn goes_on(lines: &[Line<'_>]) -> bool {
    let mut heads = lines.iter().rev().filter_map(|line| match &line.what {
        What::Header { path, of_list, .. } => Some((path, *of_list)),
        _ => None,
    });
    let (Some((path, false)), Some((above, _))) = (heads.next(), heads.next()) else { return false };
    path.len() > above.len() && path.starts_with(above)
}

struct Out {
    text: String,
    end: &'static str,
}

impl Out {
    fn line(&mut self, line: &Line<'_>) {
        match &line.what {
            What::Comment { indent, text } => {
                self.text.push_str(indent);
                self.text.push_str(text);
            }
            What::Header { text, remark, .. } => {
                self.text.push_str(text);
                self.remark(*remark);
            }
            What::Pair { pair, remark } => {
                self.pair(pair, 0, 0, true);
                self.remark(*remark);
            }
        }
    }

    fn remark(&mut self, remark: Option<Remark<'_>>) {
        if let Some(remark) = remark {
            self.text.push_str(if remark.gap.is_empty() { " " } else { remark.gap });
            self.text.push_str(remark.text);
        }
    }

    /// A key with its value, at this indentation; `behind` characters follow on the line.
    fn pair(&mut self, pair: &Pair<'_>, indent: usize, behind: usize, may_break: bool) {
        self.text.push_str(&pair.key);
        self.text.push_str(" = ");
        self.value(&pair.value, indent, behind, may_break);
    }

    fn value(&mut self, value: &Value<'_>, indent: usize, behind: usize, may_break: bool) {
        match value {
            Value::Plain(text) => self.text.push_str(text),
            Value::Group(group) => {
                let is_wide = || self.column() + flat(value).chars().count() + behind > WIDTH;
                // One element alone would be as wide on a line of its own.
                let can_break = may_break && !group.is_table && group.items.len() > 1;
                let breaks = group.is_broken || can_break && is_wide();
                match breaks && !(group.items.is_empty() && group.remark.is_none()) {
                    true => self.broken(group, indent),
                    false => self.on_one_line(group, indent, may_break),
                }
            }
        }
    }

    /// Where the next character comes, from 0.
    fn column(&self) -> usize {
        let line = self.text.rsplit('\n').next().unwrap_or_default();
        line.chars().count()
    }

    fn broken(&mut self, group: &Group<'_>, indent: usize) {
        self.text.push(if group.is_table { '{' } else { '[' });
        self.remark(group.remark);
        self.text.push_str(self.end);
        let inner = indent + STEP;
        for (at, item) in group.items.iter().enumerate() {
            if item.blank_before && at > 0 {
                self.text.push_str(self.end);
            }
            self.text.push_str(&" ".repeat(inner));
            self.item(item, inner);
            self.text.push_str(self.end);
        }
        self.text.push_str(&" ".repeat(indent));
        self.text.push(if group.is_table { '}' } else { ']' });
    }

    fn item(&mut self, item: &Item<'_>, indent: usize) {
        match &item.part {
            Part::Comment(text) => return self.text.push_str(text),
            Part::Value(value) => self.value(value, indent, 1, true),
            Part::Pair(pair) => self.pair(pair, indent, 1, true),
        }
        self.text.push(',');
        self.remark(item.remark);
    }

    /// A group that has no line ends of its own; groups within may have some.
    fn on_one_line(&mut self, group: &Group<'_>, indent: usize, may_break: bool) {
        // In braces nothing is broken that the author did not break: TOML 1.0 allows no line end there.
        let may_break = may_break && !group.is_table;
        let (open, close) = match (group.is_table, group.items.is_empty()) {
            (true, true) => ("{", "}"),
            (true, false) => ("{ ", " }"),
            (false, _) => ("[", "]"),
        };
        self.text.push_str(open);
        for (at, item) in group.items.iter().enumerate() {
            if at > 0 {
                self.text.push_str(", ");
            }
            match &item.part {
                Part::Value(value) => self.value(value, indent, 0, may_break),
                Part::Pair(pair) => self.pair(pair, indent, 0, may_break),
                // A comment ends its line: a group with one is broken.
                Part::Comment(text) => self.text.push_str(text),
            }
        }
        self.text.push_str(close);
    }
}

/// A value on one line, however wide.
fn flat(value: &Value<'_>) -> String {
    let mut out = Out { text: String::new(), end: "\n" };
    out.value(value, 0, 0, false);
    out.text
}
