//! Who is where, and the ways to other places.

use crate::screen::colours::{Ink, Palette};
use crate::screen::model::Model;
use crate::screen::parts::{About, Row};
use crate::screen::text::{clean, fit};
use deadship_run::view::CrewNow;

/// Where someone is and what they do, for people.
pub(crate) fn doing(model: &Model, one: &CrewNow) -> String {
    let place = model.place(one.place);
    let left = |until: u64| until.saturating_sub(model.tick).div_ceil(20);
    if one.arrives_tick > model.tick {
        format!("walking to {place}, {} s more", left(one.arrives_tick))
    } else if one.busy_until_tick > model.tick {
        format!("{place}, hands busy for {} s more", left(one.busy_until_tick))
    } else {
        place.to_owned()
    }
}

/// The crew, then the places.
pub(crate) fn rows(model: &Model, palette: Palette, wide: usize) -> Vec<Row> {
    let mut rows = vec![Row::heading(palette, "CREW")];
    for one in &model.situation.crew {
        let me = !one.robot && one.name == model.name;
        let name = if one.robot { format!("robot {}", one.name) } else { clean(&one.name) };
        let name = if me { format!("{name} (you)") } else { name };
        let station = one.station.as_deref().unwrap_or("no station");
        let ink = if me { Ink::Strong } else { Ink::Plain };
        let parts = [(ink, fit(&name, 22)), (Ink::Faint, fit(station, 13)), (Ink::Plain, doing(model, one))];
        let parts: Vec<(Ink, &str)> = parts.iter().map(|(ink, text)| (*ink, text.as_str())).collect();
        rows.push(Row::new(palette, About::Nothing, &parts));
    }
    if model.situation.crew.is_empty() {
        rows.extend(Row::text(palette, Ink::Plain, "nobody is aboard yet", wide));
    }
    // Those who see all are not aboard: they walk nowhere.
    let Some(chart) = model.chart.as_ref().filter(|_| !model.sees_all) else { return rows };
    if !chart.places.is_empty() {
        rows.push(Row::new(palette, About::Nothing, &[]));
        rows.push(Row::heading(palette, "PLACES: Enter walks there"));
    }
    let here = model.me().and_then(|me| me.place);
    for (index, place) in chart.places.iter().enumerate() {
        let walk = match here {
            Some(here) if here == index => "you are here".to_owned(),
            Some(here) => {
                chart.places[here].walk_s[index].map_or("no way".to_owned(), |s| format!("{s:.0} s"))
            }
            None => String::new(),
        };
        let there = chart.components.iter().filter(|component| component.place == Some(index)).count();
        let parts = [
            (Ink::Plain, fit(&place.title, 34)),
            (Ink::Faint, fit(&walk, 14)),
            (Ink::Faint, format!("{there} things; go {}", place.name)),
        ];
        let parts: Vec<(Ink, &str)> = parts.iter().map(|(ink, text)| (*ink, text.as_str())).collect();
        rows.push(Row::new(palette, About::Place(index), &parts));
    }
    rows
}
