//! `try`: the whole job in about a minute on a simulated furnace behind a real pseudo-terminal.
//!
//! An operator that is part of the program obeys the cues, but once leaves the burner on far too long, so that a warning
//! shows. Everything goes into a new directory, and stays there.

use std::io::{self, IsTerminal as _};
use std::path::{Path, PathBuf};
use std::sync::mpsc::SyncSender;

use crossterm::event::{Event as TerminalEvent, EventStream};
use tokio::sync::mpsc;

use super::follow::attend::{self, Following, Signals, Sources, Time};
use super::follow::outlet::{Closing, Now, OnScreen, Outlet, PlainLines};
use super::follow::words::{Said, Words};
use super::setup::Documents;
use super::{AppError, Outcome};
use crate::cli::TryArgs;
use crate::clock::{LineTime, date_label};
use crate::files::{new_directory, write_new};
use crate::log::{LogOptions, LogWriter};
use crate::physics::{Belief, Furnace, Grid};
use crate::plan::Flame;
use crate::probe::feed;
use crate::probe::simulated::{BehindPort, Burner, Habits, Order, Pace, SimulatedFurnace};
use crate::probe::source::Source;
use crate::run::{Run, TimeSource, Verdict, Word};

/// The lining that is tried.
const LINING: &str = include_str!("../../schedules/thin-coat-forge.toml");

/// Its plan, short enough to be watched.
const PLAN: &str = include_str!("../../schedules/thin-coat-forge-try-plan.toml");

/// Its probes; PORT stands for the pseudo-terminal.
const PROBES: &str = r#"format = "firstheat probes 1"

[[port]]
path = "PORT"

[[port.channel]]
name = "hot"
place = "hot-face"
section = "barrel"
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
section = "barrel"
type = "K"
"#;

/// How much faster than real the furnace lives.
const PACE: f64 = 40.0;

/// Members of the ensemble: few, so that any machine keeps up.
const BELIEF: Belief = Belief { members: 8, seed: 1 };

/// The pulse, from 1, at whose end the operator forgets the burner.
const FORGOTTEN_PULSE: u32 = 3;

/// Longest that the burner is forgotten, s.
const FORGOTTEN_S: f64 = 60.0;

/// The show is over this long after the planned end, s: the pause after the forgotten pulse is longer by about that.
const AFTER_S: f64 = 1300.0;

/// Runs the command.
///
/// # Errors
/// When a file, the simulated port or the screen cannot be used.
pub fn run(args: &TryArgs) -> Result<Outcome, AppError> {
    let dir = new_directory(&format!("firstheat-try-{}", date_label()))?;
    let (lining, plan, probes) = (dir.join("lining.toml"), dir.join("plan.toml"), dir.join("probes.toml"));
    write_new(&lining, LINING)?;
    write_new(&plan, PLAN)?;
    // The port is only known once the furnace runs, and the furnace needs to know its probes.
    let behind = start_furnace(&dir)?;
    write_new(&probes, &PROBES.replace("PORT", behind.path()))?;
    let documents = Documents::read(&lining, &plan, &probes)?;
    let log_path = dir.join("heat-up.csv");
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(|source| AppError::System { doing: "a place to run tasks", source })?;
    let outcome = runtime.block_on(show(args, &documents, &log_path, behind.orders().clone()));
    let stopped = behind.stop();
    runtime.shutdown_background();
    outcome?;
    stopped?;
    super::print(&closing_words(&dir))?;
    Ok(Outcome::Done)
}

fn start_furnace(dir: &Path) -> Result<BehindPort, AppError> {
    let path = dir.join("probes.toml");
    let refused = |wrong| AppError::Probes { path, source: Box::new(wrong) };
    let set = crate::probe::file::parse(&PROBES.replace("PORT", "/dev/null")).map_err(refused)?;
    let lining = crate::files::read_lining(&dir.join("lining.toml"))?.value;
    let furnace = Furnace::of(&lining, Grid::Usual);
    let board = set
        .ports
        .into_iter()
        .next()
        .ok_or(AppError::System { doing: "the simulated board", source: io::Error::from(io::ErrorKind::NotFound) })?;
    let simulated = SimulatedFurnace::new(&furnace, board, Habits::default())?;
    Ok(BehindPort::start(simulated, Pace::Times(PACE))?)
}

async fn show(
    args: &TryArgs,
    documents: &Documents,
    log_path: &Path,
    orders: SyncSender<Order>,
) -> Result<(), AppError> {
    let run = Run::new(documents.setup(BELIEF, TimeSource::ProbeLine))?;
    let log = LogWriter::create(
        log_path,
        &super::follow::head_of(documents, BELIEF, TimeSource::ProbeLine),
        LogOptions::default(),
    )?;
    let (sender, told) = feed::channel();
    let ports = documents.probes.value.ports.iter().map(|port| Source::start(port.clone(), sender.clone()));
    let ports: Vec<Source> = ports.collect::<Result<_, _>>()?;
    let on_screen = !args.plain && io::stdout().is_terminal() && io::stdin().is_terminal();
    let face: Box<dyn Outlet> =
        if on_screen { Box::new(OnScreen::take()?) } else { Box::new(PlainLines::new(io::stdout())) };
    let (words, operator) = mpsc::channel(64);
    let until_s = documents.plan.value.length().0 + AFTER_S;
    let outlet = Operator { face, orders, words, pulses: 0, forgot_s: None, until_s };
    let keys = on_screen.then(|| Box::new(EventStream::new()));
    let probes = documents.probes.value.clone();
    let mut following = Following::new(run, Some(log), Box::new(outlet), Time::Lines(LineTime::default()), probes);
    let sources = Sources { told, words: Words::Tended { keys, operator }, signals: Signals::catch()? };
    let attended = attend::attend(&mut following, sources).await;
    following.finish_log()?;
    let _ = following.close();
    for port in ports {
        // A thread that is slow to end is left behind; the process ends anyway.
        let _ = port.stop();
    }
    attended
}

/// Stands between the verdicts and the screen, and does what an operator would, with one mistake.
struct Operator {
    face: Box<dyn Outlet>,
    orders: SyncSender<Order>,
    /// Holds 64 words, which is more than can be said between two looks; a word that does not fit is said at the next cue.
    words: mpsc::Sender<Said>,
    pulses: u32,
    /// Since when the burner is forgotten, s.
    forgot_s: Option<f64>,
    until_s: f64,
}

impl Operator {
    fn turn(&mut self, flame: Flame) {
        let (burner, word) = match flame {
            Flame::On => (Burner::Lit, Word::On),
            Flame::Off => (Burner::Shut, Word::Off),
        };
        if self.orders.try_send(Order::Turn(burner)).is_ok() {
            let _ = self.words.try_send(Said::Word(word));
        }
    }

    fn hear(&mut self, verdict: &Verdict) {
        let elapsed_s = verdict.elapsed_s();
        match verdict {
            Verdict::Cue { burner: Flame::On, in_s, .. } if *in_s <= 0.0 => {
                self.pulses += 1;
                self.turn(Flame::On);
            }
            Verdict::Cue { burner: Flame::Off, in_s, .. } if *in_s <= 0.0 => {
                if self.pulses == FORGOTTEN_PULSE && self.forgot_s.is_none() {
                    self.forgot_s = Some(elapsed_s);
                } else {
                    self.turn(Flame::Off);
                }
            }
            Verdict::Reading { .. } if elapsed_s >= self.until_s => {
                let _ = self.words.try_send(Said::Word(Word::Quit));
            }
            Verdict::Reading { .. } if self.forgot_s.is_some_and(|since_s| elapsed_s - since_s >= FORGOTTEN_S) => {
                self.forgot_s = Some(f64::INFINITY);
                self.turn(Flame::Off);
            }
            _ => {}
        }
    }
}

impl Outlet for Operator {
    fn say(&mut self, verdicts: &[Verdict], now: Now<'_>) -> Result<(), AppError> {
        for verdict in verdicts {
            self.hear(verdict);
        }
        self.face.say(verdicts, now)
    }

    fn refresh(&mut self, now: Now<'_>) -> Result<(), AppError> {
        self.face.refresh(now)
    }

    fn pressed(&mut self, event: &TerminalEvent, now: Now<'_>) -> Option<Word> {
        self.face.pressed(event, now)
    }

    fn closing(&self) -> Closing {
        self.face.closing()
    }
}

fn closing_words(dir: &Path) -> String {
    let file = |name: &str| -> PathBuf { dir.join(name) };
    let (lining, plan, log) = (file("lining.toml"), file("plan.toml"), file("heat-up.csv"));
    format!(
        "what was tried is in {}: lining.toml, plan.toml, probes.toml and the log heat-up.csv\n\
         next:\n  firstheat replay {}\n  firstheat check {} {}\n  write your own lining file after lining.toml\n",
        dir.display(),
        log.display(),
        lining.display(),
        plan.display()
    )
}
