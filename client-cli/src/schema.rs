//! `deadship schema`: JSON Schemas of ships, rigs, drills and procedures for editors, made of what the readers themselves
//! ask for while they read everything that is known.

use crate::cli::{SchemaArgs, SchemaOf};
use crate::failure::{Failure, WELL};
use crate::io::Io;
use crate::library::{Library, Sort};
use crate::trial::open_failed;
use deadship_plant::file::learn_ship;
use deadship_plant::file::toml_reader::{Form, KeyShape, Learned, TableShape};
use deadship_plant::kinds::REGISTRY;
use deadship_run::drill_file::learn;
use deadship_run::setup::Setup;
use serde_json::{Map, Value, json};

/// What a reader calls the table of a whole file.
const ROOT: &str = "a file";

/// `deadship schema`.
pub(crate) fn schema(io: &mut Io, library: &mut Library, args: &SchemaArgs) -> Result<u8, Failure> {
    io.line(&format!("{:#}", schema_of(library, args.of)?))?;
    io.flush()?;
    Ok(WELL)
}

/// The schema of a sort of file, JSON Schema 2020-12.
pub(crate) fn schema_of(library: &mut Library, of: SchemaOf) -> Result<Value, Failure> {
    let (title, learned) = match of {
        SchemaOf::Ship => ("A ship or rig", ships(library)),
        SchemaOf::Drill => ("A drill", drills(library, false)?),
        SchemaOf::Procedure => {
            let mut learned = drills(library, true)?;
            let root = learned.tables.entry(ROOT.to_owned()).or_default();
            root.keys.retain(|key, _| ["format", "procedure", "step"].contains(&key.as_str()));
            ("A procedure", learned)
        }
    };
    Ok(written(title, &learned))
}

/// What the reader of ships asks for, over all ships and rigs that are known.
fn ships(library: &Library) -> Learned {
    let mut learned = Learned::default();
    for entry in library.all(Sort::Ship).chain(library.all(Sort::Rig)) {
        let files: Vec<(String, String)> =
            entry.files.iter().map(|file| (file.name.clone(), file.text.clone())).collect();
        learned.merge(learn_ship(REGISTRY, &files));
    }
    learned
}

/// What the readers of drills, or of drills and procedures, ask for, over all drills that are known.
fn drills(library: &mut Library, with_procedures: bool) -> Result<Learned, Failure> {
    let names: Vec<String> = library.all(Sort::Drill).map(|entry| entry.name.clone()).collect();
    let mut learned = Learned::default();
    for name in names {
        let drill = library.drill(&name)?;
        let procedures = if with_procedures { library.procedures_for(drill.stem()) } else { Vec::new() };
        let opening = library.opening(drill, procedures, None)?;
        let (setup, _) = Setup::new(opening).map_err(open_failed)?;
        learned.merge(learn(&setup.opening, &setup.compiled));
    }
    // A drill's own states are read with its ship.
    let states = ships(library).tables.remove("a state").unwrap_or_default();
    let root = learned.tables.entry(ROOT.to_owned()).or_default();
    let key = KeyShape { needed: false, optional: true, forms: [Form::Tables("a state".to_owned())].into() };
    root.keys.insert("state".to_owned(), key);
    learned.tables.insert("a state".to_owned(), states);
    Ok(learned)
}

fn written(title: &str, learned: &Learned) -> Value {
    let mut root = learned.tables.get(ROOT).map_or_else(|| json!({}), |shape| table(ROOT, shape));
    let mut reached = Map::new();
    reach(&root, learned, &mut reached);
    if let Some(root) = root.as_object_mut() {
        root.insert("$schema".to_owned(), "https://json-schema.org/draft/2020-12/schema".into());
        root.insert("title".to_owned(), title.into());
        root.insert("$defs".to_owned(), Value::Object(reached));
    }
    root
}

/// Adds the tables that a schema refers to, and those that these refer to.
fn reach(schema: &Value, learned: &Learned, reached: &mut Map<String, Value>) {
    match schema {
        Value::Object(fields) => {
            let named = fields.get("$ref").and_then(Value::as_str).and_then(|path| path.strip_prefix(DEFS));
            if let Some(word) = named.filter(|word| !reached.contains_key(*word)) {
                let known = learned.tables.iter().find(|(what, _)| word_of(what) == word);
                let schema = known.map_or_else(|| json!({}), |(what, shape)| table(what, shape));
                reached.insert(word.to_owned(), schema.clone());
                reach(&schema, learned, reached);
            }
            fields.values().for_each(|value| reach(value, learned, reached));
        }
        Value::Array(values) => values.iter().for_each(|value| reach(value, learned, reached)),
        _ => {}
    }
}

fn table(what: &str, shape: &TableShape) -> Value {
    if shape.is_open {
        // Its keys are names; whatever any of them was asked for, any may be. Names with dots become tables in tables.
        let forms = shape.keys.values().flat_map(|key| &key.forms);
        let tables: Vec<Value> = forms.filter(|form| matches!(form, Form::Table(_))).map(value).collect();
        let all_are_tables = !tables.is_empty();
        return match all_are_tables {
            true => json!({ "type": "object", "additionalProperties": { "anyOf": tables } }),
            false => json!({ "type": "object" }),
        };
    }
    let mut properties = Map::new();
    for (key, shape) in &shape.keys {
        let mut schema = of_key(shape);
        if let (Some(doc), Some(fields)) = (doc(what, key), schema.as_object_mut()) {
            fields.insert("description".to_owned(), doc.into());
        }
        properties.insert(key.clone(), schema);
    }
    let needed: Vec<&String> =
        shape.keys.iter().filter(|(_, key)| key.needed && !key.optional).map(|(key, _)| key).collect();
    json!({ "type": "object", "properties": properties, "required": needed, "additionalProperties": false })
}

fn of_key(shape: &KeyShape) -> Value {
    let mut forms: Vec<Value> = shape.forms.iter().map(value).collect();
    match forms.len() {
        // No file that is known has it: what it may be is not known here.
        0 => json!({}),
        1 => forms.remove(0),
        _ => json!({ "anyOf": forms }),
    }
}

fn value(form: &Form) -> Value {
    match form {
        Form::Text => json!({ "type": "string" }),
        Form::Texts => {
            json!({ "anyOf": [{ "type": "string" }, { "type": "array", "items": { "type": "string" } }] })
        }
        Form::Quantity(units) if units.is_empty() => json!({ "type": "number" }),
        Form::Quantity(units) => {
            let units: Vec<String> = units.iter().map(|unit| escaped(unit)).collect();
            // In a template a placeholder may stand for any part of it.
            let pattern = format!("^\\s*[-+0-9.eE]+\\s+({}|°C)\\s*$|\\{{", units.join("|"));
            json!({ "type": "string", "pattern": pattern })
        }
        Form::Choice(words) => {
            json!({ "anyOf": [{ "enum": words }, { "type": "string", "pattern": "\\{" }] })
        }
        Form::Flag => json!({ "type": "boolean" }),
        Form::Whole(min, max) => {
            let mut whole = json!({ "type": "integer", "minimum": min });
            if *max < i64::MAX {
                whole["maximum"] = (*max).into();
            }
            whole
        }
        Form::Table(what) => json!({ "$ref": reference(what) }),
        Form::Tables(what) => json!({ "type": "array", "items": { "$ref": reference(what) } }),
    }
}

/// Where definitions stand.
const DEFS: &str = "#/$defs/";

fn reference(what: &str) -> String {
    format!("{DEFS}{}", word_of(what))
}

/// What a table is called, as one word: a reference is an address and has no blanks.
fn word_of(what: &str) -> String {
    what.replace(|c: char| !c.is_alphanumeric(), "-")
}

/// A unit as a pattern means it.
fn escaped(unit: &str) -> String {
    let means_more = |c: char| ".*+?^${}()|[]\\/".contains(c);
    unit.chars().flat_map(|c| if means_more(c) { vec!['\\', c] } else { vec![c] }).collect()
}

/// What the declaration of a kind says of one of its keys.
fn doc(what: &str, key: &str) -> Option<&'static str> {
    let name = what.strip_prefix("a ").or_else(|| what.strip_prefix("an "))?;
    let kind = REGISTRY.iter().find(|kind| kind.name == name)?;
    let param = kind.params.iter().find(|param| param.name == key).map(|param| param.doc);
    param.or_else(|| kind.ports.iter().find(|port| port.name == key).map(|port| port.doc))
}

#[cfg(test)]
mod tests;
