//! A described interface, and whether values fit what it says.
#![allow(dead_code, clippy::expect_used, clippy::unwrap_used, reason = "every test file uses its part")]

use boon::{Compiler, Draft, Schemas};
use deadship_server::Document;
use serde_json::Value;

const PLACE: &str = "http://test.invalid/document.json";

/// A document.
pub struct Described {
    pub document: Value,
}

/// An operation of the REST interface.
pub struct Operation<'a> {
    pub path: &'a str,
    pub method: &'a str,
    pub item: &'a Value,
}

impl Described {
    pub fn of(document: Document) -> Described {
        Described { document: serde_json::from_str(document.text()).expect("JSON") }
    }

    /// Does this value fit the schema that stands at this pointer? Gives what is wrong.
    pub fn check(&self, pointer: &str, value: &Value) -> Result<(), String> {
        assert!(self.document.pointer(pointer).is_some(), "nothing is described at {pointer}");
        let (mut schemas, mut compiler) = (Schemas::new(), Compiler::new());
        compiler.set_default_draft(Draft::V2020_12);
        compiler.add_resource(PLACE, self.document.clone()).expect("added");
        let place = format!("{PLACE}#{}", pointer.replace('{', "%7B").replace('}', "%7D"));
        let schema = compiler.compile(&place, &mut schemas).expect("a schema");
        schemas.validate(value, schema).map_err(|error| format!("{error:#}"))
    }

    /// Every operation of the REST interface.
    pub fn operations(&self) -> Vec<Operation<'_>> {
        let paths = self.document["paths"].as_object().expect("paths");
        paths
            .iter()
            .flat_map(|(path, methods)| {
                let methods = methods.as_object().expect("methods");
                methods.iter().map(move |(method, item)| Operation { path, method, item })
            })
            .collect()
    }
}

/// A part of a JSON pointer.
pub fn part(text: &str) -> String {
    text.replace('~', "~0").replace('/', "~1")
}
