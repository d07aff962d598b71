//! Elimination of sparse systems whose pattern is symmetric and never changes.
//!
//! Circuits of pipes are nearly trees, so a dense elimination mostly multiplies by zero. The pattern is known when a
//! plant is compiled: unknowns are put in an order of least fill (at each step the one with the fewest neighbours,
//! ties by index: Tinney and Walker, Proc. IEEE 55 (1967), their second scheme), and for each unknown the later
//! ones that it meets are listed, fill included. Only numbers of places that meet are kept: the diagonal, then what
//! stands right of it, then, in the same order, what stands below it.

/// Pattern of one system.
#[derive(Clone, Debug, Default)]
pub struct Pattern {
    /// Unknown of the caller at each place of the elimination.
    pub order: Vec<usize>,
    /// Places after `k` that place `k` meets: `later[starts[k]..starts[k + 1]]`.
    later: Vec<u32>,
    starts: Vec<u32>,
    /// Slots that the elimination of each place changes, in the order in which it comes to them.
    changed: Vec<u32>,
}

impl Pattern {
    /// Pattern of `n` unknowns that meet as these pairs say.
    pub fn new(n: usize, pairs: impl Iterator<Item = (usize, usize)>) -> Pattern {
        let mut meets = vec![false; n * n];
        for (a, b) in pairs.filter(|(a, b)| a != b) {
            meets[a * n + b] = true;
            meets[b * n + a] = true;
        }
        let mut left: Vec<usize> = (0..n).collect();
        let mut order = Vec::with_capacity(n);
        let mut neighbours = Vec::with_capacity(n);
        while let Some(next) =
            left.iter().copied().min_by_key(|&a| (left.iter().filter(|&&b| meets[a * n + b]).count(), a))
        {
            left.retain(|&a| a != next);
            let around: Vec<usize> = left.iter().copied().filter(|&b| meets[next * n + b]).collect();
            for &a in &around {
                for &b in &around {
                    meets[a * n + b] |= a != b;
                }
            }
            order.push(next);
            neighbours.push(around);
        }
        let mut place = vec![0; n];
        for (k, &unknown) in order.iter().enumerate() {
            place[unknown] = k;
        }
        let mut pattern = Pattern { order, later: Vec::new(), starts: vec![0], changed: Vec::new() };
        for around in neighbours {
            let mut places: Vec<u32> = around.into_iter().map(|a| place[a] as u32).collect();
            places.sort_unstable();
            pattern.later.extend(places);
            pattern.starts.push(pattern.later.len() as u32);
        }
        pattern.changed = pattern.find_changed();
        pattern
    }

    fn find_changed(&self) -> Vec<u32> {
        let mut changed = Vec::new();
        for k in 0..self.len() {
            for &i in self.after(k) {
                changed.extend(self.after(k).iter().map(|&j| self.slot(i as usize, j as usize) as u32));
            }
        }
        changed
    }

    /// Number of unknowns.
    fn len(&self) -> usize {
        self.order.len()
    }

    /// Number of slots of a matrix.
    pub fn slots(&self) -> usize {
        self.len() + 2 * self.later.len()
    }

    fn after(&self, k: usize) -> &[u32] {
        &self.later[self.range(k)]
    }

    fn range(&self, k: usize) -> std::ops::Range<usize> {
        self.starts[k] as usize..self.starts[k + 1] as usize
    }

    /// Where the number of place `i`'s equation for place `j` stands. The two must meet: to be asked when a plant is
    /// compiled, not while it is stepped.
    pub fn slot(&self, i: usize, j: usize) -> usize {
        if i == j {
            return i;
        }
        let (first, last) = (i.min(j), i.max(j));
        let met = self.after(first).iter().position(|&place| place as usize == last);
        let Some(met) = met else { unreachable!("places {i} and {j} do not meet") };
        let above = self.len() + self.starts[first] as usize + met;
        if i < j { above } else { above + self.later.len() }
    }

    /// Sets all slots to zero.
    pub fn clear(&self, matrix: &mut [f64]) {
        matrix[..self.slots()].fill(0.0);
    }

    /// Solves `matrix x = right` in place, both in the order of elimination, without pivoting: the matrices here are
    /// diagonally dominant.
    pub fn solve(&self, matrix: &mut [f64], right: &mut [f64]) {
        let (n, m) = (self.len(), self.later.len());
        let (matrix, right) = (&mut matrix[..n + 2 * m], &mut right[..n]);
        let mut changed = &self.changed[..];
        for k in 0..n {
            let range = self.range(k);
            let (over_pivot, pivot_right) = (1.0 / matrix[k], right[k]);
            for (at, &i) in range.clone().zip(&self.later[range.clone()]) {
                let slots;
                (slots, changed) = changed.split_at(range.len());
                let factor = matrix[n + m + at] * over_pivot;
                if factor == 0.0 {
                    continue;
                }
                for (other, &slot) in (n + range.start..).zip(slots) {
                    matrix[slot as usize] -= factor * matrix[other];
                }
                right[i as usize] -= factor * pivot_right;
            }
        }
        let (diagonal, above) = matrix.split_at(n);
        for k in (0..n).rev() {
            let range = self.range(k);
            let mut sum = right[k];
            for (&j, number) in self.later[range.clone()].iter().zip(&above[range]) {
                sum -= number * right[j as usize];
            }
            right[k] = sum / diagonal[k];
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// A random pattern with dominant diagonals: the answer, put back into the equations, satisfies them.
        #[test]
        fn answers_satisfy_the_equations(
            n in 1usize..12,
            pairs in prop::collection::vec((0usize..12, 0usize..12, -1.0f64..1.0, -1.0f64..1.0), 0..30),
            right in prop::collection::vec(-10.0f64..10.0, 12),
        ) {
            let pairs: Vec<_> = pairs.into_iter().map(|(a, b, x, y)| (a % n, b % n, x, y)).collect();
            let pattern = Pattern::new(n, pairs.iter().map(|&(a, b, ..)| (a, b)));
            let mut place = vec![0; n];
            for (k, &unknown) in pattern.order.iter().enumerate() {
                place[unknown] = k;
            }
            let mut matrix = vec![f64::NAN; pattern.slots()];
            pattern.clear(&mut matrix);
            let mut dense = vec![0.0; n * n];
            for i in 0..n {
                dense[i * n + i] = 40.0;
            }
            for &(a, b, x, y) in pairs.iter().filter(|(a, b, ..)| a != b) {
                dense[a * n + b] += x;
                dense[b * n + a] += y;
            }
            for a in 0..n {
                for b in 0..n {
                    if dense[a * n + b] != 0.0 {
                        matrix[pattern.slot(place[a], place[b])] = dense[a * n + b];
                    }
                }
            }
            let mut x: Vec<f64> = pattern.order.iter().map(|&unknown| right[unknown]).collect();
            pattern.solve(&mut matrix, &mut x);
            for a in 0..n {
                let sum: f64 = (0..n).map(|b| dense[a * n + b] * x[place[b]]).sum();
                prop_assert!((sum - right[a]).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn chain_has_no_fill() {
        let pattern = Pattern::new(50, (0..49).map(|i| (i, i + 1)));
        assert_eq!(pattern.later.len(), 49);
    }
}
