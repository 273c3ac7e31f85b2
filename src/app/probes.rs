//! `probes`: whether the thermocouples tell the truth, and what their millivolts mean.

mod bath;
mod emf;
mod find;
mod ports;
mod watch;

use std::path::Path;
use std::time::{Duration, Instant};

use tokio::sync::mpsc::Receiver;
use tokio::sync::mpsc::error::TryRecvError;

use super::{AppError, Outcome};
use crate::cli::{ProbesArgs, ProbesCommand};
use crate::files::{Read, read_text};
use crate::probe::feed::{self, Told};
use crate::probe::file;
use crate::probe::set::ProbeSet;
use crate::probe::source::Source;

/// Runs the command.
///
/// # Errors
/// When a file or port cannot be used, or a figure makes no sense.
pub fn run(args: &ProbesArgs) -> Result<Outcome, AppError> {
    match &args.command {
        ProbesCommand::Emf(args) => emf::run(args),
        ProbesCommand::Ports(args) => ports::run(args),
        ProbesCommand::Find(args) => find::run(args),
        ProbesCommand::Watch(args) => watch::run(args),
        ProbesCommand::Bath(args) => bath::run(args),
    }
}

fn read_probes(path: &Path) -> Result<Read<ProbeSet>, AppError> {
    let text = read_text(path)?;
    let value =
        file::parse(&text).map_err(|wrong| AppError::Probes { path: path.to_owned(), source: Box::new(wrong) })?;
    Ok(Read { value, text })
}

/// All ports of a probe file being read.
struct Listening {
    told: Receiver<Told>,
    sources: Vec<Source>,
}

/// Time between two looks for something told.
const LOOK: Duration = Duration::from_millis(10);

impl Listening {
    fn start(set: &ProbeSet) -> Result<Self, AppError> {
        let (sender, told) = feed::channel();
        let sources = set.ports.iter().map(|port| Source::start(port.clone(), sender.clone()));
        Ok(Self { sources: sources.collect::<Result<_, _>>()?, told })
    }

    /// What is told next; `None` when the time is over or all sources have ended.
    fn next(&mut self, until: Option<Instant>) -> Option<Told> {
        loop {
            match self.told.try_recv() {
                Ok(told) => return Some(told),
                Err(TryRecvError::Disconnected) => return None,
                Err(TryRecvError::Empty) if until.is_some_and(|until| Instant::now() >= until) => return None,
                Err(TryRecvError::Empty) => std::thread::sleep(LOOK),
            }
        }
    }

    fn stop(self) {
        drop(self.told);
        for source in self.sources {
            // A thread that waits for a last byte is left behind; the process ends anyway.
            let _ = source.stop();
        }
    }
}
