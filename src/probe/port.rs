//! Reads a serial port on a thread of its own, through unplugging and plugging in again.
//!
//! The line is set raw, 8 data bits, no parity, 1 stop bit. Opening does not empty the system's buffer, which may hold
//! readings from an hour ago: it is emptied here, and what comes before the first line end is thrown away. A port that
//! is gone is let go of at once (or the board comes back under another name) and looked for by its path again.

use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use serialport::{ClearBuffer, DataBits, FlowControl, Parity, SerialPort, StopBits};
use tokio::sync::mpsc::Sender;

use super::feed::{Feed, Lost, Outlet, PortEvent, Told};
use super::lines::Start;
use super::set::PortSpec;

/// Longest wait for bytes before the thread looks whether it should stop.
const READ_LIMIT: Duration = Duration::from_millis(100);

/// Silence after which the path is looked at: a cable that is pulled does not always say so.
const LOOK_AFTER: Duration = Duration::from_secs(1);

/// First wait before a lost port is tried again; it doubles up to `LONGEST_RETRY`.
const FIRST_RETRY: Duration = Duration::from_millis(250);

/// Longest wait between two tries of a lost port.
const LONGEST_RETRY: Duration = Duration::from_secs(1);

/// Longest that [`PortReader::stop`] waits for the thread. The thread needs about 0.1 s; a driver that hangs
/// is left behind.
pub const STOP_LIMIT: Duration = Duration::from_secs(1);

/// A port being read. Dropping it, or the receiver, ends the thread within about 0.2 s.
#[derive(Debug)]
pub struct PortReader {
    thread: Stoppable,
}

impl PortReader {
    /// Opens the port of `spec` and begins to read it.
    ///
    /// # Errors
    /// When the port cannot be opened now. Once it has been, losing it is an event, not an error.
    pub fn start(spec: PortSpec, sender: Sender<Told>) -> Result<Self, Lost> {
        let port = Opened::open(&spec)?;
        let path = Arc::clone(&spec.path);
        let thread = Stoppable::start(&path, move |stop| follow(port, &spec, sender, &stop))?;
        Ok(Self { thread })
    }

    /// Begins to read the port of `spec`, which may not be there yet: then that is the first event.
    ///
    /// # Errors
    /// When the system gives no thread.
    pub fn start_waiting(spec: PortSpec, sender: Sender<Told>) -> Result<Self, Lost> {
        let path = Arc::clone(&spec.path);
        let thread = Stoppable::start(&path, move |stop| {
            let mut outlet = Outlet::new(Arc::clone(&spec.path), sender.clone());
            let port = match Opened::open(&spec) {
                Ok(port) => Some(port),
                Err(why) => {
                    outlet.tell(PortEvent::Lost { why: why.clone() });
                    reopen(&spec, &why, &mut outlet, &stop)
                }
            };
            if let Some(port) = port {
                follow(port, &spec, sender, &stop);
            }
        })?;
        Ok(Self { thread })
    }

    /// Ends the thread and waits for it, at most [`STOP_LIMIT`].
    #[must_use = "a thread left behind still holds the port"]
    pub fn stop(mut self) -> Stopped {
        self.thread.stop()
    }
}

/// What became of a thread that was asked to end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stopped {
    /// It has ended, and what it read is free again.
    Ended,
    /// It hangs in the system and was left behind; it ends with the next bytes, or with the program.
    LeftBehind,
}

/// A thread with a flag that asks it to end.
#[derive(Debug)]
pub(super) struct Stoppable {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Stoppable {
    pub(super) fn start(path: &Arc<str>, body: impl FnOnce(Arc<AtomicBool>) + Send + 'static) -> Result<Self, Lost> {
        let stop = Arc::new(AtomicBool::new(false));
        let seen = Arc::clone(&stop);
        let started = thread::Builder::new().name("probe".to_owned()).spawn(move || body(seen));
        let thread = started.map_err(|wrong| Lost::Refused { path: Arc::clone(path), words: wrong.to_string() })?;
        Ok(Self { stop, thread: Some(thread) })
    }

    /// Asks the thread to end and waits at most [`STOP_LIMIT`] for it.
    pub(super) fn stop(&mut self) -> Stopped {
        self.stop.store(true, Ordering::Relaxed);
        let asked = Instant::now();
        while self.thread.as_ref().is_some_and(|thread| !thread.is_finished()) {
            if asked.elapsed() > STOP_LIMIT {
                return Stopped::LeftBehind;
            }
            thread::sleep(Duration::from_millis(5));
        }
        if let Some(Err(panic)) = self.thread.take().map(JoinHandle::join) {
            std::panic::resume_unwind(panic);
        }
        Stopped::Ended
    }
}

impl Drop for Stoppable {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

/// A port that is open, and what its path led to at that time.
struct Opened {
    port: serialport::TTYPort,
    node: Option<PathBuf>,
}

impl Opened {
    fn open(spec: &PortSpec) -> Result<Self, Lost> {
        let path = || Arc::clone(&spec.path);
        match std::fs::metadata(&*spec.path) {
            Ok(found) if found.is_dir() => return Err(Lost::NotAPort { path: path(), what: "a directory" }),
            Ok(found) if found.is_file() => return Err(Lost::NotAPort { path: path(), what: "a file" }),
            Err(wrong) if wrong.kind() == ErrorKind::NotFound => return Err(Lost::Missing { path: path() }),
            Ok(_) | Err(_) => {}
        }
        let opened = serialport::new(&*spec.path, spec.speed)
            .data_bits(DataBits::Eight)
            .parity(Parity::None)
            .stop_bits(StopBits::One)
            .flow_control(FlowControl::None)
            .timeout(READ_LIMIT)
            .open_native()
            .and_then(|port| port.clear(ClearBuffer::Input).map(|()| port));
        let port = opened.map_err(|wrong| refusal(&wrong, spec))?;
        Ok(Self { port, node: node_of(&spec.path) })
    }

    /// Reads what is there, waiting at most [`READ_LIMIT`] for it.
    fn look(&mut self, buffer: &mut [u8]) -> Look {
        match self.port.read(buffer) {
            Ok(0) => Look::Gone("it only gives ends of file".to_owned()),
            Ok(count) => Look::Bytes(count),
            Err(wrong) => match wrong.kind() {
                ErrorKind::TimedOut | ErrorKind::Interrupted | ErrorKind::WouldBlock => Look::Silent,
                ErrorKind::BrokenPipe => Look::Gone("hung up".to_owned()),
                _ => Look::Gone(wrong.to_string()),
            },
        }
    }
}

/// What one look at a port gives.
enum Look {
    Bytes(usize),
    Silent,
    Gone(String),
}

/// Why reading stopped.
enum Ended {
    Asked,
    Lost(Lost),
}

/// The device that `path` leads to now.
fn node_of(path: &str) -> Option<PathBuf> {
    Path::new(path).canonicalize().ok()
}

fn refusal(wrong: &serialport::Error, spec: &PortSpec) -> Lost {
    let path = Arc::clone(&spec.path);
    match wrong.kind() {
        serialport::ErrorKind::Io(ErrorKind::NotFound) => Lost::Missing { path },
        serialport::ErrorKind::Io(ErrorKind::PermissionDenied) => Lost::NoPermission { path },
        serialport::ErrorKind::NoDevice | serialport::ErrorKind::Io(ErrorKind::WouldBlock) => Lost::Busy { path },
        // The system's word (ENOTTY) for a device that has no line settings.
        _ if wrong.description == "Not a typewriter" => Lost::NotAPort { path, what: "another kind of device" },
        _ => Lost::Refused { path, words: format!("at {} baud: {wrong}", spec.speed) },
    }
}

/// Reads until asked to stop, over any number of losses.
fn follow(mut port: Opened, spec: &PortSpec, sender: Sender<Told>, stop: &AtomicBool) {
    let mut outlet = Outlet::new(Arc::clone(&spec.path), sender);
    let mut feed = Feed::new(spec.clone(), Start::MidLine);
    while let Ended::Lost(why) = read_until_lost(&mut port, &mut feed, &mut outlet, stop) {
        drop(port);
        outlet.tell(PortEvent::Lost { why: why.clone() });
        match reopen(spec, &why, &mut outlet, stop) {
            Some(found) => port = found,
            None => return,
        }
        feed.restart();
    }
}

fn read_until_lost(port: &mut Opened, feed: &mut Feed, outlet: &mut Outlet, stop: &AtomicBool) -> Ended {
    let path = outlet.port();
    let mut buffer = [0; 1024];
    let mut heard = Instant::now();
    loop {
        if stop.load(Ordering::Relaxed) || outlet.is_closed() {
            return Ended::Asked;
        }
        outlet.settle();
        match port.look(&mut buffer) {
            Look::Bytes(count) => {
                heard = Instant::now();
                feed.take(&buffer[..count]).into_iter().for_each(|event| outlet.tell(event));
            }
            Look::Silent if heard.elapsed() > LOOK_AFTER => {
                heard = Instant::now();
                match node_of(&path) {
                    None => return Ended::Lost(Lost::Unplugged { path, words: "its path is gone".to_owned() }),
                    found if found != port.node => return Ended::Lost(Lost::Moved { path }),
                    Some(_) => {}
                }
            }
            Look::Silent => {}
            Look::Gone(words) => return Ended::Lost(Lost::Unplugged { path, words }),
        }
    }
}

/// Tries to open the port again until it is there or the thread should stop. A new reason is told once.
fn reopen(spec: &PortSpec, told: &Lost, outlet: &mut Outlet, stop: &AtomicBool) -> Option<Opened> {
    let mut told = told.clone();
    let mut wait = FIRST_RETRY;
    while rest(wait, outlet, stop) {
        match Opened::open(spec) {
            Ok(port) => {
                outlet.tell(PortEvent::Back);
                return Some(port);
            }
            // That nothing is there is what "unplugged" says already.
            Err(Lost::Missing { .. }) => {}
            Err(why) if why == told => {}
            Err(why) => {
                outlet.tell(PortEvent::Lost { why: why.clone() });
                told = why;
            }
        }
        wait = (wait * 2).min(LONGEST_RETRY);
    }
    None
}

/// Waits, and gives whether to go on.
fn rest(span: Duration, outlet: &mut Outlet, stop: &AtomicBool) -> bool {
    let began = Instant::now();
    while !stop.load(Ordering::Relaxed) && !outlet.is_closed() {
        outlet.settle();
        if began.elapsed() >= span {
            return true;
        }
        thread::sleep(Duration::from_millis(20));
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_refusal_of_the_system_is_told_as_what_it_is() {
        use serialport::{Error, ErrorKind as Kind};
        let text = "format = \"firstheat probes 1\"\n[[port]]\npath = \"/dev/ttyUSB0\"\n[[port.channel]]\n\
                    name = \"gas\"\nplace = \"chamber-gas\"\ntype = \"K\"\n";
        let spec = crate::probe::file::parse(text).expect("a good probe file").ports.remove(0);
        let kinds =
            [Kind::Io(ErrorKind::NotFound), Kind::Io(ErrorKind::PermissionDenied), Kind::NoDevice, Kind::InvalidInput];
        let told = kinds.map(|kind| refusal(&Error::new(kind, "words of the system"), &spec).to_string());
        insta::assert_snapshot!(told.join("\n"));
    }
}
