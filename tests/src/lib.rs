//! What the end-to-end tests share: where things are, and running the programs.

pub mod server;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The top of the tree.
pub fn top() -> PathBuf {
    // The package lies one folder below the top.
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().map(Path::to_path_buf).unwrap_or_default()
}

/// What a program said and how it ended.
#[derive(Debug)]
pub struct Said {
    /// Exit status; -1 when it was killed.
    pub status: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

/// Runs a program to its end.
///
/// # Panics
/// When the program cannot be started.
pub fn run(program: &str, args: &[&str]) -> Said {
    let output: Output = match Command::new(program).args(args).current_dir(top()).output() {
        Ok(output) => output,
        Err(error) => panic!("{program} does not start: {error}"),
    };
    Said {
        status: output.status.code().unwrap_or(-1),
        out: String::from_utf8_lossy(&output.stdout).into_owned(),
        err: String::from_utf8_lossy(&output.stderr).into_owned(),
    }
}

/// Columns of a table printed by `deadship trial --format csv`.
#[derive(Debug)]
pub struct Table {
    head: Vec<String>,
    rows: Vec<Vec<f64>>,
}

impl Table {
    /// Reads a table.
    ///
    /// # Panics
    /// When the text is not one.
    pub fn read(text: &str) -> Table {
        let mut lines = text.lines();
        let head: Vec<String> =
            lines.next().unwrap_or_default().split(',').map(|name| name.trim().to_owned()).collect();
        let number = |cell: &str| match cell.trim().parse() {
            Ok(number) => number,
            Err(error) => panic!("'{cell}' is not a number: {error}"),
        };
        let rows: Vec<Vec<f64>> = lines.map(|line| line.split(',').map(number).collect()).collect();
        assert!(!rows.is_empty(), "no rows in: {text}");
        Table { head, rows }
    }

    /// The value of a column (its name without the unit) in the row whose time is nearest.
    ///
    /// # Panics
    /// When there is no such column.
    pub fn at(&self, time_s: f64, name: &str) -> f64 {
        let column = self.head.iter().position(|head| head.split(" [").next() == Some(name));
        let Some(column) = column else { panic!("no column {name} in {:?}", self.head) };
        let distance = |row: &&Vec<f64>| ((row[0] - time_s).abs() * 1e6) as u64;
        match self.rows.iter().min_by_key(distance) {
            Some(row) => row[column],
            None => panic!("no rows"),
        }
    }
}
