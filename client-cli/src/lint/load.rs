//! Rules about what people are told: by alerts, by texts, by messages.

use super::Subject;
use super::places::Place;
use deadship_run::proof::FLOOD_ABOVE;

/// Most words of a brief: a minute and a half of silent reading.
const BRIEF_WORDS: usize = 350;
/// Most words of a card: half a minute.
const CARD_WORDS: usize = 120;

pub(super) fn flood(subject: &Subject) -> Vec<(Place, String)> {
    let Some(made) = &subject.by_expert else { return Vec::new() };
    let (meant, most) = (subject.setup.drill.about.flood, made.most_alerts);
    let message = match (meant, most > FLOOD_ABOVE) {
        (false, true) => format!("{most} alerts in ten minutes with the expert crew"),
        (true, false) => {
            format!("a flood is announced, and the expert crew has {most} alerts in ten minutes")
        }
        _ => return Vec::new(),
    };
    vec![(subject.place("drill", "", "flood"), message)]
}

pub(super) fn too_much_to_read(subject: &Subject) -> Vec<(Place, String)> {
    let drill = &subject.setup.drill;
    let words = |text: &str| text.split_whitespace().count();
    let mut found = Vec::new();
    let count = words(&drill.brief);
    if count > BRIEF_WORDS {
        let message = format!("the brief has {count} words; {BRIEF_WORDS} can be read at the start");
        found.push((subject.place("drill", "", "brief"), message));
    }
    for station in &drill.stations {
        let count = words(&station.card);
        if count > CARD_WORDS {
            let message = format!(
                "the card of `{}` has {count} words; {CARD_WORDS} can be taken in at a glance",
                station.name
            );
            found.push((subject.place("station", &station.name, "card"), message));
        }
    }
    found
}

pub(super) fn message_to_nobody(subject: &Subject) -> Vec<(Place, String)> {
    let setup = &subject.setup;
    let expert = setup.procedures.iter().find(|procedure| procedure.name == setup.drill.name);
    let Some(expert) = expert else { return Vec::new() };
    let unheard = setup.drill.messages.iter().filter_map(|message| {
        let to = message.to.as_ref()?;
        let held = expert.steps.iter().any(|step| step.station == *to);
        (!held).then(|| {
            let text = format!("`{}` goes to `{to}`, which the expert crew does not hold", message.name);
            (subject.place("message", &message.name, "to"), text)
        })
    });
    unheard.collect()
}
