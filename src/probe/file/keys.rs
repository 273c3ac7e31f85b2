//! One TOML table, read key by key, with refusals that know their line.

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::{At, ProbeFileError};
use crate::units::quantity::Measure;

/// A table of the probe file.
pub(super) struct Keys<'t> {
    text: &'t str,
    table: &'t DeTable<'t>,
    begins: usize,
    name: String,
}

/// A kind of quantity and how much of it makes sense.
pub(super) struct Bounds {
    pub(super) measure: &'static Measure,
    /// Unit of the bounds.
    pub(super) unit: &'static str,
    /// How many of them make one base unit of the measure.
    pub(super) per_base: f64,
    /// Smallest allowed.
    pub(super) least: f64,
    /// Largest allowed.
    pub(super) most: f64,
}

impl<'t> Keys<'t> {
    /// The file's outermost table.
    pub(super) fn top(text: &'t str, table: &'t DeTable<'t>) -> Self {
        Self { text, table, begins: 0, name: String::new() }
    }

    /// The same table under another name in messages.
    pub(super) fn called(&self, name: String) -> Self {
        Self { text: self.text, table: self.table, begins: self.begins, name }
    }

    /// Line where the table begins.
    pub(super) fn line(&self) -> usize {
        line_at(self.text, self.begins)
    }

    /// Where `key` stands, or where the table begins if it does not.
    pub(super) fn at(&self, key: &str) -> At {
        let start = self.table.get_key_value(key).map_or(self.begins, |(key, _)| key.span().start);
        At { line: line_at(self.text, start), table: self.name.clone() }
    }

    /// Refuses any key that is not in `known`.
    pub(super) fn refuse_unknown(&self, known: &[&str]) -> Result<(), ProbeFileError> {
        let unknown = self.table.keys().filter(|key| !known.contains(&key.get_ref().as_ref()));
        let Some(key) = unknown.min_by_key(|key| key.span().start) else { return Ok(()) };
        let key = key.get_ref().to_string();
        Err(ProbeFileError::UnknownKey {
            at: self.at(&key),
            known: known.join(", "),
            nearest: nearest(&key, known.iter().copied()),
            key,
        })
    }

    /// The refusal for a `key` that is not there.
    pub(super) fn missing(&self, key: &'static str, expected: &'static str, example: &'static str) -> ProbeFileError {
        let at = At { line: self.line(), table: self.name.clone() };
        ProbeFileError::Missing { at, key, expected, example }
    }

    /// The text at `key`, which has to be there.
    pub(super) fn text(
        &self,
        key: &'static str,
        expected: &'static str,
        example: &'static str,
    ) -> Result<(String, At), ProbeFileError> {
        self.optional_text(key)?.ok_or_else(|| self.missing(key, expected, example))
    }

    /// The text at `key`.
    pub(super) fn optional_text(&self, key: &'static str) -> Result<Option<(String, At)>, ProbeFileError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        match value.as_str() {
            Some(text) => Ok(Some((text.to_owned(), self.at(key)))),
            None => Err(self.wrong_kind(key, value, "a text", "put it in double quotes")),
        }
    }

    /// The whole number at `key`.
    pub(super) fn whole(&self, key: &'static str) -> Result<Option<(i64, At)>, ProbeFileError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        let number = value.as_integer().and_then(|number| i64::from_str_radix(number.as_str(), number.radix()).ok());
        match number {
            Some(number) => Ok(Some((number, self.at(key)))),
            None => Err(self.wrong_kind(key, value, "a whole number", "write it without quotes or point")),
        }
    }

    /// The number at `key`, with a point or without, that must lie between `least` and `most`.
    pub(super) fn number(&self, key: &'static str, least: f64, most: f64) -> Result<Option<f64>, ProbeFileError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        let text = match value {
            DeValue::Integer(number) => number.as_str(),
            DeValue::Float(number) => number.as_str(),
            _ => return Err(self.wrong_kind(key, value, "a number", "write it without quotes")),
        };
        let found = text.replace('_', "").parse::<f64>().unwrap_or(f64::NAN);
        if (least..=most).contains(&found) {
            return Ok(Some(found));
        }
        Err(ProbeFileError::Range { at: self.at(key), key, found, least, most, unit: "" })
    }

    /// The table at `key`, as in `key = { label = "CJ" }`.
    pub(super) fn inner(&self, key: &'static str) -> Result<Option<Keys<'t>>, ProbeFileError> {
        let Some((name, value)) = self.table.get_key_value(key) else { return Ok(None) };
        let Some(table) = value.get_ref().as_table() else {
            return Err(self.wrong_kind(key, value.get_ref(), "a table", "write it like `{ label = \"CJ\" }`"));
        };
        let name_of = format!("{}, {key}", self.name);
        Ok(Some(Keys { text: self.text, table, begins: name.span().start, name: name_of }))
    }

    /// The first of `keys` that stands here.
    pub(super) fn first_of(&self, keys: &[&'static str]) -> Option<&'static str> {
        keys.iter().copied().find(|key| self.table.contains_key(*key))
    }

    /// The quantity at `key`, in the unit of its `bounds`.
    pub(super) fn quantity(&self, key: &'static str, bounds: &Bounds) -> Result<Option<f64>, ProbeFileError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        let read = match value {
            DeValue::String(text) => bounds.measure.parse(text),
            // Refused for its missing unit, in the words for that.
            DeValue::Integer(number) => bounds.measure.parse(number.as_str()),
            DeValue::Float(number) => bounds.measure.parse(number.as_str()),
            _ => {
                return Err(self.wrong_kind(key, value, bounds.measure.name, "write number and unit in double quotes"));
            }
        };
        let found = read.map_err(|why| ProbeFileError::Quantity { at: self.at(key), key, why })? * bounds.per_base;
        let (least, most) = (bounds.least, bounds.most);
        if (least..=most).contains(&found) {
            return Ok(Some(found));
        }
        Err(ProbeFileError::Range { at: self.at(key), key, found, least, most, unit: bounds.unit })
    }

    /// What the word at `key` stands for.
    pub(super) fn choice<T: Copy>(
        &self,
        key: &'static str,
        choices: &[(&str, T)],
    ) -> Result<Option<T>, ProbeFileError> {
        let Some((found, at)) = self.optional_text(key)? else { return Ok(None) };
        if let Some((_, meaning)) = choices.iter().find(|(word, _)| *word == found) {
            return Ok(Some(*meaning));
        }
        let words: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
        let nearest = nearest(&found, words.iter().copied());
        Err(ProbeFileError::Choice { at, key, found, choices: words.join(", "), nearest })
    }

    /// What the word at `key` stands for; it has to be there.
    pub(super) fn needed_choice<T: Copy>(
        &self,
        key: &'static str,
        choices: &[(&str, T)],
        expected: &'static str,
        example: &'static str,
    ) -> Result<T, ProbeFileError> {
        self.choice(key, choices)?.ok_or_else(|| self.missing(key, expected, example))
    }

    /// The tables of the array `key`, at least one.
    pub(super) fn tables(
        &self,
        key: &'static str,
        expected: &'static str,
        example: &'static str,
    ) -> Result<Vec<Keys<'t>>, ProbeFileError> {
        let Some(value) = self.value(key) else { return Err(self.missing(key, expected, example)) };
        let array = value.as_array().filter(|array| !array.is_empty());
        let Some(array) = array else {
            return Err(self.wrong_kind(key, value, expected, "put the name in double square brackets"));
        };
        array.iter().enumerate().map(|(place, item)| self.nested(key, place, item)).collect()
    }

    fn nested(
        &self,
        key: &'static str,
        place: usize,
        item: &'t Spanned<DeValue<'t>>,
    ) -> Result<Keys<'t>, ProbeFileError> {
        let Some(table) = item.get_ref().as_table() else {
            return Err(self.wrong_kind(key, item.get_ref(), "a table", "put the name in double square brackets"));
        };
        Ok(Keys { text: self.text, table, begins: item.span().start, name: format!("{key} {}", place + 1) })
    }

    fn value(&self, key: &str) -> Option<&'t DeValue<'t>> {
        self.table.get(key).map(Spanned::get_ref)
    }

    fn wrong_kind(
        &self,
        key: &'static str,
        value: &DeValue,
        expected: &'static str,
        advice: &'static str,
    ) -> ProbeFileError {
        let found = match value {
            DeValue::String(text) => format!("the text {text:?}"),
            DeValue::Integer(number) => format!("the number {number}"),
            DeValue::Float(number) => format!("the number {number}"),
            DeValue::Boolean(yes) => format!("the word {yes}"),
            DeValue::Datetime(time) => format!("the time {time}"),
            DeValue::Array(_) => "a list".to_owned(),
            DeValue::Table(_) => "a table".to_owned(),
        };
        ProbeFileError::Kind { at: self.at(key), key, found, expected, advice }
    }
}

/// Line, from 1, of byte `at` of `text`.
pub(super) fn line_at(text: &str, at: usize) -> usize {
    1 + text.bytes().take(at).filter(|byte| *byte == b'\n').count()
}

/// The word of `known` that `found` is a slip of, if one is near enough.
pub(super) fn nearest<'k>(found: &str, known: impl Iterator<Item = &'k str>) -> Option<String> {
    let scored = known.map(|word| (strsim::damerau_levenshtein(&found.to_lowercase(), &word.to_lowercase()), word));
    let (steps, word) = scored.min_by_key(|(steps, _)| *steps)?;
    let length = found.chars().count();
    (steps <= 1 + length / 4 && steps < length).then(|| word.to_owned())
}
