//! The schemas are documented as they are, take everything that is built in, and refuse what authors do wrong.

use super::*;
use boon::{Compiler, SchemaIndex, Schemas};
use std::path::Path;

const ALL: [(SchemaOf, &str); 3] =
    [(SchemaOf::Ship, "ship"), (SchemaOf::Drill, "drill"), (SchemaOf::Procedure, "procedure")];

fn library() -> Library {
    Library::new(None).unwrap()
}

/// `WRITE_SCHEMAS=1` writes them anew.
#[test]
fn they_are_documented_as_they_are() {
    for (of, name) in ALL {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../docs/schemas/{name}.schema.json"));
        let text = format!("{:#}\n", schema_of(&mut library(), of).unwrap());
        if std::env::var_os("WRITE_SCHEMAS").is_some() {
            std::fs::write(&path, &text).unwrap();
        }
        let documented = std::fs::read_to_string(&path).unwrap_or_default();
        assert!(documented == text, "{} is not what the readers ask for: WRITE_SCHEMAS=1", path.display());
    }
}

fn compiled(of: SchemaOf) -> (Schemas, SchemaIndex) {
    let (mut schemas, mut compiler) = (Schemas::new(), Compiler::new());
    compiler.add_resource("schema.json", schema_of(&mut library(), of).unwrap()).unwrap();
    let index = compiler.compile("schema.json", &mut schemas).unwrap();
    (schemas, index)
}

/// TOML as JSON says it.
fn json_of(text: &str) -> Value {
    toml_edit::de::from_str(text).unwrap()
}

#[test]
fn everything_that_is_built_in_is_as_they_say() {
    for (of, _) in ALL {
        let sorts: &[Sort] = match of {
            SchemaOf::Ship => &[Sort::Ship, Sort::Rig],
            SchemaOf::Drill => &[Sort::Drill],
            SchemaOf::Procedure => &[Sort::Procedure],
        };
        let (schemas, index) = compiled(of);
        let library = library();
        for file in sorts.iter().flat_map(|sort| library.all(*sort)).flat_map(|entry| &entry.files) {
            let read = json_of(&file.text);
            let result = schemas.validate(&read, index);
            assert!(result.is_ok(), "{}: {}", file.name, result.unwrap_err());
        }
    }
}

#[test]
fn what_an_author_does_wrong_is_seen_in_the_editor() {
    let (schemas, index) = compiled(SchemaOf::Drill);
    let text = library().drill("first-light").unwrap().text;
    for (right, wrong) in [
        ("title = ", "titel = "),
        ("limit = \"45 min\"", "limit = \"45 bar\""),
        ("limit = \"45 min\"", "limit = 45"),
        ("seed = 1", "seed = -1"),
        ("ends = true", "ends = \"yes\""),
        ("seats = 3", "seats = 300"),
    ] {
        assert!(text.contains(right), "{right}");
        assert!(schemas.validate(&json_of(&text.replacen(right, wrong, 1)), index).is_err(), "{wrong}");
    }
}
