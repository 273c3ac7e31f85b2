//! What is wrong in a file, where, and what would do.

use std::fmt;
use std::ops::Range;

use thiserror::Error;

use crate::units::CurveError;
use crate::units::quantity::QuantityError;

/// Why a lining or materials file was refused.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum LiningError {
    /// The text is not TOML.
    #[error(
        "{place}: found text that is not TOML ({message}), expected lines such as key = \"value\"; correct this line first"
    )]
    NotToml {
        /// Where reading stopped.
        place: Place,
        /// What the TOML reader says.
        message: String,
    },
    /// It is not a file of this kind, or of a version this program does not know.
    #[error(
        "{place}: found {found}, expected the line format = \"{expected}\" at the top; add it, or check that this is the right file"
    )]
    Format {
        /// Where the line is or should be.
        place: Place,
        /// What stands there.
        found: String,
        /// What should stand there.
        expected: &'static str,
    },
    /// Some entries cannot be used. In the order of the file; at least one.
    #[error("{}", listed(.0))]
    Refused(Vec<Refusal>),
}

impl LiningError {
    /// Where the first thing to put right is.
    #[must_use]
    pub fn place(&self) -> Place {
        match self {
            Self::NotToml { place, .. } | Self::Format { place, .. } => *place,
            Self::Refused(refusals) => refusals.first().map_or(Place { line: 1, column: 1 }, |first| first.place),
        }
    }
}

fn listed(refusals: &[Refusal]) -> String {
    let lines: Vec<String> = refusals.iter().map(Refusal::to_string).collect();
    lines.join("\n")
}

/// A place in a text, counted from 1; columns in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// Line.
    pub line: usize,
    /// Column.
    pub column: usize,
}

impl Place {
    /// The place of the byte `at` of `text`.
    #[must_use]
    pub fn of(text: &str, at: usize) -> Self {
        let before = text.get(..at).unwrap_or(text);
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        Self { line: before.matches('\n').count() + 1, column: before[line_start..].chars().count() + 1 }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "line {}, column {}", self.line, self.column)
    }
}

/// One entry that cannot be used.
#[derive(Clone, Debug, PartialEq)]
pub struct Refusal {
    /// Where it is.
    pub place: Place,
    /// Its key with all tables above it, such as `section "wall".layer 2.thickness`.
    pub key: String,
    /// What is wrong with it.
    pub fault: Fault,
}

impl fmt::Display for Refusal {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{}, {}: {}", self.place, self.key, self.fault)
    }
}

/// What is wrong with an entry. Every text says what was found, what is expected, and what to do.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum Fault {
    /// A key that is needed is not there.
    #[error("found no such entry, expected {expected}; add a line such as {example}")]
    Missing {
        /// What it should hold.
        expected: String,
        /// A line that would do.
        example: String,
    },
    /// A key that means nothing here.
    #[error("found an unknown key, expected one of {known}; {}", advice(.nearest.as_deref(), "remove it"))]
    UnknownKey {
        /// All that are known here.
        known: String,
        /// The one most like it.
        nearest: Option<String>,
    },
    /// A word that means nothing here.
    #[error("found \"{found}\", expected one of {known}; {}", advice(.nearest.as_deref(), "choose one of these"))]
    UnknownWord {
        /// The word.
        found: String,
        /// All that are known here.
        known: String,
        /// The one most like it.
        nearest: Option<String>,
    },
    /// A value of the wrong TOML type.
    #[error("found {found}, expected {expected}; write it like {example}")]
    WrongType {
        /// What kind of value stands there.
        found: String,
        /// What kind is needed.
        expected: String,
        /// A value that would do.
        example: String,
    },
    /// A text that is not the quantity needed.
    #[error(transparent)]
    Quantity(#[from] QuantityError),
    /// A list of points that is no curve.
    #[error("{0}; correct the points")]
    Curve(#[from] CurveError),
    /// A quantity that no real lining, burner or place has.
    #[error("found {found}, expected {range}; check the number and its unit")]
    OutOfRange {
        /// As written.
        found: String,
        /// What would do.
        range: &'static str,
    },
    /// Two entries say the same thing, or exclude each other.
    #[error("found both `{first}` and `{second}`, expected one of them; remove one")]
    Both {
        /// One.
        first: &'static str,
        /// The other.
        second: &'static str,
    },
    /// An entry that makes no sense for this material or shape.
    #[error("found `{key}` for {what}, expected it only for {only_for}; remove it{instead}")]
    OutOfPlace {
        /// The key.
        key: &'static str,
        /// What it was given for.
        what: String,
        /// What it may be given for.
        only_for: &'static str,
        /// What to use instead, starting with a comma; empty when there is nothing.
        instead: &'static str,
    },
    /// Layers fill the shell.
    #[error(
        "found layers of {layers_mm:.1} mm in a shell of {shell_mm:.1} mm inside diameter, which leaves a bore of {bore_mm:.1} mm, \
        expected a bore of at least 20 mm; make the layers thinner or the shell larger"
    )]
    NoBore {
        /// Thickness of all layers.
        layers_mm: f64,
        /// Inside diameter of the shell.
        shell_mm: f64,
        /// What is left.
        bore_mm: f64,
    },
    /// More water than the material can hold.
    #[error(
        "found {found}, expected at most {most_percent:.1} %, which is all that {material} holds with its pores full \
        (its sheet says {sheet}); take the figure from the sheet, or leave this key out to use {usual_percent:.1} %"
    )]
    TooWet {
        /// As written.
        found: String,
        /// Most it can hold, % of dry mass.
        most_percent: f64,
        /// Which material.
        material: String,
        /// Range of the sheet.
        sheet: String,
        /// Usual water, % of dry mass.
        usual_percent: f64,
    },
    /// The soak is hotter than the hot face of a section stands.
    #[error(
        "found a soak at {soak_c:.0} C, expected at most {limit_c:.0} C, which is the service limit of {material} on the hot face \
        of section \"{section}\"; soak cooler, or line that section with something else"
    )]
    AboveService {
        /// Soak temperature.
        soak_c: f64,
        /// Service limit.
        limit_c: f64,
        /// Material of the hot face.
        material: String,
        /// Which section.
        section: String,
    },
    /// The openings are larger than the lining they are in.
    #[error(
        "found openings of {openings_cm2:.0} cm2 in a chamber whose lining is only {lining_cm2:.0} cm2, expected openings smaller than \
        the lining; check the sizes and units of both"
    )]
    AllOpening {
        /// Area of all openings.
        openings_cm2: f64,
        /// Area of all hot faces.
        lining_cm2: f64,
    },
    /// Two marks of a burner have one name.
    #[error("found the mark \"{name}\" twice, expected every mark to have its own name; rename one")]
    SameMark {
        /// The name.
        name: String,
    },
    /// Two marks of a burner are one fire.
    #[error("found the same fire at the marks \"{first}\" and \"{second}\", expected each to be another; remove one")]
    MarksAlike {
        /// One.
        first: String,
        /// The other.
        second: String,
    },
    /// Two things have one name.
    #[error("found the name \"{name}\" twice, expected every section to have its own; rename one")]
    SameName {
        /// The name.
        name: String,
    },
    /// Figures that must rise do not.
    #[error("found {found}, expected figures that do not fall (least, usual, most); put them in order")]
    NotInOrder {
        /// As written.
        found: String,
    },
    /// A figure of a materials file has no source.
    #[error(
        "found a figure without its source, expected every figure to say where it is from; write it like {{ {value}, source = \"memory\" }}"
    )]
    NoSource {
        /// The figure as it might be written.
        value: &'static str,
    },
    /// A material that starts from itself.
    #[error(
        "found like = \"{like}\", which leads back to this material, expected a material that stands on its own; start from another one"
    )]
    Circle {
        /// What it starts from.
        like: String,
    },
    /// A chain of materials that start from one another is too long to follow.
    #[error(
        "found a chain of more than {most} materials that start from one another, expected a shorter one; start from a class of \
        the materials file"
    )]
    TooManySteps {
        /// Longest chain allowed.
        most: usize,
    },
}

fn advice(nearest: Option<&str>, otherwise: &str) -> String {
    nearest.map_or_else(|| otherwise.to_owned(), |nearest| format!("did you mean `{nearest}`?"))
}

/// Most refusals that are kept: more help nobody, and finding the line of each takes a look through the file.
const MOST_REFUSALS: usize = 100;

/// Collects refusals while a file is read.
#[derive(Debug)]
pub(crate) struct Refusals<'t> {
    text: &'t str,
    found: Vec<Refusal>,
}

/// A refusal has been noted; there is no value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Refused;

impl<'t> Refusals<'t> {
    pub fn new(text: &'t str) -> Self {
        Self { text, found: Vec::new() }
    }

    /// Notes `fault` of `key` at `span`; beyond [`MOST_REFUSALS`] only that there was one.
    pub fn note(&mut self, span: &Range<usize>, key: String, fault: Fault) -> Refused {
        if self.found.len() < MOST_REFUSALS {
            self.found.push(Refusal { place: Place::of(self.text, span.start), key, fault });
        }
        Refused
    }

    /// Everything noted, in the order of the file.
    pub fn take_error(&mut self) -> Option<LiningError> {
        let mut found = std::mem::take(&mut self.found);
        found.sort_by_key(|refusal| refusal.place);
        (!found.is_empty()).then_some(LiningError::Refused(found))
    }

    /// The text that stands at `span`, shortened.
    pub fn written(&self, span: &Range<usize>) -> String {
        const MOST: usize = 60;
        let text = self.text.get(span.clone()).unwrap_or_default();
        let line = text.lines().next().unwrap_or_default();
        if line.chars().count() > MOST || line.len() < text.trim_end().len() {
            return format!("{}...", line.chars().take(MOST).collect::<String>());
        }
        line.to_owned()
    }
}
