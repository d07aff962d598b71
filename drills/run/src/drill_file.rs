//! Drill and procedure files: TOML to [`Drill`] and [`Procedure`], every mistake in one pass.

mod acts;
mod asks;
mod circles;
mod objectives;
mod parts;
mod steps;

use crate::condition::{Condition, Names};
use crate::drill::{AIM, About, Drill, HARDEST, Variant};
use crate::objective::Objective;
use crate::opening::{Opening, TextFile};
use crate::procedure::Procedure;
use deadship_plant::file::toml_reader::{At, Field, Learned, Problems, Reader, Spot};
use deadship_plant::plant::Compiled;
use deadship_plant::spec::Problem;
use deadship_plant::unit::Dimension;
use std::collections::BTreeMap;

/// The newest format of drill and procedure files that is read.
pub const FORMAT: i64 = 1;

/// Longest time in a drill, s: a day.
const LONGEST_S: f64 = 86_400.0;

/// Longest time to settle, s: opening waits for it, a team for each run of its class.
const LONGEST_SETTLE_S: f64 = 600.0;

/// What is passed along while reading.
struct Desk<'a> {
    problems: &'a Problems,
    compiled: &'a Compiled,
    dones: Vec<String>,
    decisions: Vec<(String, Vec<String>)>,
    /// What the drill can turn out to be, and what it is in this run.
    variants: Vec<Variant>,
    variant: Option<usize>,
    /// Names of the procedures that are read with it.
    procedures: Vec<String>,
}

/// The name of the ship that a drill file names; `None` when it cannot be found out.
pub fn ship_of(text: &str) -> Option<String> {
    glance(text, "drill", |head| Some(head.get("ship")?.text()?.value))
}

/// Why no ship could be found out from a drill file: what is wrong with it as TOML, or that it names none.
pub fn without_ship(file: &TextFile) -> Vec<Problem> {
    let problems = Problems::new(&[(file.name.clone(), file.text.clone())]);
    for document in problems.parse().iter().flatten() {
        let root = document.root(&problems);
        match root.get("drill") {
            Some(field) => {
                let ship = field.table("a drill").and_then(|head| head.need("ship"));
                ship.and_then(|ship| ship.text());
            }
            None => problems.report(root.spot(), "the file has no `[drill]`"),
        }
    }
    problems.sorted()
}

/// Names of the start states that a drill file adds to those of its ship.
pub(crate) fn own_states(text: &str) -> Vec<String> {
    let problems = Problems::new(&[(String::new(), text.to_owned())]);
    let documents = problems.parse();
    let states = documents.iter().flatten().flat_map(|file| file.root(&problems).tables("state", "a state"));
    states.filter_map(|state| Some(state.get("name")?.text()?.value)).collect()
}

/// The seed that a drill file gives.
pub fn seed_of(text: &str) -> Option<u64> {
    glance(text, "drill", |head| Some(head.get("seed")?.whole(0, i64::MAX)?.value as u64))
}

/// The name of the drill that a procedure file names.
pub fn drill_of(text: &str) -> Option<String> {
    glance(text, "procedure", |head| Some(head.get("drill")?.text()?.value))
}

/// What a drill file says about what is marked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Outline {
    /// Title of the drill.
    pub title: String,
    /// What it is about.
    pub aim: Option<String>,
    /// Name and text of what is expected, in order.
    pub expects: Vec<(String, String)>,
    /// Objectives, in order.
    pub objectives: Vec<Objective>,
    /// Expectation and the objective that it belongs to.
    pub objective_of: Vec<(String, String)>,
}

/// What a drill file says about what is marked, without looking at its ship: for reports.
pub fn outline(text: &str) -> Outline {
    let problems = Problems::new(&[(String::new(), text.to_owned())]);
    let documents = problems.parse();
    let Some(root) = documents.first().and_then(|document| Some(document.as_ref()?.root(&problems))) else {
        return Outline::default();
    };
    let text_of = |table: &Reader<'_>, key: &str| table.get(key).and_then(|field| Some(field.text()?.value));
    let head = root.table("drill", "a drill");
    let aim = root.table("aim", "an aim");
    let expects = root.tables("expect", "an expectation");
    let objectives = root.tables("objective", "an objective");
    Outline {
        objectives: objectives.iter().filter_map(objectives::glance).collect(),
        objective_of: expects
            .iter()
            .filter_map(|table| Some((text_of(table, "name")?, text_of(table, "objective")?)))
            .collect(),
        title: head.and_then(|head| text_of(&head, "title")).unwrap_or_default(),
        aim: aim.map(|aim| text_of(&aim, "text").unwrap_or_default()),
        expects: expects
            .iter()
            .filter_map(|table| {
                let name = text_of(table, "name")?;
                let text = text_of(table, "text").unwrap_or_else(|| name.clone());
                Some((name, text))
            })
            .collect(),
    }
}

/// One value of the head of a file; what is wrong with it is said when it is read.
fn glance<T>(text: &str, head: &str, look: impl Fn(&Reader<'_>) -> Option<T>) -> Option<T> {
    let problems = Problems::new(&[(String::new(), text.to_owned())]);
    let documents = problems.parse();
    let root = documents.first()?.as_ref()?.root(&problems);
    let head = root.table(head, head)?;
    look(&head)
}

/// Reads the drill and the procedures of an opening, against the ship.
///
/// # Errors
/// Everything that is wrong with them, sorted by position.
pub(crate) fn read(opening: &Opening, compiled: &Compiled) -> Result<(Drill, Vec<Procedure>), Vec<Problem>> {
    let problems = Problems::new(&files_of(opening));
    match read_all(&problems, opening, compiled) {
        (Some(drill), procedures) if !problems.any() => Ok((drill, procedures)),
        _ => Err(problems.sorted()),
    }
}

/// What the readers of drills and procedures ask of the files of an opening.
pub fn learn(opening: &Opening, compiled: &Compiled) -> Learned {
    let problems = Problems::learning(&files_of(opening));
    read_all(&problems, opening, compiled);
    problems.learned()
}

fn files_of(opening: &Opening) -> Vec<(String, String)> {
    let files = std::iter::once(&opening.drill_file).chain(&opening.procedures);
    files.map(|file| (file.name.clone(), file.text.clone())).collect()
}

fn read_all(problems: &Problems, opening: &Opening, compiled: &Compiled) -> (Option<Drill>, Vec<Procedure>) {
    let documents = problems.parse();
    let procedures = opening.procedures.iter().map(|file| file.stem().to_owned()).collect();
    let mut desk = Desk {
        problems,
        compiled,
        dones: Vec::new(),
        decisions: Vec::new(),
        variants: Vec::new(),
        variant: None,
        procedures,
    };
    let mut roots = documents.iter().map(|document| document.as_ref().map(|d| d.root(problems)));
    let drill = roots.next().flatten().filter(|root| root.format(FORMAT)).and_then(|root| {
        let drill = desk.read_drill(opening, &root);
        root.finish();
        drill
    });
    let procedures = desk.read_procedures(opening, roots.collect(), drill.as_ref());
    (drill, procedures)
}

impl<'a> Desk<'a> {
    fn read_drill(&mut self, opening: &Opening, root: &Reader<'a>) -> Option<Drill> {
        let expects = root.tables("expect", "an expectation");
        self.dones = expects.iter().filter_map(|table| Some(table.get("name")?.text()?.value)).collect();
        self.dones.push(AIM.to_owned());
        let decisions = root.tables("decision", "a decision");
        self.decisions = self.glance_at_decisions(&decisions);
        self.variants = self.read_variants(&root.tables("variant", "a variant"));
        self.variant = chosen(opening.seed, self.variants.len());
        let stations = self.read_stations(&root.tables("station", "a station"));
        let station_names: Vec<String> = stations.iter().map(|station| station.name.clone()).collect();
        let mut names = StepNames::default();
        let faults = self.read_faults(&root.tables("fault", "a fault"), &mut names);
        let messages = self.read_messages(&root.tables("message", "a message"), &station_names, &mut names);
        let mut askings = self.read_probes(&root.tables("probe", "a probe"), &station_names, &mut names);
        askings.extend(self.read_decisions(&decisions, &station_names, &mut names));
        let aim = root.table("aim", "an aim").and_then(|table| self.read_aim(&table));
        let objectives = self.read_objectives(&root.tables("objective", "an objective"));
        self.check_variants(root);
        let tables = expects;
        let expects = self.read_expects(&tables, &objectives);
        self.check_circles(&tables, &expects, aim.as_ref());
        let Some(head) = root.table("drill", "a drill") else {
            self.problems.report(root.spot(), "the file has no `[drill]`");
            return None;
        };
        let title = self.need_text(&head, "title");
        let ship = head.need("ship").and_then(|field| field.text());
        if let Some(ship) = ship.as_ref().filter(|ship| ship.value != opening.ship) {
            let message = format!("the drill is for the ship `{}`, not `{}`", ship.value, opening.ship);
            self.problems.report(ship.spot, message);
        }
        let start = head.get("start").and_then(|field| field.text());
        if let Some(start) = &start {
            self.check_start(start);
        }
        let drill = Drill {
            name: opening.drill.clone(),
            title,
            ship: ship.map_or_else(String::new, |ship| ship.value),
            start: start.map(|start| start.value),
            settle_s: self.time_within(&head, "settle", LONGEST_SETTLE_S).unwrap_or(0.0),
            limit_s: self.time(&head, "limit"),
            seed: head
                .get("seed")
                .and_then(|field| field.whole(0, i64::MAX))
                .map_or(0, |seed| seed.value as u64),
            brief: self.need_text(&head, "brief"),
            safety: self.text(&head, "safety"),
            stations,
            faults,
            messages,
            askings,
            aim,
            expects,
            objectives,
            team_sees_ratings: head
                .get("team-sees-ratings")
                .and_then(|field| field.flag())
                .is_some_and(|sees| sees.value),
            about: self.read_about(&head),
            variants: self.variants.clone(),
            variant: self.variant,
        };
        head.finish();
        // Those are read with the ship.
        root.also_known(["state"]);
        Some(drill)
    }

    fn read_about(&self, head: &Reader<'a>) -> About {
        let texts = |key: &str| {
            let written = head.get(key).and_then(|field| field.texts()).unwrap_or_default();
            written.into_iter().map(|text| text.value).collect()
        };
        let difficulty = head.get("difficulty").and_then(|field| field.whole(1, i64::from(HARDEST)));
        About {
            length_s: self.time(head, "length"),
            difficulty: difficulty.map(|level| level.value as u32),
            questions: texts("questions"),
            sources: texts("sources"),
            flood: head.get("flood").and_then(|field| field.flag()).is_some_and(|flood| flood.value),
        }
    }

    fn check_start(&self, start: &At<String>) {
        let states = &self.compiled.spec.states;
        if !states.iter().any(|state| state.name == start.value) {
            let message = format!("the ship has no start state `{}`", start.value);
            self.problems.unknown(start.spot, message, &start.value, states.iter().map(|s| s.name.as_str()));
        }
    }

    fn text(&self, table: &Reader<'a>, key: &str) -> String {
        table.get(key).and_then(|field| field.text()).map_or_else(String::new, |text| text.value)
    }

    fn need_text(&self, table: &Reader<'a>, key: &str) -> String {
        table.need(key).and_then(|field| field.text()).map_or_else(String::new, |text| text.value)
    }

    fn time(&self, table: &Reader<'a>, key: &str) -> Option<f64> {
        self.time_within(table, key, LONGEST_S)
    }

    fn time_within(&self, table: &Reader<'a>, key: &str, longest_s: f64) -> Option<f64> {
        let field = table.get(key)?;
        field.quantity_within(Dimension::Time, 0.0, longest_s).map(|time| time.value)
    }

    fn condition(&self, field: &Field<'a>) -> Option<Condition> {
        let text = field.text()?;
        let names = Names { compiled: self.compiled, dones: &self.dones, decisions: &self.decisions };
        match Condition::new(&text.value, &names) {
            Ok(condition) => Some(condition),
            Err(wrongs) => {
                for wrong in wrongs {
                    let spot = field.spot_within(wrong.at);
                    let message = format!("`{}`: {}", field.key(), wrong.message);
                    match wrong.help {
                        Some(help) => self.problems.report_with_help(spot, message, help),
                        None => self.problems.report(spot, message),
                    }
                }
                None
            }
        }
    }

    /// Component and fault of `component.fault`.
    fn fault(&self, name: &At<String>) -> Option<(usize, usize)> {
        let spec = &self.compiled.spec;
        if let Some(alone) = self.compiled.component(&name.value) {
            let message = format!("`{}` is a component: write a dot and one of its faults", name.value);
            let faults: Vec<&str> =
                spec.components[alone].kind.faults.iter().map(|fault| fault.name).collect();
            self.problems.report_with_help(name.spot, message, format!("it has: {}", faults.join(", ")));
            return None;
        }
        let (component, fault) = name.value.rsplit_once('.').unwrap_or((&name.value, ""));
        let Some(index) = self.compiled.component(component) else {
            let message = format!("there is no component `{component}`");
            let known = spec.components.iter().map(|c| c.name.as_str());
            self.problems.unknown(name.spot, message, component, known);
            return None;
        };
        let kind = spec.components[index].kind;
        let params = &spec.components[index].params;
        let found = kind.faults.iter().position(|known| known.name == fault && known.applies(params));
        if found.is_none() {
            let message = match kind.faults.iter().any(|known| known.name == fault) {
                true => format!("`{component}` has not got what would fail with `{fault}`"),
                false => format!("a {} has no fault `{fault}`", kind.name),
            };
            let known = kind.faults.iter().filter(|known| known.applies(params));
            self.problems.unknown(name.spot, message, fault, known.map(|f| f.name));
        }
        Some((index, found?))
    }

    /// Index of a place.
    fn place(&self, name: &At<String>) -> Option<usize> {
        let places = &self.compiled.spec.places;
        let found = places.iter().position(|place| place.name == name.value);
        if found.is_none() {
            let message = format!("there is no place `{}`", name.value);
            let known = places.iter().map(|place| place.name.as_str());
            self.problems.unknown(name.spot, message, &name.value, known);
        }
        found
    }
}

/// The one of so many that a seed chooses; each is as likely.
fn chosen(seed: u64, of: usize) -> Option<usize> {
    let hash = blake3::hash(&seed.to_le_bytes());
    let mut drawn = [0; 8];
    drawn.copy_from_slice(&hash.as_bytes()[..8]);
    (u64::from_le_bytes(drawn) as usize).checked_rem(of)
}

/// Names of one sort of steps; no two may be the same.
#[derive(Default)]
struct StepNames {
    seen: BTreeMap<String, Spot>,
}

impl StepNames {
    fn read(&mut self, table: &Reader<'_>) -> Option<String> {
        let name = table.need("name")?.text()?;
        let problems = table.problems();
        if name.value.trim().is_empty() || name.value.contains('/') {
            problems.report(
                name.spot,
                format!("`{}` cannot be a name: it must hold something, and no `/`", name.value),
            );
        }
        if let Some(first) = self.seen.insert(name.value.clone(), name.spot) {
            let help = format!("the first is at {}", problems.describe(first));
            problems.report_with_help(name.spot, format!("there is already a `{}`", name.value), help);
        }
        Some(name.value)
    }
}
