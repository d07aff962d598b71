//! Captured screens, for `docs/screens.md`: those of a class stand before those of a facilitator.

use crate::hands::{Hands, Pane};
use crate::top;
use std::fmt::Write as _;

/// Where the second part begins.
const SECOND: &str = "\n## The facilitator";

/// Which part of the page an album is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// A class at work.
    Class,
    /// What comes after it; its titles begin with `The facilitator`.
    Facilitator,
}

/// Captured screens.
#[derive(Default)]
pub struct Album {
    text: String,
    taken: Vec<&'static str>,
}

impl Album {
    /// Takes a screen under a title, once.
    pub fn take(&mut self, title: &'static str, pane: &Pane) {
        if !self.taken.contains(&title) {
            self.taken.push(title);
            let lines: Vec<String> = pane.seen().lines().map(|line| line.trim_end().to_owned()).collect();
            let _ = write!(self.text, "\n## {title}\n\n```text\n{}\n```\n", lines.join("\n"));
        }
    }

    /// Writes them into their part of the page when `WRITE_SCREENS` is set.
    ///
    /// # Panics
    /// The page cannot be written.
    pub fn keep(&self, part: Part) {
        if std::env::var_os("WRITE_SCREENS").is_none() {
            return;
        }
        let head = "# Screens\n\nCaptured by `WRITE_SCREENS=1 cargo test -p deadship-tests --test screens --test debrief_screen` while a \
                    team of three\nand an instructor completed `first-light` by keys, and from a rehearsal of it, on terminals \
                    of 80 columns and 24 lines and\nof 160 and 50. Colours are lost here. The ship, the drill and the people \
                    are invented.\n";
        let path = top().join("docs/screens.md");
        let page = std::fs::read_to_string(&path).unwrap_or_default();
        let (first, second) = page.split_at(page.find(SECOND).unwrap_or(page.len()));
        let page = match part {
            Part::Class => format!("{head}{}{second}", self.text),
            Part::Facilitator => {
                let shots = first.find("\n## ").map_or("", |at| &first[at..]);
                format!("{head}{shots}{}", self.text)
            }
        };
        std::fs::write(path, page).expect("written");
    }
}
