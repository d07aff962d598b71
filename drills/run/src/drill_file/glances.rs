//! What is known of a drill or procedure file at a glance, before its ship is: names of other files, and what reports say.

use super::layers::{Layers, positions};
use super::{check_extends, files_of, objectives};
use crate::objective::Objective;
use crate::opening::{Opening, TextFile};
use deadship_plant::file::toml_reader::{Problems, Reader};
use deadship_plant::spec::Problem;

/// The name of the ship that a drill file names; `None` when it cannot be found out.
pub fn ship_of(text: &str) -> Option<String> {
    glance(text, "drill", |head| Some(head.get("ship")?.text()?.value))
}

/// Why no ship could be found out from a drill file and the one that it extends: what is wrong with them as TOML, that one
/// cannot extend the other, or that neither names a ship.
pub fn without_ship(file: &TextFile, base: Option<&TextFile>) -> Vec<Problem> {
    let files = std::iter::once(file).chain(base);
    let files: Vec<(String, String)> = files.map(|file| (file.name.clone(), file.text.clone())).collect();
    let problems = Problems::new(&files);
    let documents = problems.parse();
    let mut roots = documents.iter().map(|document| Some(document.as_ref()?.root(&problems)));
    if let Some(own) = roots.next().flatten() {
        let base = roots.next().flatten();
        check_extends(&problems, file.stem(), &own, base.as_ref());
        match own.get("drill") {
            Some(field) if !problems.any() => {
                let base = base.and_then(|base| base.table("drill", "a drill"));
                let head = field.table("a drill").map(|head| match base {
                    Some(base) => head.over(base, &[]),
                    None => head,
                });
                head.and_then(|head| head.need("ship")).and_then(|ship| ship.text());
            }
            Some(_) => {}
            None => problems.report(own.spot(), "the file has no `[drill]`"),
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

/// The name of the drill that a drill file extends.
pub fn base_of(text: &str) -> Option<String> {
    glance(text, "drill", |head| Some(head.get("extends")?.text()?.value))
}

/// The name of the procedure that a procedure file extends.
pub fn extended_by(text: &str) -> Option<String> {
    glance(text, "procedure", |head| Some(head.get("extends")?.text()?.value))
}

/// What a drill's file says, else what that of the drill says that it extends.
pub fn of_either<T>(own: &TextFile, base: Option<&TextFile>, look: impl Fn(&str) -> Option<T>) -> Option<T> {
    look(&own.text).or_else(|| look(&base?.text))
}

/// That the drill that a file extends is not known, where it says so.
pub fn without_base<'k>(file: &TextFile, known: impl IntoIterator<Item = &'k str>) -> Vec<Problem> {
    let problems = Problems::new(&[(file.name.clone(), file.text.clone())]);
    for document in problems.parse().iter().flatten() {
        let head = document.root(&problems).table("drill", "a drill");
        if let Some(name) = head.and_then(|head| head.get("extends")?.text()) {
            let message = format!("there is no drill `{}` to extend", name.value);
            problems.unknown(name.spot, message, &name.value, known);
            break;
        }
    }
    problems.sorted()
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

/// What the drill of a run says about what is marked, without looking at its ship: for reports.
pub fn outline(opening: &Opening) -> Outline {
    let files: Vec<(String, String)> = files_of(opening).into_iter().map(|(file, _)| file).collect();
    let of_drills = if opening.base.is_some() { 2 } else { 1 };
    let problems = Problems::new(&files[..of_drills]);
    let documents = problems.parse();
    let mut roots = documents.iter().map(|document| Some(document.as_ref()?.root(&problems)));
    let Some(own) = roots.next().flatten() else { return Outline::default() };
    let layers = Layers::new(own, roots.next().flatten());
    let text_of = |table: &Reader<'_>, key: &str| table.get(key).and_then(|field| Some(field.text()?.value));
    let aim = layers.table("aim", "an aim", &[]);
    let mut expects = layers.tables("expect", "an expectation");
    expects.retain(|table| positions(table).hold(opening.dials));
    let objectives = layers.tables("objective", "an objective");
    Outline {
        objectives: objectives.iter().filter_map(objectives::glance).collect(),
        objective_of: expects
            .iter()
            .filter_map(|table| Some((text_of(table, "name")?, text_of(table, "objective")?)))
            .collect(),
        title: layers.head().and_then(|head| text_of(&head, "title")).unwrap_or_default(),
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
