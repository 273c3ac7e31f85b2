//! The rows of a heat-up log, typed, and the one description of the file format.
//!
//! # Format 1
//!
//! A log is a CSV file (RFC 4180 quoting, comma, UTF-8 with a byte order mark so that spreadsheets show `°` and `ü`). Every
//! line ends in LF and is one row; a row never holds a line break. The first line is [`HEADER`], which names the columns and
//! carries the format number:
//!
//! | column | what it holds |
//! |---|---|
//! | `row` | number of the row: 1, 2, 3 ... without holes |
//! | `elapsed_s` | seconds since the heat-up began, shortest decimal number that reads back as the same bits |
//! | `wall_time` | local date and time with its offset from UTC (RFC 3339); a label, nothing is decided by it; may be empty |
//! | `kind` | what sort of row it is, see below |
//! | `what` | the word that tells rows of one kind apart |
//! | `channel` | probe channel |
//! | `section` | section of the lining |
//! | `value`, `low`, `high` | numbers |
//! | `text`, `why` | words, and the reason behind them |
//! | `part`, `of` | the row is the `part`-th of `of` rows that belong together: all are there or none counts |
//! | `check_v1` | check of the row; the number in the column's name is the format number |
//!
//! **Check.** CRC-32 (the one of IEEE 802.3 and gzip: polynomial 04C11DB7 reflected, start and final inversion all ones) over
//! the bytes of the line from its first byte up to and including the comma before the check, as 8 lower-case hex digits.
//!
//! **Numbers.** A value that is no number (NaN, infinite) is written `bits:` and its 16 hex digits.
//!
//! **Words.** A backslash guards what a cell cannot hold: `\\`, `\n`, `\r`, `\t`, `\u{hex}` for other unprintable characters,
//! and `\` before `=`, `+`, `-`, `@` (in either width) where a spreadsheet would take them for the beginning of a formula.
//! Where text may be missing, an empty cell is none and `\e` is text of no letters.
//!
//! **Kinds.** A *step* is what happened (one input) and what was said to it (verdicts): rows `1 of n` to `n of n`.
//!
//! | kind | part of | cells |
//! |---|---|---|
//! | `head` | the first rows | `what` key, `text` value: see [`Head`](super::Head) |
//! | `resumed` | alone | the log was taken up again; `text` program, `value` bytes of a torn tail cut away |
//! | `gap` | alone | `value` steps that found no room in memory while the disk failed and are not in the log |
//! | `reading` | input | one channel of a probe line: `channel`, `value` in °C, or `what` names the fault |
//! | `no-readings` | input | a probe line without any channel |
//! | `tick` | input | time passed |
//! | `operator` | input | `what`: `on`, `off`, `pause`, `resume`, `silence`, `replan`, `quit` |
//! | `port-lost`, `port-back` | input | `text` |
//! | `log-failing`, `log-back` | input | `text` |
//! | `taken-up` | input | `value` seconds for which the program had stopped and nothing was watched |
//! | `replanned` | input | `text`: the plan for the rest of the heat-up, as a plan file |
//! | `not-replanned` | input | `text`: why there is no such plan |
//! | `ready` | verdict | `what` time source (`clock`, `probe`), `value` planned seconds, `text` lining |
//! | `cue` | verdict | `what` burner (`on`, `off`), `value` in how many seconds; of a burner with marks `text` which, `low` its share of the full fire; of a control that holds ramps `low` the ramp in K/h, `high` the set point at its end in °C |
//! | `estimate` | verdict | `value` how many sections follow, each a `danger` and a `water-left` row |
//! | `danger` | verdict | `section`, `value`, `low`, `high`: danger number, 50th, 5th and 95th percentile |
//! | `water-left` | verdict | `section`, `value`, `low`, `high`: kg, same percentiles |
//! | `warning` | verdict | `what` limit, `channel`, `section`, `value` seconds ahead (empty: passed), `text` what to do, `why` |
//! | `notice` | verdict | `text`; `what` it is about, if any: `over` (`why` which limit, `channel`, `section` as in the warning), `back-to-round` (`value` which, from 1), `lit-late`, `lit-early` |
//! | `fault` | verdict | `what` `begins` or `over`, `channel`, `text` |
//! | `end` | verdict | `text`; `what`: `dry-and-soaked`, `wet`, `not-soaked`, `stopped`. The first logs left it empty, and `what` of a notice: what their words say is read instead |
//!
//! The verdict that a probe line was taken in ([`Verdict::Reading`](crate::run::Verdict)) is not written: the `reading` rows of
//! the same step say it. Kinds and words this version does not know are kept as [`Entry::Strange`] and reported, so a later
//! version may add some without a new format number.

use chrono::{DateTime, FixedOffset, SecondsFormat};

use super::cells::{self, Cells};
use super::entry::Entry;
use crate::units::Seconds;

/// Format number this version reads and writes.
pub const FORMAT: u32 = 1;

/// First line of a log, without its line end: byte order mark and names of the columns.
pub const HEADER: &str =
    "\u{feff}row,elapsed_s,wall_time,kind,what,channel,section,value,low,high,text,why,part,of,check_v1";

/// How many cells a row has.
const CELLS: usize = 15;

/// Hex digits of a check.
const CHECK_DIGITS: usize = 8;

/// One row of a log.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// Its number, from 1.
    pub number: u64,
    /// Time since the heat-up began.
    pub elapsed: Seconds,
    /// Local wall time, to the millisecond; `None` where the clock gave none that can be written.
    pub wall_time: Option<DateTime<FixedOffset>>,
    /// Which of the rows that belong together, from 1.
    pub part: u32,
    /// How many rows belong together.
    pub of: u32,
    /// What it says.
    pub entry: Entry,
}

/// Why a line is no sound row. Any of these means that the bytes are not those that were written.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RowError {
    /// There is no check where it should be.
    #[error("no check at its end, expected a comma and 8 hex digits")]
    NoCheck,
    /// The check does not fit the bytes.
    #[error("its check is {found}, but its bytes give {expected}: it was damaged or edited")]
    Check {
        /// What stands in the line.
        found: String,
        /// What the bytes give.
        expected: String,
    },
    /// The bytes are no UTF-8.
    #[error("its bytes are no UTF-8 text")]
    NotText,
    /// The number of cells is wrong.
    #[error("it has {found} cells, expected {CELLS}")]
    CellCount {
        /// How many there are.
        found: usize,
    },
    /// A cell every row must have makes no sense.
    #[error("its cell `{column}` is `{found}`, expected {expected}")]
    Cell {
        /// Name of the column.
        column: &'static str,
        /// What stands there.
        found: String,
        /// What should.
        expected: &'static str,
    },
}

impl Row {
    /// The row as a line of the file, with its line end.
    #[must_use]
    pub fn to_line(&self) -> String {
        let cells = self.entry.to_cells();
        let wall_time = self.wall_time.map_or_else(String::new, label);
        let fields = [
            &self.number.to_string(),
            &cells::number(self.elapsed.0),
            &wall_time,
            &cells.kind,
            &cells.what,
            &cells.channel,
            &cells.section,
            &cells.value,
            &cells.low,
            &cells.high,
            &cells.text,
            &cells.why,
            &self.part.to_string(),
            &self.of.to_string(),
            "",
        ];
        let mut line = csv_line(&fields);
        let check = check_of(line.as_bytes());
        line.push_str(&check);
        line.push('\n');
        line
    }

    /// The row that a line of the file holds. The line comes without its line end.
    ///
    /// # Errors
    ///
    /// When the line is not, byte for byte, one that was written. A sound row that this version does not understand is no
    /// error but [`Entry::Strange`].
    pub fn from_line(line: &[u8]) -> Result<Self, RowError> {
        RowReader::default().row_in(line)
    }
}

/// Reads lines one after another; to make one costs more than to read a line with it.
pub(super) struct RowReader {
    csv: csv_core::Reader,
    /// The cells of the line in hand, one after another, without their quotes.
    text: Vec<u8>,
    /// Where each of them ends.
    ends: [usize; CELLS + 1],
}

impl Default for RowReader {
    fn default() -> Self {
        Self { csv: csv_core::Reader::new(), text: Vec::new(), ends: [0; CELLS + 1] }
    }
}

impl RowReader {
    /// The row that a line of the file holds. The line comes without its line end.
    pub(super) fn row_in(&mut self, line: &[u8]) -> Result<Row, RowError> {
        let fields = self.fields_of(checked(line)?)?;
        let [number, elapsed_s, wall_time, kind, what, channel, section, value, low, high, text, why, part, of, _] =
            fields;
        let elapsed = cells::number_in(elapsed_s).ok_or_else(|| wrong("elapsed_s", elapsed_s, "seconds"))?;
        let cells = Cells {
            kind: kind.to_owned(),
            what: what.to_owned(),
            channel: channel.to_owned(),
            section: section.to_owned(),
            value: value.to_owned(),
            low: low.to_owned(),
            high: high.to_owned(),
            text: text.to_owned(),
            why: why.to_owned(),
        };
        Ok(Row {
            number: whole("row", number)?,
            elapsed: Seconds(elapsed),
            wall_time: wall_time_in(wall_time)?,
            part: whole("part", part)?,
            of: whole("of", of)?,
            entry: Entry::from_cells(cells),
        })
    }

    fn fields_of(&mut self, bytes: &[u8]) -> Result<[&str; CELLS], RowError> {
        self.csv.reset();
        self.text.resize(self.text.len().max(bytes.len() + 1), 0);
        let (_, read, written, ended) = self.csv.read_record(bytes, &mut self.text, &mut self.ends);
        let (_, _, _, last) = self.csv.read_record(&[], &mut self.text[written..], &mut self.ends[ended..]);
        let found = ended + last;
        if found != CELLS || read != bytes.len() {
            return Err(RowError::CellCount { found });
        }
        let mut fields = [""; CELLS];
        let mut start = 0;
        for (field, end) in fields.iter_mut().zip(self.ends) {
            *field = str::from_utf8(&self.text[start..end]).map_err(|_| RowError::NotText)?;
            start = end;
        }
        Ok(fields)
    }
}

/// The fields as a line of CSV, without its line end.
fn csv_line(fields: &[&str]) -> String {
    let mut writer = csv::WriterBuilder::new().buffer_capacity(256).from_writer(Vec::with_capacity(160));
    writer.write_record(fields).expect("a Vec takes every byte");
    let bytes = writer.into_inner().expect("a Vec takes every byte");
    let mut line = String::from_utf8(bytes).expect("UTF-8 fields make a UTF-8 line");
    line.truncate(line.trim_end_matches('\n').len());
    line
}

/// The check over the bytes of a line before it, their last comma included.
fn check_of(bytes: &[u8]) -> String {
    format!("{:08x}", crc32fast::hash(bytes))
}

/// The line without its check, when the check fits.
fn checked(line: &[u8]) -> Result<&[u8], RowError> {
    let at = line.len().checked_sub(CHECK_DIGITS).ok_or(RowError::NoCheck)?;
    let (bytes, check) = line.split_at(at);
    if bytes.last() != Some(&b',') || !check.iter().all(u8::is_ascii_hexdigit) {
        return Err(RowError::NoCheck);
    }
    let expected = check_of(bytes);
    if check != expected.as_bytes() {
        return Err(RowError::Check { found: String::from_utf8_lossy(check).into_owned(), expected });
    }
    Ok(bytes)
}

fn whole<T: std::str::FromStr>(column: &'static str, found: &str) -> Result<T, RowError> {
    found.parse().map_err(|_| wrong(column, found, "a whole number"))
}

fn wrong(column: &'static str, found: &str, expected: &'static str) -> RowError {
    RowError::Cell { column, found: found.to_owned(), expected }
}

/// A wall time as it is written; empty outside the years that RFC 3339 knows.
fn label(wall_time: DateTime<FixedOffset>) -> String {
    let text = wall_time.to_rfc3339_opts(SecondsFormat::Millis, false);
    if DateTime::parse_from_rfc3339(&text).is_ok() { text } else { String::new() }
}

fn wall_time_in(cell: &str) -> Result<Option<DateTime<FixedOffset>>, RowError> {
    if cell.is_empty() {
        return Ok(None);
    }
    let parsed = DateTime::parse_from_rfc3339(cell);
    parsed.map(Some).map_err(|_| wrong("wall_time", cell, "a time such as 2026-03-14T09:30:00.000+01:00"))
}
