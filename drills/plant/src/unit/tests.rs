//! Tests of quantities.

use super::*;
use proptest::prelude::*;

fn near(text: &str, dimension: Dimension, si: f64) {
    let value = parse_quantity(text, dimension).unwrap();
    assert!((value - si).abs() <= 1e-9 * si.abs(), "{text}: {value} is not {si}");
}

#[test]
fn units_become_si() {
    near("120 m3/h", Dimension::Flow, 120.0 / 3600.0);
    near("25 degC", Dimension::Temperature, 298.15);
    near("25 °C", Dimension::Temperature, 298.15);
    near("8 K", Dimension::TemperatureDifference, 8.0);
    near("-0.25 bar", Dimension::Pressure, -25000.0);
    near("1013.25 mbar", Dimension::Pressure, 101_325.0);
    near("-10 %", Dimension::Ratio, -0.1);
    near("36 Kv", Dimension::FlowCoefficient, 0.01);
    near("900 rpm", Dimension::Speed, 94.247_779_607_693_79);
    near("55 Ah", Dimension::Charge, 198_000.0);
    near("6.7 min", Dimension::Time, 402.0);
    near("1915 kJ/K", Dimension::HeatCapacity, 1.915e6);
    near("750 kVA", Dimension::ApparentPower, 7.5e5);
    near("87 mm2/s", Dimension::Viscosity, 8.7e-5);
    near("100 kohm", Dimension::Insulation, 1e5);
    near("0.02  kg m2", Dimension::Inertia, 0.02);
    near("1e3 m3", Dimension::Volume, 1000.0);
    near("4", Dimension::None, 4.0);
}

fn said(text: &str, dimension: Dimension) -> String {
    parse_quantity(text, dimension).unwrap_err().to_string()
}

#[test]
fn wrong_texts_are_explained() {
    assert_eq!(
        said("3 m", Dimension::Pressure),
        "`m` is a unit of length; pressure takes bar, mbar, Pa, kPa, MPa"
    );
    assert_eq!(
        said("3 furlong", Dimension::Length),
        "`furlong` is not a unit known here; length takes m, mm"
    );
    assert_eq!(said("3", Dimension::Frequency), "the unit is missing; frequency takes Hz");
    assert_eq!(said("10%", Dimension::Ratio), "put a space between number and unit: `10 %`");
    assert_eq!(said("2m", Dimension::Time), "put a space between number and unit: `2 min`");
    assert_eq!(said("1,5 bar", Dimension::Pressure), "`1,5` is not a number; write decimals with a point");
    assert_eq!(said("1e999 bar", Dimension::Pressure), "the number is too great");
    assert_eq!(said("4 m", Dimension::None), "`m` is a unit of length; a plain number takes no unit");
    for text in [
        "", " ", "NaN bar", "inf bar", "-inf bar", "0x10 bar", "1 2 bar", "bar", "e5 bar", "1_0 bar", "- bar",
    ] {
        assert!(parse_quantity(text, Dimension::Pressure).is_err(), "{text}");
    }
}

#[test]
fn people_see_usual_units() {
    assert_eq!(format_si(3e5, Dimension::Pressure), "3.00 bar");
    assert_eq!(format_si(354.65, Dimension::Temperature), "81.5 °C");
    assert_eq!(format_si(0.4, Dimension::Volume), "400 L");
    assert_eq!(format_si(2.0, Dimension::Volume), "2.00 m3");
    assert_eq!(format_si(-1e-9, Dimension::Ratio), "0.0 %");
    assert_eq!(format_si(4.0, Dimension::None), "4");
    assert_eq!(format_si(f64::NAN, Dimension::Power), "no value");
    assert_eq!(format_limit(100.0, Dimension::Pressure), "0.001 bar");
    assert_eq!(format_limit(0.02 / 3600.0, Dimension::Flow), "0.02 m3/h");
    assert_eq!(format_limit(1e12, Dimension::Resistance), "1e12 ohm");
}

#[test]
fn tables_stand_in_order() {
    for (index, dimension) in Dimension::ALL.into_iter().enumerate() {
        assert_eq!(dimension as usize, index);
        assert_eq!(dimension.table().dimension, dimension);
    }
}

#[test]
fn a_unit_belongs_to_one_dimension() {
    let mut all: Vec<&str> = Dimension::ALL.into_iter().flat_map(Dimension::units).collect();
    let count = all.len();
    all.sort_unstable();
    all.dedup();
    assert_eq!(all.len(), count);
}

proptest! {
    #[test]
    fn written_and_read_back(number in -1e6..1e6f64, pick in 0usize..Dimension::ALL.len()) {
        let dimension = Dimension::ALL[pick];
        for unit in dimension.units() {
            let si = parse_quantity(&format!("{number} {unit}"), dimension).unwrap();
            let shown = format!("{} {}", to_display(si, dimension), display_unit(dimension));
            let again = parse_quantity(&shown, dimension).unwrap();
            prop_assert!((again - si).abs() <= 1e-9 * (1.0 + si.abs()), "{number} {unit}: {si} {again}");
        }
    }

    #[test]
    fn limits_can_be_read(number in -1e9..1e9f64, pick in 0usize..Dimension::ALL.len()) {
        let dimension = Dimension::ALL[pick];
        prop_assert!(parse_quantity(&format_limit(number, dimension), dimension).is_ok());
    }

    #[test]
    fn any_text_is_survived(text in ".{0,12}", pick in 0usize..Dimension::ALL.len()) {
        let _ = parse_quantity(&text, Dimension::ALL[pick]);
    }
}
