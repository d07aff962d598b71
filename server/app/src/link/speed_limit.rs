//! How many lines a client may send.

use deadship_protocol::{BURST_LINES, LINES_PER_SECOND};
use std::time::Instant;

/// A bucket of permits that fills again with time.
#[derive(Debug)]
pub(super) struct SpeedLimit {
    permits: f64,
    at: Instant,
}

impl SpeedLimit {
    /// Full.
    pub(super) fn new(now: Instant) -> SpeedLimit {
        SpeedLimit { permits: f64::from(BURST_LINES), at: now }
    }

    /// Takes a permit, if there is one.
    pub(super) fn take(&mut self, now: Instant) -> bool {
        let more = now.saturating_duration_since(self.at).as_secs_f64() * f64::from(LINES_PER_SECOND);
        self.permits = (self.permits + more).min(f64::from(BURST_LINES));
        self.at = now;
        let may = self.permits >= 1.0;
        if may {
            self.permits -= 1.0;
        }
        may
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn a_burst_is_taken_then_the_rate_holds() {
        let start = Instant::now();
        let mut limit = SpeedLimit::new(start);
        assert_eq!((0..100).filter(|_| limit.take(start)).count(), BURST_LINES as usize);
        let later = start + Duration::from_secs(1);
        assert_eq!((0..100).filter(|_| limit.take(later)).count(), LINES_PER_SECOND as usize);
    }
}
