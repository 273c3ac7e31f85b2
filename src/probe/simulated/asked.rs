//! What a simulated board answers when it is one that only speaks when asked: a device on a bus, or an instrument.

use super::SimulatedFurnace;
use crate::probe::set::{Column, Number, Protocol, Register, Table, WordOrder};
use crate::probe::{modbus, scpi};

/// Length of a question on a bus: device, function, address, count, check sum.
const QUESTION_BYTES: usize = 8;

/// Longest question that is waited for, bytes.
const LONGEST_QUESTION: usize = 256;

/// Function codes of the application protocol, 6.3, 6.4 and 6.8.
const HOLDING: u8 = 3;
const INPUT: u8 = 4;
const DIAGNOSE: u8 = 8;

impl SimulatedFurnace {
    /// Answers the whole questions among the bytes `held`, and takes them from there. What is no question is dropped without an
    /// answer, as boards do.
    pub fn answer(&mut self, held: &mut Vec<u8>) -> Vec<u8> {
        let mut answers = Vec::new();
        while let Some(question) = self.next_question(held) {
            answers.extend(match self.board.protocol {
                Protocol::ModbusRtu => self.answer_on_bus(&question),
                Protocol::Scpi => self.answer_query(&question),
                Protocol::Text => Vec::new(),
            });
        }
        if held.len() > LONGEST_QUESTION {
            held.clear();
        }
        answers
    }

    fn next_question(&self, held: &mut Vec<u8>) -> Option<Vec<u8>> {
        let length = match self.board.protocol {
            Protocol::ModbusRtu => (held.len() >= QUESTION_BYTES).then_some(QUESTION_BYTES),
            Protocol::Scpi | Protocol::Text => held.iter().position(|byte| *byte == b'\n').map(|end| end + 1),
        }?;
        Some(held.drain(..length).collect())
    }

    fn answer_on_bus(&mut self, question: &[u8]) -> Vec<u8> {
        let [device, function, high, low, _, count, ..] = *question else { return Vec::new() };
        if !modbus::is_sound(question) {
            return Vec::new();
        }
        let table = match function {
            HOLDING => Table::Holding,
            INPUT => Table::Input,
            DIAGNOSE => return question.to_vec(),
            _ => return modbus::with_sum(&[device, function | modbus::EXCEPTION, 1]),
        };
        let address = u16::from_be_bytes([high, low]);
        let wanted =
            |register: &Register| register.device == device && register.table == table && register.address == address;
        let found = self.board.channels.iter().enumerate().find_map(|(at, spec)| match spec.column {
            Column::Register(register) if wanted(&register) => Some((at, register)),
            _ => None,
        });
        let words = found.map(|(at, register)| words(register, self.number(at)));
        match words {
            Some(words) if words.len() == 2 * usize::from(count) => {
                let length = u8::try_from(words.len()).unwrap_or(0);
                modbus::with_sum(&[&[device, function, length], words.as_slice()].concat())
            }
            _ => modbus::with_sum(&[device, function | modbus::EXCEPTION, 2]),
        }
    }

    fn answer_query(&mut self, question: &[u8]) -> Vec<u8> {
        let question = String::from_utf8_lossy(question).trim().to_owned();
        if question == scpi::IDENTIFY {
            let identity = self.board.poll.identity.clone().unwrap_or_default().replace(',', " ");
            return format!("SIMULATED,FURNACE {identity},0,1\n").into_bytes();
        }
        let mut values: Vec<String> = Vec::new();
        for at in 0..self.board.channels.len() {
            let position = match &self.board.channels[at].column {
                Column::Answer { query, position } if *query == question => *position,
                _ => continue,
            };
            let number = self.number(at);
            values.resize(values.len().max(position), scpi::NO_NUMBER.to_owned());
            if let Some(slot) = position.checked_sub(1).and_then(|place| values.get_mut(place)) {
                *slot = format!("{number:+.6E}");
            }
        }
        if values.is_empty() { Vec::new() } else { format!("{}\n", values.join(",")).into_bytes() }
    }
}

/// `number` as it stands in `register`.
fn words(register: Register, number: f64) -> Vec<u8> {
    let counts = number / (register.scale_millionths as f64 / 1e6);
    match register.number {
        // A number that is too large for the register is held at its end, as boards do.
        Number::Int16 => (counts.round() as i16).to_be_bytes().to_vec(),
        Number::Uint16 => (counts.round() as u16).to_be_bytes().to_vec(),
        Number::Float32(order) => {
            let [a, b, c, d] = (counts as f32).to_be_bytes();
            match order {
                WordOrder::Abcd => [a, b, c, d],
                WordOrder::Cdab => [c, d, a, b],
                WordOrder::Badc => [b, a, d, c],
                WordOrder::Dcba => [d, c, b, a],
            }
            .to_vec()
        }
    }
}
