//! Reads the entries of one TOML table, remembering where they stand and which were asked for.

use std::cell::RefCell;
use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::refusal::{Fault, Refusals, Refused};
use crate::units::Curve;
use crate::units::quantity::Measure;

/// A value and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Placed<T> {
    pub value: T,
    pub span: Range<usize>,
    pub key: String,
}

/// A quantity that is asked for: its key, kind, and what is believable, in base units.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Asked {
    pub key: &'static str,
    pub measure: &'static Measure,
    pub least: f64,
    pub most: f64,
    /// The same range in words, with its units.
    pub range: &'static str,
}

/// One table of the file.
pub(crate) struct Fields<'t> {
    refusals: &'t RefCell<Refusals<'t>>,
    table: &'t DeTable<'t>,
    /// Key of the table with all above it; empty at the top.
    pub key: String,
    pub span: Range<usize>,
    asked: RefCell<Vec<&'static str>>,
}

impl<'t> Fields<'t> {
    pub fn new(refusals: &'t RefCell<Refusals<'t>>, table: &'t DeTable<'t>, key: String, span: Range<usize>) -> Self {
        Self { refusals, table, key, span, asked: RefCell::new(Vec::new()) }
    }

    /// The full key of the entry `name`.
    pub fn key_of(&self, name: &str) -> String {
        if self.key.is_empty() { name.to_owned() } else { format!("{}.{name}", self.key) }
    }

    /// Notes that the entry `name` (or, when it is absent, this table) has `fault`.
    pub fn refuse(&self, name: &str, fault: Fault) -> Refused {
        let span = self.table.get(name).map_or_else(|| self.span.clone(), Spanned::span);
        self.refusals.borrow_mut().note(&span, self.key_of(name), fault)
    }

    /// Notes `fault` at a value read before.
    pub fn refuse_at<T>(&self, placed: &Placed<T>, fault: Fault) -> Refused {
        self.refusals.borrow_mut().note(&placed.span, placed.key.clone(), fault)
    }

    pub fn written<T>(&self, placed: &Placed<T>) -> String {
        self.refusals.borrow().written(&placed.span)
    }

    pub fn missing(&self, name: &str, expected: &str, example: &str) -> Refused {
        self.refuse(name, Fault::Missing { expected: expected.to_owned(), example: example.to_owned() })
    }

    fn wrong_type(&self, name: &str, value: &DeValue<'_>, expected: &str, example: &str) -> Refused {
        let found = found_type(value).to_owned();
        self.refuse(name, Fault::WrongType { found, expected: expected.to_owned(), example: example.to_owned() })
    }

    /// Whether the entry `name` is there. Counts as asking for it.
    pub fn has(&self, name: &'static str) -> bool {
        self.raw(name).is_some()
    }

    /// The entry `name` as it is.
    pub fn raw(&self, name: &'static str) -> Option<&'t Spanned<DeValue<'t>>> {
        self.asked.borrow_mut().push(name);
        self.table.get(name)
    }

    /// Names of all entries with their places, whether asked for or not.
    pub fn names(&self) -> impl Iterator<Item = (&'t str, Range<usize>)> {
        self.table.keys().map(|key| (key.get_ref().as_ref(), key.span()))
    }

    /// The table that a caller found under any `name`.
    pub fn table_named(&self, name: &str) -> Result<Fields<'t>, Refused> {
        match self.table.get(name) {
            Some(value) => self.table_of(name, value),
            None => Err(self.missing(name, "a table", &format!("[{}]", self.key_of(name)))),
        }
    }

    fn table_of(&self, name: &str, value: &'t Spanned<DeValue<'t>>) -> Result<Fields<'t>, Refused> {
        match value.get_ref() {
            DeValue::Table(table) => Ok(Fields::new(self.refusals, table, self.key_of(name), value.span())),
            other => Err(self.wrong_type(name, other, "a table", &format!("[{}]", self.key_of(name)))),
        }
    }

    pub fn table(&self, name: &'static str) -> Result<Option<Fields<'t>>, Refused> {
        self.raw(name).map(|value| self.table_of(name, value)).transpose()
    }

    /// Tables of an array of tables such as `[[section]]`; empty when there is none.
    pub fn tables(&self, name: &'static str) -> Result<Vec<Fields<'t>>, Refused> {
        let example = format!("[[{}]]", self.key_of(name));
        let Some(value) = self.raw(name) else { return Ok(Vec::new()) };
        let DeValue::Array(items) = value.get_ref() else {
            return Err(self.wrong_type(name, value.get_ref(), "a list of tables", &example));
        };
        let mut tables = Vec::new();
        for (index, item) in items.iter().enumerate() {
            let key = format!("{} {}", self.key_of(name), called(item.get_ref(), index));
            match item.get_ref() {
                DeValue::Table(table) => tables.push(Fields::new(self.refusals, table, key, item.span())),
                other => return Err(self.wrong_type(name, other, "a list of tables", &example)),
            }
        }
        Ok(tables)
    }

    /// A text, not empty.
    pub fn text(&self, name: &'static str, example: &str) -> Result<Option<Placed<&'t str>>, Refused> {
        let Some(value) = self.raw(name) else { return Ok(None) };
        match value.get_ref() {
            DeValue::String(text) if !text.trim().is_empty() => {
                Ok(Some(Placed { value: text.trim(), span: value.span(), key: self.key_of(name) }))
            }
            DeValue::String(_) => {
                let (found, expected) = ("an empty text".to_owned(), "some text".to_owned());
                Err(self.refuse(name, Fault::WrongType { found, expected, example: example.to_owned() }))
            }
            other => Err(self.wrong_type(name, other, "a text in quotes", example)),
        }
    }

    pub fn needed_text(&self, name: &'static str, what: &str, example: &str) -> Result<Placed<&'t str>, Refused> {
        self.text(name, example)?.ok_or_else(|| self.missing(name, what, &format!("{name} = {example}")))
    }

    /// One of `words`, each with its meaning.
    pub fn word<T: Copy>(&self, name: &'static str, words: &[(&str, T)]) -> Result<Option<Placed<T>>, Refused> {
        let example = words.first().map_or_else(String::new, |(word, _)| format!("\"{word}\""));
        let Some(text) = self.text(name, &example)? else { return Ok(None) };
        match words.iter().find(|(word, _)| *word == text.value) {
            Some(&(_, meaning)) => Ok(Some(Placed { value: meaning, span: text.span, key: text.key })),
            None => Err(self.refuse_at(&text, unknown_word(text.value, words.iter().map(|(word, _)| *word)))),
        }
    }

    pub fn truth(&self, name: &'static str) -> Result<Option<bool>, Refused> {
        match self.raw(name).map(Spanned::get_ref) {
            None => Ok(None),
            Some(DeValue::Boolean(truth)) => Ok(Some(*truth)),
            Some(other) => Err(self.wrong_type(name, other, "yes or no", "true")),
        }
    }

    /// Lets the entries `names` be there without reading them: something before them was refused.
    pub fn accept(&self, names: &[&'static str]) {
        self.asked.borrow_mut().extend_from_slice(names);
    }

    /// A quantity within its range.
    pub fn quantity(&self, asked: &Asked) -> Result<Option<Placed<f64>>, Refused> {
        let Some(value) = self.raw(asked.key) else { return Ok(None) };
        self.quantity_in(value, self.key_of(asked.key), asked).map(Some)
    }

    pub fn needed(&self, asked: &Asked) -> Result<Placed<f64>, Refused> {
        let expected = asked.measure.name;
        let example = format!("{} = \"{}\"", asked.key, asked.measure.example);
        self.quantity(asked)?.ok_or_else(|| self.missing(asked.key, expected, &example))
    }

    pub fn quantity_or(&self, asked: &Asked, usual: f64) -> Result<f64, Refused> {
        Ok(self.quantity(asked)?.map_or(usual, |placed| placed.value))
    }

    /// `value` as the quantity `asked`, wherever it stands.
    pub fn quantity_in(
        &self,
        value: &Spanned<DeValue<'_>>,
        key: String,
        asked: &Asked,
    ) -> Result<Placed<f64>, Refused> {
        let span = value.span();
        let written = self.refusals.borrow().written(&span);
        let note = |fault| self.refusals.borrow_mut().note(&span, key.clone(), fault);
        let DeValue::String(text) = value.get_ref() else {
            return Err(note(Fault::WrongType {
                found: format!("{} ({written})", found_type(value.get_ref())),
                expected: format!("{} with its unit, in quotes", asked.measure.name),
                example: format!("\"{}\"", asked.measure.example),
            }));
        };
        let base = asked.measure.parse(text).map_err(|refused| note(refused.into()))?;
        if !(asked.least..=asked.most).contains(&base) {
            return Err(note(Fault::OutOfRange { found: written, range: asked.range }));
        }
        Ok(Placed { value: base, span, key })
    }

    /// A plain number from `least` to `most`.
    pub fn number(&self, name: &'static str, most: f64, range: &'static str) -> Result<Option<Placed<f64>>, Refused> {
        let Some(value) = self.raw(name) else { return Ok(None) };
        let Some(number) = plain_number(value.get_ref()) else {
            return Err(self.wrong_type(name, value.get_ref(), "a plain number", "0.5"));
        };
        let placed = Placed { value: number, span: value.span(), key: self.key_of(name) };
        if !(0.0..=most).contains(&number) {
            let found = self.written(&placed);
            return Err(self.refuse_at(&placed, Fault::OutOfRange { found, range }));
        }
        Ok(Some(placed))
    }

    /// A plain number from `least` to `most`, which `range` says in words.
    pub fn figure(&self, name: &'static str, bounds: [f64; 2], range: &'static str) -> Result<Option<f64>, Refused> {
        let Some(value) = self.raw(name) else { return Ok(None) };
        let Some(number) = plain_number(value.get_ref()) else {
            return Err(self.wrong_type(name, value.get_ref(), "a plain number", "0.5"));
        };
        if !(bounds[0]..=bounds[1]).contains(&number) {
            let found = number.to_string();
            return Err(self.refuse(name, Fault::OutOfRange { found, range }));
        }
        Ok(Some(number))
    }

    /// A list of plain numbers, each from `least` to `most`.
    pub fn figures(&self, name: &'static str, bounds: [f64; 2], range: &'static str) -> Result<Vec<f64>, Refused> {
        let Some(value) = self.raw(name) else { return Ok(Vec::new()) };
        let DeValue::Array(items) = value.get_ref() else {
            return Err(self.wrong_type(name, value.get_ref(), "a list of plain numbers", "[0.01, 0.05]"));
        };
        let number = |item: &Spanned<DeValue<'_>>| match plain_number(item.get_ref()) {
            None => Err(self.wrong_type(name, item.get_ref(), "a plain number in the list", "[0.01, 0.05]")),
            Some(number) if (bounds[0]..=bounds[1]).contains(&number) => Ok(number),
            Some(number) => Err(self.refuse(name, Fault::OutOfRange { found: number.to_string(), range })),
        };
        items.iter().map(number).collect()
    }

    /// A curve: pairs of plain numbers, or one number for the same value everywhere. `bounds` are those of the values.
    pub fn curve(&self, name: &'static str, bounds: [f64; 2], range: &'static str) -> Result<Option<Curve>, Refused> {
        const EXAMPLE: &str = "[[20, 1.2], [800, 1.3]]";
        let Some(value) = self.raw(name) else { return Ok(None) };
        let out_of_range = |number: f64| self.refuse(name, Fault::OutOfRange { found: number.to_string(), range });
        let inside = |number: f64| (bounds[0]..=bounds[1]).contains(&number);
        if let Some(number) = plain_number(value.get_ref()) {
            return if inside(number) { Ok(Some(Curve::constant(number))) } else { Err(out_of_range(number)) };
        }
        let wrong =
            |found: &DeValue<'_>| self.wrong_type(name, found, "a number, or a list of pairs of numbers", EXAMPLE);
        let DeValue::Array(items) = value.get_ref() else { return Err(wrong(value.get_ref())) };
        let mut points = Vec::new();
        for item in items {
            let pair = match item.get_ref() {
                DeValue::Array(pair) if pair.len() == 2 => {
                    (plain_number(pair[0].get_ref()), plain_number(pair[1].get_ref()))
                }
                _ => (None, None),
            };
            let (Some(x), Some(y)) = pair else { return Err(wrong(item.get_ref())) };
            if !inside(y) {
                return Err(out_of_range(y));
            }
            points.push((x, y));
        }
        Curve::new(points).map(Some).map_err(|error| self.refuse(name, error.into()))
    }

    /// Refuses every entry that nobody asked for.
    pub fn finish(&self) {
        let asked = self.asked.borrow();
        for (key, value) in self.table {
            let name = key.get_ref().as_ref();
            if asked.contains(&name) {
                continue;
            }
            let mut known: Vec<&str> = asked.clone();
            known.sort_unstable();
            known.dedup();
            let nearest = nearest(name, known.iter().copied());
            let fault = Fault::UnknownKey { known: known.join(", "), nearest };
            let span = if key.span().is_empty() { value.span() } else { key.span() };
            self.refusals.borrow_mut().note(&span, self.key_of(name), fault);
        }
    }
}

/// What a person calls the entry `index` of a list: its name in quotes, or its number from 1.
fn called(item: &DeValue<'_>, index: usize) -> String {
    const MOST: usize = 40;
    let name = item.as_table().and_then(|table| table.get("name")).and_then(|name| name.get_ref().as_str());
    match name {
        Some(name) if !name.trim().is_empty() && name.chars().count() <= MOST && !name.contains(char::is_control) => {
            format!("\"{}\"", name.trim())
        }
        _ => (index + 1).to_string(),
    }
}

pub(crate) fn plain_number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(integer) => {
            i64::from_str_radix(integer.as_str(), integer.radix()).ok().map(|whole| whole as f64)
        }
        DeValue::Float(float) => float.as_str().parse().ok(),
        _ => None,
    }
}

fn found_type(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "a text",
        DeValue::Integer(_) | DeValue::Float(_) => "a bare number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}

/// The fault of a word that is not among `known`.
pub(crate) fn unknown_word<'k>(found: &str, known: impl Iterator<Item = &'k str> + Clone) -> Fault {
    let nearest = nearest(found, known.clone());
    let shown: String = found.chars().take(60).collect();
    Fault::UnknownWord { found: shown, known: known.collect::<Vec<_>>().join(", "), nearest }
}

/// The word of `known` that a slip of the pen would most likely turn into `found`.
fn nearest<'k>(found: &str, known: impl Iterator<Item = &'k str>) -> Option<String> {
    const LIKE_ENOUGH: f64 = 0.75;
    let found: String = found.chars().take(100).collect();
    let scored = known.map(|word| (strsim::jaro_winkler(&found.to_lowercase(), word), word));
    let best = scored.filter(|(score, _)| *score > LIKE_ENOUGH).max_by(|a, b| a.0.total_cmp(&b.0));
    best.map(|(_, word)| word.to_owned())
}
