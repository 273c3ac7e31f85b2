//! Writes what was found about a probe back into its probe file, and leaves everything else there as it was written.

use thiserror::Error;
use toml_edit::{DocumentMut, Item, value};

use crate::units::KelvinDiff;

/// Why an offset cannot be stored.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum StoreError {
    /// The text is no TOML.
    #[error("found what TOML does not allow ({found}), expected a probe file; see `firstheat check`")]
    NotToml {
        /// What the TOML reader says.
        found: String,
    },
    /// No channel of this name.
    #[error("found no channel {channel:?} in the probe file, expected one of its names; correct the name")]
    NoChannel {
        /// The name.
        channel: String,
    },
}

/// The text of a probe file with `offset` for the channel called `channel`, found on `date` ("2026-03-14").
///
/// # Errors
/// When the text is no TOML or has no such channel.
pub fn with_offset(text: &str, channel: &str, offset: KelvinDiff, date: &str) -> Result<String, StoreError> {
    let mut document: DocumentMut = text
        .parse()
        .map_err(|wrong: toml_edit::TomlError| StoreError::NotToml { found: wrong.message().to_owned() })?;
    let no_channel = || StoreError::NoChannel { channel: channel.to_owned() };
    let ports = document.get_mut("port").and_then(Item::as_array_of_tables_mut).ok_or_else(no_channel)?;
    let channels = ports.iter_mut().filter_map(|port| port.get_mut("channel")?.as_array_of_tables_mut());
    let is_it = |table: &&mut toml_edit::Table| table.get("name").and_then(Item::as_str) == Some(channel);
    let table = channels.flat_map(toml_edit::ArrayOfTables::iter_mut).find(is_it).ok_or_else(no_channel)?;
    // Minus nothing is written as nothing.
    let offset_k = (offset.0 * 100.0).round() / 100.0 + 0.0;
    table.insert("offset", value(format!("{offset_k} K")));
    table.insert("offset-date", value(date));
    Ok(document.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "# ours\nformat = \"firstheat probes 1\"\n\n[[port]]\npath = \"-\" # piped\n\n[[port.channel]]\nname = \
                        \"hot\"\nplace = \"chamber-gas\"\ntype = \"K\"   # mineral insulated\n";

    #[test]
    fn an_offset_is_stored_and_nothing_else_is_touched() {
        let stored = with_offset(TEXT, "hot", KelvinDiff(-1.234), "2026-03-14").expect("a channel of that name");
        assert_eq!(stored, format!("{TEXT}offset = \"-1.23 K\"\noffset-date = \"2026-03-14\"\n"));
        let again = with_offset(&stored, "hot", KelvinDiff(0.5), "2026-05-01").expect("a channel of that name");
        assert_eq!(again, format!("{TEXT}offset = \"0.5 K\"\noffset-date = \"2026-05-01\"\n"));
    }

    #[test]
    fn what_is_stored_is_read_again() {
        let stored = with_offset(TEXT, "hot", KelvinDiff(-1.234), "2026-03-14").expect("a channel of that name");
        let set = super::super::parse(&stored).expect("a good probe file");
        let spec = &set.ports[0].channels[0];
        assert!((spec.offset.0 + 1.23).abs() < 1e-9 && spec.offset_date.as_deref() == Some("2026-03-14"), "{spec:?}");
    }

    #[test]
    fn a_channel_that_is_not_there_is_refused() {
        let refused = with_offset(TEXT, "cold", KelvinDiff(0.0), "2026-03-14");
        assert_eq!(refused, Err(StoreError::NoChannel { channel: "cold".to_owned() }));
    }
}
