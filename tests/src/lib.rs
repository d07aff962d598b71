//! What the end-to-end tests share: where things are, and running the programs.

pub mod album;
pub mod first_light;
pub mod hands;
pub mod load;
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
        let column = self.column(name);
        let distance = |row: &&Vec<f64>| ((row[0] - time_s).abs() * 1e6) as u64;
        match self.rows.iter().min_by_key(distance) {
            Some(row) => row[column],
            None => panic!("no rows"),
        }
    }

    /// The value of a column at a time, on a straight line between rows.
    ///
    /// # Panics
    /// When there is no such column, or no row before or after.
    pub fn between(&self, time_s: f64, name: &str) -> f64 {
        let course = self.course(name);
        let after = course.iter().position(|(row_s, _)| *row_s >= time_s);
        match after {
            Some(0) => course[0].1,
            Some(after) => {
                let ((first_s, first), (last_s, last)) = (course[after - 1], course[after]);
                first + (last - first) * (time_s - first_s) / (last_s - first_s)
            }
            None => panic!("{name} ends before {time_s} s"),
        }
    }

    /// All values of a column with their times, s.
    ///
    /// # Panics
    /// When there is no such column.
    pub fn course(&self, name: &str) -> Vec<(f64, f64)> {
        let column = self.column(name);
        self.rows.iter().map(|row| (row[0], row[column])).collect()
    }

    /// When the column's value is first at or below this one, on a straight line between rows, s.
    ///
    /// # Panics
    /// When it never is.
    pub fn first_below(&self, name: &str, value: f64) -> f64 {
        self.crossing(name, |now| value - now)
    }

    /// When the column's value is first at or above this one, on a straight line between rows, s.
    ///
    /// # Panics
    /// When it never is.
    pub fn first_above(&self, name: &str, value: f64) -> f64 {
        self.crossing(name, |now| now - value)
    }

    /// When `beyond` of the column's value is first not negative.
    fn crossing(&self, name: &str, beyond: impl Fn(f64) -> f64) -> f64 {
        let mut before = None;
        for (time_s, value) in self.course(name) {
            let now = beyond(value);
            if now >= 0.0 {
                let (last_s, last) = before.unwrap_or((time_s, now));
                return if now > last { last_s + (time_s - last_s) * last / (last - now) } else { time_s };
            }
            before = Some((time_s, now));
        }
        panic!("{name} does not come so far");
    }

    fn column(&self, name: &str) -> usize {
        let column = self.head.iter().position(|head| head.split(" [").next() == Some(name));
        let Some(column) = column else { panic!("no column {name} in {:?}", self.head) };
        column
    }
}
