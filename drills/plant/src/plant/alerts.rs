//! Conditions of alerts: whether each is true now, and since when.

use super::Plant;
use crate::TICK_S;
use crate::ctx::{CONTROLS_LOST_V, Finding, Found};
use crate::spec::{AlertSpec, Beyond};

/// What the watch of an alert needs in every tick, without what people read of it.
pub(crate) struct AlertWatch {
    /// Flat index of the reading watched.
    reading: usize,
    /// Flat index of the reading while which it is watched; `usize::MAX` when always.
    only_while: usize,
    after_s: f64,
    when: Beyond,
    limit: f64,
    hysteresis: f64,
    delay_s: f64,
    own_supply: bool,
}

impl AlertWatch {
    pub(crate) fn new(alert: &AlertSpec, flat: impl Fn((usize, usize)) -> usize) -> AlertWatch {
        AlertWatch {
            reading: flat(alert.reading),
            only_while: alert.only_while.map_or(usize::MAX, &flat),
            after_s: alert.after_s,
            when: alert.when,
            limit: alert.limit,
            hysteresis: alert.hysteresis,
            delay_s: alert.delay_s,
            own_supply: alert.own_supply,
        }
    }

    /// Is the reading beyond the limit, or, while the alert is on, not yet back by the hysteresis?
    fn beyond(&self, value: f64, on: bool) -> bool {
        let back = if on { self.hysteresis } else { 0.0 };
        match self.when {
            Beyond::Below => value < self.limit + back,
            Beyond::Above => value > self.limit - back,
        }
    }
}

impl Plant {
    pub(super) fn watch_alerts(&mut self) {
        let powered = self.alarm_system_lives();
        let Plant { compiled, published, alert_timer_s, alert_gate_s, alert_on, outbox, tick, .. } = self;
        let states = alert_timer_s.iter_mut().zip(alert_gate_s).zip(alert_on);
        for (i, (watch, ((timer_s, gate_s), on))) in compiled.alert_watches.iter().zip(states).enumerate() {
            if !powered && !watch.own_supply {
                *timer_s = 0.0;
                continue;
            }
            let mut gated = false;
            if watch.only_while != usize::MAX {
                *gate_s = if published[watch.only_while] > 0.5 { *gate_s + TICK_S } else { 0.0 };
                gated = *gate_s <= watch.after_s;
            }
            let value = published[watch.reading];
            let beyond = !gated && watch.beyond(value, *on);
            *timer_s = if beyond { *timer_s + TICK_S } else { 0.0 };
            let now = if *on { beyond } else { beyond && *timer_s >= watch.delay_s };
            if now != *on {
                *on = now;
                let what = if now { Found::AlertOn(i) } else { Found::AlertOff(i) };
                let since_tick = *tick - ((*timer_s / TICK_S) as u64).min(*tick);
                let (tick, measured, limit) = (*tick, value, watch.limit);
                outbox.findings.push(Finding { tick, what, measured, limit, since_tick });
            }
        }
    }

    /// Has the alarm system power? Without it no alert comes or goes but those with a supply of their own.
    pub fn alarm_system_lives(&self) -> bool {
        let node = self.compiled.spec.alarm_supply.map(|node| self.compiled.node_index[node]);
        node.is_none_or(|node| self.nets.dc_v[node] >= CONTROLS_LOST_V)
    }

    /// Does the design of the ship suppress an alert by what its reading is now? Always as it was while the alarm
    /// system has no power: `None`.
    pub fn alert_suppressed(&self, alert: usize) -> Option<bool> {
        let spec = &self.compiled.spec.alerts[alert];
        let Some(suppression) = &spec.suppressed else { return Some(false) };
        if !spec.own_supply && !self.alarm_system_lives() {
            return None;
        }
        let (component, reading) = suppression.reading;
        let value = self.reading(component, reading);
        Some(match suppression.when {
            Beyond::Below => value < suppression.limit,
            Beyond::Above => value > suppression.limit,
        })
    }

    /// Is an alert's condition true now?
    pub fn alert_on(&self, alert: usize) -> bool {
        self.alert_on[alert]
    }
}
