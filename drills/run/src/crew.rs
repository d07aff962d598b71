//! The robot crew: performs a procedure as people would, one robot a station.
//!
//! Its commands go the same way as those of people. It walks, waits until its hands are free, and tries again when it
//! is refused. It goes by what it can see where it stands: what another station sees it learns when that station has done
//! its step. It shows what a crew that looks at the right gauges does, not how one finds out. It fills seats that are
//! empty, and leaves one to a person who takes it. What a person orders it in the words that are typed it does in between. With a [`Manner`] it takes its time as people do, and forgets as they do.
//! How far it is, is in the run (steps ticked off), so a crew made anew after a crash goes on with the first step that is
//! not ticked off.

mod errand;
mod manner;

pub use manner::Manner;

use crate::command::Command;
use crate::condition::Condition;
use crate::decide::Refusal;
use crate::envelope::Envelope;
use crate::procedure::{Procedure, Step};
use crate::recorder::Recorder;
use crate::run::{Person, Run};
use crate::setup::{Setup, ticks};
use crate::who::Who;
use crate::words::Line;
use errand::Errand;

/// Between a refusal and the next try, s.
pub const RETRY_S: f64 = 5.0;
/// How long it takes to read a gauge and write it down, s: common practice, no source.
pub const READ_S: f64 = 5.0;
/// Ticks between two looks of a robot: 0.5 s.
const LOOK_TICKS: u64 = 10;

/// A procedure that the run does not have.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("there is no procedure `{name}`; {}", there_are(known))]
pub struct NoProcedure {
    /// As asked for.
    pub name: String,
    /// What there is.
    pub known: Vec<String>,
}

fn there_are(known: &[String]) -> String {
    match known {
        [] => "this drill has none".to_owned(),
        known => format!("there are: {}", known.join(", ")),
    }
}

/// A step that a robot gave up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GivenUp {
    /// Step.
    pub step: String,
    /// What it was waiting for or refused, in words.
    pub why: String,
    /// Tick.
    pub tick: u64,
}

/// Where one robot is in its steps.
#[derive(Clone, Debug, Default)]
struct Robot {
    station: String,
    /// Step at hand: index into the procedure's.
    step: Option<usize>,
    /// What of the step has been done.
    stage: Stage,
    /// Tick at which waiting began.
    since_tick: u64,
    /// Not before this tick.
    not_before: u64,
    refusals: u32,
    /// What was just commanded, to be judged by what became of it.
    given: Option<Given>,
    /// What it was ordered to do in between.
    errand: Option<Errand>,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Stage {
    #[default]
    When,
    Act(usize),
    Until,
    Say,
    Tick,
}

/// What a command was for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Purpose {
    /// To take or leave the seat.
    Seat,
    /// A stage of a step, which is past when it is done.
    Step(Stage),
    /// An order of somebody.
    Errand,
}

/// A command that was given.
#[derive(Clone, Debug)]
struct Given {
    purpose: Purpose,
    words: String,
    /// Why not, unless it is so already.
    refusal: Option<Refusal>,
}

/// The robot crew of a run.
#[derive(Clone, Debug, Default)]
pub struct Crew {
    procedure: Option<Procedure>,
    robots: Vec<Robot>,
    given_up: Vec<GivenUp>,
    manner: Option<Manner>,
}

impl Crew {
    /// The same crew, taking its time as people do.
    #[must_use]
    pub fn with_manner(self, manner: Manner) -> Crew {
        Crew { manner: Some(manner), ..self }
    }

    /// A crew that does nothing.
    pub fn idle() -> Crew {
        Crew::default()
    }

    /// A crew for a procedure; `None`: the one named like the drill, else the first.
    ///
    /// # Errors
    /// There is no such procedure.
    pub fn new(setup: &Setup, procedure: Option<&str>) -> Result<Crew, NoProcedure> {
        let all: Vec<&str> = setup.drill.stations.iter().map(|station| station.name.as_str()).collect();
        Crew::for_stations(setup, procedure, &all)
    }

    /// A crew for some of the stations only; people do the rest.
    ///
    /// # Errors
    /// There is no such procedure.
    pub fn for_stations(setup: &Setup, name: Option<&str>, stations: &[&str]) -> Result<Crew, NoProcedure> {
        let found = match name {
            None => setup
                .procedures
                .iter()
                .find(|procedure| procedure.name == setup.drill.name)
                .or(setup.procedures.first()),
            Some(name) => setup.procedures.iter().find(|procedure| procedure.name == name),
        };
        let procedure = found.ok_or_else(|| NoProcedure {
            name: name.unwrap_or("").to_owned(),
            known: setup.procedures.iter().map(|procedure| procedure.name.clone()).collect(),
        })?;
        let mut robots: Vec<Robot> = Vec::new();
        for step in &procedure.steps {
            let wanted = stations.contains(&step.station.as_str());
            if wanted && !robots.iter().any(|robot| robot.station == step.station) {
                robots.push(Robot { station: step.station.clone(), ..Robot::default() });
            }
        }
        Ok(Crew { procedure: Some(procedure.clone()), robots, given_up: Vec::new(), manner: None })
    }

    /// What the robots do now: at most one command each, to be given at once. Call it once a tick, and
    /// [`Crew::answer`] with what became of each command.
    pub fn tick(&mut self, run: &Run) -> Vec<(Who, Command)> {
        let Some(procedure) = &self.procedure else { return Vec::new() };
        if !run.goes() || !run.tick().is_multiple_of(LOOK_TICKS) {
            return Vec::new();
        }
        let mut commands = Vec::new();
        let mut work = Work { run, procedure, manner: self.manner, given_up: &mut self.given_up };
        for robot in &mut self.robots {
            let who = Who::Robot { station: robot.station.clone() };
            if let Some((purpose, command)) = robot.next(&mut work, &who) {
                let words = command.wording(&run.setup);
                robot.given = Some(Given { purpose, words, refusal: None });
                commands.push((who, command));
            }
        }
        commands
    }

    /// Tells a robot what became of its command. Refused because it is so already is as good as done.
    pub fn answer(&mut self, who: &Who, refusal: Option<&Refusal>) {
        let Who::Robot { station } = who else { return };
        let robot = self.robots.iter_mut().find(|robot| robot.station == *station);
        if let Some(given) = robot.and_then(|robot| robot.given.as_mut()) {
            given.refusal = refusal.cloned();
        }
    }

    /// [`Crew::tick`], the commands given to the run, and [`Crew::answer`].
    pub fn act(&mut self, recorder: &mut Recorder, at: &str) -> Vec<Envelope> {
        let mut envelopes = Vec::new();
        for (who, command) in self.tick(recorder.run()) {
            let outcome = recorder.command(&command, &who, None, at);
            self.answer(&who, outcome.refusal.as_ref());
            envelopes.extend(outcome.envelopes);
        }
        envelopes
    }

    /// Works a run until it is over, on hold, or at a tick. `each` sees it before every step.
    pub(crate) fn work(
        &mut self,
        recorder: &mut Recorder,
        last_tick: u64,
        at: &str,
        each: &mut dyn FnMut(&Run),
    ) -> Vec<Envelope> {
        let mut log = Vec::new();
        while recorder.run().goes() && recorder.run().tick() < last_tick {
            log.extend(self.act(recorder, at));
            each(recorder.run());
            log.extend(recorder.tick(at));
        }
        log
    }

    /// Steps that were given up, in order.
    pub fn given_up(&self) -> &[GivenUp] {
        &self.given_up
    }

    /// Has every robot come to the end of its steps?
    pub fn finished(&self, run: &Run) -> bool {
        let Some(procedure) = &self.procedure else { return true };
        self.robots.iter().all(|robot| next_step(run, procedure, &robot.station).is_none())
    }
}

/// Index of the first step of a station that is not ticked off.
fn next_step(run: &Run, procedure: &Procedure, station: &str) -> Option<usize> {
    let open = |step: &Step| {
        step.station == station
            && !run.state.ticked.contains_key(&format!("{}/{}", procedure.name, step.name))
    };
    procedure.steps.iter().position(open)
}

/// What the robots work by.
struct Work<'a> {
    run: &'a Run,
    procedure: &'a Procedure,
    manner: Option<Manner>,
    given_up: &'a mut Vec<GivenUp>,
}

impl Work<'_> {
    /// Ticks that a person takes for this; none without a manner.
    fn takes(&self, draw: impl Fn(&Manner) -> f64) -> u64 {
        self.manner.as_ref().map_or(0, |manner| ticks(draw(manner)))
    }
}

impl Robot {
    /// The next command. Judges first what became of the last one.
    fn next(&mut self, work: &mut Work<'_>, who: &Who) -> Option<(Purpose, Command)> {
        let (run, tick) = (work.run, work.run.tick());
        let refused = self.judge(work, tick);
        if let Some(why) = refused {
            return self.give_up(work, why).map(|command| (Purpose::Step(self.stage), command));
        }
        let free = run.person(who).is_none_or(|p| p.arrives_tick <= tick && p.busy_until_tick <= tick);
        if tick < self.not_before || !free {
            return None;
        }
        let seated = run.person(who).is_some_and(|person| person.station.is_some());
        if held_by_person(run, &self.station) {
            // The seat is theirs, and the work with it; if they leave, it goes on with the first step that is not done.
            self.step = None;
            return seated.then_some((Purpose::Seat, Command::LeaveStation {}));
        }
        if !seated {
            return Some((Purpose::Seat, Command::TakeStation { station: self.station.clone() }));
        }
        if let Some(command) = self.on_errand(work, who) {
            return Some((Purpose::Errand, command));
        }
        if self.step.is_none() {
            self.step = next_step(run, work.procedure, &self.station);
            (self.stage, self.since_tick, self.refusals) = (Stage::When, tick, 0);
        }
        let step = &work.procedure.steps[self.step?];
        let command = self.proceed(work, step, who)?;
        Some((Purpose::Step(self.stage), command))
    }

    /// What somebody has ordered comes between two acts of the procedure.
    fn on_errand(&mut self, work: &Work<'_>, who: &Who) -> Option<Command> {
        self.errand = self.errand.take().filter(|errand| !errand.is_over(work.run));
        if self.errand.is_none() {
            self.errand = Errand::find(work.run, &self.station);
        }
        self.errand.as_mut()?.next(work.run, who)
    }

    /// Goes from stage to stage until there is something to do or to wait for.
    fn proceed(&mut self, work: &mut Work<'_>, step: &Step, who: &Who) -> Option<Command> {
        let (run, tick) = (work.run, work.run.tick());
        loop {
            match self.stage {
                Stage::When => {
                    let key = |name: &String| format!("{}/{name}", work.procedure.name);
                    let earlier = step.after.iter().all(|name| run.state.ticked.contains_key(&key(name)));
                    if !earlier {
                        // Others may take as long as they like.
                        self.since_tick = tick;
                        return None;
                    }
                    if !is_seen(run, who, step.when.as_ref()) {
                        return self.wait(work, step, who, step.when.as_ref());
                    }
                    if work.manner.is_some_and(|manner| manner.forgets(&self.station, &step.name)) {
                        return self.give_up(work, "forgotten".to_owned());
                    }
                    self.stage = Stage::Act(0);
                    if self.pauses(work.takes(|manner| manner.notices_s(step)), tick) {
                        return None;
                    }
                }
                Stage::Act(index) => match step.acts.get(index) {
                    Some((_, Line::Command(command))) => return Some(command.clone()),
                    Some((_, Line::Question(_))) => {
                        // Reading a gauge changes nothing, but takes its time.
                        (self.stage, self.not_before) = (Stage::Act(index + 1), tick + ticks(READ_S));
                        return None;
                    }
                    None => (self.stage, self.since_tick) = (Stage::Until, tick),
                },
                Stage::Until if is_seen(run, who, step.until.as_ref()) => {
                    self.stage = Stage::Say;
                    if step.until.is_some() && self.pauses(work.takes(|manner| manner.sees_s(step)), tick) {
                        return None;
                    }
                }
                Stage::Until => return self.wait(work, step, who, step.until.as_ref()),
                Stage::Say => match &step.say {
                    Some(text) => return Some(Command::Say { to: None, text: text.clone() }),
                    None => self.stage = Stage::Tick,
                },
                Stage::Tick => {
                    let (procedure, step) = (work.procedure.name.clone(), step.name.clone());
                    return Some(Command::TickOff { procedure, step, done: true });
                }
            }
        }
    }

    /// Does nothing for some ticks. Says whether there were any.
    fn pauses(&mut self, takes: u64, tick: u64) -> bool {
        self.not_before = self.not_before.max(tick + takes);
        takes > 0
    }

    fn wait(
        &mut self,
        work: &mut Work<'_>,
        step: &Step,
        who: &Who,
        condition: Option<&Condition>,
    ) -> Option<Command> {
        if work.run.tick() < self.since_tick + ticks(step.timeout_s) {
            return None;
        }
        let waited = condition.map_or("", Condition::text);
        let setup = &work.run.setup;
        let unseen = unseen(work.run, who, condition).map(|of| setup.compiled.reading_name(of));
        let unseen: Vec<String> = unseen.collect();
        let unseen = match unseen.as_slice() {
            [] => String::new(),
            names => format!(", and cannot see {} from where it stands", names.join(", ")),
        };
        self.give_up(work, format!("waited {} s for {waited}{unseen}", step.timeout_s))
    }

    /// Looks at what became of the last command; gives a reason to give the step up.
    fn judge(&mut self, work: &Work<'_>, tick: u64) -> Option<String> {
        let given = self.given.take()?;
        let refused = given.refusal.is_some() && !is_so(given.refusal.as_ref());
        let stage = match given.purpose {
            Purpose::Step(stage) => Some(stage),
            Purpose::Seat => None,
            Purpose::Errand => {
                if let Some(errand) = &mut self.errand {
                    errand.judge(given.refusal.as_ref());
                }
                self.not_before = if refused { tick + ticks(RETRY_S) } else { self.not_before };
                // Whoever waits for a condition of the procedure meanwhile is not to blame for the time.
                self.since_tick = tick;
                return None;
            }
        };
        if !refused {
            self.refusals = 0;
            match stage {
                Some(Stage::Act(index)) => {
                    self.stage = Stage::Act(index + 1);
                    let step = self.step.map(|at| &work.procedure.steps[at]);
                    let takes = step.map_or(0, |step| work.takes(|manner| manner.turns_s(step, index)));
                    self.pauses(takes, tick);
                }
                Some(Stage::Say) => self.stage = Stage::Tick,
                Some(Stage::Tick) => self.step = None,
                Some(Stage::When | Stage::Until) | None => {}
            }
            return None;
        }
        self.not_before = tick + ticks(RETRY_S);
        self.refusals += 1;
        // A robot without station keeps asking for it: someone else may hold it for a while.
        let given_up = stage.is_some() && self.refusals > work.procedure.retries;
        given_up.then(|| format!("refused {} times: {}", self.refusals, given.words))
    }

    /// Leaves the step undone and says so.
    fn give_up(&mut self, work: &mut Work<'_>, why: String) -> Option<Command> {
        let step = work.procedure.steps[self.step?].name.clone();
        work.given_up.push(GivenUp { step: step.clone(), why, tick: work.run.tick() });
        (self.stage, self.refusals) = (Stage::Tick, 0);
        Some(Command::TickOff { procedure: work.procedure.name.clone(), step, done: false })
    }
}

/// Is it refused for no other reason than that it is so already?
fn is_so(refusal: Option<&Refusal>) -> bool {
    let so = |code: &str| code.starts_with("already-") || code.starts_with("nothing-");
    refusal.is_some_and(|refusal| refusal.reasons.iter().all(|reason| so(&reason.code)))
}

/// Does a person hold this station?
fn held_by_person(run: &Run, station: &str) -> bool {
    let holds = |person: &Person| person.station.as_deref() == Some(station);
    run.state.people.values().any(|person| holds(person) && matches!(person.who, Who::Person { .. }))
}

/// What a condition names and they cannot see where they are: component and reading.
fn unseen<'r>(
    run: &'r Run,
    who: &'r Who,
    condition: Option<&'r Condition>,
) -> impl Iterator<Item = (usize, usize)> + 'r {
    let named = condition.into_iter().flat_map(Condition::readings);
    let named = named.map(|flat| run.setup.compiled.reading_at(flat));
    named.filter(|(component, reading)| !run.may_see(who, *component, *reading))
}

/// Do they see that it is true? No condition is; one that cannot be evaluated is not.
fn is_seen(run: &Run, who: &Who, condition: Option<&Condition>) -> bool {
    let holds = |condition: &Condition| run.holds(condition).unwrap_or(false);
    // Whether it holds is asked first, because mostly it does not yet.
    condition.is_none_or(holds) && unseen(run, who, condition).next().is_none()
}
