//! The rounds of a card as a table, and long plans drawn together so that they fit on a page.

use std::fmt::Write as _;

use super::{in_units, put};
use crate::plan::{Plan, Round};
use crate::units::quantity::{Shown, UnitSystem};
use crate::units::{Celsius, Seconds};

/// A plan of more rounds is drawn together.
const MOST_ROUNDS: usize = 60;

/// Lines that a drawn-together plan takes, at most.
const DRAWN_LINES: usize = 30;

/// One line of the table: neighbouring rounds.
#[derive(Clone, Debug, PartialEq)]
pub struct Row<'a> {
    /// Number of its first round, from 1.
    pub first: usize,
    /// Its rounds, at least one.
    pub rounds: &'a [Round],
    /// When the first begins.
    pub begins: Seconds,
    /// Hot face expected at the end of the last: low and high.
    pub hot_face: Option<[Celsius; 2]>,
}

/// The lines of the table: a round each, or as many neighbours each as it takes to keep to a page.
pub fn rows(plan: &Plan) -> Vec<Row<'_>> {
    let together = if plan.rounds.len() > MOST_ROUNDS { plan.rounds.len().div_ceil(DRAWN_LINES) } else { 1 };
    let (mut begins_s, mut first) = (0.0, 1);
    let row = |rounds| {
        let ends_s = begins_s + length_s(rounds);
        let row = Row { first, rounds, begins: Seconds(begins_s), hot_face: hot_face_at(plan, ends_s) };
        (begins_s, first) = (ends_s, first + rounds.len());
        row
    };
    plan.rounds.chunks(together).map(row).collect()
}

fn length_s(rounds: &[Round]) -> f64 {
    rounds.iter().map(|round| f64::from(round.count) * (round.on.0 + round.off.0)).sum()
}

/// Low and high of the expected hot face `at_s`, on the straight line between the moments the plan knows.
fn hot_face_at(plan: &Plan, at_s: f64) -> Option<[Celsius; 2]> {
    let after = plan.expected.iter().position(|point| point.elapsed.0 >= at_s - 1.0)?;
    let (to, from) = (&plan.expected[after], &plan.expected[after.saturating_sub(1)]);
    let span_s = to.elapsed.0 - from.elapsed.0;
    let share = if span_s > 0.0 { ((at_s - from.elapsed.0) / span_s).min(1.0) } else { 1.0 };
    Some([0, 2].map(|which| {
        let (from_c, to_c) = (from.hot_face[which].0, to.hot_face[which].0);
        Celsius(from_c + share * (to_c - from_c))
    }))
}

/// Appends the table and the reasons it refers to.
pub fn write_table(page: &mut String, rows: &[Row<'_>], units: UnitSystem) {
    let mut reasons: Vec<&str> = Vec::new();
    let is_drawn = rows.iter().any(|row| row.rounds.len() > 1);
    let unit = match units {
        UnitSystem::Metric => "°C",
        UnitSystem::Us => "°F",
    };
    let head = format!("hot face, {unit}");
    // Writing to a string cannot fail.
    let _ = writeln!(page, "{:>7}  {:>6}  {:<43}  {head:<13} why", "round", "begins", "burner");
    for row in rows {
        let letters = letters(row, &mut reasons);
        let hot_face = row
            .hot_face
            .map_or_else(|| "-".to_owned(), |[low, high]| format!("{} to {}", figure(low, units), figure(high, units)));
        let (number, begins) = (numbers(row), clock(row.begins));
        let line = format!("{number:>7}  {begins:>6}  {:<43}  {hot_face:<13} {letters}", burner(row));
        let _ = writeln!(page, "{}", line.trim_end());
    }
    page.push('\n');
    if is_drawn {
        put(
            page,
            "",
            "Neighbouring rounds stand on one line, with the shortest and longest of their times. The dashboard of \
             `firstheat follow` counts every pulse; the plan file has each of them.",
        );
    }
    put(page, "", "Hot face: what 90 of 100 possible linings lie between when the line ends. Why it is not quicker:");
    for (index, reason) in reasons.iter().enumerate() {
        put(page, &format!("{}  ", letter(index)), &in_units(reason, units));
    }
}

/// "12" or "12-17".
fn numbers(row: &Row<'_>) -> String {
    match row.rounds.len() {
        1 => row.first.to_string(),
        count => format!("{}-{}", row.first, row.first + count - 1),
    }
}

/// "4 x  30 s on, 9 min 30 s off"; of several rounds the range.
fn burner(row: &Row<'_>) -> String {
    let count: u64 = row.rounds.iter().map(|round| u64::from(round.count)).sum();
    let range = |time: fn(&Round) -> Seconds| {
        let times = row.rounds.iter().map(|round| time(round).0);
        let (low_s, high_s) = (times.clone().fold(f64::INFINITY, f64::min), times.fold(0.0, f64::max));
        if (low_s - high_s).abs() < 0.5 { in_words(low_s) } else { between(low_s, high_s) }
    };
    format!("{count:>3} x {} on, {} off", range(|round| round.on), range(|round| round.off))
}

fn in_words(span_s: f64) -> String {
    Seconds(span_s).shown(UnitSystem::Metric)
}

/// "20 to 45 s", "50 s to 4 min" or "4 to 12 min": in a range a person reads "4 min" quicker than "3 min 45 s".
fn between(low_s: f64, high_s: f64) -> String {
    /// From here on in whole minutes.
    const LONG_S: f64 = 90.0;
    let minutes = |span_s: f64| (span_s / 60.0).round();
    if high_s < LONG_S {
        format!("{low_s:.0} to {high_s:.0} s")
    } else if low_s < LONG_S {
        format!("{low_s:.0} s to {} min", minutes(high_s))
    } else if minutes(high_s) - minutes(low_s) < 0.5 {
        format!("about {} min", minutes(low_s))
    } else {
        format!("{} to {} min", minutes(low_s), minutes(high_s))
    }
}

/// Time since the first flame as h:mm.
fn clock(at: Seconds) -> String {
    let minutes = (at.0 / 60.0).round() as u64;
    format!("{}:{:02}", minutes / 60, minutes % 60)
}

fn figure(temp: Celsius, units: UnitSystem) -> String {
    let shown = temp.shown(units);
    let number = shown.split(' ').next().and_then(|number| number.parse::<f64>().ok());
    number.map_or(shown, |number| format!("{number:.0}"))
}

/// Letters of the reasons of a row, each once; new reasons are noted. Reasons that differ only in numbers are one.
fn letters<'a>(row: &Row<'a>, reasons: &mut Vec<&'a str>) -> String {
    let mut letters = String::new();
    for round in row.rounds.iter().filter(|round| !round.binds.is_empty()) {
        let kind = kind_of(&round.binds);
        let index = reasons.iter().position(|known| kind_of(known) == kind).unwrap_or_else(|| {
            reasons.push(&round.binds);
            reasons.len() - 1
        });
        let letter = letter(index);
        if !letters.contains(letter) {
            letters.push(letter);
        }
    }
    letters
}

fn kind_of(reason: &str) -> String {
    reason.chars().filter(|c| !c.is_ascii_digit() && *c != '.').collect()
}

/// a to z, then A to Z; more reasons than that share the last.
fn letter(index: usize) -> char {
    ('a'..='z').chain('A'..='Z').nth(index).unwrap_or('Z')
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Expected, Limits};
    use crate::units::KelvinPerHour;

    /// `count` rounds of three pulses of 45 s and more, in cycles of ten minutes.
    fn plan(count: u32) -> Plan {
        let round = |index: u32| {
            let on_s = 45.0 + 5.0 * f64::from(index);
            let binds = format!("danger 0.4{index}: {index} mm deep");
            Round { count: 3, on: Seconds(on_s), off: Seconds(600.0 - on_s), binds }
        };
        let expected = |index: u32| Expected {
            elapsed: Seconds(1800.0 * f64::from(index)),
            hot_face: [20.0, 22.0, 24.0].map(|rate| Celsius(rate * f64::from(index + 1))),
            danger: [0.0; 3],
            water_left_kg: [0.0; 3],
        };
        Plan {
            lining: "kiln arch".into(),
            lining_digest: String::new(),
            limits: Limits {
                danger_ceiling: 0.5,
                ramp: KelvinPerHour(56.0),
                service: Celsius(1200.0),
                soak_temp: Celsius(600.0),
                soak: Seconds(3600.0),
            },
            rounds: (0..count).map(round).collect(),
            expected: (0..=count).map(expected).collect(),
        }
    }

    fn table(plan: &Plan) -> String {
        let mut page = String::new();
        write_table(&mut page, &rows(plan), UnitSystem::Metric);
        page
    }

    #[test]
    fn a_round_is_told_in_words_a_person_reads() {
        let page = table(&plan(2));
        let line = "      2    0:30    3 x 50 s on, 9 min 10 s off                60 to 72      a";
        assert_eq!(page.lines().nth(2), Some(line), "\n{page}");
    }

    #[test]
    fn a_long_plan_is_drawn_together_without_losing_a_pulse_or_the_page() {
        let (plan, page) = (plan(100), table(&plan(100)));
        let counts = rows(&plan).iter().flat_map(|row| row.rounds).map(|round| round.count).sum::<u32>();
        assert_eq!((counts, rows(&plan).len()), (300, 25));
        assert!(page.contains(" 97-100   48:00   12 x about 9 min on, 60 to 75 s off"), "\n{page}");
        assert!(
            page.contains("Neighbouring rounds stand on one line")
                && page.lines().all(|line| line.chars().count() <= 80)
        );
    }

    #[test]
    fn reasons_that_differ_only_in_numbers_are_told_once() {
        assert_eq!(table(&plan(9)).matches("mm deep").count(), 1);
    }
}
