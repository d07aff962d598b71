//! Uses of templates: a set of machinery written once and installed several times.

use super::components::Component;
use super::sheet::{Scan, Sheet};
use super::toml_reader::{Field, Fill, Problems, Reader, Spot};
use std::cell::Cell;
use std::collections::{BTreeMap, BTreeSet};

/// One `[[use]]`.
pub(super) struct Use<'a> {
    pub name: String,
    /// Index into the templates.
    pub template: usize,
    pub fill: Fill,
    spot: Spot,
    overrides: Vec<Override<'a>>,
}

/// A parameter that differs from the template in this use.
struct Override<'a> {
    /// Name of the component with the prefix.
    component: String,
    param: String,
    field: Field<'a>,
    taken: Cell<bool>,
}

impl<'a> Use<'a> {
    /// The value that this use gives to a parameter.
    pub(super) fn value_for(&self, component: &str, param: &str) -> Option<&Field<'a>> {
        let found =
            self.overrides.iter().find(|given| given.component == component && given.param == param)?;
        found.taken.set(true);
        Some(&found.field)
    }
}

/// Reads all uses. One whose template is not known is reported and left out.
pub(super) fn read_uses<'a>(problems: &'a Problems, scan: &Scan<'a>) -> Vec<Use<'a>> {
    let mut names = BTreeSet::new();
    scan.uses.iter().filter_map(|reader| read_use(problems, scan, reader, &mut names)).collect()
}

fn read_use<'a>(
    problems: &'a Problems,
    scan: &Scan<'a>,
    reader: &Reader<'a>,
    names: &mut BTreeSet<String>,
) -> Option<Use<'a>> {
    let template = reader.need("template").and_then(|field| field.text());
    let name = reader.need("name").and_then(|field| field.text());
    if let Some(name) = &name {
        super::names::check_word(problems, name);
    }
    let mut with = BTreeMap::new();
    for field in reader.table("with", "with").iter().flat_map(Reader::fields) {
        if let Some(text) = field.text() {
            with.insert(field.key().to_owned(), text.value);
        }
    }
    let set = reader.table("set", "set").map_or_else(Vec::new, |set| set.entries());
    reader.finish();
    let known = || scan.templates.iter().map(|template| template.name.value.as_str());
    let template = template.and_then(|wanted| {
        let found = known().position(|name| name == wanted.value);
        if found.is_none() {
            let message = format!("there is no template `{}`", wanted.value);
            problems.unknown(wanted.spot, message, &wanted.value, known());
        }
        found
    });
    // What a use that is left out would have made is missing everywhere: say nothing about that.
    let (Some(template), Some(name)) = (template, name) else {
        problems.mark_incomplete();
        return None;
    };
    if !names.insert(name.value.clone()) {
        problems.report(name.spot, format!("there is already a use named `{}`", name.value));
        return None;
    }
    let overrides = set.into_iter().filter_map(|field| read_override(&name.value, field)).collect();
    let fill = Fill::new(problems, &scan.templates[template].name.value, &name.value, with);
    Some(Use { name: name.value, template, fill, spot: reader.spot(), overrides })
}

fn read_override<'a>(name: &str, field: Field<'a>) -> Option<Override<'a>> {
    let Some((component, param)) = field.key().rsplit_once('.') else {
        field.report("must be a component of the template, a dot, and one of its parameters");
        return None;
    };
    Some(Override {
        component: format!("{name}.{component}"),
        param: param.to_owned(),
        field,
        taken: Cell::new(false),
    })
}

/// Reports placeholders and overrides that nothing in the template took.
pub(super) fn report_unused(problems: &Problems, sheet: &Sheet<'_>, components: &[Component<'_>]) {
    for made_by in &sheet.uses {
        for key in made_by.fill.unused() {
            let message = format!("`with`: nothing in the template asks for `{{{key}}}`");
            problems.report(made_by.spot, message);
        }
        for given in made_by.overrides.iter().filter(|given| !given.taken.get()) {
            report_override(problems, made_by, given, components);
        }
    }
}

fn report_override(
    problems: &Problems,
    made_by: &Use<'_>,
    given: &Override<'_>,
    components: &[Component<'_>],
) {
    let prefix = format!("{}.", made_by.name);
    let short = |name: &str| name.strip_prefix(&prefix).unwrap_or(name).to_owned();
    let spot = given.field.key_spot();
    match components.iter().find(|component| component.spec.name == given.component) {
        Some(component) => {
            let message = format!(
                "{} `{}` has no parameter `{}`",
                component.spec.kind.name, given.component, given.param
            );
            problems.unknown(
                spot,
                message,
                &given.param,
                component.spec.kind.params.iter().map(|param| param.name),
            );
        }
        None => {
            let own: Vec<String> = components
                .iter()
                .filter(|component| component.spec.name.starts_with(&prefix))
                .map(|component| short(&component.spec.name))
                .collect();
            let wanted = short(&given.component);
            let message = format!("the template has no component `{wanted}`");
            problems.unknown(spot, message, &wanted, own.iter().map(String::as_str));
        }
    }
}
