//! Names of components and of their readings, and the links that are made of them.

use super::components::Component;
use super::names::with_article;
use super::sheet::Sheet;
use super::toml_reader::{At, Field};
use crate::kind::{LinkDef, LinkTarget, ReadingDef};
use crate::spec::LinkTo;

/// Reads the links of all components.
pub(super) fn read_links(sheet: &Sheet<'_>, components: &mut [Component<'_>]) {
    let links: Vec<Vec<Option<LinkTo>>> = components
        .iter()
        .map(|component| {
            let read = |link| read_link(sheet, components, component, link);
            component.spec.kind.links.iter().map(read).collect()
        })
        .collect();
    for (component, links) in components.iter_mut().zip(links) {
        component.spec.links = links;
    }
}

fn read_link(
    sheet: &Sheet<'_>,
    components: &[Component<'_>],
    component: &Component<'_>,
    link: &LinkDef,
) -> Option<LinkTo> {
    let reader = &component.reader;
    let field = if link.required { reader.need(link.name)? } else { reader.get(link.name)? };
    let kinds = match link.target {
        LinkTarget::Reading => {
            return find_reading(sheet, components, &field)
                .map(|(component, reading)| LinkTo::Reading(component, reading));
        }
        LinkTarget::Component(kinds) => kinds,
    };
    let name = field.text()?;
    let found = find_component(sheet, components, &field, &name)?;
    let of = components[found].spec.kind.name;
    if kinds.contains(&of) {
        return Some(LinkTo::Component(found));
    }
    let (takes, of) = (with_article(&kinds.join(" or ")), with_article(of));
    field.report(&format!("takes {takes}, `{}` is {of}", name.value));
    None
}

/// The component of this name.
pub(super) fn find_component(
    sheet: &Sheet<'_>,
    components: &[Component<'_>],
    field: &Field<'_>,
    name: &At<String>,
) -> Option<usize> {
    let found = index_of(components, &name.value);
    if found.is_none() && !sheet.is_excused(&name.value) {
        let message = format!("`{}`: there is no component `{}`", field.key(), name.value);
        let known = components.iter().map(|component| component.spec.name.as_str());
        sheet.problems.unknown(name.spot, message, &name.value, known);
    }
    found
}

/// The reading that a field names: component, dot, reading. Names of components have dots, so the last one parts them.
pub(super) fn find_reading(
    sheet: &Sheet<'_>,
    components: &[Component<'_>],
    field: &Field<'_>,
) -> Option<(usize, usize)> {
    let text = field.text()?;
    let Some((component, reading)) = text.value.rsplit_once('.') else {
        field.report(&format!("`{}` must be a component, a dot, and one of its readings", text.value));
        return None;
    };
    let name = At { value: component.to_owned(), spot: text.spot };
    let component = find_component(sheet, components, field, &name)?;
    let kind = components[component].spec.kind;
    let found = kind.readings.iter().position(|def| def.name == reading);
    if found.is_none() {
        let message = format!("`{}`: {} `{}` has no reading `{reading}`", field.key(), kind.name, name.value);
        sheet.problems.unknown(text.spot, message, reading, kind.readings.iter().map(|def| def.name));
    }
    found.map(|reading| (component, reading))
}

/// The declaration of a reading that was found.
pub(super) fn reading_def(
    components: &[Component<'_>],
    (component, reading): (usize, usize),
) -> &'static ReadingDef {
    &components[component].spec.kind.readings[reading]
}

/// Components are in order of name.
pub(super) fn index_of(components: &[Component<'_>], name: &str) -> Option<usize> {
    components.binary_search_by(|component| component.spec.name.as_str().cmp(name)).ok()
}
