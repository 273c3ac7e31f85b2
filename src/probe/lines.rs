//! One line of text from a probe board, cut out of the byte stream and read.
//!
//! The format is described in `hardware-notes/lines.md` and read here; nothing else reads it. A line is taken whole or
//! refused whole: nothing in it is guessed, because a temperature that is wrong by a digit is worse than none.

mod cut;
mod json;
mod text;

pub use cut::{LineSplitter, MAX_LINE_BYTES, Piece, Start};
pub(in crate::probe) use text::is_label;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::reading::Fault;
use crate::thermocouple::Millivolts;
use crate::units::{Celsius, Seconds};

/// The key that carries the board's own time, in seconds.
pub const TIME_KEY: &str = "t";

/// The JSON key that names the unit of all numbers of the line.
pub const UNIT_KEY: &str = "unit";

/// A unit of temperature a board may send.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum TempUnit {
    /// Degrees Celsius.
    C,
    /// Degrees Fahrenheit.
    F,
    /// Kelvin.
    K,
}

impl TempUnit {
    /// `number` of this unit as a temperature.
    #[must_use]
    pub fn celsius(self, number: f64) -> Celsius {
        match self {
            Self::C => Celsius(number),
            Self::F => Celsius((number - 32.0) / 1.8),
            Self::K => Celsius::from_kelvin(number),
        }
    }

    /// `temp` as a number of this unit.
    #[must_use]
    pub fn number(self, temp: Celsius) -> f64 {
        match self {
            Self::C => temp.0,
            Self::F => temp.0 * 1.8 + 32.0,
            Self::K => temp.kelvin(),
        }
    }

    /// The unit called `word`: C, F or K, small or large, with `deg` or the degree sign before it if wished.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        let word = word.strip_prefix('°').or_else(|| word.strip_prefix("deg")).unwrap_or(word);
        match word {
            "C" | "c" => Some(Self::C),
            "F" | "f" => Some(Self::F),
            "K" | "k" => Some(Self::K),
            _ => None,
        }
    }
}

impl std::fmt::Display for TempUnit {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{self:?}")
    }
}

/// A unit of EMF a board may send.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum EmfUnit {
    /// Millivolts.
    #[default]
    MV,
    /// Microvolts.
    UV,
    /// Volts.
    V,
}

impl EmfUnit {
    /// `number` of this unit as an EMF.
    #[must_use]
    pub fn millivolts(self, number: f64) -> Millivolts {
        Millivolts(match self {
            Self::MV => number,
            Self::UV => number / 1000.0,
            Self::V => number * 1000.0,
        })
    }

    /// The unit called `word`: mV, uV or V, and µV.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        match word {
            "mV" => Some(Self::MV),
            "uV" | "µV" => Some(Self::UV),
            "V" => Some(Self::V),
            _ => None,
        }
    }
}

/// What a line says of one channel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Value {
    /// A number, with its unit when the line names one.
    Number {
        /// As sent.
        number: f64,
        /// As sent.
        unit: Option<TempUnit>,
    },
    /// A number with a unit of EMF.
    Emf(Millivolts),
    /// A word that means the board has no temperature to give.
    Fault(Fault),
}

/// What a line says, before the probe file gives it meaning.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The board's own time, when the line carries one.
    pub board_time: Option<Seconds>,
    /// The values.
    pub items: Items,
}

/// The values of a line, told apart by place or by label.
#[derive(Clone, Debug, PartialEq)]
pub enum Items {
    /// Bare values; the first is number 1.
    Numbered(Vec<Value>),
    /// Values with labels, in the order sent, no label twice.
    Labelled(Vec<(String, Value)>),
}

/// The check characters a line must end in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LineCheck {
    /// None demanded; when a line has some all the same, they must be right.
    #[default]
    None,
    /// `*` and two hexadecimal digits: exclusive or of all bytes before the `*`. Lets one damaged line in 18 through.
    Xor8,
    /// `*` and four hexadecimal digits: CRC-16 as on Modbus lines, of all bytes before the `*`.
    Crc16,
}

/// Why a line is refused.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum LineError {
    /// A byte that no board sends in text.
    #[error(
        "found byte 0x{byte:02x} at place {place} of the line, expected plain text; \
         make the speed in the probe file that of the board, and look for a loose or noisy wire"
    )]
    NotText {
        /// The byte.
        byte: u8,
        /// Its place, from 1.
        place: usize,
    },
    /// Nothing ended the line.
    #[error(
        "found {bytes} bytes without a line end, expected one within {MAX_LINE_BYTES}; \
         make the speed in the probe file that of the board"
    )]
    NoEnd {
        /// How many bytes went by.
        bytes: usize,
    },
    /// The line stops in the middle of something.
    #[error("found a line that stops after {after:?}, expected it to go on; the rest was lost on the way")]
    CutShort {
        /// The last thing that stands there.
        after: String,
    },
    /// Something that is neither number, fault word nor label.
    #[error(
        "found {found:?}, expected a number, a number with C, F or K, or a fault word such as open; \
         have the board send nothing else"
    )]
    NotAValue {
        /// What stands there.
        found: String,
    },
    /// A number without a digit before or behind its point, which is what a torn one looks like.
    #[error("found {found:?}, expected digits on both sides of the point; the rest was lost on the way")]
    TornNumber {
        /// What stands there.
        found: String,
    },
    /// A label that cannot be one.
    #[error("found {found:?} before a value, expected one word as a label; have the board send one")]
    NotALabel {
        /// What stands there.
        found: String,
    },
    /// Both comma and another separator part the values: a decimal comma looks like this.
    #[error("found both a comma and {other:?} between values, expected one; have the board send a decimal point")]
    MixedSeparators {
        /// The other separator.
        other: char,
    },
    /// Two separators with nothing between.
    #[error("found nothing where value {place} should stand, expected a number or a fault word; the board left it out")]
    EmptyPlace {
        /// Which value, from 1.
        place: usize,
    },
    /// Bare values and labelled ones on one line.
    #[error("found {found:?} without a label beside labelled values, expected all with labels or none")]
    MixedLabels {
        /// The bare value.
        found: String,
    },
    /// A label that stands there twice.
    #[error("found {label:?} twice, expected it once; two lines ran into each other")]
    Twice {
        /// The label.
        label: String,
    },
    /// A board time that is not one.
    #[error("found t = {found:?}, expected the board's time in seconds, 0 or more")]
    Time {
        /// What stands there.
        found: String,
    },
    /// JSON that is not an object of numbers and words.
    #[error("found JSON that cannot be used ({why}), expected one object of labels with numbers or fault words")]
    Json {
        /// What is wrong with it.
        why: String,
    },
    /// No check characters where the probe file demands them.
    #[error("found no check characters, expected {expected}; the end was lost on the way, or the board sends none")]
    NoCheck {
        /// What they look like.
        expected: &'static str,
    },
    /// Check characters that do not belong to the line.
    #[error("found check characters {found}, expected {expected}; the line was damaged on the way")]
    WrongCheck {
        /// As sent.
        found: String,
        /// As computed.
        expected: String,
    },
    /// More or fewer values than the probe file says.
    #[error("found {found} values, expected {expected}; the line was damaged, or `columns` in the probe file is wrong")]
    Columns {
        /// How many came.
        found: usize,
        /// How many should.
        expected: usize,
    },
    /// Another unit than the probe file says.
    #[error("found {channel} in {found}, expected {expected}; correct its `unit` in the probe file, or leave it out")]
    Unit {
        /// The operator's name of the channel.
        channel: String,
        /// As sent.
        found: TempUnit,
        /// As the probe file says.
        expected: TempUnit,
    },
    /// An EMF where a temperature should be.
    #[error("found {channel} in volts, expected degrees; write `sends = \"emf\"` and its `junction` in the probe file")]
    NotATemp {
        /// The operator's name of the channel.
        channel: String,
    },
    /// A temperature where an EMF should be.
    #[error("found {channel} in {found}, expected mV, uV or V; take `sends = \"emf\"` out of the probe file")]
    NotAnEmf {
        /// The operator's name of the channel.
        channel: String,
        /// As sent.
        found: TempUnit,
    },
    /// An EMF without the temperature of the terminals.
    #[error(
        "found {channel} without a temperature of its terminals, expected {wanted} beside it; correct `junction` in the \
         probe file"
    )]
    NoJunction {
        /// The operator's name of the channel.
        channel: String,
        /// Where it should have been.
        wanted: String,
    },
    /// Values that none of the channels is after.
    #[error("found {found}, expected {expected}; correct `label` or `position` in the probe file")]
    NoChannel {
        /// What came, in words.
        found: String,
        /// What the probe file names, in words.
        expected: String,
    },
}

/// Reads one line, without its end. `None` when it says nothing: blank, or a note that begins with `#`.
///
/// # Errors
/// When anything in it is not understood, or its check characters are wrong or missing.
///
/// # Examples
/// ```
/// use firstheat::probe::lines::{self, Items, LineCheck, TempUnit, Value};
///
/// let line = lines::parse(b"t=12.0 hot=345.2C core=open", LineCheck::None)?.expect("a line with values");
/// let Items::Labelled(items) = line.items else { panic!("labels were sent") };
/// assert_eq!(items[0], ("hot".to_owned(), Value::Number { number: 345.2, unit: Some(TempUnit::C) }));
/// # Ok::<(), lines::LineError>(())
/// ```
pub fn parse(line: &[u8], check: LineCheck) -> Result<Option<Line>, LineError> {
    let text = plain_text(line)?.trim_matches([' ', '\t']);
    if text.is_empty() || text.starts_with('#') {
        return Ok(None);
    }
    let body = without_check(text, check)?.trim_end_matches([' ', '\t']);
    let read = if body.starts_with('{') { json::parse(body) } else { text::parse(body) };
    read.map(Some)
}

/// `body` with the check characters that `check` demands.
#[must_use]
pub fn with_check(body: &str, check: LineCheck) -> String {
    match check {
        LineCheck::None => body.to_owned(),
        LineCheck::Xor8 => format!("{body}*{}", xor8(body)),
        LineCheck::Crc16 => format!("{body}*{}", crc16(body)),
    }
}

fn xor8(body: &str) -> String {
    format!("{:02X}", body.bytes().fold(0, |sum, byte| sum ^ byte))
}

fn crc16(body: &str) -> String {
    format!("{:04X}", crc::Crc::<u16>::new(&crc::CRC_16_MODBUS).checksum(body.as_bytes()))
}

/// The words that mean "no temperature", and what each stands for. Small and large letters are the same.
///
/// A board library's `nan`, and words that name no cause, do not say what is wrong: [`Fault::Unnamed`].
pub const FAULT_WORDS: &[(&str, Fault)] = &[
    ("open", Fault::Open),
    ("oc", Fault::Open),
    ("disconnected", Fault::Open),
    ("nc", Fault::Open),
    ("short", Fault::Short),
    ("shorted", Fault::Short),
    ("scg", Fault::Short),
    ("scv", Fault::Short),
    ("range", Fault::OutOfRange),
    ("overrange", Fault::OutOfRange),
    ("ovf", Fault::OutOfRange),
    ("ol", Fault::OutOfRange),
    ("inf", Fault::OutOfRange),
    ("-inf", Fault::OutOfRange),
    ("nan", Fault::Unnamed),
    ("err", Fault::Unnamed),
    ("error", Fault::Unnamed),
    ("fault", Fault::Unnamed),
    ("fail", Fault::Unnamed),
    ("null", Fault::Unnamed),
    ("none", Fault::Unnamed),
    ("na", Fault::Unnamed),
    ("n/a", Fault::Unnamed),
    ("---", Fault::Unnamed),
];

/// The fault that `word` stands for, if it is a fault word.
fn fault_word(word: &str) -> Option<Fault> {
    FAULT_WORDS.iter().find(|(known, _)| known.eq_ignore_ascii_case(word)).map(|&(_, fault)| fault)
}

/// A finite number as a value. 9.91e37 is "not a number" and ±9.9e37 "too large" on instrument lines (SCPI-99, 7.2.1).
fn number_value(number: f64, unit: Option<TempUnit>) -> Value {
    if (9.905e37..=9.915e37).contains(&number) {
        Value::Fault(Fault::Unnamed)
    } else if number.abs() >= 9.9e37 {
        Value::Fault(Fault::OutOfRange)
    } else {
        Value::Number { number, unit }
    }
}

/// Text of the line, when every byte of it can stand in a line: printable ASCII, blanks and the degree sign.
fn plain_text(line: &[u8]) -> Result<&str, LineError> {
    let text = std::str::from_utf8(line).map_err(|wrong| not_text(line, wrong.valid_up_to()))?;
    match text.char_indices().find(|(_, c)| !matches!(c, ' '..='~' | '\t' | '°' | 'µ')) {
        None => Ok(text),
        Some((at, _)) => Err(not_text(line, at)),
    }
}

fn not_text(line: &[u8], at: usize) -> LineError {
    LineError::NotText { byte: line.get(at).copied().unwrap_or_default(), place: at + 1 }
}

/// The line without its check characters, once they are found right.
fn without_check(text: &str, check: LineCheck) -> Result<&str, LineError> {
    let (body, found) = match text.rsplit_once('*') {
        Some((body, digits)) if digits.bytes().all(|b| b.is_ascii_hexdigit()) => (body, digits),
        _ => (text, ""),
    };
    let expected = match (check, found.len()) {
        (LineCheck::None, 0) if body.len() == text.len() => return Ok(text),
        (LineCheck::None | LineCheck::Xor8, 2) => xor8(body),
        (LineCheck::None | LineCheck::Crc16, 4) => crc16(body),
        (LineCheck::None, _) => return Err(LineError::NoCheck { expected: "two or four digits 0-9 A-F after the *" }),
        (LineCheck::Xor8, _) => return Err(LineError::NoCheck { expected: "* and two digits 0-9 A-F" }),
        (LineCheck::Crc16, _) => return Err(LineError::NoCheck { expected: "* and four digits 0-9 A-F" }),
    };
    if expected.eq_ignore_ascii_case(found) {
        Ok(body)
    } else {
        Err(LineError::WrongCheck { found: found.to_owned(), expected })
    }
}

#[cfg(test)]
mod tests;
