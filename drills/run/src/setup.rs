//! What does not change while a run goes on: ship, drill, procedures, ways.

use crate::drill::Drill;
use crate::drill_file;
use crate::opening::{OpenError, Opening};
use crate::procedure::Procedure;
use crate::ways::Ways;
use deadship_plant::file::{read_ship, read_ship_with_states};
use deadship_plant::kinds::REGISTRY;
use deadship_plant::plant::Compiled;
use deadship_plant::spec::{Problem, StateSpec};
use deadship_plant::{Plant, TICK_S};
use std::sync::Arc;

/// How long a ship is stepped to see that it can be: 1 s.
const CHECKED_TICKS: u64 = 20;

/// What does not change while a run goes on.
#[derive(Clone)]
pub struct Setup {
    /// What it was opened with.
    pub opening: Opening,
    /// The ship, compiled.
    pub compiled: Arc<Compiled>,
    /// The drill.
    pub drill: Drill,
    /// Procedures.
    pub procedures: Vec<Procedure>,
    /// Ways between places.
    pub ways: Ways,
    /// Ticks that the plant was stepped before the run began.
    pub settled_ticks: u64,
}

impl Setup {
    /// Reads all texts of an opening, and brings the ship to her start state.
    ///
    /// # Errors
    /// Everything that is wrong with the files, or a plant that cannot settle.
    pub fn new(opening: Opening) -> Result<(Setup, Plant), OpenError> {
        let (mut setup, mut plant) = Setup::read(opening)?;
        setup.settled_ticks = ticks(setup.drill.settle_s);
        for _ in 0..setup.settled_ticks {
            plant.step()?;
        }
        Ok((setup, plant))
    }

    /// As [`Setup::new`], for whoever only wants to know what is wrong: the ship is stepped no longer than it takes to
    /// see that it can be.
    ///
    /// # Errors
    /// As [`Setup::new`].
    pub fn check(opening: Opening) -> Result<(), OpenError> {
        let (_, mut plant) = Setup::read(opening)?;
        for _ in 0..CHECKED_TICKS {
            plant.step()?;
        }
        Ok(())
    }

    /// Reads all texts of an opening; the ship is as her start state says, and not stepped yet.
    fn read(opening: Opening) -> Result<(Setup, Plant), OpenError> {
        let files: Vec<(String, String)> =
            opening.ship_files.iter().map(|file| (file.name.clone(), file.text.clone())).collect();
        if files.is_empty() {
            return Err(OpenError::Files(drill_file::without_ship(
                &opening.drill_file,
                opening.base.as_ref().map(|base| &base.drill_file),
            )));
        }
        // The drill's own states take the place of those of the one that it extends.
        let base = opening.base.iter().map(|base| &base.drill_file);
        let of_states: Vec<(String, String)> =
            base.chain([&opening.drill_file]).map(|file| (file.name.clone(), file.text.clone())).collect();
        let spec = read_ship_with_states(REGISTRY, &files, &of_states)
            .map_err(|problems| OpenError::Files(with_drill(problems, &files, &opening)))?;
        let bare = Plant::new(spec, None).map_err(|_| OpenError::Files(Vec::new()))?;
        let (mut drill, procedures) = drill_file::read(&opening, &bare.compiled).map_err(OpenError::Files)?;
        drill.team_sees_ratings = opening.team_sees_ratings.unwrap_or(drill.team_sees_ratings);
        let start = opening.start.as_deref().or(drill.start.as_deref());
        // The reader has checked that the ship has this state.
        let plant = match start {
            None => bare,
            some => Plant::new(bare.compiled.spec.clone(), some).map_err(|_| OpenError::Files(Vec::new()))?,
        };
        let spec = &plant.compiled.spec;
        let ways = Ways::new(spec.places.len(), &spec.walks);
        let compiled = Arc::clone(&plant.compiled);
        Ok((Setup { opening, compiled, drill, procedures, ways, settled_ticks: 0 }, plant))
    }

    /// Index of a place.
    pub fn place(&self, name: &str) -> Option<usize> {
        self.compiled.spec.places.iter().position(|place| place.name == name)
    }

    /// Name of a place.
    pub fn place_name(&self, place: usize) -> &str {
        self.compiled.spec.places.get(place).map_or("?", |place| &place.name)
    }

    /// Index of an alert.
    pub fn alert(&self, name: &str) -> Option<usize> {
        self.compiled.spec.alerts.iter().position(|alert| alert.name == name)
    }

    /// Component and fault of `component.fault`.
    pub fn fault(&self, component: &str, fault: &str) -> Option<(usize, usize)> {
        let component = self.compiled.component(component)?;
        let faults = self.compiled.spec.components[component].kind.faults;
        Some((component, faults.iter().position(|known| known.name == fault)?))
    }
}

/// What is wrong with the ship or the states that a drill adds; where she is sound herself, also what else is wrong with the
/// drill and its procedures, so that an author sees all of it at once.
fn with_drill(mut problems: Vec<Problem>, ship: &[(String, String)], opening: &Opening) -> Vec<Problem> {
    let Ok(mut spec) = read_ship(REGISTRY, ship) else { return problems };
    // Their names are known, whatever they set.
    let base = opening.base.iter().map(|base| &base.drill_file);
    for name in base.chain([&opening.drill_file]).flat_map(|file| drill_file::own_states(&file.text)) {
        spec.states.push(StateSpec { name, about: String::new(), sets: Vec::new() });
    }
    if let Ok(bare) = Plant::new(spec, None)
        && let Err(more) = drill_file::read(opening, &bare.compiled)
    {
        problems.extend(more);
        problems.sort_by(|a, b| {
            (&a.file, a.line, a.column, &a.message).cmp(&(&b.file, b.line, b.column, &b.message))
        });
        problems.dedup();
    }
    problems
}

/// All that runs of the same texts have in common: the texts read, and the ship in her start state.
#[derive(Clone)]
pub struct Prepared {
    pub(crate) setup: Arc<Setup>,
    pub(crate) plant: Plant,
}

impl Prepared {
    /// As [`Setup::new`].
    ///
    /// # Errors
    /// As [`Setup::new`].
    pub fn new(opening: Opening) -> Result<Prepared, OpenError> {
        let (setup, plant) = Setup::new(opening)?;
        Ok(Prepared { setup: Arc::new(setup), plant })
    }

    /// What it was made of. A run that was opened with anything else must not be opened with this.
    pub fn opening(&self) -> &Opening {
        &self.setup.opening
    }
}

/// Whole ticks in a time, rounded up: nothing is done sooner than it takes.
pub fn ticks(seconds: f64) -> u64 {
    let exact = seconds.max(0.0) / TICK_S;
    // Times that are a whole number of ticks must not gain one by rounding of the division.
    (exact - 1e-6).ceil().max(0.0) as u64
}
