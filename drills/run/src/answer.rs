//! Answers to questions: what someone can see from where they are.

mod alerts;

pub(crate) use alerts::listed as alerts_in_order;

use crate::condition::word;
use crate::procedure::Procedure;
use crate::run::Run;
use crate::who::{Role, Who};
use crate::words::{Question, WORDS, form_of};
use deadship_plant::TICK_S;
use deadship_plant::file::toml_reader::{matches, nearest};
use deadship_plant::unit::format_si;

/// Most readings in one answer.
const MOST_LINES: usize = 200;

/// The answer, a line each.
pub fn answer(run: &Run, who: &Who, question: &Question) -> Vec<String> {
    match question {
        Question::Read(name) => read(run, who, name),
        Question::Look(name) => look(run, who, name.as_deref()),
        Question::Who => people(run),
        Question::Orders => crate::orders::lines(run),
        Question::Asked => crate::asking::lines(run, who),
        Question::Alerts => alerts::lines(run),
        Question::Procedure(name) => procedure(run, who, name.as_deref()),
        Question::Help(word) => help(word.as_deref()),
    }
}

/// A reading for people: its word, or the quantity.
pub fn show_reading(run: &Run, component: usize, reading: usize) -> String {
    let def = &run.setup.compiled.spec.components[component].kind.readings[reading];
    let value = run.plant.reading(component, reading);
    match def.words {
        [] => format_si(value, def.dimension),
        words => word(words, value).to_owned(),
    }
}

fn read(run: &Run, who: &Who, name: &str) -> Vec<String> {
    let components = &run.setup.compiled.spec.components;
    let mut lines = Vec::new();
    let mut unseen = 0;
    for (c, component) in components.iter().enumerate() {
        for (r, reading) in component.kind.readings.iter().enumerate() {
            let full = format!("{}.{}", component.name, reading.name);
            if component.name != name && !matches(name, &full) {
                continue;
            }
            if run.may_see(who, c, r) {
                lines.push(format!("{full} {}", show_reading(run, c, r)));
            } else {
                unseen += 1;
            }
        }
    }
    if lines.is_empty() && unseen > 0 {
        return vec![format!("{name} cannot be read from where you are")];
    }
    if lines.is_empty() {
        let known = components.iter().map(|c| c.name.as_str());
        let near = nearest(name, known).map_or_else(String::new, |near| format!(" (did you mean {near}?)"));
        return vec![format!("there is no {name} to read{near}")];
    }
    if lines.len() > MOST_LINES {
        lines.truncate(MOST_LINES);
        lines.push("… and more: name them more closely".to_owned());
    }
    lines
}

/// Does a component's name fit what was asked for: a pattern with `*`, or the beginning of a name?
fn fits(wanted: Option<&str>, name: &str) -> bool {
    wanted.is_none_or(
        |wanted| if wanted.contains('*') { matches(wanted, name) } else { name.starts_with(wanted) },
    )
}

/// Everything that can be worked or read at the place of whoever asks.
fn look(run: &Run, who: &Who, wanted: Option<&str>) -> Vec<String> {
    let spec = &run.setup.compiled.spec;
    let at = run.person(who).and_then(|person| person.stands_at(run.tick()));
    if at.is_none() && run.person(who).is_some_and(|person| person.place.is_some()) {
        return vec!["you are walking".to_owned()];
    }
    if at.is_none() && !spec.places.is_empty() {
        return vec!["you stand nowhere: take a station".to_owned()];
    }
    let mut lines: Vec<String> = at.map(|at| format!("{}:", spec.places[at].title)).into_iter().collect();
    for component in &spec.components {
        let here = component.place == at || component.place.is_none();
        let panel = at.is_some_and(|at| component.remote.contains(&at));
        if (!here && !panel) || !fits(wanted, &component.name) {
            continue;
        }
        let mut seen = component.kind.readings.iter().map(|reading| reading.seen);
        let readable = seen.any(|seen| match seen {
            deadship_plant::kind::Seen::Local => here,
            deadship_plant::kind::Seen::Remote => true,
            deadship_plant::kind::Seen::Hidden => false,
        });
        let reach = |reach| here || reach == deadship_plant::kind::Reach::Remote;
        let acts: Vec<String> =
            component.kind.acts.iter().filter(|act| reach(act.reach)).map(form_of).collect();
        if readable || !acts.is_empty() {
            let acts = if acts.is_empty() { String::new() } else { format!("; {}", acts.join(", ")) };
            let panel = if here { "" } else { " (from the panel)" };
            lines.push(format!("  {}  {}{panel}{acts}", component.name, component.title));
        }
    }
    if let (1, Some(wanted)) = (lines.len(), wanted) {
        lines
            .push(format!("  nothing here is named `{wanted}`; `look` alone lists everything at your place"));
    }
    lines
}

fn people(run: &Run) -> Vec<String> {
    let tick = run.tick();
    let left = |until: u64| ((until - tick) as f64 * TICK_S).ceil();
    let mut lines = Vec::new();
    for person in run.state.people.values() {
        let place = person.place.map_or("nowhere", |place| run.setup.place_name(place));
        let doing = if person.arrives_tick > tick {
            format!("walking to {place}, {} s more", left(person.arrives_tick))
        } else if person.busy_until_tick > tick {
            format!("at {place}, busy for {} s more", left(person.busy_until_tick))
        } else {
            format!("at {place}")
        };
        lines.push(format!("{}: {doing}", run.known(&person.who)));
    }
    if lines.is_empty() { vec!["nobody is aboard yet".to_owned()] } else { lines }
}

fn procedure(run: &Run, who: &Who, name: Option<&str>) -> Vec<String> {
    let all = matches!(who.role(), Role::Instructor | Role::Facilitator);
    let procedures: Vec<&Procedure> =
        run.setup.procedures.iter().filter(|procedure| all || procedure.team_sees).collect();
    let chosen = match (name, procedures.as_slice()) {
        (None, [one]) => Some(one),
        (None, []) => return vec!["there is no procedure for this drill".to_owned()],
        (None, many) => return many.iter().map(|p| format!("{}  {}", p.name, p.title)).collect(),
        (Some(name), many) => many.iter().find(|procedure| procedure.name == name),
    };
    match chosen {
        Some(procedure) => procedure.to_text().lines().map(str::to_owned).collect(),
        None => {
            let known: Vec<&str> = procedures.iter().map(|procedure| procedure.name.as_str()).collect();
            vec![format!("there is no such procedure; there are: {}", known.join(", "))]
        }
    }
}

fn help(word: Option<&str>) -> Vec<String> {
    let known = WORDS.iter().filter(|known| word.is_none_or(|word| known.0 == word));
    let lines: Vec<String> = known.map(|(_, form, doc)| format!("{form:<46} {doc}")).collect();
    if lines.is_empty() { vec!["no such word; `help` lists them".to_owned()] } else { lines }
}
