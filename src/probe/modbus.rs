//! Questions to devices on a bus and their answers (Modbus over serial line V1.02, RTU; Modbus application protocol V1.1b3).
//!
//! Frames are cut by their length, because the silent intervals that should part them do not survive the way through a
//! USB converter. An answer must have the device, the function and the number of bytes that were asked for; the library
//! that checks the rest takes an answer with fewer registers.

use std::time::Duration;

use rmodbus::ModbusProto;
use rmodbus::client::ModbusRequest;

use super::ask::{FenceAnswers, Heard};
use super::lines::Value;
use super::set::{Column, Number, Register, Table, WordOrder};
use crate::reading::Fault;

/// Function code of the loopback diagnostic (application protocol, 6.8).
const DIAGNOSE: u8 = 8;

/// Bit that marks an exception.
pub(super) const EXCEPTION: u8 = 0x80;

/// Silence before a frame (serial line, 2.5.1.1): 3.5 characters of 11 bits up to 19200 baud, above that 1.75 ms.
pub(super) fn silent_interval(speed: u32) -> Duration {
    if speed > 19_200 {
        return Duration::from_micros(1750);
    }
    Duration::from_secs_f64(3.5 * 11.0 / f64::from(speed.max(1)))
}

/// The frame that asks for `register`.
pub(super) fn request(register: &Register) -> Vec<u8> {
    let mut frame = Vec::new();
    // A request of one or two registers always has room in a vector.
    let _ = request_of(register, &mut frame);
    frame
}

fn request_of(register: &Register, frame: &mut Vec<u8>) -> Option<ModbusRequest> {
    let mut request = ModbusRequest::new(register.device, ModbusProto::Rtu);
    let count = count(register);
    match register.table {
        Table::Holding => request.generate_get_holdings(register.address, count, frame),
        Table::Input => request.generate_get_inputs(register.address, count, frame),
    }
    .ok()?;
    Some(request)
}

fn count(register: &Register) -> u16 {
    match register.number {
        Number::Int16 | Number::Uint16 => 1,
        Number::Float32(_) => 2,
    }
}

/// What the bytes since the question for `register` amount to. An echo of the question, which some converters give, is
/// passed over.
pub(super) fn answer(register: &Register, held: &[u8]) -> Heard {
    let mut question = Vec::new();
    let Some(asked) = request_of(register, &mut question) else {
        return Heard::Wrong("found a register that cannot be asked for, expected another".to_owned());
    };
    if question.starts_with(held) {
        return Heard::More;
    }
    let frame = held.strip_prefix(question.as_slice()).unwrap_or(held);
    let function = question.get(1).copied().unwrap_or_default();
    match *frame {
        [] | [_] => Heard::More,
        [device, code, ..] if device != register.device || code & !EXCEPTION != function => Heard::Wrong(format!(
            "found an answer of device {device}, function {code}, expected device {}, function {function}; a late \
                 answer, or two devices have one address",
            register.device
        )),
        [_, code, ..] if code & EXCEPTION != 0 => exception(frame),
        [_, _, bytes, ..] if u16::from(bytes) != 2 * count(register) => Heard::Wrong(format!(
            "found an answer of {bytes} bytes, expected {}; a late answer, or the device does not keep to the protocol",
            2 * count(register)
        )),
        _ => whole_answer(register, &asked, frame),
    }
}

fn exception(frame: &[u8]) -> Heard {
    match frame.len() {
        0..5 => Heard::More,
        5 if is_sound(frame) => Heard::Refused(exception_words(frame[2])),
        5 => wrong_sum(),
        _ => too_long(),
    }
}

fn whole_answer(register: &Register, asked: &ModbusRequest, frame: &[u8]) -> Heard {
    let length = 5 + 2 * usize::from(count(register));
    match frame.len() {
        short if short < length => return Heard::More,
        long if long > length => return too_long(),
        _ => {}
    }
    let mut words: Vec<u16> = Vec::new();
    match asked.parse_u16(frame, &mut words) {
        Ok(()) => match value(register, &words) {
            Some(value) => Heard::Answer(vec![(Column::Register(*register), value)]),
            None => Heard::Wrong("found too few registers, expected those asked for".to_owned()),
        },
        Err(_) => wrong_sum(),
    }
}

fn wrong_sum() -> Heard {
    Heard::Wrong(
        "found a wrong check sum, expected the right one; look at the speed, the parity, the cable and its terminator"
            .to_owned(),
    )
}

fn too_long() -> Heard {
    Heard::Wrong("found more bytes than the answer has, expected one answer; an earlier one came late".to_owned())
}

/// The exceptions of the application protocol, 7, with what to do.
fn exception_words(code: u8) -> String {
    let advice = match code {
        1 => {
            "the function is not known there: write `table = \"input\"` instead of \"holding\", or the other way round"
        }
        2 => {
            "there is no such register: correct `register`, which is the address on the wire; a printed 30053 or 40053 is 52"
        }
        3 => "the number of registers is not allowed there: correct `number`",
        4 => "the device has failed: look at its display",
        5 | 6 => "the device is busy: ask less often with `every`",
        10 | 11 => "a gateway does not reach the device: correct `device`, or look at its power",
        _ => "look the code up in the device's manual",
    };
    format!("found exception {code} instead of a value; {advice}")
}

/// What the registers say. The largest and smallest integers and what is not a number mean that there is no reading
/// (common practice, no source).
fn value(register: &Register, words: &[u16]) -> Option<Value> {
    let number = match (register.number, words) {
        (Number::Int16, [word]) => match i16::from_be_bytes(word.to_be_bytes()) {
            i16::MAX | i16::MIN => f64::NAN,
            number if number == -i16::MAX => f64::NAN,
            number => f64::from(number),
        },
        (Number::Uint16, [word]) => match *word {
            0x7FFF | 0x8000 | 0xFFFF => f64::NAN,
            number => f64::from(number),
        },
        (Number::Float32(order), [first, second]) => f64::from(float(order, *first, *second)),
        _ => return None,
    };
    let number = number * (register.scale_millionths as f64 / 1e6);
    if number.is_finite() { Some(Value::Number { number, unit: None }) } else { Some(Value::Fault(Fault::Unnamed)) }
}

fn float(order: WordOrder, first: u16, second: u16) -> f32 {
    let ([a, b], [c, d]) = (first.to_be_bytes(), second.to_be_bytes());
    f32::from_be_bytes(match order {
        WordOrder::Abcd => [a, b, c, d],
        WordOrder::Cdab => [c, d, a, b],
        WordOrder::Badc => [b, a, d, c],
        WordOrder::Dcba => [d, c, b, a],
    })
}

/// Whether an exception says that a gateway does not reach the device (application protocol, 7: codes 10 and 11).
pub(super) fn is_from_gateway(frame: &[u8]) -> bool {
    let code = frame.len().checked_sub(3).and_then(|at| frame.get(at));
    matches!(code, Some(10 | 11))
}

/// A question whose answer cannot be mistaken: the loopback diagnostic with a number that is different each time.
pub(super) fn fence(device: u8, nonce: u16) -> Vec<u8> {
    let [high, low] = nonce.to_be_bytes();
    with_sum(&[device, DIAGNOSE, 0, 0, high, low])
}

/// The answers to fences of `device` among the bytes held: the frame of the last one again, or exceptions that the
/// function is not known.
pub(super) fn fence_answers(device: u8, nonce: u16, held: &[u8]) -> FenceAnswers {
    let echo = fence(device, nonce);
    let is_exception = |frame: &&[u8]| frame[0] == device && frame[1] == DIAGNOSE | EXCEPTION && is_sound(frame);
    let is_own = held.windows(echo.len()).any(|frame| frame == echo);
    let exceptions = held.windows(5).filter(is_exception).count();
    let count = u32::try_from(exceptions).unwrap_or(u32::MAX).saturating_add(u32::from(is_own));
    FenceAnswers { count, is_own, identity: None }
}

/// A frame of `body` and its check sum.
pub(super) fn with_sum(body: &[u8]) -> Vec<u8> {
    let [low, high] = sum(body).to_le_bytes();
    [body, &[low, high]].concat()
}

/// Whether the check sum of `frame` is right.
pub(super) fn is_sound(frame: &[u8]) -> bool {
    matches!(frame.split_last_chunk::<2>(), Some((body, found)) if *found == sum(body).to_le_bytes())
}

fn sum(body: &[u8]) -> u16 {
    crc::Crc::<u16>::new(&crc::CRC_16_MODBUS).checksum(body)
}

#[cfg(test)]
mod tests;
