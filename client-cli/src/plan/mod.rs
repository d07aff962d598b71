//! A drill as it is once everything is resolved: for `inspect`, `handout` and `diff`.

mod asked;
mod diff;
mod drawing;
mod handout;
mod ship;
mod text;

pub(crate) use diff::diff;

use crate::cli::{HandoutArgs, InspectArgs, PlanForm};
use crate::dials::DialArgs;
use crate::export::output::write_new;
use crate::failure::{Failure, WELL};
use crate::io::Io;
use crate::library::Library;
use crate::trial::open_failed;
use deadship_plant::unit::{Dimension, format_limit};
use deadship_run::condition::Condition;
use deadship_run::dials::Dials;
use deadship_run::drill::{Drill, SAFETY, Trigger};
use deadship_run::drill_file::seed_of_variant;
use deadship_run::objective::Objective;
use deadship_run::setup::Setup;
use serde::Serialize;

/// `deadship inspect`.
pub(crate) fn inspect(io: &mut Io, library: &mut Library, args: &InspectArgs) -> Result<u8, Failure> {
    if let Some(ship) = &args.ship {
        return inspect_ship(io, library, ship, args);
    }
    let plan = Plan::read(library, args.drill.as_deref().unwrap_or_default(), args.seed, args.dials)?;
    let text = match args.form {
        PlanForm::Text => text::render(&plan),
        // Plain data with text keys and finite numbers always serialises.
        PlanForm::Json => serde_json::to_string_pretty(&plan).unwrap_or_default(),
        PlanForm::Svg => drawing::svg(&plan),
    };
    write_new(io, args.output.as_deref(), &mut |out| out.line(text.trim_end()))?;
    Ok(WELL)
}

/// `deadship inspect --ship`.
fn inspect_ship(io: &mut Io, library: &Library, ship: &str, args: &InspectArgs) -> Result<u8, Failure> {
    let (name, files) = library.ship(ship)?;
    let plan = ship::ShipPlan::read(&name, files, args.only.as_deref())?;
    let text = match args.form {
        PlanForm::Text => ship::render(&plan, args.only.is_some()),
        // As above.
        PlanForm::Json => serde_json::to_string_pretty(&plan).unwrap_or_default(),
        PlanForm::Svg => {
            let text = "a ship is shown as text or JSON; her drawings are on the screens (`deadship join`)";
            return Err(Failure::Asked(text.to_owned()));
        }
    };
    write_new(io, args.output.as_deref(), &mut |out| out.line(text.trim_end()))?;
    Ok(WELL)
}

/// `deadship handout`.
pub(crate) fn handout(io: &mut Io, library: &mut Library, args: &HandoutArgs) -> Result<u8, Failure> {
    let plan = Plan::read(library, &args.drill, args.seed, args.dials)?;
    let page = handout::page(&plan, args.for_team);
    write_new(io, args.output.as_deref(), &mut |out| out.line(page.trim_end()))?;
    Ok(WELL)
}

/// A drill with everything that it refers to. Times are in seconds.
#[derive(Clone, Debug, Serialize)]
pub(crate) struct Plan {
    name: String,
    title: String,
    ship: String,
    ship_title: String,
    start: String,
    start_about: String,
    settle_s: f64,
    limit_s: Option<f64>,
    length_s: Option<f64>,
    difficulty: Option<u32>,
    seed: u64,
    /// What it can turn out to be; which it is with this seed.
    variants: Vec<VariantPlan>,
    /// Where its dials stand.
    dials: Dials,
    /// What it brings or expects only with some positions of them, whether or not that is below.
    dialled: Vec<DialledPlan>,
    brief: String,
    safety: String,
    stations: Vec<StationPlan>,
    /// Faults, messages, probes and decisions, each in the order written.
    steps: Vec<StepPlan>,
    aim: Option<AimPlan>,
    objectives: Vec<ObjectivePlan>,
    /// Those that belong to no objective.
    other_expectations: Vec<ExpectPlan>,
    procedures: Vec<ProcedurePlan>,
    questions: Vec<String>,
    sources: Vec<String>,
}

#[derive(Clone, Debug, Serialize)]
struct VariantPlan {
    name: String,
    about: String,
    /// A seed that gives it.
    seed: Option<u64>,
    is_this: bool,
}

impl VariantPlan {
    /// By which seed it is given, for people.
    fn given(&self) -> String {
        match (self.is_this, self.seed) {
            (true, _) => " (with this seed, and so below)".to_owned(),
            (false, Some(seed)) => format!(" (seed {seed} gives it)"),
            (false, None) => String::new(),
        }
    }
}

/// Something that depends on the dials.
#[derive(Clone, Debug, Serialize)]
struct DialledPlan {
    /// `fault`, `message`, `probe`, `decision`, `expect`.
    sort: &'static str,
    name: String,
    /// With which positions it is there, in words.
    there: String,
}

#[derive(Clone, Debug, Serialize)]
struct StationPlan {
    name: String,
    title: String,
    start: String,
    covers: Vec<String>,
    seats: u32,
    card: String,
}

/// Something that the drill brings.
#[derive(Clone, Debug, Serialize)]
struct StepPlan {
    name: String,
    /// `fault`, `message`, `order`, `probe`, `decision`.
    sort: &'static str,
    what: String,
    comes: When,
    goes: Option<When>,
}

/// When something comes.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
enum When {
    /// So many seconds after the start.
    AtS(f64),
    /// Once this is true.
    Condition(String),
}

#[derive(Clone, Debug, Serialize)]
struct AimPlan {
    text: String,
    when: String,
    hold_s: f64,
    ends: bool,
}

#[derive(Clone, Debug, Serialize)]
struct ObjectivePlan {
    #[serde(flatten)]
    objective: Objective,
    expectations: Vec<ExpectPlan>,
}

#[derive(Clone, Debug, Serialize)]
struct ExpectPlan {
    name: String,
    text: String,
    from: Option<String>,
    when: String,
    within_s: Option<f64>,
}

#[derive(Clone, Debug, Serialize)]
struct ProcedurePlan {
    name: String,
    title: String,
    error: Option<String>,
    misses: Vec<String>,
    steps: Vec<ProcedureStep>,
}

#[derive(Clone, Debug, Serialize)]
struct ProcedureStep {
    name: String,
    station: String,
    title: String,
    acts: Vec<String>,
}

impl Plan {
    /// A drill by name or file, with its ship and its procedures.
    pub(crate) fn read(
        library: &mut Library,
        name: &str,
        seed: Option<u64>,
        dials: DialArgs,
    ) -> Result<Plan, Failure> {
        let drill = library.drill(name)?;
        let procedures = library.procedures_for(drill.stem());
        let mut opening = library.opening(drill, procedures, seed)?;
        opening.dials = dials.dials();
        let (setup, _) = Setup::new(opening).map_err(open_failed)?;
        Ok(Plan::of(&setup))
    }

    fn of(setup: &Setup) -> Plan {
        let (drill, spec) = (&setup.drill, &setup.compiled.spec);
        let state = spec.states.iter().find(|state| Some(&state.name) == drill.start.as_ref());
        Plan {
            name: drill.name.clone(),
            title: drill.title.clone(),
            ship: drill.ship.clone(),
            ship_title: spec.title.clone(),
            start: drill.start.clone().unwrap_or_default(),
            start_about: state.map_or_else(String::new, |state| state.about.clone()),
            settle_s: drill.settle_s,
            limit_s: drill.limit_s,
            length_s: drill.about.length_s,
            difficulty: drill.about.difficulty,
            seed: drill.seed,
            variants: (0..)
                .zip(&drill.variants)
                .map(|(at, variant)| VariantPlan {
                    name: variant.name.clone(),
                    about: variant.about.clone(),
                    seed: seed_of_variant(at, drill.variants.len()),
                    is_this: drill.variant == Some(at),
                })
                .collect(),
            dials: drill.dials,
            dialled: dialled(drill),
            brief: drill.brief.trim().to_owned(),
            safety: [drill.safety.trim(), SAFETY].join(" ").trim().to_owned(),
            stations: stations(setup),
            steps: steps(setup),
            aim: drill.aim.as_ref().map(|aim| AimPlan {
                text: aim.text.clone(),
                when: one_line(&aim.condition),
                hold_s: aim.hold_s,
                ends: aim.ends,
            }),
            objectives: drill
                .objectives
                .iter()
                .map(|objective| ObjectivePlan {
                    objective: objective.clone(),
                    expectations: expects(drill, Some(&objective.name)),
                })
                .collect(),
            other_expectations: expects(drill, None),
            procedures: procedures(setup),
            questions: drill.about.questions.clone(),
            sources: drill.about.sources.clone(),
        }
    }
}

fn dialled(drill: &Drill) -> Vec<DialledPlan> {
    let of_one = |one: &deadship_run::drill::Dialled| DialledPlan {
        sort: one.sort,
        name: one.name.clone(),
        there: one.there.words().unwrap_or_default(),
    };
    drill.dialled.iter().map(of_one).collect()
}

fn stations(setup: &Setup) -> Vec<StationPlan> {
    let place = |at: usize| setup.compiled.spec.places.get(at).map_or("", |place| &place.title).to_owned();
    let of_one = |station: &deadship_run::drill::Station| StationPlan {
        name: station.name.clone(),
        title: station.title.clone(),
        start: station.start.map(place).unwrap_or_default(),
        covers: station.covers.iter().map(|&at| place(at)).collect(),
        seats: station.seats,
        card: station.card.trim().to_owned(),
    };
    setup.drill.stations.iter().map(of_one).collect()
}

fn steps(setup: &Setup) -> Vec<StepPlan> {
    let drill = &setup.drill;
    let faults = drill.faults.iter().map(|step| {
        let component = &setup.compiled.spec.components[step.component];
        let over = if step.ramp_s > 0.0 { format!(" over {}", time(step.ramp_s)) } else { String::new() };
        StepPlan {
            name: step.name.clone(),
            sort: "fault",
            what: format!(
                "{}.{}, {:.0} %{over}",
                component.name,
                component.kind.faults[step.fault].name,
                100.0 * step.severity
            ),
            comes: when(&step.comes),
            goes: step.goes.as_ref().map(when),
        }
    });
    let messages = drill.messages.iter().map(|message| {
        let to = message.to.as_deref().unwrap_or("all");
        let within = message
            .within_s
            .map_or_else(String::new, |within| format!(", to be reported in {}", time(within)));
        StepPlan {
            name: message.name.clone(),
            sort: if message.order { "order" } else { "message" },
            what: format!("to {to}{within}: {}", message.text.trim()),
            comes: when(&message.comes),
            goes: None,
        }
    });
    faults.chain(messages).chain(asked::steps(drill)).collect()
}

fn expects(drill: &Drill, objective: Option<&String>) -> Vec<ExpectPlan> {
    let of_it = drill.expects.iter().filter(|expect| expect.objective.as_ref() == objective);
    let plan = |expect: &deadship_run::drill::Expect| ExpectPlan {
        name: expect.name.clone(),
        text: expect.text.clone(),
        from: expect.from.as_ref().map(one_line),
        when: one_line(&expect.when),
        within_s: expect.within_s,
    };
    of_it.map(plan).collect()
}

fn procedures(setup: &Setup) -> Vec<ProcedurePlan> {
    let step = |step: &deadship_run::procedure::Step| ProcedureStep {
        name: step.name.clone(),
        station: step.station.clone(),
        title: step.title.clone(),
        acts: step.acts.iter().map(|(typed, _)| typed.clone()).collect(),
    };
    let of_one = |procedure: &deadship_run::procedure::Procedure| ProcedurePlan {
        name: procedure.name.clone(),
        title: procedure.title.clone(),
        error: procedure.error.as_ref().map(|error| error.text.clone()),
        misses: procedure.error.as_ref().map_or_else(Vec::new, |error| error.misses.clone()),
        steps: procedure.steps.iter().map(step).collect(),
    };
    setup.procedures.iter().map(of_one).collect()
}

fn when(trigger: &Trigger) -> When {
    match trigger {
        Trigger::At(seconds) => When::AtS(*seconds),
        Trigger::When(condition) => When::Condition(one_line(condition)),
    }
}

fn one_line(condition: &Condition) -> String {
    condition.text().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A time for people: `90 s`, `2 min`.
fn time(seconds: f64) -> String {
    if seconds >= 60.0 && seconds % 60.0 == 0.0 {
        return format!("{} min", seconds / 60.0);
    }
    format_limit(seconds, Dimension::Time)
}

impl When {
    fn words(&self) -> String {
        match self {
            When::AtS(seconds) => format!("at {}", time(*seconds)),
            When::Condition(text) => format!("when {text}"),
        }
    }
}

#[cfg(test)]
mod tests;
