//! How many alerts people had to look at, held against what is known of alarm systems.

use super::recovery::{at, seconds};
use super::types::{AlertLoad, AlertSpan, Measure, Reached};
use crate::annunciation::{FLOOD_ABOVE, FLOOD_TICKS};
use crate::envelope::Envelope;
use crate::event::Event;
use crate::timeline::length;
use deadship_plant::spec::Priority;
use std::collections::BTreeMap;

/// Ticks after which an alert counts as standing. In a plant that runs for weeks it is a day; drills are short (common
/// practice, no source).
const STANDING_TICKS: u64 = 12_000;
/// An alert that comes so often…
const CHATTER_TIMES: usize = 3;
/// …in so many ticks chatters (EEMUA 191, from memory).
const CHATTER_TICKS: u64 = 1_200;

/// An occurrence of an alert.
struct Life {
    span: AlertSpan,
    priority: Priority,
    is_open: bool,
    acknowledged: Option<(u64, u64)>,
}

/// What is kept while folding.
#[derive(Default)]
struct Fold {
    lives: BTreeMap<u64, Life>,
    floods: Vec<(u64, Option<u64>, u64)>,
    end: u64,
}

/// The load.
pub(super) fn measure(log: &[Envelope]) -> AlertLoad {
    let mut fold = Fold { end: log.last().map_or(0, |last| last.tick), ..Fold::default() };
    log.iter().for_each(|envelope| fold.take(envelope));
    fold.close()
}

impl Fold {
    fn take(&mut self, envelope: &Envelope) {
        let (tick, seq) = (envelope.tick, envelope.seq);
        match &envelope.event {
            Event::AlertRaised { alert, occurrence, priority, text, hidden: None, .. }
            | Event::SuppressionEnded { alert, occurrence, priority, text, raised: true } => {
                let span = AlertSpan {
                    alert: alert.clone(),
                    text: text.clone(),
                    seq,
                    from_tick: tick,
                    to_tick: self.end,
                };
                let life = Life { span, priority: *priority, is_open: true, acknowledged: None };
                let end = self.end;
                let shown_again = |life: &mut Life| (life.span.to_tick, life.is_open) = (end, true);
                self.lives.entry(*occurrence).and_modify(shown_again).or_insert(life);
            }
            // From then on nobody sees it.
            Event::AlertCleared { occurrence, .. } | Event::SuppressionBegan { occurrence, .. } => {
                // One that clears while it is suppressed has not been seen until then.
                if let Some(life) = self.lives.get_mut(occurrence).filter(|life| life.is_open) {
                    (life.span.to_tick, life.is_open) = (tick, false);
                }
            }
            Event::Acknowledged { occurrence, .. } => {
                if let Some(life) = self.lives.get_mut(occurrence) {
                    life.acknowledged.get_or_insert((tick, seq));
                }
            }
            Event::FloodBegan { .. } => self.floods.push((tick, None, seq)),
            Event::FloodEnded { .. } => {
                if let Some(flood) = self.floods.last_mut() {
                    flood.1 = Some(tick);
                }
            }
            _ => {}
        }
    }

    /// Those that came after the start, in order of time.
    fn after_start(&self) -> Vec<&Life> {
        let mut new: Vec<&Life> = self.lives.values().filter(|life| life.span.from_tick > 0).collect();
        new.sort_by_key(|life| (life.span.from_tick, life.span.seq));
        new
    }

    fn close(self) -> AlertLoad {
        let new = self.after_start();
        let mut figures = vec![self.average(&new), self.peak(&new), self.flood()];
        let standing: Vec<AlertSpan> = self.standing();
        let chattering = chattering(&new);
        let count =
            |name: &str, title: &str, definition: &str, reference: &str, spans: &[AlertSpan]| Measure {
                value: Some(spans.len() as f64),
                reference: reference.to_owned(),
                text: spans.len().to_string(),
                seqs: spans.iter().map(|span| span.seq).collect(),
                ..figure(name, title, "", definition)
            };
        figures.push(count(
            "standing-alerts",
            "Standing alerts",
            "Occurrences shown for more than 10 min, those from the start included.",
            "in long-time analysis an alert is stale after 24 h (second hand); drills are short, hence 10 min (common practice, no source)",
            &standing,
        ));
        figures.push(count(
            "chattering-alerts",
            "Chattering alerts",
            "Alerts that came up three times or more within 1 min.",
            "three or more in a minute: EEMUA 191 and ISA-18.2, from memory",
            &chattering,
        ));
        figures.extend(priorities(&new));
        let mut unanswered: Vec<AlertSpan> =
            new.iter().filter(|life| life.acknowledged.is_none()).map(|life| life.span.clone()).collect();
        unanswered.sort_by_key(|span| std::cmp::Reverse(span.to_tick - span.from_tick));
        figures.push(count(
            "unanswered-alerts",
            "Never acknowledged",
            "Alerts that came up after the start and that nobody acknowledged.",
            "",
            &unanswered,
        ));
        figures.push(acknowledging(&new));
        AlertLoad { figures, standing, chattering, unanswered }
    }

    fn average(&self, new: &[&Life]) -> Measure {
        let base = figure(
            "alert-average",
            "Alerts in 10 min, on an average",
            "1/10 min",
            "Alerts that came up after the start, over the length of the run.",
        );
        let reference = "about 1 is manageable (EEMUA 191, second hand); at most 2 (ISA-18.2, from memory)";
        if self.end == 0 {
            return Measure { reached: Reached::Nothing, text: "the run has no length".to_owned(), ..base };
        }
        let per_interval = new.len() as f64 * FLOOD_TICKS as f64 / self.end as f64;
        Measure {
            value: Some((per_interval * 100.0).round() / 100.0),
            reference: reference.to_owned(),
            text: format!("{} in {}: {per_interval:.1} in 10 min", new.len(), length(self.end)),
            seqs: new.iter().map(|life| life.span.seq).collect(),
            ..base
        }
    }

    fn peak(&self, new: &[&Life]) -> Measure {
        let ticks: Vec<u64> = new.iter().map(|life| life.span.from_tick).collect();
        let count = |first: &usize| {
            ticks[*first..].iter().take_while(|tick| **tick < ticks[*first] + FLOOD_TICKS).count()
        };
        let most = (0..ticks.len()).map(|first| (count(&first), std::cmp::Reverse(first))).max();
        let (count, first) = most.map_or((0, 0), |(count, first)| (count, first.0));
        let seqs = new.iter().skip(first).take(count).map(|life| life.span.seq).collect();
        Measure {
            value: Some(count as f64),
            reference: format!("more than {FLOOD_ABOVE} are a flood (EEMUA 191, second hand)"),
            text: match ticks.get(first) {
                Some(from) => format!("{count}, from {}", at(*from)),
                None => "none".to_owned(),
            },
            from_tick: ticks.get(first).copied(),
            seqs,
            ..figure(
                "alert-peak",
                "Most alerts in 10 min",
                "1/10 min",
                "Most alerts that came up in any 10 min after the start.",
            )
        }
    }

    fn flood(&self) -> Measure {
        let ticks: u64 = self.floods.iter().map(|(from, to, _)| to.unwrap_or(self.end) - from).sum();
        let share = if self.end == 0 { 0.0 } else { 100.0 * ticks as f64 / self.end as f64 };
        Measure {
            value: Some((share * 10.0).round() / 10.0),
            reference: "under 1 % of the time in long-time service (ISA-18.2, from memory)".to_owned(),
            text: format!("{share:.1} % of the time, {} s in {} floods", seconds(ticks), self.floods.len()),
            seqs: self.floods.iter().map(|flood| flood.2).collect(),
            ..figure(
                "alert-flood-share",
                "Time in an alert flood",
                "%",
                "From more than 10 new alerts in 10 min until there are fewer than 5.",
            )
        }
    }

    fn standing(&self) -> Vec<AlertSpan> {
        let stands = |life: &&Life| life.span.to_tick - life.span.from_tick > STANDING_TICKS;
        self.lives.values().filter(stands).map(|life| life.span.clone()).collect()
    }
}

fn figure(name: &str, title: &str, unit: &str, definition: &str) -> Measure {
    Measure {
        name: name.to_owned(),
        title: title.to_owned(),
        unit: unit.to_owned(),
        definition: definition.to_owned(),
        ..Measure::default()
    }
}

/// The first of three or more occurrences within a minute, once for each alert.
fn chattering(new: &[&Life]) -> Vec<AlertSpan> {
    let mut by_alert: BTreeMap<&str, Vec<&AlertSpan>> = BTreeMap::new();
    for life in new {
        by_alert.entry(&life.span.alert).or_default().push(&life.span);
    }
    let chatters = |spans: &Vec<&AlertSpan>| {
        let mut windows = spans.windows(CHATTER_TIMES);
        let found =
            windows.find(|few| few[CHATTER_TIMES - 1].from_tick - few[0].from_tick <= CHATTER_TICKS)?;
        Some(AlertSpan { to_tick: found[CHATTER_TIMES - 1].to_tick, ..found[0].clone() })
    };
    by_alert.values().filter_map(chatters).collect()
}

fn priorities(new: &[&Life]) -> Vec<Measure> {
    let usual = "about 5, 15 and 80 % from the highest priority to the lowest (EEMUA 191, second hand)";
    let share = |(priority, name, title): (Priority, &str, &str)| {
        let of_it: Vec<u64> =
            new.iter().filter(|life| life.priority == priority).map(|life| life.span.seq).collect();
        let base = figure(name, title, "%", "Share of the alerts that came up after the start.");
        if new.is_empty() {
            return Measure { reached: Reached::Nothing, text: "no alert came up".to_owned(), ..base };
        }
        let share = 100.0 * of_it.len() as f64 / new.len() as f64;
        Measure {
            value: Some((share * 10.0).round() / 10.0),
            reference: usual.to_owned(),
            text: format!("{} of {}: {share:.0} %", of_it.len(), new.len()),
            seqs: of_it,
            ..base
        }
    };
    let all = [
        (Priority::Alarm, "alarm-share", "Alarms"),
        (Priority::Warning, "warning-share", "Warnings"),
        (Priority::Caution, "caution-share", "Cautions"),
    ];
    all.into_iter().map(share).collect()
}

fn acknowledging(new: &[&Life]) -> Measure {
    let waits = new.iter().filter_map(|life| {
        let (tick, seq) = life.acknowledged?;
        Some((tick - life.span.from_tick, tick, seq, life.span.from_tick))
    });
    let base = figure(
        "longest-acknowledgement",
        "Longest wait for an acknowledgement",
        "s",
        "Of the alerts that came up after the start and were acknowledged, from coming up to it.",
    );
    match waits.max() {
        None => Measure {
            reached: Reached::Nothing,
            text: "of the alerts that came up after the start none was acknowledged".to_owned(),
            ..base
        },
        Some((ticks, tick, seq, from)) => Measure {
            value: Some(seconds(ticks)),
            text: length(ticks),
            from_tick: Some(from),
            tick: Some(tick),
            seqs: vec![seq],
            ..base
        },
    }
}
