//! What a check is, how a rig is put to trial, and how far the two are apart.

use deadship_tests::{Table, run, top};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::Write as _;
use std::sync::{Mutex, PoisonError};

/// A named comparison of the plant's behaviour with something outside the project.
pub struct Check {
    /// Net and what is checked: `liquid/tank-drain-time`.
    pub name: &'static str,
    /// Where the expected values come from.
    pub source: &'static str,
    /// Largest error that the source supports, as a share.
    pub tolerance: f64,
    /// Puts a rig to trial and adds values.
    pub run: fn(&mut Errors),
}

/// The errors found in one check.
#[derive(Default)]
pub struct Errors {
    /// Values compared.
    pub count: usize,
    /// The worst error, as a share.
    pub worst: f64,
    /// Which value it was.
    pub at: String,
}

impl Errors {
    /// A value against its reference.
    pub fn add(&mut self, label: &str, got: f64, want: f64) {
        self.add_of(label, got, want, want);
    }

    /// A value against its reference, with the error as a share of `scale`: where a temperature or a speed changes,
    /// of the change.
    pub fn add_of(&mut self, label: &str, got: f64, want: f64, scale: f64) {
        let error = (got - want).abs() / scale.abs();
        // An error that is no number is the worst of all.
        let error = if error.is_nan() { f64::INFINITY } else { error };
        self.count += 1;
        if error > self.worst || self.at.is_empty() {
            self.worst = error;
            self.at = format!("{label}: {got:.6e} for {want:.6e}");
        }
    }
}

/// What one check found.
pub struct Outcome {
    /// The check.
    pub check: &'static Check,
    /// Its errors.
    pub errors: Errors,
}

/// Runs the checks of a net and prints a line for each.
///
/// # Panics
/// When one is beyond its tolerance, after all have been run.
pub fn run_all(checks: &'static [Check]) -> Vec<Outcome> {
    let mut outcomes = Vec::new();
    let mut failed = String::new();
    for check in checks {
        let mut errors = Errors::default();
        (check.run)(&mut errors);
        let (worst, tolerance) = (percent(errors.worst), percent(check.tolerance));
        println!(
            "{:<38}{:>3} values  worst {worst:<10}  tolerance {tolerance:<6}  source {}",
            check.name, errors.count, check.source
        );
        println!("{:>45} {}", "worst at", errors.at);
        if errors.count == 0 || errors.worst > check.tolerance {
            let _ = writeln!(failed, "  {}: {worst} is beyond {tolerance} at {}", check.name, errors.at);
        }
        outcomes.push(Outcome { check, errors });
    }
    assert!(failed.is_empty(), "not as the reference says:\n{failed}");
    outcomes
}

/// An error as documents say it: two figures, rounded up.
pub fn percent(share: f64) -> String {
    let value = 100.0 * share;
    if value < 0.001 {
        return "< 0.001 %".to_owned();
    }
    let mut unit = 0.0001;
    while value / unit > 100.0 + 1e-9 {
        unit *= 10.0;
    }
    // A tolerance such as 2 % must not become 2.1 % for the last bit.
    let rounded = (value / unit - 1e-6).ceil() * unit;
    let text = format!("{rounded:.4}");
    format!("{} %", text.trim_end_matches('0').trim_end_matches('.'))
}

/// A rig and what is done with it: one run of `deadship trial`.
pub struct Trial {
    rig: &'static str,
    args: Vec<String>,
    actions: String,
}

/// Trials that several checks look at are run once.
static DONE: Mutex<BTreeMap<String, String>> = Mutex::new(BTreeMap::new());

impl Trial {
    /// A rig by the name of its file in `drills/data/rigs`.
    pub fn of(rig: &'static str) -> Trial {
        Trial { rig, args: Vec::new(), actions: String::new() }
    }

    /// The start state.
    pub fn from(self, state: &str) -> Trial {
        self.with("--state", state)
    }

    /// What someone does at a time.
    pub fn at(mut self, time_s: f64, words: &str) -> Trial {
        let _ = writeln!(self.actions, "at {time_s}s: {words}");
        self
    }

    /// Runs it so long and reads down its readings at these intervals.
    pub fn read(self, length_s: f64, every_s: f64, readings: &str) -> Table {
        let trial = self
            .with("--for", &format!("{length_s}s"))
            .with("--every", &format!("{every_s}s"))
            .with("--readings", readings);
        let key = format!("{} {:?} {}", trial.rig, trial.args, trial.actions);
        let known = DONE.lock().unwrap_or_else(PoisonError::into_inner).get(&key).cloned();
        let text = known.unwrap_or_else(|| {
            let text = trial.run();
            DONE.lock().unwrap_or_else(PoisonError::into_inner).insert(key, text.clone());
            text
        });
        Table::read(&text)
    }

    fn with(mut self, option: &str, value: &str) -> Trial {
        self.args.extend([option.to_owned(), value.to_owned()]);
        self
    }

    fn run(&self) -> String {
        let rig = format!("drills/data/rigs/{}.toml", self.rig);
        let mut file = tempfile::NamedTempFile::new().expect("a file for the actions");
        file.write_all(self.actions.as_bytes()).expect("the actions are written");
        let actions = file.path().display().to_string();
        let mut args = vec!["trial", &rig, "--format", "csv", "--actions", &actions];
        args.extend(self.args.iter().map(String::as_str));
        let said = run(env!("CARGO_BIN_EXE_deadship-under-test"), &args);
        assert_eq!(said.status, 0, "{rig}: {}", said.err);
        said.out
    }
}

/// A reference table of `drills/data/rigs/reference`: lines of `#`, names of columns, rows.
pub struct Reference {
    names: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One row of it.
#[derive(Clone, Copy)]
pub struct Row<'a> {
    names: &'a [String],
    cells: &'a [String],
}

impl Reference {
    /// Reads a table.
    pub fn read(file: &str) -> Reference {
        let path = top().join("drills/data/rigs/reference").join(file);
        let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
        assert!(text.starts_with("# source: "), "{file} does not say where it comes from");
        let mut lines = text.lines().filter(|line| !line.starts_with('#') && !line.is_empty());
        let split = |line: &str| line.split(',').map(str::to_owned).collect::<Vec<_>>();
        let names = split(lines.next().expect("a line of names"));
        let rows: Vec<_> = lines.map(split).collect();
        assert!(!rows.is_empty(), "{file}: a table without rows checks nothing");
        Reference { names, rows }
    }

    /// All rows.
    pub fn rows(&self) -> Vec<Row<'_>> {
        self.rows.iter().map(|cells| Row { names: &self.names, cells }).collect()
    }

    /// The rows with this word in the first column; there must be some.
    pub fn case(&self, name: &str) -> Vec<Row<'_>> {
        let rows: Vec<_> = self.rows().into_iter().filter(|row| row.cells[0] == name).collect();
        assert!(!rows.is_empty(), "no rows of {name}");
        rows
    }
}

impl Row<'_> {
    /// The word in the column whose name begins so.
    pub fn word(&self, column: &str) -> &str {
        let at = self.names.iter().position(|name| name.starts_with(column));
        &self.cells[at.unwrap_or_else(|| panic!("no column {column}"))]
    }

    /// The number in the column whose name begins so.
    pub fn get(&self, column: &str) -> f64 {
        let cell = self.word(column);
        cell.parse().unwrap_or_else(|_| panic!("'{cell}' is no number"))
    }
}

#[test]
fn errors_are_said_with_two_figures_rounded_up() {
    let said = [(0.0, "< 0.001 %"), (0.000_123_4, "0.013 %"), (0.02, "2 %"), (0.05, "5 %"), (0.001, "0.1 %")];
    for (share, text) in said {
        assert_eq!(percent(share), text);
    }
    assert_eq!(percent(0.017_85), "1.8 %");
    assert_eq!(percent(0.10), "10 %");
}
