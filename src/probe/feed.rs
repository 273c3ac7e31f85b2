//! From bytes to what the consumer is told, whatever the bytes come from.

use std::collections::VecDeque;
use std::sync::Arc;
use std::time::Instant;

use thiserror::Error;
use tokio::sync::mpsc::{self, error::TrySendError};

use super::lines::{self, LineError, LineSplitter, Piece, Start};
use super::set::PortSpec;
use super::source::in_words;
use crate::reading::Reading;
use crate::units::Seconds;

/// How many events wait for the consumer: minutes of lines from one board. What happens when it is full depends on the
/// source: a port goes on reading and tells later how many lines it had to drop ([`PortEvent::Missed`]); a file or pipe
/// waits.
pub const EVENTS_HELD: usize = 1024;

/// Longest text of a refused line that is passed on, characters.
const MAX_TOLD_CHARS: usize = 160;

/// A channel for the events of any number of ports.
#[must_use]
pub fn channel() -> (mpsc::Sender<Told>, mpsc::Receiver<Told>) {
    mpsc::channel(EVENTS_HELD)
}

/// One event with its origin and the moment its bytes arrived.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// Path of the port, as in the probe file.
    pub port: Arc<str>,
    /// When the last byte of it was read.
    pub at: Instant,
    /// What happened.
    pub event: PortEvent,
}

/// What can come from a port.
#[derive(Clone, Debug, PartialEq)]
pub enum PortEvent {
    /// A line was understood.
    Line {
        /// As it came, without its end.
        text: String,
        /// The board's own time, if it sends one.
        board_time: Option<Seconds>,
        /// At least one.
        readings: Vec<Reading>,
    },
    /// A line was refused; nothing of it is used.
    Garbled {
        /// As it came, unprintable bytes escaped, cut when long.
        text: String,
        /// What is wrong with it.
        why: LineError,
    },
    /// Lines came faster than they were taken, and these many were dropped, the newest first.
    Missed {
        /// How many.
        lines: u64,
    },
    /// Something a person should know of the talk with a board; told once for as long as it lasts.
    Remark {
        /// What.
        text: String,
    },
    /// The port is gone. It is tried again until it is back.
    Lost {
        /// Why.
        why: Lost,
    },
    /// The port is there again.
    Back,
}

/// Why a port cannot be read.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum Lost {
    /// Nothing stands at the path.
    #[error("found nothing at {path}, expected a serial port; plug the board in, or correct `path` in the probe file")]
    Missing {
        /// The path.
        path: Arc<str>,
    },
    /// The user may not open it.
    #[error(
        "found no permission to open {path}, expected that you may read and write it; \
         join the group that owns it (often dialout) and log in again"
    )]
    NoPermission {
        /// The path.
        path: Arc<str>,
    },
    /// Another program has it.
    #[error("found {path} in use, expected it free; close the other program or service that reads it")]
    Busy {
        /// The path.
        path: Arc<str>,
    },
    /// It is a directory or some such.
    #[error("found no serial port at {path} but {what}, expected a port; correct `path` in the probe file")]
    NotAPort {
        /// The path.
        path: Arc<str>,
        /// What stands there.
        what: &'static str,
    },
    /// The system would not have it set up.
    #[error("found {path} but could not use it ({words}), expected a serial port; try another speed or port")]
    Refused {
        /// The path.
        path: Arc<str>,
        /// What the system says.
        words: String,
    },
    /// It was there and is not any more.
    #[error("found {path} gone ({words}), expected readings from it; plug the board in again, it is looked for")]
    Unplugged {
        /// The path.
        path: Arc<str>,
        /// What the system says.
        words: String,
    },
    /// The path leads to another device than the one that was opened, which is silent.
    #[error("found another device at {path} than the one opened, expected the same; it is opened anew")]
    Moved {
        /// The path.
        path: Arc<str>,
    },
    /// The file, pipe or standard input has come to its end.
    #[error("found the end of {}, expected more lines; start again with a source that goes on", in_words(path))]
    Ended {
        /// The path.
        path: Arc<str>,
    },
}

/// Turns bytes into events. Pure: the same bytes give the same events, however they are cut.
#[derive(Clone, Debug)]
pub struct Feed {
    spec: PortSpec,
    splitter: LineSplitter,
}

impl Feed {
    /// A feed of the port `spec` whose next byte stands at `start`.
    #[must_use]
    pub fn new(spec: PortSpec, start: Start) -> Self {
        Self { spec, splitter: LineSplitter::new(start) }
    }

    /// Takes the next bytes and gives what they complete.
    pub fn take(&mut self, bytes: &[u8]) -> Vec<PortEvent> {
        let pieces = self.splitter.push(bytes);
        pieces.into_iter().filter_map(|piece| self.event(piece)).collect()
    }

    /// What becomes of an unfinished line when no more bytes will come.
    #[must_use]
    pub fn end(&self) -> Option<PortEvent> {
        let text = shown(self.splitter.unfinished());
        (!text.is_empty()).then(|| PortEvent::Garbled { text: text.clone(), why: LineError::CutShort { after: text } })
    }

    /// Forgets everything held: the next byte stands somewhere in a line.
    pub fn restart(&mut self) {
        self.splitter = LineSplitter::new(Start::MidLine);
    }

    fn event(&self, piece: Piece) -> Option<PortEvent> {
        let bytes = match piece {
            Piece::Line(bytes) => bytes,
            Piece::TooLong => {
                let why = LineError::NoEnd { bytes: lines::MAX_LINE_BYTES };
                return Some(PortEvent::Garbled { text: String::new(), why });
            }
        };
        let understood = lines::parse(&bytes, self.spec.check).and_then(|line| match line {
            Some(line) => Ok(Some((line.board_time, self.spec.readings(&line)?))),
            None => Ok(None),
        });
        match understood {
            Ok(None) => None,
            Ok(Some((board_time, readings))) => {
                let text = String::from_utf8_lossy(&bytes).into_owned();
                Some(PortEvent::Line { text, board_time, readings })
            }
            Err(why) => Some(PortEvent::Garbled { text: shown(&bytes), why }),
        }
    }
}

/// Bytes as printable text, cut when long.
fn shown(bytes: &[u8]) -> String {
    let text = bytes.escape_ascii().to_string();
    match text.char_indices().nth(MAX_TOLD_CHARS) {
        Some((end, _)) => format!("{}...", &text[..end]),
        None => text,
    }
}

/// The way from a port's thread to the consumer, which may be slow.
pub(super) struct Outlet {
    port: Arc<str>,
    sender: mpsc::Sender<Told>,
    missed: u64,
    waiting: VecDeque<Told>,
}

impl Outlet {
    pub(super) fn new(port: Arc<str>, sender: mpsc::Sender<Told>) -> Self {
        Self { port, sender, missed: 0, waiting: VecDeque::new() }
    }

    /// Path of the port.
    pub(super) fn port(&self) -> Arc<str> {
        Arc::clone(&self.port)
    }

    /// Whether nobody listens any more.
    pub(super) fn is_closed(&self) -> bool {
        self.sender.is_closed()
    }

    /// Tells `event` without waiting. When the channel is full a line is counted and dropped; a loss and a return are
    /// kept for later, the last of each.
    pub(super) fn tell(&mut self, event: PortEvent) {
        self.settle();
        let told = Told { port: Arc::clone(&self.port), at: Instant::now(), event };
        let is_held_up = self.missed > 0 || !self.waiting.is_empty();
        let full = if is_held_up { Some(told) } else { self.try_send(told) };
        if let Some(told) = full {
            self.keep(told);
        }
    }

    /// Passes on what had to wait, as far as there is room.
    pub(super) fn settle(&mut self) {
        if self.missed > 0 {
            let event = PortEvent::Missed { lines: self.missed };
            if self.try_send(Told { port: Arc::clone(&self.port), at: Instant::now(), event }).is_some() {
                return;
            }
            self.missed = 0;
        }
        while let Some(told) = self.waiting.pop_front() {
            if let Some(told) = self.try_send(told) {
                self.waiting.push_front(told);
                return;
            }
        }
    }

    /// Gives the event back when there is no room for it.
    fn try_send(&self, told: Told) -> Option<Told> {
        match self.sender.try_send(told) {
            Err(TrySendError::Full(told)) => Some(told),
            Ok(()) | Err(TrySendError::Closed(_)) => None,
        }
    }

    fn keep(&mut self, told: Told) {
        match told.event {
            PortEvent::Lost { .. } => {
                self.waiting.clear();
                self.waiting.push_back(told);
            }
            PortEvent::Back => self.waiting.push_back(told),
            PortEvent::Missed { lines } => self.missed += lines,
            PortEvent::Line { .. } | PortEvent::Garbled { .. } | PortEvent::Remark { .. } => self.missed += 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lost() -> PortEvent {
        PortEvent::Lost { why: Lost::Missing { path: "p".into() } }
    }

    fn garbled() -> PortEvent {
        PortEvent::Garbled { text: "?".to_owned(), why: LineError::CutShort { after: "?".to_owned() } }
    }

    fn drain(receiver: &mut mpsc::Receiver<Told>) -> Vec<PortEvent> {
        std::iter::from_fn(|| receiver.try_recv().ok()).map(|told| told.event).collect()
    }

    #[test]
    fn a_full_channel_counts_lines_and_keeps_a_loss_and_a_return() {
        let (sender, mut receiver) = mpsc::channel(2);
        let mut outlet = Outlet::new("p".into(), sender);
        for event in [garbled(), garbled(), garbled(), lost(), PortEvent::Back, garbled(), lost(), PortEvent::Back] {
            outlet.tell(event);
        }
        assert_eq!(drain(&mut receiver), [garbled(), garbled()]);
        outlet.settle();
        assert_eq!(drain(&mut receiver), [PortEvent::Missed { lines: 2 }, lost()]);
        outlet.settle();
        assert_eq!(drain(&mut receiver), [PortEvent::Back]);
    }

    #[test]
    fn a_channel_with_room_again_loses_nothing_more() {
        let (sender, mut receiver) = mpsc::channel(1);
        let mut outlet = Outlet::new("p".into(), sender);
        outlet.tell(garbled());
        outlet.tell(garbled());
        drain(&mut receiver);
        outlet.settle();
        assert_eq!(drain(&mut receiver), [PortEvent::Missed { lines: 1 }]);
        outlet.tell(lost());
        assert_eq!(drain(&mut receiver), [lost()]);
    }
}
