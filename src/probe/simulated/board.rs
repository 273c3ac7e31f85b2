//! Runs a simulated furnace in time and sends its lines, as a board would.

use std::io::{ErrorKind, Read, Write};
use std::str::FromStr;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TryRecvError, sync_channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use serialport::{SerialPort, TTYPort};

use super::{Burner, SimulateError, SimulatedFurnace};
use crate::units::Seconds;

/// What a simulated furnace can be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// Light or shut the burner.
    Turn(Burner),
    /// In lockstep: send the next line.
    Next,
    /// End.
    Quit,
}

impl FromStr for Order {
    type Err = UnknownOrder;

    fn from_str(word: &str) -> Result<Self, UnknownOrder> {
        match word.trim() {
            "on" => Ok(Self::Turn(Burner::Lit)),
            "off" => Ok(Self::Turn(Burner::Shut)),
            "next" => Ok(Self::Next),
            "quit" => Ok(Self::Quit),
            other => Err(UnknownOrder { found: other.to_owned() }),
        }
    }
}

/// A word that is no order.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("found {found:?}, expected on, off, next or quit; write one of them")]
pub struct UnknownOrder {
    /// The word.
    pub found: String,
}

/// How fast a simulated furnace lives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// A second is a second.
    Real,
    /// This many times as fast as real.
    Times(f64),
    /// One period for each [`Order::Next`].
    Lockstep,
}

/// How many orders wait; whoever gives more waits too.
const ORDERS_HELD: usize = 64;

/// A simulated furnace that sends its lines to a pseudo-terminal from a thread of its own. Dropping it ends the thread
/// and with it the port, which its reader then sees unplugged.
#[derive(Debug)]
pub struct BehindPort {
    path: String,
    orders: SyncSender<Order>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<Result<(), SimulateError>>>,
}

impl BehindPort {
    /// Starts `furnace` at `pace`.
    ///
    /// # Errors
    /// When the system gives no pseudo-terminal or thread, or the pace is none.
    pub fn start(furnace: SimulatedFurnace, pace: Pace) -> Result<Self, SimulateError> {
        if let Pace::Times(times) = pace
            && !(times > 0.0 && times.is_finite())
        {
            return Err(SimulateError::NotPositive { what: "the pace", found: times });
        }
        let no_port = |wrong: &dyn std::fmt::Display| SimulateError::NoPort { words: wrong.to_string() };
        let (mut board, near) = TTYPort::pair().map_err(|wrong| no_port(&wrong))?;
        let path = near.name().ok_or_else(|| no_port(&"it has no name"))?;
        let (orders, received) = sync_channel(ORDERS_HELD);
        let stop = Arc::new(AtomicBool::new(false));
        let seen = Arc::clone(&stop);
        let body = move || {
            // Kept open: a pseudo-terminal that nobody has open refuses what is sent.
            let _near = near;
            if furnace.board.protocol.is_asked() {
                return answer(furnace, pace, &received, &mut board, &seen);
            }
            run(furnace, pace, &received, &mut Stoppable { out: &mut board, stop: &seen })
        };
        let thread = thread::Builder::new().name("furnace".to_owned()).spawn(body).map_err(|wrong| no_port(&wrong))?;
        Ok(Self { path, orders, stop, thread: Some(thread) })
    }

    /// Path of the port it sends to.
    #[must_use]
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Where its orders go.
    #[must_use]
    pub fn orders(&self) -> &SyncSender<Order> {
        &self.orders
    }

    /// Ends it, waits for its thread (a period of the wall's solution at most), and gives how it went.
    ///
    /// # Errors
    /// When the wall could not be solved or a line not sent.
    pub fn stop(mut self) -> Result<(), SimulateError> {
        self.ask_to_stop();
        match self.thread.take().map(JoinHandle::join) {
            Some(Ok(outcome)) => outcome,
            Some(Err(panic)) => std::panic::resume_unwind(panic),
            None => Ok(()),
        }
    }

    fn ask_to_stop(&self) {
        self.stop.store(true, Ordering::Relaxed);
        // A full queue keeps the thread awake by itself, and a gone receiver means that it has ended.
        let _ = self.orders.try_send(Order::Quit);
    }
}

impl Drop for BehindPort {
    fn drop(&mut self) {
        self.ask_to_stop();
    }
}

/// Sends lines to `out` at `pace` until told to quit or nobody can give orders any more.
///
/// # Errors
/// When the wall cannot be solved or a line not sent.
pub fn run(
    mut furnace: SimulatedFurnace,
    pace: Pace,
    orders: &Receiver<Order>,
    out: &mut impl Write,
) -> Result<(), SimulateError> {
    // A line end in front too: a reader that has just opened the port takes nothing before one.
    let mut send = |line: &str| out.write_all(format!("\r\n{line}\r\n").as_bytes());
    let outcome = match pace {
        Pace::Lockstep => in_lockstep(&mut furnace, orders, &mut send),
        Pace::Real => in_time(&mut furnace, 1.0, orders, &mut send),
        Pace::Times(times) => in_time(&mut furnace, times, orders, &mut send),
    };
    match outcome {
        // The port says so when it is asked to stop while it waits for room.
        Err(SimulateError::Send(wrong)) if wrong.kind() == ErrorKind::ConnectionAborted => Ok(()),
        other => other,
    }
}

type Sent = std::io::Result<()>;

fn in_lockstep(
    furnace: &mut SimulatedFurnace,
    orders: &Receiver<Order>,
    send: &mut impl FnMut(&str) -> Sent,
) -> Result<(), SimulateError> {
    loop {
        match orders.recv() {
            Ok(Order::Turn(burner)) => furnace.turn(burner),
            Ok(Order::Next) => send(&furnace.next_line()?)?,
            Ok(Order::Quit) | Err(_) => return Ok(()),
        }
    }
}

/// Longest wait for a question before orders and the clock are looked at.
const LISTEN: Duration = Duration::from_millis(5);

/// Answers what is asked on `port`, and lives at `pace`, until told to quit.
fn answer(
    mut furnace: SimulatedFurnace,
    pace: Pace,
    orders: &Receiver<Order>,
    port: &mut TTYPort,
    stop: &AtomicBool,
) -> Result<(), SimulateError> {
    let began = Instant::now();
    let (mut held, mut buffer) = (Vec::new(), [0; 256]);
    port.set_timeout(LISTEN).map_err(std::io::Error::from)?;
    while !stop.load(Ordering::Relaxed) {
        let now_s = began.elapsed().as_secs_f64();
        let now = match pace {
            Pace::Lockstep => furnace.elapsed(),
            Pace::Real => Seconds(now_s),
            Pace::Times(times) => Seconds(now_s * times),
        };
        match orders.try_recv() {
            Ok(Order::Turn(burner)) => {
                furnace.advance_to(now)?;
                furnace.turn(burner);
            }
            Ok(Order::Next) => furnace.advance_to(furnace.elapsed() + furnace.habits.period)?,
            Ok(Order::Quit) | Err(TryRecvError::Disconnected) => return Ok(()),
            Err(TryRecvError::Empty) => {}
        }
        // In whole periods: the wall is dear to solve.
        while (furnace.elapsed() + furnace.habits.period).0 <= now.0 && !stop.load(Ordering::Relaxed) {
            furnace.advance_to(furnace.elapsed() + furnace.habits.period)?;
        }
        match port.read(&mut buffer) {
            Ok(count) => held.extend_from_slice(&buffer[..count]),
            Err(wrong) if matches!(wrong.kind(), ErrorKind::TimedOut | ErrorKind::Interrupted) => {}
            Err(wrong) => return Err(wrong.into()),
        }
        let answers = furnace.answer(&mut held);
        match (Stoppable { out: &mut *port, stop }).write_all(&answers) {
            Err(wrong) if wrong.kind() == ErrorKind::ConnectionAborted => return Ok(()),
            other => other?,
        }
    }
    Ok(())
}

/// Longest wait for a line that is due: a pace near 0 must not overflow the clock.
const FAR_OFF: Duration = Duration::from_secs(365 * 24 * 3600);

/// Lines fall due on a fixed beat; an order between two takes effect at its own moment. A wall that is slower to solve
/// than the pace makes lines late, never wrong.
fn in_time(
    furnace: &mut SimulatedFurnace,
    times: f64,
    orders: &Receiver<Order>,
    send: &mut impl FnMut(&str) -> Sent,
) -> Result<(), SimulateError> {
    let began = Instant::now();
    let mut due = furnace.elapsed();
    loop {
        due = due + furnace.habits.period;
        let moment = began + Duration::try_from_secs_f64(due.0 / times).unwrap_or(FAR_OFF).min(FAR_OFF);
        loop {
            let order = match orders.recv_timeout(moment.saturating_duration_since(Instant::now())) {
                Ok(order) => order,
                Err(RecvTimeoutError::Timeout) => break,
                Err(RecvTimeoutError::Disconnected) => return Ok(()),
            };
            match order {
                Order::Turn(burner) => {
                    let now = Seconds((began.elapsed().as_secs_f64() * times).min(due.0));
                    furnace.advance_to(now)?;
                    furnace.turn(burner);
                }
                Order::Next => {}
                Order::Quit => return Ok(()),
            }
        }
        furnace.advance_to(due)?;
        send(&furnace.line())?;
    }
}

/// A port that waits for room as long as nobody asks it to stop.
struct Stoppable<'p> {
    out: &'p mut TTYPort,
    stop: &'p AtomicBool,
}

impl Write for Stoppable<'_> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        loop {
            if self.stop.load(Ordering::Relaxed) {
                return Err(ErrorKind::ConnectionAborted.into());
            }
            match self.out.write(bytes) {
                Err(wrong) if matches!(wrong.kind(), ErrorKind::TimedOut | ErrorKind::WouldBlock) => {}
                other => return other,
            }
        }
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}
