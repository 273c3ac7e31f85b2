//! Writing the log while a heat-up is followed: own thread, and following never waits for the disk.
//!
//! [`LogWriter::record`] puts a step into memory and returns. The writer's thread appends what is there at once (so that a
//! killed program loses next to nothing) and syncs at least every [`LogOptions::sync_every`] (so that a power cut loses no
//! more than that), at once for what must not be lost ([`LogOptions::sync_at_once`]). A step stays in memory until the disk
//! has it for good; [`LogWriter::durable_row`] tells how far that is.
//!
//! When the disk refuses, [`LogEvent::Failing`] is reported once for each new cause, the thread tries again every
//! [`LogOptions::retry_after`], and [`LogEvent::Back`] follows when everything kept in memory is safe. Memory is bounded by
//! [`LogOptions::memory_bytes`]: steps for which there is no room are counted, reported, and the log gets a `gap` row where
//! they are missing.

use std::collections::VecDeque;
use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

use chrono::{DateTime, FixedOffset, Local};
use tokio::sync::mpsc;

use super::LogError;
use super::entry::Entry;
use super::head::{Head, PROGRAM};
use super::medium::{DiskFile, Medium};
use super::recover::{self, Cut, LogBook};
use super::row::{self, Row};
use super::step::{self, Selection};
use super::tail::Tail;
use crate::run::{Event, Input, Verdict};
use crate::units::Seconds;

/// How many events may wait to be read. When more wait, the newest is kept back and goes next, those between are let go.
const EVENTS: usize = 64;

/// How many bytes are written in one go.
const WRITE_BYTES: usize = 256 * 1024;

/// How a log is written.
#[derive(Clone, Debug)]
pub struct LogOptions {
    /// Longest time a row waits before it is made safe.
    pub sync_every: Duration,
    /// What is made safe without waiting.
    pub sync_at_once: SyncAtOnce,
    /// How long the disk may take before it is reported as slow.
    pub slow_after: Duration,
    /// Pause before the disk is tried again.
    pub retry_after: Duration,
    /// Longest time [`LogWriter::finish`] takes.
    pub finish_within: Duration,
    /// Most bytes of rows kept in memory.
    pub memory_bytes: usize,
    /// Where the wall time in the rows comes from.
    pub wall_clock: WallClock,
}

impl Default for LogOptions {
    fn default() -> Self {
        Self {
            sync_every: Duration::from_secs(1),
            sync_at_once: SyncAtOnce::WarningsAndWords,
            slow_after: Duration::from_secs(5),
            retry_after: Duration::from_secs(1),
            finish_within: Duration::from_secs(5),
            memory_bytes: 32 * 1024 * 1024,
            wall_clock: WallClock::default(),
        }
    }
}

/// What is made safe without waiting for the next regular sync.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SyncAtOnce {
    /// Every step.
    EveryStep,
    /// Steps with an operator's word, a warning, a fault or the end.
    WarningsAndWords,
    /// Nothing.
    Nothing,
}

/// Gives the wall time that labels the rows.
#[derive(Clone)]
pub struct WallClock(Arc<dyn Fn() -> DateTime<FixedOffset> + Send + Sync>);

impl WallClock {
    /// A clock that gives what `now` gives.
    pub fn new(now: impl Fn() -> DateTime<FixedOffset> + Send + Sync + 'static) -> Self {
        Self(Arc::new(now))
    }
}

impl Default for WallClock {
    /// This machine's clock, with its time zone.
    fn default() -> Self {
        Self::new(|| Local::now().fixed_offset())
    }
}

impl fmt::Debug for WallClock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("WallClock")
    }
}

/// How the log is doing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LogEvent {
    /// It cannot be written, and why. Following goes on; rows are kept in memory.
    Failing(String),
    /// It is written again and everything kept is safe.
    Back,
}

/// What became of a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Recorded {
    /// It is in memory and on its way; this is the number of its last row.
    Row(u64),
    /// Memory is full: it is not in the log, and the log will say so.
    NoRoom,
}

/// A log being written.
#[derive(Debug)]
pub struct LogWriter {
    path: PathBuf,
    options: LogOptions,
    selection: Selection,
    shared: Arc<Shared>,
    events: Option<mpsc::Receiver<LogEvent>>,
}

impl LogWriter {
    /// Begins a new log. When this returns, its head is safe.
    ///
    /// # Errors
    ///
    /// When something has that name already, or the disk refuses.
    pub fn create(path: &Path, head: &Head, options: LogOptions) -> Result<Self, LogError> {
        let medium = DiskFile::create(path).map_err(|source| match source.kind() {
            std::io::ErrorKind::AlreadyExists => LogError::Exists { path: path.to_owned() },
            _ => LogError::Io { path: path.to_owned(), doing: "create the log", source },
        })?;
        Self::create_on(medium, path, head, options).inspect_err(|_| {
            // A file without a head is of no use to anyone; that it cannot be removed adds nothing to the first error.
            let _ = std::fs::remove_file(path);
        })
    }

    /// Begins a new log on an empty medium; `path` is what messages call it.
    ///
    /// # Errors
    ///
    /// When the medium refuses.
    pub fn create_on<M: Medium + 'static>(
        mut medium: M,
        path: &Path,
        head: &Head,
        options: LogOptions,
    ) -> Result<Self, LogError> {
        let entries = head.entries().into_iter().map(|entry| (Seconds(0.0), entry)).collect();
        let mut numbering = Numbering { next_row: 1 };
        let block = numbering.block(entries, &options.wall_clock);
        let text = format!("{}\n{}", row::HEADER, block.lines);
        medium.append(text.as_bytes()).and_then(|()| medium.sync()).map_err(|source| LogError::Io {
            path: path.to_owned(),
            doing: "begin the log",
            source,
        })?;
        let selection = Selection::new(head.estimates_every);
        Self::start(medium, path, options, selection, numbering)
    }

    /// Takes up a log again, and gives what it holds. A torn tail is cut; its bytes are saved beside.
    ///
    /// # Errors
    ///
    /// When it is no log, is damaged before its end, another program writes to it, or the disk refuses.
    pub fn append(path: &Path, options: LogOptions) -> Result<(Self, LogBook), LogError> {
        Self::append_cutting(path, options, Cut::TornTail)
    }

    /// Takes up a log again as [`LogWriter::append`] does, and cuts what `cut` says.
    ///
    /// # Errors
    ///
    /// As [`LogWriter::append`].
    pub fn append_cutting(path: &Path, options: LogOptions, cut: Cut) -> Result<(Self, LogBook), LogError> {
        Self::resume(recover::open(path, cut)?, options)
    }

    /// Takes up a log again on any medium; `save` keeps the bytes of a torn tail.
    ///
    /// # Errors
    ///
    /// As [`LogWriter::append`].
    pub fn append_on<M: Medium + 'static>(
        medium: M,
        path: &Path,
        options: LogOptions,
        save: impl FnOnce(&[u8]) -> std::io::Result<()>,
    ) -> Result<(Self, LogBook), LogError> {
        let ready = recover::make_ready(medium, path, Cut::TornTail, save)?;
        Self::resume(ready, options)
    }

    fn resume<M: Medium + 'static>(ready: recover::Ready<M>, options: LogOptions) -> Result<(Self, LogBook), LogError> {
        let recover::Ready { medium, book, cut_bytes } = ready;
        let selection = book.selection().unwrap_or(Selection::new(Seconds(0.0)));
        let numbering = Numbering { next_row: book.last_row + 1 };
        let mut writer = Self::start(medium, &book.path, options, selection, numbering)?;
        let elapsed = book.steps.last().map_or(Seconds(0.0), |step| step.input.elapsed);
        writer.put(vec![(elapsed, Entry::Resumed { program: PROGRAM.to_owned(), cut_bytes })], Urgency::AtOnce);
        Ok((writer, book))
    }

    fn start<M: Medium + 'static>(
        medium: M,
        path: &Path,
        options: LogOptions,
        selection: Selection,
        numbering: Numbering,
    ) -> Result<Self, LogError> {
        let io_error = |source| LogError::Io { path: path.to_owned(), doing: "write the log", source };
        let tail = Tail::at_end_of(medium).map_err(|trouble| io_error(std::io::Error::other(trouble)))?;
        let (sender, receiver) = mpsc::channel(EVENTS);
        let shared = Arc::new(Shared::new(numbering, sender));
        let (for_thread, thread_options) = (Arc::clone(&shared), options.clone());
        let thread = thread::Builder::new().name("log".to_owned());
        thread.spawn(move || keep(tail, &for_thread, &thread_options)).map_err(io_error)?;
        Ok(Self { path: path.to_owned(), options, selection, shared, events: Some(receiver) })
    }

    /// Records a step: what happened, and what was said to it. Returns at once whatever the disk does.
    pub fn record(&mut self, input: &Input, verdicts: &[Verdict]) -> Recorded {
        let mut entries = step::entries_of_input(input);
        for verdict in verdicts {
            if self.selection.keeps(verdict) {
                entries.extend(step::entries_of_verdict(verdict));
            }
        }
        let urgency = match self.options.sync_at_once {
            SyncAtOnce::EveryStep => Urgency::AtOnce,
            SyncAtOnce::WarningsAndWords if matters(input, verdicts) => Urgency::AtOnce,
            _ => Urgency::Regular,
        };
        self.put(entries, urgency)
    }

    fn put(&mut self, entries: Vec<(Seconds, Entry)>, urgency: Urgency) -> Recorded {
        let mut state = self.shared.lock();
        let recorded = state.put(entries, urgency, &self.options);
        state.notice_slowness(&self.options);
        drop(state);
        self.shared.changed.notify_all();
        recorded
    }

    /// How the log is doing, as it changes. To be taken once; `None` afterwards.
    ///
    /// The channel holds 64 events; when nobody reads them the newest is kept back and delivered next.
    pub fn events(&mut self) -> Option<mpsc::Receiver<LogEvent>> {
        self.events.take()
    }

    /// Number of the last row that is safe from a kill and a power cut.
    #[must_use]
    pub fn durable_row(&self) -> u64 {
        self.shared.lock().durable_row
    }

    /// Waits until a row is safe, at most `limit`, and tells whether it is.
    #[must_use]
    pub fn wait_until_durable(&self, row: u64, limit: Duration) -> bool {
        let is_waiting = |state: &mut State| state.durable_row < row && !state.is_stopped;
        let waited = self.shared.changed.wait_timeout_while(self.shared.lock(), limit, is_waiting);
        waited.unwrap_or_else(PoisonError::into_inner).0.durable_row >= row
    }

    /// Makes everything safe and closes the log, in [`LogOptions::finish_within`] at most. It waits: call it off the tasks.
    ///
    /// # Errors
    ///
    /// [`LogError::Unsaved`] with the rows that the disk did not take in time, so that they can go elsewhere.
    pub fn finish(self) -> Result<(), LogError> {
        self.close();
        let mut state = self.shared.lock();
        if state.blocks.is_empty() {
            return Ok(());
        }
        let why = state.failing.clone().unwrap_or_else(|| "the disk did not answer in time".to_owned());
        let lines = state.blocks.drain(..).map(|block| block.lines.clone()).collect();
        Err(LogError::Unsaved { path: self.path.clone(), why, lines })
    }

    /// Tells the thread to stop and waits for it as long as it may take.
    fn close(&self) {
        let deadline = Instant::now() + self.options.finish_within;
        let mut state = self.shared.lock();
        state.put_gap(&self.options.wall_clock);
        state.give_up_at.get_or_insert(deadline);
        self.shared.changed.notify_all();
        let limit = self.options.finish_within;
        drop(self.shared.changed.wait_timeout_while(state, limit, |state| !state.is_stopped));
    }
}

impl Drop for LogWriter {
    fn drop(&mut self) {
        if self.shared.lock().give_up_at.is_none() {
            self.close();
        }
    }
}

/// Whether a step must not be lost: an operator's word, a warning, a fault or the end.
fn matters(input: &Input, verdicts: &[Verdict]) -> bool {
    let is_grave =
        |verdict: &Verdict| matches!(verdict, Verdict::Warning { .. } | Verdict::Fault { .. } | Verdict::End { .. });
    matches!(input.event, Event::Operator(_)) || verdicts.iter().any(is_grave)
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Urgency {
    Regular,
    AtOnce,
}

/// Rows that belong together, as they go into the file.
#[derive(Debug)]
struct Block {
    lines: String,
    last_row: u64,
    urgency: Urgency,
    /// When it was put into memory.
    since: Instant,
}

/// Gives rows their numbers.
#[derive(Debug)]
struct Numbering {
    next_row: u64,
}

impl Numbering {
    fn block(&mut self, entries: Vec<(Seconds, Entry)>, wall_clock: &WallClock) -> Block {
        let wall_time = Some((wall_clock.0)());
        let of = entries.len() as u32;
        let mut lines = String::with_capacity(128 * entries.len());
        for (part, (elapsed, entry)) in (1..).zip(entries) {
            let row = Row { number: self.next_row, elapsed, wall_time, part, of, entry };
            lines.push_str(&row.to_line());
            self.next_row += 1;
        }
        Block { lines, last_row: self.next_row - 1, urgency: Urgency::Regular, since: Instant::now() }
    }
}

/// What the handle and the thread share. Neither holds the lock while it talks to the disk.
#[derive(Debug)]
struct Shared {
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Debug)]
struct State {
    /// Rows that are not safe yet, in order; the thread takes them away once they are.
    blocks: VecDeque<Arc<Block>>,
    block_bytes: usize,
    numbering: Numbering,
    durable_row: u64,
    /// Steps there was no room for since the last that had some.
    lost_steps: u64,
    /// Set when the log is to be closed: no further try after it.
    give_up_at: Option<Instant>,
    is_stopped: bool,
    failing: Option<String>,
    events: mpsc::Sender<LogEvent>,
    kept_back: Option<LogEvent>,
}

impl Shared {
    fn new(numbering: Numbering, events: mpsc::Sender<LogEvent>) -> Self {
        let state = State {
            blocks: VecDeque::new(),
            block_bytes: 0,
            durable_row: numbering.next_row - 1,
            numbering,
            lost_steps: 0,
            give_up_at: None,
            is_stopped: false,
            failing: None,
            events,
            kept_back: None,
        };
        Self { state: Mutex::new(state), changed: Condvar::new() }
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl State {
    fn put(&mut self, entries: Vec<(Seconds, Entry)>, urgency: Urgency, options: &LogOptions) -> Recorded {
        if self.block_bytes >= options.memory_bytes || self.give_up_at.is_some() {
            self.lost_steps += 1;
            if self.lost_steps == 1 {
                self.report_full(options.memory_bytes);
            }
            return Recorded::NoRoom;
        }
        self.put_gap(&options.wall_clock);
        let block = self.numbering.block(entries, &options.wall_clock);
        self.push(Block { urgency, ..block });
        Recorded::Row(self.numbering.next_row - 1)
    }

    /// Reports once for each gap that there is no room; what the disk said stays the cause of the failure.
    fn report_full(&mut self, memory_bytes: usize) {
        let why =
            format!("memory for rows is full ({memory_bytes} bytes): steps are lost until the disk takes rows again");
        self.failing.get_or_insert_with(|| why.clone());
        self.report(LogEvent::Failing(why));
    }

    /// Says in the log that steps are missing, if some are.
    fn put_gap(&mut self, wall_clock: &WallClock) {
        if self.lost_steps > 0 {
            let gap = Entry::Gap { steps: std::mem::take(&mut self.lost_steps) };
            let block = self.numbering.block(vec![(Seconds(0.0), gap)], wall_clock);
            self.push(block);
        }
    }

    fn push(&mut self, block: Block) {
        self.block_bytes += block.lines.len();
        self.blocks.push_back(Arc::new(block));
    }

    /// The first `count` blocks are safe.
    fn release(&mut self, count: usize) {
        for block in self.blocks.drain(..count) {
            self.block_bytes -= block.lines.len();
            self.durable_row = block.last_row;
        }
    }

    /// Reports a disk that keeps the thread waiting, which the thread cannot do.
    fn notice_slowness(&mut self, options: &LogOptions) {
        let is_slow =
            self.blocks.front().is_some_and(|block| block.since.elapsed() > options.sync_every + options.slow_after);
        if is_slow && self.failing.is_none() {
            self.fail(format!("the disk has not taken a row for {} s", options.slow_after.as_secs_f64()));
        }
    }

    fn fail(&mut self, why: String) {
        if self.failing.as_ref() != Some(&why) {
            self.failing = Some(why.clone());
            self.report(LogEvent::Failing(why));
        }
    }

    fn well(&mut self) {
        if self.failing.take().is_some() {
            self.report(LogEvent::Back);
        }
    }

    fn report(&mut self, event: LogEvent) {
        self.kept_back = Some(event);
        self.deliver();
    }

    /// Hands over the event kept back, if it can be.
    fn deliver(&mut self) {
        if let Some(event) = self.kept_back.take()
            && let Err(mpsc::error::TrySendError::Full(event)) = self.events.try_send(event)
        {
            self.kept_back = Some(event);
        }
    }
}

/// What the thread should do next.
enum Work {
    Append(Vec<Arc<Block>>),
    Sync,
    Stop,
}

/// The thread: appends, syncs, and tries again, until the log is closed.
fn keep<M: Medium>(mut tail: Tail<M>, shared: &Shared, options: &LogOptions) {
    let mut progress = Progress::default();
    loop {
        let outcome = match next_work(shared, &progress, options) {
            Work::Stop => break,
            Work::Append(blocks) => progress.append(&mut tail, &blocks),
            Work::Sync => tail.sync().map(|()| progress.release(shared)),
        };
        if let Err(trouble) = outcome {
            shared.lock().fail(trouble.to_string());
            progress = Progress::default();
            if !mend(&mut tail, shared, options) {
                break;
            }
            progress.is_urgent = true;
        }
    }
    // The file is free before anybody hears that it is.
    drop(tail);
    shared.lock().is_stopped = true;
    shared.changed.notify_all();
}

/// How far the thread is with the blocks in memory.
#[derive(Debug, Default)]
struct Progress {
    /// How many of them are written but not safe.
    written: usize,
    /// When the oldest of these was written.
    since: Option<Instant>,
    is_urgent: bool,
}

impl Progress {
    fn append<M: Medium>(&mut self, tail: &mut Tail<M>, blocks: &[Arc<Block>]) -> Result<(), super::tail::Trouble> {
        let text: String = blocks.iter().map(|block| block.lines.as_str()).collect();
        tail.append(text.as_bytes())?;
        self.written += blocks.len();
        self.since.get_or_insert_with(Instant::now);
        self.is_urgent |= blocks.iter().any(|block| block.urgency == Urgency::AtOnce);
        Ok(())
    }

    /// Lets the blocks that are safe go. The log is well again only when none is left behind.
    fn release(&mut self, shared: &Shared) {
        let mut state = shared.lock();
        state.release(self.written);
        *self = Self { is_urgent: state.failing.is_some() && !state.blocks.is_empty(), ..Self::default() };
        if state.blocks.is_empty() {
            state.well();
        }
        state.deliver();
        shared.changed.notify_all();
    }
}

/// Waits until there is something to do.
fn next_work(shared: &Shared, progress: &Progress, options: &LogOptions) -> Work {
    let mut state = shared.lock();
    loop {
        if state.blocks.len() > progress.written {
            return Work::Append(next_blocks(&state, progress.written));
        }
        let is_closing = state.give_up_at.is_some();
        let wait = match progress.since {
            Some(since) => options.sync_every.saturating_sub(since.elapsed()),
            None if is_closing => return Work::Stop,
            None => options.sync_every,
        };
        if progress.since.is_some() && (progress.is_urgent || is_closing || wait.is_zero()) {
            return Work::Sync;
        }
        state = shared.changed.wait_timeout(state, wait).unwrap_or_else(PoisonError::into_inner).0;
    }
}

fn next_blocks(state: &State, from: usize) -> Vec<Arc<Block>> {
    let mut bytes = 0;
    let fits = |block: &&Arc<Block>| {
        let fits = bytes < WRITE_BYTES;
        bytes += block.lines.len();
        fits
    };
    state.blocks.iter().skip(from).take_while(fits).cloned().collect()
}

/// Tries until the log can be appended to again. `false` when the time to do so is up.
fn mend<M: Medium>(tail: &mut Tail<M>, shared: &Shared, options: &LogOptions) -> bool {
    loop {
        let next_try = Instant::now() + options.retry_after;
        let mut state = shared.lock();
        loop {
            let now = Instant::now();
            if state.give_up_at.is_some_and(|give_up_at| now >= give_up_at) {
                return false;
            }
            let until = state.give_up_at.map_or(next_try, |give_up_at| next_try.min(give_up_at));
            if now >= next_try {
                break;
            }
            let wait = until.saturating_duration_since(now);
            state = shared.changed.wait_timeout(state, wait).unwrap_or_else(PoisonError::into_inner).0;
        }
        drop(state);
        match tail.mend() {
            Ok(()) => return true,
            Err(trouble) => shared.lock().fail(trouble.to_string()),
        }
    }
}
