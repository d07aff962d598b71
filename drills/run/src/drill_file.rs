//! Drill and procedure files: TOML to [`Drill`] and [`Procedure`], every mistake in one pass.

mod acts;
mod asks;
mod circles;
mod glances;
mod layers;
mod objectives;
mod parts;
mod steps;

pub(crate) use glances::own_states;
pub use glances::{
    Outline, base_of, drill_of, extended_by, of_either, outline, seed_of, ship_of, without_base, without_ship,
};

use crate::condition::{Condition, Names};
use crate::dials::{Dials, Positions};
use crate::drill::{AIM, About, Dialled, Drill, HARDEST, Variant};
use crate::opening::Opening;
use crate::procedure::Procedure;
use deadship_plant::file::toml_reader::{At, Field, Learned, Problems, Reader, Spot};
use deadship_plant::plant::Compiled;
use deadship_plant::spec::Problem;
use deadship_plant::unit::Dimension;
use layers::{Layers, LeftOut, name_of, positions};
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
    /// What `done("…")` knows: first what is expected in this run and the aim, in the order of [`crate::watch::Watch::done`], then
    /// what is expected with other positions of the dials, or is left out.
    dones: Vec<String>,
    decisions: Vec<(String, Vec<String>)>,
    /// Of each of these, what must be known before anything may wait for it.
    expected: Vec<Expected>,
    /// What the drill can turn out to be, and what it is in this run.
    variants: Vec<Variant>,
    variant: Option<usize>,
    /// Names of the procedures that are read with it.
    procedures: Vec<String>,
    dials: Dials,
    /// What is left out of the drill that this one extends.
    left_out: Vec<LeftOut>,
    /// Of each file: is it one that is extended?
    is_extended: Vec<bool>,
}

/// With which positions of the dials something is expected, and where it is left out.
struct Expected {
    there: Positions,
    left_out: Option<Spot>,
}

/// Reads the drill and the procedures of an opening, against the ship.
///
/// # Errors
/// Everything that is wrong with them, sorted by position.
pub(crate) fn read(opening: &Opening, compiled: &Compiled) -> Result<(Drill, Vec<Procedure>), Vec<Problem>> {
    let (files, is_extended): (Vec<_>, Vec<_>) = files_of(opening).into_iter().unzip();
    let problems = Problems::new(&files);
    match read_all(&problems, opening, compiled, is_extended) {
        (Some(drill), procedures) if !problems.any() => Ok((drill, procedures)),
        _ => Err(problems.sorted()),
    }
}

/// What the readers of drills and procedures ask of the files of an opening.
pub fn learn(opening: &Opening, compiled: &Compiled) -> Learned {
    let (files, is_extended): (Vec<_>, Vec<_>) = files_of(opening).into_iter().unzip();
    let problems = Problems::learning(&files);
    read_all(&problems, opening, compiled, is_extended);
    problems.learned()
}

/// Name and text of a file, and whether it is one that is extended.
type Written = ((String, String), bool);

/// The drill, the one that it extends, the procedures, those that they extend of the other drill.
fn files_of(opening: &Opening) -> Vec<Written> {
    let base = || opening.base.iter();
    let own = std::iter::once((&opening.drill_file, false));
    let files = own
        .chain(base().map(|base| (&base.drill_file, true)))
        .chain(opening.procedures.iter().map(|file| (file, false)))
        .chain(base().flat_map(|base| &base.procedures).map(|file| (file, true)));
    files.map(|(file, is_extended)| ((file.name.clone(), file.text.clone()), is_extended)).collect()
}

fn read_all(
    problems: &Problems,
    opening: &Opening,
    compiled: &Compiled,
    is_extended: Vec<bool>,
) -> (Option<Drill>, Vec<Procedure>) {
    let documents = problems.parse();
    let procedures = opening.procedures.iter().map(|file| file.stem().to_owned()).collect();
    let mut desk = Desk {
        problems,
        compiled,
        dones: Vec::new(),
        decisions: Vec::new(),
        expected: Vec::new(),
        variants: Vec::new(),
        variant: None,
        procedures,
        dials: opening.dials,
        left_out: Vec::new(),
        is_extended,
    };
    let mut roots = documents.iter().map(|document| {
        let root = document.as_ref()?.root(problems);
        root.format(FORMAT).then_some(root)
    });
    let own = roots.next().flatten();
    let base = opening.base.as_ref().map(|_| roots.next().flatten());
    let layers = match (own, base) {
        (Some(own), None) => Some((own, None)),
        (Some(own), Some(Some(base))) => Some((own, Some(base))),
        // What is wrong with the other file has been told, and would be told again of this one.
        _ => None,
    };
    let drill = layers.and_then(|(own, base)| {
        check_extends(problems, &opening.drill, &own, base.as_ref());
        let layers = Layers::new(own, base);
        let drill = desk.read_drill(opening, &layers);
        // States are read with the ship.
        layers.finish(&["state"]);
        drill
    });
    let own = opening.procedures.len();
    let roots: Vec<Option<Reader<'_>>> = roots.collect();
    let (own, of_base) = roots.split_at(own.min(roots.len()));
    let procedures = desk.read_procedures(opening, own, of_base, drill.as_ref());
    (drill, procedures)
}

/// `extends`: another drill, that extends none itself.
fn check_extends(problems: &Problems, name: &str, own: &Reader<'_>, base: Option<&Reader<'_>>) {
    let extends = |root: &Reader<'_>| root.table("drill", "a drill")?.get("extends")?.text();
    let Some(named) = extends(own) else { return };
    let Some(base) = base else {
        let message = format!("there is no drill `{}` to extend", named.value);
        return problems.report(named.spot, message);
    };
    if named.value == name {
        return problems.report(named.spot, "a drill cannot extend itself");
    }
    if let Some(other) = extends(base) {
        let message =
            format!("`{}` extends `{}`: one that is extended extends none itself", named.value, other.value);
        let help = format!("extend `{}`, and write what else you need here", other.value);
        problems.report_with_help(named.spot, message, help);
    }
}

impl<'a> Desk<'a> {
    fn read_drill(&mut self, opening: &Opening, root: &Layers<'a>) -> Option<Drill> {
        self.left_out = root.left_out().to_vec();
        let expects = root.tables("expect", "an expectation");
        self.know_expected(&expects);
        self.variants = self.read_variants(&root.tables("variant", "a variant"));
        self.variant = drawn(opening.seed, self.variants.len());
        let decisions = root.tables("decision", "a decision");
        self.decisions = self.glance_at_decisions(&decisions);
        let stations = self.read_stations(&root.tables("station", "a station"));
        let station_names: Vec<String> = stations.iter().map(|station| station.name.clone()).collect();
        let mut names = StepNames::default();
        let (faults, messages) = (root.tables("fault", "a fault"), root.tables("message", "a message"));
        let probes = root.tables("probe", "a probe");
        let dialled = dialled(&[
            ("fault", &faults),
            ("message", &messages),
            ("probe", &probes),
            ("decision", &decisions),
            ("expect", &expects),
        ]);
        let faults = self.read_faults(&faults, &mut names);
        let messages = self.read_messages(&messages, &station_names, &mut names);
        let mut askings = self.read_probes(&probes, &station_names, &mut names);
        askings.extend(self.read_decisions(&decisions, &station_names, &mut names));
        let aim = root.table("aim", "an aim", &[]).and_then(|table| self.read_aim(&table));
        let objectives = self.read_objectives(&root.tables("objective", "an objective"));
        self.check_variants(root);
        let tables = expects;
        let expects = self.read_expects(&tables, &objectives);
        self.check_circles(&tables, &expects, aim.as_ref());
        let Some(head) = root.head() else {
            self.problems.report(root.spot(), "the file has no `[drill]`");
            return None;
        };
        let title = self.need_text(&head, "title");
        let ship = self.read_ship_name(&head, opening);
        let start = head.get("start").and_then(|field| field.text());
        if let Some(start) = &start {
            self.check_start(start);
        }
        let drill = Drill {
            name: opening.drill.clone(),
            title,
            ship,
            start: start.map(|start| start.value),
            settle_s: self.time_within(&head, "settle", LONGEST_SETTLE_S).unwrap_or(0.0),
            limit_s: self.time(&head, "limit"),
            seed: self.seed(&head),
            brief: self.need_text(&head, "brief"),
            safety: self.text(&head, "safety"),
            stations,
            faults,
            messages,
            askings,
            aim,
            expects,
            objectives,
            team_sees_ratings: self.is_set(&head, "team-sees-ratings"),
            about: self.read_about(&head),
            variants: self.variants.clone(),
            variant: self.variant,
            dials: self.dials,
            dialled,
        };
        // Checked before anything else is read.
        head.also_known(["extends", "without"]);
        head.finish();
        Some(drill)
    }

    fn is_set(&self, head: &Reader<'a>, key: &str) -> bool {
        head.get(key).and_then(|field| field.flag()).is_some_and(|flag| flag.value)
    }

    fn seed(&self, head: &Reader<'a>) -> u64 {
        let seed = head.get("seed").and_then(|field| field.whole(0, i64::MAX));
        seed.map_or(0, |seed| seed.value as u64)
    }

    /// The ship that it names, which must be the one that it is opened with.
    fn read_ship_name(&self, head: &Reader<'a>, opening: &Opening) -> String {
        let Some(ship) = head.need("ship").and_then(|field| field.text()) else { return String::new() };
        if ship.value != opening.ship {
            let message = format!("the drill is for the ship `{}`, not `{}`", ship.value, opening.ship);
            self.problems.report(ship.spot, message);
        }
        ship.value
    }

    /// What `done("…")` knows.
    fn know_expected(&mut self, expects: &[Reader<'a>]) {
        let known = expects.iter().filter_map(|table| Some((name_of(table)?, positions(table))));
        let (now, otherwise): (Vec<_>, Vec<_>) = known.partition(|(_, there)| there.hold(self.dials));
        let aim = (AIM.to_owned(), Positions::ALL);
        for (name, there) in now.into_iter().chain([aim]).chain(otherwise) {
            self.dones.push(name);
            self.expected.push(Expected { there, left_out: None });
        }
        for out in self.left_out.iter().filter(|out| out.list == "expect") {
            self.dones.push(out.name.value.clone());
            self.expected.push(Expected { there: Positions::ALL, left_out: Some(out.name.spot) });
        }
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
        self.condition_of(field, &Positions::ALL)
    }

    /// A condition of something that is there with these positions of the dials.
    fn condition_of(&self, field: &Field<'a>, there: &Positions) -> Option<Condition> {
        let text = field.text()?;
        let names = Names { compiled: self.compiled, dones: &self.dones, decisions: &self.decisions };
        match Condition::new(&text.value, &names) {
            Ok(condition) => {
                condition.dones().for_each(|done| self.check_waiting(done, field, there));
                Some(condition)
            }
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

    /// What is waited for must be expected wherever what waits for it is there.
    fn check_waiting(&self, done: usize, field: &Field<'a>, there: &Positions) {
        let (name, expected, spot) = (&self.dones[done], &self.expected[done], field.spot());
        if let Some(left_out) = expected.left_out {
            let message = match self.is_of_extended(spot) {
                true => format!("`{name}` cannot be left out: {} waits for it", self.problems.describe(spot)),
                false => {
                    return field.report(&format!("it waits for `{name}`, which is left out"));
                }
            };
            self.problems.report(left_out, message);
        } else if let Some(dials) = there.beyond(&expected.there) {
            let message = format!(
                "`{}`: it waits for `{name}`, which is not expected with {}",
                field.key(),
                dials.words()
            );
            let help = format!(
                "give both the same positions of the dials, or wait for something else than `{name}`"
            );
            self.problems.report_with_help(spot, message, help);
        }
    }

    /// Puts on the list that a name of the drill is not known: where it is left out, if it was known without that.
    fn unknown<'k>(
        &self,
        list: &str,
        name: &At<String>,
        message: String,
        known: impl IntoIterator<Item = &'k str>,
    ) {
        let is_it = |out: &&LeftOut| out.list == list && out.name.value == name.value;
        match self.left_out.iter().find(is_it).filter(|_| self.is_of_extended(name.spot)) {
            Some(out) => {
                let place = self.problems.describe(name.spot);
                let message = format!("`{}` cannot be left out: {place} names it", name.value);
                self.problems.report(out.name.spot, message);
            }
            None => {
                self.problems.unknown(name.spot, message, &name.value, known);
            }
        }
    }

    /// Does it stand in a file that is extended?
    fn is_of_extended(&self, spot: Spot) -> bool {
        self.is_extended.get(spot.pos.file as usize).copied().unwrap_or(false)
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

/// What depends on the dials.
fn dialled(lists: &[(&'static str, &Vec<Reader<'_>>)]) -> Vec<Dialled> {
    let all = lists.iter().flat_map(|(sort, tables)| tables.iter().map(move |table| (*sort, table)));
    let of_one = |(sort, table): (&'static str, &Reader<'_>)| {
        Some(Dialled { sort, name: name_of(table)?, there: positions(table) })
    };
    all.filter_map(of_one).filter(|one| one.there != Positions::ALL).collect()
}

/// The one of so many that a seed chooses; each is as likely.
pub(crate) fn drawn(seed: u64, of: usize) -> Option<usize> {
    let hash = blake3::hash(&seed.to_le_bytes());
    let mut drawn = [0; 8];
    drawn.copy_from_slice(&hash.as_bytes()[..8]);
    (u64::from_le_bytes(drawn) as usize).checked_rem(of)
}

/// The lowest seed from 1 that draws one of so many variants.
pub fn seed_of_variant(variant: usize, of: usize) -> Option<u64> {
    // Each comes about once in `of`, so that all have come long before this.
    (1..10_000).find(|seed| drawn(*seed, of) == Some(variant))
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
