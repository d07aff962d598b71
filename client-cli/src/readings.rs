//! Readings by name and pattern, and their units.

use crate::failure::Failure;
use deadship_plant::file::toml_reader::matches;
use deadship_plant::plant::Compiled;
use deadship_plant::unit::{Dimension, display_unit, to_display};

/// A reading that was asked for.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// Full name, `component.reading`.
    pub name: String,
    /// Component.
    pub component: usize,
    /// Reading of its kind.
    pub reading: usize,
    /// Dimension.
    pub dimension: Dimension,
    /// Words of a state.
    pub words: &'static [&'static str],
}

/// The readings that the patterns name, in the order of the patterns, each once. A component's name alone stands for
/// all of its readings.
///
/// # Errors
/// When a pattern fits nothing.
pub fn choose(compiled: &Compiled, patterns: &[String]) -> Result<Vec<Wanted>, Failure> {
    let all = all(compiled);
    let mut taken = vec![false; all.len()];
    let mut chosen = Vec::new();
    for pattern in patterns.iter().map(|pattern| pattern.trim()) {
        let owner = |wanted: &Wanted| compiled.spec.components[wanted.component].name == pattern;
        let mut any = false;
        for (i, wanted) in all.iter().enumerate() {
            if matches(pattern, &wanted.name) || owner(wanted) {
                any = true;
                if !std::mem::replace(&mut taken[i], true) {
                    chosen.push(wanted.clone());
                }
            }
        }
        if !any {
            let components = compiled.spec.components.iter().map(|component| component.name.as_str());
            let known = all.iter().map(|wanted| wanted.name.as_str()).chain(components);
            return Err(Failure::unknown("reading", pattern, known));
        }
    }
    Ok(chosen)
}

fn all(compiled: &Compiled) -> Vec<Wanted> {
    let mut all = Vec::new();
    for (component, owner) in compiled.spec.components.iter().enumerate() {
        for (reading, def) in owner.kind.readings.iter().enumerate() {
            let name = format!("{}.{}", owner.name, def.name);
            all.push(Wanted { name, component, reading, dimension: def.dimension, words: def.words });
        }
    }
    all
}

impl Wanted {
    /// The unit: SI, or as shown to people. Empty for states and counts.
    pub fn unit(&self, display: bool) -> &'static str {
        if display { display_unit(self.dimension) } else { si_unit(self.dimension) }
    }

    /// Name and unit: `dg1.engine.speed [rad/s]`.
    pub fn header(&self, display: bool) -> String {
        match self.unit(display) {
            "" => self.name.clone(),
            unit => format!("{} [{unit}]", self.name),
        }
    }

    /// The value as a number in that unit.
    pub fn number(&self, value: f64, display: bool) -> f64 {
        if display { to_display(value, self.dimension) } else { value }
    }

    /// The word of a state, as people see it.
    pub fn word(&self, value: f64) -> Option<&'static str> {
        self.words.get(value.round().max(0.0) as usize).copied()
    }
}

/// The SI unit in which a value is computed.
pub fn si_unit(dimension: Dimension) -> &'static str {
    match dimension {
        Dimension::None => "",
        Dimension::Ratio => "1",
        Dimension::Pressure => "Pa",
        Dimension::Temperature | Dimension::TemperatureDifference => "K",
        Dimension::Flow => "m3/s",
        Dimension::MassFlow => "kg/s",
        Dimension::Volume => "m3",
        Dimension::Length => "m",
        Dimension::Area => "m2",
        Dimension::Mass => "kg",
        Dimension::Inertia => "kg m2",
        Dimension::Density => "kg/m3",
        Dimension::Viscosity => "m2/s",
        Dimension::Energy => "J",
        Dimension::SpecificEnergy => "J/kg",
        Dimension::HeatCapacity => "J/K",
        Dimension::HeatConductance => "W/K",
        Dimension::Power => "W",
        Dimension::ApparentPower => "VA",
        Dimension::ReactivePower => "var",
        Dimension::Torque => "Nm",
        Dimension::Voltage => "V",
        Dimension::Current => "A",
        Dimension::Charge => "C",
        Dimension::Resistance => "ohm",
        Dimension::Frequency => "Hz",
        Dimension::Speed => "rad/s",
        Dimension::Angle => "rad",
        Dimension::Time => "s",
        Dimension::FlowCoefficient => "m3/s at 1 bar",
        Dimension::Displacement => "m3/rad",
        Dimension::Insulation => "ohm",
    }
}
