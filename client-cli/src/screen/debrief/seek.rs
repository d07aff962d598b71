//! The plant at an instant, as one of the team saw it: replayed once in parts, then a few steps away.

use crate::screen::model::{Model, number};
use deadship_run::answer::show_reading;
use deadship_run::replay::{Reel, ReplayError};
use deadship_run::view::{Chart, Situation};
use deadship_run::{Envelope, Event, Role, Run, Who, timeline};
use std::collections::{BTreeMap, VecDeque};

/// About so many instants are kept; as many points has a trend.
const KEPT: u64 = 240;
/// Fewest ticks between two of them: two seconds of ship's time.
const EVERY_AT_LEAST: u64 = 40;

/// Whose eyes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Eyes {
    /// All there is: the truth.
    All,
    /// One of the team.
    Of(Who),
}

impl Eyes {
    /// Everyone who ever had a station, after [`Eyes::All`].
    pub(crate) fn in_log(log: &[Envelope]) -> Vec<Eyes> {
        let mut eyes = vec![Eyes::All];
        for envelope in log.iter().filter(|envelope| matches!(envelope.event, Event::StationTaken { .. })) {
            let who = match &envelope.who {
                Who::Person { name, role: Role::Trainee, .. } => Who::person(name, Role::Trainee),
                Who::Robot { station } => Who::Robot { station: station.clone() },
                _ => continue,
            };
            let of = Eyes::Of(who);
            if !eyes.contains(&of) {
                eyes.push(of);
            }
        }
        eyes
    }

    /// Who that is to a run: for people.
    pub(crate) fn label(&self, run: Option<&Run>) -> String {
        match (self, run) {
            (Eyes::All, _) => "everything there is".to_owned(),
            (Eyes::Of(who), Some(run)) => run.known(who).to_string(),
            (Eyes::Of(who), None) => who.to_string(),
        }
    }

    /// Who asks, for what may be seen.
    fn who(&self) -> Who {
        match self {
            Eyes::All => Who::person("facilitator", Role::Facilitator),
            Eyes::Of(who) => who.clone(),
        }
    }

    /// The name under which the crew has them.
    fn name(&self) -> String {
        match self.who() {
            Who::Robot { station } => station,
            who => who.key().unwrap_or_default(),
        }
    }
}

/// Every reading that these eyes see in a run, by full name.
pub(crate) fn readings(run: &Run, eyes: &Eyes) -> BTreeMap<String, String> {
    let who = eyes.who();
    let mut readings = BTreeMap::new();
    for (c, component) in run.setup.compiled.spec.components.iter().enumerate() {
        for (r, reading) in component.kind.readings.iter().enumerate() {
            if run.may_see(&who, c, r) {
                readings.insert(format!("{}.{}", component.name, reading.name), show_reading(run, c, r));
            }
        }
    }
    readings
}

/// The plant behind a log.
pub(crate) enum Plant {
    /// Not opened yet.
    NotYet(Vec<Envelope>),
    /// Opened, and replayed in part or in whole.
    Ready(Box<Reel>),
    /// It cannot be had: why.
    Cannot(String),
}

impl Plant {
    /// One part more; `true`: there is more to come.
    pub(crate) fn load(&mut self) -> bool {
        match self {
            Plant::NotYet(log) => {
                let log = std::mem::take(log);
                let every = (log.last().map_or(0, |last| last.tick) / KEPT).max(EVERY_AT_LEAST);
                *self = match Reel::open(log, every) {
                    Ok(reel) => Plant::Ready(Box::new(reel)),
                    Err(error) => Plant::Cannot(told(&error)),
                };
                matches!(self, Plant::Ready(_))
            }
            Plant::Ready(reel) => reel.load(),
            Plant::Cannot(_) => false,
        }
    }

    /// How much is replayed, 0 to 100; `None`: nothing more comes.
    pub(crate) fn percent(&self) -> Option<u64> {
        match self {
            Plant::NotYet(_) => Some(0),
            Plant::Ready(reel) => {
                let (done, all) = (reel.loaded_tick(), reel.last_tick());
                (done < all).then(|| done * 100 / all.max(1))
            }
            Plant::Cannot(_) => None,
        }
    }

    /// The run at the end of a tick; why not, for people.
    pub(crate) fn at(&mut self, tick: u64) -> Result<&Reel, String> {
        match self {
            Plant::NotYet(_) => Err("the plant is being built from the log".to_owned()),
            Plant::Cannot(why) => Err(format!("the plant cannot be shown: {why}")),
            Plant::Ready(reel) if reel.loaded_tick() < tick => {
                let to = timeline::clock(reel.loaded_tick());
                Err(format!("replayed up to {} so far", to.trim()))
            }
            Plant::Ready(reel) => {
                reel.seek(tick);
                if reel.is_there() {
                    return Ok(reel);
                }
                Err("this version of the model comes to a stop before: the plant here cannot be had"
                    .to_owned())
            }
        }
    }

    /// The log; `None`: there is no plant to ask either.
    pub(crate) fn log(&self) -> Option<&[Envelope]> {
        match self {
            Plant::Ready(reel) => Some(reel.log()),
            Plant::NotYet(log) => Some(log),
            Plant::Cannot(_) => None,
        }
    }

    /// From where on record and model differ: tick, and all of it for people.
    pub(crate) fn difference(&self) -> Option<(u64, String)> {
        match self {
            Plant::Ready(reel) => reel.difference().map(|found| (found.tick, found.to_string())),
            _ => None,
        }
    }
}

/// In one line.
fn told(error: &ReplayError) -> String {
    let told = match error {
        ReplayError::Open(error) => crate::trial::open_failed(error.clone()).to_string(),
        other => other.to_string(),
    };
    told.lines().collect::<Vec<_>>().join("; ")
}

/// Makes a model show what these eyes saw at the instant that a replay is at.
pub(crate) fn fill(model: &mut Model, reel: &Reel, eyes: &Eyes, trends: &[String]) {
    let run = reel.run();
    let all = *eyes == Eyes::All;
    if model.chart.is_none() || model.sees_all != all {
        model.take_chart(Chart::new(&run.setup, all));
    }
    (model.name, model.sees_all) = (eyes.name(), all);
    model.situation = Situation::new(run, all);
    if let Eyes::Of(Who::Robot { station }) = eyes {
        // Seen with its eyes, a robot is one of the crew like any other, and the first of its name.
        let crew = &mut model.situation.crew;
        if let Some(place) = crew.iter().position(|one| one.robot && one.name == *station) {
            let mut own = crew.remove(place);
            own.robot = false;
            crew.insert(0, own);
        }
    }
    model.set_readings(run.tick(), readings(run, eyes));
    model.trends = trends.iter().map(|name| (name.clone(), course(reel, eyes, name))).collect();
}

/// The course of a reading up to the instant that a replay is at, where these eyes saw it.
fn course(reel: &Reel, eyes: &Eyes, name: &str) -> VecDeque<(u64, f64)> {
    let (now, who) = (reel.run(), eyes.who());
    let place = name.rsplit_once('.').and_then(|(component, reading)| {
        let component = now.setup.compiled.component(component)?;
        let kind = now.setup.compiled.spec.components[component].kind;
        Some((component, kind.readings.iter().position(|known| known.name == reading)?))
    });
    let Some((component, reading)) = place else { return VecDeque::new() };
    let before = reel.kept().take_while(|kept| kept.tick() < now.tick());
    let seen = before.chain([now]).filter(|run| run.may_see(&who, component, reading));
    seen.filter_map(|run| Some((run.tick(), number(&show_reading(run, component, reading))?))).collect()
}
