//! The life of alerts, by IEC 62682: raised and acknowledged are two things. Acknowledging resets nothing in the plant.

use serde::{Deserialize, Serialize};

/// Where an alert is in its life.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AlertState {
    /// Nothing is the matter.
    #[default]
    Normal,
    /// Raised, nobody has acknowledged it.
    Unacknowledged,
    /// Raised and acknowledged.
    Acknowledged,
    /// Its condition is gone, nobody has acknowledged it.
    Returned,
}

/// One alert.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct AlertLife {
    /// Where it is in its life.
    pub state: AlertState,
    /// Shelved: suppressed by someone, not shown and not sounding, while its life goes on.
    pub shelved: bool,
    /// Number of its last occurrence, 0 before the first.
    pub occurrence: u64,
    /// Tick at which that was raised.
    pub raised_tick: u64,
    /// Does it sound? Until silenced or acknowledged.
    pub sounding: bool,
}

impl AlertLife {
    /// Its condition became true.
    pub fn raise(&mut self, occurrence: u64, tick: u64) {
        let shelved = self.shelved;
        *self = AlertLife {
            state: AlertState::Unacknowledged,
            shelved,
            occurrence,
            raised_tick: tick,
            sounding: !shelved,
        };
    }

    /// Its condition became false.
    pub fn clear(&mut self) {
        self.state = match self.state {
            AlertState::Unacknowledged | AlertState::Returned => AlertState::Returned,
            AlertState::Acknowledged | AlertState::Normal => AlertState::Normal,
        };
    }

    /// Someone acknowledged it.
    pub fn acknowledge(&mut self) {
        self.sounding = false;
        self.state = match self.state {
            AlertState::Unacknowledged | AlertState::Acknowledged => AlertState::Acknowledged,
            AlertState::Returned | AlertState::Normal => AlertState::Normal,
        };
    }

    /// Does it wait to be acknowledged?
    pub fn waits(&self) -> bool {
        !self.shelved && matches!(self.state, AlertState::Unacknowledged | AlertState::Returned)
    }

    /// Does it stand on the list?
    pub fn listed(&self) -> bool {
        !self.shelved && self.state != AlertState::Normal
    }

    /// The word for people: `raised, unacknowledged`.
    pub fn word(&self) -> &'static str {
        match (self.shelved, self.state) {
            (true, _) => "suppressed",
            (_, AlertState::Normal) => "normal",
            (_, AlertState::Unacknowledged) => "raised, unacknowledged",
            (_, AlertState::Acknowledged) => "raised, acknowledged",
            (_, AlertState::Returned) => "returned, unacknowledged",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_alert_leaves_the_list_when_it_is_both_gone_and_acknowledged() {
        let mut alert = AlertLife::default();
        alert.raise(1, 10);
        alert.clear();
        assert_eq!((alert.state, alert.waits()), (AlertState::Returned, true));
        alert.acknowledge();
        assert_eq!((alert.state, alert.listed()), (AlertState::Normal, false));
        alert.raise(2, 20);
        alert.acknowledge();
        assert_eq!((alert.state, alert.waits(), alert.sounding), (AlertState::Acknowledged, false, false));
        alert.clear();
        assert_eq!(alert.state, AlertState::Normal);
    }

    #[test]
    fn a_shelved_alert_is_silent_but_lives_on() {
        let mut alert = AlertLife { shelved: true, ..AlertLife::default() };
        alert.raise(1, 10);
        assert!(!alert.sounding && !alert.listed() && !alert.waits());
        alert.shelved = false;
        assert!(alert.waits());
    }
}
