//! The rounds of a card as a table, and long plans drawn together so that they fit on a page.

use std::fmt::Write as _;

use super::{Clock, Told, fires, in_units, put};
use crate::plan::firing::Firing;
use crate::plan::pauses::PAUSE;
use crate::plan::why::{Stretch, kind_of, plain, stretches};
use crate::plan::{Plan, Round};
use crate::units::quantity::{Shown, UnitSystem};
use crate::units::{Celsius, Seconds};

/// One line of the table as it is read: a round, or neighbouring rounds.
#[derive(Clone, Debug, PartialEq)]
pub struct TableRow {
    /// "12" or "12-17".
    pub rounds: String,
    /// When it begins: by the clock where the start is known, else since the first flame.
    pub begins: String,
    /// What the burner does.
    pub burner: String,
    /// Hot face expected at its end: "60 to 72", or "-".
    pub hot_face: String,
    /// Letters of the reasons.
    pub why: String,
    /// Whether it stands for more rounds than one.
    pub is_drawn: bool,
}

/// What keeps rounds from being stronger.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// Its letter in the table.
    pub letter: char,
    /// Stretches of the heat-up in which it binds; empty when it only does so for short whiles.
    pub when: String,
    /// In plain words.
    pub words: String,
}

/// Neighbouring rounds that share a line.
#[derive(Clone, Debug, PartialEq)]
struct Row<'a> {
    /// Number of its first round, from 1.
    first: usize,
    /// Its rounds, at least one.
    rounds: &'a [Round],
    /// When the first begins.
    begins: Seconds,
    /// When the last ends.
    ends: Seconds,
    /// Hot face expected at the end of the last: low and high.
    hot_face: Option<[Celsius; 2]>,
}

/// The lines of the table and the reasons they refer to, with at most `lines` lines where pauses allow it.
pub fn table(plan: &Plan, clock: Clock, units: UnitSystem, lines: usize) -> (Vec<TableRow>, Vec<Reason>) {
    let mut reasons: Vec<&str> = Vec::new();
    let told = |row: Row<'_>| -> TableRow {
        let temp = |temp: Celsius| figure(temp, units);
        TableRow {
            rounds: numbers(&row),
            begins: clock.at(row.begins),
            burner: burner(&row, clock, units),
            hot_face: row
                .hot_face
                .map_or_else(|| "-".to_owned(), |[low, high]| format!("{} to {}", temp(low), temp(high))),
            why: String::new(),
            is_drawn: row.rounds.len() > 1,
        }
    };
    let rows = rows(plan, lines);
    let letters: Vec<String> = rows.iter().map(|row| letters(row, &mut reasons)).collect();
    let lines = rows.into_iter().map(told).zip(letters).map(|(row, why)| TableRow { why, ..row }).collect();
    (lines, reasons_of(plan, clock, &reasons, units))
}

/// Each reason with the stretches in which it binds.
fn reasons_of(plan: &Plan, clock: Clock, reasons: &[&str], units: UnitSystem) -> Vec<Reason> {
    let stretches = stretches(plan);
    let spans = |reason: &str| -> String {
        let kind = kind_of(&plain(reason));
        let ours = stretches.iter().filter(|stretch| kind_of(&stretch.binds) == kind);
        let ours: Vec<&Stretch> = ours.collect();
        match ours.as_slice() {
            // More than a few by turns with others are told as one.
            [first, _, _, .., last] => format!("by turns, {}", clock.span(first.from, last.to)),
            few => few.iter().map(|stretch| clock.span(stretch.from, stretch.to)).collect::<Vec<_>>().join(", "),
        }
    };
    let reason = |(index, reason): (usize, &&str)| Reason {
        letter: letter(index),
        when: spans(reason),
        words: in_units(&plain(reason), units),
    };
    reasons.iter().enumerate().map(reason).collect()
}

/// Lines of the table: a round each, or as many neighbours each as it takes to keep to `lines`. Rounds with a pause behind them
/// stand alone, and so do ramps: a control is given each of them.
fn rows(plan: &Plan, lines: usize) -> Vec<Row<'_>> {
    let pauses = plan.rounds.iter().filter(|round| round.off > PAUSE).count();
    let is_ramp = |round: &Round| matches!(round.firing, Firing::Ramp { .. });
    let together = if plan.rounds.len() > lines && !plan.rounds.iter().any(is_ramp) {
        // Each pause may leave a short line before it.
        plan.rounds.len().saturating_sub(pauses).div_ceil(lines.saturating_sub(2 * pauses).max(1))
    } else {
        1
    };
    let (mut begins_s, mut first) = (0.0, 1);
    let mut row = |rounds| {
        let ends_s = begins_s + length_s(rounds);
        let (begins, ends) = (Seconds(begins_s), Seconds(ends_s));
        let row = Row { first, rounds, begins, ends, hot_face: hot_face_at(plan, ends_s) };
        (begins_s, first) = (ends_s, first + rounds.len());
        row
    };
    let mut lines = Vec::new();
    for between in plan.rounds.split_inclusive(|round| round.off > PAUSE) {
        let (pause, working) = match between.split_last() {
            Some((last, working)) if last.off > PAUSE => (between.get(between.len() - 1..), working),
            _ => (None, between),
        };
        lines.extend(working.chunks(together).map(&mut row));
        lines.extend(pause.map(&mut row));
    }
    lines
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
pub fn write_table(page: &mut String, told: &Told) {
    let begins = told.rows.iter().map(|row| row.begins.chars().count()).max().unwrap_or(0).max(6);
    let burner = 49 - begins;
    let head = format!("hot face, {}", told.temp_unit);
    // Writing to a string cannot fail.
    let _ = writeln!(page, "{:>7}  {:>begins$}  {:<burner$}  {head:<13} why", "round", "begins", "burner");
    for row in &told.rows {
        let TableRow { rounds, begins: at, burner: pulses, hot_face, why, .. } = row;
        let line = format!("{rounds:>7}  {at:>begins$}  {pulses:<burner$}  {hot_face:<13} {why}");
        let _ = writeln!(page, "{}", line.trim_end());
    }
    page.push('\n');
    if told.rows.iter().any(|row| row.is_drawn) {
        put(page, "", DRAWN);
    }
    put(page, "", HOT_FACE);
    for reason in &told.reasons {
        let spans = if reason.when.is_empty() { String::new() } else { format!("{}: ", reason.when) };
        put(page, &format!("{}  ", reason.letter), &format!("{spans}{}", reason.words));
    }
}

/// What a line of several rounds means.
pub const DRAWN: &str = "Neighbouring rounds stand on one line, with the shortest and longest of their times. The dashboard of \
                         `firstheat follow` and the plan file have each of them.";
/// What the hot face is, and what follows.
pub const HOT_FACE: &str =
    "Hot face: what 90 of 100 possible linings lie between when the line ends. Why it is not quicker:";

/// "12" or "12-17".
fn numbers(row: &Row<'_>) -> String {
    match row.rounds.len() {
        1 => row.first.to_string(),
        count => format!("{}-{}", row.first, row.first + count - 1),
    }
}

/// What the burner does; with a pause behind it until when.
fn burner(row: &Row<'_>, clock: Clock, units: UnitSystem) -> String {
    if let [round] = row.rounds
        && round.off > PAUSE
    {
        let until = match clock.start {
            Some(_) => format!("until {}", clock.at(row.ends)),
            None => format!("for {}", fires::in_words(round.off.0)),
        };
        return format!("{}, then OFF {until}", fires::before_pause(round, units));
    }
    fires::burner(row.rounds, units)
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

/// a to z, then A to Z; more reasons than that share the last.
fn letter(index: usize) -> char {
    ('a'..='z').chain('A'..='Z').nth(index).unwrap_or('Z')
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::firing::Firing;
    use crate::plan::{Expected, Limits};
    use crate::units::KelvinPerHour;

    /// `count` rounds of three pulses of 45 s and more, in cycles of ten minutes.
    fn plan(count: u32) -> Plan {
        let round = |index: u32| {
            let on_s = 45.0 + 5.0 * f64::from(index);
            let binds = format!("danger 0.4{index}: {index} mm deep");
            Round { count: 3, on: Seconds(on_s), off: Seconds(600.0 - on_s), firing: Firing::OnOff, binds }
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

    /// The table as text, with at most `lines` lines.
    fn written(plan: &Plan, lines: usize) -> String {
        let (rows, reasons) = table(plan, Clock::of(plan, None), UnitSystem::Metric, lines);
        let (title, label) = (String::new(), String::new());
        let told = Told { title, label, summary: vec![], rows, temp_unit: "°C", reasons, closing: vec![] };
        let mut page = String::new();
        write_table(&mut page, &told);
        page
    }

    #[test]
    fn a_round_is_told_in_words_a_person_reads() {
        let page = written(&plan(2), 60);
        let line = "      2    0:30    3 x 50 s on, 9 min 10 s off                60 to 72      a";
        assert_eq!(page.lines().nth(2), Some(line), "\n{page}");
    }

    #[test]
    fn a_long_plan_is_drawn_together_without_losing_a_pulse_or_the_page() {
        let (plan, page) = (plan(100), written(&plan(100), 30));
        let counts = rows(&plan, 30).iter().flat_map(|row| row.rounds).map(|round| round.count).sum::<u32>();
        assert_eq!((counts, rows(&plan, 30).len()), (300, 25));
        assert!(page.contains(" 97-100   48:00   12 x about 9 min on, 60 to 75 s off"), "\n{page}");
        assert!(
            page.contains("Neighbouring rounds stand on one line")
                && page.lines().all(|line| line.chars().count() <= 80)
        );
    }

    #[test]
    fn reasons_that_differ_only_in_numbers_are_told_once_with_their_hours() {
        let page = written(&plan(9), 60);
        let in_one_line = page.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(in_one_line.matches("mm deep").count(), 1, "\n{page}");
        assert!(page.contains("a  0:00 to 4:30: the danger number is at its ceiling"), "\n{page}");
    }

    #[test]
    fn a_pause_stands_on_a_line_of_its_own_with_its_end() {
        let mut plan = plan(40);
        plan.rounds[20].count = 1;
        plan.rounds[20].off = Seconds(50_400.0);
        let start = crate::plan::pauses::parse_start("2026-05-02 08:00").ok();
        let (rows, _) = table(&plan, Clock::of(&plan, start), UnitSystem::Metric, 12);
        assert!(rows.len() <= 14, "{}", rows.len());
        let pause = rows.iter().find(|row| row.burner.contains("OFF")).expect("a line for the pause");
        assert_eq!((pause.rounds.as_str(), pause.begins.as_str()), ("21", "Sat 18:00"));
        assert_eq!(pause.burner, "  1 x 2 min 25 s on, then OFF until Sun 08:02");
    }
}
