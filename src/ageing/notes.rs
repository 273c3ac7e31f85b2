//! Circumstances of a heat-up that are easily taken for wear: noted when it is followed, kept in the head of its log.
//!
//! In the log they are `option` rows, `name=value`, all of them optional:
//!
//! | name | what | example |
//! |---|---|---|
//! | `gas-pressure` | gauge pressure before the jet | `0.7 bar` |
//! | `jet` | what was done to the jet | `cleaned` |
//! | `ambient` | air round the furnace | `12 C` |
//! | `load` | what stood in the chamber; `empty` when nothing | `crucible, 2 kg brass` |
//! | `probe-age` | how long the probes have been in use | `14 heats` |

use serde::Serialize;

use crate::lining::{Burner, Fuel};
use crate::units::quantity::{PRESSURE, QuantityError, TEMPERATURE};
use crate::units::{Celsius, Pascals};

/// Names that a note may have.
pub const NAMES: [&str; 5] = ["gas-pressure", "jet", "ambient", "load", "probe-age"];

/// What was noted of a heat-up.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Notes {
    /// Gauge pressure before the jet, Pa.
    pub gas_pressure: Option<Pascals>,
    /// What was done to the jet.
    pub jet: Option<String>,
    /// Air round the furnace, °C.
    pub ambient: Option<Celsius>,
    /// What stood in the chamber.
    pub load: Option<String>,
    /// How long the probes have been in use.
    pub probe_age: Option<String>,
}

/// Why a note is none.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NotesError {
    /// It has no `=`.
    #[error("found the note `{found}`, expected NAME=VALUE, such as `gas-pressure=0.7 bar`")]
    NoValue {
        /// As given.
        found: String,
    },
    /// Its name is not known.
    #[error("found a note called `{found}`, expected one of {}", NAMES.join(", "))]
    NoSuchName {
        /// As given.
        found: String,
    },
    /// Its value is no quantity of its kind.
    #[error("the note `{name}` cannot be read")]
    Quantity {
        /// Which.
        name: &'static str,
        /// Why.
        source: QuantityError,
    },
}

impl Notes {
    /// The notes among the options of a log; other options are passed over.
    ///
    /// # Errors
    /// When a value is no quantity of its kind.
    pub fn from_options(options: &[(String, String)]) -> Result<Self, NotesError> {
        let mut notes = Self::default();
        for (name, value) in options.iter().filter(|(name, _)| NAMES.contains(&name.as_str())) {
            notes.take(name, value)?;
        }
        Ok(notes)
    }

    /// Checks a note as it is given on the command line, and parts it into name and value.
    ///
    /// # Errors
    /// When it has no `=`, its name is not known, or its value is no quantity of its kind.
    pub fn parted(note: &str) -> Result<(String, String), NotesError> {
        let (name, value) = note.split_once('=').ok_or_else(|| NotesError::NoValue { found: note.to_owned() })?;
        Self::default().take(name.trim(), value.trim())?;
        Ok((name.trim().to_owned(), value.trim().to_owned()))
    }

    fn take(&mut self, name: &str, value: &str) -> Result<(), NotesError> {
        let text = || Some(value.to_owned());
        match name {
            "gas-pressure" => {
                let refused = |source| NotesError::Quantity { name: "gas-pressure", source };
                self.gas_pressure = Some(Pascals(PRESSURE.parse(value).map_err(refused)?));
            }
            "ambient" => {
                let refused = |source| NotesError::Quantity { name: "ambient", source };
                self.ambient = Some(Celsius(TEMPERATURE.parse(value).map_err(refused)?));
            }
            "jet" => self.jet = text(),
            "load" => self.load = text(),
            "probe-age" => self.probe_age = text(),
            other => return Err(NotesError::NoSuchName { found: other.to_owned() }),
        }
        Ok(())
    }

    /// Sets the noted pressure on a burner with a jet.
    pub(super) fn apply_to(&self, burner: &mut Burner) {
        if let (Some(pressure), Fuel::PropaneJet { gauge_pressure, .. }) = (self.gas_pressure, &mut burner.fuel) {
            *gauge_pressure = pressure;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_with_a_unit_is_read_and_others_are_passed_over() {
        let options = [("members", "16"), ("gas-pressure", "0.7 bar"), ("ambient", "50 F")];
        let options = options.map(|(name, value)| (name.to_owned(), value.to_owned()));
        let notes = Notes::from_options(&options).expect("all can be read");
        assert_eq!(notes.gas_pressure.map(|pressure| pressure.0.round() as i64), Some(70_000));
        assert_eq!(notes.ambient.map(|ambient| ambient.0.round() as i64), Some(10));
    }

    #[test]
    fn a_note_of_another_name_is_refused_with_the_names_there_are() {
        let refused = Notes::parted("mood=good").expect_err("no such note");
        assert!(refused.to_string().contains("gas-pressure, jet, ambient"), "{refused}");
    }
}
