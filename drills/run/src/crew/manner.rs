//! How people differ from a machine: they notice, look and turn to the next thing in times of their own, and forget.
//!
//! The times are drawn from a seed, for each step by its name, so that a crew made anew after a crash goes on as it would
//! have. They are common practice, no source: what instructors see, not what a study measured.

use crate::condition::Condition;
use crate::procedure::Step;

/// To notice that something has come about that was waited for, s.
const NOTICE_S: f64 = 2.0;
/// To look at a gauge and take it in, s.
const LOOK_S: f64 = 1.5;
/// From one thing done to the next, s.
const TURN_S: f64 = 1.0;
/// A time is drawn between this share of what is usual, and as much more.
const LEAST: f64 = 0.5;
/// Share of the steps that somebody without any skill forgets.
const FORGETS: f64 = 0.2;

/// How a crew takes its time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Manner {
    seed: u64,
    skill_share: f64,
}

impl Manner {
    /// A seed, and a skill from 0 to 1: at 1 nothing is forgotten, at 0 all takes twice as long.
    pub fn new(seed: u64, skill: f64) -> Manner {
        let skill_share = if skill.is_finite() { skill.clamp(0.0, 1.0) } else { 1.0 };
        Manner { seed, skill_share }
    }

    /// Until someone begins with a step whose time has come: to notice it, and to look at what it depends on.
    pub(super) fn notices_s(&self, step: &Step) -> f64 {
        let usual = if step.when.is_some() { NOTICE_S } else { TURN_S };
        self.time_s(usual + LOOK_S * gauges(step.when.as_ref()), &[&step.name, "notices"])
    }

    /// Until someone has seen that what was to come about has.
    pub(super) fn sees_s(&self, step: &Step) -> f64 {
        self.time_s(LOOK_S * gauges(step.until.as_ref()), &[&step.name, "sees"])
    }

    /// From one act of a step to what comes next.
    pub(super) fn turns_s(&self, step: &Step, act: usize) -> f64 {
        self.time_s(TURN_S, &[&step.name, &act.to_string()])
    }

    /// Is this step forgotten?
    pub(super) fn forgets(&self, station: &str, step: &str) -> bool {
        self.draw(&[station, step, "forgets"]) < FORGETS * (1.0 - self.skill_share)
    }

    fn time_s(&self, usual_s: f64, what: &[&str]) -> f64 {
        usual_s * (LEAST + self.draw(what) * 2.0 * (1.0 - LEAST)) * (2.0 - self.skill_share)
    }

    /// From 0 up to 1, always the same for the same seed and words.
    fn draw(&self, what: &[&str]) -> f64 {
        let mut hasher = blake3::Hasher::new();
        hasher.update(&self.seed.to_le_bytes());
        for word in what {
            hasher.update(&(word.len() as u64).to_le_bytes());
            hasher.update(word.as_bytes());
        }
        let mut bytes = [0; 8];
        bytes.copy_from_slice(&hasher.finalize().as_bytes()[..8]);
        // 53 bits are what a double holds exactly.
        (u64::from_le_bytes(bytes) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

/// How many different readings a condition names.
fn gauges(condition: Option<&Condition>) -> f64 {
    condition.map_or(0.0, |condition| condition.readings().count() as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_follow_from_the_seed_and_lie_about_what_is_usual() {
        let times: Vec<f64> = (0..1_000).map(|seed| Manner::new(seed, 1.0).time_s(2.0, &["step"])).collect();
        assert!(times.iter().all(|time| (1.0..3.0).contains(time)));
        let mean = times.iter().sum::<f64>() / times.len() as f64;
        assert!((mean - 2.0).abs() < 0.06, "{mean}");
        assert_eq!(Manner::new(7, 1.0).time_s(2.0, &["step"]), Manner::new(7, 1.0).time_s(2.0, &["step"]));
        assert!(
            Manner::new(7, 0.0).time_s(2.0, &["step"]) == 2.0 * Manner::new(7, 1.0).time_s(2.0, &["step"])
        );
    }

    #[test]
    fn who_has_skill_forgets_nothing() {
        let forgotten = |skill: f64| {
            (0..1_000).filter(|seed| Manner::new(*seed, skill).forgets("engine", "step")).count()
        };
        assert_eq!(forgotten(1.0), 0);
        assert!((150..250).contains(&forgotten(0.0)), "{}", forgotten(0.0));
        assert!(forgotten(0.5) < forgotten(0.0));
        assert_eq!(forgotten(f64::NAN), 0);
    }
}
