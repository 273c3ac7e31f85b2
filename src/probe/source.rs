//! Where probe lines come from: a serial port, the standard input, a file or a pipe. The consumer sees the same events.

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use tokio::sync::mpsc::{Sender, error::TrySendError};

use super::feed::{Feed, Lost, PortEvent, Told};
use super::lines::Start;
use super::port::{PortReader, Stoppable, Stopped};
use super::set::PortSpec;

/// Path that means the standard input.
pub const STANDARD_INPUT: &str = "-";

/// A port's path as people are told it.
#[must_use]
pub fn in_words(path: &str) -> &str {
    if path == STANDARD_INPUT { "standard input" } else { path }
}

/// A source being read. Dropping it, or the receiver, ends its thread; one that waits for standard input or a pipe
/// ends with the next bytes.
#[derive(Debug)]
pub enum Source {
    /// A serial port.
    Port(PortReader),
    /// Bytes that come once and end.
    Stream(StreamReader),
}

impl Source {
    /// Opens what the path of `spec` names and begins to read it.
    ///
    /// # Errors
    /// When it cannot be opened now.
    pub fn start(spec: PortSpec, sender: Sender<Told>) -> Result<Self, Lost> {
        if &*spec.path == STANDARD_INPUT {
            return StreamReader::start(std::io::stdin(), spec, sender).map(Self::Stream);
        }
        match kind_of(&spec.path) {
            _ if spec.protocol.is_asked() => PortReader::start(spec, sender).map(Self::Port),
            Kind::Other => PortReader::start(spec, sender).map(Self::Port),
            Kind::Pipe => StreamReader::start_pipe(spec, sender).map(Self::Stream),
            Kind::File => {
                let file = File::open(&*spec.path).map_err(|wrong| refusal(&wrong, &spec))?;
                StreamReader::start(file, spec, sender).map(Self::Stream)
            }
        }
    }

    /// Ends the thread and waits for it, at most [`super::port::STOP_LIMIT`].
    #[must_use = "a thread left behind still holds the source"]
    pub fn stop(self) -> Stopped {
        match self {
            Self::Port(reader) => reader.stop(),
            Self::Stream(mut reader) => reader.thread.stop(),
        }
    }
}

/// A file, pipe or the standard input being read. When the consumer is slow it waits: nothing is dropped.
#[derive(Debug)]
pub struct StreamReader {
    thread: Stoppable,
}

impl StreamReader {
    /// Begins to read `bytes`, from the start of a line, as if they came from the port of `spec`.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn start(bytes: impl Read + Send + 'static, spec: PortSpec, sender: Sender<Told>) -> Result<Self, Lost> {
        let path = Arc::clone(&spec.path);
        let thread = Stoppable::start(&path, move |stop| read_to_end(bytes, spec, &sender, &stop))?;
        Ok(Self { thread })
    }

    /// Begins to read the named pipe of `spec`. Opening one lasts until somebody writes to it, so the thread does it.
    fn start_pipe(spec: PortSpec, sender: Sender<Told>) -> Result<Self, Lost> {
        let path = Arc::clone(&spec.path);
        let thread = Stoppable::start(&path, move |stop| match File::open(&*spec.path) {
            Ok(pipe) => read_to_end(pipe, spec, &sender, &stop),
            Err(wrong) => {
                let why = refusal(&wrong, &spec);
                tell(&spec.path, PortEvent::Lost { why }, &sender, &stop);
            }
        })?;
        Ok(Self { thread })
    }
}

/// What stands at a path.
enum Kind {
    File,
    Pipe,
    Other,
}

fn kind_of(path: &str) -> Kind {
    #[cfg(unix)]
    let is_pipe = |found: &std::fs::Metadata| std::os::unix::fs::FileTypeExt::is_fifo(&found.file_type());
    #[cfg(not(unix))]
    let is_pipe = |_: &std::fs::Metadata| false;
    match std::fs::metadata(path) {
        Ok(found) if found.is_file() => Kind::File,
        Ok(found) if is_pipe(&found) => Kind::Pipe,
        Ok(_) | Err(_) => Kind::Other,
    }
}

fn refusal(wrong: &std::io::Error, spec: &PortSpec) -> Lost {
    let path = Arc::clone(&spec.path);
    match wrong.kind() {
        ErrorKind::NotFound => Lost::Missing { path },
        ErrorKind::PermissionDenied => Lost::NoPermission { path },
        _ => Lost::Refused { path, words: wrong.to_string() },
    }
}

fn read_to_end(mut bytes: impl Read, spec: PortSpec, sender: &Sender<Told>, stop: &AtomicBool) {
    let path = Arc::clone(&spec.path);
    let mut feed = Feed::new(spec, Start::OnALine);
    let mut buffer = [0; 1024];
    let why = loop {
        match bytes.read(&mut buffer) {
            Ok(0) => break Lost::Ended { path: Arc::clone(&path) },
            Ok(count) => {
                for event in feed.take(&buffer[..count]) {
                    if !tell(&path, event, sender, stop) {
                        return;
                    }
                }
            }
            Err(wrong) if wrong.kind() == ErrorKind::Interrupted => {}
            Err(wrong) => break Lost::Unplugged { path: Arc::clone(&path), words: wrong.to_string() },
        }
        if stop.load(Ordering::Relaxed) || sender.is_closed() {
            return;
        }
    };
    for event in feed.end().into_iter().chain([PortEvent::Lost { why }]) {
        if !tell(&path, event, sender, stop) {
            return;
        }
    }
}

/// Tells `event`, waiting for room. Gives whether anybody still listens.
fn tell(path: &Arc<str>, event: PortEvent, sender: &Sender<Told>, stop: &AtomicBool) -> bool {
    let mut told = Told { port: Arc::clone(path), at: Instant::now(), event };
    loop {
        told = match sender.try_send(told) {
            Ok(()) => return true,
            Err(TrySendError::Closed(_)) => return false,
            Err(TrySendError::Full(told)) => told,
        };
        if stop.load(Ordering::Relaxed) {
            return false;
        }
        thread::sleep(Duration::from_millis(2));
    }
}
