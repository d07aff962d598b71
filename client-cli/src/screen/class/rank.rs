//! Who needs the instructor, and why: told from the board, the most urgent first. While all is well it says nothing.

use crate::screen::colours::Ink;
use deadship_protocol::BoardTeam;

/// An alarm that nobody acknowledges for so long means that nobody looks, s of ship's time.
const LOOKED_AT_S: u64 = 20;
/// A team that does nothing for so long may not know what to do, s.
const IDLE_S: u64 = 90;
/// And for so long is stuck, s.
const STUCK_S: u64 = 240;
/// So many refused orders within five minutes are more than slips.
const MANY_REFUSED: u32 = 4;
/// So many expectations more than the middle of the class are ahead.
const AHEAD: u32 = 2;

/// How much a team needs someone, the most first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Needs {
    /// The run cannot go on.
    Failed,
    /// Something is dangerous, and nobody acts.
    Unsafe,
    /// They do not get on.
    Stuck,
    /// They do nothing.
    Idle,
    /// They wait for the instructor.
    Waits,
    /// They are ahead of the others: more can be asked of them.
    Ahead,
    /// All is well.
    Well,
    /// They have done it, or it is over.
    Over,
}

impl Needs {
    /// Sign and word.
    pub(crate) const fn word(self) -> (&'static str, &'static str) {
        match self {
            Needs::Failed => ("✖", "failed"),
            Needs::Unsafe => ("▲", "UNSAFE"),
            Needs::Stuck => ("◆", "stuck"),
            Needs::Idle => ("◇", "idle"),
            Needs::Waits => ("‖", "on hold"),
            Needs::Ahead => ("»", "ahead"),
            Needs::Well => ("○", "well"),
            Needs::Over => ("●", "over"),
        }
    }

    /// Its ink.
    pub(crate) const fn ink(self) -> Ink {
        match self {
            Needs::Failed | Needs::Unsafe => Ink::Alarm,
            Needs::Stuck => Ink::Warning,
            Needs::Idle | Needs::Waits => Ink::Caution,
            Needs::Ahead => Ink::Live,
            Needs::Well | Needs::Over => Ink::Plain,
        }
    }
}

/// What one team needs, and every reason. `middle`: what the middle team of the class has met.
pub(crate) fn needs(team: &BoardTeam, middle: u32) -> (Needs, Vec<String>) {
    let (state, pulse) = (&team.state, &team.pulse);
    if let Some(why) = &state.failed {
        return (Needs::Failed, vec![why.clone()]);
    }
    if let Some(why) = &state.ended {
        return (Needs::Over, vec![why.clone()]);
    }
    if let Some(why) = &state.hold {
        return (Needs::Waits, vec![why.clone()]);
    }
    let mut found: Vec<(Needs, String)> = Vec::new();
    let idle_s = pulse.idle_s.unwrap_or(state.tick / 20);
    if pulse.worst.as_deref() == Some("alarm") && pulse.unacknowledged > 0 && idle_s >= LOOKED_AT_S {
        let text = pulse.worst_text.as_deref().unwrap_or("an alarm");
        found.push((Needs::Unsafe, format!("{text}: nobody has acted for {}", span(idle_s))));
    }
    // A robot crew is on no link, and acts.
    if team.people.iter().all(|person| !person.contains('(')) && idle_s >= LOOKED_AT_S {
        found.push((Needs::Stuck, "nobody of the team is here".to_owned()));
    }
    if pulse.refused >= MANY_REFUSED {
        found.push((Needs::Stuck, format!("{} orders refused in 5 min", pulse.refused)));
    }
    if !pulse.aim && idle_s >= STUCK_S {
        found.push((Needs::Stuck, format!("nothing done for {}", span(idle_s))));
    } else if !pulse.aim && idle_s >= IDLE_S {
        found.push((Needs::Idle, format!("nothing done for {}", span(idle_s))));
    }
    if pulse.aim {
        found.push((Needs::Over, "the aim is reached".to_owned()));
    } else if pulse.met >= middle + AHEAD {
        found.push((Needs::Ahead, format!("{} of what is expected is met", pulse.met)));
    }
    found.sort_by_key(|(needs, _)| *needs);
    let worst = found.first().map_or(Needs::Well, |(needs, _)| *needs);
    (worst, found.into_iter().map(|(_, why)| why).collect())
}

/// What the middle team of a class has met.
pub(crate) fn middle(teams: &[BoardTeam]) -> u32 {
    let mut met: Vec<u32> = teams.iter().map(|team| team.pulse.met).collect();
    met.sort_unstable();
    met.get(met.len() / 2).copied().unwrap_or(0)
}

fn span(seconds: u64) -> String {
    if seconds < 100 { format!("{seconds} s") } else { format!("{} min", seconds / 60) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use deadship_protocol::{Pulse, RunState};
    use uuid::Uuid;

    fn team(pulse: Pulse) -> BoardTeam {
        let state = RunState {
            run: Uuid::nil(),
            team: "Red".to_owned(),
            drill: "d".to_owned(),
            last_seq: 1,
            tick: 6_000,
            time: "5:00.0".to_owned(),
            speed: 1.0,
            reached_speed: None,
            hold: None,
            ended: None,
            failed: None,
        };
        BoardTeam { state, pulse, people: vec!["Ada (engine)".to_owned()] }
    }

    #[test]
    fn while_all_is_well_there_is_nothing_to_say() {
        let well = team(Pulse { idle_s: Some(10), alerts: 3, ..Pulse::default() });
        assert_eq!(needs(&well, 0), (Needs::Well, Vec::new()));
    }

    #[test]
    fn an_alarm_that_nobody_looks_at_comes_before_all() {
        let pulse = Pulse {
            idle_s: Some(300),
            unacknowledged: 1,
            worst: Some("alarm".to_owned()),
            worst_text: Some("Sump low".to_owned()),
            refused: 9,
            ..Pulse::default()
        };
        let (needs, why) = needs(&team(pulse), 0);
        assert_eq!(needs, Needs::Unsafe);
        assert_eq!(
            why,
            ["Sump low: nobody has acted for 5 min", "9 orders refused in 5 min", "nothing done for 5 min"]
        );
    }

    #[test]
    fn idle_stuck_ahead_and_over_are_told_apart() {
        let of = |pulse| needs(&team(pulse), 1).0;
        assert_eq!(of(Pulse { idle_s: Some(100), ..Pulse::default() }), Needs::Idle);
        assert_eq!(of(Pulse { idle_s: Some(250), ..Pulse::default() }), Needs::Stuck);
        assert_eq!(of(Pulse { idle_s: None, ..Pulse::default() }), Needs::Stuck);
        assert_eq!(of(Pulse { idle_s: Some(1), met: 3, ..Pulse::default() }), Needs::Ahead);
        assert_eq!(of(Pulse { idle_s: Some(900), aim: true, ..Pulse::default() }), Needs::Over);
        let mut held = team(Pulse::default());
        held.state.hold = Some("the instructor".to_owned());
        assert_eq!(needs(&held, 0).0, Needs::Waits);
        let mut alone = team(Pulse { idle_s: Some(30), ..Pulse::default() });
        alone.people = vec!["instructor".to_owned()];
        assert_eq!(needs(&alone, 0).0, Needs::Stuck);
        alone.pulse.idle_s = Some(1);
        assert_eq!(needs(&alone, 0).0, Needs::Well, "a robot crew is on no link");
    }
}
