//! Reads a probe file: which boards there are and which probe sits where.
//!
//! ```toml
//! format = "firstheat probes 1"
//!
//! [[port]]
//! path = "/dev/serial/by-id/usb-thermocouple-board-if00"   # or "-" for the standard input
//! speed = 38400             # baud; 8 data bits, 1 stop bit
//! parity = "none"           # or "even", "odd"
//! protocol = "text"         # or "scpi", "modbus-rtu"
//! check = "none"            # or "xor8", "crc16": what each line must end in ("text" alone)
//! columns = 3               # values on a line of bare values, when it has more than the positions below ("text" alone)
//!
//! [[port.channel]]
//! name = "hot"              # shown on the screen and in the log
//! label = "T1"              # as on the line; the name when left out. Or position = 1 for bare values
//! place = "hot-face"        # chamber-gas, hot-face, depth, metal-contact, shell
//! section = "wall"          # as in the lining file; not for chamber-gas
//! depth = "13 mm"           # from the hot face, for place = "depth" alone
//! type = "K"                # K N S R B J E T
//! limit = "1100 C"          # hottest the sheath bears, when lower than what the type bears
//! sheath = "3 mm"           # outside diameter; when left out, nothing is said of its lag
//! unit = "C"                # C, F, K; a unit on the line must agree
//! offset = "-0.8 K"         # added to every reading
//! offset-date = "2026-03-14"   # when it was found
//! sends = "temperature"     # or "emf": then `junction` says how warm the terminals are
//! emf-unit = "mV"           # or "uV", "V", for sends = "emf"
//! junction = { label = "CJ" }   # or { position = 2 }, { fixed = "25 C" }; { query = ... }, { register = ... } as below
//! ```
//!
//! With `protocol = "scpi"` a port has `every = "1 s"` (time between rounds of questions), `answer-within = "0.5 s"` and
//! `identity = "..."` (what must stand in the answer to `*IDN?`); a channel has `query = "MEAS:TEMP?"` and `position = 1`
//! (which value of the answer). With `protocol = "modbus-rtu"` a port has `every` and `answer-within`; a channel has
//! `device = 1`, `register = 52` (as on the wire: a printed 30053 is 52), `table = "holding"` or `"input"`, `number =
//! "int16"`, `"uint16"` or `"float32"`, `order = "ABCD"`, `"CDAB"`, `"BADC"` or `"DCBA"` for the last, and `scale = 0.1`
//! (what a count stands for). Both are at 9600 baud when `speed` is left out.

mod column;
mod keys;
pub mod store;

use thiserror::Error;

use self::column::MOST_COLUMNS;
use self::keys::{Bounds, Keys};
use super::lines::{LineCheck, TempUnit};
use super::set::{
    ChannelSpec, Column, Junction, Parity, Poll, PortSpec, ProbeSet, Protocol, Sends, USUAL_ASKED_SPEED, USUAL_SPEED,
};
use super::source::STANDARD_INPUT;
use crate::reading::{Channel, Place};
use crate::thermocouple::Thermocouple;
use crate::units::quantity::{LENGTH, QuantityError, TEMPERATURE, TEMPERATURE_DIFFERENCE, TIME};
use crate::units::{Celsius, KelvinDiff, Metres, Seconds};

/// First line of a probe file, without which it is refused.
pub const FORMAT: &str = "firstheat probes 1";

/// Speeds that boards and adapters share, baud.
const SPEEDS: [u32; 15] = [
    1200, 2400, 4800, 9600, 14_400, 19_200, 28_800, 38_400, 57_600, 115_200, 230_400, 250_000, 460_800, 500_000,
    921_600,
];

const TOP_KEYS: &[&str] = &["format", "port"];
const PORT_KEYS: &[&str] = &["path", "speed", "parity", "protocol", "channel"];
const TEXT_PORT_KEYS: &[&str] = &["check", "columns"];
const SCPI_PORT_KEYS: &[&str] = &["every", "answer-within", "identity"];
const MODBUS_PORT_KEYS: &[&str] = &["every", "answer-within"];
const CHANNEL_KEYS: &[&str] = &[
    "name",
    "place",
    "section",
    "depth",
    "type",
    "limit",
    "sheath",
    "unit",
    "offset",
    "offset-date",
    "sends",
    "emf-unit",
    "junction",
];

static DEPTH: Bounds = Bounds { measure: &LENGTH, unit: "mm", per_base: 1000.0, least: 0.5, most: 2000.0 };
static SHEATH: Bounds = Bounds { measure: &LENGTH, unit: "mm", per_base: 1000.0, least: 0.1, most: 30.0 };
static LIMIT: Bounds = Bounds { measure: &TEMPERATURE, unit: "C", per_base: 1.0, least: 100.0, most: 2000.0 };
static EVERY: Bounds = Bounds { measure: &TIME, unit: "s", per_base: 1.0, least: 0.1, most: 60.0 };
static WITHIN: Bounds = Bounds { measure: &TIME, unit: "s", per_base: 1.0, least: 0.02, most: 10.0 };
static OFFSET: Bounds = Bounds { measure: &TEMPERATURE_DIFFERENCE, unit: "K", per_base: 1.0, least: -50.0, most: 50.0 };

/// Where in a probe file something is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct At {
    /// Line, from 1.
    pub line: usize,
    /// The table it stands in: `port 1`, `channel "hot"`; empty at the top of the file.
    pub table: String,
}

impl std::fmt::Display for At {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.table.as_str() {
            "" => write!(f, "line {}", self.line),
            table => write!(f, "line {}, {table}", self.line),
        }
    }
}

/// Why a probe file is refused.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ProbeFileError {
    /// It is not TOML.
    #[error(
        "{at}: found what TOML does not allow ({found}); write texts in double quotes and each key once, on a line of its own"
    )]
    NotToml {
        /// Where.
        at: At,
        /// What the TOML reader says.
        found: String,
    },
    /// Another kind of file, or another version.
    #[error("{at}: found format {found:?}, expected {FORMAT:?}; give the probe file, or one this version can read")]
    Format {
        /// Where.
        at: At,
        /// As it stands there.
        found: String,
    },
    /// A key that has to be there is not.
    #[error("{at}: found no key `{key}`, expected {expected}; add a line such as {example}")]
    Missing {
        /// Where its table begins.
        at: At,
        /// The key.
        key: &'static str,
        /// What it says.
        expected: &'static str,
        /// A line to copy.
        example: &'static str,
    },
    /// A key nobody reads.
    #[error("{at}: found key `{key}`, expected one of {known}{}", meant(.nearest.as_deref()))]
    UnknownKey {
        /// Where.
        at: At,
        /// The key.
        key: String,
        /// All that may stand there.
        known: String,
        /// The one that was probably meant.
        nearest: Option<String>,
    },
    /// A value of the wrong kind.
    #[error("{at}, key `{key}`: found {found}, expected {expected}; {advice}")]
    Kind {
        /// Where.
        at: At,
        /// The key.
        key: &'static str,
        /// What kind stands there.
        found: String,
        /// What kind should.
        expected: &'static str,
        /// What to do.
        advice: &'static str,
    },
    /// A word or number that is none of the few allowed.
    #[error("{at}, key `{key}`: found {found:?}, expected one of {choices}{}", meant(.nearest.as_deref()))]
    Choice {
        /// Where.
        at: At,
        /// The key.
        key: &'static str,
        /// What stands there.
        found: String,
        /// What may.
        choices: String,
        /// The one that was probably meant.
        nearest: Option<String>,
    },
    /// A number too small or too large.
    #[error("{at}, key `{key}`: found {found}, expected {least} to {most} {unit}; correct the number")]
    Range {
        /// Where.
        at: At,
        /// The key.
        key: &'static str,
        /// What stands there.
        found: f64,
        /// Smallest allowed.
        least: f64,
        /// Largest allowed.
        most: f64,
        /// Unit of all three.
        unit: &'static str,
    },
    /// A text that is no quantity of the kind.
    #[error("{at}, key `{key}`: {why}")]
    Quantity {
        /// Where.
        at: At,
        /// The key.
        key: &'static str,
        /// What is wrong with it.
        why: QuantityError,
    },
    /// A text that cannot be used.
    #[error("{at}, key `{key}`: found {found:?}, expected {expected}; correct the text")]
    Text {
        /// Where.
        at: At,
        /// The key.
        key: &'static str,
        /// What stands there.
        found: String,
        /// What may.
        expected: &'static str,
    },
    /// Something that may be there once is there twice.
    #[error("{at}, key `{key}`: found {found} again, expected it once; it stands on line {first_line} already")]
    Twice {
        /// Where the second stands.
        at: At,
        /// The key.
        key: &'static str,
        /// What stands there.
        found: String,
        /// Line of the table of the first.
        first_line: usize,
    },
    /// A key that does not go with another.
    #[error("{at}, key `{key}`: found it beside {beside}, expected it only {expected}; take one of them out")]
    NotBeside {
        /// Where.
        at: At,
        /// The key.
        key: &'static str,
        /// The other key or value.
        beside: String,
        /// When it may stand there.
        expected: &'static str,
    },
    /// A section that the lining does not have.
    #[error("{at}, key `section`: found {found:?}, expected a section of the lining: {known}{}", meant(.nearest.as_deref()))]
    NoSection {
        /// Where the channel begins.
        at: At,
        /// As in the probe file.
        found: String,
        /// The lining's sections.
        known: String,
        /// The one that was probably meant.
        nearest: Option<String>,
    },
}

/// The advice at the end of a message: the nearest word if there is one.
fn meant(nearest: Option<&str>) -> String {
    match nearest {
        Some(word) => format!("; write `{word}` if that is what you meant"),
        None => "; correct it or take it out".to_owned(),
    }
}

/// Reads the text of a probe file.
///
/// # Errors
/// When the text is not TOML, or a key or value is missing, unknown, of the wrong kind or does not fit the others. The
/// first thing wrong is told, with its line.
///
/// # Examples
/// ```
/// let set = firstheat::probe::file::parse(
///     r#"
///     format = "firstheat probes 1"
///     [[port]]
///     path = "/dev/ttyUSB0"
///     [[port.channel]]
///     name = "hot"
///     place = "hot-face"
///     section = "wall"
///     type = "K"
///     "#,
/// )?;
/// assert_eq!(set.ports[0].speed, 38_400);
/// # Ok::<(), firstheat::probe::file::ProbeFileError>(())
/// ```
pub fn parse(text: &str) -> Result<ProbeSet, ProbeFileError> {
    let table = toml::de::DeTable::parse(text).map_err(|wrong| not_toml(text, &wrong))?;
    let top = Keys::top(text, table.get_ref());
    let (format, at) = top.text("format", "the kind of file", "format = \"firstheat probes 1\"")?;
    if format != FORMAT {
        return Err(ProbeFileError::Format { at, found: format });
    }
    top.refuse_unknown(TOP_KEYS)?;
    let mut set = ProbeSet { ports: Vec::new() };
    let tables = top.tables("port", "one [[port]] table for each board", "[[port]]")?;
    for keys in &tables {
        let port = port(keys)?;
        if let Some(first) = set.ports.iter().position(|known| known.path == port.path) {
            let (at, found) = (keys.at("path"), format!("{:?}", port.path));
            return Err(ProbeFileError::Twice { at, key: "path", found, first_line: tables[first].at("path").line });
        }
        set.ports.push(port);
    }
    refuse_second_name(&set)?;
    Ok(set)
}

impl ProbeSet {
    /// Checks that every section a probe sits in is one of `names`.
    ///
    /// # Errors
    /// When a section is not, with the line of the probe file where its channel begins.
    pub fn check_sections(&self, names: &[&str]) -> Result<(), ProbeFileError> {
        for spec in self.channels() {
            if let Some(section) = section_of(&spec.place)
                && !names.contains(&section)
            {
                return Err(ProbeFileError::NoSection {
                    at: At { line: spec.file_line, table: channel_words(&spec.channel.0) },
                    found: section.to_owned(),
                    known: names.join(", "),
                    nearest: keys::nearest(section, names.iter().copied()),
                });
            }
        }
        Ok(())
    }
}

fn section_of(place: &Place) -> Option<&str> {
    match place {
        Place::ChamberGas => None,
        Place::HotFace { section }
        | Place::Depth { section, .. }
        | Place::MetalContact { section }
        | Place::Shell { section } => Some(section),
    }
}

fn not_toml(text: &str, wrong: &toml::de::Error) -> ProbeFileError {
    let line = wrong.span().map_or(1, |span| keys::line_at(text, span.start));
    ProbeFileError::NotToml { at: At { line, table: String::new() }, found: wrong.message().to_owned() }
}

fn port(keys: &Keys) -> Result<PortSpec, ProbeFileError> {
    let protocols = [("text", Protocol::Text), ("scpi", Protocol::Scpi), ("modbus-rtu", Protocol::ModbusRtu)];
    let protocol = keys.choice("protocol", &protocols)?.unwrap_or(Protocol::Text);
    let own_keys = match protocol {
        Protocol::Text => TEXT_PORT_KEYS,
        Protocol::Scpi => SCPI_PORT_KEYS,
        Protocol::ModbusRtu => MODBUS_PORT_KEYS,
    };
    keys.refuse_unknown(&[PORT_KEYS, own_keys].concat())?;
    let path = path(keys, protocol)?;
    let checks = [("none", LineCheck::None), ("xor8", LineCheck::Xor8), ("crc16", LineCheck::Crc16)];
    let check = keys.choice("check", &checks)?.unwrap_or_default();
    let parities = [("none", Parity::None), ("even", Parity::Even), ("odd", Parity::Odd)];
    let parity = keys.choice("parity", &parities)?.unwrap_or_default();
    let mut channels: Vec<ChannelSpec> = Vec::new();
    for keys in keys.tables("channel", "one [[port.channel]] table for each probe", "[[port.channel]]")? {
        let spec = channel(&keys, protocol)?;
        refuse_unlike_column(&channels, &spec, &keys)?;
        channels.push(spec);
    }
    let (columns, speed, poll) = (columns(keys, &channels)?, speed(keys, protocol)?, poll(keys)?);
    Ok(PortSpec { path: path.into(), speed, parity, protocol, check, columns, poll, channels })
}

fn path(keys: &Keys, protocol: Protocol) -> Result<String, ProbeFileError> {
    let (path, at) = keys.text("path", "the port's path", "path = \"/dev/ttyUSB0\"")?;
    if path.trim().is_empty() {
        let expected = "a path such as /dev/ttyUSB0, or - for the standard input";
        return Err(ProbeFileError::Text { at, key: "path", found: path, expected });
    }
    if path == STANDARD_INPUT && protocol.is_asked() {
        let expected =
            "the path of a serial port, because this protocol asks and the standard input takes no questions";
        return Err(ProbeFileError::Text { at, key: "path", found: path, expected });
    }
    Ok(path)
}

fn poll(keys: &Keys) -> Result<Poll, ProbeFileError> {
    let usual = Poll::default();
    let identity = match keys.optional_text("identity")? {
        Some((text, at)) if text.trim().is_empty() => {
            let expected = "a piece of the answer to *IDN?, such as the instrument's serial number";
            return Err(ProbeFileError::Text { at, key: "identity", found: text, expected });
        }
        found => found.map(|(text, _)| text),
    };
    Ok(Poll {
        every: keys.quantity("every", &EVERY)?.map_or(usual.every, Seconds),
        within: keys.quantity("answer-within", &WITHIN)?.map_or(usual.within, Seconds),
        identity,
    })
}

fn speed(keys: &Keys, protocol: Protocol) -> Result<u32, ProbeFileError> {
    let usual = if protocol == Protocol::Text { USUAL_SPEED } else { USUAL_ASKED_SPEED };
    let Some((speed, at)) = keys.whole("speed")? else { return Ok(usual) };
    if let Some(known) = SPEEDS.into_iter().find(|known| i64::from(*known) == speed) {
        return Ok(known);
    }
    let words = SPEEDS.map(|known| known.to_string());
    Err(ProbeFileError::Choice {
        at,
        key: "speed",
        found: speed.to_string(),
        choices: words.join(", "),
        nearest: keys::nearest(&speed.to_string(), words.iter().map(String::as_str)),
    })
}

/// How many values a line of bare values has: `columns`, or the highest position.
fn columns(keys: &Keys, channels: &[ChannelSpec]) -> Result<usize, ProbeFileError> {
    let positions = channels.iter().filter_map(|spec| match spec.column {
        Column::Position(place) => Some(place),
        Column::Label(_) | Column::Answer { .. } | Column::Register(_) => None,
    });
    let junctions = channels.iter().filter_map(|spec| match spec.sends {
        Sends::Emf { junction: Junction::Sent(Column::Position(place)), .. } => Some(place),
        _ => None,
    });
    let positions = positions.chain(junctions);
    let highest = positions.max().unwrap_or(0);
    let Some((columns, at)) = keys.whole("columns")? else { return Ok(highest) };
    if highest == 0 {
        let expected = "where channels go by position";
        return Err(ProbeFileError::NotBeside { at, key: "columns", beside: "channels with labels".into(), expected });
    }
    match usize::try_from(columns) {
        Ok(columns) if (highest..=MOST_COLUMNS).contains(&columns) => Ok(columns),
        _ => Err(ProbeFileError::Range {
            at,
            key: "columns",
            found: columns as f64,
            least: highest as f64,
            most: MOST_COLUMNS as f64,
            unit: "values",
        }),
    }
}

fn channel(keys: &Keys, protocol: Protocol) -> Result<ChannelSpec, ProbeFileError> {
    let (name, at) = keys.text("name", "the name shown", "name = \"hot\"")?;
    if name.trim() != name || name.is_empty() || name.chars().any(char::is_control) || name.chars().count() > 24 {
        let expected = "1 to 24 characters without blanks at the ends";
        return Err(ProbeFileError::Text { at, key: "name", found: name, expected });
    }
    let keys = &keys.called(channel_words(&name));
    keys.refuse_unknown(&[CHANNEL_KEYS, column::keys_of(protocol)].concat())?;
    let couples = Thermocouple::ALL.map(|couple| (couple.letter(), couple));
    let couple = keys.needed_choice("type", &couples, "the thermocouple type", "type = \"K\"")?;
    let limit_c = keys.quantity("limit", &LIMIT)?;
    let limit = limit_c.map_or(couple.service_limit(), |own| Celsius(own.min(couple.service_limit().0)));
    let sheath_mm = keys.quantity("sheath", &SHEATH)?;
    let units = [("C", TempUnit::C), ("F", TempUnit::F), ("K", TempUnit::K)];
    let column = column::column(keys, protocol, &name)?;
    Ok(ChannelSpec {
        sends: column::sends(keys, protocol, &column)?,
        column,
        channel: Channel::new(&name),
        place: place(keys)?,
        couple,
        limit,
        sheath: sheath_mm.map(Metres::from_mm),
        unit: keys.choice("unit", &units)?,
        offset: KelvinDiff(keys.quantity("offset", &OFFSET)?.unwrap_or(0.0)),
        offset_date: offset_date(keys)?,
        file_line: keys.line(),
    })
}

/// The day the offset was found, as a plain date.
fn offset_date(keys: &Keys) -> Result<Option<String>, ProbeFileError> {
    let Some((found, at)) = keys.optional_text("offset-date")? else { return Ok(None) };
    if chrono::NaiveDate::parse_from_str(&found, "%Y-%m-%d").is_err() {
        let expected = "a date such as 2026-03-14";
        return Err(ProbeFileError::Text { at, key: "offset-date", found, expected });
    }
    Ok(Some(found))
}

fn channel_words(name: &str) -> String {
    format!("channel {name:?}")
}

/// Where a probe can sit, before its section and depth are known.
#[derive(Clone, Copy, PartialEq)]
enum Spot {
    ChamberGas,
    HotFace,
    Depth,
    MetalContact,
    Shell,
}

fn place(keys: &Keys) -> Result<Place, ProbeFileError> {
    let spots = [
        ("chamber-gas", Spot::ChamberGas),
        ("hot-face", Spot::HotFace),
        ("depth", Spot::Depth),
        ("metal-contact", Spot::MetalContact),
        ("shell", Spot::Shell),
    ];
    let spot = keys.needed_choice("place", &spots, "where the tip sits", "place = \"hot-face\"")?;
    let beside = || spots.iter().find(|(_, known)| *known == spot).map_or("", |(word, _)| word).to_owned();
    let refuse = |key, expected| Err(ProbeFileError::NotBeside { at: keys.at(key), key, beside: beside(), expected });
    let depth = keys.quantity("depth", &DEPTH)?;
    if depth.is_some() && spot != Spot::Depth {
        return refuse("depth", "with place = \"depth\"");
    }
    if spot == Spot::ChamberGas {
        return match keys.optional_text("section")? {
            None => Ok(Place::ChamberGas),
            Some(_) => refuse("section", "with places in or on a section"),
        };
    }
    let (section, _) = keys.text("section", "the section it sits in", "section = \"wall\"")?;
    Ok(match spot {
        Spot::HotFace | Spot::ChamberGas => Place::HotFace { section },
        Spot::MetalContact => Place::MetalContact { section },
        Spot::Shell => Place::Shell { section },
        Spot::Depth => match depth {
            Some(depth_mm) => Place::Depth { section, depth: Metres::from_mm(depth_mm) },
            None => return Err(keys.missing("depth", "the tip's distance from the hot face", "depth = \"13 mm\"")),
        },
    })
}

fn refuse_unlike_column(before: &[ChannelSpec], spec: &ChannelSpec, keys: &Keys) -> Result<(), ProbeFileError> {
    let keys = keys.called(channel_words(&spec.channel.0));
    let key = match spec.column {
        Column::Position(_) => "position",
        Column::Label(_) => "label",
        Column::Answer { .. } => "query",
        Column::Register(_) => "register",
    };
    if let Some(first) = before.iter().find(|known| known.column == spec.column) {
        let (at, found) = (keys.at(key), spec.column.to_string());
        return Err(ProbeFileError::Twice { at, key, found, first_line: first.file_line });
    }
    let unlike = |known: &&ChannelSpec| std::mem::discriminant(&known.column) != std::mem::discriminant(&spec.column);
    match before.iter().find(unlike) {
        None => Ok(()),
        Some(other) => Err(ProbeFileError::NotBeside {
            at: keys.at(key),
            key,
            beside: format!("channel {:?}, which goes by {}", other.channel.0, other.column),
            expected: "when all channels of the port go by labels, or all by position",
        }),
    }
}

fn refuse_second_name(set: &ProbeSet) -> Result<(), ProbeFileError> {
    let mut before: Vec<&ChannelSpec> = Vec::new();
    for spec in set.channels() {
        if let Some(first) = before.iter().find(|known| known.channel == spec.channel) {
            return Err(ProbeFileError::Twice {
                at: At { line: spec.file_line, table: channel_words(&spec.channel.0) },
                key: "name",
                found: format!("{:?}", spec.channel.0),
                first_line: first.file_line,
            });
        }
        before.push(spec);
    }
    Ok(())
}
