//! What readers ask of tables, learned while they read: schemas for editors are made of it, so that these cannot say anything
//! else than the readers do.

use crate::kind::ParamType;
use crate::unit::Dimension;
use std::collections::{BTreeMap, BTreeSet};

/// What a value may be.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Form {
    /// A text.
    Text,
    /// A list of texts, or one.
    Texts,
    /// A number with one of these units, as a text; without units a number alone.
    Quantity(Vec<&'static str>),
    /// One of these words.
    Choice(Vec<String>),
    /// `true` or `false`.
    Flag,
    /// A whole number from one to the other.
    Whole(i64, i64),
    /// A table, by what it is called: `a drill`.
    Table(String),
    /// A list of tables.
    Tables(String),
}

impl Form {
    /// That of a parameter, state or setting of a kind.
    pub(super) fn of(takes: &ParamType) -> Form {
        match takes {
            ParamType::Quantity { dimension, .. } => Form::quantity(*dimension),
            ParamType::Choice(words) => Form::choice(words),
            ParamType::Flag => Form::Flag,
            ParamType::Whole { min, max } => Form::Whole(*min, *max),
        }
    }

    pub(super) fn quantity(dimension: Dimension) -> Form {
        Form::Quantity(dimension.units().collect())
    }

    pub(super) fn choice(words: &[&str]) -> Form {
        Form::Choice(words.iter().map(|word| (*word).to_owned()).collect())
    }
}

/// What is known of a key.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct KeyShape {
    /// Did a reader say that it must be there?
    pub needed: bool,
    /// Did a reader ask for it without saying so?
    pub optional: bool,
    /// What its value may be; empty: no file that was read had it.
    pub forms: BTreeSet<Form>,
}

/// What is known of a table.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct TableShape {
    /// Its keys.
    pub keys: BTreeMap<String, KeyShape>,
    /// Are its keys names that authors choose?
    pub is_open: bool,
}

/// Tables by what they are called.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Learned {
    /// The tables; that of a whole file is `a file`.
    pub tables: BTreeMap<String, TableShape>,
}

impl Learned {
    /// Takes in what another has learned.
    pub fn merge(&mut self, other: Learned) {
        for (what, shape) in other.tables {
            let table = self.tables.entry(what).or_default();
            table.is_open |= shape.is_open;
            for (key, more) in shape.keys {
                let known = table.keys.entry(key).or_default();
                known.needed |= more.needed;
                known.optional |= more.optional;
                known.forms.extend(more.forms);
            }
        }
    }

    pub(super) fn key(&mut self, what: &str, key: &str) -> &mut KeyShape {
        self.table(what).keys.entry(key.to_owned()).or_default()
    }

    pub(super) fn table(&mut self, what: &str) -> &mut TableShape {
        self.tables.entry(what.to_owned()).or_default()
    }
}
