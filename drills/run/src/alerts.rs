//! The life of alerts, by IEC 62682: raised and acknowledged are two things. Acknowledging resets nothing in the plant.
//!
//! An alert can be hidden: shelved by someone for a time, or suppressed by the design of the ship while its cause is
//! plain anyway. Its life goes on unseen, so that it comes up as it is when it is hidden no more.

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
    /// Shelved by someone: not shown and not sounding, while its life goes on.
    pub shelved: bool,
    /// Tick at which it is shelved no more; `None`: when someone says so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shelved_until: Option<u64>,
    /// Suppressed by design: hidden like a shelved one.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub suppressed: bool,
    /// Tick at which that ends, once what suppresses it has gone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub suppressed_until: Option<u64>,
    /// Was it raised while suppressed by design? Nobody has seen it; when it clears meanwhile there is nothing to tell.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub quiet: bool,
    /// Was it the first of its group?
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub first_out: bool,
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
        self.quiet = self.suppressed && self.state == AlertState::Normal;
        self.state = AlertState::Unacknowledged;
        (self.occurrence, self.raised_tick) = (occurrence, tick);
        self.sounding = !self.hidden();
    }

    /// Its condition became false.
    pub fn clear(&mut self) {
        self.state = match self.state {
            _ if self.quiet => AlertState::Normal,
            AlertState::Unacknowledged | AlertState::Returned => AlertState::Returned,
            AlertState::Acknowledged | AlertState::Normal => AlertState::Normal,
        };
        self.quiet = false;
    }

    /// Someone acknowledged it.
    pub fn acknowledge(&mut self) {
        self.sounding = false;
        self.state = match self.state {
            AlertState::Unacknowledged | AlertState::Acknowledged => AlertState::Acknowledged,
            AlertState::Returned | AlertState::Normal => AlertState::Normal,
        };
    }

    /// Someone shelved it, until a tick or until someone says so.
    pub fn shelve(&mut self, until_tick: Option<u64>) {
        (self.shelved, self.shelved_until, self.sounding) = (true, until_tick, false);
    }

    /// It is shelved no more.
    pub fn unshelve(&mut self) {
        (self.shelved, self.shelved_until) = (false, None);
        self.sound_again();
    }

    /// Time passes: is it shelved no more?
    pub fn shelving_ends(&mut self, tick: u64) -> bool {
        let ends = self.shelved && self.shelved_until.is_some_and(|until| tick >= until);
        if ends {
            self.unshelve();
        }
        ends
    }

    /// Does what suppresses it by design hold now? It stays suppressed for some ticks after. Gives what changed.
    pub fn suppress(&mut self, holds: bool, for_ticks: u64, tick: u64) -> Option<bool> {
        let before = self.suppressed;
        if holds {
            (self.suppressed, self.suppressed_until, self.sounding) = (true, None, false);
        } else if before {
            let until = *self.suppressed_until.get_or_insert(tick + for_ticks);
            if tick >= until {
                (self.suppressed, self.suppressed_until, self.quiet) = (false, None, false);
                self.sound_again();
            }
        }
        (self.suppressed != before).then_some(self.suppressed)
    }

    fn sound_again(&mut self) {
        self.sounding = !self.hidden() && self.state == AlertState::Unacknowledged;
    }

    /// Is it kept from the list, by someone or by design?
    pub fn hidden(&self) -> bool {
        self.shelved || self.suppressed
    }

    /// Does its condition stand?
    pub fn raised(&self) -> bool {
        matches!(self.state, AlertState::Unacknowledged | AlertState::Acknowledged)
    }

    /// Does it wait to be acknowledged?
    pub fn waits(&self) -> bool {
        !self.hidden() && matches!(self.state, AlertState::Unacknowledged | AlertState::Returned)
    }

    /// Does it stand on the list?
    pub fn listed(&self) -> bool {
        !self.hidden() && self.state != AlertState::Normal
    }

    /// The word for people: `raised, unacknowledged`.
    pub fn word(&self) -> &'static str {
        match (self.hidden(), self.state) {
            (true, _) if self.shelved => "shelved",
            (true, _) => "suppressed by design",
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
    use proptest::prelude::*;

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

    #[test]
    fn shelving_ends_by_itself_and_the_alert_sounds_again() {
        let mut alert = AlertLife::default();
        alert.raise(1, 10);
        alert.shelve(Some(50));
        assert!(!alert.shelving_ends(49) && alert.hidden());
        assert!(alert.shelving_ends(50) && alert.waits() && alert.sounding);
        assert!(!alert.shelving_ends(51), "it ends once");
    }

    #[test]
    fn suppression_stays_for_a_while_after_its_cause() {
        let mut alert = AlertLife::default();
        assert_eq!(alert.suppress(false, 20, 1), None);
        assert_eq!(alert.suppress(true, 20, 2), Some(true));
        alert.raise(1, 3);
        assert!(alert.hidden() && !alert.sounding && !alert.waits());
        assert_eq!(alert.suppress(false, 20, 10), None);
        assert_eq!(alert.suppress(true, 20, 20), None, "it comes back: the time begins anew");
        assert_eq!(alert.suppress(false, 20, 30), None);
        assert_eq!(alert.suppress(false, 20, 49), None);
        assert_eq!(alert.suppress(false, 20, 50), Some(false));
        assert!(alert.waits() && alert.sounding);
    }

    #[test]
    fn what_comes_and_goes_while_suppressed_leaves_nothing_to_acknowledge() {
        let mut alert = AlertLife::default();
        alert.suppress(true, 0, 1);
        alert.raise(1, 2);
        alert.clear();
        assert_eq!(alert.suppress(false, 0, 3), Some(false));
        assert_eq!(alert.state, AlertState::Normal);
        alert.raise(2, 4);
        alert.suppress(true, 0, 5);
        alert.clear();
        alert.suppress(false, 0, 6);
        assert_eq!(alert.state, AlertState::Returned, "this one was seen, and still waits");
    }

    /// What can happen to an alert.
    #[derive(Clone, Copy, Debug)]
    enum Happens {
        Raise,
        Clear,
        Acknowledge,
        Shelve(u64),
        Unshelve,
        Blackout(bool),
        Time(u64),
    }

    fn happens() -> impl Strategy<Value = Happens> {
        prop_oneof![
            3 => Just(Happens::Raise),
            2 => Just(Happens::Clear),
            2 => Just(Happens::Acknowledge),
            1 => (1u64..200).prop_map(Happens::Shelve),
            1 => Just(Happens::Unshelve),
            2 => any::<bool>().prop_map(Happens::Blackout),
            2 => (1u64..100).prop_map(Happens::Time),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn no_alert_is_lost(course in prop::collection::vec(happens(), 0..80)) {
            let mut alert = AlertLife::default();
            // What is so besides: the condition, whether it waits for someone, whether nobody was to see it yet.
            let (mut on, mut unseen, mut quiet) = (false, false, false);
            let (mut dead, mut tick, mut occurrence) = (false, 0, 0);
            for what in course {
                match what {
                    Happens::Raise if !on => {
                        quiet = alert.suppressed && !unseen;
                        (on, unseen, occurrence) = (true, !quiet, occurrence + 1);
                        alert.raise(occurrence, tick);
                    }
                    Happens::Clear if on => {
                        (on, quiet) = (false, false);
                        alert.clear();
                    }
                    // As the rules have it: only what waits can be acknowledged.
                    Happens::Acknowledge if alert.waits() => {
                        unseen = false;
                        alert.acknowledge();
                    }
                    Happens::Shelve(time) if !alert.shelved => alert.shelve(Some(tick + time)),
                    Happens::Unshelve if alert.shelved => alert.unshelve(),
                    Happens::Blackout(is) => dead = is,
                    Happens::Time(time) => tick += time,
                    _ => {}
                }
                alert.shelving_ends(tick);
                if alert.suppress(dead, 30, tick) == Some(false) && quiet {
                    (unseen, quiet) = (true, false);
                }
                prop_assert_eq!(alert.raised(), on);
                let known = alert.listed() || alert.shelved || alert.suppressed;
                prop_assert!(known || !(on || unseen), "lost after {:?}: {:?}", what, alert);
                prop_assert!(!alert.hidden() || !alert.sounding, "hidden, and sounds: {:?}", alert);
                prop_assert!(alert.shelved_until.is_none_or(|until| alert.shelved && until > tick));
            }
            // Left alone long enough, nothing is hidden any more.
            alert.shelving_ends(tick + 1000);
            alert.suppress(false, 30, tick + 1000);
            alert.suppress(false, 30, tick + 2000);
            unseen |= quiet;
            prop_assert_eq!(alert.listed(), on || unseen);
            prop_assert_eq!(alert.waits(), unseen);
        }
    }
}
