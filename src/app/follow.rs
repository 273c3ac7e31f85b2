//! `follow`: cues, readings and warnings of a live heat-up, on a dashboard, as plain lines or as JSON lines.

pub mod attend;
pub mod outlet;
pub mod words;

use std::io::{self, IsTerminal as _};
use std::path::{Path, PathBuf};

use tokio::sync::mpsc;

use super::setup::Documents;
use super::{AppError, Outcome};
use crate::ageing::Notes;
use crate::cli::FollowArgs;
use crate::clock::{LineTime, Stopwatch, date_label};
use crate::files::free_log_name;
use crate::lining::text::digest;
use crate::log::{Document, Head, LogError, LogOptions, LogWriter};
use crate::physics::Belief;
use crate::probe::feed::{self, Told};
use crate::probe::source::{STANDARD_INPUT, Source};
use crate::run::{Run, TimeSource};
use crate::units::Seconds;
use attend::{Following, Signals, Sources, Time};
use outlet::{Headless, OnScreen, Outlet, PlainLines};
use words::{StdinWords, Words};

/// The program as logs name it.
const PROGRAM: &str = concat!("firstheat ", env!("CARGO_PKG_VERSION"));

/// An estimate is written to the log at most this often.
const ESTIMATES_EVERY: Seconds = Seconds(60.0);

/// Runs the command.
///
/// # Errors
/// When files, ports, log or screen cannot be used.
pub fn run(args: &FollowArgs) -> Result<Outcome, AppError> {
    let notes: Vec<_> = args.notes.iter().map(|note| Notes::parted(note)).collect::<Result<_, _>>()?;
    let documents = Documents::read(&args.lining, &args.plan, &args.probes)?;
    let belief = Belief { members: usize::from(args.belief.members), seed: args.belief.seed };
    let time_source = if args.time_from_probe { TimeSource::ProbeLine } else { TimeSource::Computer };
    let run = Run::new(documents.setup(belief, time_source))?;
    let log_path = args.log.clone().unwrap_or_else(|| free_log_name(&documents.lining.value.name, &date_label()));
    let mut head = head_of(&documents, belief, time_source);
    head.options.extend(notes);
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|source| AppError::System { doing: "a place to run tasks", source })?;
    let (sources, told) = start_ports(&documents)?;
    let log = LogWriter::create(&log_path, &head, LogOptions::default())?;
    let outcome = runtime.block_on(async {
        let (outlet, words) = faces(args, &documents)?;
        let time = match time_source {
            TimeSource::Computer => Time::Clock(Stopwatch::start()),
            TimeSource::ProbeLine => Time::Lines(LineTime::default()),
        };
        let following = Following::new(run, Some(log), outlet, time, documents.probes.value.clone());
        let sources = Sources { told, words, signals: Signals::catch()? };
        follow_to_the_end(following, sources, &documents, &log_path).await
    });
    for source in sources {
        // A thread that waits for a last byte is left behind; the process ends anyway.
        let _ = source.stop();
    }
    runtime.shutdown_background();
    outcome
}

/// Follows, saves the log, gives the terminal back, in this order, and says where the log is.
async fn follow_to_the_end(
    mut following: Following,
    sources: Sources,
    documents: &Documents,
    log_path: &Path,
) -> Result<Outcome, AppError> {
    let attended = match documents.mismatch() {
        Some(text) => following.remark(&text),
        None => Ok(()),
    };
    let attended = match attended {
        Ok(()) => attend::attend(&mut following, sources).await,
        Err(error) => Err(error),
    };
    let saved = following.finish_log();
    let danger = following.run().was_danger_reached();
    let closing = following.close();
    saved_elsewhere(saved, log_path)?;
    attended?;
    if closing.tells_where_the_log_is() {
        super::print(&format!(
            "log: {}\nrun it through the engine again with: firstheat replay {}\n",
            log_path.display(),
            log_path.display()
        ))?;
    }
    Ok(if danger { Outcome::AnswerIsNo } else { Outcome::Done })
}

/// Rows that the disk did not take go to a file in the temporary directory, so that nothing is lost.
fn saved_elsewhere(saved: Result<(), LogError>, log_path: &Path) -> Result<(), AppError> {
    let Err(error) = saved else { return Ok(()) };
    if let LogError::Unsaved { lines, .. } = &error {
        let name = log_path.file_name().map_or_else(|| PathBuf::from("heat-up.csv"), PathBuf::from);
        let mut rescue = std::env::temp_dir().join(name);
        rescue.set_extension("rest.csv");
        crate::files::write_new(&rescue, lines)?;
    }
    Err(error.into())
}

pub(super) fn head_of(documents: &Documents, belief: Belief, time_source: TimeSource) -> Head {
    let document = |text: &str| Document { text: text.to_owned(), digest: digest(text) };
    Head {
        program: PROGRAM.to_owned(),
        seed: belief.seed,
        time_source,
        estimates_every: ESTIMATES_EVERY,
        options: vec![("members".to_owned(), belief.members.to_string())],
        lining: document(&documents.lining.text),
        plan: document(&documents.plan.text),
        probes: document(&documents.probes.text),
    }
}

/// Opens every port of the probe file.
fn start_ports(documents: &Documents) -> Result<(Vec<Source>, mpsc::Receiver<Told>), AppError> {
    let (sender, told) = feed::channel();
    let ports = &documents.probes.value.ports;
    let sources = ports.iter().map(|port| Source::start(port.clone(), sender.clone()));
    Ok((sources.collect::<Result<_, _>>()?, told))
}

/// Where verdicts go, and where words come from.
fn faces(args: &FollowArgs, documents: &Documents) -> Result<(Box<dyn Outlet>, Words), AppError> {
    let stdin_is_probe = documents.probes.value.ports.iter().any(|port| &*port.path == STANDARD_INPUT);
    let words = |words: io::Result<StdinWords>| {
        words.map(Words::Stdin).map_err(|source| AppError::System { doing: "a thread for standard input", source })
    };
    let words_from_stdin = || if stdin_is_probe { Ok(Words::None) } else { words(StdinWords::start()) };
    if args.headless {
        return Ok((Box::new(Headless::new(io::stdout())), words_from_stdin()?));
    }
    let on_screen = !args.plain && io::stdout().is_terminal() && io::stdin().is_terminal() && !stdin_is_probe;
    if on_screen {
        return Ok((Box::new(OnScreen::take()?), Words::Keys(Box::default())));
    }
    Ok((Box::new(PlainLines::new(io::stdout())), words_from_stdin()?))
}
