//! The loop that follows: whatever comes first, probe line, word, second or signal, becomes one input of the run.

use std::sync::Arc;
use std::time::Duration;

use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::sync::{mpsc, oneshot};
use tokio::time::{Instant, Interval, MissedTickBehavior, interval, sleep_until};

use super::outlet::{Closing, Outlet};
use super::words::{Heard, Said, WORDS, Words};
use crate::app::AppError;
use crate::clock::{LineClock, LineTime, Stopwatch};
use crate::log::{LogError, LogEvent, LogWriter};
use crate::physics::SolveError;
use crate::plan::Plan;
use crate::plan::text::{parse_plan, write_plan};
use crate::probe::feed::{Lost, PortEvent, Told};
use crate::probe::set::ProbeSet;
use crate::probe::source::in_words;
use crate::run::{Ahead, Event, Input, LogNow, ReplanError, Run, Snapshot, Verdict, Word};
use crate::units::Seconds;

/// Time between two looks at the clock.
const TICK: Duration = Duration::from_secs(1);

/// A sleep of this length is told, s.
const SLEPT_S: f64 = 2.0;

/// A tick is left out when something else happened this recently, so that the log holds no more than it needs.
const RECENT: Duration = Duration::from_millis(900);

/// When time comes from the probe lines, silence of this length is reported, because nothing else would tell.
const SILENCE: Duration = Duration::from_secs(30);

/// Name of all probe lines together, where time comes from them.
const PROBE_LINES: &str = "probe lines";

/// Where elapsed time comes from.
#[derive(Debug)]
pub enum Time {
    /// This computer's clock.
    Clock(Stopwatch),
    /// The lines.
    Lines(LineTime),
}

/// Where everything comes from. Dropping it ends the port threads' work.
pub struct Sources {
    /// Probe events. Bounded; what happens when it is full is told in [`crate::probe::feed`].
    pub told: mpsc::Receiver<Told>,
    /// The operator.
    pub words: Words,
    /// The system.
    pub signals: Signals,
}

/// Signals that ask the program to end.
pub struct Signals {
    caught: Option<[Signal; 3]>,
}

impl Signals {
    /// Catches SIGTERM, SIGINT and SIGHUP.
    ///
    /// # Errors
    /// When the system refuses.
    pub fn catch() -> Result<Self, AppError> {
        let refused = |source| AppError::System { doing: "to pass on its signals", source };
        let of = |kind| signal(kind).map_err(refused);
        let kinds = [of(SignalKind::terminate())?, of(SignalKind::interrupt())?, of(SignalKind::hangup())?];
        Ok(Self { caught: Some(kinds) })
    }

    /// None ever come.
    #[must_use]
    pub fn none() -> Self {
        Self { caught: None }
    }

    async fn next(&mut self) {
        match &mut self.caught {
            Some([terminate, interrupt, hangup]) => {
                tokio::select! {
                    _ = terminate.recv() => {}
                    _ = interrupt.recv() => {}
                    _ = hangup.recv() => {}
                }
            }
            None => std::future::pending().await,
        }
    }
}

/// A heat-up being followed, with its log and its face to the world.
pub struct Following {
    run: Run,
    log: Option<LogWriter>,
    log_events: Option<mpsc::Receiver<LogEvent>>,
    outlet: Box<dyn Outlet>,
    time: Time,
    probes: ProbeSet,
    /// The port whose lines carry the time, once one did.
    time_port: Option<Arc<str>>,
    ports_ended: usize,
    last_step: Instant,
    last_line: Instant,
    is_silent: bool,
    was_told_of_no_time: bool,
    /// Whether whoever sits at it, or the system, asked to leave: then no last screen is shown.
    is_leaving: bool,
    replans: Replans,
    /// Outcome of a search that is under way. Holds one; dropped with the search's end.
    search: Option<oneshot::Receiver<Result<Plan, ReplanError>>>,
    /// What lies ahead, being worked out. Holds one; dropped when it is shown.
    looking: Option<oneshot::Receiver<Result<Ahead, SolveError>>>,
    /// When that was last begun.
    looked: Instant,
    /// What happens first: that a heat-up is taken up again. Waits for the first line where time comes from the lines.
    taken_up: Option<TakenUp>,
    /// Time slept as it was at the last look.
    asleep: Seconds,
}

/// Whether a new plan for the rest is searched after a deviation.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Replans {
    /// The plan is kept to, only later.
    #[default]
    Never,
    /// It is searched on a thread of its own.
    OnItsOwnThread,
}

/// A heat-up that is taken up again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TakenUp {
    /// Elapsed time of the last step that was known.
    pub last: Seconds,
}

/// Follows until the end of the heat-up, the operator's `quit`, or a signal.
///
/// # Errors
/// When the outlet takes no more output. The log can still be finished.
pub async fn attend(following: &mut Following, mut sources: Sources) -> Result<(), AppError> {
    following.begin()?;
    let mut ticks = interval(TICK);
    ticks.set_missed_tick_behavior(MissedTickBehavior::Skip);
    while following.taken_up.is_some() || !following.run.has_ended() {
        following.wait_and_take(&mut sources, &mut ticks).await?;
    }
    if following.outlet.closing() == Closing::Stays && !following.is_leaving {
        following.stay(&mut sources).await?;
    }
    Ok(())
}

impl Following {
    /// A heat-up about to be followed. `log` is `None` when none is wanted.
    #[must_use]
    pub fn new(run: Run, mut log: Option<LogWriter>, outlet: Box<dyn Outlet>, time: Time, probes: ProbeSet) -> Self {
        let log_events = log.as_mut().and_then(LogWriter::events);
        let now = Instant::now();
        Self {
            run,
            log,
            log_events,
            outlet,
            time,
            probes,
            time_port: None,
            ports_ended: 0,
            last_step: now,
            last_line: now,
            is_silent: false,
            was_told_of_no_time: false,
            is_leaving: false,
            replans: Replans::Never,
            search: None,
            looking: None,
            looked: now,
            taken_up: None,
            asleep: Seconds(0.0),
        }
    }

    /// The same with new plans searched as `replans` says.
    #[must_use]
    pub fn replanning(self, replans: Replans) -> Self {
        Self { replans, ..self }
    }

    /// The same for a heat-up that is taken up again.
    #[must_use]
    pub fn taking_up(self, taken_up: TakenUp) -> Self {
        Self { taken_up: Some(taken_up), ..self }
    }

    fn begin(&mut self) -> Result<(), AppError> {
        match (&self.time, self.taken_up) {
            (Time::Clock(_), Some(_)) => self.take_up(),
            (Time::Lines(_), Some(_)) => Ok(()),
            (_, None) => self.step(Event::Tick),
        }
    }

    /// Says how long nothing was watched, when that has not been said yet.
    fn take_up(&mut self) -> Result<(), AppError> {
        let Some(TakenUp { last }) = self.taken_up.take() else { return Ok(()) };
        let missed = Seconds((self.elapsed() - last).0.max(0.0));
        self.step(Event::TakenUp { missed })
    }

    /// Begins the search for a new plan when one is wanted.
    fn search_if_wanted(&mut self) {
        if self.replans == Replans::Never || self.search.is_some() {
            return;
        }
        if let Some(replan) = self.run.replan_wanted() {
            let (sender, receiver) = oneshot::channel();
            // Whoever waits for it may be gone by then; then nobody misses it.
            tokio::task::spawn_blocking(move || drop(sender.send(replan.search())));
            self.search = Some(receiver);
        }
    }

    /// Begins to look ahead, where somebody sees it and what was seen before is old. A fault of the solver shows nothing new;
    /// the run itself says so when it meets it.
    fn look_ahead_if_shown(&mut self) {
        if self.looking.is_some() || !self.outlet.shows_ahead() || self.looked.elapsed() < TICK {
            return;
        }
        if let Some(ahead) = self.run.look_ahead() {
            let (sender, receiver) = oneshot::channel();
            tokio::task::spawn_blocking(move || drop(sender.send(ahead.look())));
            self.looking = Some(receiver);
            self.looked = Instant::now();
        }
    }

    fn take_ahead(&mut self, seen: Option<Result<Ahead, SolveError>>) -> Result<(), AppError> {
        self.looking = None;
        if let Some(Ok(ahead)) = seen {
            self.run.show_ahead(ahead);
        }
        self.refresh()
    }

    fn take_plan(&mut self, found: Option<Result<Plan, ReplanError>>) -> Result<(), AppError> {
        self.search = None;
        // What goes into the log is what its text says, so that a replay has the same.
        let read = |plan: Plan| parse_plan(&write_plan(&plan)).map_err(|error| error.to_string());
        let found = match found {
            Some(Ok(plan)) => read(plan),
            Some(Err(error)) => Err(crate::app::chain(&error)),
            None => Err("the search ended without an answer".to_owned()),
        };
        self.step(match found {
            Ok(plan) => Event::Replanned(Box::new(plan)),
            Err(why) => Event::NotReplanned(why),
        })
    }

    /// Time that the computer slept is time that nobody watched.
    fn look_for_sleep(&mut self) -> Result<(), AppError> {
        let Time::Clock(watch) = &self.time else { return Ok(()) };
        let (asleep, before) = (watch.asleep(), self.asleep);
        self.asleep = asleep;
        let missed = asleep - before;
        if missed.0 >= SLEPT_S { self.step(Event::TakenUp { missed }) } else { Ok(()) }
    }

    /// The run.
    #[must_use]
    pub fn run(&self) -> &Run {
        &self.run
    }

    /// Says something that does not come from the run and is not logged as an input.
    ///
    /// # Errors
    /// When the outlet takes no more output.
    pub fn remark(&mut self, text: &str) -> Result<(), AppError> {
        let notice = Verdict::Notice { elapsed_s: self.elapsed().0, text: text.to_owned(), about: None };
        let (run, log) = (&self.run, self.log.as_ref());
        self.outlet.say(&[notice], &|| seen(run, log))
    }

    /// Makes the log safe and closes it.
    ///
    /// # Errors
    /// When the disk does not take the last rows in time.
    pub fn finish_log(&mut self) -> Result<(), LogError> {
        self.log_events = None;
        self.log.take().map_or(Ok(()), LogWriter::finish)
    }

    /// Gives the terminal back and tells what is left to do.
    #[must_use]
    pub fn close(self) -> Closing {
        self.outlet.closing()
    }

    async fn wait_and_take(&mut self, sources: &mut Sources, ticks: &mut Interval) -> Result<(), AppError> {
        let change = self.change_at();
        self.look_for_sleep()?;
        self.search_if_wanted();
        self.look_ahead_if_shown();
        // What the operator did comes before what the probes say of it.
        tokio::select! {
            biased;
            () = sources.signals.next() => {
                self.is_leaving = true;
                self.step(Event::Operator(Word::Quit))
            }
            heard = sources.words.next() => self.take_heard(heard),
            Some(event) = next_of(&mut self.log_events) => self.take_log_event(event),
            Some(told) = sources.told.recv() => {
                self.take_said(sources.words.waiting())?;
                self.take_told(told)
            }
            found = answer_of(&mut self.search) => self.take_plan(found),
            seen = answer_of(&mut self.looking) => self.take_ahead(seen),
            () = at(change) => self.step(Event::Tick),
            _ = ticks.tick() => self.tick(),
        }
    }

    /// Shows the last screen until the person leaves.
    async fn stay(&mut self, sources: &mut Sources) -> Result<(), AppError> {
        loop {
            tokio::select! {
                () = sources.signals.next() => return Ok(()),
                heard = sources.words.next() => {
                    if let Heard::Key(event) = heard {
                        let (run, log) = (&self.run, self.log.as_ref());
                        let word = self.outlet.pressed(&event, &|| seen(run, log));
                        if word == Some(Word::Quit) {
                            return Ok(());
                        }
                        self.refresh()?;
                    }
                }
            }
        }
    }

    fn elapsed(&self) -> Seconds {
        match &self.time {
            Time::Clock(watch) => watch.elapsed(),
            Time::Lines(lines) => lines.elapsed(),
        }
    }

    /// When the plan wants the burner to change, on the clock.
    fn change_at(&self) -> Option<Instant> {
        let Time::Clock(watch) = &self.time else { return None };
        let change = watch.moment(self.run.next_change()?);
        // A moment ago is now; a tick takes it.
        (change > Instant::now()).then_some(change)
    }

    /// One input through the run: recorded, then shown.
    fn step(&mut self, event: Event) -> Result<(), AppError> {
        let goes_on = matches!(event, Event::TakenUp { .. });
        if self.run.has_ended() && !goes_on {
            return Ok(());
        }
        self.last_step = Instant::now();
        let input = Input { elapsed: self.elapsed(), event };
        let verdicts = self.run.step(&input);
        if let Some(log) = &mut self.log {
            // A step there was no room for is reported by the log itself.
            let _ = log.record(&input, &verdicts);
        }
        let (run, log) = (&self.run, self.log.as_ref());
        self.outlet.say(&verdicts, &|| seen(run, log))
    }

    fn refresh(&mut self) -> Result<(), AppError> {
        let (run, log) = (&self.run, self.log.as_ref());
        self.outlet.refresh(&|| seen(run, log))
    }

    fn tick(&mut self) -> Result<(), AppError> {
        match self.time {
            Time::Clock(_) if self.last_step.elapsed() >= RECENT => self.step(Event::Tick)?,
            Time::Lines(_) if !self.is_silent && self.last_line.elapsed() >= SILENCE => {
                self.is_silent = true;
                let length_s = SILENCE.as_secs();
                self.step(Event::PortLost(format!("{PROBE_LINES}: none for {length_s} s, and time stands with them")))?;
            }
            _ => {}
        }
        self.refresh()
    }

    fn take_heard(&mut self, heard: Heard) -> Result<(), AppError> {
        match heard {
            Heard::Said(said) => self.take_said(said),
            Heard::Key(event) => {
                let (run, log) = (&self.run, self.log.as_ref());
                let word = self.outlet.pressed(&event, &|| seen(run, log));
                if let Some(word) = word {
                    self.is_leaving = word == Word::Quit;
                    self.take_word(word)?;
                }
                self.refresh()
            }
        }
    }

    fn take_said(&mut self, said: Vec<Said>) -> Result<(), AppError> {
        for said in said {
            match said {
                Said::Word(word) => self.take_word(word)?,
                Said::Unknown(word) => self.remark(&format!("`{word}` is no word here; the words are {WORDS}"))?,
            }
        }
        Ok(())
    }

    fn take_word(&mut self, word: Word) -> Result<(), AppError> {
        if word == Word::Replan && self.replans == Replans::Never {
            return self.remark("no new plan is searched here: the one at hand is kept to, only later");
        }
        self.step(Event::Operator(word))
    }

    fn take_log_event(&mut self, event: LogEvent) -> Result<(), AppError> {
        self.step(match event {
            LogEvent::Failing(why) => Event::LogFailing(why),
            LogEvent::Back => Event::LogBack,
        })
    }

    fn take_told(&mut self, told: Told) -> Result<(), AppError> {
        let port = told.port;
        match told.event {
            PortEvent::Line { board_time, readings, .. } => {
                self.take_time(&port, board_time)?;
                self.step(Event::Readings(readings))
            }
            PortEvent::Garbled { .. } => {
                let spec = self.probes.ports.iter().find(|spec| spec.path == port);
                let readings = spec.map_or_else(Vec::new, crate::probe::set::PortSpec::garbled);
                self.step(Event::Readings(readings))
            }
            PortEvent::Missed { lines } => {
                self.remark(&format!("{lines} lines from {port} came faster than they could be taken and were dropped"))
            }
            PortEvent::Remark { text } => self.remark(&format!("{}: {text}", in_words(&port))),
            PortEvent::Lost { why } => {
                let has_ended = matches!(why, Lost::Ended { .. });
                self.step(Event::PortLost(format!("{}: {why}", in_words(&port))))?;
                if has_ended { self.take_end() } else { Ok(()) }
            }
            PortEvent::Back => self.step(Event::PortBack(port.to_string())),
        }
    }

    /// A recording has come to its end. When time comes from the lines and no line can come any more, so has following.
    fn take_end(&mut self) -> Result<(), AppError> {
        self.ports_ended += 1;
        if matches!(self.time, Time::Lines(_)) && self.ports_ended >= self.probes.ports.len() {
            return self.step(Event::Operator(Word::Quit));
        }
        Ok(())
    }

    /// Takes in the time of a line, where time comes from the lines of this port.
    fn take_time(&mut self, port: &Arc<str>, line: Option<Seconds>) -> Result<(), AppError> {
        self.last_line = Instant::now();
        let Time::Lines(lines) = &mut self.time else { return Ok(()) };
        let is_its_port = self.time_port.as_ref().is_none_or(|known| known == port);
        let clock = match line {
            Some(line) if is_its_port => {
                self.time_port = Some(Arc::clone(port));
                Some(lines.take(line))
            }
            _ => None,
        };
        if self.is_silent {
            self.is_silent = false;
            self.step(Event::PortBack(PROBE_LINES.to_owned()))?;
        }
        if clock.is_some() {
            self.take_up()?;
        }
        match clock {
            Some(LineClock::Restarted(_)) => self.remark(
                "the time on the probe lines jumped back, as after a restart of the board; it goes on from here",
            ),
            None if line.is_none() && is_its_port && !self.was_told_of_no_time => {
                self.was_told_of_no_time = true;
                self.remark("the probe line carries no time; expected `t=` with seconds, so time stands still")
            }
            _ => Ok(()),
        }
    }
}

/// The run as a screen needs it, with what only the log knows.
fn seen(run: &Run, log: Option<&LogWriter>) -> Snapshot {
    let mut snapshot = run.snapshot();
    snapshot.log = match (log, snapshot.log) {
        (None, _) => LogNow::Off,
        (Some(log), LogNow::Failing { why, .. }) => LogNow::Failing { rows: log.durable_row(), why },
        (Some(log), _) => LogNow::Writing { rows: log.durable_row() },
    };
    snapshot
}

async fn next_of<T>(receiver: &mut Option<mpsc::Receiver<T>>) -> Option<T> {
    match receiver {
        Some(receiver) => receiver.recv().await,
        None => std::future::pending().await,
    }
}

async fn answer_of<T>(search: &mut Option<oneshot::Receiver<T>>) -> Option<T> {
    match search {
        Some(receiver) => receiver.await.ok(),
        None => std::future::pending().await,
    }
}

async fn at(moment: Option<Instant>) {
    match moment {
        Some(moment) => sleep_until(moment).await,
        None => std::future::pending().await,
    }
}
