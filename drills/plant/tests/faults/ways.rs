//! Where each pair showed when all ways were last searched. It is looked at there first, which takes seconds of ship's time
//! instead of hours; a pair that does not show there any more is searched for as if nothing were known.

use std::collections::BTreeMap;
use std::path::PathBuf;

/// The ways of a ship: by pair, state and name of the probe.
pub struct Ways(BTreeMap<String, (String, String)>);

/// `SEARCH_ALL` in the environment searches as if nothing were known, and writes the ways down.
pub fn all_is_searched() -> bool {
    std::env::var_os("SEARCH_ALL").is_some()
}

fn file(ship: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/faults/ways/{ship}.txt"))
}

impl Ways {
    /// As they were written down; none when all is searched.
    pub fn of(ship: &str) -> Ways {
        let text = std::fs::read_to_string(file(ship)).unwrap_or_default();
        let lines = text.lines().filter(|line| !line.starts_with('#') && !all_is_searched());
        let way = |line: &str| {
            let (pair, way) = line.split_once(": ")?;
            let (state, probe) = way.split_once("; ")?;
            Some((pair.to_owned(), (state.to_owned(), probe.to_owned())))
        };
        Ways(lines.filter_map(way).collect())
    }

    pub fn of_pair(&self, pair: &str) -> Option<(&str, &str)> {
        self.0.get(pair).map(|(state, probe)| (state.as_str(), probe.as_str()))
    }
}

/// Writes them down: pair, state, probe.
pub fn write(ship: &str, mut ways: Vec<String>) {
    ways.sort();
    let head = "# Where each pair shows: written by SEARCH_ALL=1 cargo test -p deadship-plant --test faults -- --ignored";
    let text = format!("{head}\n{}\n", ways.join("\n"));
    std::fs::write(file(ship), text).expect("the tree can be written");
}
