//! Where something stands in a file: what is read of a drill does not remember it.

use deadship_plant::file::toml_reader::{Problems, Spot};
use deadship_run::opening::TextFile;

/// Tables that a file has once; all others are lists.
const ONCE: [&str; 3] = ["drill", "aim", "procedure"];

/// File, line and column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) file: String,
    pub(super) line: u32,
    pub(super) column: u32,
}

impl Place {
    /// The key of a table (of a list of tables the one of this name), else the table.
    pub(super) fn find(file: &TextFile, table: &str, name: &str, key: &str) -> Option<Place> {
        let pos = spot(file, table, name, key)?.pos;
        Some(Place { file: file.name.clone(), line: pos.line, column: pos.column })
    }

    /// The beginning of a file.
    pub(super) fn beginning(file: &TextFile) -> Place {
        Place { file: file.name.clone(), line: 1, column: 1 }
    }

    /// The `timeout` of a step of this name, where the file writes one.
    pub(super) fn find_timeout(file: &TextFile, step: &str) -> Option<Place> {
        let problems = Problems::new(&[(file.name.clone(), file.text.clone())]);
        let documents = problems.parse();
        let root = documents.first()?.as_ref()?.root(&problems);
        let tables = root.tables("step", "a step");
        let named = tables.iter().find(|table| {
            table.get("name").and_then(|field| field.text()).is_some_and(|name| name.value == step)
        })?;
        let pos = named.get("timeout")?.key_spot().pos;
        Some(Place { file: file.name.clone(), line: pos.line, column: pos.column })
    }
}

fn spot(file: &TextFile, table: &str, name: &str, key: &str) -> Option<Spot> {
    let problems = Problems::new(&[(file.name.clone(), file.text.clone())]);
    let documents = problems.parse();
    let root = documents.first()?.as_ref()?.root(&problems);
    let found = match ONCE.contains(&table) {
        true => root.table(table, "a table")?,
        false => root.tables(table, "a table").into_iter().find(|table| {
            let written = table.get("name").and_then(|field| field.text());
            written.is_some_and(|written| written.value == name)
        })?,
    };
    Some(found.get(key).map_or(found.spot(), |field| field.key_spot()))
}
