//! Against scikit-learn, NumPy and SciPy, and a worked example.

use super::{Agreement, agreement, median, percentile, wilson};

/// The tables agree to eight figures; both sides add in another order.
const CLOSE: f64 = 1e-7;

/// Rows of a table as columns, without its source line and head.
fn rows(table: &'static str) -> Vec<Vec<&'static str>> {
    let rows: Vec<Vec<&str>> = table.lines().skip(2).map(|line| line.split(',').collect()).collect();
    assert!(table.starts_with("# source: ") && rows.len() >= 5, "a table with its source");
    rows
}

fn number(text: &str) -> f64 {
    text.parse().unwrap()
}

fn levels(text: &str) -> Vec<usize> {
    text.split(' ').map(|level| level.parse().unwrap()).collect()
}

fn is_close(found: f64, said: &str, what: &str) {
    let said = number(said);
    assert!((found - said).abs() <= CLOSE * said.abs().max(1.0), "{what}: {found}, the reference has {said}");
}

#[test]
fn weighted_kappa_is_that_of_scikit_learn() {
    for row in rows(include_str!("reference/kappa.csv")) {
        let pairs: Vec<(usize, usize)> = levels(row[2]).into_iter().zip(levels(row[3])).collect();
        let found = agreement(&pairs, row[1].parse().unwrap());
        is_close(found.linear_ratio.unwrap(), row[4], row[0]);
        is_close(found.quadratic_ratio.unwrap(), row[5], row[0]);
    }
}

#[test]
fn percentiles_are_those_of_numpy() {
    for row in rows(include_str!("reference/percentiles.csv")) {
        let values: Vec<f64> = row[1].split(' ').map(number).collect();
        is_close(percentile(&values, number(row[2])).unwrap(), row[3], row[0]);
        is_close(median(&values).unwrap(), row[4], row[0]);
    }
    assert_eq!(percentile(&[], 0.5), None);
    assert_eq!(percentile(&[1.0, f64::NAN], 0.5), None);
    assert_eq!(percentile(&[1.0], 1.5), None);
}

#[test]
fn the_interval_is_that_of_scipy() {
    for row in rows(include_str!("reference/wilson.csv")) {
        let (low, high) = wilson(row[0].parse().unwrap(), row[1].parse().unwrap()).unwrap();
        is_close(low, row[2], "low");
        is_close(high, row[3], "high");
    }
    assert_eq!(wilson(0, 0), None);
    assert_eq!(wilson(3, 2), None);
}

#[test]
fn little_agreement_is_warned_of_and_few_items_are_said_to_be_few() {
    let one_level = agreement(&[(1, 1); 20], 3);
    assert_eq!((one_level.linear_ratio, one_level.alike), (None, 20));
    assert!(one_level.to_text().contains("not defined"), "{}", one_level.to_text());
    assert_eq!(agreement(&[], 3).to_text(), "no item was rated by both");
    // A level that the scale does not have is left out.
    assert_eq!(agreement(&[(0, 0), (3, 0)], 3).items, 1);
    let few = agreement(&[(0, 1), (1, 1), (2, 2)], 3);
    assert!(
        few.to_text().starts_with("2 of 3 alike; too few items for kappa, which wants 18"),
        "{}",
        few.to_text()
    );
    let mixed: Vec<(usize, usize)> = (0..30).map(|i| (i % 3, (i / 3) % 3)).collect();
    assert!(agreement(&mixed, 3).to_text().contains("WARNING"), "{}", agreement(&mixed, 3).to_text());
    let same: Vec<(usize, usize)> = (0..30).map(|i| (i % 3, i % 3)).collect();
    let text = agreement(&same, 3).to_text();
    assert_eq!(
        text,
        "30 of 30 alike; weighted kappa 1.00 linear (almost perfect), 1.00 quadratic (almost perfect)"
    );
}

#[test]
fn bands_are_those_of_landis_and_koch() {
    let bands = [-0.1, 0.0, 0.2, 0.21, 0.4, 0.41, 0.6, 0.61, 0.8, 0.81, 1.0].map(Agreement::band);
    let wanted = [
        "poor",
        "slight",
        "slight",
        "fair",
        "fair",
        "moderate",
        "moderate",
        "substantial",
        "substantial",
        "almost perfect",
        "almost perfect",
    ];
    assert_eq!(bands, wanted);
}
