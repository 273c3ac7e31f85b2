//! How far the search for a plan is, on standard error when that is a terminal.

use std::cell::Cell;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

use crate::units::Seconds;
use crate::units::quantity::{Shown, UnitSystem};

/// A line that tells how much furnace time is planned. How much there will be is only known at the end, so it shows no
/// share of the whole.
pub struct Progress {
    bar: ProgressBar,
    last: Cell<Seconds>,
    turn: Cell<u32>,
}

impl Progress {
    /// Begins; shows nothing when standard error is no terminal.
    #[must_use]
    pub fn start() -> Self {
        let bar = ProgressBar::new_spinner();
        if let Ok(style) = ProgressStyle::with_template("{spinner} searching a plan: {msg} ({elapsed} gone)") {
            bar.set_style(style.tick_chars("-\\|/ "));
        }
        bar.set_message("curing and air-drying the lining");
        bar.enable_steady_tick(Duration::from_millis(200));
        Self { bar, last: Cell::new(Seconds(0.0)), turn: Cell::new(1) }
    }

    /// Furnace time up to which pulses have been found.
    pub fn hear(&self, elapsed: Seconds) {
        if elapsed < self.last.replace(elapsed) {
            self.turn.set(self.turn.get() + 1);
        }
        let found = elapsed.shown(UnitSystem::Metric);
        self.bar.set_message(match self.turn.get() {
            1 => format!("{found} of the heat-up found"),
            turn => format!("{found} found with more margin, turn {turn}"),
        });
    }

    /// Takes the line away.
    pub fn finish(self) {
        self.bar.finish_and_clear();
    }
}

/// How many of several searches are done.
pub struct Searches {
    bar: ProgressBar,
}

impl Searches {
    /// Begins; shows nothing when standard error is no terminal.
    #[must_use]
    pub fn start(what: &'static str) -> Self {
        let bar = ProgressBar::new(0);
        if let Ok(style) = ProgressStyle::with_template("searching {msg}: {wide_bar} {pos} of {len} ({elapsed} gone)") {
            bar.set_style(style.progress_chars("=> "));
        }
        bar.set_message(what);
        bar.enable_steady_tick(Duration::from_millis(500));
        Self { bar }
    }

    /// One more of `count` is done.
    pub fn hear(&self, count: usize) {
        self.bar.set_length(count as u64);
        self.bar.inc(1);
    }

    /// Takes the line away.
    pub fn finish(self) {
        self.bar.finish_and_clear();
    }
}
