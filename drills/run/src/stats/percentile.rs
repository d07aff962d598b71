//! Percentiles.

/// The value below which this share of the values lies, 0 to 1, between two values on a straight line: type 7 of Hyndman
/// and Fan, The American Statistician 50 (1996), 361 to 365. `None` without values, or where one is not a number.
pub fn percentile(values: &[f64], share: f64) -> Option<f64> {
    if values.is_empty() || !(0.0..=1.0).contains(&share) || values.iter().any(|value| value.is_nan()) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let place = (sorted.len() - 1) as f64 * share;
    let below = place.floor() as usize;
    let above = (below + 1).min(sorted.len() - 1);
    Some(sorted[below] + (place - below as f64) * (sorted[above] - sorted[below]))
}

/// The median.
pub fn median(values: &[f64]) -> Option<f64> {
    percentile(values, 0.5)
}
