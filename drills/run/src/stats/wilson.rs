//! Between which shares the true one lies.

/// The 97.5th percentile of the normal distribution: an interval of 95 %.
const Z: f64 = 1.959_963_984_540_054;

/// Wilson's interval of 95 % for a share, from 0 to 1 (Wilson, Journal of the American Statistical Association 22 (1927),
/// 209 to 212): it stays within 0 and 1 and holds for few items. `None` without items, or with more successes than items.
pub fn wilson(successes: u64, items: u64) -> Option<(f64, f64)> {
    if items == 0 || successes > items {
        return None;
    }
    let (count, share) = (items as f64, successes as f64 / items as f64);
    let scale = 1.0 + Z * Z / count;
    let middle = (share + Z * Z / (2.0 * count)) / scale;
    let half = Z * (share * (1.0 - share) / count + Z * Z / (4.0 * count * count)).sqrt() / scale;
    // Exactly 0 and 1 at the ends, where rounding would miss them.
    let low = if successes == 0 { 0.0 } else { middle - half };
    let high = if successes == items { 1.0 } else { middle + half };
    Some((low, high))
}
