//! `try`: the whole job in about a minute on a simulated furnace behind a real pseudo-terminal.
//!
//! The plan comes from the real search. An operator that is part of the program obeys the cues, but once leaves the
//! burner on far too long, so that a warning shows. Everything goes into a new directory, and stays there.

mod operator;

use std::fmt::Write as _;
use std::io::{self, IsTerminal as _};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crossterm::event::EventStream;
use tokio::sync::mpsc;
use tokio::time::sleep;

use super::follow::attend::{self, Following, Signals, Sources, Time};
use super::follow::outlet::{OnScreen, Outlet, PlainLines};
use super::follow::words::Words;
use super::plan::{card_of, searched};
use super::setup::Documents;
use super::{AppError, Outcome, print};
use crate::cli::TryArgs;
use crate::clock::{LineTime, date_label};
use crate::files::{new_directory, read_lining, write_new, write_plan_new};
use crate::log::{LogOptions, LogWriter};
use crate::physics::{Belief, Furnace, Grid};
use crate::plan::card::{CardOf, summary};
use crate::plan::search::Found;
use crate::probe::feed;
use crate::probe::set::ProbeSet;
use crate::probe::simulated::{BehindPort, Habits, Pace, SimulatedFurnace};
use crate::probe::source::Source;
use crate::run::{Run, TimeSource};
use crate::units::Seconds;
use crate::units::quantity::{Shown as _, UnitSystem};
use operator::{Operator, Shift};

/// The lining that is tried.
const LINING: &str = include_str!("../../schedules/school-foundry-crucible.toml");

/// Its probes; PORT stands for the pseudo-terminal.
const PROBES: &str = r#"format = "firstheat probes 1"

[[port]]
path = "PORT"

[[port.channel]]
name = "hot"
place = "hot-face"
section = "wall"
type = "K"
sheath = "1.5 mm"

[[port.channel]]
name = "gas"
place = "chamber-gas"
type = "K"
sheath = "1.5 mm"

[[port.channel]]
name = "shell"
place = "shell"
section = "wall"
type = "K"
"#;

/// Members of the ensemble: few, so that any machine keeps up.
const BELIEF: Belief = Belief { members: 8, seed: 1 };

/// Furnace time between two lines of the simulated board.
const PERIOD: Seconds = Seconds(2.0);

/// The whole heat-up passes in about this time, when the machine keeps up.
const SHOWN_IN: Duration = Duration::from_secs(30);

/// How long the last screen stays.
const LAST_SCREEN: Duration = Duration::from_secs(4);

/// How long what was planned stays before the dashboard covers it.
const READ_THE_PLAN: Duration = Duration::from_secs(4);

/// Runs the command.
///
/// # Errors
/// When a file, the simulated port or the screen cannot be used.
pub fn run(args: &TryArgs) -> Result<Outcome, AppError> {
    let began = Instant::now();
    let files = Files::new(new_directory(&format!("firstheat-try-{}", date_label()))?);
    write_new(&files.lining, LINING)?;
    print(&opening_words(&files.dir))?;
    let found = plan(&files)?;
    let on_screen = !args.plain && io::stdout().is_terminal() && io::stdin().is_terminal();
    if on_screen {
        std::thread::sleep(READ_THE_PLAN);
    }
    // The port is only known once the furnace runs, and the furnace needs to know its probes.
    let behind = start_furnace(&files)?;
    write_new(&files.probes, &PROBES.replace("PORT", behind.path()))?;
    let documents = Documents::read(&files.lining, &files.plan, &files.probes)?;
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|source| AppError::System { doing: "a place to run tasks", source })?;
    let shown = runtime.block_on(show(on_screen, &documents, &files.log, &behind));
    let stopped = behind.stop();
    runtime.shutdown_background();
    let shown = shown?;
    stopped?;
    print(&closing_words(&files, &found, &shown, began.elapsed()))?;
    Ok(Outcome::Done)
}

/// What the show leaves behind.
struct Files {
    dir: PathBuf,
    lining: PathBuf,
    plan: PathBuf,
    card: PathBuf,
    probes: PathBuf,
    log: PathBuf,
}

impl Files {
    fn new(dir: PathBuf) -> Self {
        let file = |name: &str| dir.join(name);
        Self {
            lining: file("lining.toml"),
            plan: file("plan.toml"),
            card: file("card.txt"),
            probes: file("probes.toml"),
            log: file("heat-up.csv"),
            dir,
        }
    }
}

/// Searches the plan of the lining, writes it and its card, and says what was found.
fn plan(files: &Files) -> Result<Found, AppError> {
    let lining = read_lining(&files.lining)?;
    let found = searched(&lining, BELIEF)?;
    write_plan_new(&files.plan, &found.plan)?;
    write_new(&files.card, &card_of(&found, &lining.value, UnitSystem::Metric))?;
    let of = CardOf { plan: &found.plan, findings: &found.findings, lining: &lining.value, label: "", start: None };
    print(&format!(
        "{}\n2. Follow it on the dashboard: the furnace lives some {:.0} times as fast as a real one.\n   \
         The operator will once be called away with the burner on. Watch what follows.\n\n",
        summary(&of, UnitSystem::Metric),
        found.plan.length().0 / SHOWN_IN.as_secs_f64()
    ))?;
    Ok(found)
}

fn start_furnace(files: &Files) -> Result<BehindPort, AppError> {
    let refused = |wrong| AppError::Probes { path: files.probes.clone(), source: Box::new(wrong) };
    let set: ProbeSet = crate::probe::file::parse(&PROBES.replace("PORT", "/dev/null")).map_err(refused)?;
    let furnace = Furnace::of(&read_lining(&files.lining)?.value, Grid::Usual);
    let no_board = || AppError::System { doing: "the simulated board", source: io::ErrorKind::NotFound.into() };
    let board = set.ports.into_iter().next().ok_or_else(no_board)?;
    let habits = Habits { period: PERIOD, ..Habits::default() };
    let simulated = SimulatedFurnace::new(&furnace, board, habits)?;
    Ok(BehindPort::start(simulated, Pace::Lockstep)?)
}

/// How the show went.
struct Shown {
    /// Why it ended, and when in furnace time.
    ended: Option<(String, Seconds)>,
    warnings: u32,
}

async fn show(on_screen: bool, documents: &Documents, log: &Path, behind: &BehindPort) -> Result<Shown, AppError> {
    let run = Run::new(documents.setup(BELIEF, TimeSource::ProbeLine))?;
    let head = super::follow::head_of(documents, BELIEF, TimeSource::ProbeLine);
    let log = LogWriter::create(log, &head, LogOptions::default())?;
    let (sender, told) = feed::channel();
    let ports = documents.probes.value.ports.iter().map(|port| Source::start(port.clone(), sender.clone()));
    let ports: Vec<Source> = ports.collect::<Result<_, _>>()?;
    let face: Box<dyn Outlet> =
        if on_screen { Box::new(OnScreen::take()?) } else { Box::new(PlainLines::new(io::stdout())) };
    let (words, operator) = mpsc::channel(64);
    let lines = documents.plan.value.length().0 / PERIOD.0;
    let shift = Shift {
        orders: behind.orders().clone(),
        words,
        beat: SHOWN_IN.div_f64(lines.max(1.0)),
        forgets_at: Seconds(0.2 * documents.plan.value.length().0),
        on_screen,
    };
    let outlet = Operator::new(face, shift);
    let warnings = outlet.warnings();
    let keys = on_screen.then(|| Box::new(EventStream::new()));
    let probes = documents.probes.value.clone();
    let mut following = Following::new(run, Some(log), Box::new(outlet), Time::Lines(LineTime::default()), probes);
    let sources = Sources { told, words: Words::Tended { keys, operator }, signals: Signals::catch()? };
    let attended = attend::attend(&mut following, sources).await;
    let saved = following.finish_log();
    let ended = following.run().snapshot().ended.map(|ended| (ended.reason, ended.elapsed));
    if on_screen && attended.is_ok() {
        sleep(LAST_SCREEN).await;
    }
    let _ = following.close();
    for port in ports {
        // A thread that is slow to end is left behind; the process ends anyway.
        let _ = port.stop();
    }
    saved?;
    attended?;
    Ok(Shown { ended, warnings: warnings.get() })
}

fn opening_words(dir: &Path) -> String {
    format!(
        "The first heat of a school foundry's small crucible furnace, simulated. No gas, no fire.\n\
         Everything goes into the new directory {}.\n\n\
         1. Plan: the shortest pulsed heat-up that is safe on {} possible linings of this kind.\n   \
         That takes some seconds.\n\n",
        dir.display(),
        BELIEF.members
    )
}

fn closing_words(files: &Files, found: &Found, shown: &Shown, took: Duration) -> String {
    let mut text = String::new();
    let planned = found.plan.length().shown(UnitSystem::Metric);
    // Writing to a string cannot fail.
    if let Some((reason, elapsed)) = &shown.ended {
        let elapsed = elapsed.shown(UnitSystem::Metric);
        let _ = writeln!(text, "The heat-up: {reason}.\nIt took {elapsed} of furnace time, planned {planned}.");
    }
    let _ = write!(
        text,
        "{} warnings were given; all of this took {} s.\n\n\
         In {}:\n  \
         lining.toml   what the furnace is made of; write your own after it\n  \
         plan.toml     the plan, and card.txt to print\n  \
         probes.toml   which thermocouple is where, on which port\n  \
         heat-up.csv   the log of every reading, word and warning\n\n\
         Next:\n",
        shown.warnings,
        took.as_secs(),
        files.dir.display()
    );
    let (lining, plan, log) = (files.lining.display(), files.plan.display(), files.log.display());
    let _ = write!(
        text,
        "  firstheat report {log}\n      \
         what happened, on one page: plan against reality, steam pressure, dryness, and what to do next\n  \
         firstheat replay {log}\n      \
         the same readings through the same engine again: it must say the same\n  \
         firstheat check {plan} --lining {lining} --members 8\n      \
         change a pulse of the plan by hand first, and see whether it is still safe\n  \
         firstheat plan YOUR-LINING.toml -o YOUR-PLAN.toml\n  \
         firstheat follow YOUR-LINING.toml --plan YOUR-PLAN.toml --probes YOUR-PROBES.toml\n      \
         with your own thermocouples; hardware-notes/ tells how to wire and place them\n"
    );
    text
}
