//! Holds `docs/physics.md` to what was measured: a row for each check, with its tolerance and an achieved error that is
//! still right. `WRITE_CHECKS=1 cargo test -p deadship-tests --test references` writes the figures into the rows.

use crate::harness::{Outcome, percent};
use deadship_tests::top;
use std::sync::{Mutex, PoisonError};

/// Nets are checked at the same time; the document is one.
static WRITING: Mutex<()> = Mutex::new(());

/// Compares the rows of these checks with what they found.
///
/// # Panics
/// When a row is missing or says something else.
pub fn hold(outcomes: &[Outcome]) {
    let _alone = WRITING.lock().unwrap_or_else(PoisonError::into_inner);
    let path = top().join("docs/physics.md");
    let text = std::fs::read_to_string(&path).expect("docs/physics.md");
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let mut problems = Vec::new();
    for outcome in outcomes {
        let head = format!("| `{}`", outcome.check.name);
        let row = lines.iter_mut().find(|line| line.starts_with(&head));
        let Some(row) = row else {
            problems.push(format!("no row for {}", outcome.check.name));
            continue;
        };
        let right = with_figures(row, outcome);
        if std::env::var_os("WRITE_CHECKS").is_some() {
            *row = right;
        } else if !is_right(row, outcome) {
            problems.push(format!("is    {row}\n  ought {right}"));
        }
    }
    if std::env::var_os("WRITE_CHECKS").is_some() {
        std::fs::write(&path, lines.join("\n") + "\n").expect("docs/physics.md can be written");
    }
    assert!(problems.is_empty(), "docs/physics.md:\n  {}", problems.join("\n  "));
}

fn cells(row: &str) -> Vec<&str> {
    row.trim_matches('|').split('|').map(str::trim).collect()
}

/// The row with the figures that were found: check, reference, values, worst, tolerance.
fn with_figures(row: &str, outcome: &Outcome) -> String {
    let cells = cells(row);
    let (check, reference) = (cells.first().unwrap_or(&""), cells.get(1).unwrap_or(&""));
    let (worst, tolerance) = (percent(outcome.errors.worst), percent(outcome.check.tolerance));
    format!("| {check} | {reference} | {} | {worst} | {tolerance} |", outcome.errors.count)
}

/// The error said is not less than the one found, but for a thousandth of the tolerance, and not so much more that it
/// misleads: twice, or a fiftieth of the tolerance.
fn is_right(row: &str, outcome: &Outcome) -> bool {
    let cells = cells(row);
    if cells.len() != 5 {
        return false;
    }
    let said = cells[3].trim_start_matches('<').trim_end_matches('%').trim().parse::<f64>();
    let Ok(said) = said.map(|percent| percent / 100.0) else { return false };
    let found = outcome.errors.worst;
    let most = (2.0 * found).max(found + 0.02 * outcome.check.tolerance).max(1e-5);
    cells[2] == outcome.errors.count.to_string()
        && cells[4] == percent(outcome.check.tolerance)
        && said + 1e-3 * outcome.check.tolerance >= found * (1.0 - 1e-6)
        && said <= most * (1.0 + 1e-6)
}

/// Every kind has a row that says equation, source, range, simplification and check; a check named there is one of these.
///
/// # Panics
/// When a kind has none, or a row lacks something.
pub fn hold_kinds(kinds: &[String], checks: &[&str]) {
    let text = std::fs::read_to_string(top().join("docs/physics.md")).expect("docs/physics.md");
    let table = text.split("## Kinds").nth(1).expect("the table of kinds");
    let rows: Vec<&str> = table.lines().filter(|line| line.starts_with("| `")).collect();
    let mut problems = Vec::new();
    for kind in kinds {
        let of_kind = |row: &&&str| cells(row)[0].contains(&format!("`{kind}`"));
        match rows.iter().find(of_kind) {
            None => problems.push(format!("no row for {kind}")),
            Some(row) if cells(row).len() != 6 || cells(row).contains(&"") => {
                problems.push(format!("{kind}: {} cells of 6, none empty: {row}", cells(row).len()));
            }
            Some(_) => {}
        }
    }
    for row in &rows {
        let named = row.split('`').skip(1).step_by(2).filter(|word| word.contains('/'));
        for name in named.filter(|name| !checks.contains(name)) {
            problems.push(format!("there is no check {name}"));
        }
    }
    assert!(problems.is_empty(), "docs/physics.md, kinds:\n  {}", problems.join("\n  "));
}
