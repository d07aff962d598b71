//! The course of chosen readings.

use crate::screen::colours::{Ink, Palette};
use crate::screen::model::Model;
use crate::screen::parts::{About, Row};
use crate::screen::text::{clock, fit};
use std::collections::VecDeque;

/// Eight heights of one cell.
const HEIGHTS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// All trends, each as a strip with its range.
pub(crate) fn rows(model: &Model, palette: Palette, wide: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    if model.trends.is_empty() {
        let text = "no trends yet: choose a component in its list, → to its readings, and press Space on one; or type \
                    `trend NAME`";
        return Row::text(palette, Ink::Plain, text, wide);
    }
    for (name, points) in &model.trends {
        let now = model.readings.get(name).map_or("not seen from here", String::as_str);
        let head = [(Ink::Strong, fit(name, wide.saturating_sub(24).max(10))), (Ink::Plain, now.to_owned())];
        let head: Vec<(Ink, &str)> = head.iter().map(|(ink, text)| (*ink, text.as_str())).collect();
        rows.push(Row::new(palette, About::Reading(name.clone()), &head));
        let Some((low, high)) = range(points) else { continue };
        let chart = strip(points, low, high, wide.saturating_sub(2));
        rows.push(Row::new(palette, About::Nothing, &[(Ink::FreshWater, &chart)]));
        let from = points.front().map_or(0, |point| point.0);
        let about = format!("{} to {}, lowest {low}, highest {high}", clock(from), clock(model.tick));
        rows.push(Row::new(palette, About::Nothing, &[(Ink::Faint, &about)]));
    }
    rows
}

fn range(points: &VecDeque<(u64, f64)>) -> Option<(f64, f64)> {
    let values = || points.iter().map(|point| point.1);
    (!points.is_empty()).then(|| (values().fold(f64::MAX, f64::min), values().fold(f64::MIN, f64::max)))
}

/// Time from left to right over the whole course; a cell shows the highest value of its share.
pub(crate) fn strip(points: &VecDeque<(u64, f64)>, low: f64, high: f64, wide: usize) -> String {
    let (Some(first), Some(last)) = (points.front(), points.back()) else { return String::new() };
    let span = (last.0 - first.0).max(1);
    let mut cells: Vec<Option<f64>> = vec![None; wide.max(1)];
    for (tick, value) in points {
        let cell = ((tick - first.0) as u128 * (cells.len() as u128 - 1) / u128::from(span)) as usize;
        cells[cell] = Some(cells[cell].map_or(*value, |known| known.max(*value)));
    }
    let mut shown = ' ';
    let height = |value: f64| {
        let share = if high > low { (value - low) / (high - low) } else { 0.5 };
        HEIGHTS[((share * 7.0).round() as usize).min(7)]
    };
    // A cell without a point of its own goes on with the last one.
    cells
        .into_iter()
        .map(|cell| {
            shown = cell.map_or(shown, height);
            shown
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_course_goes_from_low_to_high() {
        let points: VecDeque<(u64, f64)> = (0..8).map(|i| (i * 10, i as f64)).collect();
        assert_eq!(strip(&points, 0.0, 7.0, 8), "▁▂▃▄▅▆▇█");
        assert_eq!(strip(&points, 0.0, 7.0, 4).chars().count(), 4);
        let flat: VecDeque<(u64, f64)> = [(0, 3.0), (10, 3.0)].into();
        assert_eq!(strip(&flat, 3.0, 3.0, 3), "▅▅▅");
    }
}
