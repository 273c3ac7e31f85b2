//! Elapsed time: from this computer's monotonic clock, or from the time that comes with the probe lines.
//!
//! Wall time is a label and never decides anything. Elapsed time is rounded to milliseconds here, once.

use std::time::Duration;

use chrono::Local;
use tokio::time::Instant;

use crate::units::Seconds;

/// Time since the heat-up began, on the monotonic clock (or on the paused clock of a test).
#[derive(Clone, Copy, Debug)]
pub struct Stopwatch {
    start: Instant,
}

impl Stopwatch {
    /// Begins now.
    #[must_use]
    pub fn start() -> Self {
        Self { start: Instant::now() }
    }

    /// Time since the start.
    #[must_use]
    pub fn elapsed(&self) -> Seconds {
        to_ms(Seconds(self.start.elapsed().as_secs_f64()))
    }

    /// The moment `elapsed` after the start.
    #[must_use]
    pub fn moment(&self, elapsed: Seconds) -> Instant {
        self.start + Duration::try_from_secs_f64(elapsed.0.max(0.0)).unwrap_or(Duration::from_secs(86_400))
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
    async fn the_stopwatch_runs_on_the_clock_of_the_tasks() {
        let watch = Stopwatch::start();
        tokio::time::advance(Duration::from_millis(1500)).await;
        assert_eq!(watch.elapsed(), Seconds(1.5));
    }
}
