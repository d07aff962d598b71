//! What can never come to be: expectations that wait for each other, a name that means two things, variants that are alike.

use super::Desk;
use super::layers::Layers;
use crate::drill::{AIM, Aim, Expect};
use deadship_plant::file::toml_reader::Reader;
use std::collections::BTreeMap;

/// Lists of tables that can name variants.
const OF_VARIANTS: [(&str, &str); 4] =
    [("fault", "a fault"), ("message", "a message"), ("probe", "a probe"), ("decision", "a decision")];

impl<'a> Desk<'a> {
    /// Expectations that cannot be met before they are met, alone or by way of others.
    pub(super) fn check_circles(&self, tables: &[Reader<'a>], expects: &[Expect], aim: Option<&Aim>) {
        for table in tables {
            let named = table.peek("name").filter(|field| field.text().is_some_and(|name| name.value == AIM));
            if let Some(field) = named {
                field.report(&format!("`{AIM}` is the name of the aim: give the expectation another"));
            }
        }
        // What each needs, by name; a name that is borne twice has been reported.
        let mut needs: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        let names = |indices: Vec<usize>| -> Vec<&str> {
            indices.into_iter().filter_map(|index| self.dones.get(index)).map(String::as_str).collect()
        };
        for expect in expects {
            needs.insert(&expect.name, names(expect.when.needs_done()));
        }
        if let Some(aim) = aim {
            needs.insert(AIM, names(aim.condition.needs_done()));
        }
        for (table, name) in
            tables.iter().filter_map(|table| Some((table, table.peek("name")?.text()?.value)))
        {
            let Some(field) = table.peek("when") else { continue };
            if let Some(way) = way_back(&needs, &name) {
                let way =
                    way.iter().map(|name| format!("`{name}`")).collect::<Vec<_>>().join(", which waits for ");
                field.report(&format!("this waits for {way}: it can never be met"));
            }
        }
    }

    /// Variants between which nothing in the drill differs.
    pub(super) fn check_variants(&self, root: &Layers<'a>) {
        let mut of: BTreeMap<Vec<(&str, usize)>, &str> = BTreeMap::new();
        let tables = root.tables("variant", "a variant");
        let is_known = |name: &str| self.variants.iter().any(|variant| variant.name == name);
        for (variant, table) in self.variants.iter().zip(&tables) {
            let mut steps = Vec::new();
            for (key, what) in OF_VARIANTS {
                for (index, step) in root.tables(key, what).iter().enumerate() {
                    let named = step.peek("variants").and_then(|field| field.texts()).unwrap_or_default();
                    // One that is misspelt may be the one that is missed.
                    if !named.iter().all(|name| is_known(&name.value)) {
                        return;
                    }
                    if named.iter().any(|name| name.value == variant.name) {
                        steps.push((key, index));
                    }
                }
            }
            if let Some(other) = of.get(&steps).filter(|other| **other != variant.name) {
                let message = format!(
                    "`{}` and `{other}` are alike: nothing of the drill tells them apart",
                    variant.name
                );
                let help = "name them in the `variants` of a fault, a message, a question".to_owned();
                self.problems.report_with_help(table.spot(), message, help);
            }
            of.entry(steps).or_insert(&variant.name);
        }
    }
}

/// The way from a name by what each needs back to itself; nothing, if there is none.
fn way_back<'n>(needs: &BTreeMap<&'n str, Vec<&'n str>>, name: &str) -> Option<Vec<&'n str>> {
    let mut ways: Vec<Vec<&str>> = needs.get(name)?.iter().map(|next| vec![*next]).collect();
    let mut seen: Vec<&str> = Vec::new();
    while let Some(way) = ways.pop() {
        let Some(&last) = way.last() else { continue };
        if last == name {
            return Some(way);
        }
        if seen.contains(&last) {
            continue;
        }
        seen.push(last);
        for next in needs.get(last).into_iter().flatten() {
            ways.push([&way[..], &[*next]].concat());
        }
    }
    None
}
