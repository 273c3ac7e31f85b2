//! What the probe file says: which ports there are, which value on a line is whose, and what each probe can bear.

use std::sync::Arc;

use super::lines::{Items, Line, LineCheck, LineError, TempUnit, Value};
use crate::reading::{Channel, Fault, Place, Reading};
use crate::thermocouple::Thermocouple;
use crate::units::{Celsius, KelvinDiff, Metres};

/// Coldest reading that is believed. A furnace in a shop is never colder, and boards that have lost their probe send
/// values below it (-127, -200, -3276.8).
pub const COLDEST_BELIEVED: Celsius = Celsius(-50.0);

/// Speed taken when the probe file names none, baud. A board on a 16 MHz crystal misses it by 0.16 %, 115200 by 2.1 %;
/// boards with USB of their own take any. One line of ten probes takes 40 ms.
pub const USUAL_SPEED: u32 = 38_400;

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
    /// Speed, baud. Always 8 data bits, no parity, 1 stop bit.
    pub speed: u32,
    /// What the board speaks.
    pub protocol: Protocol,
    /// What each line must end in.
    pub check: LineCheck,
    /// How many values a line of bare values has.
    pub columns: usize,
    /// At least one; either all by label or all by position.
    pub channels: Vec<ChannelSpec>,
}

/// How a board talks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Protocol {
    /// Lines of text ([`super::lines`]).
    Text,
}

/// One probe.
#[derive(Clone, Debug, PartialEq)]
pub struct ChannelSpec {
    /// The name shown.
    pub channel: Channel,
    /// Which value of a line is its.
    pub column: Column,
    /// Where the tip sits.
    pub place: Place,
    /// What it is made of.
    pub couple: Thermocouple,
    /// Hottest that couple and sheath bear.
    pub limit: Celsius,
    /// Diameter of the sheath (or of the bare junction).
    pub sheath: Metres,
    /// Unit of numbers that come without; a unit on the line must agree when the file names one.
    pub unit: Option<TempUnit>,
    /// Added to every reading.
    pub offset: KelvinDiff,
    /// Line of the probe file where it begins, for messages.
    pub file_line: usize,
}

/// Which value of a line belongs to a channel.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Column {
    /// The one with this label.
    Label(String),
    /// The one at this place, from 1.
    Position(usize),
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
        let mut readings = Vec::new();
        for spec in &self.channels {
            if let Some(value) = spec.column.find(&line.items) {
                readings.push(Reading { channel: spec.channel.clone(), value: spec.temp(value)? });
            }
        }
        if readings.is_empty() {
            return Err(LineError::NoChannel { found: words_of(&line.items), expected: self.column_words() });
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

impl ChannelSpec {
    /// The temperature (or fault) that `value` is for this probe.
    fn temp(&self, value: Value) -> Result<Result<Celsius, Fault>, LineError> {
        let (number, sent) = match value {
            Value::Number { number, unit } => (number, unit),
            Value::Fault(fault) => return Ok(Err(fault)),
        };
        if let (Some(found), Some(expected)) = (sent, self.unit)
            && found != expected
        {
            return Err(LineError::Unit { channel: self.channel.to_string(), found, expected });
        }
        let temp = sent.or(self.unit).unwrap_or(TempUnit::C).celsius(number);
        if temp < COLDEST_BELIEVED || temp > self.couple.table_end() {
            return Ok(Err(Fault::OutOfRange));
        }
        Ok(Ok(temp + self.offset))
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
        }
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
