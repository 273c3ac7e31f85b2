//! The published dry-out schedules as shipped, against the hours that the trade's table of them gives.

#![allow(clippy::unwrap_used)]

use std::fs;

use firstheat::units::quantity::{RAMP, TEMPERATURE, TIME};
use toml::{Table, Value};

/// Schedules by their letter.
fn schedules() -> Vec<(String, Vec<Table>)> {
    let file: Table = fs::read_to_string("schedules/published.toml").unwrap().parse().unwrap();
    assert_eq!(file["format"].as_str(), Some("firstheat published schedules 1"));
    let tables =
        |value: &Value| value.as_array().unwrap().iter().map(|item| item.as_table().unwrap().clone()).collect();
    let all: Vec<Table> = tables(&file["schedule"]);
    all.iter().map(|schedule| (schedule["letter"].as_str().unwrap().to_owned(), tables(&schedule["step"]))).collect()
}

/// Hours of a schedule on a lining of `thickness_mm`, from 20 C to the end of its last hold.
fn hours_to_the_end(steps: &[Table], thickness_mm: f64) -> f64 {
    let hours =
        |step: &Table, key: &str| step.get(key).map(|text| TIME.parse(text.as_str().unwrap()).unwrap() / 3600.0);
    let (mut temp_c, mut sum_h) = (20.0, 0.0);
    for step in steps {
        let to_c = TEMPERATURE.parse(step["to"].as_str().unwrap()).unwrap();
        sum_h += (to_c - temp_c) / RAMP.parse(step["ramp"].as_str().unwrap()).unwrap();
        temp_c = to_c;
        let by_thickness_h = hours(step, "hold-per-inch").unwrap_or(0.0) * thickness_mm / 25.4;
        let hold_h = hours(step, "hold").unwrap_or(0.0) + by_thickness_h;
        sum_h += hold_h.min(hours(step, "hold-most").unwrap_or(f64::INFINITY));
    }
    sum_h
}

fn hours(letter: &str, thickness_mm: f64) -> f64 {
    let all = schedules();
    let (_, steps) = all.iter().find(|(other, _)| other == letter).unwrap();
    hours_to_the_end(steps, thickness_mm)
}

#[test]
fn there_are_seventeen_of_them_under_the_letters_a_to_q() {
    let letters: String = schedules().into_iter().map(|(letter, _)| letter).collect();
    assert_eq!(letters, "ABCDEFGHIJKLMNOPQ");
}

/// Hours from 20 C to the end, computed from the makers' sheets by others than this project and rounded to 0.1 h, for linings of 12, 25, 50, 100 and 200 mm.
#[test]
fn hours_by_thickness_are_those_of_the_table() {
    let table = [
        ("A", [12.3, 13.1, 14.5, 17.5, 19.6]),
        ("C", [10.2, 11.3, 13.2, 17.2, 25.0]),
        ("D", [16.7, 17.7, 19.7, 23.6, 31.5]),
        ("E", [15.7, 16.8, 18.7, 22.7, 30.5]),
    ];
    for (letter, expected_h) in table {
        for (thickness_mm, expected_h) in [12.0, 25.0, 50.0, 100.0, 200.0].into_iter().zip(expected_h) {
            let found_h = hours(letter, thickness_mm);
            assert!(
                (found_h - expected_h).abs() <= 0.06,
                "{letter} at {thickness_mm} mm: {found_h} instead of {expected_h}"
            );
        }
    }
}

/// The same source, for schedules that do not ask for the thickness.
#[test]
fn hours_of_the_others_are_those_of_the_table() {
    for (letter, expected_h) in
        [("F", 95.6), ("G", 17.2), ("H", 70.9), ("I", 24.3), ("J", 78.3), ("K", 22.5), ("O", 28.4)]
    {
        let found_h = hours(letter, 50.0);
        assert!((found_h - expected_h).abs() <= 0.06, "{letter}: {found_h} instead of {expected_h}");
    }
}

/// Common to all: temperatures rise, ramps are above nothing.
#[test]
fn every_step_goes_up() {
    for (letter, steps) in schedules() {
        let mut before_c = 20.0;
        for step in steps {
            let to_c = TEMPERATURE.parse(step["to"].as_str().unwrap()).unwrap();
            assert!(to_c > before_c && RAMP.parse(step["ramp"].as_str().unwrap()).unwrap() > 0.0, "{letter}");
            before_c = to_c;
        }
    }
}
