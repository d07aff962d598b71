//! From wall time to ticks due.

use std::time::{Duration, Instant};

/// Ticks in a second at speed 1.
const TICKS_PER_SECOND: f64 = 1.0 / deadship_plant::TICK_S;

/// Most ticks in one turn: people's orders are looked at between turns.
pub(super) const MOST_TICKS: u64 = 40;

/// Shortest time between two turns, so that fast runs do not turn for every tick.
const SHORTEST_TURN: Duration = Duration::from_millis(5);

/// Over how long the reached speed is measured.
const WINDOW: Duration = Duration::from_secs(3);

/// Below this share of the wanted speed a run is said to be slow.
const SLOW: f64 = 0.9;

/// How many ticks are due.
#[derive(Debug)]
pub(super) struct Pace {
    /// Wanted ticks a second; 0 while the run does not go.
    rate: f64,
    last: Instant,
    owed: f64,
    window_start: Instant,
    window_ticks: u64,
    /// Speed reached, while it is below what is wanted.
    reached: Option<f64>,
}

impl Pace {
    pub(super) fn new(now: Instant) -> Pace {
        Pace { rate: 0.0, last: now, owed: 0.0, window_start: now, window_ticks: 0, reached: None }
    }

    /// Sets the speed against the clock; 0: the run does not go. What is owed from before is forgotten when it changes.
    pub(super) fn set(&mut self, speed: f64, now: Instant) {
        let rate = speed * TICKS_PER_SECOND;
        if rate != self.rate {
            *self = Pace { rate, ..Pace::new(now) };
        }
    }

    /// Whole ticks due now; they count as done. A run that is further behind than one turn lets the rest go: its clock
    /// is slow then, rather than its answers.
    pub(super) fn due(&mut self, now: Instant) -> u64 {
        let elapsed = now.saturating_duration_since(self.last).as_secs_f64();
        self.last = now;
        self.owed += elapsed * self.rate;
        let due = (self.owed.floor() as u64).min(MOST_TICKS);
        self.owed = (self.owed - due as f64).min(MOST_TICKS as f64);
        // Those of the turn before, less what was not done of them: this turn is yet to be done.
        self.measure(now);
        self.window_ticks += due;
        due
    }

    /// Ticks that were due and not done after all.
    pub(super) fn not_done(&mut self, ticks: u64) {
        self.owed = (self.owed + ticks as f64).min(MOST_TICKS as f64);
        self.window_ticks -= ticks.min(self.window_ticks);
    }

    fn measure(&mut self, now: Instant) {
        let elapsed = now.saturating_duration_since(self.window_start);
        if elapsed < WINDOW || self.rate <= 0.0 {
            return;
        }
        let reached = self.window_ticks as f64 / elapsed.as_secs_f64();
        // One decimal: a figure for people that does not flicker.
        let speed = (reached / TICKS_PER_SECOND * 10.0).round() / 10.0;
        self.reached = (reached < SLOW * self.rate).then_some(speed);
        self.window_start = now;
        self.window_ticks = 0;
    }

    /// The speed that is reached, if it is below what is wanted.
    pub(super) fn reached(&self) -> Option<f64> {
        self.reached
    }

    /// Ship's time of whole ticks that are due and not yet done, s.
    pub(super) fn behind_s(&self) -> f64 {
        self.owed.floor() * deadship_plant::TICK_S
    }

    /// How long until the next turn; `None` while the run does not go.
    pub(super) fn wait(&self) -> Option<Duration> {
        if self.rate <= 0.0 {
            return None;
        }
        let missing = (1.0 - self.owed).max(0.0) / self.rate;
        Some(Duration::from_secs_f64(missing).max(SHORTEST_TURN))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_follow_the_clock_times_the_speed() {
        let start = Instant::now();
        let mut pace = Pace::new(start);
        assert_eq!(pace.wait(), None);
        pace.set(2.0, start);
        let mut ticks = 0;
        for turn in 1..=100 {
            ticks += pace.due(start + Duration::from_millis(turn * 10));
        }
        assert_eq!(ticks, 40);
        assert_eq!(pace.reached(), None);
    }

    #[test]
    fn what_was_not_done_is_owed_and_makes_it_slow() {
        let start = Instant::now();
        let mut pace = Pace::new(start);
        pace.set(1.0, start);
        assert_eq!(pace.due(start + Duration::from_secs(1)), 20);
        assert_eq!(pace.behind_s(), 0.0);
        pace.not_done(15);
        assert_eq!(pace.behind_s(), 15.0 * deadship_plant::TICK_S);
        assert_eq!(pace.due(start + Duration::from_secs(1)), 15);
        for second in 2..=8 {
            let due = pace.due(start + Duration::from_secs(second));
            pace.not_done(due - 5);
        }
        assert_eq!(pace.reached(), Some(0.3));
    }

    #[test]
    fn a_run_that_cannot_keep_up_slows_its_clock_and_says_so() {
        let start = Instant::now();
        let mut pace = Pace::new(start);
        pace.set(10.0, start);
        // A turn every second at most: 40 ticks instead of 200.
        let ticks: u64 = (1..=6).map(|turn| pace.due(start + Duration::from_secs(turn))).sum();
        assert_eq!(ticks, 6 * MOST_TICKS);
        assert_eq!(pace.reached(), Some(2.0));
        // Back in step: within a window the notice is gone.
        for turn in 1..=400 {
            pace.due(start + Duration::from_secs(6) + Duration::from_millis(turn * 10));
        }
        assert_eq!(pace.reached(), None);
    }
}
