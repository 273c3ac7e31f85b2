//! What the probe file says: which ports there are, which value on a line is whose, and what each probe can bear.

use std::sync::Arc;

use super::lines::{EmfUnit, Items, Line, LineCheck, LineError, TempUnit, Value};
use crate::reading::{Channel, Fault, Place, Reading};
use crate::thermocouple::{Millivolts, Thermocouple};
use crate::units::{Celsius, KelvinDiff, Metres, Seconds};

/// Coldest reading that is believed. A furnace in a shop is never colder, and boards that have lost their probe send
/// values below it (-127, -200, -3276.8).
pub const COLDEST_BELIEVED: Celsius = Celsius(-50.0);

/// Speed taken when the probe file names none, baud. A board on a 16 MHz crystal misses it by 0.16 %, 115200 by 2.1 %;
/// boards with USB of their own take any. One line of ten probes takes 40 ms.
pub const USUAL_SPEED: u32 = 38_400;

/// Speed taken for boards that are asked when the probe file names none, baud: the commonest on instruments (common
/// practice, no source). The standard's own choice for Modbus is 19200 with even parity.
pub const USUAL_ASKED_SPEED: u32 = 9600;

/// All probes of a furnace, by the port they come in on.
#[derive(Clone, Debug, PartialEq)]
pub struct ProbeSet {
    /// At least one.
    pub ports: Vec<PortSpec>,
}

/// One port and the channels that come in on it.
#[derive(Clone, Debug, PartialEq)]
pub struct PortSpec {
    /// Path of the serial port, of a file or a pipe; `-` is the standard input.
    pub path: Arc<str>,
    /// Speed, baud. Always 8 data bits and 1 stop bit.
    pub speed: u32,
    /// Parity bit of each byte.
    pub parity: Parity,
    /// What the board speaks.
    pub protocol: Protocol,
    /// What each line must end in.
    pub check: LineCheck,
    /// How many values a line of bare values has.
    pub columns: usize,
    /// How a board that only answers is asked.
    pub poll: Poll,
    /// At least one; on lines of text either all by label or all by position.
    pub channels: Vec<ChannelSpec>,
}

/// How a board talks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Protocol {
    /// Lines of text that come by themselves ([`super::lines`]).
    Text,
    /// An instrument that answers one query at a time in text (IEEE 488.2, SCPI-99).
    Scpi,
    /// Registers of one or more devices on a bus (Modbus over serial line, RTU).
    ModbusRtu,
}

impl Protocol {
    /// Whether the board speaks only when it is asked.
    #[must_use]
    pub fn is_asked(self) -> bool {
        self != Self::Text
    }
}

/// The parity bit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Parity {
    /// None.
    #[default]
    None,
    /// Even.
    Even,
    /// Odd.
    Odd,
}

/// How a board that only answers is asked.
#[derive(Clone, Debug, PartialEq)]
pub struct Poll {
    /// Time from one round of questions to the next.
    pub every: Seconds,
    /// Longest wait for an answer.
    pub within: Seconds,
    /// What must stand in the answer to `*IDN?`.
    pub identity: Option<String>,
}

impl Default for Poll {
    fn default() -> Self {
        Self { every: Seconds(1.0), within: Seconds(0.5), identity: None }
    }
}

/// One probe.
#[derive(Clone, Debug, PartialEq)]
pub struct ChannelSpec {
    /// The name shown.
    pub channel: Channel,
    /// Which value is its.
    pub column: Column,
    /// Whether that value is a temperature or an EMF.
    pub sends: Sends,
    /// Where the tip sits.
    pub place: Place,
    /// What it is made of.
    pub couple: Thermocouple,
    /// Hottest that couple and sheath bear.
    pub limit: Celsius,
    /// Diameter of the sheath (or of the bare junction), where the probe file says it.
    pub sheath: Option<Metres>,
    /// Unit of numbers that come without; a unit on the line must agree when the file names one.
    pub unit: Option<TempUnit>,
    /// Added to every reading.
    pub offset: KelvinDiff,
    /// The day the offset was found, as in the probe file.
    pub offset_date: Option<String>,
    /// Line of the probe file where it begins, for messages.
    pub file_line: usize,
}

/// Where a value comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Column {
    /// The value of a line with this label.
    Label(String),
    /// The value of a line at this place, from 1.
    Position(usize),
    /// A value of the answer to a query.
    Answer {
        /// The query, as it is sent.
        query: String,
        /// Which of the values of its answer, from 1.
        position: usize,
    },
    /// One or two registers of a device.
    Register(Register),
}

/// A number in registers of a device on a bus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Register {
    /// The device, 1 to 247.
    pub device: u8,
    /// Which of its tables.
    pub table: Table,
    /// Address as it goes over the wire, from 0.
    pub address: u16,
    /// How the number is written there.
    pub number: Number,
    /// What a count stands for, in millionths.
    pub scale_millionths: i64,
}

/// A table of registers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Table {
    /// Holding registers, function 3.
    #[default]
    Holding,
    /// Input registers, function 4.
    Input,
}

/// How a number is written in registers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Number {
    /// One register, with a sign.
    #[default]
    Int16,
    /// One register, without a sign.
    Uint16,
    /// Two registers, IEEE 754 single precision.
    Float32(WordOrder),
}

/// In which order the four bytes of a number stand, A the one with the sign.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum WordOrder {
    /// High word first.
    #[default]
    Abcd,
    /// Low word first.
    Cdab,
    /// High word first, bytes swapped.
    Badc,
    /// Low word first, bytes swapped.
    Dcba,
}

/// What kind of value a board sends.
#[derive(Clone, Debug, PartialEq)]
pub enum Sends {
    /// A temperature.
    Temp,
    /// An EMF, to which that of the terminals has to be added.
    Emf {
        /// Unit of numbers that come without.
        unit: EmfUnit,
        /// How warm the terminals are.
        junction: Junction,
    },
}

/// How the temperature of the terminals is known.
#[derive(Clone, Debug, PartialEq)]
pub enum Junction {
    /// The board sends it.
    Sent(Column),
    /// It is kept at this.
    Fixed(Celsius),
}

impl ProbeSet {
    /// All channels of all ports, in the order of the file.
    pub fn channels(&self) -> impl Iterator<Item = &ChannelSpec> {
        self.ports.iter().flat_map(|port| &port.channels)
    }
}

impl PortSpec {
    /// What a line says of this port's channels. A channel the line is silent about gives no reading.
    ///
    /// # Errors
    /// When the line does not fit what the probe file says of the board.
    pub fn readings(&self, line: &Line) -> Result<Vec<Reading>, LineError> {
        if let Items::Numbered(values) = &line.items
            && self.is_by_position()
            && values.len() != self.columns
        {
            return Err(LineError::Columns { found: values.len(), expected: self.columns });
        }
        let readings = self.readings_from(&|column| column.find(&line.items))?;
        if readings.is_empty() {
            return Err(LineError::NoChannel { found: words_of(&line.items), expected: self.column_words() });
        }
        Ok(readings)
    }

    /// Readings of the channels whose value `find` knows.
    fn readings_from(&self, find: &dyn Fn(&Column) -> Option<Value>) -> Result<Vec<Reading>, LineError> {
        let mut readings = Vec::new();
        for spec in &self.channels {
            if let Some(value) = find(&spec.column) {
                readings.push(Reading { channel: spec.channel.clone(), value: spec.temp(value, find)? });
            }
        }
        Ok(readings)
    }

    /// What a line that was refused says of the channels: that it was garbled.
    #[must_use]
    pub fn garbled(&self) -> Vec<Reading> {
        let channels = self.channels.iter().map(|spec| spec.channel.clone());
        channels.map(|channel| Reading { channel, value: Err(Fault::Garbled) }).collect()
    }

    fn is_by_position(&self) -> bool {
        self.channels.iter().any(|spec| matches!(spec.column, Column::Position(_)))
    }

    fn column_words(&self) -> String {
        let words: Vec<String> = self.channels.iter().map(|spec| spec.column.to_string()).collect();
        words.join(", ")
    }
}

/// Coldest and hottest terminals that are believed, °C: what boards with a sensor beside the terminals bear.
const JUNCTION_C: std::ops::RangeInclusive<f64> = -40.0..=125.0;

impl ChannelSpec {
    /// The temperature (or fault) that `value` is for this probe; `find` knows the other values sent with it.
    pub(super) fn temp(
        &self,
        value: Value,
        find: &dyn Fn(&Column) -> Option<Value>,
    ) -> Result<Result<Celsius, Fault>, LineError> {
        let temp = match &self.sends {
            Sends::Temp => self.sent_temp(value)?,
            Sends::Emf { unit, junction } => match self.millivolts(value, *unit)? {
                Ok(measured) => {
                    let junction = self.junction_temp(junction, find)?;
                    junction.and_then(|at| self.couple.compensated(measured, at).map_err(|_| Fault::OutOfRange))
                }
                Err(fault) => Err(fault),
            },
        };
        Ok(temp.and_then(|temp| {
            let is_believed = (COLDEST_BELIEVED..=self.couple.table_end()).contains(&temp);
            if is_believed { Ok(temp + self.offset) } else { Err(Fault::OutOfRange) }
        }))
    }

    fn sent_temp(&self, value: Value) -> Result<Result<Celsius, Fault>, LineError> {
        let (number, sent) = match value {
            Value::Number { number, unit } => (number, unit),
            Value::Emf(_) => return Err(LineError::NotATemp { channel: self.channel.to_string() }),
            Value::Fault(fault) => return Ok(Err(fault)),
        };
        if let (Some(found), Some(expected)) = (sent, self.unit)
            && found != expected
        {
            return Err(LineError::Unit { channel: self.channel.to_string(), found, expected });
        }
        Ok(Ok(sent.or(self.unit).unwrap_or(TempUnit::C).celsius(number)))
    }

    fn millivolts(&self, value: Value, unit: EmfUnit) -> Result<Result<Millivolts, Fault>, LineError> {
        match value {
            Value::Number { number, unit: None } => Ok(Ok(unit.millivolts(number))),
            Value::Emf(emf) => Ok(Ok(emf)),
            Value::Number { unit: Some(found), .. } => {
                Err(LineError::NotAnEmf { channel: self.channel.to_string(), found })
            }
            Value::Fault(fault) => Ok(Err(fault)),
        }
    }

    fn junction_temp(
        &self,
        junction: &Junction,
        find: &dyn Fn(&Column) -> Option<Value>,
    ) -> Result<Result<Celsius, Fault>, LineError> {
        let column = match junction {
            Junction::Fixed(temp) => return Ok(Ok(*temp)),
            Junction::Sent(column) => column,
        };
        let no_junction = || LineError::NoJunction { channel: self.channel.to_string(), wanted: column.to_string() };
        match find(column).ok_or_else(no_junction)? {
            Value::Number { number, unit } => {
                let temp = unit.unwrap_or(TempUnit::C).celsius(number);
                Ok(if JUNCTION_C.contains(&temp.0) { Ok(temp) } else { Err(Fault::OutOfRange) })
            }
            Value::Emf(_) => Err(no_junction()),
            Value::Fault(_) => Ok(Err(Fault::Unnamed)),
        }
    }
}

impl Column {
    fn find(&self, items: &Items) -> Option<Value> {
        match (self, items) {
            (Self::Label(label), Items::Labelled(pairs)) => {
                pairs.iter().find(|(known, _)| known == label).map(|&(_, value)| value)
            }
            (Self::Position(place), Items::Numbered(values)) => {
                place.checked_sub(1).and_then(|at| values.get(at)).copied()
            }
            _ => None,
        }
    }
}

impl std::fmt::Display for Column {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Label(label) => write!(f, "label {label:?}"),
            Self::Position(place) => write!(f, "a value at position {place}"),
            Self::Answer { query, position: 1 } => write!(f, "the answer to {query:?}"),
            Self::Answer { query, position } => write!(f, "value {position} of the answer to {query:?}"),
            Self::Register(register) => write!(f, "{register}"),
        }
    }
}

impl std::fmt::Display for Register {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let table = match self.table {
            Table::Holding => "holding",
            Table::Input => "input",
        };
        write!(f, "{table} register {} of device {}", self.address, self.device)
    }
}

/// What stands on a line, for a message.
fn words_of(items: &Items) -> String {
    match items {
        Items::Numbered(values) => format!("{} values without labels", values.len()),
        Items::Labelled(pairs) => {
            let labels: Vec<String> = pairs.iter().map(|(label, _)| format!("{label:?}")).collect();
            format!("labels {}", labels.join(", "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{file, lines};
    use super::*;

    /// A port whose channels have these keys beside name, place and type.
    fn port(keys: [&str; 2]) -> PortSpec {
        let channel = |name: &str, keys: &str| {
            format!("[[port.channel]]\nname = \"{name}\"\nplace = \"chamber-gas\"\ntype = \"K\"\n{keys}\n")
        };
        let head = "format = \"firstheat probes 1\"\n[[port]]\npath = \"-\"\n";
        let text = format!("{head}{}{}", channel("hot", keys[0]), channel("core", keys[1]));
        file::parse(&text).expect("a good probe file").ports.remove(0)
    }

    type Named = (String, Result<Celsius, Fault>);

    fn values(port: &PortSpec, line: &str) -> Result<Vec<Named>, LineError> {
        let line = lines::parse(line.as_bytes(), LineCheck::None)?.expect("a line that says something");
        let readings = port.readings(&line)?;
        Ok(readings.into_iter().map(|reading| (reading.channel.to_string(), reading.value)).collect())
    }

    fn hot(port: &PortSpec, line: &str) -> Result<Celsius, Fault> {
        values(port, line).expect("a line for the port").remove(0).1
    }

    #[test]
    fn an_offset_is_added_to_the_temperature() {
        let temp = hot(&port(["offset = \"-1.5 K\"", ""]), "hot=100").expect("a temperature");
        assert!((temp.0 - 98.5).abs() < 1e-9, "{temp:?}");
    }

    #[test]
    fn numbers_without_a_unit_are_in_that_of_the_probe_file() {
        let temp = hot(&port(["unit = \"F\"", ""]), "hot=212").expect("a temperature");
        assert!((temp.0 - 100.0).abs() < 1e-9, "{temp:?}");
    }

    #[test]
    fn a_unit_against_that_of_the_probe_file_is_refused() {
        let refused = values(&port(["unit = \"F\"", ""]), "hot=100C");
        assert!(
            matches!(refused, Err(LineError::Unit { found: TempUnit::C, expected: TempUnit::F, .. })),
            "{refused:?}"
        );
    }

    /// What boards send when they have lost their probe (common practice, no source), and the end of table K of
    /// IEC 60584-1, 1372 C.
    #[test]
    fn temperatures_that_no_probe_can_mean_are_out_of_range() {
        let port = port(["", ""]);
        for number in ["-127", "-200", "-3276.8", "1372.1", "2047.75", "3276.7"] {
            assert_eq!(hot(&port, &format!("hot={number}")), Err(Fault::OutOfRange), "{number}");
        }
        for number in ["-50", "0", "1372"] {
            assert!(hot(&port, &format!("hot={number}")).is_ok(), "{number}");
        }
    }

    #[test]
    fn a_channel_the_line_is_silent_about_gives_no_reading() {
        let read = values(&port(["", ""]), "core=20 other=7").expect("a line for the port");
        assert_eq!(read, [("core".to_owned(), Ok(Celsius(20.0)))]);
    }

    #[test]
    fn a_line_with_none_of_the_channels_is_refused() {
        for line in ["other=7", "7,8"] {
            let refused = values(&port(["", ""]), line);
            assert!(matches!(refused, Err(LineError::NoChannel { .. })), "{line}: {refused:?}");
        }
    }

    #[test]
    fn columns_go_by_position_and_their_number_must_be_right() {
        let port = port(["position = 2", "position = 1"]);
        let read = values(&port, "20,30").expect("two columns");
        assert_eq!(read, [("hot".to_owned(), Ok(Celsius(30.0))), ("core".to_owned(), Ok(Celsius(20.0)))]);
        for (line, found) in [("20", 1), ("20,30,40", 3)] {
            assert_eq!(values(&port, line), Err(LineError::Columns { found, expected: 2 }), "{line}");
        }
    }

    #[test]
    fn a_limit_in_the_probe_file_can_only_lower_that_of_the_type() {
        let port = port(["limit = \"850 C\"", "limit = \"1900 C\""]);
        assert_eq!(port.channels.iter().map(|spec| spec.limit).collect::<Vec<_>>(), [Celsius(850.0), Celsius(1260.0)]);
    }
}
