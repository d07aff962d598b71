//! How long it takes to walk from one place to another.

/// Shortest times between all places.
#[derive(Clone, Debug, PartialEq)]
pub struct Ways {
    places: usize,
    /// `from * places + to`, s; infinite where there is no way.
    time_s: Vec<f64>,
}

impl Ways {
    /// From the walks of a ship, each in both directions. A ship has few places, so all pairs are worked out at once
    /// (Floyd and Warshall), in an order that does not depend on the file.
    pub fn new(places: usize, walks: &[(usize, usize, f64)]) -> Ways {
        let mut time_s = vec![f64::INFINITY; places * places];
        for place in 0..places {
            time_s[place * places + place] = 0.0;
        }
        for &(from, to, seconds) in walks {
            for way in [from * places + to, to * places + from] {
                time_s[way] = seconds.min(time_s[way]);
            }
        }
        for by in 0..places {
            for from in 0..places {
                for to in 0..places {
                    let round = time_s[from * places + by] + time_s[by * places + to];
                    let way = &mut time_s[from * places + to];
                    *way = round.min(*way);
                }
            }
        }
        Ways { places, time_s }
    }

    /// Walking time, s; `None` where there is no way.
    pub fn seconds(&self, from: usize, to: usize) -> Option<f64> {
        let time_s = *self.time_s.get(from * self.places + to)?;
        time_s.is_finite().then_some(time_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shorter_way_round_is_taken() {
        let ways = Ways::new(4, &[(0, 1, 40.0), (1, 2, 35.0), (0, 2, 100.0)]);
        assert_eq!(ways.seconds(0, 2), Some(75.0));
        assert_eq!(ways.seconds(2, 0), Some(75.0));
        assert_eq!(ways.seconds(1, 1), Some(0.0));
        assert_eq!(ways.seconds(0, 3), None);
    }
}
