//! What the drill asks: of the person with what can be answered; for those who run the class, who has answered.

use crate::screen::colours::{Ink, Palette};
use crate::screen::model::Model;
use crate::screen::parts::{About, Row};
use crate::screen::text::{clock, wrap};
use deadship_run::view::AskedNow;

/// Does a question wait for the person's answer?
pub(crate) fn waits(model: &Model, ask: &AskedNow) -> bool {
    let Some(me) = model.me() else { return false };
    let asked = me.station.as_ref().is_some_and(|station| ask.to.as_ref().is_none_or(|to| to == station));
    asked && !ask.answered.contains(&me.name)
}

/// How many wait for the person.
pub(crate) fn count(model: &Model) -> usize {
    model.situation.asked.iter().filter(|ask| waits(model, ask)).count()
}

/// Questions that wait for the person; all of them for those who run the class.
pub(crate) fn rows(model: &Model, palette: Palette, wide: usize) -> Vec<Row> {
    let mut rows = Vec::new();
    for ask in model.situation.asked.iter().filter(|ask| model.sees_all || waits(model, ask)) {
        if rows.is_empty() {
            let heading = if model.sees_all { "THE DRILL ASKS" } else { "YOU ARE ASKED" };
            rows.push(Row::heading(palette, heading));
        }
        rows.extend(of_one(model, palette, ask, wide));
    }
    rows
}

fn of_one(model: &Model, palette: Palette, ask: &AskedNow, wide: usize) -> Vec<Row> {
    let by = ask.due_tick.map_or_else(String::new, |due| format!(" by {}", clock(due)));
    let head = match model.sees_all {
        false => format!("{}{by}", ask.name),
        true => {
            let to = ask.to.as_deref().unwrap_or("all");
            let answered = match ask.answered.as_slice() {
                [] => "nobody has answered".to_owned(),
                names => format!("answered: {}", names.join(", ")),
            };
            format!("{} to {to}{by}; {answered}", ask.name)
        }
    };
    let mut rows = vec![Row::new(palette, About::Nothing, &[(Ink::Caution, &head)])];
    for line in wrap(&ask.text, wide.saturating_sub(2).max(10)) {
        rows.push(Row::new(palette, About::Nothing, &[(Ink::Strong, &format!("  {line}"))]));
    }
    for choice in &ask.choices {
        let answer = About::Do(format!("answer {} {}", ask.name, choice.word), false);
        let mut begins = format!("    {}  ", choice.word);
        let indent = begins.chars().count();
        let mut about = answer;
        for line in wrap(&choice.text, wide.saturating_sub(indent).max(10)) {
            rows.push(Row::new(palette, about, &[(Ink::Plain, &format!("{begins}{line}"))]));
            (begins, about) = (" ".repeat(indent), About::Nothing);
        }
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use deadship_run::asking::Offered;
    use deadship_run::view::CrewNow;

    fn model(sees_all: bool) -> Model {
        let mut model = Model::of("Ada", sees_all);
        let ada = CrewNow {
            name: "Ada".to_owned(),
            robot: false,
            station: Some("engine".to_owned()),
            place: None,
            arrives_tick: 0,
            busy_until_tick: 0,
        };
        model.situation.crew = vec![ada];
        let offered = |word: &str, text: &str| Offered { word: word.to_owned(), text: text.to_owned() };
        let ask = |name: &str, to: Option<&str>, answered: &[&str]| AskedNow {
            name: name.to_owned(),
            to: to.map(str::to_owned),
            text: "What carries the main switchboard at this moment, as far as you can see?".to_owned(),
            choices: vec![
                offered("a", "DG 1"),
                offered("b", "nothing at all: it is dead, and so is the rest"),
            ],
            decides: false,
            due_tick: None,
            answered: answered.iter().map(|name| (*name).to_owned()).collect(),
        };
        model.situation.asked = vec![
            ask("look-round.1", Some("engine"), &["Bo"]),
            ask("look-round.2", None, &["Ada"]),
            ask("look-round.3", Some("boards"), &[]),
        ];
        model
    }

    fn shown(model: &Model) -> Vec<String> {
        let rows = rows(model, Palette::new(false), 40);
        rows.iter().map(|row| row.line.to_string().trim_end().to_owned()).collect()
    }

    #[test]
    fn only_what_waits_for_the_person_is_shown() {
        let model = model(false);
        assert_eq!(count(&model), 1);
        assert_eq!(
            shown(&model),
            [
                "YOU ARE ASKED",
                "look-round.1",
                "  What carries the main switchboard at",
                "  this moment, as far as you can see?",
                "    a  DG 1",
                "    b  nothing at all: it is dead, and",
                "       so is the rest",
            ]
        );
        let rows = rows(&model, Palette::new(false), 40);
        assert_eq!(rows[4].about, About::Do("answer look-round.1 a".to_owned(), false));
    }

    #[test]
    fn who_runs_the_class_sees_who_has_answered_and_not_what() {
        let shown = shown(&model(true)).join("\n");
        for text in ["look-round.1 to engine; answered: Bo", "to all; answered: Ada", "nobody has answered"] {
            assert!(shown.contains(text), "{shown}");
        }
    }
}
