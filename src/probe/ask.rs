//! Boards that speak only when asked: rounds of questions, each with a time limit, and no late answer taken for the next.
//!
//! Neither protocol numbers its answers, so one that comes after its time limit looks like the answer to the next
//! question. After any trouble, therefore: read away until the line has been quiet for a time limit, then ask something
//! whose answer cannot be mistaken ([the fence](Dialogue)), and drop all that comes before that answer. A device that does
//! not answer the fence is asked on, but its next two answers are not believed.
//!
//! All of it is pure: time comes in as a number.

use std::collections::BTreeMap;
use std::time::Duration;

use super::feed::PortEvent;
use super::lines::Value;
use super::set::{ChannelSpec, Column, Junction, PortSpec, Protocol, Register, Sends};
use super::{modbus, scpi};
use crate::reading::{Fault, Reading};

/// Answers of a device that are not believed after a trouble that no fence closed.
const UNSURE_ANSWERS: u8 = 2;

/// Longest answer that is kept, bytes; more without sense is read away.
const MOST_HELD: usize = 4096;

/// Quiet on the line before an instrument is asked who it is.
const FIRST_QUIET: Duration = Duration::from_millis(50);

/// One question and what its answer is for.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Question {
    /// A query in text and the places of its answer that are wanted.
    Query {
        /// As it is sent.
        query: String,
        /// From 1.
        positions: Vec<usize>,
    },
    /// One number of a device.
    Register(Register),
}

/// What the bytes since a question amount to.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Heard {
    /// The answer is not there yet.
    More,
    /// The answer.
    Answer(Vec<(Column, Value)>),
    /// The device answered that it will not.
    Refused(String),
    /// Something that is no answer to the question.
    Wrong(String),
}

/// The answers to fences among the bytes held.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct FenceAnswers {
    /// How many.
    pub count: u32,
    /// Whether one can only be that to the last fence.
    pub is_own: bool,
    /// What an instrument said it is, the last time.
    pub identity: Option<String>,
}

/// What to do now, and when to come again.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Turn {
    /// To be sent at once.
    pub send: Vec<u8>,
    /// To be told.
    pub events: Vec<PortEvent>,
    /// Come again after this, or as soon as there are bytes.
    pub wait: Duration,
}

#[derive(Clone, Debug, PartialEq)]
enum State {
    /// Until the next round.
    Resting { until: Duration },
    /// Silence before a question.
    Gap { next: usize, until: Duration },
    /// A question was sent.
    Waiting { at: usize, until: Duration },
    /// Reading away what comes until it is quiet.
    Draining { next: usize, device: u8, until: Duration, then: Then },
    /// The fence was sent.
    Fencing { next: usize, device: u8, until: Duration },
}

/// What follows once the line is quiet.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Then {
    /// The fence, because something went wrong.
    Fence,
    /// The next question, because the last answer was only not sure; unless more came.
    GoOn,
}

/// The conversation with the board or bus on one port.
///
/// The fence is `*IDN?` for an instrument, whose answer has four fields, and for a device on a bus the diagnostic function
/// 8, which gives two bytes back that are different each time, or the exception that it is not known.
#[derive(Clone, Debug)]
pub struct Dialogue {
    spec: PortSpec,
    questions: Vec<Question>,
    state: State,
    began: Duration,
    last_byte: Duration,
    held: Vec<u8>,
    got: Vec<(Column, Value)>,
    refused: Vec<Column>,
    garbled: Vec<Column>,
    raw: Vec<String>,
    unsure: BTreeMap<u8, u8>,
    fences_out: u32,
    nonce: u16,
    identity: Option<String>,
    is_other: bool,
    troubles: BTreeMap<usize, String>,
}

impl Dialogue {
    /// A conversation on the port `spec` that begins at `now`.
    #[must_use]
    pub fn new(spec: PortSpec, now: Duration) -> Self {
        let questions = questions(&spec);
        let mut dialogue = Self {
            spec,
            questions,
            state: State::Resting { until: now },
            began: now,
            last_byte: now,
            held: Vec::new(),
            got: Vec::new(),
            refused: Vec::new(),
            garbled: Vec::new(),
            raw: Vec::new(),
            unsure: BTreeMap::new(),
            fences_out: 0,
            nonce: 0,
            identity: None,
            is_other: false,
            troubles: BTreeMap::new(),
        };
        dialogue.restart(now);
        dialogue
    }

    /// Begins anew on a port that was opened again; what an instrument said of itself before is remembered.
    pub fn restart(&mut self, now: Duration) {
        self.held.clear();
        self.clear_round();
        self.fences_out = 0;
        self.unsure.clear();
        self.state = match self.spec.protocol {
            Protocol::Scpi => State::Draining { next: 0, device: 0, until: now + FIRST_QUIET, then: Then::Fence },
            Protocol::ModbusRtu | Protocol::Text => State::Resting { until: now },
        };
    }

    /// Takes the bytes that came by `now` and goes on as far as that allows.
    pub fn advance(&mut self, now: Duration, bytes: &[u8]) -> Turn {
        let mut turn = Turn::default();
        if !bytes.is_empty() {
            self.last_byte = now;
            self.held.extend_from_slice(bytes);
            if self.held.len() > MOST_HELD {
                self.held.drain(..self.held.len() - MOST_HELD);
            }
        }
        // No state leads back to itself without sending or waiting, so a few steps settle it.
        for _ in 0..=self.questions.len() + 2 {
            if !self.step(now, &mut turn) {
                break;
            }
        }
        turn.wait = self.until().saturating_sub(now);
        turn
    }

    fn until(&self) -> Duration {
        match self.state {
            State::Resting { until }
            | State::Gap { until, .. }
            | State::Waiting { until, .. }
            | State::Draining { until, .. }
            | State::Fencing { until, .. } => until,
        }
    }

    /// One step; gives whether another may follow at once.
    fn step(&mut self, now: Duration, turn: &mut Turn) -> bool {
        match self.state.clone() {
            State::Resting { .. } | State::Gap { .. } if self.is_line_end() => {
                self.held.clear();
                true
            }
            State::Resting { .. } | State::Gap { .. } if !self.held.is_empty() => {
                // Nobody was asked: a late answer, or noise.
                let next = if let State::Gap { next, .. } = self.state { next } else { 0 };
                self.drain(next, self.device_of(next), now);
                true
            }
            State::Resting { until } => now >= until && self.begin_round(now),
            State::Gap { next, until } => now >= until && turn.send.is_empty() && self.ask(next, now, turn),
            State::Waiting { at, until } => self.wait(at, until, now, turn),
            State::Draining { next, device, .. } if !self.held.is_empty() => {
                self.drain(next, device, now);
                false
            }
            State::Draining { until, .. } if now < until || !turn.send.is_empty() => false,
            State::Draining { next, device, then: Then::Fence, .. } => self.fence(next, device, now, turn),
            State::Draining { next, then: Then::GoOn, .. } => {
                self.go_on(next, now, turn);
                true
            }
            State::Fencing { next, device, until } => self.wait_for_fence(next, device, until, now, turn),
        }
    }

    /// Whether nothing is held but the rest of an answer's line end.
    fn is_line_end(&self) -> bool {
        let is_text = self.spec.protocol == Protocol::Scpi;
        is_text && !self.held.is_empty() && self.held.iter().all(|byte| matches!(byte, b'\r' | b'\n'))
    }

    fn begin_round(&mut self, now: Duration) -> bool {
        self.began = now;
        self.clear_round();
        if self.is_other {
            // Asked again who it is, until it is the right one.
            self.state = State::Draining { next: 0, device: 0, until: now, then: Then::Fence };
            return true;
        }
        self.state = State::Gap { next: 0, until: now.max(self.last_byte + self.gap()) };
        true
    }

    fn clear_round(&mut self) {
        self.got.clear();
        self.refused.clear();
        self.garbled.clear();
        self.raw.clear();
    }

    fn ask(&mut self, next: usize, now: Duration, turn: &mut Turn) -> bool {
        let Some(question) = self.questions.get(next) else { return false };
        turn.send = match question {
            Question::Query { query, .. } => scpi::query(query),
            Question::Register(register) => modbus::request(register),
        };
        self.state = State::Waiting { at: next, until: now + self.within() + self.on_the_wire(turn.send.len() + 32) };
        false
    }

    fn wait(&mut self, at: usize, until: Duration, now: Duration, turn: &mut Turn) -> bool {
        let Some(question) = self.questions.get(at) else { return false };
        let heard = match question {
            Question::Query { query, positions } => scpi::answer(query, positions, &self.held),
            Question::Register(register) => modbus::answer(register, &self.held),
        };
        match heard {
            Heard::More if now < until => return false,
            Heard::More => {
                let words = self.silence_words();
                self.trouble(at, &words, turn);
                self.drain(at + 1, self.device_of(at), now);
            }
            Heard::Wrong(words) => {
                let columns = self.columns_of(at);
                self.garbled.extend(columns);
                self.trouble(at, &words, turn);
                self.drain(at + 1, self.device_of(at), now);
            }
            Heard::Refused(words) => {
                self.held.clear();
                let columns = self.columns_of(at);
                self.refused.extend(columns);
                self.trouble(at, &words, turn);
                self.go_on(at + 1, now, turn);
            }
            Heard::Answer(values) => {
                self.raw.push(self.held.escape_ascii().to_string());
                self.held.clear();
                self.take(at, values, now, turn);
            }
        }
        true
    }

    /// What an answer that did not come in time is told as.
    fn silence_words(&self) -> String {
        let after_s = self.spec.poll.within.0;
        match self.held.len() {
            0 => format!(
                "found no answer within {after_s} s, expected one; look at the wiring, the power, the speed, the parity \
                 and the address"
            ),
            bytes => format!(
                "found {bytes} bytes and then nothing within {after_s} s, expected a whole answer; look at the speed and \
                 the cable"
            ),
        }
    }

    /// Takes the values of an answer, unless the device is not sure to answer what it was asked.
    fn take(&mut self, at: usize, values: Vec<(Column, Value)>, now: Duration, turn: &mut Turn) {
        let device = self.device_of(at);
        if let Some(left) = self.unsure.get_mut(&device).filter(|left| **left > 0) {
            *left -= 1;
            self.state = State::Draining { next: at + 1, device, until: now + self.within(), then: Then::GoOn };
            return;
        }
        if !self.is_other {
            if self.troubles.remove(&at).is_some() {
                turn.events.push(PortEvent::Remark { text: format!("{}: answers again", self.words_of(at)) });
            }
            self.got.extend(values);
        }
        self.go_on(at + 1, now, turn);
    }

    /// To the question `next`, or to rest when the round is done.
    fn go_on(&mut self, next: usize, now: Duration, turn: &mut Turn) {
        if next < self.questions.len() {
            self.state = State::Gap { next, until: now + self.gap() };
            return;
        }
        turn.events.extend(self.round_told());
        self.clear_round();
        let due = self.began + duration(self.spec.poll.every.0);
        self.state = State::Resting { until: due.max(now + self.gap()) };
    }

    /// The readings of the round.
    fn round_told(&self) -> Option<PortEvent> {
        let readings: Vec<Reading> = self
            .spec
            .channels
            .iter()
            .filter_map(|spec| Some(Reading { channel: spec.channel.clone(), value: self.value_of(spec)? }))
            .collect();
        let text = self.raw.join(" ");
        (!readings.is_empty()).then_some(PortEvent::Line { text, board_time: None, readings })
    }

    fn value_of(&self, spec: &ChannelSpec) -> Option<Result<crate::units::Celsius, Fault>> {
        let find = |column: &Column| self.got.iter().find(|(known, _)| known == column).map(|&(_, value)| value);
        let mut needed = vec![&spec.column];
        if let Sends::Emf { junction: Junction::Sent(column), .. } = &spec.sends {
            needed.push(column);
        }
        if needed.iter().any(|column| self.refused.contains(column)) {
            return Some(Err(Fault::Unnamed));
        }
        if needed.iter().any(|column| self.garbled.contains(column)) {
            return Some(Err(Fault::Garbled));
        }
        if needed.iter().any(|column| find(column).is_none()) {
            return None;
        }
        Some(spec.temp(find(&spec.column)?, &find).unwrap_or(Err(Fault::Garbled)))
    }

    /// After a trouble: reads away until the line is quiet.
    fn drain(&mut self, next: usize, device: u8, now: Duration) {
        self.held.clear();
        self.state = State::Draining { next, device, until: now + self.within(), then: Then::Fence };
    }

    fn fence(&mut self, next: usize, device: u8, now: Duration, turn: &mut Turn) -> bool {
        self.fences_out += 1;
        self.nonce = self.nonce.wrapping_mul(31_421).wrapping_add(6927);
        turn.send = match self.spec.protocol {
            Protocol::ModbusRtu => modbus::fence(device, self.nonce),
            Protocol::Scpi | Protocol::Text => scpi::query(scpi::IDENTIFY),
        };
        let until = now + 2 * self.within() + self.on_the_wire(128);
        self.state = State::Fencing { next, device, until };
        false
    }

    fn wait_for_fence(&mut self, next: usize, device: u8, until: Duration, now: Duration, turn: &mut Turn) -> bool {
        let answered = match self.spec.protocol {
            Protocol::ModbusRtu => modbus::fence_answers(device, self.nonce, &self.held),
            Protocol::Scpi | Protocol::Text => scpi::fence_answers(&self.held),
        };
        let is_sure = answered.is_own || answered.count >= self.fences_out;
        if !(answered.count > 0 && is_sure) && now < until {
            return false;
        }
        self.fences_out = if is_sure { 0 } else { self.fences_out - answered.count };
        self.unsure.insert(device, if is_sure { 0 } else { UNSURE_ANSWERS });
        if self.spec.protocol == Protocol::Scpi {
            self.look_at_identity(answered.identity, turn);
        }
        self.held.clear();
        self.go_on(next, now, turn);
        true
    }

    /// Whether the instrument is the right one. One that has to be a certain one is not believed before it said so.
    fn look_at_identity(&mut self, found: Option<String>, turn: &mut Turn) {
        let expected = self.spec.poll.identity.clone();
        let is_right = |expected: &String| found.as_ref().is_some_and(|found| found.contains(expected.as_str()));
        self.is_other = expected.as_ref().is_some_and(|expected| !is_right(expected));
        if let (true, Some(expected)) = (self.is_other, expected) {
            let found =
                found.map_or_else(|| "no answer to *IDN?".to_owned(), |found| format!("the instrument {found:?}"));
            let text = format!(
                "found {found}, expected one with {expected:?} in its name; plug in the right one, or correct `identity` \
                 in the probe file"
            );
            if self.troubles.insert(IDENTITY, text.clone()).as_ref() != Some(&text) {
                turn.events.push(PortEvent::Remark { text });
            }
            return;
        }
        self.troubles.remove(&IDENTITY);
        let Some(found) = found.filter(|found| self.identity.as_ref() != Some(found)) else { return };
        let text = match self.identity.replace(found.clone()) {
            None => format!("it is {found:?}"),
            Some(was) => {
                format!("found another instrument, {found:?}, where {was:?} was; look whether it is the right one")
            }
        };
        turn.events.push(PortEvent::Remark { text });
    }

    /// Tells a trouble with the question `at`, once for as long as it is the same.
    fn trouble(&mut self, at: usize, words: &str, turn: &mut Turn) {
        if self.troubles.insert(at, words.to_owned()).as_deref() != Some(words) {
            turn.events.push(PortEvent::Remark { text: format!("{}: {words}", self.words_of(at)) });
        }
    }

    fn words_of(&self, at: usize) -> String {
        self.columns_of(at).first().map_or_else(String::new, ToString::to_string)
    }

    fn columns_of(&self, at: usize) -> Vec<Column> {
        match self.questions.get(at) {
            Some(Question::Query { query, positions }) => {
                let column = |&position: &usize| Column::Answer { query: query.clone(), position };
                positions.iter().map(column).collect()
            }
            Some(Question::Register(register)) => vec![Column::Register(*register)],
            None => Vec::new(),
        }
    }

    /// Whom the question `at` is for; the last one's when there is none.
    fn device_of(&self, at: usize) -> u8 {
        match self.questions.get(at).or(self.questions.last()) {
            Some(Question::Register(register)) => register.device,
            _ => 0,
        }
    }

    fn within(&self) -> Duration {
        duration(self.spec.poll.within.0)
    }

    /// How long so many bytes of 11 bits take.
    fn on_the_wire(&self, bytes: usize) -> Duration {
        duration(bytes as f64 * 11.0 / f64::from(self.spec.speed.max(1)))
    }

    /// Silence between an answer and the next question.
    fn gap(&self) -> Duration {
        match self.spec.protocol {
            Protocol::ModbusRtu => modbus::silent_interval(self.spec.speed),
            Protocol::Scpi | Protocol::Text => Duration::ZERO,
        }
    }
}

/// Key of the trouble that the instrument is not the right one.
const IDENTITY: usize = usize::MAX;

fn duration(span_s: f64) -> Duration {
    Duration::try_from_secs_f64(span_s).unwrap_or(Duration::ZERO)
}

/// What has to be asked in a round, each thing once.
fn questions(spec: &PortSpec) -> Vec<Question> {
    let mut questions: Vec<Question> = Vec::new();
    let junction = |spec: &ChannelSpec| match &spec.sends {
        Sends::Emf { junction: Junction::Sent(column), .. } => Some(column.clone()),
        _ => None,
    };
    let columns = spec.channels.iter().flat_map(|spec| [Some(spec.column.clone()), junction(spec)]).flatten();
    for column in columns {
        match column {
            Column::Answer { query, position } => {
                let known = questions.iter_mut().find_map(|question| match question {
                    Question::Query { query: known, positions } if *known == query => Some(positions),
                    _ => None,
                });
                match known {
                    Some(positions) if positions.contains(&position) => {}
                    Some(positions) => positions.push(position),
                    None => questions.push(Question::Query { query, positions: vec![position] }),
                }
            }
            Column::Register(register) => {
                if !questions.contains(&Question::Register(register)) {
                    questions.push(Question::Register(register));
                }
            }
            Column::Label(_) | Column::Position(_) => {}
        }
    }
    questions
}

#[cfg(test)]
mod tests;
