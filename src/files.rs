//! Files by path: reading and writing with errors that name the path and what to do.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::lining::Lining;
use crate::lining::material::Materials;
use crate::lining::text::{LiningError, parse_lining};
use crate::plan::Plan;
use crate::plan::text::{PlanTextError, parse_plan, write_plan};

/// No file of ours that a person writes is larger, bytes.
const LARGEST_BYTES: u64 = 16 * 1024 * 1024;

/// Why a file could not be read or written.
#[derive(Debug, Error)]
pub enum FileError {
    /// It could not be read.
    #[error("could not read {}", path.display())]
    Read {
        /// Which.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// It is not text.
    #[error("{} is no text (found bytes that are not UTF-8), expected a text file; check the name", path.display())]
    NotText {
        /// Which.
        path: PathBuf,
    },
    /// It is far too large.
    #[error("{} has {found} bytes, expected at most {LARGEST_BYTES}; check the name", path.display())]
    TooLarge {
        /// Which.
        path: PathBuf,
        /// Its size.
        found: u64,
    },
    /// It could not be written.
    #[error("could not write {}", path.display())]
    Write {
        /// Which.
        path: PathBuf,
        /// Why.
        source: io::Error,
    },
    /// It is there already.
    #[error("{} is there already, expected a new name; nothing is overwritten, so move it away or name another", path.display())]
    Exists {
        /// Which.
        path: PathBuf,
    },
    /// It is no lining.
    #[error("{} is no usable lining file", path.display())]
    Lining {
        /// Which.
        path: PathBuf,
        /// What is wrong with it.
        source: LiningError,
    },
    /// It is no plan.
    #[error("{} is no usable plan file", path.display())]
    Plan {
        /// Which.
        path: PathBuf,
        /// What is wrong with it.
        source: PlanTextError,
    },
}

/// Something read from a file, with the file's text as it was.
#[derive(Clone, Debug, PartialEq)]
pub struct Read<T> {
    /// What it says.
    pub value: T,
    /// Its text.
    pub text: String,
}

/// Reads a whole text file.
///
/// # Errors
/// When it cannot be read, is no text or is far too large.
pub fn read_text(path: &Path) -> Result<String, FileError> {
    let refused = |source| FileError::Read { path: path.to_owned(), source };
    let found = fs::metadata(path).map_err(refused)?;
    if found.is_dir() {
        return Err(refused(io::Error::from(io::ErrorKind::IsADirectory)));
    }
    if found.len() > LARGEST_BYTES {
        return Err(FileError::TooLarge { path: path.to_owned(), found: found.len() });
    }
    let bytes = fs::read(path).map_err(refused)?;
    String::from_utf8(bytes).map_err(|_| FileError::NotText { path: path.to_owned() })
}

/// Whether a file begins with `start`, a byte order mark before it aside. A log that was kept for days is no text to read at
/// once.
///
/// # Errors
/// When it cannot be read.
pub fn begins_with(path: &Path, start: &str) -> Result<bool, FileError> {
    const BYTE_ORDER_MARK: &str = "\u{feff}";
    let refused = |source| FileError::Read { path: path.to_owned(), source };
    let mut found = Vec::new();
    let enough = (BYTE_ORDER_MARK.len() + start.len()) as u64;
    File::open(path).map_err(refused)?.take(enough).read_to_end(&mut found).map_err(refused)?;
    Ok(found.strip_prefix(BYTE_ORDER_MARK.as_bytes()).unwrap_or(&found).starts_with(start.as_bytes()))
}

/// Reads a lining file.
///
/// # Errors
/// When it cannot be read or is no lining.
pub fn read_lining(path: &Path) -> Result<Read<Lining>, FileError> {
    let text = read_text(path)?;
    let value = parse_lining(&text, Materials::built_in())
        .map_err(|source| FileError::Lining { path: path.to_owned(), source })?;
    Ok(Read { value, text })
}

/// Reads a plan file.
///
/// # Errors
/// When it cannot be read or is no plan.
pub fn read_plan(path: &Path) -> Result<Read<Plan>, FileError> {
    let text = read_text(path)?;
    let value = parse_plan(&text).map_err(|source| FileError::Plan { path: path.to_owned(), source })?;
    Ok(Read { value, text })
}

/// Writes a plan to a new file.
///
/// # Errors
/// When a file of that name is there already, or it cannot be written.
pub fn write_plan_new(path: &Path, plan: &Plan) -> Result<(), FileError> {
    write_new(path, &write_plan(plan))
}

/// Writes a text to a new file; what is there is never overwritten.
///
/// # Errors
/// When a file of that name is there already, or it cannot be written.
pub fn write_new(path: &Path, text: &str) -> Result<(), FileError> {
    let refused = |source: io::Error| match source.kind() {
        io::ErrorKind::AlreadyExists => FileError::Exists { path: path.to_owned() },
        _ => FileError::Write { path: path.to_owned(), source },
    };
    let mut file = OpenOptions::new().write(true).create_new(true).open(path).map_err(refused)?;
    file.write_all(text.as_bytes()).and_then(|()| file.sync_all()).map_err(refused)
}

/// Writes a plan to a file, over what is there.
///
/// # Errors
/// When it cannot be written.
pub fn write_plan_over(path: &Path, plan: &Plan) -> Result<(), FileError> {
    write_over(path, &write_plan(plan))
}

/// Writes a text to a file, over what is there: by way of a new file beside it, so that one of the two is always whole.
///
/// # Errors
/// When it cannot be written.
pub fn write_over(path: &Path, text: &str) -> Result<(), FileError> {
    let mut beside = path.as_os_str().to_owned();
    beside.push(format!(".{}.part", std::process::id()));
    let beside = PathBuf::from(beside);
    write_new(&beside, text)?;
    fs::rename(&beside, path).map_err(|source| {
        // What is left over is no loss; the first error is the one that matters.
        let _ = fs::remove_file(&beside);
        FileError::Write { path: path.to_owned(), source }
    })
}

/// Makes sure that nothing is at `path`, before long work whose result goes there.
///
/// # Errors
/// When something is there already.
pub fn refuse_taken(path: &Path) -> Result<(), FileError> {
    if path.exists() { Err(FileError::Exists { path: path.to_owned() }) } else { Ok(()) }
}

/// Makes a new directory called `stem`, or `stem-2` and so on when that is taken.
///
/// # Errors
/// When none can be made.
pub fn new_directory(stem: &str) -> Result<PathBuf, FileError> {
    for path in numbered(stem, "") {
        match fs::create_dir(&path) {
            Ok(()) => return Ok(path),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
            Err(source) => return Err(FileError::Write { path, source }),
        }
    }
    Err(FileError::Exists { path: stem.into() })
}

/// A free name for the log of a heat-up of `lining` on `date`: "school-foundry-2026-03-14.csv", with "-2" and so on when
/// that is taken.
#[must_use]
pub fn free_log_name(lining: &str, date: &str) -> PathBuf {
    let stem = format!("{}-{date}", plain_name(lining));
    let free = numbered(&stem, ".csv").find(|path| !path.exists());
    free.unwrap_or_else(|| PathBuf::from(format!("{stem}.csv")))
}

/// A free name for the plan of the lining file `lining`: "school-foundry-plan.toml" in the directory we are in, with
/// "-2" and so on when that is taken.
#[must_use]
pub fn free_plan_name(lining: &Path) -> PathBuf {
    let stem = lining.file_stem().map_or_else(|| "heat-up".into(), std::ffi::OsStr::to_string_lossy);
    let stem = format!("{}-plan", plain_name(&stem));
    let free = numbered(&stem, ".toml").find(|path| !path.exists());
    free.unwrap_or_else(|| PathBuf::from(format!("{stem}.toml")))
}

/// A free name for the lining file of the furnace `name`: "school-foundry.toml", with "-2" and so on when that is taken.
#[must_use]
pub fn free_lining_name(name: &str) -> PathBuf {
    let stem = plain_name(name);
    let free = numbered(&stem, ".toml").find(|path| !path.exists());
    free.unwrap_or_else(|| PathBuf::from(format!("{stem}.toml")))
}

fn numbered(stem: &str, end: &str) -> impl Iterator<Item = PathBuf> {
    (1..10_000).map(move |number| match number {
        1 => PathBuf::from(format!("{stem}{end}")),
        _ => PathBuf::from(format!("{stem}-{number}{end}")),
    })
}

/// A name of letters, digits and single dashes that any file system takes.
fn plain_name(name: &str) -> String {
    let dashed: String = name.chars().map(|c| if c.is_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect();
    let parts: Vec<&str> = dashed.split('-').filter(|part| !part.is_empty()).collect();
    let plain: String = parts.join("-").chars().take(60).collect();
    if plain.is_empty() { "heat-up".to_owned() } else { plain }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lining_name_becomes_a_file_name_any_system_takes() {
        assert_eq!(plain_name("School foundry / upright: no. 2"), "school-foundry-upright-no-2");
    }

    #[test]
    fn a_file_that_is_there_is_not_overwritten() {
        let dir = tempfile::tempdir().expect("a temporary directory");
        let path = dir.path().join("plan.toml");
        fs::write(&path, "mine").expect("writable");
        assert!(matches!(write_new(&path, "other"), Err(FileError::Exists { .. })));
        assert_eq!(fs::read_to_string(&path).expect("readable"), "mine");
    }
}
