//! Short labels: names without the beginning that the heading says, and never two alike in one view.

use super::graph::head;
use std::collections::BTreeMap;

/// Names that share a beginning before it is worth saying once.
const WORTH: usize = 3;

/// The beginning that most of the names share, with its dot; empty when it is not worth while.
pub(super) fn shared<'n>(names: impl IntoIterator<Item = &'n str>) -> String {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for name in names.into_iter().filter(|name| name.contains('.')) {
        *counts.entry(head(name)).or_default() += 1;
    }
    let mut counts: Vec<(usize, &str)> = counts.into_iter().map(|(head, count)| (count, head)).collect();
    counts.sort_unstable();
    let second = counts.len().checked_sub(2).map_or(0, |second| counts[second].0);
    // Left out where others are as many, it would mislead.
    let best = counts.last().filter(|(count, _)| *count >= WORTH && 2 * count > 3 * second);
    best.map_or_else(String::new, |(_, head)| format!("{head}."))
}

/// A label for each name, in their order.
pub(super) fn labels(names: &[&str], prefix: &str) -> Vec<String> {
    let short = |name: &str| match name.strip_prefix(prefix) {
        Some(rest) if !rest.is_empty() => rest.to_owned(),
        _ => name.to_owned(),
    };
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    for name in names {
        *counts.entry(short(name)).or_default() += 1;
    }
    let label = |name: &&str| {
        let short = short(name);
        let taken = counts[&short] > 1 || names.contains(&short.as_str());
        if taken { (*name).to_owned() } else { short }
    };
    names.iter().map(label).collect()
}
