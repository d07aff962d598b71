//! The units that each dimension takes.

use super::Dimension;

/// One unit of a dimension: `si = value * factor + offset`.
pub(super) struct Unit {
    /// As written in files.
    pub text: &'static str,
    pub factor: f64,
    pub offset: f64,
}

/// A unit without offset.
const fn unit(text: &'static str, factor: f64) -> Unit {
    Unit { text, factor, offset: 0.0 }
}

/// What a dimension is called, its units (the first is the one for people) and the decimals shown.
pub(super) struct Table {
    pub dimension: Dimension,
    pub name: &'static str,
    pub decimals: usize,
    pub units: &'static [Unit],
}

/// Radians per second in one revolution per minute.
const RPM: f64 = std::f64::consts::TAU / 60.0;
/// m3/s in one m3/h.
const PER_HOUR: f64 = 1.0 / 3600.0;

/// One table a dimension, in the order of the enum.
pub(super) static TABLES: [Table; 33] = [
    Table { dimension: Dimension::None, name: "plain number", decimals: 3, units: &[] },
    Table { dimension: Dimension::Ratio, name: "ratio", decimals: 1, units: &[unit("%", 0.01)] },
    Table {
        dimension: Dimension::Pressure,
        name: "pressure",
        decimals: 2,
        units: &[unit("bar", 1e5), unit("mbar", 100.0), unit("Pa", 1.0), unit("kPa", 1e3), unit("MPa", 1e6)],
    },
    Table {
        dimension: Dimension::Temperature,
        name: "temperature",
        decimals: 1,
        units: &[Unit { text: "degC", factor: 1.0, offset: 273.15 }],
    },
    Table {
        dimension: Dimension::TemperatureDifference,
        name: "temperature difference",
        decimals: 1,
        units: &[unit("K", 1.0)],
    },
    Table {
        dimension: Dimension::Flow,
        name: "flow",
        decimals: 1,
        units: &[
            unit("m3/h", PER_HOUR),
            unit("m3/s", 1.0),
            unit("L/min", 1e-3 / 60.0),
            unit("L/h", 1e-3 / 3600.0),
        ],
    },
    Table {
        dimension: Dimension::MassFlow,
        name: "mass flow",
        decimals: 3,
        units: &[unit("kg/s", 1.0), unit("kg/h", PER_HOUR), unit("t/h", 1e3 / 3600.0)],
    },
    Table {
        dimension: Dimension::Volume,
        name: "volume",
        decimals: 2,
        units: &[unit("m3", 1.0), unit("L", 1e-3)],
    },
    Table {
        dimension: Dimension::Length,
        name: "length",
        decimals: 2,
        units: &[unit("m", 1.0), unit("mm", 1e-3)],
    },
    Table {
        dimension: Dimension::Area,
        name: "area",
        decimals: 2,
        units: &[unit("cm2", 1e-4), unit("m2", 1.0), unit("mm2", 1e-6)],
    },
    Table {
        dimension: Dimension::Mass,
        name: "mass",
        decimals: 1,
        units: &[unit("kg", 1.0), unit("t", 1e3), unit("g", 1e-3)],
    },
    Table {
        dimension: Dimension::Inertia,
        name: "moment of inertia",
        decimals: 2,
        units: &[unit("kg m2", 1.0)],
    },
    Table { dimension: Dimension::Density, name: "density", decimals: 1, units: &[unit("kg/m3", 1.0)] },
    Table {
        dimension: Dimension::Viscosity,
        name: "viscosity",
        decimals: 1,
        units: &[unit("mm2/s", 1e-6), unit("m2/s", 1.0)],
    },
    Table {
        dimension: Dimension::Energy,
        name: "energy",
        decimals: 2,
        units: &[unit("MJ", 1e6), unit("kJ", 1e3), unit("J", 1.0), unit("kWh", 3.6e6)],
    },
    Table {
        dimension: Dimension::SpecificEnergy,
        name: "specific energy",
        decimals: 1,
        units: &[unit("MJ/kg", 1e6), unit("kJ/kg", 1e3), unit("J/kg", 1.0)],
    },
    Table {
        dimension: Dimension::HeatCapacity,
        name: "heat capacity",
        decimals: 1,
        units: &[unit("kJ/K", 1e3), unit("MJ/K", 1e6), unit("J/K", 1.0)],
    },
    Table {
        dimension: Dimension::HeatConductance,
        name: "heat conductance",
        decimals: 2,
        units: &[unit("kW/K", 1e3), unit("W/K", 1.0)],
    },
    Table {
        dimension: Dimension::Power,
        name: "power",
        decimals: 1,
        units: &[unit("kW", 1e3), unit("W", 1.0), unit("MW", 1e6)],
    },
    Table {
        dimension: Dimension::ApparentPower,
        name: "apparent power",
        decimals: 1,
        units: &[unit("kVA", 1e3), unit("VA", 1.0), unit("MVA", 1e6)],
    },
    Table {
        dimension: Dimension::ReactivePower,
        name: "reactive power",
        decimals: 1,
        units: &[unit("kvar", 1e3), unit("var", 1.0), unit("Mvar", 1e6)],
    },
    Table {
        dimension: Dimension::Torque,
        name: "torque",
        decimals: 1,
        units: &[unit("Nm", 1.0), unit("kNm", 1e3)],
    },
    Table {
        dimension: Dimension::Voltage,
        name: "voltage",
        decimals: 1,
        units: &[unit("V", 1.0), unit("kV", 1e3), unit("mV", 1e-3)],
    },
    Table {
        dimension: Dimension::Current,
        name: "current",
        decimals: 1,
        units: &[unit("A", 1.0), unit("kA", 1e3), unit("mA", 1e-3)],
    },
    Table {
        dimension: Dimension::Charge,
        name: "charge",
        decimals: 1,
        units: &[unit("Ah", 3600.0), unit("C", 1.0)],
    },
    Table {
        dimension: Dimension::Resistance,
        name: "resistance",
        decimals: 3,
        units: &[unit("ohm", 1.0), unit("mohm", 1e-3)],
    },
    Table { dimension: Dimension::Frequency, name: "frequency", decimals: 2, units: &[unit("Hz", 1.0)] },
    Table {
        dimension: Dimension::Speed,
        name: "speed",
        decimals: 0,
        units: &[unit("rpm", RPM), unit("rad/s", 1.0)],
    },
    Table {
        dimension: Dimension::Angle,
        name: "angle",
        decimals: 1,
        units: &[unit("deg", std::f64::consts::PI / 180.0), unit("rad", 1.0)],
    },
    Table {
        dimension: Dimension::Time,
        name: "time",
        decimals: 1,
        units: &[unit("s", 1.0), unit("min", 60.0), unit("h", 3600.0), unit("ms", 1e-3)],
    },
    Table {
        dimension: Dimension::FlowCoefficient,
        name: "flow coefficient",
        decimals: 1,
        units: &[unit("Kv", PER_HOUR)],
    },
    Table {
        dimension: Dimension::Displacement,
        name: "displacement",
        decimals: 2,
        units: &[unit("L/rev", 1e-3 / std::f64::consts::TAU), unit("m3/rev", 1.0 / std::f64::consts::TAU)],
    },
    Table {
        dimension: Dimension::Insulation,
        name: "insulation resistance",
        decimals: 0,
        units: &[unit("kohm", 1e3), unit("Mohm", 1e6)],
    },
];
