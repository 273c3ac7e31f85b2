//! What a log says first: everything that `replay`, `report` and `--resume` need besides the inputs.

use super::entry::{self, Entry};
use super::row::FORMAT;
use crate::run::TimeSource;
use crate::units::Seconds;

/// This program and its version, as it stands in the logs it writes.
pub const PROGRAM: &str = concat!("firstheat ", env!("CARGO_PKG_VERSION"));

/// Identity of a heat-up. In the file it is the `head` rows, with these keys in the column `what`:
/// `format`, `program`, `seed`, `time-source`, `estimates-every`, `option` (`name=value`, any number; those that note the
/// circumstances stand in `ageing::Notes`), then for each of
/// `lining`, `plan` and `probes` its digest (`lining-digest`) and its text, one row a line (`lining`).
#[derive(Clone, Debug, PartialEq)]
pub struct Head {
    /// The program that wrote the log, with its version: [`PROGRAM`] in a new one.
    pub program: String,
    /// Seed of everything random.
    pub seed: u64,
    /// Where elapsed time comes from.
    pub time_source: TimeSource,
    /// How old the last written estimate must be for the next to be written ([`Selection`](super::Selection)).
    pub estimates_every: Seconds,
    /// Options the heat-up was followed with: name and value. A name holds no `=`.
    pub options: Vec<(String, String)>,
    /// The lining file.
    pub lining: Document,
    /// The plan file.
    pub plan: Document,
    /// The probe file.
    pub probes: Document,
}

/// A file's text as it was when the heat-up began, exactly, and its digest.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Document {
    /// The whole text, line ends included.
    pub text: String,
    /// Its digest, as whoever read the file made it; the log does not look inside.
    pub digest: String,
}

/// Why head rows make no head.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum HeadError {
    /// Some of its rows are damaged or missing.
    #[error("its first rows are damaged")]
    Damaged,
    /// A row that must be there is not.
    #[error("it has no `{key}` row")]
    Missing {
        /// Its key.
        key: &'static str,
    },
    /// A row says something that makes no sense.
    #[error("its `{key}` row says `{found}`, expected {expected}")]
    Wrong {
        /// Its key.
        key: &'static str,
        /// What it says.
        found: String,
        /// What it should.
        expected: &'static str,
    },
}

impl Head {
    /// The head's entries, in order.
    pub(super) fn entries(&self) -> Vec<Entry> {
        let mut entries = vec![
            line("format", &FORMAT.to_string()),
            line("program", &self.program),
            line("seed", &self.seed.to_string()),
            line("time-source", &entry::word_of(self.time_source)),
            line("estimates-every", &format!("{:?} s", self.estimates_every.0)),
        ];
        entries.extend(self.options.iter().map(|(name, value)| line("option", &format!("{name}={value}"))));
        for (key, digest_key, document) in self.documents() {
            entries.push(line(digest_key, &document.digest));
            entries.extend(document.text.split('\n').map(|text| line(key, text)));
        }
        entries
    }

    fn documents(&self) -> [(&'static str, &'static str, &Document); 3] {
        [
            ("lining", "lining-digest", &self.lining),
            ("plan", "plan-digest", &self.plan),
            ("probes", "probes-digest", &self.probes),
        ]
    }

    /// The head that these lines, key and text, make. Keys this version does not know are passed over.
    pub(super) fn from_lines(lines: &[(String, String)]) -> Result<Self, HeadError> {
        Ok(Self {
            program: only(lines, "program")?.to_owned(),
            seed: parsed(lines, "seed", "a whole number", |text| text.parse().ok())?,
            time_source: parsed(lines, "time-source", "clock or probe", entry::word_in)?,
            estimates_every: parsed(lines, "estimates-every", "seconds, such as `10.0 s`", seconds)?,
            options: options(lines)?,
            lining: document(lines, "lining", "lining-digest")?,
            plan: document(lines, "plan", "plan-digest")?,
            probes: document(lines, "probes", "probes-digest")?,
        })
    }
}

fn line(key: &str, text: &str) -> Entry {
    Entry::Head { key: key.to_owned(), text: text.to_owned() }
}

fn all<'a>(lines: &'a [(String, String)], key: &str) -> impl Iterator<Item = &'a str> {
    lines.iter().filter(move |(name, _)| name == key).map(|(_, text)| text.as_str())
}

fn only<'a>(lines: &'a [(String, String)], key: &'static str) -> Result<&'a str, HeadError> {
    all(lines, key).next().ok_or(HeadError::Missing { key })
}

fn parsed<T>(
    lines: &[(String, String)],
    key: &'static str,
    expected: &'static str,
    parse: impl Fn(&str) -> Option<T>,
) -> Result<T, HeadError> {
    let text = only(lines, key)?;
    parse(text).ok_or_else(|| HeadError::Wrong { key, found: text.to_owned(), expected })
}

fn seconds(text: &str) -> Option<Seconds> {
    text.strip_suffix(" s")?.parse().ok().map(Seconds)
}

fn options(lines: &[(String, String)]) -> Result<Vec<(String, String)>, HeadError> {
    let split = |text: &str| {
        let wrong = || HeadError::Wrong { key: "option", found: text.to_owned(), expected: "name=value" };
        text.split_once('=').map(|(name, value)| (name.to_owned(), value.to_owned())).ok_or_else(wrong)
    };
    all(lines, "option").map(split).collect()
}

fn document(lines: &[(String, String)], key: &'static str, digest_key: &'static str) -> Result<Document, HeadError> {
    let digest = only(lines, digest_key)?.to_owned();
    only(lines, key)?;
    Ok(Document { text: all(lines, key).collect::<Vec<_>>().join("\n"), digest })
}
