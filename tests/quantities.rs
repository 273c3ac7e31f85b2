//! Quantities as people write them, against unit definitions from outside the project.

#![allow(clippy::unwrap_used)]

use firstheat::units::quantity::{
    AREA, AREA_DENSITY, CONDUCTIVITY, DENSITY, HEAT_CAPACITY, LENGTH, MASS, Measure, POWER, PRESSURE, QuantityError,
    RAMP, SHARE, STRENGTH, Shown, TEMPERATURE, TEMPERATURE_DIFFERENCE, TIME, UnitSystem, percent,
};
use firstheat::units::{Celsius, KelvinDiff, KelvinPerHour, Kilograms, Metres, Pascals, Seconds, SquareMetres, Watts};
use proptest::prelude::*;

#[track_caller]
fn assert_parses(measure: &'static Measure, cases: &[(&str, f64)]) {
    for (text, expected) in cases {
        let found = measure.parse(text).unwrap_or_else(|error| panic!("{text}: {error}"));
        let tolerance = 1e-6 * expected.abs().max(1e-9);
        assert!((found - expected).abs() <= tolerance, "{text}: found {found}, expected {expected}");
    }
}

/// NIST SP 811 (2008), appendix B.8: factors for units listed alphabetically, seven figures.
#[test]
fn units_are_those_of_nist_sp_811() {
    assert_parses(&LENGTH, &[("1 in", 0.0254), ("1 ft", 0.3048), ("1 mm", 0.001)]);
    assert_parses(&AREA, &[("1 in2", 6.4516e-4), ("1 ft2", 0.092_903_04), ("2 in2", 1.290_32e-3), ("0.1 m2", 0.1)]);
    assert_parses(&MASS, &[("1 lb", 0.453_592_37), ("1 oz", 0.028_349_523), ("11 lb", 4.989_516_07)]);
    assert_parses(&PRESSURE, &[("1 psi", 6_894.757), ("1 bar", 1e5), ("10 psi", 68_947.57)]);
    assert_parses(&POWER, &[("1 BTU/h", 0.293_071_07), ("30000 BTU/h", 8_792.132), ("9 kW", 9000.0)]);
    assert_parses(&DENSITY, &[("1 lb/ft3", 16.018_463), ("2.2 g/cm3", 2200.0)]);
    assert_parses(&CONDUCTIVITY, &[("1 BTU in/ft2 h F", 0.144_227_9), ("1.2 W/(m·K)", 1.2)]);
    assert_parses(&HEAT_CAPACITY, &[("1 BTU/lb F", 4186.8), ("1 kJ/kgK", 1000.0)]);
    assert_parses(&STRENGTH, &[("1 kgf/cm2", 0.098_066_5), ("1 MPa", 1.0)]);
    assert_parses(&AREA_DENSITY, &[("1 lb/ft2", 4.882_428), ("3.6 L/m2", 3.6)]);
}

/// Fixed points: -40 is the same on both scales, water freezes at 32 F and boils at 212 F; 0 K is -273.15 C (ITS-90).
#[test]
fn a_temperature_in_fahrenheit_has_its_own_zero() {
    assert_parses(
        &TEMPERATURE,
        &[("-40 F", -40.0), ("212 F", 100.0), ("68 °F", 20.0), ("293.15 K", 20.0), ("\u{2212}5 C", -5.0)],
    );
    assert!(TEMPERATURE.parse("32 F").unwrap().abs() < 1e-12);
}

/// Nine degrees Fahrenheit are five kelvin, whatever the temperature.
#[test]
fn a_difference_or_ramp_in_fahrenheit_has_no_zero() {
    assert_parses(&TEMPERATURE_DIFFERENCE, &[("90 F", 50.0), ("50 K", 50.0), ("9 F", 5.0)]);
    assert_parses(&RAMP, &[("100 F/h", 55.555_556), ("56 C/h", 56.0), ("1 °C/min", 60.0), ("18 F/min", 600.0)]);
}

#[test]
fn fractions_of_an_inch_are_read_as_builders_write_them() {
    assert_parses(
        &LENGTH,
        &[("1/2 in", 0.0127), ("1 1/2 in", 0.0381), ("1-1/2 in", 0.0381), ("3/8\"", 9.525e-3), ("1½ in", 0.0381)],
    );
}

#[test]
fn terms_of_lengths_times_and_masses_add_up() {
    assert_parses(&LENGTH, &[("5 ft 6 in", 1.6764), ("5'6\"", 1.6764)]);
    assert_parses(
        &TIME,
        &[("2 h 30 min", 9000.0), ("3 days", 259_200.0), ("1 day 12 h", 129_600.0), ("1 week", 604_800.0)],
    );
    assert_parses(&MASS, &[("2 lb 8 oz", 1.133_980_9)]);
}

#[test]
fn spelling_and_spacing_do_not_matter() {
    assert_parses(
        &LENGTH,
        &[("12mm", 0.012), ("  12   MM ", 0.012), ("12 millimetres", 0.012), (".5 in", 0.0127), ("1e1 mm", 0.01)],
    );
    assert_parses(&TIME, &[("5 Min.", 300.0), ("1 hour", 3600.0)]);
    assert_parses(&SHARE, &[("18 %", 0.18), ("18%", 0.18), ("18.8 percent", 0.188)]);
    assert_parses(&AREA, &[("0.1 m²", 0.1), ("1 sq ft", 0.092_903_04), ("1 m^2", 1.0)]);
    assert_parses(&TEMPERATURE, &[("20 deg C", 20.0), ("20 degrees C", 20.0)]);
}

#[test]
fn every_wrong_quantity_is_refused_in_these_words() {
    let wrong: [(&'static Measure, &str); 14] = [
        (&LENGTH, ""),
        (&LENGTH, "mm"),
        (&LENGTH, "12"),
        (&LENGTH, "12 C"),
        (&LENGTH, "12 parsecs"),
        (&LENGTH, "1,200 mm"),
        (&LENGTH, "1/0 mm"),
        (&LENGTH, "12 mm thick"),
        (&LENGTH, "5 to 6 mm"),
        (&TEMPERATURE, "0 K"),
        (&TEMPERATURE, "-460 F"),
        (&TEMPERATURE, "20 C 5 C"),
        (&RAMP, "56 C"),
        (&TIME, "5 m"),
    ];
    let messages: Vec<String> =
        wrong.iter().map(|(measure, text)| format!("{text:?}: {}", measure.parse(text).unwrap_err())).collect();
    insta::assert_snapshot!(messages.join("\n"));
}

#[test]
fn a_long_wrong_text_is_shortened_in_the_message() {
    let message = LENGTH.parse(&"x".repeat(5000)).unwrap_err().to_string();
    assert!(message.chars().count() < 200, "{message}");
}

#[test]
fn unit_types_read_themselves() {
    assert_eq!("20 C".parse(), Ok(Celsius(20.0)));
    assert_eq!("12 mm".parse(), Ok(Metres(0.012)));
    assert_eq!("5 min".parse(), Ok(Seconds(300.0)));
    assert!(matches!("12 mm".parse::<Kilograms>(), Err(QuantityError::WrongUnit { .. })));
}

#[test]
fn quantities_are_shown_in_either_system() {
    let both = |quantity: &dyn Shown| [quantity.shown(UnitSystem::Metric), quantity.shown(UnitSystem::Us)];
    assert_eq!(both(&Metres(0.0127)), ["12.7 mm", "0.5 in"]);
    assert_eq!(both(&SquareMetres(0.092_903_04)), ["929 cm2", "1 ft2"]);
    assert_eq!(both(&Celsius(20.0)), ["20 °C", "68 °F"]);
    assert_eq!(both(&Celsius(-0.01)), ["0 °C", "32 °F"]);
    assert_eq!(both(&KelvinDiff(50.0)), ["50 K", "90 °F"]);
    assert_eq!(both(&KelvinPerHour(50.0)), ["50 °C/h", "90 °F/h"]);
    assert_eq!(both(&Kilograms(5.0)), ["5 kg", "11 lb"]);
    assert_eq!(both(&Kilograms(0.64)), ["640 g", "1.41 lb"]);
    assert_eq!(both(&Watts(9000.0)), ["9 kW", "30700 BTU/h"]);
    assert_eq!(both(&Pascals(68_947.57)), ["0.689 bar", "10 psi"]);
    assert_eq!(percent(0.188), "18.8 %");
}

#[test]
fn times_are_shown_in_the_two_largest_units() {
    let cases = [
        (0.0, "0 s"),
        (4.5, "4.5 s"),
        (60.0, "1 min"),
        (150.0, "2 min 30 s"),
        (9000.0, "2 h 30 min"),
        (86_400.0, "1 day"),
        (270_000.0, "3 days 3 h"),
        (-90.0, "-1 min 30 s"),
    ];
    for (span_s, shown) in cases {
        assert_eq!(Seconds(span_s).shown(UnitSystem::Metric), shown);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_text_makes_the_reader_panic(text in "\\PC{0,40}|[-0-9./ eE+,%a-zA-Z°\"']{0,20}") {
        for measure in [&LENGTH, &TEMPERATURE, &RAMP, &TIME, &SHARE, &AREA] {
            if let Ok(value) = measure.parse(&text) {
                prop_assert!(value.is_finite());
            }
        }
    }

    /// What is shown reads back within the rounding of the display.
    #[test]
    fn what_is_shown_can_be_read_again(value in 0.01_f64..1e5, us in any::<bool>()) {
        let system = if us { UnitSystem::Us } else { UnitSystem::Metric };
        let back: Watts = Watts(value).shown(system).parse().unwrap();
        prop_assert!((back.0 - value).abs() <= 0.006 * value, "{} from {value}", back.0);
        let back: Kilograms = Kilograms(value).shown(system).parse().unwrap();
        prop_assert!((back.0 - value).abs() <= 0.006 * value, "{} from {value}", back.0);
        let back: Celsius = Celsius(value).shown(system).parse().unwrap();
        prop_assert!((back.0 - value).abs() <= 0.051, "{} from {value}", back.0);
        let back: Seconds = Seconds(value).shown(system).parse().unwrap();
        prop_assert!((back.0 - value).abs() <= 0.05_f64.max(0.05 * value), "{} from {value}", back.0);
    }
}
