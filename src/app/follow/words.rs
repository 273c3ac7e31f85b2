//! Words on standard input, one a line.
//!
//! The loop itself reads them, without ever waiting: a thread only watches whether there is something to read. So a word
//! that was written before a probe line is always taken before it, which lets a furnace run in lockstep.

use std::io;
use std::sync::mpsc as blocking;
use std::thread;

use crossterm::event::EventStream;
use futures_util::StreamExt as _;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use tokio::sync::mpsc;

use crate::run::Word;

/// Longest word that is looked at, bytes.
const LONGEST: usize = 200;

/// Every word that is understood.
pub const WORDS: &str = "on, off, pause, resume, silence, replan, quit";

/// What a line on standard input said.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Said {
    /// A word of the operator.
    Word(Word),
    /// Something else.
    Unknown(String),
}

/// Where an operator's words come from.
pub enum Words {
    /// Standard input.
    Stdin(StdinWords),
    /// The keys of a terminal; the outlet tells what they mean.
    Keys(Box<EventStream>),
    /// An operator that is part of the program, beside the keys of a terminal if there is one.
    Tended {
        /// The keys.
        keys: Option<Box<EventStream>>,
        /// The operator. Bounded by its maker.
        operator: mpsc::Receiver<Said>,
    },
    /// A channel, for whoever drives the loop from inside. Bounded by its maker; closing it changes nothing.
    Channel(mpsc::Receiver<Said>),
    /// Nowhere.
    None,
}

/// What came from an operator.
pub enum Heard {
    /// Words, in order.
    Said(Vec<Said>),
    /// A key or a change of the terminal's size.
    Key(crossterm::event::Event),
}

impl Words {
    /// Waits for what comes next. Dropping the future loses nothing.
    pub async fn next(&mut self) -> Heard {
        match self {
            Self::Stdin(stdin) => Heard::Said(stdin.next().await),
            Self::Keys(keys) => next_key(Some(keys)).await,
            Self::Channel(operator) => next_word(operator).await,
            Self::Tended { keys, operator } => {
                tokio::select! {
                    biased;
                    heard = next_word(operator) => heard,
                    heard = next_key(keys.as_mut()) => heard,
                }
            }
            Self::None => std::future::pending().await,
        }
    }

    /// Words that are there already, without waiting.
    pub fn waiting(&mut self) -> Vec<Said> {
        match self {
            Self::Stdin(stdin) => stdin.drain(),
            Self::Channel(operator) | Self::Tended { operator, .. } => {
                std::iter::from_fn(|| operator.try_recv().ok()).collect()
            }
            Self::Keys(_) | Self::None => Vec::new(),
        }
    }
}

async fn next_key(keys: Option<&mut Box<EventStream>>) -> Heard {
    let Some(keys) = keys else { return std::future::pending().await };
    match keys.next().await {
        Some(Ok(event)) => Heard::Key(event),
        // The terminal is gone; a signal tells so as well.
        Some(Err(_)) | None => std::future::pending().await,
    }
}

async fn next_word(operator: &mut mpsc::Receiver<Said>) -> Heard {
    match operator.recv().await {
        Some(said) => Heard::Said(vec![said]),
        None => std::future::pending().await,
    }
}

/// Standard input, read a line at a time.
pub struct StdinWords {
    /// Says that there is something to read. Holds one, and the watcher waits until it was read.
    wake: mpsc::Receiver<()>,
    go_on: blocking::SyncSender<()>,
    held: Vec<u8>,
    has_ended: bool,
}

impl StdinWords {
    /// Begins to watch standard input.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn start() -> io::Result<Self> {
        let (waker, wake) = mpsc::channel(1);
        let (go_on, watcher) = blocking::sync_channel(1);
        thread::Builder::new().name("words".to_owned()).spawn(move || {
            while wait_for_input(None) && waker.blocking_send(()).is_ok() && watcher.recv().is_ok() {}
        })?;
        Ok(Self { wake, go_on, held: Vec::new(), has_ended: false })
    }

    async fn next(&mut self) -> Vec<Said> {
        if self.has_ended || self.wake.recv().await.is_none() {
            return std::future::pending().await;
        }
        let said = self.drain();
        if !self.has_ended {
            // It holds one and the watcher takes it before it wakes anyone again.
            let _ = self.go_on.try_send(());
        }
        said
    }

    fn drain(&mut self) -> Vec<Said> {
        let mut buffer = [0; 512];
        while !self.has_ended && wait_for_input(Some(&Timespec { tv_sec: 0, tv_nsec: 0 })) {
            match rustix::io::read(rustix::stdio::stdin(), &mut buffer) {
                Ok(0) => self.has_ended = true,
                Ok(count) => self.held.extend_from_slice(&buffer[..count]),
                Err(rustix::io::Errno::INTR) => {}
                Err(_) => self.has_ended = true,
            }
        }
        lines_of(&mut self.held, self.has_ended).iter().filter_map(|line| said(line)).collect()
    }
}

/// Waits until standard input can be read (or has ended), at most `limit`; `false` when it cannot.
fn wait_for_input(limit: Option<&Timespec>) -> bool {
    let stdin = rustix::stdio::stdin();
    loop {
        let mut ports = [PollFd::new(&stdin, PollFlags::IN)];
        match poll(&mut ports, limit) {
            Ok(count) => return count > 0,
            Err(rustix::io::Errno::INTR) => {}
            Err(_) => return false,
        }
    }
}

/// Takes the whole lines out of `held`; at the end of input the rest as well.
fn lines_of(held: &mut Vec<u8>, has_ended: bool) -> Vec<String> {
    let whole = match held.iter().rposition(|byte| *byte == b'\n') {
        _ if has_ended || held.len() > 64 * LONGEST => held.len(),
        Some(end) => end + 1,
        None => 0,
    };
    let bytes: Vec<u8> = held.drain(..whole).collect();
    String::from_utf8_lossy(&bytes).lines().map(str::to_owned).collect()
}

/// What a line says; `None` when it is empty.
fn said(line: &str) -> Option<Said> {
    let word = line.trim().to_lowercase();
    Some(match word.as_str() {
        "" => return None,
        "on" => Said::Word(Word::On),
        "off" => Said::Word(Word::Off),
        "pause" => Said::Word(Word::Pause),
        "resume" => Said::Word(Word::Resume),
        "silence" => Said::Word(Word::Silence),
        "replan" => Said::Word(Word::Replan),
        "quit" => Said::Word(Word::Quit),
        _ => Said::Unknown(line.trim().chars().take(LONGEST).collect()),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_word_waits_for_its_rest() {
        let mut held = b"on\nqu".to_vec();
        let first = lines_of(&mut held, false);
        held.extend_from_slice(b"it\r\n");
        assert_eq!((first, lines_of(&mut held, false)), (vec!["on".to_owned()], vec!["quit".to_owned()]));
    }

    #[test]
    fn a_last_word_without_a_line_end_counts() {
        assert_eq!(lines_of(&mut b"quit".to_vec(), true), ["quit"]);
    }

    #[test]
    fn a_word_that_is_not_known_is_kept_as_it_was() {
        assert_eq!(said("  Open "), Some(Said::Unknown("Open".into())));
        assert_eq!(said("ON\r"), Some(Said::Word(Word::On)));
    }
}
