//! The few statistics that reports use: agreement of two raters, percentiles, the interval of a share. Checked against
//! scikit-learn, NumPy and SciPy (`reference`, recomputed by `tests/references/recompute.py`).

mod kappa;
mod percentile;
mod wilson;

#[cfg(test)]
mod tests;

pub use kappa::{Agreement, Weighting, agreement};
pub use percentile::{median, percentile};
pub use wilson::wilson;
