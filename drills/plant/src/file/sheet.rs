//! The tables of all files, sorted by what they are, with what templates add.

use super::template::Use;
use super::toml_reader::{At, Parsed, Problems, Reader};
use super::{FORMAT, names::Names, names::with_article};
use crate::kind::{KindDef, Net};
use std::cell::RefCell;
use std::collections::BTreeSet;

/// A table of a component.
pub(super) struct ComponentTable<'a> {
    pub kind: &'static KindDef,
    pub reader: Reader<'a>,
    /// The use of a template that made it.
    pub made_by: Option<&'a Use<'a>>,
}

/// A template as written.
pub(super) struct Template<'a> {
    pub name: At<String>,
    pub reader: Reader<'a>,
}

/// Everything written, before templates are used.
pub(super) struct Scan<'a> {
    pub templates: Vec<Template<'a>>,
    pub uses: Vec<Reader<'a>>,
    sheet: Sheet<'a>,
}

/// All tables, in the order written; those of templates come last.
pub(super) struct Sheet<'a> {
    pub problems: &'a Problems,
    pub kinds: Vec<&'static KindDef>,
    pub heads: Vec<Reader<'a>>,
    pub surroundings: Vec<Reader<'a>>,
    pub places: Vec<Reader<'a>>,
    pub walks: Vec<Reader<'a>>,
    pub types: Vec<Reader<'a>>,
    pub nodes: Vec<Reader<'a>>,
    pub components: Vec<ComponentTable<'a>>,
    pub alerts: Vec<Reader<'a>>,
    pub states: Vec<Reader<'a>>,
    pub uses: Vec<&'a Use<'a>>,
    /// Names that a mistake already reported has to do with. Nothing more is said about them, lest one misspelt word
    /// gives five errors.
    excused: RefCell<BTreeSet<String>>,
    /// Nets of ports that are missing or wrong: which node one of them would be on cannot be told.
    doubted: RefCell<BTreeSet<Net>>,
}

impl<'a> Scan<'a> {
    /// Gathers the tables of the files, and those of states alone from others.
    pub(super) fn new(
        kinds: &[&'static KindDef],
        problems: &'a Problems,
        documents: &'a [Option<Parsed<'a>>],
        of_states: &'a [Option<Parsed<'a>>],
    ) -> Scan<'a> {
        let sheet = Sheet {
            problems,
            kinds: kinds.to_vec(),
            heads: Vec::new(),
            surroundings: Vec::new(),
            places: Vec::new(),
            walks: Vec::new(),
            types: Vec::new(),
            nodes: Vec::new(),
            components: Vec::new(),
            alerts: Vec::new(),
            states: Vec::new(),
            uses: Vec::new(),
            excused: RefCell::default(),
            doubted: RefCell::default(),
        };
        let mut scan = Scan { templates: Vec::new(), uses: Vec::new(), sheet };
        let mut names = Names::of("template");
        for document in documents.iter().flatten() {
            let root = document.root(problems);
            if root.format(FORMAT) {
                scan.take(&root, &mut names);
            }
        }
        scan.sheet.states.extend(of_others(problems, of_states));
        scan
    }

    fn take(&mut self, root: &Reader<'a>, names: &mut Names) {
        let sheet = &mut self.sheet;
        sheet.heads.extend(root.table("ship", "a ship"));
        sheet.heads.extend(root.table("rig", "a rig"));
        sheet.surroundings.extend(root.table("surroundings", "surroundings"));
        sheet.places.extend(root.tables("place", "a place"));
        sheet.walks.extend(root.tables("walk", "a walk"));
        sheet.types.extend(root.tables("type", "a type"));
        sheet.states.extend(root.tables("state", "a state"));
        self.uses.extend(root.tables("use", "a use"));
        if let Some(templates) = root.table("template", "template") {
            for field in templates.fields() {
                let name = At { value: field.key().to_owned(), spot: field.key_spot() };
                if let (true, Some(reader)) = (names.claim(sheet.problems, &name), field.table("a template"))
                {
                    self.templates.push(Template { name, reader });
                }
            }
        }
        sheet.take_plant(root, None);
    }

    /// Adds what the uses of templates make.
    pub(super) fn sheet(mut self, uses: &'a [Use<'a>]) -> Sheet<'a> {
        for made_by in uses {
            let template = &self.templates[made_by.template];
            self.sheet.take_plant(&template.reader.filled(&made_by.fill), Some(made_by));
            self.sheet.uses.push(made_by);
        }
        self.sheet
    }
}

/// The states of files that are read for these alone. One of a later file takes the place of a namesake in an earlier one.
fn of_others<'a>(problems: &'a Problems, documents: &'a [Option<Parsed<'a>>]) -> Vec<Reader<'a>> {
    let mut states: Vec<Reader<'a>> = Vec::new();
    let name = |table: &Reader<'a>| table.get("name")?.text().map(|name| name.value);
    for document in documents.iter().flatten() {
        let own = document.root(problems).tables("state", "a state");
        let names: BTreeSet<String> = own.iter().filter_map(name).collect();
        states.retain(|earlier| name(earlier).is_none_or(|name| !names.contains(&name)));
        states.extend(own);
    }
    states
}

impl<'a> Sheet<'a> {
    /// Takes what files and templates may both hold, and reports keys that are nothing known.
    fn take_plant(&mut self, table: &Reader<'a>, made_by: Option<&'a Use<'a>>) {
        self.nodes.extend(table.tables("node", "a node"));
        self.alerts.extend(table.tables("alert", "an alert"));
        for kind in &self.kinds {
            let what = with_article(kind.name);
            let tables = table.tables(kind.name, &what);
            // One bracket where two belong: that is told, and what stands there is not missed.
            if let (true, Some(alone)) = (tables.is_empty(), table.get(kind.name)) {
                let texts = alone.table(&what).map_or_else(Vec::new, |table| table.texts());
                self.excused.borrow_mut().extend(texts);
            }
            let tables = tables.into_iter();
            self.components.extend(tables.map(|reader| ComponentTable { kind, reader, made_by }));
        }
        self.excused.borrow_mut().extend(table.texts_not_asked());
        table.finish();
    }

    /// Is it a ship, not a rig?
    pub(super) fn is_ship(&self) -> bool {
        self.heads.iter().any(|head| head.what() == "a ship")
    }

    /// A port of this net is missing or wrong.
    pub(super) fn doubt(&self, net: Net) {
        self.doubted.borrow_mut().insert(net);
    }

    /// May a port that is missing or wrong belong on a node of this net?
    pub(super) fn is_doubted(&self, net: Net) -> bool {
        self.doubted.borrow().contains(&net)
    }

    /// Nothing more shall be said about this name.
    pub(super) fn excuse(&self, name: &str) {
        self.excused.borrow_mut().insert(name.to_owned());
    }

    /// Has a mistake already reported to do with this name?
    pub(super) fn is_excused(&self, name: &str) -> bool {
        self.excused.borrow().contains(name)
    }
}
