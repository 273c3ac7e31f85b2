//! Reads a serial port on a thread of its own, through unplugging and plugging in again.
//!
//! The line is set raw, 8 data bits, no parity, 1 stop bit. Opening does not empty the system's buffer, which may hold
//! readings from an hour ago: it is emptied here, and what comes before the first line end is thrown away. A port that
//! is gone is let go of at once (or the board comes back under another name) and looked for by its path again.

use std::io::{ErrorKind, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use serialport::{ClearBuffer, DataBits, FlowControl, Parity, SerialPort, StopBits};
use tokio::sync::mpsc::Sender;

use super::ask::{Dialogue, Turn};
use super::feed::{Feed, Lost, Outlet, PortEvent, Told};
use super::lines::Start;
use super::set::{self, PortSpec};

/// Longest wait for bytes before the thread looks whether it should stop.
const READ_LIMIT: Duration = Duration::from_millis(100);

/// Shortest wait for bytes, so that a question that is due now does not spin.
const SHORTEST_READ: Duration = Duration::from_millis(1);

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
                    reopen(&spec, None, &why, &mut outlet, &stop)
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

/// A port on which speeds are tried before there is a probe file for it.
pub struct Tryout {
    port: Opened,
    path: Arc<str>,
}

impl Tryout {
    /// Opens the port, which resets many boards.
    ///
    /// # Errors
    /// When it cannot be opened.
    pub fn open(path: &str) -> Result<Self, Lost> {
        let port = Opened::open_at(path, set::USUAL_SPEED, set::Parity::None)?;
        Ok(Self { port, path: path.into() })
    }

    /// Sets speed and parity and forgets what came before.
    ///
    /// # Errors
    /// When the port does not take them.
    pub fn set_line(&mut self, speed: u32, parity: set::Parity) -> Result<(), Lost> {
        let port = &mut self.port.port;
        let set = port.set_baud_rate(speed).and_then(|()| port.set_parity(parity_of(parity)));
        set.and_then(|()| port.clear(ClearBuffer::Input)).map_err(|wrong| refusal(&wrong, &self.path, speed))
    }

    /// Sends `question`, which may be nothing, listens for `span` and gives what came.
    ///
    /// # Errors
    /// When the port is lost.
    pub fn exchange(&mut self, question: &[u8], span: Duration) -> Result<Vec<u8>, Lost> {
        let lost = |words| Lost::Unplugged { path: Arc::clone(&self.path), words };
        if let (false, Some(words)) = (question.is_empty(), self.port.send(question)) {
            return Err(lost(words));
        }
        let until = Instant::now() + span;
        let (mut heard, mut buffer) = (Vec::new(), [0; 1024]);
        while let Some(left) = until.checked_duration_since(Instant::now()) {
            match self.port.look(&mut buffer, left) {
                Look::Bytes(count) => heard.extend_from_slice(&buffer[..count]),
                Look::Silent => {}
                Look::Gone(words) => return Err(lost(words)),
            }
        }
        Ok(heard)
    }
}

fn parity_of(parity: set::Parity) -> Parity {
    match parity {
        set::Parity::None => Parity::None,
        set::Parity::Even => Parity::Even,
        set::Parity::Odd => Parity::Odd,
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
    /// A name that stays the board's own when it comes back under another number, if the system keeps one.
    lasting: Option<PathBuf>,
}

/// Where the system keeps names made of a board's maker, kind and serial number.
const LASTING_NAMES: &str = "/dev/serial/by-id";

/// The name on `shelf` that leads to `node`.
fn lasting_name(shelf: &Path, node: &Path) -> Option<PathBuf> {
    let names = std::fs::read_dir(shelf).ok()?.flatten().map(|entry| entry.path());
    names.into_iter().find(|name| name.canonicalize().is_ok_and(|found| found == node))
}

impl Opened {
    fn open(spec: &PortSpec) -> Result<Self, Lost> {
        Self::open_at(&spec.path, spec.speed, spec.parity)
    }

    fn open_at(name: &str, speed: u32, parity: set::Parity) -> Result<Self, Lost> {
        let path = || Arc::from(name);
        match std::fs::metadata(name) {
            Ok(found) if found.is_dir() => return Err(Lost::NotAPort { path: path(), what: "a directory" }),
            Ok(found) if found.is_file() => return Err(Lost::NotAPort { path: path(), what: "a file" }),
            Err(wrong) if wrong.kind() == ErrorKind::NotFound => return Err(Lost::Missing { path: path() }),
            Ok(_) | Err(_) => {}
        }
        let opened = serialport::new(name, speed)
            .data_bits(DataBits::Eight)
            .parity(parity_of(parity))
            .stop_bits(StopBits::One)
            .flow_control(FlowControl::None)
            .timeout(READ_LIMIT)
            .open_native()
            .and_then(|port| port.clear(ClearBuffer::Input).map(|()| port));
        let port = opened.map_err(|wrong| refusal(&wrong, name, speed))?;
        let node = node_of(name);
        let lasting = node.as_ref().and_then(|node| lasting_name(Path::new(LASTING_NAMES), node));
        Ok(Self { port, node, lasting })
    }

    /// Sends `bytes`, waiting at most [`READ_LIMIT`] for room. Gives why the port is gone, if it is; bytes for which there
    /// was no room are lost, and the missing answer will be noticed.
    fn send(&mut self, bytes: &[u8]) -> Option<String> {
        let sent =
            self.port.set_timeout(READ_LIMIT).map_err(std::io::Error::from).and_then(|()| self.port.write_all(bytes));
        match sent {
            Ok(()) => None,
            Err(wrong)
                if matches!(wrong.kind(), ErrorKind::TimedOut | ErrorKind::Interrupted | ErrorKind::WouldBlock) =>
            {
                None
            }
            Err(wrong) => Some(wrong.to_string()),
        }
    }

    /// Reads what is there, waiting at most `limit` for it, and at most [`READ_LIMIT`].
    fn look(&mut self, buffer: &mut [u8], limit: Duration) -> Look {
        if let Err(wrong) = self.port.set_timeout(limit.clamp(SHORTEST_READ, READ_LIMIT)) {
            return Look::Gone(wrong.to_string());
        }
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

/// What is said on a port: lines that come by themselves, or questions and answers.
enum Talk {
    Lines(Feed),
    Asked { dialogue: Box<Dialogue>, since: Instant },
}

impl Talk {
    fn new(spec: &PortSpec) -> Self {
        if spec.protocol.is_asked() {
            let dialogue = Box::new(Dialogue::new(spec.clone(), Duration::ZERO));
            return Self::Asked { dialogue, since: Instant::now() };
        }
        Self::Lines(Feed::new(spec.clone(), Start::MidLine))
    }

    /// Takes what came, which may be nothing.
    fn advance(&mut self, bytes: &[u8]) -> Turn {
        match self {
            Self::Lines(feed) => Turn { events: feed.take(bytes), wait: READ_LIMIT, ..Turn::default() },
            Self::Asked { dialogue, since } => dialogue.advance(since.elapsed(), bytes),
        }
    }

    fn restart(&mut self) {
        match self {
            Self::Lines(feed) => feed.restart(),
            Self::Asked { dialogue, since } => dialogue.restart(since.elapsed()),
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

fn refusal(wrong: &serialport::Error, name: &str, speed: u32) -> Lost {
    let path = Arc::from(name);
    match wrong.kind() {
        serialport::ErrorKind::Io(ErrorKind::NotFound) => Lost::Missing { path },
        serialport::ErrorKind::Io(ErrorKind::PermissionDenied) => Lost::NoPermission { path },
        serialport::ErrorKind::NoDevice | serialport::ErrorKind::Io(ErrorKind::WouldBlock) => Lost::Busy { path },
        // The system's word (ENOTTY) for a device that has no line settings.
        _ if wrong.description == "Not a typewriter" => Lost::NotAPort { path, what: "another kind of device" },
        _ => Lost::Refused { path, words: format!("at {speed} baud: {wrong}") },
    }
}

/// Reads until asked to stop, over any number of losses.
fn follow(mut port: Opened, spec: &PortSpec, sender: Sender<Told>, stop: &AtomicBool) {
    let mut outlet = Outlet::new(Arc::clone(&spec.path), sender);
    let mut talk = Talk::new(spec);
    while let Ended::Lost(why) = read_until_lost(&mut port, &mut talk, &mut outlet, stop) {
        let lasting = port.lasting.clone();
        drop(port);
        outlet.tell(PortEvent::Lost { why: why.clone() });
        match reopen(spec, lasting.as_deref(), &why, &mut outlet, stop) {
            Some(found) => port = found,
            None => return,
        }
        talk.restart();
    }
}

fn read_until_lost(port: &mut Opened, talk: &mut Talk, outlet: &mut Outlet, stop: &AtomicBool) -> Ended {
    let path = outlet.port();
    let lost = |words: String| Ended::Lost(Lost::Unplugged { path: Arc::clone(&path), words });
    let mut buffer = [0; 1024];
    let mut heard = Instant::now();
    let mut limit = Duration::ZERO;
    loop {
        if stop.load(Ordering::Relaxed) || outlet.is_closed() {
            return Ended::Asked;
        }
        outlet.settle();
        let count = match port.look(&mut buffer, limit) {
            Look::Bytes(count) => {
                heard = Instant::now();
                count
            }
            Look::Silent if heard.elapsed() > LOOK_AFTER => {
                heard = Instant::now();
                match node_of(&path).or_else(|| node_of(port.lasting.as_ref()?.to_str()?)) {
                    None => return lost("its path is gone".to_owned()),
                    found if found != port.node => return Ended::Lost(Lost::Moved { path }),
                    Some(_) => 0,
                }
            }
            Look::Silent => 0,
            Look::Gone(words) => return lost(words),
        };
        let turn = talk.advance(&buffer[..count]);
        turn.events.into_iter().for_each(|event| outlet.tell(event));
        limit = turn.wait;
        if let (false, Some(words)) = (turn.send.is_empty(), port.send(&turn.send)) {
            return lost(words);
        }
    }
}

/// Tries to open the port again until it is there or the thread should stop: by its path, and where nothing is there by
/// the `lasting` name of the board that was lost. A new reason is told once.
fn reopen(
    spec: &PortSpec,
    lasting: Option<&Path>,
    told: &Lost,
    outlet: &mut Outlet,
    stop: &AtomicBool,
) -> Option<Opened> {
    let by_lasting = |missing: Lost| match lasting.and_then(Path::to_str) {
        Some(name) if matches!(missing, Lost::Missing { .. }) => Opened::open_at(name, spec.speed, spec.parity),
        _ => Err(missing),
    };
    let mut told = told.clone();
    let mut wait = FIRST_RETRY;
    while rest(wait, outlet, stop) {
        match Opened::open(spec).or_else(by_lasting) {
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
        thread::sleep(Duration::from_millis(50));
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_board_is_known_by_the_name_that_leads_to_it() {
        let shelf = tempfile::tempdir().expect("a directory");
        let (node, other) = (shelf.path().join("ttyUSB3"), shelf.path().join("ttyUSB4"));
        let names = shelf.path().join("by-id");
        std::fs::create_dir(&names).expect("a directory");
        for (name, node) in [("usb-reader-7", &node), ("usb-other", &other)] {
            std::fs::write(node, "").expect("a file");
            std::os::unix::fs::symlink(node, names.join(name)).expect("a link");
        }
        let node = node.canonicalize().expect("a path");
        assert_eq!(lasting_name(&names, &node), Some(names.join("usb-reader-7")));
        assert_eq!(lasting_name(&names, Path::new("/dev/null")), None);
    }

    #[test]
    fn each_refusal_of_the_system_is_told_as_what_it_is() {
        use serialport::{Error, ErrorKind as Kind};
        let kinds =
            [Kind::Io(ErrorKind::NotFound), Kind::Io(ErrorKind::PermissionDenied), Kind::NoDevice, Kind::InvalidInput];
        let told =
            kinds.map(|kind| refusal(&Error::new(kind, "words of the system"), "/dev/ttyUSB0", 38_400).to_string());
        insta::assert_snapshot!(told.join("\n"));
    }
}
