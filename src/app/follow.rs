//! `follow`: cues, readings and warnings of a live heat-up, on a dashboard, as plain lines or as JSON lines.

pub mod attend;
pub mod metrics;
pub mod outlet;
pub mod sound;
pub mod words;

use std::io::{self, IsTerminal as _};
use std::path::{Path, PathBuf};

use chrono::{DateTime, FixedOffset};
use tokio::sync::mpsc;

use super::replay::{belief_of, documents_of};
use super::setup::Documents;
use super::{AppError, Outcome};
use crate::ageing::Notes;
use crate::cli::{FollowArgs, Sound};
use crate::clock::{LineTime, SleepClock, Stopwatch, date_label, wall_time};
use crate::files::free_log_name;
use crate::lining::text::digest;
use crate::log::{Document, Head, LogBook, LogError, LogOptions, LogWriter};
use crate::physics::Belief;
use crate::probe::feed::{self, Told};
use crate::probe::source::{STANDARD_INPUT, Source};
use crate::run::{Run, TimeSource};
use crate::units::Seconds;
use attend::{Following, Replans, Signals, Sources, TakenUp, Time};
use outlet::{Headless, OnScreen, Outlet, PlainLines};
use sound::{Bell, Sounding};
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
    let metrics = args.metrics.map(metrics::Server::bind).transpose()?;
    let start = match &args.resume {
        Some(path) => Start::taken_up(path)?,
        None => Start::new(args)?,
    };
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|source| AppError::System { doing: "a place to run tasks", source })?;
    let (sources, told) = start_ports(&start.documents)?;
    let outcome = runtime.block_on(async {
        let (outlet, words) = faces(args, &start.documents)?;
        let outlet = match metrics {
            Some(server) => Box::new(server.serve(outlet)?) as Box<dyn Outlet>,
            None => outlet,
        };
        let sources = Sources { told, words, signals: Signals::catch()? };
        follow_to_the_end(start, outlet, sources, replans_of(args)).await
    });
    for source in sources {
        // A thread that waits for a last byte is left behind; the process ends anyway.
        let _ = source.stop();
    }
    runtime.shutdown_background();
    outcome
}

fn replans_of(args: &FollowArgs) -> Replans {
    if args.keep_plan { Replans::Never } else { Replans::OnItsOwnThread }
}

/// A heat-up about to be followed, new or taken up again.
struct Start {
    documents: Documents,
    run: Run,
    time_source: TimeSource,
    log: Begun,
    log_path: PathBuf,
    /// What a person should know first.
    remarks: Vec<String>,
}

/// The log of a heat-up about to be followed.
enum Begun {
    /// It is begun once the ports are open, so that a wrong port leaves no empty log.
    Anew(Box<Head>),
    /// It is open already. Time goes on from the last step, with what the wall clock says was missed.
    Before { log: LogWriter, last: Seconds, missed: Seconds },
}

impl Start {
    fn new(args: &FollowArgs) -> Result<Self, AppError> {
        let notes: Vec<_> = args.notes.iter().map(|note| Notes::parted(note)).collect::<Result<_, _>>()?;
        // The parser lets none of them be missing when nothing is taken up again.
        let file = |path: &Option<PathBuf>| path.clone().unwrap_or_default();
        let documents = Documents::read(&file(&args.lining), &file(&args.plan), &file(&args.probes))?;
        let belief = Belief { members: usize::from(args.belief.members), seed: args.belief.seed };
        let time_source = if args.time_from_probe { TimeSource::ProbeLine } else { TimeSource::Computer };
        let run = Run::new(documents.setup(belief, time_source))?;
        let log_path = args.log.clone().unwrap_or_else(|| free_log_name(&documents.lining.value.name, &date_label()));
        let mut head = head_of(&documents, belief, time_source);
        head.options.extend(notes);
        let remarks = documents.mismatch().into_iter().collect();
        Ok(Self { documents, run, time_source, log: Begun::Anew(Box::new(head)), log_path, remarks })
    }

    /// Replays a log, so that everything is believed again that was, and goes on with it.
    fn taken_up(path: &Path) -> Result<Self, AppError> {
        let (log, book) = LogWriter::append(path, LogOptions::default())?;
        let head = book.head()?;
        let documents = documents_of(head, path)?;
        let run = replayed(&documents, head, &book)?;
        let last = book.steps.last().map_or(Seconds(0.0), |step| step.input.elapsed);
        let missed = missed_since(book.steps.last().and_then(|step| step.wall_time), wall_time());
        let mut remarks = vec![format!("{}: {} steps read again", path.display(), book.steps.len())];
        remarks.extend(
            book.damage.iter().map(|damage| format!("the log's last rows were torn and are set aside: {damage}")),
        );
        remarks.extend(book.gaps.iter().map(|gap| format!("{} steps are missing before row {}", gap.steps, gap.row)));
        if missed.is_none() && book.steps.last().is_some() {
            remarks.push(
                "this computer's clock says nothing of how long nothing was watched: it was set, or has gone back"
                    .into(),
            );
        }
        let time_source = head.time_source;
        let log = Begun::Before { log, last, missed: missed.unwrap_or_default() };
        Ok(Self { documents, run, time_source, log, log_path: path.to_owned(), remarks })
    }
}

/// The run after every step of a log.
///
/// # Errors
/// When the run cannot be begun.
pub fn replayed(documents: &Documents, head: &Head, book: &LogBook) -> Result<Run, AppError> {
    let mut run = Run::new(documents.setup(belief_of(head), head.time_source))?;
    for input in book.inputs() {
        run.step(input);
    }
    Ok(run)
}

/// Time from the last row to now by the wall clock; `None` when that cannot be: the clock went back, or on by a week.
fn missed_since(last: Option<DateTime<FixedOffset>>, now: DateTime<FixedOffset>) -> Option<Seconds> {
    /// Nobody goes on with a heat-up after so long, s.
    const LONGEST_S: f64 = 7.0 * 86_400.0;
    let missed_s = (now - last?).as_seconds_f64();
    (0.0..LONGEST_S).contains(&missed_s).then_some(Seconds(missed_s))
}

/// Follows, saves the log, gives the terminal back, in this order, and says where the log is.
async fn follow_to_the_end(
    start: Start,
    outlet: Box<dyn Outlet>,
    sources: Sources,
    replans: Replans,
) -> Result<Outcome, AppError> {
    let Start { documents, run, time_source, log, log_path, remarks } = start;
    let probes = documents.probes.value;
    let clock = |begun_at: Seconds| Time::Clock(Stopwatch::at(begun_at, SleepClock::System));
    let mut following = match (log, time_source) {
        (Begun::Anew(head), TimeSource::Computer) => {
            let log = LogWriter::create(&log_path, &head, LogOptions::default())?;
            Following::new(run, Some(log), outlet, clock(Seconds(0.0)), probes)
        }
        (Begun::Anew(head), TimeSource::ProbeLine) => {
            let log = LogWriter::create(&log_path, &head, LogOptions::default())?;
            Following::new(run, Some(log), outlet, Time::Lines(LineTime::default()), probes)
        }
        (Begun::Before { log, last, missed }, source) => {
            let time = match source {
                TimeSource::Computer => clock(last + missed),
                TimeSource::ProbeLine => Time::Lines(LineTime::at(last)),
            };
            Following::new(run, Some(log), outlet, time, probes).taking_up(TakenUp { last })
        }
    }
    .replanning(replans);
    let mut attended = remarks.iter().try_for_each(|text| following.remark(text));
    if attended.is_ok() {
        attended = attend::attend(&mut following, sources).await;
    }
    let saved = following.finish_log();
    let danger = following.run().was_danger_reached();
    let closing = following.close();
    saved_elsewhere(saved, &log_path)?;
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
    // The screen rings for what is new by itself, plain lines do not.
    let sounding = |face: Box<dyn Outlet>, bell: Bell| -> Box<dyn Outlet> {
        Box::new(Sounding::new(face, bell, args.alarm_command.clone()))
    };
    let bell = match args.sound {
        Sound::Bell if io::stdout().is_terminal() => Bell::Terminal,
        _ => Bell::Silent,
    };
    if args.headless {
        return Ok((sounding(Box::new(Headless::new(io::stdout())), Bell::Silent), words_from_stdin()?));
    }
    let on_screen = !args.plain && io::stdout().is_terminal() && io::stdin().is_terminal() && !stdin_is_probe;
    if on_screen {
        let screen = OnScreen::take()?;
        return Ok(match bell {
            Bell::Silent => (sounding(Box::new(screen.silent()), bell), Words::Keys(Box::default())),
            Bell::Terminal | Bell::OnlyAgain => {
                (sounding(Box::new(screen), Bell::OnlyAgain), Words::Keys(Box::default()))
            }
        });
    }
    Ok((sounding(Box::new(PlainLines::new(io::stdout())), bell), words_from_stdin()?))
}
