//! What a board is, guessed from what it says by itself or answers, and the probe file to begin with.

use std::fmt::Write as _;

use super::ask::Heard;
use super::lines::{self, Items, LineCheck, LineSplitter, Piece, Start, Value};
use super::set::{Number, Parity, Register, Table};
use super::{modbus, scpi};

/// Speeds worth trying, baud, the likeliest first (common practice, no source).
pub const SPEEDS: [u32; 7] = [38_400, 9600, 115_200, 19_200, 57_600, 4800, 2400];

/// What can be tried on a bus: speed and parity (common practice; the second is the standard's own).
pub const BUS_SETTINGS: [(u32, Parity); 4] =
    [(9600, Parity::None), (19_200, Parity::Even), (9600, Parity::Even), (19_200, Parity::None)];

/// Devices that are looked for on a bus; transmitters come with 1, and small buses count on from there.
pub const BUS_DEVICES: std::ops::RangeInclusive<u8> = 1..=16;

/// What a board was found to be.
#[derive(Clone, Debug, PartialEq)]
pub enum Guess {
    /// It sends lines.
    Lines {
        /// What they end in.
        check: LineCheck,
        /// Their labels, or as many positions.
        columns: Columns,
    },
    /// It is an instrument of this name.
    Instrument {
        /// Its answer to `*IDN?`.
        identity: String,
    },
    /// It is a device on a bus.
    BusDevice {
        /// Its address.
        device: u8,
    },
}

/// The values of a line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Columns {
    /// With these labels.
    Labels(Vec<String>),
    /// So many bare ones.
    Bare(usize),
}

/// Lines that must be understood before a board is believed to send them.
const FEWEST_LINES: usize = 2;

/// Whether bytes that came by themselves are lines of readings.
#[must_use]
pub fn lines_in(bytes: &[u8]) -> Option<Guess> {
    let pieces = LineSplitter::new(Start::MidLine).push(bytes);
    let whole: Vec<Vec<u8>> = pieces
        .into_iter()
        .map(|piece| match piece {
            Piece::Line(line) => line,
            Piece::TooLong => vec![0],
        })
        .collect();
    [LineCheck::Crc16, LineCheck::Xor8, LineCheck::None].into_iter().find_map(|check| {
        let read = whole.iter().map(|line| lines::parse(line, check)).collect::<Result<Vec<_>, _>>().ok()?;
        let read: Vec<Items> = read.into_iter().flatten().map(|line| line.items).collect();
        if read.len() < FEWEST_LINES {
            return None;
        }
        Some(Guess::Lines { check, columns: columns_of(read.last()?) })
    })
}

/// The values that can be temperatures; a counter has neither unit nor point, but that cannot be told from one number.
fn columns_of(items: &Items) -> Columns {
    match items {
        Items::Numbered(values) => Columns::Bare(values.len()),
        Items::Labelled(pairs) => {
            let has_unit = |value: &Value| matches!(value, Value::Number { unit: Some(_), .. } | Value::Fault(_));
            let with_unit: Vec<String> =
                pairs.iter().filter(|(_, value)| has_unit(value)).map(|(label, _)| label.clone()).collect();
            let all = || pairs.iter().map(|(label, _)| label.clone()).collect();
            Columns::Labels(if with_unit.is_empty() { all() } else { with_unit })
        }
    }
}

/// The question that every instrument answers.
#[must_use]
pub fn instrument_question() -> Vec<u8> {
    scpi::query(scpi::IDENTIFY)
}

/// Whether bytes are an instrument's answer to that.
#[must_use]
pub fn instrument_in(bytes: &[u8]) -> Option<Guess> {
    scpi::fence_answers(bytes).identity.map(|identity| Guess::Instrument { identity })
}

fn first_register(device: u8) -> Register {
    Register { device, table: Table::Holding, address: 0, number: Number::Int16, scale_millionths: 1_000_000 }
}

/// The question that a device on a bus answers, with a value or an exception.
#[must_use]
pub fn bus_question(device: u8) -> Vec<u8> {
    modbus::request(&first_register(device))
}

/// Whether bytes are the answer of `device` to that.
#[must_use]
pub fn bus_device_in(device: u8, bytes: &[u8]) -> Option<Guess> {
    let is_there = match modbus::answer(&first_register(device), bytes) {
        Heard::Answer(_) => true,
        Heard::Refused(_) => !modbus::is_from_gateway(bytes),
        Heard::More | Heard::Wrong(_) => false,
    };
    is_there.then_some(Guess::BusDevice { device })
}

/// Where and how a board was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// Path of its port.
    pub path: String,
    /// Speed, baud.
    pub speed: u32,
    /// Parity bit.
    pub parity: Parity,
    /// What it is.
    pub guess: Guess,
}

/// A probe file to begin with; place and type of each probe have to be put right by whoever built it in.
#[must_use]
pub fn probe_file(found: &Found) -> String {
    let Found { path, speed, guess, .. } = found;
    let format = super::file::FORMAT;
    let keys = port_keys(found);
    let mut text = format!("format = {format:?}\n\n[[port]]\npath = {path:?}\nspeed = {speed}\n{keys}");
    for (name, keys) in channels_of(guess) {
        let name: String = name.chars().take(24).collect();
        // Writing to a string cannot fail.
        let _ = write!(
            text,
            "\n[[port.channel]]\nname = {name:?}\n{keys}\nplace = \"chamber-gas\"   # put it right: hot-face, depth, \
             metal-contact, shell\ntype = \"K\"              # put it right\n"
        );
    }
    text
}

/// The keys of the port that follow from what is on it.
fn port_keys(found: &Found) -> String {
    let parity = match found.parity {
        Parity::None => "none",
        Parity::Even => "even",
        Parity::Odd => "odd",
    };
    match &found.guess {
        Guess::Lines { check, .. } => {
            let check = match check {
                LineCheck::None => "none",
                LineCheck::Xor8 => "xor8",
                LineCheck::Crc16 => "crc16",
            };
            format!("protocol = \"text\"\ncheck = \"{check}\"\n")
        }
        Guess::Instrument { identity } => format!("protocol = \"scpi\"\nidentity = {identity:?}\n"),
        Guess::BusDevice { .. } => format!("parity = \"{parity}\"\nprotocol = \"modbus-rtu\"\n"),
    }
}

/// Names of the channels, and the keys that say where their values come from.
fn channels_of(guess: &Guess) -> Vec<(String, String)> {
    match guess {
        Guess::Lines { columns: Columns::Labels(labels), .. } => {
            labels.iter().map(|label| (label.clone(), format!("label = {label:?}"))).collect()
        }
        Guess::Lines { columns: Columns::Bare(count), .. } => {
            (1..=*count).map(|place| (format!("probe {place}"), format!("position = {place}"))).collect()
        }
        Guess::Instrument { .. } => {
            vec![("probe 1".to_owned(), "query = \"MEAS:TEMP?\"   # as in its manual".to_owned())]
        }
        Guess::BusDevice { device } => {
            let keys = format!("device = {device}\nregister = 0            # as in its manual\nscale = 0.1");
            vec![("probe 1".to_owned(), keys)]
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::probe::file;

    fn found(guess: Guess) -> Found {
        Found { path: "/dev/ttyUSB0".to_owned(), speed: 9600, parity: Parity::None, guess }
    }

    #[test]
    fn lines_are_known_with_their_labels_and_check_characters() {
        let line = |at: u32| lines::with_check(&format!("t={at} n={at} tc1=20.5C tc2=open"), LineCheck::Crc16);
        let bytes = format!("5C tc2=open*1234\r\n{}\r\n{}\r\nt=9 tc", line(1), line(2));
        let columns = Columns::Labels(vec!["tc1".to_owned(), "tc2".to_owned()]);
        assert_eq!(lines_in(bytes.as_bytes()), Some(Guess::Lines { check: LineCheck::Crc16, columns }));
    }

    #[test]
    fn bare_values_are_known_by_their_number() {
        let columns = Columns::Bare(2);
        assert_eq!(lines_in(b"0\n20,30\n21,31\n"), Some(Guess::Lines { check: LineCheck::None, columns }));
    }

    #[test]
    fn noise_and_a_single_line_are_no_board() {
        assert_eq!(lines_in(b"\n20,30\n"), None);
        assert_eq!(lines_in(b"\n\xff\x80\n\x12\x90\n\xfe\n"), None);
    }

    #[test]
    fn an_exception_is_a_device_but_not_one_of_a_gateway_that_reaches_none() {
        let exception = |code| modbus::with_sum(&[3, 0x83, code]);
        assert_eq!(bus_device_in(3, &exception(2)), Some(Guess::BusDevice { device: 3 }));
        assert_eq!((bus_device_in(3, &exception(10)), bus_device_in(3, &exception(11))), (None, None));
    }

    #[test]
    fn every_probe_file_that_is_guessed_is_read() {
        let guesses = [
            Guess::Lines { check: LineCheck::Xor8, columns: Columns::Labels(vec!["T1".to_owned(), "T2".to_owned()]) },
            Guess::Lines { check: LineCheck::None, columns: Columns::Bare(3) },
            Guess::Instrument { identity: "SCHOOL \"A\",READER,7,1.0".to_owned() },
            Guess::BusDevice { device: 7 },
        ];
        for guess in guesses {
            let text = probe_file(&found(guess));
            assert!(file::parse(&text).is_ok(), "{text}\n{:?}", file::parse(&text));
        }
    }
}
