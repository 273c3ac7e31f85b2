//! One file per command: each wires the edges to the core and decides nothing itself.

pub mod check;
pub mod cuts;
pub mod follow;
pub mod manual;
pub mod new;
pub mod plan;
pub mod probes;
pub mod rehearse;
pub mod replay;
pub mod report;
pub mod setup;
pub mod simulate;
pub mod trend;
pub mod try_it;
pub mod wall;

use std::error::Error;
use std::io::{self, Write as _};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Parser;
use thiserror::Error;

use crate::cli::{Cli, Command};
use crate::dashboard::ScreenError;
use crate::files::FileError;
use crate::log::LogError;
use crate::probe::feed::Lost;
use crate::probe::file::ProbeFileError;
use crate::probe::simulated::SimulateError;
use crate::run::RunError;

/// How a command ended when it could do what it was asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Done.
    Done,
    /// Done, and the answer is no.
    AnswerIsNo,
    /// What was given could not be used; why has been said.
    Unusable,
}

/// Why a command could not do what it was asked. Each names its cause.
#[derive(Debug, Error)]
pub enum AppError {
    /// A file.
    #[error(transparent)]
    File(#[from] FileError),
    /// The probe file.
    #[error("{} is no usable probe file", path.display())]
    Probes {
        /// Which.
        path: PathBuf,
        /// What is wrong with it.
        source: Box<ProbeFileError>,
    },
    /// Lining, plan and probes do not fit together.
    #[error(transparent)]
    Run(#[from] RunError),
    /// A probe port.
    #[error(transparent)]
    Port(#[from] Lost),
    /// The log.
    #[error(transparent)]
    Log(Box<LogError>),
    /// The screen.
    #[error(transparent)]
    Screen(#[from] ScreenError),
    /// The simulated furnace.
    #[error(transparent)]
    Simulate(#[from] SimulateError),
    /// A log that cannot be replayed, because what it was followed with does not read any more.
    #[error("{} holds a {what} that this version does not read", path.display())]
    OldLog {
        /// The log.
        path: PathBuf,
        /// Which of its documents.
        what: &'static str,
        /// Why.
        source: Box<dyn Error + Send + Sync>,
    },
    /// A file that is none of ours.
    #[error(
        "{} is none of our files: found no line such as `format = \"firstheat lining 1\"`, expected a lining, plan, \
         probe or log file",
        path.display()
    )]
    Foreign {
        /// Which.
        path: PathBuf,
    },
    /// A note of the circumstances.
    #[error(transparent)]
    Note(#[from] crate::ageing::NotesError),
    /// Logs that do not belong together.
    #[error("{log} is of the lining `{found}`, expected `{expected}` as in the oldest log: compare logs of one lining")]
    OtherLining {
        /// The log.
        log: String,
        /// Its lining.
        found: String,
        /// The lining of the oldest.
        expected: String,
    },
    /// A start or a watch.
    #[error(transparent)]
    Watch(#[from] crate::plan::pauses::WatchError),
    /// A plan that could not be searched.
    #[error(transparent)]
    Plan(#[from] crate::plan::search::PlanError),
    /// A schedule that is neither a letter nor a file of ours.
    #[error(
        "found no schedule `{asked}`, expected a letter of the published ones ({letters}), a schedule file (it begins with \
         `format = \"firstheat schedule 1\"`) or a plan file"
    )]
    NoSchedule {
        /// As asked for.
        asked: String,
        /// Letters that there are.
        letters: String,
    },
    /// The engine.
    #[error(transparent)]
    Solve(#[from] crate::physics::SolveError),
    /// A schedule or wall file.
    #[error("{} is no usable {what} file", path.display())]
    Described {
        /// Which.
        path: PathBuf,
        /// What it should be.
        what: &'static str,
        /// What is wrong with it.
        source: crate::lining::text::LiningError,
    },
    /// A quantity on the command line.
    #[error(transparent)]
    Quantity(#[from] crate::units::quantity::QuantityError),
    /// A thermocouple type that is none.
    #[error("found no thermocouple type `{asked}`, expected K, N, S, R, B, J, E or T; correct `--type`")]
    NoCouple {
        /// As asked for.
        asked: String,
    },
    /// A figure that the thermocouple cannot have.
    #[error("{figure} cannot be turned round")]
    Emf {
        /// As asked for.
        figure: String,
        /// Why.
        source: crate::thermocouple::EmfError,
    },
    /// A channel that the probe file does not have.
    #[error("found no channel `{asked}` in the probe file, expected one of {known}; correct `--channel`")]
    NoChannel {
        /// As asked for.
        asked: String,
        /// Those there are.
        known: String,
    },
    /// An answer to a question about a new lining.
    #[error("--{flag} cannot be used")]
    Answer {
        /// The flag.
        flag: String,
        /// What is wrong with it.
        #[source]
        source: crate::lining::starts::AnswerError,
    },
    /// A flag that means nothing for the starting point.
    #[error("found --{flag} for a {what}, expected only {known}; leave it out, or choose another --what")]
    NoQuestion {
        /// The flag.
        flag: String,
        /// Starting point.
        what: String,
        /// Flags there are.
        known: String,
    },
    /// Answers that do not fit together.
    #[error("these answers do not make a lining")]
    Answers(#[source] crate::lining::text::LiningError),
    /// The questions ended before the answers did.
    #[error("found the end of the answers, expected one to \"{question}\"; start again, or give flags with --what")]
    NoAnswer {
        /// What was asked.
        question: String,
    },
    /// Figures offered to others than this computer.
    #[error("found {found} for --metrics, expected an address of this computer alone, such as 127.0.0.1:9400")]
    NotLoopback {
        /// As asked for.
        found: std::net::SocketAddr,
    },
    /// An address that cannot be had.
    #[error("cannot serve figures on {address}; choose another port")]
    NoAddress {
        /// As asked for.
        address: std::net::SocketAddr,
        /// What the system said.
        source: io::Error,
    },
    /// An offset that cannot be stored.
    #[error(transparent)]
    Store(#[from] crate::probe::file::store::StoreError),
    /// The system gave no tasks or threads, or took no output.
    #[error("the system refused {doing}")]
    System {
        /// What.
        doing: &'static str,
        /// Why.
        source: io::Error,
    },
}

impl From<LogError> for AppError {
    fn from(error: LogError) -> Self {
        Self::Log(Box::new(error))
    }
}

/// Runs the command that the program's arguments ask for. The code is 0 done, 1 the answer is no, 2 could not.
#[must_use]
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            // What cannot be printed any more has no reader.
            let _ = error.print();
            return ExitCode::from(if error.use_stderr() { 2 } else { 0 });
        }
    };
    let outcome = match &cli.command {
        Command::New(args) => new::run(args),
        Command::Cuts(args) => cuts::run(args),
        Command::Wall(args) => wall::run(args),
        Command::Plan(args) => plan::run(args),
        Command::Simulate(args) => simulate::run(args),
        Command::Follow(args) => follow::run(args),
        Command::Rehearse(args) => rehearse::run(args),
        Command::Replay(args) => replay::run(args),
        Command::Report(args) => report::run(args),
        Command::Trend(args) => trend::run(args),
        Command::Try(args) => try_it::run(args),
        Command::Check(args) => check::run(args),
        Command::Probes(args) => probes::run(args),
        Command::Completions(args) => manual::completions(args),
        Command::Man(args) => manual::man(args),
    };
    match outcome {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::AnswerIsNo) => ExitCode::from(1),
        Ok(Outcome::Unusable) => ExitCode::from(2),
        Err(error) if is_broken_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            let _ = writeln!(io::stderr(), "firstheat: {}", chain(&error));
            ExitCode::from(2)
        }
    }
}

/// An error with its causes, joined by ": ".
#[must_use]
pub fn chain(error: &dyn Error) -> String {
    let mut words = error.to_string();
    let mut cause = error.source();
    while let Some(known) = cause {
        words = format!("{words}: {known}");
        cause = known.source();
    }
    words
}

/// Whether the reader of our output went away, which is a normal end.
fn is_broken_pipe(error: &AppError) -> bool {
    let mut cause = error.source();
    while let Some(known) = cause {
        if known.downcast_ref::<io::Error>().is_some_and(|known| known.kind() == io::ErrorKind::BrokenPipe) {
            return true;
        }
        cause = known.source();
    }
    false
}

/// Prints lines to standard output.
fn print(lines: &str) -> Result<(), AppError> {
    let mut out = io::stdout().lock();
    out.write_all(lines.as_bytes())
        .and_then(|()| out.flush())
        .map_err(|source| AppError::System { doing: "output", source })
}
