//! Types: rated data that several components share.

use super::names::Names;
use super::sheet::Sheet;
use super::toml_reader::{At, Reader};
use crate::kind::KindDef;
use std::collections::BTreeMap;

/// A type. What is wrong with it has been reported: `None` where nothing is known.
pub(super) struct TypeTable {
    pub kind: Option<&'static KindDef>,
    /// For each parameter of the kind.
    pub params: Vec<TypeParam>,
}

/// What a type says about a parameter.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum TypeParam {
    /// Nothing.
    Silent,
    /// A value.
    Value(f64),
    /// Something that is wrong, and reported.
    Wrong,
}

/// All types by name.
pub(super) fn read_types(sheet: &Sheet<'_>) -> BTreeMap<String, TypeTable> {
    let mut names = Names::of("type");
    let mut types = BTreeMap::new();
    for table in &sheet.types {
        let name = names.read(table);
        let kind = table.need("kind").and_then(|field| field.text());
        // Where the numbers come from is part of a type; it is for readers of the file.
        let _ = table.need("source").and_then(|field| field.text());
        let read = read_type(sheet, table, kind);
        if let Some(name) = name {
            types.insert(name.value, read);
        }
    }
    types
}

fn read_type(sheet: &Sheet<'_>, table: &Reader<'_>, kind: Option<At<String>>) -> TypeTable {
    let found = kind.as_ref().and_then(|wanted| sheet.kinds.iter().find(|kind| kind.name == wanted.value));
    let Some(kind) = found else {
        if let Some(wanted) = kind {
            let message = format!("there is no kind `{}`", wanted.value);
            sheet.problems.unknown(
                wanted.spot,
                message,
                &wanted.value,
                sheet.kinds.iter().map(|kind| kind.name),
            );
        }
        // Without its kind the other keys cannot be judged.
        return TypeTable { kind: None, params: Vec::new() };
    };
    let params = kind
        .params
        .iter()
        .map(|param| match table.get(param.name) {
            None => TypeParam::Silent,
            Some(field) => {
                field.value(&param.takes).map_or(TypeParam::Wrong, |at| TypeParam::Value(at.value))
            }
        })
        .collect();
    table.finish_or(&format!("`deadship kinds {}` lists what it takes", kind.name));
    TypeTable { kind: Some(kind), params }
}
