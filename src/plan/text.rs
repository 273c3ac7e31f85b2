//! The plan file: a heat-up as TOML that a person can read, change and print.
//!
//! ```toml
//! format = "firstheat plan 1"
//! lining = "school foundry"        # name of the lining it was made for
//! lining_digest = "5d1c..."        # digest of that lining's file
//!
//! [limits]
//! danger_ceiling = 0.5             # for 95 % of the ensemble
//! ramp_k_per_h = 56.0              # mean over the pulses, while wet
//! service_c = 1200.0
//! soak_c = 600.0
//! soak_s = 3600.0
//!
//! [[round]]                        # in order; each is `count` equal pulses
//! count = 5
//! on_s = 30.0
//! off_s = 600.0
//! binds = "ramp limit of the floor"
//!
//! [[expected]]                     # in order of time; low, mid, high
//! elapsed_s = 0.0
//! hot_face_c = [20.0, 20.0, 20.0]
//! danger = [0.0, 0.0, 0.0]
//! water_left_kg = [0.5, 0.64, 0.8]
//! ```

use std::fmt::Write as _;

use serde::Deserialize;
use thiserror::Error;
use toml::Spanned;

use super::{Expected, Limits, Plan, Round};
use crate::units::{Celsius, KelvinPerHour, Seconds};

/// What the first key of a plan file says.
pub const FORMAT: &str = "firstheat plan 1";

/// Longest burner-on or burner-off time of a plan, s: a week.
const LONGEST_S: f64 = 604_800.0;

/// Most pulses of a plan: one every ten seconds for four weeks.
const MOST_PULSES: u64 = 250_000;

/// Why a text is no plan.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum PlanTextError {
    /// It is not TOML, or a key is missing, unknown or of the wrong kind.
    #[error("line {line}: {what}; a plan file looks as `firstheat plan` writes it")]
    Form {
        /// Line in the file, from 1.
        line: usize,
        /// What was found and expected, in the TOML reader's words.
        what: String,
    },
    /// It is a plan of another version, or another file of ours.
    #[error(
        "line {line}: format is `{found}`, expected `{FORMAT}`: name a plan file, or make it anew with `firstheat plan`"
    )]
    Format {
        /// Line in the file, from 1.
        line: usize,
        /// What it says.
        found: String,
    },
    /// A value makes no sense.
    #[error("line {line}: `{key}` is {found}, expected {expected}")]
    Value {
        /// Line in the file, from 1.
        line: usize,
        /// Key, with the number of its table from 1: `round 2 on_s`.
        key: String,
        /// What it is.
        found: String,
        /// What it may be.
        expected: String,
    },
    /// It has no pulse at all.
    #[error(
        "it has no [[round]], expected at least one with `count`, `on_s` and `off_s`: make it anew with `firstheat plan`"
    )]
    NoRound,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PlanText {
    format: Spanned<String>,
    lining: String,
    #[serde(default)]
    lining_digest: String,
    limits: LimitsText,
    #[serde(default, rename = "round")]
    rounds: Vec<RoundText>,
    #[serde(default)]
    expected: Vec<ExpectedText>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LimitsText {
    danger_ceiling: Spanned<f64>,
    ramp_k_per_h: Spanned<f64>,
    service_c: Spanned<f64>,
    soak_c: Spanned<f64>,
    soak_s: Spanned<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RoundText {
    count: Spanned<i64>,
    on_s: Spanned<f64>,
    off_s: Spanned<f64>,
    #[serde(default)]
    binds: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ExpectedText {
    elapsed_s: Spanned<f64>,
    hot_face_c: Spanned<[f64; 3]>,
    danger: Spanned<[f64; 3]>,
    water_left_kg: Spanned<[f64; 3]>,
}

/// Reads a plan file's text.
///
/// # Errors
/// When it is not a plan: the error names line and key, what was found and what was expected.
pub fn parse_plan(text: &str) -> Result<Plan, PlanTextError> {
    let told = Told { text };
    let format = format_of(text);
    let read: PlanText = match (toml::from_str(text), format) {
        (Ok(read), _) => read,
        // A file of another format fails on its keys first, and would be told the wrong thing.
        (Err(_), Some((line, found))) if found != FORMAT => return Err(PlanTextError::Format { line, found }),
        (Err(error), _) => return Err(told.form(&error)),
    };
    if read.format.get_ref() != FORMAT {
        let line = told.line_of(read.format.span().start);
        return Err(PlanTextError::Format { line, found: read.format.into_inner() });
    }
    let limits = told.limits(&read.limits)?;
    let rounds = read.rounds.iter().enumerate().map(|(index, round)| told.round(index + 1, round));
    let rounds = rounds.collect::<Result<Vec<_>, _>>()?;
    if rounds.is_empty() {
        return Err(PlanTextError::NoRound);
    }
    let pulses: u64 = rounds.iter().map(|round| u64::from(round.count)).sum();
    if let (true, Some(last)) = (pulses > MOST_PULSES, read.rounds.last()) {
        let expected = format!("at most {MOST_PULSES} pulses in all rounds together");
        return Err(told.value("count", &last.count, format!("one of {pulses} pulses"), &expected));
    }
    let expected = told.expected(&read.expected)?;
    Ok(Plan { lining: read.lining, lining_digest: read.lining_digest, limits, rounds, expected })
}

/// The plan as a file's text, which [`parse_plan`] reads back as it was.
#[must_use]
pub fn write_plan(plan: &Plan) -> String {
    let mut text = format!("format = {}\n", quoted(FORMAT));
    let limits = &plan.limits;
    let lines = [
        ("lining", quoted(&plan.lining)),
        ("lining_digest", quoted(&plan.lining_digest)),
        ("\n[limits]\ndanger_ceiling", number(limits.danger_ceiling)),
        ("ramp_k_per_h", number(limits.ramp.0)),
        ("service_c", number(limits.service.0)),
        ("soak_c", number(limits.soak_temp.0)),
        ("soak_s", number(limits.soak.0)),
    ];
    let mut put = |key: &str, value: &str| {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{key} = {value}");
    };
    for (key, value) in &lines {
        put(key, value);
    }
    for round in &plan.rounds {
        put("\n[[round]]\ncount", &round.count.to_string());
        put("on_s", &number(round.on.0));
        put("off_s", &number(round.off.0));
        put("binds", &quoted(&round.binds));
    }
    for expected in &plan.expected {
        put("\n[[expected]]\nelapsed_s", &number(expected.elapsed.0));
        put("hot_face_c", &numbers(expected.hot_face.map(|temp| temp.0)));
        put("danger", &numbers(expected.danger));
        put("water_left_kg", &numbers(expected.water_left_kg));
    }
    text
}

/// The format a file names, if it is TOML enough to say so, and on which line.
fn format_of(text: &str) -> Option<(usize, String)> {
    #[derive(Deserialize)]
    struct OnlyFormat {
        format: Spanned<String>,
    }
    let read: OnlyFormat = toml::from_str(text).ok()?;
    Some((Told { text }.line_of(read.format.span().start), read.format.into_inner()))
}

/// The text, to tell where something stands.
struct Told<'t> {
    text: &'t str,
}

impl Told<'_> {
    fn line_of(&self, offset: usize) -> usize {
        self.text.bytes().take(offset).filter(|byte| *byte == b'\n').count() + 1
    }

    fn form(&self, error: &toml::de::Error) -> PlanTextError {
        let line = error.span().map_or(1, |span| self.line_of(span.start));
        let words = error.message().trim().replace('\n', ", ");
        // The reader names types as this program's language does; people do not.
        let words =
            words.replace("expected f64", "expected a number").replace("expected i64", "expected a whole number");
        PlanTextError::Form { line, what: words }
    }

    fn value<T>(&self, key: &str, at: &Spanned<T>, found: String, expected: &str) -> PlanTextError {
        let line = self.line_of(at.span().start);
        PlanTextError::Value { line, key: key.to_owned(), found, expected: expected.to_owned() }
    }

    fn within(&self, key: &str, at: &Spanned<f64>, range: (f64, f64), unit: &str) -> Result<f64, PlanTextError> {
        let value = *at.get_ref();
        if value >= range.0 && value <= range.1 {
            return Ok(value);
        }
        Err(self.value(key, at, format!("{value}"), format!("{} to {} {unit}", range.0, range.1).trim_end()))
    }

    fn limits(&self, read: &LimitsText) -> Result<Limits, PlanTextError> {
        let limits = Limits {
            danger_ceiling: self.within("limits danger_ceiling", &read.danger_ceiling, (0.05, 1.0), "")?,
            ramp: KelvinPerHour(self.within("limits ramp_k_per_h", &read.ramp_k_per_h, (1.0, 100_000.0), "K/h")?),
            service: Celsius(self.within("limits service_c", &read.service_c, (100.0, 2000.0), "°C")?),
            soak_temp: Celsius(self.within("limits soak_c", &read.soak_c, (50.0, 2000.0), "°C")?),
            soak: Seconds(self.within("limits soak_s", &read.soak_s, (0.0, LONGEST_S), "s")?),
        };
        if limits.soak_temp > limits.service {
            let expected = format!("at most `service_c`, which is {}", limits.service.0);
            return Err(self.value("limits soak_c", &read.soak_c, limits.soak_temp.0.to_string(), &expected));
        }
        Ok(limits)
    }

    fn round(&self, number: usize, read: &RoundText) -> Result<Round, PlanTextError> {
        let key = |name: &str| format!("round {number} {name}");
        let count = u32::try_from(*read.count.get_ref()).ok().filter(|count| *count > 0);
        let count = count.ok_or_else(|| {
            self.value(&key("count"), &read.count, read.count.get_ref().to_string(), "a number of pulses, 1 or more")
        })?;
        Ok(Round {
            count,
            on: Seconds(self.within(&key("on_s"), &read.on_s, (1.0, LONGEST_S), "s")?),
            off: Seconds(self.within(&key("off_s"), &read.off_s, (0.0, LONGEST_S), "s")?),
            binds: read.binds.clone(),
        })
    }

    fn expected(&self, read: &[ExpectedText]) -> Result<Vec<Expected>, PlanTextError> {
        let mut all: Vec<Expected> = Vec::with_capacity(read.len());
        for (index, point) in read.iter().enumerate() {
            let key = |name: &str| format!("expected {} {name}", index + 1);
            let elapsed = self.within(&key("elapsed_s"), &point.elapsed_s, (0.0, 10.0 * LONGEST_S), "s")?;
            if all.last().is_some_and(|last| last.elapsed.0 >= elapsed) {
                let found = elapsed.to_string();
                return Err(self.value(&key("elapsed_s"), &point.elapsed_s, found, "later than the one before"));
            }
            all.push(Expected {
                elapsed: Seconds(elapsed),
                hot_face: self.rising(&key("hot_face_c"), &point.hot_face_c)?.map(Celsius),
                danger: self.rising(&key("danger"), &point.danger)?,
                water_left_kg: self.rising(&key("water_left_kg"), &point.water_left_kg)?,
            });
        }
        Ok(all)
    }

    fn rising(&self, key: &str, at: &Spanned<[f64; 3]>) -> Result<[f64; 3], PlanTextError> {
        let value = *at.get_ref();
        if value.iter().all(|part| part.is_finite()) && value[0] <= value[1] && value[1] <= value[2] {
            return Ok(value);
        }
        Err(self.value(key, at, format!("{value:?}"), "three numbers, low, mid and high, none below the one before"))
    }
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

fn number(value: f64) -> String {
    format!("{value:?}")
}

fn numbers(values: [f64; 3]) -> String {
    format!("[{}]", values.map(number).join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plan() -> Plan {
        Plan {
            lining: "potter's \"small\" kiln".into(),
            lining_digest: "cbf43926".into(),
            limits: Limits {
                danger_ceiling: 0.5,
                ramp: KelvinPerHour(56.0),
                service: Celsius(1200.0),
                soak_temp: Celsius(600.1),
                soak: Seconds(3600.0),
            },
            rounds: vec![Round { count: 5, on: Seconds(30.0), off: Seconds(0.1 + 0.2), binds: "ramp\nlimit".into() }],
            expected: vec![Expected {
                elapsed: Seconds(0.0),
                hot_face: [Celsius(20.0); 3],
                danger: [0.0, 1e-300, 0.1],
                water_left_kg: [0.5, 0.64, 0.8],
            }],
        }
    }

    #[test]
    fn a_written_plan_reads_back_to_the_last_bit() {
        assert_eq!(parse_plan(&write_plan(&plan())), Ok(plan()));
    }
}
