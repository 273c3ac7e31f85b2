//! The reference functions against numbers from outside the project.
//!
//! `tests/reference/emf_10C.csv` was evaluated with the `PyPI` package `thermocouples_reference` 0.20 (ITS-90 functions of
//! NIST Monograph 175, the same as IEC 60584-1) every 10 °C, reference junction at 0 °C.

#![allow(clippy::unwrap_used)]

use firstheat::thermocouple::{Grade, Millivolts, Thermocouple};
use firstheat::units::Celsius;
use proptest::prelude::*;

struct Row {
    couple: Thermocouple,
    temp: Celsius,
    emf: Millivolts,
}

fn rows() -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(include_str!("reference/emf_10C.csv").as_bytes());
    let rows: Vec<(String, f64, f64)> = reader.deserialize().map(Result::unwrap).collect();
    let row = |(letter, temp_c, emf_mv): (String, f64, f64)| Row {
        couple: Thermocouple::named(&letter).unwrap(),
        temp: Celsius(temp_c),
        emf: Millivolts(emf_mv),
    };
    rows.into_iter().map(row).collect()
}

#[test]
fn every_value_of_the_reference_file_is_met_to_a_microvolt() {
    let rows = rows();
    for letter in ["B", "E", "J", "K", "N", "R", "S", "T"] {
        let of_type = rows.iter().filter(|row| row.couple.letter() == letter).count();
        assert!(of_type > 60, "{letter}: {of_type} rows");
    }
    for Row { couple, temp, emf } in rows {
        let found = couple.emf(temp).unwrap();
        assert!((found.0 - emf.0).abs() < 0.001, "{couple} at {temp:?}: {found:?}, file {emf:?}");
    }
}

/// Of type B the inverse is not unique below 42 °C; IEC 60584-1 gives one from 250 °C on.
#[test]
fn the_temperature_of_every_value_of_the_reference_file_is_met_to_a_twentieth_of_a_kelvin() {
    for Row { couple, temp, emf } in rows() {
        if couple == Thermocouple::B && temp.0 < 45.0 {
            continue;
        }
        let found = couple.temp(emf).unwrap();
        assert!((found.0 - temp.0).abs() < 0.05, "{couple} at {emf:?}: {found:?}, file {temp:?}");
    }
}

/// Points as printed in the tables of NIST Monograph 175 and IEC 60584-1, three decimals. K 100 and 1000, N, S and B 1000
/// from a list of trade facts, the others from memory.
#[test]
fn printed_points_of_the_standard_are_met_to_their_last_digit() {
    use Thermocouple::{B, E, J, K, N, R, S, T};
    let printed = [
        (K, 100.0, 4.096),
        (K, 1000.0, 41.276),
        (K, 500.0, 20.644),
        (K, 1372.0, 54.886),
        (K, -200.0, -5.891),
        (N, 1000.0, 36.256),
        (N, 1300.0, 47.513),
        (N, -200.0, -3.990),
        (S, 1000.0, 9.587),
        (S, 100.0, 0.646),
        (R, 1000.0, 10.506),
        (R, 100.0, 0.647),
        (B, 1000.0, 4.834),
        (B, 1820.0, 13.820),
        (J, 500.0, 27.393),
        (J, 1200.0, 69.553),
        (E, 500.0, 37.005),
        (E, 1000.0, 76.373),
        (T, 200.0, 9.288),
        (T, 400.0, 20.872),
        (T, -200.0, -5.603),
    ];
    for (couple, temp_c, emf_mv) in printed {
        let found = couple.emf(Celsius(temp_c)).unwrap();
        assert!((found.0 - emf_mv).abs() < 0.000_51, "{couple} at {temp_c}: {found:?}, printed {emf_mv}");
    }
}

/// Ends of the ranges of IEC 60584-1 (memory).
#[test]
fn the_ranges_are_those_of_the_standard() {
    use Thermocouple::{B, E, J, K, N, R, S, T};
    let ends = [
        (K, -270.0, 1372.0),
        (N, -270.0, 1300.0),
        (S, -50.0, 1768.1),
        (R, -50.0, 1768.1),
        (B, 0.0, 1820.0),
        (J, -210.0, 1200.0),
        (E, -270.0, 1000.0),
        (T, -270.0, 400.0),
    ];
    for (couple, from_c, to_c) in ends {
        assert_eq!((couple.table_begin(), couple.table_end()), (Celsius(from_c), Celsius(to_c)), "{couple}");
        assert!(couple.emf(Celsius(from_c - 0.1)).is_err() && couple.emf(Celsius(to_c + 0.1)).is_err(), "{couple}");
    }
}

/// A type K loop at 500 °C with its terminals at 25 °C reads 477 °C without compensation and 502 °C when degrees are added
/// (worked from the printed tables: 20.644 - 1.000 = 19.644 mV, which is 476.6 °C).
#[test]
fn the_cold_junction_is_compensated_in_millivolts_not_in_degrees() {
    let measured = Thermocouple::K.loop_emf(Celsius(500.0), Celsius(25.0)).unwrap();
    assert!((measured.0 - 19.644).abs() < 0.001, "{measured:?}");
    let uncompensated = Thermocouple::K.temp(measured).unwrap();
    assert!((uncompensated.0 - 476.6).abs() < 0.1, "{uncompensated:?}");
    let found = Thermocouple::K.compensated(measured, Celsius(25.0)).unwrap();
    assert!((found.0 - 500.0).abs() < 1e-4, "{found:?}");
}

/// Worked by hand from the grades: type K at 1000 °C, 0.4 % and 0.75 % of 1000; type S class 1 at 1200 °C, 1 + 0.3 % of
/// 100; type K at 20 °C, the fixed parts.
#[test]
fn tolerances_are_the_larger_of_the_fixed_part_and_the_share() {
    let worked = [
        (Thermocouple::K, Grade::IecClass1, 1000.0, 4.0),
        (Thermocouple::K, Grade::IecClass2, 1000.0, 7.5),
        (Thermocouple::K, Grade::AstmStandard, 1000.0, 7.5),
        (Thermocouple::K, Grade::AstmSpecial, 1000.0, 4.0),
        (Thermocouple::K, Grade::IecClass1, 20.0, 1.5),
        (Thermocouple::N, Grade::IecClass2, 20.0, 2.5),
        (Thermocouple::K, Grade::AstmStandard, 20.0, 2.2),
        (Thermocouple::S, Grade::IecClass1, 500.0, 1.0),
        (Thermocouple::S, Grade::IecClass1, 1200.0, 1.3),
        (Thermocouple::R, Grade::IecClass2, 1000.0, 2.5),
    ];
    for (couple, grade, temp_c, most_k) in worked {
        let found = couple.tolerance(grade, Celsius(temp_c)).unwrap();
        assert!((found.most.0 - most_k).abs() < 1e-9, "{couple} {grade:?} at {temp_c}: {found:?}");
        assert_eq!(found.source, grade.words());
    }
}

#[test]
fn no_tolerance_is_given_where_the_standard_gives_none() {
    let none = [
        (Thermocouple::B, Grade::IecClass1, 1000.0),
        (Thermocouple::J, Grade::IecClass3, 0.0),
        (Thermocouple::K, Grade::IecClass2, 1250.0),
        (Thermocouple::B, Grade::IecClass2, 100.0),
    ];
    for (couple, grade, temp_c) in none {
        assert_eq!(couple.tolerance(grade, Celsius(temp_c)), None, "{couple} {grade:?} at {temp_c}");
    }
}

proptest! {
    #[test]
    fn the_emf_of_any_temperature_gives_it_back(which in 0_usize..8, share in 0.0_f64..=1.0) {
        let couple = Thermocouple::ALL[which];
        let begin_c = if couple == Thermocouple::B { 45.0 } else { couple.table_begin().0 };
        let temp_c = begin_c + share * (couple.table_end().0 - begin_c);
        let back = couple.temp(couple.emf(Celsius(temp_c)).unwrap()).unwrap();
        // The pieces of a function meet within nanovolts, which is microkelvins.
        prop_assert!((back.0 - temp_c).abs() < 2e-3, "{couple} {temp_c}: {back:?}");
    }

    #[test]
    fn a_higher_emf_is_never_a_lower_temperature(which in 0_usize..8, one in 0.0_f64..=1.0, other in 0.0_f64..=1.0) {
        let couple = Thermocouple::ALL[which];
        let (least, most) = (couple.least().0, couple.most().0);
        let temp = |share: f64| couple.temp(Millivolts((least + share * (most - least)).clamp(least, most))).unwrap();
        let (low, high) = (one.min(other), one.max(other));
        prop_assert!(temp(low).0 <= temp(high).0 + 2e-3, "{couple} {low} {high}");
    }
}
