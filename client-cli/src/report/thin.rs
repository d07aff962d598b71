//! A course of values with fewer points: of each stretch of time its lowest and its highest value stay, and the ends, so that
//! no peak is lost, however short.

/// A value at a tick.
pub(crate) type Point = (u64, f64);

/// Takes a course in order of time, and keeps two points a stretch.
#[derive(Clone, Debug)]
pub(crate) struct Thin {
    /// Ticks in a stretch.
    stretch: u64,
    /// What is kept of the stretches that are over, after the first value of all.
    points: Vec<Point>,
    /// The last value of all, which is kept as well.
    last: Option<Point>,
    /// The stretch that goes on: its number, its lowest and its highest value.
    open: Option<(u64, Point, Point)>,
}

impl Thin {
    /// For a course of so many ticks, of which about so many points shall stay.
    pub(crate) fn new(ticks: u64, points: u64) -> Thin {
        let stretches = (points / 2).max(1);
        Thin { stretch: (ticks + 1).div_ceil(stretches).max(1), points: Vec::new(), last: None, open: None }
    }

    /// The next value. What is no number is left out.
    pub(crate) fn take(&mut self, tick: u64, value: f64) {
        if !value.is_finite() {
            return;
        }
        let (number, point) = (tick / self.stretch, (tick, value));
        if self.last.replace(point).is_none() {
            self.points.push(point);
        }
        match &mut self.open {
            Some((open, lowest, highest)) if *open == number => {
                if value < lowest.1 {
                    *lowest = point;
                }
                if value > highest.1 {
                    *highest = point;
                }
            }
            _ => {
                self.close();
                self.open = Some((number, point, point));
            }
        }
    }

    fn close(&mut self) {
        let Some((_, lowest, highest)) = self.open.take() else { return };
        let (first, then) = if lowest.0 <= highest.0 { (lowest, highest) } else { (highest, lowest) };
        self.keep(first);
        self.keep(then);
    }

    fn keep(&mut self, point: Point) {
        if self.points.last() != Some(&point) {
            self.points.push(point);
        }
    }

    /// What is left, in order of time. In the middle of a value that stays, points say nothing and go.
    pub(crate) fn points(mut self) -> Vec<Point> {
        self.close();
        if let Some(last) = self.last {
            self.keep(last);
        }
        let points = self.points;
        let says = |at: usize| {
            let same = |other: Option<&Point>| other.is_some_and(|other| other.1 == points[at].1);
            !(same(at.checked_sub(1).and_then(|before| points.get(before))) && same(points.get(at + 1)))
        };
        (0..points.len()).filter(|at| says(*at)).map(|at| points[at]).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn thin(values: &[f64], points: u64) -> Vec<Point> {
        let mut thin = Thin::new(values.len() as u64, points);
        (0..).zip(values).for_each(|(tick, value)| thin.take(tick, *value));
        thin.points()
    }

    fn ends(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
        (values.clone().fold(f64::INFINITY, f64::min), values.fold(f64::NEG_INFINITY, f64::max))
    }

    proptest! {
        #[test]
        fn the_lowest_and_the_highest_stay(values in prop::collection::vec(-1e6..1e6f64, 1..3000), most in 2u64..400) {
            let kept = thin(&values, most);
            prop_assert!(kept.len() as u64 <= most + 2);
            prop_assert!(kept.windows(2).all(|two| two[0].0 < two[1].0), "not in order of time");
            prop_assert!(kept.iter().all(|(tick, value)| values[*tick as usize] == *value), "a point was made up");
            prop_assert_eq!(ends(kept.iter().map(|point| point.1)), ends(values.iter().copied()));
        }

        #[test]
        fn a_peak_of_one_tick_stays_where_it_was(length in 100usize..20_000, at in 0usize..100, up in any::<bool>()) {
            let at = at * length / 100;
            let mut values = vec![5.0; length];
            values[at] = if up { 9.0 } else { 1.0 };
            let kept = thin(&values, 50);
            prop_assert!(kept.contains(&(at as u64, values[at])));
        }
    }

    #[test]
    fn what_stays_needs_two_points_and_what_is_no_number_none() {
        assert_eq!(thin(&[3.0; 1000], 100), [(0, 3.0), (999, 3.0)]);
        assert_eq!(thin(&[f64::NAN, f64::INFINITY], 100), []);
        assert_eq!(thin(&[], 100), []);
    }
}
