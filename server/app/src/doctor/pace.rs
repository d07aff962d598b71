//! How many teams this machine carries: the ships of the library are stepped for a while, with a crew at work where
//! there is one.

use super::Check;
use crate::clock;
use deadship_plant::TICK_S;
use deadship_run::crew::Crew;
use deadship_run::library::Library;
use deadship_run::{Recorder, Role, Who};
use std::collections::BTreeMap;
use std::time::{Duration, Instant};
use uuid::Uuid;

/// How long each ship is stepped.
const STEPPING: Duration = Duration::from_millis(1_200);

/// Share of the processors that teams may take. The rest is for links, the disk, and ships that have more to do than
/// in this trial. A judgement, not a measurement.
const SHARE: f64 = 0.5;

/// What ten people at their links, what they send and what is kept of it cost a team, for each tick: what `deadship-load`
/// measured on two processors of 2026 (docs/measured.md), less the step.
const PEOPLE: Duration = Duration::from_micros(300);

/// Teams of a class: below the first the machine is of no use, below the second it is for small classes.
const TEAMS_BAD: u64 = 1;
const TEAMS_LOOK: u64 = 10;

/// What stepping a ship took.
#[derive(Clone, Copy, Debug)]
struct Steps {
    mean: Duration,
    /// The slowest second of ship's time, a tick.
    slowest: Duration,
    /// Ship's time that was stepped, s.
    ship_s: f64,
}

/// A line for each ship.
pub(super) fn checks(library: &Library) -> Vec<Check> {
    const NAME: &str = "pace";
    let mut ships = BTreeMap::new();
    for drill in library.drills() {
        match library
            .opening(drill, None)
            .map_err(|e| e.to_string())
            .and_then(|o| ship_of(&o).map(|s| (s, o)))
        {
            // A drill with a crew shows more of its ship at work.
            Ok((ship, opening)) => {
                let (has_crew, known) = (!opening.procedures.is_empty(), ships.get(&ship));
                if known.is_none_or(|(_, with_crew)| has_crew && !with_crew) {
                    ships.insert(ship, (drill, has_crew));
                }
            }
            Err(why) => {
                return vec![Check::look(NAME, format!("{drill} cannot be read: {why}"), "correct it")];
            }
        }
    }
    if ships.is_empty() {
        return vec![Check::look(NAME, "there are no drills", "see to --drills")];
    }
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let measured = ships.into_iter().map(|(ship, (drill, _))| match measure(library, drill) {
        Ok(steps) => judge(&ship, steps, cores),
        Err(why) => Check::look(NAME, format!("{drill} cannot be stepped: {why}"), "correct it"),
    });
    measured.collect()
}

fn ship_of(opening: &deadship_run::Opening) -> Result<String, String> {
    let (setup, _) = deadship_run::setup::Setup::new(opening.clone()).map_err(|error| error.to_string())?;
    Ok(setup.drill.ship.clone())
}

/// Steps a drill; one that comes to its end is begun again.
fn measure(library: &Library, drill: &str) -> Result<Steps, String> {
    let opening = library.opening(drill, None).map_err(|error| error.to_string())?;
    let procedure = opening.procedures.first().map(|file| file.stem().to_owned());
    let second = (1.0 / TICK_S).round() as u32;
    let (mut spent, mut slowest, mut seconds) = (Duration::ZERO, Duration::ZERO, 0_u32);
    while spent < STEPPING {
        let (who, at) = (Who::person("doctor", Role::Instructor), clock::now());
        let (mut recorder, _) =
            Recorder::open(Uuid::new_v4(), opening.clone(), &who, &at).map_err(|e| e.to_string())?;
        let mut crew = match &procedure {
            Some(name) => Crew::new(&recorder.run().setup, Some(name)).map_err(|error| error.to_string())?,
            None => Crew::idle(),
        };
        if !recorder.run().goes() {
            return Err("it does not begin by itself".to_owned());
        }
        while spent < STEPPING && recorder.run().goes() {
            let began = Instant::now();
            for _ in 0..second {
                crew.act(&mut recorder, &at);
                recorder.tick(&at);
            }
            let took = began.elapsed();
            spent += took;
            slowest = slowest.max(took);
            seconds += 1;
        }
    }
    let ticks = seconds.max(1) * second;
    Ok(Steps { mean: spent / ticks, slowest: slowest / second, ship_s: f64::from(seconds) })
}

/// Teams at the speed of the clock.
fn judge(ship: &str, steps: Steps, cores: usize) -> Check {
    const NAME: &str = "pace";
    let teams = (SHARE * cores as f64 * TICK_S / (steps.mean + PEOPLE).as_secs_f64()) as u64;
    let us = |time: Duration| time.as_secs_f64() * 1e6;
    let found = format!(
        "{ship}: a step of {:.0} ms takes {:.0} us, {:.0} us in her slowest second of {:.0}: about {teams} teams of \
         ten in step with the clock, with half of {} left free",
        TICK_S * 1e3,
        us(steps.mean),
        us(steps.slowest),
        steps.ship_s,
        if cores == 1 { "the processor".to_owned() } else { format!("{cores} processors") },
    );
    if cfg!(debug_assertions) {
        return Check::look(NAME, found, "this program was built for tests: build it with --release");
    }
    match teams {
        ..TEAMS_BAD => Check::bad(NAME, found, "use a faster machine, or stop what else is running"),
        TEAMS_BAD..TEAMS_LOOK => Check::look(NAME, found, "for small classes; stop what else is running"),
        _ => Check::ok(NAME, found),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn teams_follow_from_the_time_of_a_step() {
        let mean = Duration::from_micros(50);
        let check = judge("tender", Steps { mean, slowest: mean * 2, ship_s: 60.0 }, 2);
        // 50 ms / (50 us + 300 us) is 142 teams a processor; two, and half left free.
        assert!(check.found.contains("about 142 teams of ten"), "{}", check.found);
        let mean = Duration::from_millis(60);
        let check = judge("tender", Steps { mean, slowest: mean, ship_s: 60.0 }, 1);
        assert!(check.found.contains("about 0 teams"), "{}", check.found);
    }

    #[test]
    fn every_ship_of_a_library_is_measured_once() {
        let files = [
            ("ships/tender/ship.toml", include_str!("../../tests/fixtures/ship.toml")),
            ("library/tank.toml", include_str!("../../tests/fixtures/drill.toml")),
            ("library/again.toml", include_str!("../../tests/fixtures/drill.toml")),
        ];
        let library = Library::default().with(files.map(|(name, text)| (name.to_owned(), text.to_owned())));
        let checks = checks(&library);
        assert_eq!(checks.len(), 1);
        assert!(checks[0].found.starts_with("tender: a step of 50 ms takes "), "{}", checks[0].found);
    }
}
