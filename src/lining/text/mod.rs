//! Reads and writes lining and materials files (TOML).
//!
//! A lining file begins with `format = "firstheat lining 1"` and holds the tables `place` (the air at the first flame),
//! `drying` (the air while it dried, when that was other air), `chamber-drying` (`temperature` and `time` of warm air that a lamp
//! or heater then kept in the chamber), `burner` (with a `[[burner.mark]]` per mark that it can be turned down to: `name`, and its
//! `share` of the full fire, its `power`, or the gauge `pressure`; or with `holds-ramps`), `chamber`, `goal`, `material.NAME` (classes
//! changed for this furnace), `stock.MATERIAL` (how it is bought and worked: `roll-width`, `roll-length`, `bag`, `batch`, `spare`,
//! `working-time`, `price`) and one `[[section]]` per part of the lining with a `[[section.layer]]` per layer, from the
//! hot face outwards. For cutting, a section may also say `lies` and have `[[section.port]]` tables (`name`, `diameter`, `along`,
//! and `around` or `across`), a layer of fibre `plies`, `compression` and `trim`. Every quantity is a text with its unit. The files under `schedules/` show all of it with comments.
//!
//! Reading refuses everything that is wrong in one pass, each with its line, column and key; unknown keys are refused too.

mod control;
pub(crate) mod fields;
mod furnace;
mod layers;
mod make;
mod materials;
mod refusal;
mod write;

use std::cell::RefCell;
use std::ops::Range;

use toml::de::{DeTable, DeValue};

use super::Lining;
use super::material::Materials;
use fields::Fields;
pub use furnace::{USUAL_DANGER_CEILING, USUAL_EQUIVALENCE_RATIO, USUAL_SHORTEST_OFF, USUAL_SHORTEST_ON};
use refusal::Refusals;
pub(crate) use refusal::Refused;
pub use refusal::{Fault, LiningError, Place, Refusal};
pub use write::{LayerDraft, LiningDraft, SectionDraft, ShapeDraft, write_lining};

/// First line of a lining file, without `format =`.
pub const LINING_FORMAT: &str = "firstheat lining 1";

/// First line of a materials file, without `format =`.
pub const MATERIALS_FORMAT: &str = "firstheat materials 1";

/// Reads a lining file whose layers are made of `materials` or of classes it derives from them.
///
/// # Errors
/// When the text is not TOML, not a lining file, or holds anything that cannot be used; all of it is named.
///
/// # Examples
/// ```
/// use firstheat::lining::material::Materials;
/// use firstheat::lining::text::parse_lining;
///
/// let text = include_str!("../../../schedules/box-forge.toml");
/// let lining = parse_lining(text, Materials::built_in())?;
/// assert_eq!(lining.sections[0].name, "walls and roof");
///
/// let slip = text.replace("thickness = \"3 mm\"", "thickness = \"-3 mm\"");
/// let refused = parse_lining(&slip, Materials::built_in()).unwrap_err();
/// assert!(refused.to_string().contains(r#"section "walls and roof".layer 1.thickness: found "-3 mm""#));
/// # Ok::<(), firstheat::lining::text::LiningError>(())
/// ```
pub fn parse_lining(text: &str, materials: &Materials) -> Result<Lining, LiningError> {
    read(text, LINING_FORMAT, |top| furnace::read_file(top, materials))
}

/// Reads a materials file.
///
/// # Errors
/// When the text is not TOML, not a materials file, or holds anything that cannot be used, such as a figure without its
/// source.
pub fn parse_materials(text: &str) -> Result<Materials, LiningError> {
    read(text, MATERIALS_FORMAT, materials::read_file)
}

/// Short stable digest of a lining file: CRC-32 (IEEE 802.3) of its text with line ends made `\n`, as eight hex digits.
///
/// It tells a changed file from the one a plan was made for; it is no guard against forgery.
///
/// # Examples
/// ```
/// use firstheat::lining::text::digest;
///
/// assert_eq!(digest("123456789"), "cbf43926");
/// assert_eq!(digest("a\r\nb"), digest("a\nb"));
/// ```
#[must_use]
pub fn digest(text: &str) -> String {
    format!("{:08x}", crc32fast::hash(text.replace("\r\n", "\n").as_bytes()))
}

/// Parses `text` as TOML of the format `expected` and lets `build` take what it needs.
pub(crate) fn read<T>(
    text: &str,
    expected: &'static str,
    build: impl FnOnce(&Fields<'_>) -> Result<T, Refused>,
) -> Result<T, LiningError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let document = DeTable::parse(text).map_err(|error| {
        let at = error.span().map_or(0, |span| span.start);
        LiningError::NotToml { place: Place::of(text, at), message: one_line(error.message()) }
    })?;
    check_format(text, document.get_ref(), expected)?;
    let refusals = RefCell::new(Refusals::new(text));
    let top = Fields::new(&refusals, document.get_ref(), String::new(), Range { start: 0, end: 0 });
    top.has("format");
    let value = build(&top);
    top.finish();
    let error = refusals.borrow_mut().take_error();
    match (error, value) {
        (Some(error), _) => Err(error),
        (None, Ok(value)) => Ok(value),
        (None, Err(Refused)) => Err(LiningError::Refused(Vec::new())),
    }
}

fn one_line(message: &str) -> String {
    message.lines().map(str::trim).collect::<Vec<_>>().join("; ")
}

fn check_format(text: &str, top: &DeTable<'_>, expected: &'static str) -> Result<(), LiningError> {
    let Some(format) = top.get("format") else {
        let found = "no format line".to_owned();
        return Err(LiningError::Format { place: Place { line: 1, column: 1 }, found, expected });
    };
    if matches!(format.get_ref(), DeValue::String(found) if *found == expected) {
        return Ok(());
    }
    let found = format!("format = {}", Refusals::new(text).written(&format.span()));
    Err(LiningError::Format { place: Place::of(text, format.span().start), found, expected })
}
