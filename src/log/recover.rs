//! Reading a log that may be torn or damaged, and cutting a torn tail so that it can be appended to.
//!
//! A *torn tail* is everything after the last group of rows that is complete and sound: what a power cut in the middle of a
//! write leaves. It may be cut, and its bytes are saved beside first. *Damage* has sound groups after it: someone or something
//! changed the file. It is reported with its lines, read round, and never cut unasked.

use std::fmt;
use std::fs::{self, OpenOptions};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use chrono::{DateTime, FixedOffset};

use super::LogError;
use super::entry::Entry;
use super::head::{Head, HeadError};
use super::medium::{self, DiskFile, Medium};
use super::row::{self, Row, RowError, RowReader};
use super::step::{self, Selection, Step, StepError};
use crate::run::{Input, Verdict};

/// How much of a file's beginning is looked at to tell whether it is a log, bytes.
const LOOK_BYTES: u64 = 4096;

/// What a log holds.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LogBook {
    head: Option<Head>,
    head_error: Option<HeadError>,
    /// The file.
    pub path: PathBuf,
    /// Local wall time at which the log was begun.
    pub begun: Option<DateTime<FixedOffset>>,
    /// Every complete step, in order.
    pub steps: Vec<Step>,
    /// What is wrong with the file, in order.
    pub damage: Vec<Damage>,
    /// Sound rows that this version does not understand. Such an input leaves its step out, such a verdict only itself.
    pub strange: Vec<StrangeRow>,
    /// Where steps are missing because the disk failed for longer than memory could hold them.
    pub gaps: Vec<Gap>,
    /// Where the log was taken up again.
    pub resumes: Vec<Resume>,
    /// Number of the last row that counts.
    pub last_row: u64,
}

impl LogBook {
    /// What the bytes of a log say, read round any damage; `path` is what messages call it.
    ///
    /// # Errors
    ///
    /// As [`read`].
    pub fn from_bytes(path: &Path, bytes: &[u8]) -> Result<Self, LogError> {
        check_beginning(path, &bytes[..bytes.len().min(LOOK_BYTES as usize)])?;
        Ok(parse(path, bytes)?.book)
    }

    /// The heat-up's identity.
    ///
    /// # Errors
    ///
    /// When its rows are damaged: the steps can then be looked at but not replayed.
    pub fn head(&self) -> Result<&Head, LogError> {
        self.head.as_ref().ok_or_else(|| {
            let source = self.head_error.clone().unwrap_or(HeadError::Damaged);
            LogError::Head { path: self.path.clone(), source }
        })
    }

    /// Every input, bit for bit as it was recorded.
    pub fn inputs(&self) -> impl Iterator<Item = &Input> {
        self.steps.iter().map(|step| &step.input)
    }

    /// Every verdict that was recorded.
    pub fn verdicts(&self) -> impl Iterator<Item = &Verdict> {
        self.steps.iter().flat_map(|step| &step.verdicts)
    }

    /// Whether every step there ever was is here, so that a replay gives the same verdicts. A torn tail does not count.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        let is_torn_only = self.damage.iter().all(|damage| matches!(damage, Damage::TornTail { .. }));
        is_torn_only && self.strange.is_empty() && self.gaps.is_empty()
    }

    /// The selection of verdicts, as it stands after the last step.
    pub(super) fn selection(&self) -> Option<Selection> {
        let mut selection = Selection::new(self.head.as_ref()?.estimates_every);
        self.verdicts().for_each(|verdict| {
            selection.keeps(verdict);
        });
        Some(selection)
    }
}

/// Something wrong with a log, and where. Lines count from 1, the header being line 1.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Damage {
    /// The header is not what was written.
    Header,
    /// A line is no sound row.
    Line {
        /// Which.
        line: u64,
        /// Why.
        why: RowError,
    },
    /// Rows are missing, or stand twice, before this line.
    Order {
        /// The line after them.
        line: u64,
        /// Row number found there.
        found: u64,
        /// Row number expected.
        expected: u64,
    },
    /// Sound rows are left out because others of their group are missing or damaged.
    Group {
        /// First line left out.
        first: u64,
        /// Last line left out.
        last: u64,
    },
    /// The file breaks off after this line.
    TornTail {
        /// Last line that counts.
        after: u64,
        /// How many bytes do not count.
        bytes: u64,
    },
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Header => write!(f, "line 1: the column names are not those that were written"),
            Self::Line { line, why } => write!(f, "line {line}: {why}"),
            Self::Order { line, found, expected } => {
                write!(
                    f,
                    "line {line}: found row {found}, expected row {expected}: lines were removed, doubled or moved"
                )
            }
            Self::Group { first, last } if first == last => {
                write!(f, "line {first} is sound but left out: other rows of the same moment are missing")
            }
            Self::Group { first, last } => {
                write!(f, "lines {first} to {last} are sound but left out: other rows of the same moment are missing")
            }
            Self::TornTail { after, bytes } => {
                write!(f, "the file breaks off after line {after}: the last {bytes} bytes are no complete rows")
            }
        }
    }
}

/// A sound row, or rows of one step, that this version does not understand.
#[derive(Clone, Debug, PartialEq)]
pub struct StrangeRow {
    /// Number of the row, or of the first row of its step.
    pub row: u64,
    /// What is not understood.
    pub why: StepError,
}

impl fmt::Display for StrangeRow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "row {}: {}", self.row, self.why)
    }
}

/// Steps that are not in the log.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gap {
    /// The row that stands for them.
    pub row: u64,
    /// How many steps.
    pub steps: u64,
}

/// The log was taken up again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Resume {
    /// The row that says so.
    pub row: u64,
    /// Local wall time.
    pub wall_time: Option<DateTime<FixedOffset>>,
    /// The program that did, with its version.
    pub program: String,
    /// Bytes of a torn tail that were cut away.
    pub cut_bytes: u64,
}

/// What may be cut from a file to make it fit to append to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cut {
    /// A torn tail and nothing else.
    TornTail,
    /// Everything from the first damage on. Only when a person asked for it.
    FromFirstDamage,
}

/// Reads a log, round any damage, and changes nothing. A log that is being written can be read too.
///
/// # Errors
///
/// When the file cannot be read, is no log, is of another format, or breaks off before its head is complete.
pub fn read(path: &Path) -> Result<LogBook, LogError> {
    let io_error = |source| LogError::Io { path: path.to_owned(), doing: "read the log", source };
    let mut file = fs::File::open(path).map_err(io_error)?;
    let mut start = Vec::new();
    io::Read::read_to_end(&mut io::Read::take(&mut file, LOOK_BYTES), &mut start).map_err(io_error)?;
    check_beginning(path, &start)?;
    io::Read::read_to_end(&mut file, &mut start).map_err(io_error)?;
    LogBook::from_bytes(path, &start)
}

/// A log that can be appended to.
pub(super) struct Ready<M> {
    /// The medium, ending with the last complete group.
    pub medium: M,
    /// What it holds.
    pub book: LogBook,
    /// Bytes that were cut away.
    pub cut_bytes: u64,
}

/// Opens a log on disk to append to it. What is cut goes to a `.torn` file beside it first.
pub(super) fn open(path: &Path, cut: Cut) -> Result<Ready<DiskFile>, LogError> {
    let medium = DiskFile::open(path).map_err(|source| match source.kind() {
        io::ErrorKind::WouldBlock => LogError::InUse { path: path.to_owned() },
        _ => LogError::Io { path: path.to_owned(), doing: "open the log", source },
    })?;
    make_ready(medium, path, cut, |bytes| save_beside(path, bytes))
}

/// Reads a log on any medium and cuts what may be cut, after `save` has kept the bytes.
pub(super) fn make_ready<M: Medium>(
    mut medium: M,
    path: &Path,
    cut: Cut,
    save: impl FnOnce(&[u8]) -> io::Result<()>,
) -> Result<Ready<M>, LogError> {
    let io_error = |doing| move |source| LogError::Io { path: path.to_owned(), doing, source };
    check_beginning(path, &medium.read(0, LOOK_BYTES).map_err(io_error("read the log"))?)?;
    let size = medium.size().map_err(io_error("read the log"))?;
    let bytes = medium.read(0, size).map_err(io_error("read the log"))?;
    let mut parsed = parse(path, &bytes)?;
    parsed.book.head()?;
    if let Some(damage) = parsed.book.damage.iter().find(|damage| !matches!(damage, Damage::TornTail { .. })) {
        if cut == Cut::TornTail {
            return Err(LogError::Damaged { path: path.to_owned(), damage: damage.clone() });
        }
        parsed = parse(path, &bytes[..parsed.sound_before_damage])?;
    }
    let torn = &bytes[parsed.good_end..];
    if !torn.is_empty() {
        save(torn).map_err(io_error("save the torn tail beside"))?;
        medium.truncate(parsed.good_end as u64).map_err(io_error("cut the torn tail of"))?;
        medium.sync().map_err(io_error("cut the torn tail of"))?;
    }
    Ok(Ready { medium, book: parsed.book, cut_bytes: torn.len() as u64 })
}

/// Keeps cut bytes in the first free name of `x.torn`, `x.torn2`, ...
fn save_beside(path: &Path, bytes: &[u8]) -> io::Result<()> {
    for attempt in 1_u32.. {
        let mut name = path.as_os_str().to_owned();
        name.push(".torn");
        if attempt > 1 {
            name.push(attempt.to_string());
        }
        let mut file = match OpenOptions::new().write(true).create_new(true).open(&name) {
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => continue,
            opened => opened?,
        };
        file.write_all(bytes)?;
        file.sync_all()?;
        return medium::sync_directory_of(path);
    }
    Err(io::ErrorKind::AlreadyExists.into())
}

/// Refuses what is no log of this format, from the first bytes of it.
fn check_beginning(path: &Path, start: &[u8]) -> Result<(), LogError> {
    let path = path.to_owned();
    let mut lines = start.split(|byte| *byte == b'\n').map(without_cr);
    let first = lines.next().unwrap_or_default();
    if is_header(first) {
        return Ok(());
    }
    if row::HEADER.as_bytes().starts_with(start) {
        return Err(LogError::NoHead { path });
    }
    if lines.any(|line| Row::from_line(line).is_ok()) {
        return Ok(());
    }
    Err(not_this_format(path, first))
}

/// What to say of a file whose first line is not the header of this format.
fn not_this_format(path: PathBuf, first: &[u8]) -> LogError {
    let found = String::from_utf8_lossy(first).trim_start_matches('\u{feff}').to_owned();
    let after_row = found.strip_prefix("row").and_then(|rest| rest.chars().next());
    let format = found.rsplit_once(",check_v").and_then(|(_, number)| number.parse().ok());
    match (after_row, format) {
        (Some(separator @ (';' | '\t')), _) => LogError::SavedAnew { path, separator },
        (Some(','), Some(format)) if format != row::FORMAT => LogError::OtherFormat { path, found: format },
        _ => LogError::Foreign { path, found: found.escape_default().take(60).collect() },
    }
}

/// The header, with or without the byte order mark that an editor may have taken away.
fn is_header(line: &[u8]) -> bool {
    line == row::HEADER.as_bytes() || line == row::HEADER.trim_start_matches('\u{feff}').as_bytes()
}

/// A line end that an editor or a transfer turned into CR LF does no harm.
fn without_cr(line: &[u8]) -> &[u8] {
    line.strip_suffix(b"\r").unwrap_or(line)
}

struct Parsed {
    book: LogBook,
    /// End of the last complete and sound group.
    good_end: usize,
    /// End of the last complete and sound group before the first damage.
    sound_before_damage: usize,
}

/// Reads the whole text of a log whose beginning is that of a log.
fn parse(path: &Path, bytes: &[u8]) -> Result<Parsed, LogError> {
    let book = LogBook { path: path.to_owned(), ..LogBook::default() };
    let mut gatherer = Gatherer { book, ..Gatherer::default() };
    let (mut start, mut line) = (0, 0);
    while let Some(length) = bytes[start..].iter().position(|byte| *byte == b'\n') {
        line += 1;
        let end = start + length + 1;
        gatherer.take(Line { number: line, bytes: without_cr(&bytes[start..end - 1]), end });
        start = end;
    }
    gatherer.finish(bytes.len())
}

#[derive(Clone, Copy)]
struct Line<'a> {
    number: u64,
    bytes: &'a [u8],
    /// Offset of the byte after its line end.
    end: usize,
}

/// Gathers rows into groups and groups into a [`LogBook`].
#[derive(Default)]
struct Gatherer {
    reader: RowReader,
    book: LogBook,
    /// Rows of the group that is not complete yet, and the line of the first.
    group: Vec<Row>,
    group_line: u64,
    /// Number of the last sound row.
    last_row: u64,
    /// End and line of the last complete group.
    good_end: usize,
    good_line: u64,
    /// How many damages are known to lie before `good_end`.
    settled: usize,
    /// End of the last complete group before the first damage, once there is damage.
    sound_before_damage: Option<usize>,
}

impl Gatherer {
    fn take(&mut self, line: Line<'_>) {
        if line.number == 1 {
            if !is_header(line.bytes) {
                self.damaged(Damage::Header);
            }
            return;
        }
        match self.reader.row_in(line.bytes) {
            Ok(row) => self.take_row(line, row),
            Err(why) => {
                self.drop_group(line.number);
                self.damaged(Damage::Line { line: line.number, why });
            }
        }
    }

    fn take_row(&mut self, line: Line<'_>, row: Row) {
        let expected = self.last_row + 1;
        if row.number != expected {
            self.drop_group(line.number);
            let explained = self.book.damage.len() > self.settled && row.number > expected;
            if !explained {
                self.damaged(Damage::Order { line: line.number, found: row.number, expected });
            }
            if row.number < expected {
                return;
            }
        }
        self.last_row = row.number;
        let fits =
            row.part as usize == self.group.len() + 1 && self.group.first().is_none_or(|first| first.of == row.of);
        if !fits {
            self.drop_group(line.number);
        }
        if self.group.is_empty() {
            self.group_line = line.number;
        }
        let is_orphan = self.group.is_empty() && row.part != 1;
        let is_last = row.part >= row.of;
        self.group.push(row);
        if is_orphan {
            self.drop_group(line.number + 1);
        } else if is_last {
            self.close_group(line);
        }
    }

    /// Leaves out the rows of a group that will not be complete; `line` is the first after them.
    fn drop_group(&mut self, line: u64) {
        if self.group.is_empty() {
            return;
        }
        self.group.clear();
        let (first, last) = (self.group_line, line - 1);
        match self.book.damage.last_mut() {
            Some(Damage::Group { last: end, .. }) if *end + 1 == first => *end = last,
            _ => self.damaged(Damage::Group { first, last }),
        }
    }

    fn damaged(&mut self, damage: Damage) {
        self.sound_before_damage.get_or_insert(self.good_end);
        self.book.damage.push(damage);
    }

    fn close_group(&mut self, line: Line<'_>) {
        let rows = std::mem::take(&mut self.group);
        self.good_end = line.end;
        self.good_line = line.number;
        self.settled = self.book.damage.len();
        self.book.last_row = self.last_row;
        let Some(first) = rows.first() else { return };
        match &first.entry {
            Entry::Head { .. } => self.take_head(&rows),
            Entry::Gap { steps } => self.book.gaps.push(Gap { row: first.number, steps: *steps }),
            Entry::Resumed { program, cut_bytes } => self.book.resumes.push(Resume {
                row: first.number,
                wall_time: first.wall_time,
                program: program.clone(),
                cut_bytes: *cut_bytes,
            }),
            _ => self.take_step(&rows),
        }
    }

    fn take_head(&mut self, rows: &[Row]) {
        let line_of = |row: &Row| match &row.entry {
            Entry::Head { key, text } => Some((key.clone(), text.clone())),
            _ => None,
        };
        let lines: Vec<_> = rows.iter().filter_map(line_of).collect();
        self.book.begun = rows.first().and_then(|row| row.wall_time);
        match Head::from_lines(&lines) {
            Ok(head) => self.book.head = Some(head),
            Err(error) => self.book.head_error = Some(error),
        }
    }

    fn take_step(&mut self, rows: &[Row]) {
        let (row, wall_time) = (rows[0].number, rows[0].wall_time);
        let (input, mut rest) = match step::input_in(rows) {
            Ok(found) => found,
            Err(why) => return self.book.strange.push(StrangeRow { row, why }),
        };
        let mut verdicts = Vec::new();
        while let Some(next) = rest.first() {
            match step::verdict_in(rest) {
                Ok((verdict, after)) => {
                    verdicts.push(verdict);
                    rest = after;
                }
                Err(why) => {
                    self.book.strange.push(StrangeRow { row: next.number, why });
                    rest = &rest[1..];
                }
            }
        }
        self.book.steps.push(Step { row, wall_time, input, verdicts });
    }

    /// Tells the torn tail from damage before it.
    fn finish(mut self, size: usize) -> Result<Parsed, LogError> {
        let is_begun = self.good_end > 0;
        self.book.damage.truncate(self.settled);
        if !is_begun {
            return Err(LogError::NoHead { path: self.book.path });
        }
        if self.good_end < size {
            let bytes = (size - self.good_end) as u64;
            self.book.damage.push(Damage::TornTail { after: self.good_line, bytes });
        }
        let sound_before_damage = self.sound_before_damage.unwrap_or(self.good_end);
        Ok(Parsed { book: self.book, good_end: self.good_end, sound_before_damage })
    }
}
