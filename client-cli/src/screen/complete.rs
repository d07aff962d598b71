//! Completion of the command line, from the ship's drawing and from how things stand.

use super::model::Model;
use crate::online::TEACH_WORDS;
use deadship_run::words::WORDS;

/// Words of a screen itself, with what they do.
pub(crate) const OWN_WORDS: [(&str, &str, &str); 2] = [
    ("trend", "trend NAME", "keep the course of a reading, or no more"),
    ("quit", "quit", "leave; your seat is kept"),
];

/// Words of the instructor's screen that go to no run.
const CLASS_WORDS: [&str; 7] = ["again", "all", "drills", "for", "hand", "runs", "use"];

/// What can be said of a class that is opened, besides its teams.
const OPEN_WORDS: [&str; 5] = ["difficulty=high", "difficulty=low", "hold=no", "stress=high", "stress=low"];

/// Names that stand in no drawing.
#[derive(Clone, Debug, Default)]
pub(crate) struct Names {
    /// Stations of the drill.
    pub(crate) stations: Vec<String>,
    /// Teams that someone who runs the class knows, also those whose run is over.
    pub(crate) teams: Vec<String>,
    /// Drills of the server.
    pub(crate) drills: Vec<String>,
}

/// Is a word, by what is said of it, for those who run the class alone?
pub(crate) fn is_directing(doc: &str) -> bool {
    doc.contains("(instructor")
}

/// Completions of the last word of what is typed, in order.
pub(crate) fn candidates(model: &Model, names: &Names, typed: &str) -> Vec<String> {
    let begun = typed.rsplit(' ').next().unwrap_or_default().to_lowercase();
    let before: Vec<&str> = typed[..typed.len() - begun.len()].split_whitespace().collect();
    let mut all = match before.as_slice() {
        [] => words(model),
        [word] => second(model, names, word),
        ["set", component] => settings(model, component),
        ["set", component, setting] => values(model, component, setting),
        ["rate", objective] => levels(model, objective),
        ["open", drill, ..] if model.sees_all && names.drills.iter().any(|known| known == drill) => {
            OPEN_WORDS.map(str::to_owned).to_vec()
        }
        ["all", rest @ ..] if model.sees_all => return candidates(model, names, &after(rest, &begun)),
        [.., "to"] => names.stations.iter().map(|station| format!("{station}:")).collect(),
        _ => Vec::new(),
    };
    all.retain(|one| one.to_lowercase().starts_with(&begun));
    all.dedup();
    all
}

/// A line once more without its first word.
fn after(rest: &[&str], begun: &str) -> String {
    rest.iter().copied().chain([begun]).collect::<Vec<_>>().join(" ")
}

fn words(model: &Model) -> Vec<String> {
    let words = WORDS.iter().chain(&OWN_WORDS).filter(|known| model.sees_all || !is_directing(known.2));
    let class = CLASS_WORDS.iter().filter(|_| model.sees_all);
    words.map(|known| known.0).chain(class.copied()).map(str::to_owned).collect()
}

/// Words of an objective's scale, the lowest first.
fn levels(model: &Model, objective: &str) -> Vec<String> {
    let objectives = model.chart.iter().flat_map(|chart| &chart.objectives);
    objectives.filter(|known| known.name == objective).flat_map(|known| known.levels.clone()).collect()
}

/// What comes second where no drawing is needed.
fn of_class(names: &Names, word: &str) -> Vec<String> {
    match word {
        "open" => names.drills.clone(),
        "use" => names.teams.clone(),
        // One word is read as the team's name.
        "again" => names.teams.iter().filter(|team| !team.contains(' ')).cloned().collect(),
        "for" => names.teams.iter().map(|team| format!("{team}:")).collect(),
        _ => Vec::new(),
    }
}

fn second(model: &Model, names: &Names, word: &str) -> Vec<String> {
    let mut all = if model.sees_all { of_class(names, word) } else { Vec::new() };
    all.extend(of_run(model, &names.stations, word));
    all
}

fn of_run(model: &Model, stations: &[String], word: &str) -> Vec<String> {
    let Some(chart) = &model.chart else { return Vec::new() };
    let names = |fits: &dyn Fn(usize) -> bool| {
        let fitting = (0..chart.components.len()).filter(|&component| fits(component));
        fitting.map(|component| chart.components[component].name.clone()).collect()
    };
    match word {
        "open" | "close" | "start" | "stop" | "reset" | "blow-clear" | "vent" | "set" => {
            names(&|component| {
                let can = chart.kind(component).acts.iter().any(|act| act.verb == word);
                can && model.reach(component).is_some()
            })
        }
        "read" | "look" => names(&|component| model.reach(component).is_some()),
        "watch" => names(&|_| true),
        "go" => chart.places.iter().map(|place| place.name.clone()).collect(),
        "station" | "free" => stations.to_vec(),
        "order" => stations.iter().cloned().chain(["all".to_owned()]).map(|to| format!("{to}:")).collect(),
        "ack" => {
            let waiting = model.situation.alerts.iter().filter(|alert| alert.waits);
            ["all".to_owned()].into_iter().chain(waiting.map(|alert| alert.number.to_string())).collect()
        }
        "shelve" | "unshelve" => model.situation.alerts.iter().map(|alert| alert.alert.clone()).collect(),
        "repeat" | "report" => model.situation.orders.iter().map(|order| order.number.to_string()).collect(),
        "tick" | "skip" => {
            chart.lists.iter().flat_map(|list| list.steps.iter().map(|step| step.name.clone())).collect()
        }
        "procedure" => chart.lists.iter().map(|list| list.name.clone()).collect(),
        "help" => words(model),
        "rate" => chart.objectives.iter().map(|objective| objective.name.clone()).collect(),
        "trend" => model.readings.keys().cloned().collect(),
        "fault" => (0..chart.components.len()).flat_map(|component| faults(model, component)).collect(),
        "lift" => model.situation.faults.iter().map(|fault| fault.name.clone()).collect(),
        _ => Vec::new(),
    }
}

/// Every fault of a component, by full name.
pub(crate) fn faults(model: &Model, component: usize) -> Vec<String> {
    let Some(chart) = &model.chart else { return Vec::new() };
    let known = &chart.components[component];
    let faults = chart.kind(component).faults.iter().enumerate();
    let had = faults.filter(|(index, _)| !known.spared.contains(index));
    had.map(|(_, fault)| format!("{}.{}", known.name, fault.name)).collect()
}

fn settings(model: &Model, component: &str) -> Vec<String> {
    let Some((chart, index)) =
        model.chart.as_ref().and_then(|chart| Some((chart, chart.component(component)?)))
    else {
        return Vec::new();
    };
    chart.kind(index).acts.iter().filter(|act| act.verb == "set").map(|act| act.setting.clone()).collect()
}

fn values(model: &Model, component: &str, setting: &str) -> Vec<String> {
    let Some((chart, index)) =
        model.chart.as_ref().and_then(|chart| Some((chart, chart.component(component)?)))
    else {
        return Vec::new();
    };
    let acts = chart.kind(index).acts.iter();
    acts.filter(|act| act.setting == setting).flat_map(|act| act.words.clone()).collect()
}

/// What is typed with its last word completed as far as it is plain; and the candidates, when there are several.
pub(crate) fn complete(typed: &str, candidates: &[String]) -> (String, Vec<String>) {
    let head = &typed[..typed.rfind(' ').map_or(0, |at| at + 1)];
    match candidates {
        [] => (typed.to_owned(), Vec::new()),
        [one] => (format!("{head}{one} "), Vec::new()),
        many => {
            let mut common = many[0].clone();
            for other in many {
                while !other.starts_with(&common) {
                    common.pop();
                }
            }
            let longer = common.len() > typed.len() - head.len();
            let text = if longer { format!("{head}{common}") } else { typed.to_owned() };
            (text, many.to_vec())
        }
    }
}

/// How the word being typed is written, and what it does; or what is meant, perhaps.
pub(crate) fn form(typed: &str, sees_all: bool) -> Option<String> {
    let word = typed.split_whitespace().next()?;
    let is_of_class = |known: &&&str| sees_all && **known == word;
    if CLASS_WORDS.iter().find(is_of_class).is_some()
        && let Some((form, doc)) = TEACH_WORDS.iter().find(|(form, _)| form.split(' ').next() == Some(word))
    {
        return Some(format!("{form}: {doc}"));
    }
    let known = || WORDS.iter().chain(&OWN_WORDS);
    if let Some((_, form, doc)) = known().find(|known| known.0 == word) {
        return Some(format!("{form}: {doc}"));
    }
    if !typed.contains(' ') {
        return None;
    }
    let near = deadship_plant::file::toml_reader::nearest(word, known().map(|known| known.0))?;
    Some(format!("`{word}` is no word here; did you mean `{near}`?"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_plain_is_completed_and_what_is_not_is_listed() {
        let two = ["open".to_owned(), "order".to_owned()];
        assert_eq!(complete("o", &two), ("o".to_owned(), two.to_vec()));
        assert_eq!(complete("op", &two[..1]), ("open ".to_owned(), Vec::new()));
        let names = ["dg1.pump".to_owned(), "dg1.priming".to_owned()];
        assert_eq!(complete("start dg", &names).0, "start dg1.p");
        assert_eq!(complete("start x", &[]).0, "start x");
    }

    #[test]
    fn a_wrong_word_is_hinted_at() {
        assert_eq!(
            form("opne valve", false),
            Some("`opne` is no word here; did you mean `open`?".to_owned())
        );
        assert!(form("ack 3", false).is_some_and(|text| text.starts_with("ack NUMBER")));
        assert_eq!(form("opn", false), None);
    }

    #[test]
    fn without_a_drawing_only_words_are_known() {
        let model = Model::default();
        let nothing = Names::default();
        assert!(candidates(&model, &nothing, "st").contains(&"station".to_owned()));
        assert!(candidates(&model, &nothing, "fau").is_empty());
        let names = Names { stations: vec!["engine".to_owned()], ..nothing };
        assert!(candidates(&model, &names, "say to e").contains(&"engine:".to_owned()));
    }

    #[test]
    fn teams_and_drills_are_known_to_those_who_run_the_class_alone() {
        let teams = vec!["Red".to_owned(), "Red again".to_owned(), "Blue".to_owned()];
        let names = Names { teams, drills: vec!["first-light".to_owned()], ..Names::default() };
        let mut model = Model::of("Iris", true);
        assert_eq!(candidates(&model, &names, "again R"), ["Red"]);
        assert_eq!(candidates(&model, &names, "use r"), ["Red", "Red again"]);
        assert_eq!(candidates(&model, &names, "for b"), ["Blue:"]);
        assert_eq!(candidates(&model, &names, "open f"), ["first-light"]);
        assert_eq!(candidates(&model, &names, "aga"), ["again"]);
        assert!(form("again Red", true).is_some_and(|text| text.starts_with("again TEAM TIME")));
        model.sees_all = false;
        assert!(candidates(&model, &names, "again R").is_empty());
        assert!(candidates(&model, &names, "aga").is_empty());
        assert_eq!(form("again Red", false), None);
    }
}
