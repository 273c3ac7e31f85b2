//! Quantities as a person writes them ("12 mm", "1/2 in", "68 F", "2 h 30 min") and as they are shown again.
//!
//! Factors are the exact definitions of NIST SP 811 (2008), appendix B: inch 25.4 mm, pound 0.453 592 37 kg, pound-force
//! per square inch from those and the standard gravity 9.806 65 m/s², British thermal unit (IT) 1055.055 852 62 J.

use std::str::FromStr;

use thiserror::Error;

use super::{Celsius, KelvinDiff, KelvinPerHour, Kilograms, Metres, Pascals, Seconds, SquareMetres, Watts};

const INCH_M: f64 = 0.0254;
const FOOT_M: f64 = 0.3048;
const POUND_KG: f64 = 0.453_592_37;
const STANDARD_GRAVITY_M_S2: f64 = 9.806_65;
const PSI_PA: f64 = POUND_KG * STANDARD_GRAVITY_M_S2 / (INCH_M * INCH_M);
/// British thermal unit (IT), J (NIST SP 811).
pub const BTU_J: f64 = 1_055.055_852_62;
const HOUR_S: f64 = 3600.0;
const FAHRENHEIT_PER_KELVIN: f64 = 1.8;

/// Longest piece of a wrong input that a message repeats, in characters.
const SHOWN_CHARS: usize = 60;

/// What kind of quantity a text should hold, and the units it may have.
#[derive(Debug, PartialEq)]
pub struct Measure {
    /// With its article: "a length".
    pub name: &'static str,
    /// How to write one: "12 mm".
    pub example: &'static str,
    units: &'static [Unit],
    terms: Terms,
}

/// Whether several terms may be added up, as in "2 h 30 min".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Terms {
    One,
    Sum,
}

/// A unit: the value in the base unit is `(x - zero) * times / over`.
#[derive(Debug, PartialEq)]
struct Unit {
    /// Spellings, lower case, the one to show first.
    names: &'static [&'static str],
    zero: f64,
    times: f64,
    over: f64,
}

const fn unit(names: &'static [&'static str], times: f64, over: f64) -> Unit {
    Unit { names, zero: 0.0, times, over }
}

macro_rules! measures {
    ($($(#[$doc:meta])* $constant:ident = $name:literal, $example:literal, $terms:expr, [$($unit:expr),* $(,)?];)*) => {
        $($(#[$doc])* pub static $constant: Measure =
            Measure { name: $name, example: $example, units: &[$($unit),*], terms: $terms };)*
        /// All of them, to say what a misplaced unit would be right for.
        static ALL: &[&Measure] = &[$(&$constant),*];
    };
}

measures! {
    /// Lengths, to metres.
    LENGTH = "a length", "12 mm", Terms::Sum, [
        unit(&["mm", "millimetre", "millimetres", "millimeter", "millimeters"], 1.0, 1000.0),
        unit(&["cm", "centimetre", "centimetres", "centimeter", "centimeters"], 1.0, 100.0),
        unit(&["m", "metre", "metres", "meter", "meters"], 1.0, 1.0),
        unit(&["in", "inch", "inches", "\""], INCH_M, 1.0),
        unit(&["ft", "foot", "feet", "'"], FOOT_M, 1.0),
    ];
    /// Angles, to degrees.
    ANGLE = "an angle", "90 deg", Terms::One, [unit(&["deg"], 1.0, 1.0)];
    /// Areas, to square metres.
    AREA = "an area", "0.1 m2", Terms::One, [
        unit(&["mm2", "sqmm"], 1.0, 1e6),
        unit(&["cm2", "sqcm"], 1.0, 1e4),
        unit(&["m2", "sqm"], 1.0, 1.0),
        unit(&["in2", "sqin"], INCH_M * INCH_M, 1.0),
        unit(&["ft2", "sqft"], FOOT_M * FOOT_M, 1.0),
    ];
    /// Temperatures, to degrees Celsius.
    TEMPERATURE = "a temperature", "20 C", Terms::One, [
        unit(&["c", "celsius"], 1.0, 1.0),
        Unit { names: &["f", "fahrenheit"], zero: 32.0, times: 1.0, over: FAHRENHEIT_PER_KELVIN },
        Unit { names: &["k", "kelvin"], zero: super::ZERO_CELSIUS_K, times: 1.0, over: 1.0 },
    ];
    /// Differences of temperature, to kelvin: 90 F of difference are 50 K.
    TEMPERATURE_DIFFERENCE = "a temperature difference", "50 K", Terms::One, [
        unit(&["k", "kelvin"], 1.0, 1.0),
        unit(&["c", "celsius"], 1.0, 1.0),
        unit(&["f", "fahrenheit"], 1.0, FAHRENHEIT_PER_KELVIN),
    ];
    /// Rates of temperature change, to kelvin per hour.
    RAMP = "a ramp", "56 C/h", Terms::One, [
        unit(&["c/h", "c/hr", "c/hour"], 1.0, 1.0),
        unit(&["k/h", "k/hr", "k/hour"], 1.0, 1.0),
        unit(&["f/h", "f/hr", "f/hour"], 1.0, FAHRENHEIT_PER_KELVIN),
        unit(&["c/min", "k/min"], 60.0, 1.0),
        unit(&["f/min"], 60.0, FAHRENHEIT_PER_KELVIN),
    ];
    /// Spans of time, to seconds.
    TIME = "a time", "12 h", Terms::Sum, [
        unit(&["s", "sec", "secs", "second", "seconds"], 1.0, 1.0),
        unit(&["min", "mins", "minute", "minutes"], 60.0, 1.0),
        unit(&["h", "hr", "hrs", "hour", "hours"], HOUR_S, 1.0),
        unit(&["days", "day", "d"], 24.0 * HOUR_S, 1.0),
        unit(&["weeks", "week", "wk"], 168.0 * HOUR_S, 1.0),
    ];
    /// Masses, to kilograms.
    MASS = "a mass", "5 kg", Terms::Sum, [
        unit(&["kg", "kilogram", "kilograms"], 1.0, 1.0),
        unit(&["g", "gram", "grams"], 1.0, 1000.0),
        unit(&["lb", "lbs", "pound", "pounds"], POUND_KG, 1.0),
        unit(&["oz", "ounce", "ounces"], POUND_KG, 16.0),
    ];
    /// Pressures, to pascals.
    PRESSURE = "a pressure", "2 bar", Terms::One, [
        unit(&["bar"], 1e5, 1.0),
        unit(&["mbar"], 100.0, 1.0),
        unit(&["psi", "psig"], PSI_PA, 1.0),
        unit(&["kpa"], 1000.0, 1.0),
        unit(&["pa"], 1.0, 1.0),
    ];
    /// Heat flows, to watts.
    POWER = "a heat flow", "9 kW", Terms::One, [
        unit(&["w", "watt", "watts"], 1.0, 1.0),
        unit(&["kw"], 1000.0, 1.0),
        unit(&["btu/h", "btu/hr", "btuh", "btu/hour"], BTU_J, HOUR_S),
    ];
    /// Shares, to fractions of one.
    SHARE = "a percentage", "18 %", Terms::One, [unit(&["%", "percent"], 1.0, 100.0)];
    /// Electromotive forces of thermocouples, to millivolts.
    EMF = "an EMF", "20.6 mV", Terms::One, [
        unit(&["mv", "millivolt", "millivolts"], 1.0, 1.0),
        unit(&["uv", "µv", "microvolt", "microvolts"], 1.0, 1000.0),
        unit(&["v", "volt", "volts"], 1000.0, 1.0),
    ];
    /// Densities, to kilograms per cubic metre.
    DENSITY = "a density", "2200 kg/m3", Terms::One, [
        unit(&["kg/m3"], 1.0, 1.0),
        unit(&["g/cm3", "g/cc"], 1000.0, 1.0),
        unit(&["lb/ft3", "pcf"], POUND_KG, FOOT_M * FOOT_M * FOOT_M),
    ];
    /// Water (or rigidiser, taken as water) on an area, to kilograms per square metre.
    AREA_DENSITY = "a mass on an area", "3.6 L/m2", Terms::One, [
        unit(&["l/m2"], 1.0, 1.0),
        unit(&["kg/m2"], 1.0, 1.0),
        unit(&["lb/ft2"], POUND_KG, FOOT_M * FOOT_M),
    ];
    /// Conductivities, to watts per metre and kelvin.
    CONDUCTIVITY = "a conductivity", "1.2 W/mK", Terms::One, [
        unit(&["w/mk", "w/(mk)"], 1.0, 1.0),
        unit(&["btuin/ft2hf", "btuin/(ft2hf)", "btuin/(hft2f)"], BTU_J * INCH_M * FAHRENHEIT_PER_KELVIN,
            HOUR_S * FOOT_M * FOOT_M),
    ];
    /// Specific heats, to joules per kilogram and kelvin.
    HEAT_CAPACITY = "a specific heat", "1000 J/kgK", Terms::One, [
        unit(&["j/kgk", "j/(kgk)"], 1.0, 1.0),
        unit(&["kj/kgk", "kj/(kgk)"], 1000.0, 1.0),
        unit(&["btu/lbf", "btu/(lbf)"], BTU_J * FAHRENHEIT_PER_KELVIN, POUND_KG),
    ];
    /// Heats per mass, to joules per kilogram.
    SPECIFIC_HEAT = "a heat per mass", "1.5 MJ/kg", Terms::One, [
        unit(&["mj/kg"], 1e6, 1.0),
        unit(&["kj/kg"], 1000.0, 1.0),
        unit(&["j/kg"], 1.0, 1.0),
    ];
    /// Strengths, to megapascals.
    STRENGTH = "a strength", "6 MPa", Terms::One, [
        unit(&["mpa", "n/mm2"], 1.0, 1.0),
        unit(&["kg/cm2", "kgf/cm2"], STANDARD_GRAVITY_M_S2, 100.0),
        unit(&["psi"], PSI_PA, 1e6),
    ];
    /// Stiffnesses, to gigapascals.
    STIFFNESS = "a stiffness", "7 GPa", Terms::One, [
        unit(&["gpa"], 1.0, 1.0),
        unit(&["mpa"], 1.0, 1000.0),
    ];
    /// Thermal expansions, to parts per kelvin.
    EXPANSION = "a thermal expansion", "7e-6 1/K", Terms::One, [
        unit(&["1/k", "/k", "1/c", "/c"], 1.0, 1.0),
        unit(&["1/f", "/f"], FAHRENHEIT_PER_KELVIN, 1.0),
    ];
    /// Permeabilities, to square metres.
    PERMEABILITY = "a permeability", "1e-15 m2", Terms::One, [unit(&["m2"], 1.0, 1.0)];
    /// Orders of magnitude.
    DECADES = "a spread in decades", "0.25 decades", Terms::One, [unit(&["decades", "decade"], 1.0, 1.0)];
}

/// Why a text is not the quantity asked for.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum QuantityError {
    /// Nothing is there.
    #[error("found nothing, expected {}; write it like \"{}\"", .expected.name, .expected.example)]
    Empty {
        /// What should be there.
        expected: &'static Measure,
    },
    /// It does not begin with a number.
    #[error("found \"{found}\", expected {} that begins with a number; write it like \"{}\"", .expected.name, .expected.example)]
    NoNumber {
        /// The text.
        found: String,
        /// What should be there.
        expected: &'static Measure,
    },
    /// A number is broken by a comma, which may stand for a point or for thousands.
    #[error(
        "found \"{found}\" with a comma in the number, expected a decimal point and no mark for thousands; \
        write it like \"12.5\" or \"1200\""
    )]
    Comma {
        /// The text.
        found: String,
    },
    /// The number is divided by zero, or too large to count with.
    #[error("found \"{found}\", expected {} of a size that can be measured; write it like \"{}\"", .expected.name, .expected.example)]
    NotFinite {
        /// The text.
        found: String,
        /// What should be there.
        expected: &'static Measure,
    },
    /// A number stands there without its unit.
    #[error("found \"{found}\" without a unit, expected {} in {}; write it like \"{}\"",
        .expected.name, .expected.unit_list(), .expected.example)]
    NoUnit {
        /// The text.
        found: String,
        /// What should be there.
        expected: &'static Measure,
    },
    /// The unit is unknown or belongs to something else.
    #[error("found \"{found}\", where \"{unit}\" {}, expected {} in {}; write it like \"{}\"", belongs_to(.unit),
        .expected.name, .expected.unit_list(), .expected.example)]
    WrongUnit {
        /// The text.
        found: String,
        /// The unit in it.
        unit: String,
        /// What should be there.
        expected: &'static Measure,
    },
    /// Several terms stand where one is meant.
    #[error("found \"{found}\" with more than one number, expected {} as one number with one unit; write it like \"{}\"",
        .expected.name, .expected.example)]
    Several {
        /// The text.
        found: String,
        /// What should be there.
        expected: &'static Measure,
    },
    /// It is larger or smaller than what is asked for can be.
    #[error("found \"{found}\", expected {least} to {most}; check the number and its unit")]
    Outside {
        /// The text.
        found: String,
        /// Least that would do.
        least: String,
        /// Most that would do.
        most: String,
    },
    /// The temperature is at absolute zero or below.
    #[error(
        "found \"{found}\", which is absolute zero or colder, expected a temperature above -273.15 C; correct the number \
        or its unit"
    )]
    BelowAbsoluteZero {
        /// The text.
        found: String,
    },
}

/// `text` as a temperature from the first of `bounds` to the second.
///
/// # Errors
/// When it is none.
pub fn temperature_within(text: &str, bounds: [Celsius; 2]) -> Result<Celsius, QuantityError> {
    let temp = Celsius(TEMPERATURE.parse(text)?);
    let shown = |temp: Celsius| temp.shown(UnitSystem::Metric);
    within(temp, bounds, text, shown)
}

/// `text` as a length from the first of `bounds` to the second.
///
/// # Errors
/// When it is none.
pub fn length_within(text: &str, bounds: [Metres; 2]) -> Result<Metres, QuantityError> {
    let length = Metres(LENGTH.parse(text)?);
    within(length, bounds, text, |length| length.shown(UnitSystem::Metric))
}

fn within<Q: PartialOrd + Copy>(
    value: Q,
    bounds: [Q; 2],
    text: &str,
    shown: impl Fn(Q) -> String,
) -> Result<Q, QuantityError> {
    if value >= bounds[0] && value <= bounds[1] {
        return Ok(value);
    }
    Err(QuantityError::Outside { found: repeated(text), least: shown(bounds[0]), most: shown(bounds[1]) })
}

impl Measure {
    /// The units as a person would list them: "mm, cm, m, in or ft".
    fn unit_list(&self) -> String {
        let names: Vec<&str> = self.units.iter().map(|unit| shown_unit(unit.names[0])).collect();
        match names.split_last() {
            Some((last, [])) => (*last).to_owned(),
            Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
            None => String::new(),
        }
    }

    fn unit_named(&self, name: &str) -> Option<&Unit> {
        let name = plain_unit(name);
        self.units.iter().find(|unit| unit.names.contains(&name.as_str()))
    }

    /// The value of `text` in the base unit of this measure.
    ///
    /// # Errors
    /// When `text` is not such a quantity.
    ///
    /// # Examples
    /// ```
    /// use firstheat::units::quantity::{LENGTH, TEMPERATURE};
    ///
    /// assert!((LENGTH.parse("1/2 in").unwrap() - 0.0127).abs() < 1e-15);
    /// assert!((TEMPERATURE.parse("68 F").unwrap() - 20.0).abs() < 1e-12);
    /// assert_eq!(LENGTH.parse("12").unwrap_err().to_string(),
    ///     "found \"12\" without a unit, expected a length in mm, cm, m, in or ft; write it like \"12 mm\"");
    /// ```
    pub fn parse(&'static self, text: &str) -> Result<f64, QuantityError> {
        let text = text.trim();
        let found = || repeated(text);
        if text.is_empty() {
            return Err(QuantityError::Empty { expected: self });
        }
        let (sign, mut rest) = signed(text);
        let (mut sum, mut terms) = (0.0, 0);
        while !rest.is_empty() {
            let (value, after) =
                number(rest).ok_or_else(|| QuantityError::NoNumber { found: found(), expected: self })?;
            if after.starts_with(',') {
                return Err(QuantityError::Comma { found: found() });
            }
            let (name, after) = unit_text(after);
            if name.is_empty() {
                return Err(QuantityError::NoUnit { found: found(), expected: self });
            }
            let unit = self.unit_named(name).ok_or_else(|| QuantityError::WrongUnit {
                found: found(),
                unit: repeated(name),
                expected: self,
            })?;
            sum += (sign * value - unit.zero) * unit.times / unit.over;
            terms += 1;
            rest = after;
        }
        if terms > 1 && self.terms == Terms::One {
            return Err(QuantityError::Several { found: found(), expected: self });
        }
        if !sum.is_finite() {
            return Err(QuantityError::NotFinite { found: found(), expected: self });
        }
        if std::ptr::eq(self, &raw const TEMPERATURE) && sum <= -super::ZERO_CELSIUS_K {
            return Err(QuantityError::BelowAbsoluteZero { found: found() });
        }
        Ok(sum)
    }

    /// Whether `name` is one of the units of this measure.
    fn has_unit(&self, name: &str) -> bool {
        self.unit_named(name).is_some()
    }

    /// Makes sure that `name` is one of the units of this measure.
    ///
    /// # Errors
    /// When it is not.
    pub fn check_unit(&'static self, name: &str) -> Result<(), QuantityError> {
        if self.has_unit(name) {
            return Ok(());
        }
        Err(QuantityError::WrongUnit { found: repeated(name), unit: repeated(name), expected: self })
    }

    /// A bare number taken as given in the unit `name`, in the base unit; `None` when the unit is not one of these.
    #[must_use]
    pub fn convert(&self, value: f64, name: &str) -> Option<f64> {
        self.unit_named(name).map(|unit| (value - unit.zero) * unit.times / unit.over)
    }
}

/// What a unit is right for, for a message: "is a unit of a length" or "is no unit known here".
fn belongs_to(unit: &str) -> String {
    let measure = ALL.iter().find(|measure| measure.has_unit(unit));
    measure.map_or_else(|| "is no unit known here".to_owned(), |measure| format!("is the unit of {}", measure.name))
}

/// At most [`SHOWN_CHARS`] of a wrong input, with control characters made visible.
fn repeated(text: &str) -> String {
    let mut shown: String = text.chars().take(SHOWN_CHARS).flat_map(visible).collect();
    if text.chars().count() > SHOWN_CHARS {
        shown.push_str("...");
    }
    shown
}

fn visible(letter: char) -> Vec<char> {
    if letter.is_control() { letter.escape_default().collect() } else { vec![letter] }
}

/// Usual capitals of a unit that is kept in lower case.
fn shown_unit(name: &'static str) -> &'static str {
    const CAPITALS: &[(&str, &str)] = &[
        ("c", "C"),
        ("f", "F"),
        ("k", "K"),
        ("c/h", "C/h"),
        ("k/h", "K/h"),
        ("f/h", "F/h"),
        ("c/min", "C/min"),
        ("f/min", "F/min"),
        ("mv", "mV"),
        ("uv", "uV"),
        ("v", "V"),
        ("kpa", "kPa"),
        ("pa", "Pa"),
        ("w", "W"),
        ("kw", "kW"),
        ("btu/h", "BTU/h"),
        ("l/m2", "L/m2"),
        ("w/mk", "W/mK"),
        ("btuin/ft2hf", "BTU in/ft2 h F"),
        ("j/kgk", "J/kgK"),
        ("kj/kgk", "kJ/kgK"),
        ("btu/lbf", "BTU/lb F"),
        ("mj/kg", "MJ/kg"),
        ("kj/kg", "kJ/kg"),
        ("j/kg", "J/kg"),
        ("mpa", "MPa"),
        ("gpa", "GPa"),
        ("1/k", "1/K"),
        ("1/f", "1/F"),
    ];
    CAPITALS.iter().find(|(plain, _)| *plain == name).map_or(name, |(_, shown)| shown)
}

/// A unit in the one spelling of the tables: lower case, no degree signs, dots, stars, carets, spaces.
fn plain_unit(name: &str) -> String {
    let lower = name.trim().to_lowercase().replace(" per ", "/").replace('²', "2").replace('³', "3");
    let plain: String = lower
        .chars()
        .filter(|letter| !letter.is_whitespace() && !matches!(letter, '°' | '·' | '*' | '^' | '.'))
        .collect();
    if matches!(plain.as_str(), "degrees" | "degree") || name.trim() == "°" {
        return "deg".to_owned();
    }
    for word in ["degrees", "degree", "deg"] {
        if let Some(rest) = plain.strip_prefix(word).filter(|rest| !rest.is_empty()) {
            return rest.to_owned();
        }
    }
    plain
}

fn signed(text: &str) -> (f64, &str) {
    for minus in ['-', '\u{2212}'] {
        if let Some(rest) = text.strip_prefix(minus) {
            return (-1.0, rest.trim_start());
        }
    }
    (1.0, text.strip_prefix('+').map_or(text, str::trim_start))
}

/// A number at the start of `text` (decimal, `a/b`, `a b/c`, `a-b/c`), and what follows it.
fn number(text: &str) -> Option<(f64, &str)> {
    if let Some(part) = vulgar_fraction(text) {
        return Some(part);
    }
    let (whole, rest) = decimal(text)?;
    let rest = rest.trim_start();
    if let Some((under, after)) = rest.strip_prefix('/').and_then(|rest| decimal(rest.trim_start())) {
        return Some((whole / under, after.trim_start()));
    }
    let part = rest.strip_prefix('-').unwrap_or(rest).trim_start();
    if let Some((fraction, after)) = vulgar_fraction(part) {
        return Some((whole + fraction, after));
    }
    if let Some((over, after)) = decimal(part)
        && let Some((under, after)) = after.trim_start().strip_prefix('/').and_then(|rest| decimal(rest.trim_start()))
    {
        return Some((whole + over / under, after.trim_start()));
    }
    Some((whole, rest))
}

fn vulgar_fraction(text: &str) -> Option<(f64, &str)> {
    const SIGNS: &[(char, f64)] =
        &[('½', 0.5), ('¼', 0.25), ('¾', 0.75), ('⅛', 0.125), ('⅜', 0.375), ('⅝', 0.625), ('⅞', 0.875)];
    SIGNS.iter().find_map(|&(sign, value)| text.strip_prefix(sign).map(|rest| (value, rest.trim_start())))
}

/// An unsigned decimal number with an optional exponent at the start of `text`, and what follows it.
fn decimal(text: &str) -> Option<(f64, &str)> {
    let digits = |from: usize| text[from..].bytes().take_while(u8::is_ascii_digit).count();
    let mut end = digits(0);
    if text[end..].starts_with('.') && (end > 0 || digits(1) > 0) {
        end += 1 + digits(end + 1);
    }
    if end == 0 {
        return None;
    }
    if text[end..].starts_with(['e', 'E']) {
        let sign = usize::from(text[end + 1..].starts_with(['+', '-']));
        let exponent = digits(end + 1 + sign);
        if exponent > 0 {
            end += 1 + sign + exponent;
        }
    }
    text[..end].parse().ok().map(|value| (value, &text[end..]))
}

/// The unit at the start of `text`, up to the next number, and what follows it.
fn unit_text(text: &str) -> (&str, &str) {
    let text = text.trim_start();
    let mut before = None;
    for (at, letter) in text.char_indices() {
        let after_gap = before.is_some_and(|b: char| b.is_whitespace() || b == '\'');
        if letter.is_ascii_digit() && after_gap {
            return (text[..at].trim_end(), &text[at..]);
        }
        before = Some(letter);
    }
    (text.trim_end(), "")
}

macro_rules! readable {
    ($($name:ident from $measure:ident),* $(,)?) => {
        $(impl FromStr for $name {
            type Err = QuantityError;

            fn from_str(text: &str) -> Result<Self, QuantityError> {
                $measure.parse(text).map(Self)
            }
        })*
    };
}

readable!(
    Celsius from TEMPERATURE,
    KelvinDiff from TEMPERATURE_DIFFERENCE,
    KelvinPerHour from RAMP,
    Metres from LENGTH,
    SquareMetres from AREA,
    Seconds from TIME,
    Kilograms from MASS,
    Watts from POWER,
    Pascals from PRESSURE,
);

/// Units in which quantities are shown to a person.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum UnitSystem {
    /// Millimetres, degrees Celsius, kilograms, bar, kilowatts.
    #[default]
    Metric,
    /// Inches, degrees Fahrenheit, pounds, psi, BTU per hour.
    Us,
}

/// A quantity that can be shown with its unit, rounded to what a builder can use.
pub trait Shown {
    /// The text, such as "12.7 mm" or "0.5 in".
    fn shown(&self, system: UnitSystem) -> String;
}

/// `value` with at most `decimals` decimals and no trailing zeros.
fn rounded(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text == "-0" { "0".to_owned() } else { text.to_owned() }
}

/// `value` with three significant figures.
fn three_figures(value: f64) -> String {
    if value.abs() < f64::MIN_POSITIVE || !value.is_finite() {
        return rounded(value, 0);
    }
    let above_point = value.abs().log10().floor() as i32;
    let step = 10_f64.powi(above_point - 2);
    rounded((value / step).round() * step, (2 - above_point).clamp(0, 12) as usize)
}

impl Shown for Metres {
    fn shown(&self, system: UnitSystem) -> String {
        match system {
            UnitSystem::Metric if self.0.abs() >= 10.0 => format!("{} m", rounded(self.0, 2)),
            UnitSystem::Metric => format!("{} mm", rounded(self.mm(), 1)),
            UnitSystem::Us => format!("{} in", rounded(self.0 / INCH_M, 2)),
        }
    }
}

impl Shown for SquareMetres {
    fn shown(&self, system: UnitSystem) -> String {
        let square_foot_m2 = FOOT_M * FOOT_M;
        match system {
            UnitSystem::Metric if self.0.abs() < 0.1 => format!("{} cm2", three_figures(self.0 * 1e4)),
            UnitSystem::Metric => format!("{} m2", three_figures(self.0)),
            UnitSystem::Us if self.0.abs() < square_foot_m2 => {
                format!("{} in2", three_figures(self.0 / (INCH_M * INCH_M)))
            }
            UnitSystem::Us => format!("{} ft2", three_figures(self.0 / square_foot_m2)),
        }
    }
}

impl Shown for Celsius {
    fn shown(&self, system: UnitSystem) -> String {
        match system {
            UnitSystem::Metric => format!("{} °C", rounded(self.0, 1)),
            UnitSystem::Us => format!("{} °F", rounded(self.0 * FAHRENHEIT_PER_KELVIN + 32.0, 1)),
        }
    }
}

impl Shown for KelvinDiff {
    fn shown(&self, system: UnitSystem) -> String {
        match system {
            UnitSystem::Metric => format!("{} K", rounded(self.0, 1)),
            UnitSystem::Us => format!("{} °F", rounded(self.0 * FAHRENHEIT_PER_KELVIN, 1)),
        }
    }
}

impl Shown for KelvinPerHour {
    fn shown(&self, system: UnitSystem) -> String {
        match system {
            UnitSystem::Metric => format!("{} °C/h", rounded(self.0, 1)),
            UnitSystem::Us => format!("{} °F/h", rounded(self.0 * FAHRENHEIT_PER_KELVIN, 1)),
        }
    }
}

impl Shown for Seconds {
    fn shown(&self, _: UnitSystem) -> String {
        const STEPS: [(f64, &str); 4] = [(86_400.0, "days"), (3600.0, "h"), (60.0, "min"), (1.0, "s")];
        let sign = if self.0 < 0.0 { "-" } else { "" };
        let span_s = self.0.abs();
        let largest = STEPS.iter().position(|(step_s, _)| span_s >= *step_s);
        let Some([(large_s, large), (small_s, small)]) = largest.and_then(|at| STEPS.get(at..at + 2)) else {
            return format!("{sign}{} s", rounded(span_s, 1));
        };
        let whole_s = (span_s / small_s).round() * small_s;
        let (count, left) = ((whole_s / large_s).floor(), (whole_s % large_s / small_s).round());
        let large = if *large == "days" && count < 1.5 { "day" } else { large };
        if left < 0.5 { format!("{sign}{count} {large}") } else { format!("{sign}{count} {large} {left} {small}") }
    }
}

impl Shown for Kilograms {
    fn shown(&self, system: UnitSystem) -> String {
        match system {
            UnitSystem::Metric if self.0.abs() < 1.0 => format!("{} g", three_figures(self.0 * 1000.0)),
            UnitSystem::Metric => format!("{} kg", three_figures(self.0)),
            UnitSystem::Us if self.0.abs() < POUND_KG => format!("{} oz", three_figures(self.0 / POUND_KG * 16.0)),
            UnitSystem::Us => format!("{} lb", three_figures(self.0 / POUND_KG)),
        }
    }
}

impl Shown for Watts {
    fn shown(&self, system: UnitSystem) -> String {
        match system {
            UnitSystem::Metric if self.0.abs() < 1000.0 => format!("{} W", three_figures(self.0)),
            UnitSystem::Metric => format!("{} kW", three_figures(self.0 / 1000.0)),
            UnitSystem::Us => format!("{} BTU/h", three_figures(self.0 / BTU_J * HOUR_S)),
        }
    }
}

impl Shown for Pascals {
    fn shown(&self, system: UnitSystem) -> String {
        match system {
            UnitSystem::Metric if self.0.abs() >= 1e6 => format!("{} MPa", three_figures(self.0 / 1e6)),
            UnitSystem::Metric => format!("{} bar", three_figures(self.0 / 1e5)),
            UnitSystem::Us => format!("{} psi", three_figures(self.0 / PSI_PA)),
        }
    }
}

/// A fraction of one as a percentage: "18.8 %".
#[must_use]
pub fn percent(fraction: f64) -> String {
    format!("{} %", rounded(fraction * 100.0, 2))
}
