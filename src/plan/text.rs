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
//! [[fire]]                         # of a burner that can be turned down: marks that rounds name
//! mark = "low"
//! share = 0.25                     # of the full fire
//!
//! [[round]]
//! count = 4
//! fire = "full"                    # a mark, or the full fire, for on_s
//! on_s = 60.0
//! between = "low"                  # a lower mark for off_s; without it the burner is shut
//! off_s = 180.0
//!
//! [[round]]                        # of a kiln whose control holds ramps: a ramp of the chamber gas
//! from_c = 20.0                    # where the round before ended, unless it says otherwise
//! to_c = 120.0
//! ramp_k_per_h = 50.0
//!
//! [[round]]
//! to_c = 120.0
//! hold_s = 3600.0                  # off_s = 3600.0 would shut the burner for an hour after it
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

use super::firing::{FULL, Fire, Firing, ramp_time};
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
    #[serde(default, rename = "fire")]
    fires: Vec<FireText>,
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
struct FireText {
    mark: Spanned<String>,
    share: Spanned<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RoundText {
    count: Option<Spanned<i64>>,
    on_s: Option<Spanned<f64>>,
    off_s: Option<Spanned<f64>>,
    fire: Option<Spanned<String>>,
    between: Option<Spanned<String>>,
    from_c: Option<Spanned<f64>>,
    to_c: Option<Spanned<f64>>,
    ramp_k_per_h: Option<Spanned<f64>>,
    hold_s: Option<Spanned<f64>>,
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
    let rounds = RoundReader { told: &told, fires: told.fires(&read.fires)? }.rounds(&read.rounds)?;
    if rounds.is_empty() {
        return Err(PlanTextError::NoRound);
    }
    let pulses: u64 = rounds.iter().map(|round| u64::from(round.count)).sum();
    if let (true, Some(last)) = (pulses > MOST_PULSES, read.rounds.last()) {
        let expected = format!("at most {MOST_PULSES} pulses in all rounds together");
        let found = format!("one of {pulses} pulses");
        return Err(match &last.count {
            Some(count) => told.value("count", count, found, &expected),
            None => PlanTextError::Value { line: 1, key: "round count".to_owned(), found, expected },
        });
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
    for fire in plan.fires().iter().filter(|fire| fire.mark != FULL) {
        put("\n[[fire]]\nmark", &quoted(&fire.mark));
        put("share", &number(fire.share));
    }
    let mut set_point = None;
    for round in &plan.rounds {
        write_round(&mut put, round, &mut set_point);
    }
    for expected in &plan.expected {
        put("\n[[expected]]\nelapsed_s", &number(expected.elapsed.0));
        put("hot_face_c", &numbers(expected.hot_face.map(|temp| temp.0)));
        put("danger", &numbers(expected.danger));
        put("water_left_kg", &numbers(expected.water_left_kg));
    }
    text
}

fn write_round(put: &mut impl FnMut(&str, &str), round: &Round, set_point: &mut Option<Celsius>) {
    match &round.firing {
        Firing::Ramp { from, to, ramp } => {
            let goes_on = set_point.replace(*to) == Some(*from);
            let first = if goes_on { ("\n[[round]]\nto_c", to) } else { ("\n[[round]]\nfrom_c", from) };
            put(first.0, &number(first.1.0));
            if !goes_on {
                put("to_c", &number(to.0));
            }
            if is_hold(*ramp) {
                put("hold_s", &number(round.on.0));
            } else {
                put("ramp_k_per_h", &number(ramp.0.abs()));
            }
            if round.off.0 > 0.0 {
                put("off_s", &number(round.off.0));
                // The gas cools meanwhile, so the next ramp says where it begins.
                *set_point = None;
            }
        }
        firing => {
            put("\n[[round]]\ncount", &round.count.to_string());
            let Firing::Marks { high, low } = firing else {
                put("on_s", &number(round.on.0));
                put("off_s", &number(round.off.0));
                return put("binds", &quoted(&round.binds));
            };
            put("fire", &quoted(&high.mark));
            put("on_s", &number(round.on.0));
            if let Some(low) = low {
                put("between", &quoted(&low.mark));
            }
            put("off_s", &number(round.off.0));
        }
    }
    put("binds", &quoted(&round.binds));
}

fn is_hold(ramp: KelvinPerHour) -> bool {
    ramp.0.abs() < 1e-9
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

    fn fires(&self, read: &[FireText]) -> Result<Vec<Fire>, PlanTextError> {
        let mut fires = vec![Fire { mark: FULL.to_owned(), share: 1.0 }];
        for (index, fire) in read.iter().enumerate() {
            let key = |name: &str| format!("fire {} {name}", index + 1);
            let mark = fire.mark.get_ref();
            if mark.trim().is_empty() || fires.iter().any(|other| other.mark == *mark) {
                let expected = "a word that is no other mark's, nor `full`";
                return Err(self.value(&key("mark"), &fire.mark, format!("`{mark}`"), expected));
            }
            let share = self.within(&key("share"), &fire.share, (0.001, 0.999), "of the full fire")?;
            fires.push(Fire { mark: mark.clone(), share });
        }
        Ok(fires)
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

/// Reads rounds one after the other.
struct RoundReader<'t> {
    told: &'t Told<'t>,
    /// Fires that rounds may name.
    fires: Vec<Fire>,
}

impl RoundReader<'_> {
    fn rounds(&self, read: &[RoundText]) -> Result<Vec<Round>, PlanTextError> {
        let mut rounds: Vec<Round> = Vec::with_capacity(read.len());
        for (index, round) in read.iter().enumerate() {
            let key = Key(index + 1);
            let before = rounds.last().map(|last| &last.firing);
            rounds.push(if round.to_c.is_some() { self.ramp(key, round, before)? } else { self.pulses(key, round)? });
        }
        Ok(rounds)
    }

    fn pulses(&self, key: Key, read: &RoundText) -> Result<Round, PlanTextError> {
        let only_ramps = [("from_c", &read.from_c), ("ramp_k_per_h", &read.ramp_k_per_h), ("hold_s", &read.hold_s)];
        if let Some((name, value)) = only_ramps.into_iter().find_map(|(name, value)| Some((name, value.as_ref()?))) {
            let found = format!("{} in a round without `to_c`", value.get_ref());
            return Err(self.told.value(&key.of(name), value, found, "it only beside `to_c`, for a ramp or a hold"));
        }
        let missing = |name: &str| self.missing(key, name);
        let read_count = read.count.as_ref().ok_or_else(|| missing("count"))?;
        let count = u32::try_from(*read_count.get_ref()).ok().filter(|count| *count > 0);
        let count = count.ok_or_else(|| {
            let found = read_count.get_ref().to_string();
            self.told.value(&key.of("count"), read_count, found, "a number of pulses, 1 or more")
        })?;
        let time = |name: &str, value: Option<&Spanned<f64>>, least_s: f64| {
            let value = value.ok_or_else(|| missing(name))?;
            self.told.within(&key.of(name), value, (least_s, LONGEST_S), "s").map(Seconds)
        };
        let (on, off) = (time("on_s", read.on_s.as_ref(), 1.0)?, time("off_s", read.off_s.as_ref(), 0.0)?);
        Ok(Round { count, on, off, firing: self.marks(key, read)?, binds: read.binds.clone() })
    }

    fn marks(&self, key: Key, read: &RoundText) -> Result<Firing, PlanTextError> {
        let Some(high) = &read.fire else {
            return match &read.between {
                None => Ok(Firing::OnOff),
                Some(low) => {
                    let found = format!("`{}` in a round without `fire`", low.get_ref());
                    Err(self.told.value(&key.of("between"), low, found, "it only beside `fire`"))
                }
            };
        };
        let high = self.fire(key, "fire", high)?;
        let Some(place) = &read.between else { return Ok(Firing::Marks { high, low: None }) };
        let low = self.fire(key, "between", place)?;
        if low.share >= high.share {
            let expected = format!("a mark below `{}`, or no `between` for a burner that is shut", high.mark);
            return Err(self.told.value(&key.of("between"), place, format!("`{}`", place.get_ref()), &expected));
        }
        Ok(Firing::Marks { high, low: Some(low) })
    }

    fn fire(&self, key: Key, name: &str, mark: &Spanned<String>) -> Result<Fire, PlanTextError> {
        let known = self.fires.iter().find(|fire| fire.mark == *mark.get_ref());
        known.cloned().ok_or_else(|| {
            let marks: Vec<&str> = self.fires.iter().map(|fire| fire.mark.as_str()).collect();
            let expected = format!("one of {}, or a [[fire]] with this mark", marks.join(", "));
            self.told.value(&key.of(name), mark, format!("`{}`", mark.get_ref()), &expected)
        })
    }

    /// A ramp or a hold, after a round that was fired as `before`.
    fn ramp(&self, key: Key, read: &RoundText, before: Option<&Firing>) -> Result<Round, PlanTextError> {
        self.only_a_ramp(key, read)?;
        let temp = |name: &str, value: &Spanned<f64>| {
            self.told.within(&key.of(name), value, (-50.0, 2000.0), "°C").map(Celsius)
        };
        let place = read.to_c.as_ref().ok_or_else(|| self.missing(key, "to_c"))?;
        let to = temp("to_c", place)?;
        let from = match (&read.from_c, before) {
            (Some(from), _) => temp("from_c", from)?,
            (None, Some(Firing::Ramp { to, .. })) => *to,
            (None, _) => return Err(self.missing(key, "from_c")),
        };
        let (ramp, on) = match (&read.ramp_k_per_h, &read.hold_s) {
            (None, Some(hold)) => {
                if from != to {
                    let found = format!("{} after {} °C", to.0, from.0);
                    return Err(self.told.value(
                        &key.of("to_c"),
                        place,
                        found,
                        "the same for a hold, or a `ramp_k_per_h`",
                    ));
                }
                (KelvinPerHour(0.0), Seconds(self.told.within(&key.of("hold_s"), hold, (1.0, LONGEST_S), "s")?))
            }
            (Some(ramp), None) => self.sloped(key, ramp, (from, to))?,
            (Some(ramp), Some(_)) => {
                let found = format!("{} beside a `hold_s`", ramp.get_ref());
                return Err(self.told.value(&key.of("ramp_k_per_h"), ramp, found, "a round of its own for the hold"));
            }
            (None, None) => return Err(self.missing(key, "ramp_k_per_h")),
        };
        let off = read
            .off_s
            .as_ref()
            .map_or(Ok(0.0), |off| self.told.within(&key.of("off_s"), off, (0.0, LONGEST_S), "s"))?;
        let firing = Firing::Ramp { from, to, ramp };
        Ok(Round { count: 1, on, off: Seconds(off), firing, binds: read.binds.clone() })
    }

    /// Refuses what belongs to pulses.
    fn only_a_ramp(&self, key: Key, read: &RoundText) -> Result<(), PlanTextError> {
        let expected = "it only for pulses, without `to_c`";
        let refuse = |name: &str, line: usize, found: String| {
            Err(PlanTextError::Value { line, key: key.of(name), found, expected: expected.to_owned() })
        };
        let line = |at: usize| self.told.line_of(at);
        if let Some(count) = &read.count {
            return refuse("count", line(count.span().start), count.get_ref().to_string());
        }
        if let Some(on) = &read.on_s {
            return refuse("on_s", line(on.span().start), on.get_ref().to_string());
        }
        match [("fire", &read.fire), ("between", &read.between)].into_iter().find(|(_, mark)| mark.is_some()) {
            Some((name, Some(mark))) => refuse(name, line(mark.span().start), format!("`{}`", mark.get_ref())),
            _ => Ok(()),
        }
    }

    fn sloped(
        &self,
        key: Key,
        ramp: &Spanned<f64>,
        (from, to): (Celsius, Celsius),
    ) -> Result<(KelvinPerHour, Seconds), PlanTextError> {
        let steepness = self.told.within(&key.of("ramp_k_per_h"), ramp, (0.1, 100_000.0), "K/h")?;
        let signed = KelvinPerHour(if to < from { -steepness } else { steepness });
        let on = ramp_time(from, to, signed);
        if (1.0..=LONGEST_S).contains(&on.0) {
            return Ok((signed, on));
        }
        let found = format!("{steepness} from {} to {} °C, which takes {:.0} s", from.0, to.0, on.0);
        let expected = format!("a ramp that takes 1 to {LONGEST_S} s, or a `hold_s`");
        Err(self.told.value(&key.of("ramp_k_per_h"), ramp, found, &expected))
    }

    fn missing(&self, Key(number): Key, name: &str) -> PlanTextError {
        let headings = self.told.text.match_indices("[[round]]").nth(number.saturating_sub(1));
        let line = headings.map_or(1, |(at, _)| self.told.line_of(at));
        PlanTextError::Form { line, what: format!("missing field `{name}`") }
    }
}

/// Number of a round, from 1, for the key of a value in it.
#[derive(Clone, Copy)]
struct Key(usize);

impl Key {
    fn of(self, name: &str) -> String {
        format!("round {} {name}", self.0)
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

    fn pulses() -> Round {
        let (firing, binds) = (Firing::OnOff, "ramp\nlimit".into());
        Round { count: 5, on: Seconds(30.0), off: Seconds(0.1 + 0.2), firing, binds }
    }

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
            rounds: vec![pulses()],
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

    #[test]
    fn marks_and_ramps_read_back_to_the_last_bit() {
        let fire = |mark: &str, share| Fire { mark: mark.into(), share };
        let (low, full) = (fire("low \"1\"", 0.1 + 0.2), fire("full", 1.0));
        let round = |firing, on_s, off_s| Round { on: Seconds(on_s), off: Seconds(off_s), firing, ..pulses() };
        let marked = |high: &Fire, low: Option<&Fire>, off_s| {
            round(Firing::Marks { high: high.clone(), low: low.cloned() }, 60.0, off_s)
        };
        let ramped = |from_c, to_c, ramp, off_s| {
            let (from, to, ramp) = (Celsius(from_c), Celsius(to_c), KelvinPerHour(ramp));
            let on = if is_hold(ramp) { Seconds(70.0) } else { ramp_time(from, to, ramp) };
            Round { count: 1, ..round(Firing::Ramp { from, to, ramp }, on.0, off_s) }
        };
        let rounds = vec![
            pulses(),
            marked(&low, None, 40.0),
            marked(&low, None, 0.0),
            marked(&full, Some(&low), 40.0),
            ramped(20.0, 120.3, 47.0, 0.0),
            ramped(120.3, 120.3, 0.0, 0.0),
            ramped(120.3, 90.0, -7.0, 7200.0),
            ramped(50.0, 90.0, 3.0, 0.0),
        ];
        let plan = Plan { rounds, ..plan() };
        assert_eq!(parse_plan(&write_plan(&plan)), Ok(plan));
    }
}
