//! One value being read.

use super::fill::Fill;
use super::learn::Form;
use super::nearest;
use super::problems::{At, Problems, Spot};
use super::reader::Reader;
use crate::kind::ParamType;
use crate::unit::{Dimension, format_limit, parse_quantity};
use toml_edit::{Item, TableLike, Value};

/// A key with its value. The `Option` methods put what is wrong on the list of problems and give `None`.
#[derive(Clone)]
pub struct Field<'a> {
    pub(super) problems: &'a Problems,
    pub(super) key: String,
    pub(super) key_spot: Spot,
    pub(super) spot: Spot,
    pub(super) item: &'a Item,
    pub(super) fill: Option<&'a Fill>,
    /// The table that it stands in, where readers are learned from.
    pub(super) of: Option<String>,
}

/// Why a value cannot be taken.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wrong {
    /// What is wrong.
    pub message: String,
    /// What to do, or the nearest known name.
    pub help: Option<String>,
}

impl Wrong {
    fn new(message: impl Into<String>) -> Wrong {
        Wrong { message: message.into(), help: None }
    }
}

impl<'a> Field<'a> {
    /// The key as written.
    pub fn key(&self) -> &str {
        &self.key
    }

    /// Where the key stands.
    pub fn key_spot(&self) -> Spot {
        self.key_spot
    }

    /// Where the value stands.
    pub fn spot(&self) -> Spot {
        self.spot
    }

    /// Where a character of its text stands, counted from 0; where the text begins when escapes make that uncertain.
    pub fn spot_within(&self, character: usize) -> Spot {
        let within = self.item.span().and_then(|span| self.problems.spot_in_text(self.spot, span, character));
        within.unwrap_or(self.spot)
    }

    /// Puts on the list that something is wrong with the value.
    pub fn report(&self, message: &str) {
        self.problems.report(self.spot, format!("`{}`: {message}", self.key));
    }

    /// What its value may be is what it is asked for.
    fn learn(&self, form: impl FnOnce() -> Form) {
        if let Some(of) = &self.of {
            self.problems.learn(|learned| {
                learned.key(of, &self.key).forms.insert(form());
            });
        }
    }

    /// Is it a bare number?
    pub(crate) fn is_number(&self) -> bool {
        self.item.is_integer() || self.item.is_float()
    }

    /// Any text.
    pub fn text(&self) -> Option<At<String>> {
        self.learn(|| Form::Text);
        self.kept(self.text_of(self.item.as_value()))
    }

    /// A list of texts; a single text is a list of one.
    pub fn texts(&self) -> Option<Vec<At<String>>> {
        self.learn(|| Form::Texts);
        let Some(array) = self.item.as_array() else {
            return self.kept(self.text_of(self.item.as_value())).map(|text| vec![text]);
        };
        let mut texts = Vec::new();
        for value in array {
            let spot = self.problems.spot(value.span(), self.spot);
            match self.text_of(Some(value)) {
                Ok(value) => texts.push(At { value, spot }),
                Err(wrong) => self.put(spot, wrong),
            }
        }
        (texts.len() == array.len()).then_some(texts)
    }

    /// A quantity of this dimension, SI. [`Dimension::None`] takes a number, all others a text with a unit.
    pub fn quantity(&self, dimension: Dimension) -> Option<At<f64>> {
        self.learn(|| Form::quantity(dimension));
        self.kept(self.quantity_of(dimension))
    }

    /// A quantity within limits (SI).
    pub fn quantity_within(&self, dimension: Dimension, min: f64, max: f64) -> Option<At<f64>> {
        self.value(&ParamType::Quantity { dimension, min, max })
    }

    /// One of the words, as its index.
    pub fn choice(&self, words: &[&str]) -> Option<At<usize>> {
        self.learn(|| Form::choice(words));
        self.kept(self.choice_of(words))
    }

    /// `true` or `false`.
    pub fn flag(&self) -> Option<At<bool>> {
        self.learn(|| Form::Flag);
        self.kept(self.flag_of())
    }

    /// A whole number within limits.
    pub fn whole(&self, min: i64, max: i64) -> Option<At<i64>> {
        self.learn(|| Form::Whole(min, max));
        self.kept(self.whole_of(min, max))
    }

    /// A value as a parameter, state or setting of a kind takes it: SI, index of the word, 0 or 1, whole number.
    pub fn value(&self, takes: &ParamType) -> Option<At<f64>> {
        self.kept(self.try_value(takes))
    }

    /// As [`Field::value`], with nothing put on the list.
    ///
    /// # Errors
    /// What is wrong with the value.
    pub fn try_value(&self, takes: &ParamType) -> Result<f64, Wrong> {
        self.learn(|| Form::of(takes));
        match takes {
            ParamType::Quantity { dimension, min, max } => {
                let value = self.quantity_of(*dimension)?;
                if value < *min || value > *max {
                    return Err(outside(value, *dimension, *min, *max));
                }
                Ok(value)
            }
            ParamType::Choice(words) => self.choice_of(words).map(|index| index as f64),
            ParamType::Flag => self.flag_of().map(f64::from),
            ParamType::Whole { min, max } => self.whole_of(*min, *max).map(|value| value as f64),
        }
    }

    /// A table; `what` is its name in messages.
    pub fn table(&self, what: &str) -> Option<Reader<'a>> {
        self.learn(|| Form::Table(what.to_owned()));
        match self.item.as_table_like() {
            Some(table) => Some(Reader::new(self.problems, table, self.spot, what, self.fill)),
            None => {
                let mut wrong = self.not("a table");
                wrong.help = self.item.is_array_of_tables().then(|| format!("write `[{}]`", self.key));
                self.put(self.spot, wrong);
                None
            }
        }
    }

    /// A list of tables; `what` is the name of one in messages.
    pub fn tables(&self, what: &str) -> Vec<Reader<'a>> {
        self.learn(|| Form::Tables(what.to_owned()));
        let of = |table: &'a dyn TableLike, span| {
            Reader::new(self.problems, table, self.problems.spot(span, self.spot), what, self.fill)
        };
        if let Some(tables) = self.item.as_array_of_tables() {
            return tables.iter().map(|table| of(table, table.span())).collect();
        }
        let Some(array) = self.item.as_array() else {
            let mut wrong = self.not("a list of tables");
            wrong.help = self.item.is_table_like().then(|| format!("write `[[{}]]`", self.key));
            self.put(self.spot, wrong);
            return Vec::new();
        };
        let tables: Vec<_> = array.iter().filter_map(Value::as_inline_table).collect();
        if tables.len() != array.len() {
            self.put(self.spot, self.not("a list of tables"));
        }
        tables.into_iter().map(|table| of(table, table.span())).collect()
    }

    /// Takes tables apart into their values, with names joined by dots.
    pub(super) fn flatten_into(self, fields: &mut Vec<Field<'a>>) {
        let Some(table) = self.item.as_table_like() else {
            fields.push(self);
            return;
        };
        for (key, item) in table.iter() {
            // The first part of `sea.valve.position` is shared with other lines, the last is not.
            let key_spot = self.problems.spot(table.key(key).and_then(toml_edit::Key::span), self.key_spot);
            let inner = Field {
                key: format!("{}.{key}", self.key),
                key_spot,
                spot: self.problems.spot(item.span(), key_spot),
                item,
                ..self.clone()
            };
            inner.flatten_into(fields);
        }
    }

    /// Every text in the value, at any depth.
    pub(super) fn texts_within(&self, texts: &mut Vec<String>) {
        if let Some(tables) = self.item.as_array_of_tables() {
            for table in tables {
                for (_, item) in table {
                    Field { item, ..self.clone() }.texts_within(texts);
                }
            }
        } else if let Some(table) = self.item.as_table_like() {
            for (_, item) in table.iter() {
                Field { item, ..self.clone() }.texts_within(texts);
            }
        } else if let Some(array) = self.item.as_array() {
            texts.extend(array.iter().filter_map(|value| self.text_of(Some(value)).ok()));
        } else {
            texts.extend(self.text_of(self.item.as_value()).ok());
        }
    }

    fn kept<T>(&self, read: Result<T, Wrong>) -> Option<At<T>> {
        match read {
            Ok(value) => Some(At { value, spot: self.spot }),
            Err(wrong) => {
                self.put(self.spot, wrong);
                None
            }
        }
    }

    fn put(&self, spot: Spot, wrong: Wrong) {
        let message = format!("`{}`: {}", self.key, wrong.message);
        match wrong.help {
            Some(help) => self.problems.report_with_help(spot, message, help),
            None => self.problems.report(spot, message),
        }
    }

    fn not(&self, wanted: &str) -> Wrong {
        Wrong::new(format!("must be {wanted}, not {}", type_words(self.item.type_name())))
    }

    fn text_of(&self, value: Option<&Value>) -> Result<String, Wrong> {
        let Some(text) = value.and_then(Value::as_str) else {
            let found = value.map_or(self.item.type_name(), Value::type_name);
            return Err(Wrong::new(format!("must be a text, not {}", type_words(found))));
        };
        // Lines end as here, whatever editor wrote them.
        let text = text.replace("\r\n", "\n");
        // A terminal would obey it.
        if let Some(control) = text.chars().find(|c| c.is_control() && !matches!(c, '\n' | '\t')) {
            let code = u32::from(control);
            return Err(Wrong::new(format!(
                "holds a control character (U+{code:04X}), which nobody can read"
            )));
        }
        let Some(fill) = self.fill else {
            return Ok(text);
        };
        fill.apply(&text).map_err(|key| {
            let (_, help) = nearest::help(&key, &fill.keys());
            Wrong { message: format!("nothing is given for the placeholder `{{{key}}}`"), help }
        })
    }

    fn quantity_of(&self, dimension: Dimension) -> Result<f64, Wrong> {
        let number = self.item.as_float().or_else(|| self.item.as_integer().map(|whole| whole as f64));
        match (dimension, number) {
            (Dimension::None, Some(number)) if number.is_finite() => Ok(number + 0.0),
            (Dimension::None, _) => Err(self.not("a number without unit")),
            (_, Some(number)) => {
                let unit = dimension.units().next().unwrap_or("");
                let mut wrong = self.not(&format!("a text with number and unit ({})", dimension.name()));
                // Who writes 0.5 for a share means half of it.
                let is_share = dimension == Dimension::Ratio && self.item.is_float() && number.abs() <= 1.0;
                let number = if is_share { number * 100.0 } else { number };
                wrong.help = Some(format!("e.g. \"{number} {unit}\""));
                Err(wrong)
            }
            (_, None) => {
                let text = self.text_of(self.item.as_value())?;
                parse_quantity(&text, dimension).map_err(|problem| Wrong::new(problem.to_string()))
            }
        }
    }

    fn choice_of(&self, words: &[&str]) -> Result<usize, Wrong> {
        let text = self.text_of(self.item.as_value())?;
        words.iter().position(|word| *word == text).ok_or_else(|| {
            let (_, help) = nearest::help(&text, words);
            Wrong {
                message: format!("`{text}` is not one of {}", words.join(", ")),
                help: help.filter(|h| h.starts_with("did")),
            }
        })
    }

    fn flag_of(&self) -> Result<bool, Wrong> {
        self.item.as_bool().ok_or_else(|| self.not("true or false"))
    }

    fn whole_of(&self, min: i64, max: i64) -> Result<i64, Wrong> {
        let value = self.item.as_integer().ok_or_else(|| self.not("a whole number"))?;
        match (min..=max).contains(&value) {
            true => Ok(value),
            false if max == i64::MAX => Err(Wrong::new(format!("{value} is less than {min}"))),
            false => Err(Wrong::new(format!("{value} is outside {min} to {max}"))),
        }
    }
}

/// Says the range in displayed units; a limit without bound is left out.
fn outside(value: f64, dimension: Dimension, min: f64, max: f64) -> Wrong {
    let of = |limit| format_limit(limit, dimension);
    let range = match (min.is_finite(), max.is_finite()) {
        (true, true) => format!("outside {} to {}", of(min), of(max)),
        (true, false) => format!("less than {}", of(min)),
        _ => format!("more than {}", of(max)),
    };
    Wrong::new(format!("{} is {range}", of(value)))
}

fn type_words(name: &str) -> &'static str {
    match name {
        "string" => "a text",
        "integer" => "a whole number",
        "float" => "a number",
        "boolean" => "true or false",
        "datetime" => "a date or time",
        "array" => "a list",
        "table" | "inline table" => "a table",
        "array of tables" => "a list of tables",
        _ => "nothing",
    }
}
