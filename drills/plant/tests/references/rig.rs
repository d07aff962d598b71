//! A rig that runs, a reference table, and a check that prints what it found.

use deadship_plant::kind::{Act, Verb};
use deadship_plant::{Plant, TICK_S, file, kinds};

/// A rig that runs.
pub struct Rig {
    plant: Plant,
}

impl Rig {
    /// Reads a rig file and puts it into a start state.
    pub fn new(text: &str, start: Option<&str>) -> Rig {
        let files = [("rig.toml".to_owned(), text.to_owned())];
        let spec = match file::read_ship(kinds::REGISTRY, &files) {
            Ok(spec) => spec,
            Err(problems) => panic!("{}", problems.iter().map(|p| format!("{p}\n")).collect::<String>()),
        };
        Rig { plant: Plant::new(spec, start).expect("the start state is there") }
    }

    /// One tick.
    pub fn tick(&mut self) {
        self.plant.step().expect("the rig can be stepped");
    }

    /// So many seconds.
    pub fn run(&mut self, seconds: f64) {
        for _ in 0..(seconds / TICK_S).round() as u64 {
            self.tick();
        }
    }

    /// On to this time since the beginning.
    pub fn run_to(&mut self, time_s: f64) {
        while self.time_s() < time_s - 0.5 * TICK_S {
            self.tick();
        }
    }

    /// Time since the beginning, s.
    pub fn time_s(&self) -> f64 {
        self.plant.tick as f64 * TICK_S
    }

    /// A reading by `component.reading`.
    pub fn value(&self, name: &str) -> f64 {
        let found = self.plant.compiled.reading(name);
        let (component, reading) = found.unwrap_or_else(|| panic!("no reading {name}"));
        self.plant.reading(component, reading)
    }

    /// Does an act that must be allowed.
    pub fn act(&mut self, name: &str, verb: Verb, setting: &str, value: f64) {
        let component = self.component(name);
        let acts = self.plant.compiled.spec.components[component].kind.acts;
        let index = acts.iter().position(|act| act.verb == verb && act.setting == setting);
        let index = index.unwrap_or_else(|| panic!("{name} has no act {verb:?} {setting}"));
        let act = Act { index, value, remote: false };
        assert_eq!(self.plant.permit(component, act), [], "{name}");
        self.plant.act(component, act);
    }

    /// Sets a fault at once.
    pub fn fault(&mut self, name: &str, fault: &str, severity: f64) {
        let component = self.component(name);
        let faults = self.plant.compiled.spec.components[component].kind.faults;
        let index = faults.iter().position(|def| def.name == fault);
        self.plant.set_fault(component, index.unwrap_or_else(|| panic!("no fault {fault}")), severity, 0.0);
    }

    /// Codes of what stands in the way of an act.
    pub fn codes(&self, name: &str, verb: Verb) -> Vec<&'static str> {
        let component = self.component(name);
        let acts = self.plant.compiled.spec.components[component].kind.acts;
        let index = acts.iter().position(|act| act.verb == verb);
        let index = index.unwrap_or_else(|| panic!("{name} has no act {verb:?}"));
        let act = Act { index, value: 0.0, remote: false };
        self.plant.permit(component, act).into_iter().map(|block| block.code).collect()
    }

    fn component(&self, name: &str) -> usize {
        self.plant.compiled.component(name).unwrap_or_else(|| panic!("no component {name}"))
    }
}

/// A reference table.
pub struct Table {
    names: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One row of it.
#[derive(Clone, Copy)]
pub struct Row<'a> {
    names: &'a [String],
    cells: &'a [String],
}

impl Table {
    /// Reads the text of a table: lines of `#`, names of columns, rows.
    pub fn new(text: &str) -> Table {
        let mut lines = text.lines().filter(|line| !line.starts_with('#') && !line.is_empty());
        let split = |line: &str| line.split(',').map(str::to_owned).collect::<Vec<_>>();
        let names = split(lines.next().expect("a line of names"));
        let rows: Vec<_> = lines.map(split).collect();
        assert!(!rows.is_empty(), "a table without rows checks nothing");
        Table { names, rows }
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
    /// The number in the column whose name begins so.
    pub fn get(&self, column: &str) -> f64 {
        let at = self.names.iter().position(|name| name.starts_with(column));
        let cell = &self.cells[at.unwrap_or_else(|| panic!("no column {column}"))];
        cell.parse().unwrap_or_else(|_| panic!("'{cell}' is no number"))
    }
}

/// Compares values with a reference, prints the worst and fails beyond the tolerance.
pub struct Check {
    what: &'static str,
    tolerance: f64,
    worst: (f64, String),
    count: u32,
}

impl Check {
    /// A check of something within a tolerance (a share).
    pub fn new(what: &'static str, tolerance: f64) -> Check {
        Check { what, tolerance, worst: (0.0, String::new()), count: 0 }
    }

    /// A value against its reference.
    pub fn add(&mut self, label: &str, got: f64, want: f64) {
        self.add_of(label, got, want, want);
    }

    /// A value against its reference, with the error as a share of `scale`.
    pub fn add_of(&mut self, label: &str, got: f64, want: f64, scale: f64) {
        let error = (got - want).abs() / scale.abs();
        self.count += 1;
        // An error that is no number is the worst of all.
        let error = if error.is_nan() { f64::INFINITY } else { error };
        if error > self.worst.0 || self.worst.1.is_empty() {
            self.worst = (error, format!("{label}: {got:.6e} for {want:.6e}"));
        }
    }

    /// Prints the worst error and holds it against the tolerance.
    pub fn finish(self) {
        let Check { what, tolerance, worst: (error, at), count } = self;
        println!("{what}: {count} values, worst {:.3} % of {:.1} % ({at})", 100.0 * error, 100.0 * tolerance);
        assert!(count > 0, "{what}: nothing was compared");
        assert!(
            error <= tolerance,
            "{what}: {:.3} % is beyond {:.1} % ({at})",
            100.0 * error,
            100.0 * tolerance
        );
    }
}

/// 0 degC in K.
pub const ZERO_C_K: f64 = 273.15;
