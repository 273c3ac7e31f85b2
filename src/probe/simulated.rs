//! A furnace to try the program on: the wall engine plays the furnace, and a board of thermocouples sends its lines.
//!
//! The thermocouples lag and are noisy as real ones are. [`SimulatedFurnace`] itself knows no clock; [`BehindPort`]
//! runs one on a thread behind a pseudo-terminal, which reads like any serial port: it sends lines, or answers as a device on a bus
//! or an instrument does.

mod asked;
mod board;

pub use board::{BehindPort, Order, Pace};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statrs::distribution::{ContinuousCDF, Normal};
use thiserror::Error;

use super::lines::{self, TempUnit};
use super::set::{ChannelSpec, Column, PortSpec};
use crate::physics::{Belief, Drive, Ensemble, Furnace, SolveError};
use crate::reading::Place;
use crate::thermocouple::lag;
use crate::units::{Celsius, KelvinPerHour, Metres, Seconds};

/// How a simulated board behaves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Habits {
    /// Time from one line to the next.
    pub period: Seconds,
    /// Standard deviation of the noise of one reading, kelvin.
    pub noise_k: f64,
    /// Seed of the noise.
    pub seed: u64,
}

impl Default for Habits {
    /// One line a second with the noise of a common converter, a quarter of a kelvin.
    fn default() -> Self {
        Self { period: Seconds(1.0), noise_k: 0.25, seed: 1 }
    }
}

/// Sheath of a simulated probe of which the probe file does not say it, mm: the commonest for furnaces this size (common
/// practice).
const USUAL_SHEATH_MM: f64 = 3.0;

/// Whether the flame burns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Burner {
    /// It burns.
    Lit,
    /// The valve is shut.
    Shut,
}

/// What a lit burner burns at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fire {
    /// A share of its full fire, above 0 to 1.
    Share(f64),
    /// Its control takes the gas along a ramp.
    Ramp {
        /// Where the gas is.
        at: Celsius,
        /// Where to.
        to: Celsius,
        /// How fast, negative downwards; 0 for a hold.
        ramp: KelvinPerHour,
    },
}

/// Why there is no simulated furnace.
#[derive(Debug, Error)]
pub enum SimulateError {
    /// A probe sits in a section that the lining does not have.
    #[error("found channel {channel} in section {section:?}, expected one of {known}; correct the probe file")]
    NoSection {
        /// The operator's name of the channel.
        channel: String,
        /// As in the probe file.
        section: String,
        /// The lining's sections.
        known: String,
    },
    /// A period or pace that no clock can keep.
    #[error("found {found} for {what}, expected a number above 0; correct it")]
    NotPositive {
        /// What it is for.
        what: &'static str,
        /// The number.
        found: f64,
    },
    /// The wall could not be solved.
    #[error("the simulated furnace stops")]
    Solve(#[from] SolveError),
    /// No pseudo-terminal or thread is to be had.
    #[error("found no pseudo-terminal ({words}), expected the system to give one; close other terminals")]
    NoPort {
        /// What the system says.
        words: String,
    },
    /// The line could not be written.
    #[error("the simulated board cannot send")]
    Send(#[from] std::io::Error),
}

/// A furnace with a burner and a board of thermocouples.
#[derive(Debug)]
pub struct SimulatedFurnace {
    wall: Ensemble,
    burner: Burner,
    fire: Fire,
    elapsed: Seconds,
    board: PortSpec,
    tips: Vec<Tip>,
    habits: Habits,
    luck: ChaCha8Rng,
}

impl SimulatedFurnace {
    /// The middle one of the furnaces that `furnace` may be, cold and with the burner shut, with the probes that `board`
    /// names.
    ///
    /// # Errors
    /// When a probe sits in a section the furnace does not have, or the period is no time.
    pub fn new(furnace: &Furnace, board: PortSpec, habits: Habits) -> Result<Self, SimulateError> {
        if !(habits.period.0 > 0.0 && habits.period.0.is_finite()) {
            return Err(SimulateError::NotPositive { what: "the period", found: habits.period.0 });
        }
        let wall = Ensemble::new(furnace, Belief { members: 1, seed: habits.seed })?;
        let tips = board.channels.iter().map(|spec| Tip::of(spec, furnace, &wall)).collect::<Result<_, _>>()?;
        let luck = ChaCha8Rng::seed_from_u64(habits.seed);
        Ok(Self {
            wall,
            burner: Burner::Shut,
            fire: Fire::Share(1.0),
            elapsed: Seconds(0.0),
            board,
            tips,
            habits,
            luck,
        })
    }

    /// Lights or shuts the burner, from now on.
    pub fn turn(&mut self, burner: Burner) {
        self.burner = burner;
    }

    /// Sets what the burner burns at when it is lit, from now on.
    pub fn set(&mut self, fire: Fire) {
        self.fire = fire;
    }

    /// Whether the flame burns.
    #[must_use]
    pub fn burner(&self) -> Burner {
        self.burner
    }

    /// Time since the cold start.
    #[must_use]
    pub fn elapsed(&self) -> Seconds {
        self.elapsed
    }

    /// The wall behind the probes.
    #[must_use]
    pub fn wall(&self) -> &Ensemble {
        &self.wall
    }

    /// Lets time pass up to `elapsed`; nothing happens when that is past already.
    ///
    /// # Errors
    /// When the wall cannot be solved.
    pub fn advance_to(&mut self, elapsed: Seconds) -> Result<(), SimulateError> {
        while elapsed.0 > self.elapsed.0 {
            let span = Seconds((elapsed.0 - self.elapsed.0).min(self.habits.period.0));
            let drive = self.drive(span);
            self.wall.advance(drive, span)?;
            self.elapsed = self.elapsed + span;
            for tip in &mut self.tips {
                tip.follow(&self.wall, span);
            }
        }
        Ok(())
    }

    /// What the burner does over the next `span`. A control takes up a ramp where it has the gas.
    fn drive(&mut self, span: Seconds) -> Drive {
        match (self.burner, &mut self.fire) {
            (Burner::Shut, _) => Drive::Burner { on: 0.0 },
            (Burner::Lit, Fire::Share(share)) if *share >= 1.0 => Drive::Burner { on: 1.0 },
            (Burner::Lit, Fire::Share(share)) => Drive::Fires { high: *share, low: 0.0, on: 1.0 },
            (Burner::Lit, Fire::Ramp { at, to, ramp }) => {
                let (from, by_k) = (*at, ramp.0 * span.hours());
                let reached = if by_k < 0.0 { (at.0 + by_k).max(to.0) } else { (at.0 + by_k).min(to.0) };
                *at = Celsius(if ramp.0.abs() < 1e-9 { to.0 } else { reached });
                Drive::Ramp { from, to: *at }
            }
        }
    }

    /// Lets one period pass and gives the line the board then sends, without its end.
    ///
    /// # Errors
    /// When the wall cannot be solved.
    pub fn next_line(&mut self) -> Result<String, SimulateError> {
        self.advance_to(self.elapsed + self.habits.period)?;
        Ok(self.line())
    }

    /// The line the board sends now, without its end. Each has noise of its own.
    pub fn line(&mut self) -> String {
        let mut words = vec![format!("{}={:.2}", lines::TIME_KEY, self.elapsed.0)];
        let mut bare = vec!["na".to_owned(); self.board.columns];
        for at in 0..self.tips.len() {
            let number = format!("{:.2}", self.number(at));
            match &self.board.channels[at].column {
                Column::Label(label) => words.push(format!("{label}={number}")),
                Column::Position(place) => {
                    if let Some(slot) = place.checked_sub(1).and_then(|at| bare.get_mut(at)) {
                        *slot = number;
                    }
                }
                // On a board that is asked.
                Column::Answer { .. } | Column::Register(_) => {}
            }
        }
        words.append(&mut bare);
        lines::with_check(&words.join(" "), self.board.check)
    }
}

impl SimulatedFurnace {
    /// What the channel at `at` shows now, in the unit of the board, with noise of its own.
    fn number(&mut self, at: usize) -> f64 {
        let (tip, spec) = (&self.tips[at], &self.board.channels[at]);
        let temp = Celsius(tip.shown.0 - spec.offset.0 + self.habits.noise_k * normal(&mut self.luck));
        spec.unit.unwrap_or(TempUnit::C).number(temp)
    }
}

/// Where a tip sits in the wall model, and what its thermocouple shows.
#[derive(Debug)]
struct Tip {
    spot: Spot,
    lag: Seconds,
    shown: Celsius,
}

#[derive(Clone, Copy, Debug)]
enum Spot {
    Gas,
    HotFace(usize),
    Depth(usize, Metres),
    Contact(usize),
    Shell(usize),
}

impl Tip {
    fn of(spec: &ChannelSpec, furnace: &Furnace, wall: &Ensemble) -> Result<Self, SimulateError> {
        let names = furnace.section_names();
        let index = |section: &String| {
            names.iter().position(|name| name == section).ok_or_else(|| SimulateError::NoSection {
                channel: spec.channel.to_string(),
                section: section.clone(),
                known: names.join(", "),
            })
        };
        let spot = match &spec.place {
            Place::ChamberGas => Spot::Gas,
            Place::HotFace { section } => Spot::HotFace(index(section)?),
            Place::Depth { section, depth } => Spot::Depth(index(section)?, *depth),
            Place::MetalContact { section } => Spot::Contact(index(section)?),
            Place::Shell { section } => Spot::Shell(index(section)?),
        };
        Ok(Self { spot, lag: lag(spec.sheath.unwrap_or(Metres::from_mm(USUAL_SHEATH_MM))), shown: spot.temp(wall) })
    }

    /// Moves what is shown towards the tip's surroundings by one first-order step.
    fn follow(&mut self, wall: &Ensemble, span: Seconds) {
        let share = 1.0 - (-span.0 / self.lag.0).exp();
        let behind = self.spot.temp(wall) - self.shown;
        self.shown = Celsius(self.shown.0 + share * behind.0);
    }
}

impl Spot {
    fn temp(self, wall: &Ensemble) -> Celsius {
        match self {
            Self::Gas => wall.gas(0),
            Self::HotFace(section) => wall.section(0, section).hot_face,
            Self::Depth(section, depth) => wall.temp_at(0, section, depth),
            Self::Contact(section) => wall.section(0, section).contact,
            Self::Shell(section) => wall.section(0, section).shell,
        }
    }
}

/// A normal number with mean 0 and standard deviation 1.
fn normal(luck: &mut ChaCha8Rng) -> f64 {
    // Between steps of 2^-32, so never quite 0 or 1, where the normal has no end.
    let even = (f64::from(luck.random::<u32>()) + 0.5) / 4_294_967_296.0;
    Normal::standard().inverse_cdf(even)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_has_the_deviation_it_should() {
        let mut luck = ChaCha8Rng::seed_from_u64(7);
        let numbers: Vec<f64> = (0..20_000).map(|_| normal(&mut luck)).collect();
        let mean = numbers.iter().sum::<f64>() / 20_000.0;
        let deviation = (numbers.iter().map(|number| (number - mean).powi(2)).sum::<f64>() / 20_000.0).sqrt();
        assert!(mean.abs() < 0.03 && (deviation - 1.0).abs() < 0.03, "mean {mean}, deviation {deviation}");
    }
}
