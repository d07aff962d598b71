//! Something true for a new drill to be about: on this ship, in one of her states, a hand's single act that lasts, and that does
//! not come by itself. It is found by trying it on the plant, so that it holds for ships nobody here has seen.

use crate::failure::Failure;
use crate::library::{Library, as_path};
use deadship_plant::Plant;
use deadship_plant::file::read_ship;
use deadship_plant::kind::{Act, Seen, Verb};
use deadship_plant::kinds::REGISTRY;
use deadship_plant::plant::Compiled;
use deadship_plant::spec::ShipSpec;
use deadship_plant::unit::Dimension;
use deadship_run::setup::ticks;
use deadship_run::ways::Ways;

/// The plant rests so long before the run begins, s: as the drill's `settle` says.
const SETTLE_S: f64 = 10.0;
/// Longest time in which the act must work, s.
const WORKS_S: f64 = 20.0;
/// It must last so long, s.
const LASTS_S: f64 = 30.0;
/// Nobody may bring it about by doing nothing in this time, s: as the drill's `limit` says.
const IDLE_S: f64 = 300.0;
/// States of a ship that are looked at.
const MOST_STATES: usize = 3;
/// Acts of a state that are tried.
const MOST_TRIED: usize = 12;

/// What the drill is about.
pub(super) struct Work {
    pub(super) state: Option<String>,
    /// Component to be worked.
    pub(super) component: String,
    pub(super) title: String,
    /// Place where the station begins; `None`: the ship has no places.
    pub(super) begins: Option<String>,
    /// What is typed to get there, if that is needed.
    pub(super) go: Option<String>,
    /// What is typed to do it.
    pub(super) act: String,
    /// True once it is done.
    pub(super) condition: String,
    /// Time for it, min.
    pub(super) minutes: u32,
    /// `component.fault` of something near it, as an example.
    pub(super) fault: String,
}

/// An act that could be it.
struct Candidate {
    component: usize,
    act: usize,
    reading: usize,
    /// Is the reading a word, or a share of the whole way?
    is_word: bool,
}

impl Work {
    /// Looks for it.
    ///
    /// # Errors
    /// No such ship, mistakes in her files, or a ship on which no single act does it.
    pub(super) fn find(library: &Library, ship: &str) -> Result<Work, Failure> {
        if as_path(ship).is_some() {
            let text =
                format!("a drill names its ship, never a path: put `{ship}` below ships, and give its name");
            return Err(Failure::Asked(text));
        }
        let (name, files) = library.ship(ship)?;
        let files: Vec<(String, String)> = files.into_iter().map(|file| (file.name, file.text)).collect();
        let spec = read_ship(REGISTRY, &files).map_err(Failure::Files)?;
        for state in states(&spec) {
            // The state is one of the ship's.
            let Ok(mut plant) = Plant::new(spec.clone(), state.as_deref()) else { continue };
            if step(&mut plant, SETTLE_S).is_none() {
                continue;
            }
            let mut idle = plant.clone();
            if step(&mut idle, IDLE_S).is_none() {
                continue;
            }
            let tried = candidates(&plant).into_iter().filter(|one| !one.holds(&idle)).take(MOST_TRIED);
            let found = tried.into_iter().find(|one| one.works(&plant));
            if let Some(found) = found {
                return Ok(found.into_work(&plant.compiled, state));
            }
        }
        let text = format!(
            "on `{name}` no single act was found that a drill could be about: begin with the usual ship \
             (leave `--ship` out), then change `ship` and the conditions"
        );
        Err(Failure::Asked(text))
    }
}

/// States to be looked at, those of a ship in service first; a ship without states as she stands.
fn states(spec: &ShipSpec) -> Vec<Option<String>> {
    let mut names: Vec<&str> = spec.states.iter().map(|state| state.name.as_str()).collect();
    let in_service =
        |name: &str| ["service", "anchor", "port", "power", "ready"].iter().any(|word| name.contains(word));
    names.sort_by_key(|name| !in_service(name));
    let named = names.into_iter().take(MOST_STATES).map(|name| Some(name.to_owned()));
    named.chain(spec.states.is_empty().then_some(None)).collect()
}

/// `None`: it cannot be stepped.
fn step(plant: &mut Plant, seconds: f64) -> Option<()> {
    (0..ticks(seconds)).try_for_each(|_| plant.step().ok().map(|_| ()))
}

/// Everything that a hand could start, close or open and that is not so now; machines first, then breakers, then valves.
fn candidates(plant: &Plant) -> Vec<Candidate> {
    let mut found = Vec::new();
    for (component, owner) in plant.compiled.spec.components.iter().enumerate() {
        for (act, def) in owner.kind.acts.iter().enumerate() {
            let done = Act { index: act, value: 0.0, remote: false };
            let order = [Verb::Start, Verb::Close, Verb::Open].iter().position(|verb| *verb == def.verb);
            let (Some(order), None) = (order, &def.takes) else { continue };
            if !plant.permit(component, done).is_empty() {
                continue;
            }
            let readings =
                owner.kind.readings.iter().enumerate().filter(|(_, reading)| reading.seen != Seen::Hidden);
            for (reading, def) in readings {
                let is_word = def.words == ["no", "yes"];
                let is_way = def.name == "position" && def.dimension == Dimension::Ratio && order == 2;
                let candidate = Candidate { component, act, reading, is_word };
                if (is_word || is_way) && !candidate.holds(plant) {
                    found.push((order, candidate));
                }
            }
        }
    }
    found.sort_by_key(|(order, _)| *order);
    found.into_iter().map(|(_, candidate)| candidate).collect()
}

impl Candidate {
    fn holds(&self, plant: &Plant) -> bool {
        let value = plant.reading(self.component, self.reading);
        if self.is_word { value > 0.5 } else { value > 0.9 }
    }

    /// Does the act bring it about, does it last, and does nothing trip for it?
    fn works(&self, plant: &Plant) -> bool {
        let mut tried = plant.clone();
        let alerts =
            |plant: &Plant| (0..plant.compiled.spec.alerts.len()).filter(|&i| plant.alert_on(i)).count();
        let before = alerts(&tried);
        tried.act(self.component, Act { index: self.act, value: 0.0, remote: false });
        if step(&mut tried, WORKS_S).is_none() || !self.holds(&tried) {
            return false;
        }
        step(&mut tried, LASTS_S).is_some() && self.holds(&tried) && alerts(&tried) <= before
    }

    fn into_work(self, compiled: &Compiled, state: Option<String>) -> Work {
        let spec = &compiled.spec;
        let owner = &spec.components[self.component];
        let name = |place: usize| spec.places[place].name.clone();
        // The first place from which there is a way: so people have something to walk.
        let ways = Ways::new(spec.places.len(), &spec.walks);
        let way = owner
            .place
            .and_then(|to| (0..spec.places.len()).find_map(|from| Some((from, ways.seconds(from, to)?))));
        let walk_s = way.map_or(0.0, |(_, seconds)| seconds);
        let def = &owner.kind.acts[self.act];
        // Time to read the brief and look around besides.
        let minutes = ((walk_s + def.seconds + WORKS_S) * 2.0 / 60.0).ceil().clamp(2.0, 4.0) as u32;
        let reading = owner.kind.readings[self.reading].name;
        let is = if self.is_word { "== \"yes\"" } else { "> 90 %" };
        let fault = owner.kind.faults.iter().find(|fault| fault.applies(&owner.params));
        Work {
            state,
            component: owner.name.clone(),
            title: owner.title.clone(),
            begins: way.map(|(from, _)| name(from)),
            go: way
                .zip(owner.place)
                .filter(|((from, _), to)| from != to)
                .map(|(_, to)| format!("go {}", name(to))),
            act: format!("{} {}", def.verb.word(), owner.name),
            condition: format!("[{}.{reading}] {is}", owner.name),
            minutes,
            fault: fault.map_or_else(
                || "component.fault".to_owned(),
                |fault| format!("{}.{}", owner.name, fault.name),
            ),
        }
    }
}
