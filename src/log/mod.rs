//! The crash-safe log of a heat-up: one CSV file that any spreadsheet opens and a replay reads back to the last bit.
//!
//! The format is described in [`row`]; what makes it safe in [`writer`]; what happens to a torn file in [`recover`].
//! A row that was acknowledged ([`LogWriter::durable_row`]) survives a kill and a power cut.

mod cells;
mod entry;
mod head;
pub mod medium;
mod old_words;
pub mod recover;
pub mod row;
mod step;
pub mod tail;
pub mod trial_disk;
pub mod writer;

use std::io;
use std::path::PathBuf;

pub use cells::Cells;
pub use entry::{Entry, StrangeCell};
pub use head::{Document, Head, HeadError, PROGRAM};
pub use recover::{Cut, Damage, Gap, LogBook, Resume, StrangeRow, read};
pub use row::{Row, RowError};
pub use step::{Selection, Step, StepError};
pub use writer::{LogEvent, LogOptions, LogWriter, Recorded, SyncAtOnce, WallClock};

/// Why a log cannot be begun, read, taken up again or finished.
#[derive(Debug, thiserror::Error)]
pub enum LogError {
    /// A new log was asked for under a name that is taken.
    #[error("{} is there already: give the log another name, or resume the heat-up that is in it", path.display())]
    Exists {
        /// The file.
        path: PathBuf,
    },
    /// Another program writes to it.
    #[error("{} is being written by another firstheat: end that one first", path.display())]
    InUse {
        /// The file.
        path: PathBuf,
    },
    /// The file system refused.
    #[error("cannot {doing} {}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What was tried.
        doing: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// It is no log.
    #[error(
        "{} is not the log of a heat-up: its first line is `{found}`, expected `row,elapsed_s,wall_time,...`: name a file \
         that firstheat wrote",
        path.display()
    )]
    Foreign {
        /// The file.
        path: PathBuf,
        /// Beginning of its first line.
        found: String,
    },
    /// A spreadsheet saved it with other separators, and its numbers as it shows them.
    #[error(
        "{} was saved anew by a spreadsheet, which separates cells by `{separator}` and rounds numbers, expected `,`: name \
         the file that firstheat wrote",
        path.display()
    )]
    SavedAnew {
        /// The file.
        path: PathBuf,
        /// What stands between its cells.
        separator: char,
    },
    /// It is a log of a format this version does not read.
    #[error(
        "{} is a log of format {found}, expected format {}: use the version of firstheat that wrote it, or a later one",
        path.display(),
        row::FORMAT
    )]
    OtherFormat {
        /// The file.
        path: PathBuf,
        /// Its format number.
        found: u32,
    },
    /// Its head was never completed, so no step can be in it.
    #[error("{} breaks off before its head is complete: no heat-up is in it; begin a new log", path.display())]
    NoHead {
        /// The file.
        path: PathBuf,
    },
    /// Its head is damaged.
    #[error("{} has no usable head, so its heat-up cannot be replayed or resumed", path.display())]
    Head {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        source: HeadError,
    },
    /// It is damaged before its end, so nothing is appended to it.
    #[error(
        "{} is damaged before its end ({damage}), so nothing is added to it: it can still be read for a report; to resume, \
         have everything from the damage on set aside",
        path.display()
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// The first damage.
        damage: Damage,
    },
    /// The last rows could not be saved before the time given was up.
    #[error("{} rows could not be saved in {}: {why}", lines.lines().count(), path.display())]
    Unsaved {
        /// The file.
        path: PathBuf,
        /// What kept them.
        why: String,
        /// The rows, as they would stand in the file.
        lines: String,
    },
}
