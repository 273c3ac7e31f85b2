//! Elapsed time: from this computer's monotonic clock, or from the time that comes with the probe lines.
//!
//! Wall time is a label and never decides anything. Elapsed time is rounded to milliseconds here, once.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;

use chrono::Local;
use tokio::time::Instant;

use crate::units::Seconds;

/// Time since the heat-up began, on the monotonic clock (or on the paused clock of a test). Time that the computer slept
/// counts too: the furnace did not sleep.
#[derive(Clone, Debug)]
pub struct Stopwatch {
    start: Instant,
    /// Elapsed time at the start: more than 0 when a heat-up is taken up again.
    begun_at: Seconds,
    sleep: SleepClock,
    asleep_at_start: Seconds,
}

/// Tells how long the computer has slept since it was switched on.
#[derive(Clone, Debug)]
pub enum SleepClock {
    /// The system tells.
    System,
    /// A test tells, in milliseconds.
    Told(Arc<AtomicU64>),
}

impl SleepClock {
    /// Time slept since the computer was switched on; 0 where the system does not tell.
    #[must_use]
    pub fn asleep(&self) -> Seconds {
        match self {
            Self::System => system_asleep(),
            Self::Told(ms) => Seconds(ms.load(Ordering::Relaxed) as f64 / 1000.0),
        }
    }
}

/// The clock that goes on in sleep, less the one that stands: they are read one after the other, so less than a
/// quarter of a second is no sleep.
#[cfg(target_os = "linux")]
fn system_asleep() -> Seconds {
    use rustix::time::{ClockId, Timespec, clock_gettime};
    let seconds = |time: Timespec| time.tv_sec as f64 + time.tv_nsec as f64 * 1e-9;
    let awake_s = seconds(clock_gettime(ClockId::Monotonic));
    let asleep_s = seconds(clock_gettime(ClockId::Boottime)) - awake_s;
    Seconds((asleep_s * 4.0).floor().max(0.0) / 4.0)
}

#[cfg(not(target_os = "linux"))]
fn system_asleep() -> Seconds {
    Seconds(0.0)
}

impl Stopwatch {
    /// Begins now.
    #[must_use]
    pub fn start() -> Self {
        Self::at(Seconds(0.0), SleepClock::System)
    }

    /// Goes on from an elapsed time, with sleep told by `sleep`.
    #[must_use]
    pub fn at(begun_at: Seconds, sleep: SleepClock) -> Self {
        Self { start: Instant::now(), begun_at, asleep_at_start: sleep.asleep(), sleep }
    }

    /// Time since the heat-up began.
    #[must_use]
    pub fn elapsed(&self) -> Seconds {
        to_ms(self.begun_at + self.asleep() + Seconds(self.start.elapsed().as_secs_f64()))
    }

    /// How long the computer has slept since the start.
    #[must_use]
    pub fn asleep(&self) -> Seconds {
        Seconds((self.sleep.asleep() - self.asleep_at_start).0.max(0.0))
    }

    /// The moment of an elapsed time, if the computer stays awake.
    #[must_use]
    pub fn moment(&self, elapsed: Seconds) -> Instant {
        let awake = elapsed - self.begun_at - self.asleep();
        self.start + Duration::try_from_secs_f64(awake.0.max(0.0)).unwrap_or(Duration::from_secs(86_400))
    }
}

/// Elapsed time as the probe lines carry it.
#[derive(Clone, Copy, Debug, Default)]
pub struct LineTime {
    offset: Seconds,
    last_line: Option<Seconds>,
    elapsed: Seconds,
}

/// What the time of a line means.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LineClock {
    /// It goes on.
    Goes(Seconds),
    /// It jumped back, as after a restart of the board; elapsed time goes on from where it was.
    Restarted(Seconds),
}

impl LineTime {
    /// Goes on from an elapsed time that the lines had told before.
    #[must_use]
    pub fn at(elapsed: Seconds) -> Self {
        Self { offset: Seconds(0.0), last_line: Some(elapsed), elapsed }
    }

    /// Takes in the time of the next line.
    pub fn take(&mut self, line: Seconds) -> LineClock {
        let line = if line.0.is_finite() { line } else { self.last_line.unwrap_or_default() };
        let restarted = self.last_line.is_some_and(|last| line < last);
        if restarted {
            self.offset = self.elapsed - line;
        }
        self.last_line = Some(line);
        let elapsed = to_ms(Seconds((line + self.offset).0.max(self.elapsed.0)));
        self.elapsed = elapsed;
        if restarted { LineClock::Restarted(elapsed) } else { LineClock::Goes(elapsed) }
    }

    /// Elapsed time at the last line; 0 before the first.
    #[must_use]
    pub fn elapsed(&self) -> Seconds {
        self.elapsed
    }
}

/// Today's date where we are, for names of files: "2026-03-14".
#[must_use]
pub fn date_label() -> String {
    Local::now().format("%Y-%m-%d").to_string()
}

/// The wall time where we are, with its offset: a label.
#[must_use]
pub fn wall_time() -> chrono::DateTime<chrono::FixedOffset> {
    Local::now().fixed_offset()
}

fn to_ms(elapsed: Seconds) -> Seconds {
    Seconds((elapsed.0 * 1000.0).round() / 1000.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_time_of_the_lines_is_elapsed_time() {
        let mut time = LineTime::default();
        assert_eq!(time.take(Seconds(12.5)), LineClock::Goes(Seconds(12.5)));
    }

    #[test]
    fn a_board_that_restarts_does_not_turn_time_back() {
        let mut time = LineTime::default();
        time.take(Seconds(100.0));
        let after = [0.0, 1.0].map(|line_s| time.take(Seconds(line_s)));
        assert_eq!(after, [LineClock::Restarted(Seconds(100.0)), LineClock::Goes(Seconds(101.0))]);
    }

    #[tokio::test(start_paused = true)]
    async fn time_asleep_counts() {
        let slept = Arc::new(AtomicU64::new(7000));
        let watch = Stopwatch::at(Seconds(100.0), SleepClock::Told(Arc::clone(&slept)));
        slept.store(67_000, Ordering::Relaxed);
        tokio::time::advance(Duration::from_secs(1)).await;
        assert_eq!(watch.elapsed(), Seconds(161.0));
    }

    #[tokio::test(start_paused = true)]
    async fn the_stopwatch_runs_on_the_clock_of_the_tasks() {
        let watch = Stopwatch::start();
        tokio::time::advance(Duration::from_millis(1500)).await;
        assert_eq!(watch.elapsed(), Seconds(1.5));
    }
}
