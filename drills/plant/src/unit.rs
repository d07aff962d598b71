//! Quantities with units: text to SI and back, with the dimension checked.
//!
//! Each dimension has a table of the units it takes; the first one is the unit shown to people. Conversions are one
//! multiplication and one addition, so they give the same bits on every machine.

mod table;

use std::fmt;
use table::{TABLES, Table};

/// A physical dimension. The unit named is the SI unit in which values are stored.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// A state, a count, a word.
    None,
    /// A ratio; 1 = 100 %.
    Ratio,
    /// Pa. In ship files and readings gauge pressure unless the name says absolute.
    Pressure,
    /// K.
    Temperature,
    /// K, a difference.
    TemperatureDifference,
    /// m3/s.
    Flow,
    /// kg/s.
    MassFlow,
    /// m3.
    Volume,
    /// m.
    Length,
    /// m2.
    Area,
    /// kg.
    Mass,
    /// kg m2.
    Inertia,
    /// kg/m3.
    Density,
    /// m2/s.
    Viscosity,
    /// J.
    Energy,
    /// J/kg.
    SpecificEnergy,
    /// J/K.
    HeatCapacity,
    /// W/K.
    HeatConductance,
    /// W.
    Power,
    /// VA.
    ApparentPower,
    /// var.
    ReactivePower,
    /// Nm.
    Torque,
    /// V.
    Voltage,
    /// A.
    Current,
    /// C (ampere hours in files).
    Charge,
    /// ohm.
    Resistance,
    /// Hz.
    Frequency,
    /// rad/s (rpm in files).
    Speed,
    /// rad (degrees in files).
    Angle,
    /// s.
    Time,
    /// m3/s at 1 bar and water of 1000 kg/m3 (Kv in files: `"38.5 Kv"` = m3/h at 1 bar, IEC 60534).
    FlowCoefficient,
    /// m3 per radian of shaft rotation (in files m3/h at rated speed is given instead where possible).
    Displacement,
    /// ohm to earth.
    Insulation,
}

impl Dimension {
    /// All dimensions.
    pub const ALL: [Dimension; 33] = [
        Dimension::None,
        Dimension::Ratio,
        Dimension::Pressure,
        Dimension::Temperature,
        Dimension::TemperatureDifference,
        Dimension::Flow,
        Dimension::MassFlow,
        Dimension::Volume,
        Dimension::Length,
        Dimension::Area,
        Dimension::Mass,
        Dimension::Inertia,
        Dimension::Density,
        Dimension::Viscosity,
        Dimension::Energy,
        Dimension::SpecificEnergy,
        Dimension::HeatCapacity,
        Dimension::HeatConductance,
        Dimension::Power,
        Dimension::ApparentPower,
        Dimension::ReactivePower,
        Dimension::Torque,
        Dimension::Voltage,
        Dimension::Current,
        Dimension::Charge,
        Dimension::Resistance,
        Dimension::Frequency,
        Dimension::Speed,
        Dimension::Angle,
        Dimension::Time,
        Dimension::FlowCoefficient,
        Dimension::Displacement,
        Dimension::Insulation,
    ];

    /// The name for people: `pressure`, `temperature difference`.
    pub fn name(self) -> &'static str {
        self.table().name
    }

    /// The units it takes in files, the displayed one first. Empty for [`Dimension::None`].
    pub fn units(self) -> impl Iterator<Item = &'static str> {
        self.table().units.iter().map(|unit| unit.text)
    }

    fn table(self) -> &'static Table {
        &TABLES[self as usize]
    }
}

/// Why a text is not a quantity of the dimension that was asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum UnitProblem {
    /// Nothing was written.
    Empty {
        /// Dimension asked for.
        dimension: Dimension,
    },
    /// What should be the number is not a decimal number.
    NotANumber {
        /// The text taken for the number.
        text: String,
    },
    /// A number without unit.
    NoUnit {
        /// Dimension asked for.
        dimension: Dimension,
    },
    /// Number and unit are not parted by a space.
    NoSpace {
        /// The number.
        number: String,
        /// The unit.
        unit: String,
    },
    /// A unit that the dimension does not take.
    WrongUnit {
        /// The unit as written.
        unit: String,
        /// Dimension asked for.
        dimension: Dimension,
        /// Dimension that the unit is of, where it is known.
        known_as: Option<Dimension>,
    },
    /// The number is too great to be stored.
    TooGreat,
}

impl fmt::Display for UnitProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            UnitProblem::Empty { dimension } => write!(f, "nothing written; {}", Takes(*dimension)),
            UnitProblem::NotANumber { text } if text.contains(',') => {
                write!(f, "`{text}` is not a number; write decimals with a point")
            }
            UnitProblem::NotANumber { text } => write!(f, "`{text}` is not a decimal number"),
            UnitProblem::NoUnit { dimension } => write!(f, "the unit is missing; {}", Takes(*dimension)),
            UnitProblem::NoSpace { number, unit } => {
                write!(f, "put a space between number and unit: `{number} {unit}`")
            }
            UnitProblem::WrongUnit { unit, dimension, known_as: Some(other) } => {
                write!(f, "`{unit}` is a unit of {}; {}", other.name(), Takes(*dimension))
            }
            UnitProblem::WrongUnit { unit, dimension, known_as: None } => {
                match dimension.units().find(|known| known.eq_ignore_ascii_case(unit)) {
                    Some(known) => write!(f, "`{unit}` is not a unit known here; did you mean `{known}`?"),
                    None => write!(f, "`{unit}` is not a unit known here; {}", Takes(*dimension)),
                }
            }
            UnitProblem::TooGreat => write!(f, "the number is too great"),
        }
    }
}

impl std::error::Error for UnitProblem {}

/// Says which units a dimension takes.
struct Takes(Dimension);

impl fmt::Display for Takes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0 == Dimension::None {
            return write!(f, "a plain number takes no unit");
        }
        let units: Vec<&str> = self.0.units().collect();
        write!(f, "{} takes {}", self.0.name(), units.join(", "))
    }
}

/// Reads a quantity such as `"120 m3/h"` and gives it in SI.
///
/// Number and unit are parted by a space; the number is decimal with a point. A ratio is written in per cent; a
/// [`Dimension::None`] is a number alone.
///
/// # Errors
/// A [`UnitProblem`] that says what the dimension takes.
pub fn parse_quantity(text: &str, dimension: Dimension) -> Result<f64, UnitProblem> {
    let text = text.trim();
    if text.is_empty() {
        return Err(UnitProblem::Empty { dimension });
    }
    let (number, unit) = match text.split_once(char::is_whitespace) {
        Some((number, unit)) => (number, unit.trim()),
        None => (text, ""),
    };
    let Some(value) = decimal(number) else {
        return Err(not_a_number(number, dimension));
    };
    if dimension == Dimension::None && unit.is_empty() {
        return finite(value);
    }
    if unit.is_empty() {
        return Err(UnitProblem::NoUnit { dimension });
    }
    // What is shown to people as "°C" may be pasted back.
    let written = if unit == "°C" { "degC" } else { unit };
    match dimension.table().units.iter().find(|known| known.text == written) {
        Some(known) => finite(value * known.factor + known.offset),
        None => {
            Err(UnitProblem::WrongUnit { unit: unit.to_owned(), dimension, known_as: dimension_of(written) })
        }
    }
}

/// A decimal number: no hexadecimal, no words for infinity.
fn decimal(text: &str) -> Option<f64> {
    let plain = text.chars().all(|c| c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | 'e' | 'E'));
    let starts_well = !text.starts_with(['e', 'E']);
    if plain && starts_well { text.parse().ok() } else { None }
}

/// Tells `120m3/h`, where only the space is missing, from what is no number at all.
fn not_a_number(text: &str, dimension: Dimension) -> UnitProblem {
    let end =
        text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '+' | '-' | '.'))).unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    if decimal(number).is_some() && dimension_of(unit).is_some() {
        // Where a time is asked for, nobody means metres.
        let unit = if dimension == Dimension::Time && unit == "m" { "min" } else { unit };
        return UnitProblem::NoSpace { number: number.to_owned(), unit: unit.to_owned() };
    }
    UnitProblem::NotANumber { text: text.to_owned() }
}

/// The dimension that a unit is of.
fn dimension_of(unit: &str) -> Option<Dimension> {
    TABLES
        .iter()
        .find(|table| table.units.iter().any(|known| known.text == unit))
        .map(|table| table.dimension)
}

/// Adding zero makes one zero of the two.
fn finite(value: f64) -> Result<f64, UnitProblem> {
    if value.is_finite() { Ok(value + 0.0) } else { Err(UnitProblem::TooGreat) }
}

/// The unit shown to people; empty for [`Dimension::None`].
pub fn display_unit(dimension: Dimension) -> &'static str {
    match (dimension, dimension.table().units.first()) {
        (Dimension::Temperature, _) => "°C",
        (_, Some(unit)) => unit.text,
        (_, None) => "",
    }
}

/// The number that goes with [`display_unit`].
pub fn to_display(value: f64, dimension: Dimension) -> f64 {
    match dimension.table().units.first() {
        Some(unit) => (value - unit.offset) / unit.factor,
        None => value,
    }
}

/// A quantity for people, in the displayed unit and with the decimals usual for it: `3.00 bar`, `81.5 °C`.
///
/// Volumes below 2 m3 are shown in litres.
pub fn format_si(value: f64, dimension: Dimension) -> String {
    if !value.is_finite() {
        return "no value".to_owned();
    }
    let litres = dimension == Dimension::Volume && value.abs() < 2.0;
    let (number, unit, decimals) = match litres {
        true => (value * 1000.0, "L", 0),
        false => (to_display(value, dimension), display_unit(dimension), dimension.table().decimals),
    };
    let text = if dimension == Dimension::None {
        trimmed(format!("{number:.decimals$}"))
    } else {
        format!("{number:.decimals$}")
    };
    with_unit(without_minus_zero(text), unit)
}

/// The smallest step that [`format_si`] shows at this value, SI: a change below it can stay unseen.
pub fn resolution(dimension: Dimension, value: f64) -> f64 {
    if dimension == Dimension::Volume && value.abs() < 2.0 {
        return 1e-3;
    }
    let factor = dimension.table().units.first().map_or(1.0, |unit| unit.factor);
    (0..dimension.table().decimals).fold(factor, |step, _| step / 10.0)
}

/// A quantity as it could be written in a file: displayed unit, up to six significant digits, nothing rounded away.
///
/// For limits of ranges, where `0.00 bar` would hide that the limit is 1 mbar.
pub fn format_limit(value: f64, dimension: Dimension) -> String {
    let number = to_display(value, dimension);
    // The exponent form gives six significant digits; parsing it back drops the noise of the conversion.
    let rounded: f64 = format!("{number:.5e}").parse().unwrap_or(number);
    let unit = dimension.units().next().unwrap_or("");
    let text = match rounded.abs() {
        size if size != 0.0 && !(1e-4..1e7).contains(&size) => format!("{rounded:e}"),
        _ => format!("{rounded}"),
    };
    with_unit(without_minus_zero(text), unit)
}

fn with_unit(number: String, unit: &str) -> String {
    if unit.is_empty() { number } else { format!("{number} {unit}") }
}

fn trimmed(number: String) -> String {
    match number.contains('.') {
        true => number.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => number,
    }
}

/// A value that rounds to zero is shown without a sign.
fn without_minus_zero(number: String) -> String {
    match number.strip_prefix('-') {
        Some(digits) if digits.chars().all(|c| c == '0' || c == '.') => digits.to_owned(),
        _ => number,
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;
