//! The tree keeps its own rules: arrows between crates, sizes of files and functions, units in names, no forbidden
//! names, and documents that know every crate, kind and refusal.

use deadship_tests::top;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Command;

/// Hard limit of a file, lines; most are under half of it.
const FILE_LINES_MAX: usize = 800;
/// Hard limit of a function, lines.
const FUNCTION_LINES_MAX: usize = 70;

/// Which of our crates may depend on which (dev-dependencies are free within this list and the tests package).
const ARROWS: &[(&str, &[&str])] = &[
    ("deadship-plant", &[]),
    ("deadship-run", &["deadship-plant"]),
    ("deadship-store", &[]),
    ("deadship-protocol", &[]),
    ("deadship-server", &["deadship-plant", "deadship-run", "deadship-store", "deadship-protocol"]),
    ("deadship", &["deadship-plant", "deadship-run", "deadship-store", "deadship-protocol"]),
    (
        "deadship-tests",
        &[
            "deadship-plant",
            "deadship-run",
            "deadship-store",
            "deadship-protocol",
            "deadship-server",
            "deadship",
        ],
    ),
];

/// What the pure crates must not reach for, directly.
const NOT_IN_PURE: &[&str] = &["tokio", "actix-web", "actix-ws", "chrono", "rand", "sled", "uuid-v4"];

fn sources() -> Vec<PathBuf> {
    let mut found = Vec::new();
    for folder in ["drills", "server", "client-cli", "tests"] {
        walk(&top().join(folder), &mut found);
    }
    found.sort();
    assert!(found.len() > 50, "the walk found only {} sources", found.len());
    found
}

fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
    let Ok(entries) = std::fs::read_dir(folder) else { return };
    for path in entries.flatten().map(|entry| entry.path()) {
        if path.is_dir() && !path.ends_with("target") {
            walk(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
}

fn short(path: &Path) -> String {
    path.strip_prefix(top()).unwrap_or(path).display().to_string()
}

fn fail_with(what: &str, problems: &[String]) {
    assert!(problems.is_empty(), "{what}:\n  {}", problems.join("\n  "));
}

#[test]
fn crates_depend_along_the_arrows() {
    let cargo = std::env::var("CARGO").unwrap_or_else(|_| "cargo".into());
    let output = Command::new(cargo)
        .args(["metadata", "--format-version", "1", "--no-deps", "--offline"])
        .current_dir(top())
        .output()
        .expect("cargo metadata runs");
    let metadata: serde_json::Value =
        serde_json::from_slice(&output.stdout).expect("cargo metadata prints JSON");
    let arrows: BTreeMap<&str, &[&str]> = ARROWS.iter().copied().collect();
    let mut problems = Vec::new();
    let packages = metadata["packages"].as_array().expect("packages");
    assert_eq!(packages.len(), ARROWS.len(), "a crate is missing from the list of arrows");
    for package in packages {
        let name = package["name"].as_str().expect("a name");
        let Some(allowed) = arrows.get(name) else {
            problems.push(format!("{name} is not in the list of arrows"));
            continue;
        };
        for dependency in package["dependencies"].as_array().expect("dependencies") {
            let on = dependency["name"].as_str().expect("a name");
            let ours = arrows.contains_key(on);
            if ours && !allowed.contains(&on) && dependency["kind"] != "dev" {
                problems.push(format!("{name} -> {on} is against the arrows"));
            }
            let pure = matches!(name, "deadship-plant" | "deadship-run");
            if pure && dependency["kind"].is_null() && NOT_IN_PURE.contains(&on) {
                problems.push(format!("{name} must stay pure and depends on {on}"));
            }
        }
    }
    fail_with("dependencies", &problems);
}

#[test]
fn files_and_functions_can_be_held_in_the_head() {
    let mut problems = Vec::new();
    let mut over_half = 0;
    let files = sources();
    for path in &files {
        let text = text(path);
        let lines = text.lines().count();
        if lines > FILE_LINES_MAX {
            problems.push(format!("{}: {lines} lines", short(path)));
        }
        over_half += usize::from(lines > FILE_LINES_MAX / 2);
        for (name, start, length) in functions(&text) {
            if length > FUNCTION_LINES_MAX {
                problems.push(format!("{}:{start}: fn {name} has {length} lines", short(path)));
            }
        }
    }
    if over_half * 4 > files.len() {
        problems.push(format!("{over_half} of {} files are over {} lines", files.len(), FILE_LINES_MAX / 2));
    }
    fail_with("sizes", &problems);
}

/// Functions of a formatted source: name, first line, number of lines. A function ends at the first line that is its
/// own indentation and a closing brace.
fn functions(text: &str) -> Vec<(String, usize, usize)> {
    let lines: Vec<&str> = text.lines().collect();
    let mut found = Vec::new();
    for (start, line) in lines.iter().enumerate() {
        let indent = &line[..line.len() - line.trim_start().len()];
        let Some(at) = line.find("fn ") else { continue };
        let before = line[indent.len()..at].trim();
        let is_head = before
            .split(' ')
            .all(|w| matches!(w, "" | "pub" | "pub(crate)" | "pub(super)" | "const" | "async"));
        if !is_head || line.trim_start().starts_with("//") {
            continue;
        }
        let name: String = line[at + 3..].chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
        // A declaration without a body ends in a semicolon before any line opens one.
        let opens = lines[start..].iter().find(|line| line.ends_with('{') || line.ends_with(';'));
        if opens.is_none_or(|line| line.ends_with(';')) {
            continue;
        }
        let end = format!("{indent}}}");
        if let Some(length) = lines[start..].iter().position(|l| *l == end) {
            found.push((name, start + 1, length + 1));
        }
    }
    found
}

/// Endings that name a unit, and names that have none.
const UNITS: &[&str] = &[
    "_pa",
    "_k",
    "_c",
    "_m",
    "_m2",
    "_m3",
    "_m3_s",
    "_kg",
    "_kg_s",
    "_kg_m2",
    "_kg_m3",
    "_j",
    "_j_k",
    "_j_kg",
    "_j_kg_k",
    "_w",
    "_w_k",
    "_kw",
    "_v",
    "_a",
    "_va",
    "_var",
    "_hz",
    "_rad",
    "_rad_s",
    "_s",
    "_nm",
    "_nm_s",
    "_nm_s2",
    "_per_s",
    "_share",
    "_ratio",
    "_m3_s_pa",
    "_pa_s_m3",
    "_pa_s2_m6",
    "_ohm",
    "_pu",
    "_m2_s",
    "_ah",
    "_factor",
    "_m3_h",
    "_ticks",
];

/// Values whose unit depends on what they belong to, or that have none; their doc says which.
const WITHOUT_UNIT: &[&str] = &[
    "min",
    "max",
    "default",
    "start",
    "usual",
    "value",
    "limit",
    "hysteresis",
    "measured",
    "target",
    "severity",
    "factor",
    "params",
    "state",
    "faults",
    "needs",
    "readings",
    "published",
    "being_read",
    "matrix",
    "wet",
    "re",
    "im",
    "speed",
    "alpha",
    "weight",
    "source_weight",
    "expected",
    "wells",
    "turns_above",
    "found",
    "achieved",
    "tolerance",
    // Units by themselves, counts, pure ratios, scratch space of a solve.
    "seconds",
    "va",
    "volts",
    "hz",
    "ohm",
    "pole_pairs",
    "slip",
    "torque_per_v2",
    "right",
    "step",
    "residual",
    "offset",
    // Values of any reading, shares, and counters of ticks.
    "was",
    "would_be",
    "strength",
    "greatest",
    "on",
    "off",
];

#[test]
fn physical_fields_name_their_unit() {
    let exempt: BTreeSet<&str> = WITHOUT_UNIT.iter().copied().collect();
    let mut problems = Vec::new();
    for path in sources()
        .iter()
        .filter(|p| short(p).starts_with("drills/plant/src") || short(p).starts_with("drills/run/src"))
    {
        for (number, line) in text(path).lines().enumerate() {
            let trimmed = line
                .trim()
                .trim_start_matches("pub(crate) ")
                .trim_start_matches("pub(super) ")
                .trim_start_matches("pub ");
            let Some((name, kind)) = trimmed.split_once(": ") else { continue };
            let plain = name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_');
            let physical = matches!(kind, "f64," | "Vec<f64>," | "Option<f64>,");
            if plain && physical && !exempt.contains(name) && !UNITS.iter().any(|unit| name.ends_with(unit)) {
                problems.push(format!("{}:{}: `{name}` does not name its unit", short(path), number + 1));
            }
        }
    }
    fail_with("units", &problems);
}

#[test]
fn documents_know_every_crate_and_kind() {
    let map = text(&top().join("DEVELOPERS.md"));
    let mut problems: Vec<String> = ARROWS
        .iter()
        .filter(|(name, _)| !map.contains(&format!("`{name}`")))
        .map(|(name, _)| format!("DEVELOPERS.md does not name `{name}`"))
        .collect();
    let kinds = text(&top().join("docs/kinds.md"));
    let physics = text(&top().join("docs/physics.md"));
    let registry = text(&top().join("drills/plant/src/kinds/mod.rs"));
    let list = registry
        .split_once("registry! {\n")
        .and_then(|(_, rest)| rest.split_once("\n}"))
        .expect("the registry")
        .0;
    assert!(list.lines().count() > 20, "the registry was not found");
    for line in list.lines() {
        let kind = line.trim().trim_end_matches(',').replace('_', "-");
        if !kinds.contains(&format!("## {kind}\n")) {
            problems.push(format!("docs/kinds.md does not name `{kind}`"));
        }
        if !physics.contains(&format!("`{kind}`")) {
            problems.push(format!("docs/physics.md does not name `{kind}`"));
        }
    }
    fail_with("documents", &problems);
}

#[test]
fn sled_stays_behind_its_one_module() {
    let needle = concat!("sled", "::");
    // The load program measures the bare database beside the store.
    let may = ["server/store/src/sled_backend.rs", "tests/src/bin/load/commits.rs"];
    let outside: Vec<String> = sources()
        .iter()
        .filter(|path| !may.iter().any(|known| path.ends_with(known)) && text(path).contains(needle))
        .map(|path| short(path))
        .collect();
    fail_with("the database is named outside its module", &outside);
}

#[test]
fn nothing_is_left_undone() {
    let words = [concat!("todo", "!("), concat!("unimplemented", "!("), concat!("dbg", "!(")];
    let mut problems = Vec::new();
    for path in sources() {
        let text = text(&path);
        for word in words.iter().filter(|word| text.contains(**word)) {
            problems.push(format!("{}: {word}", short(&path)));
        }
    }
    fail_with("undone", &problems);
}
