//! Bare numbers and `label=value` pairs.

use super::{EmfUnit, Items, Line, LineError, TIME_KEY, TempUnit, Value, fault_word, number_value};
use crate::units::Seconds;

/// Reads a line that is not JSON.
pub(super) fn parse(body: &str) -> Result<Line, LineError> {
    let mut line = Gathered::default();
    for (place, item) in items(body)?.into_iter().enumerate() {
        match item.split_once(['=', ':']) {
            Some((label, value)) => line.take_pair(label.trim_end(), value.trim_start())?,
            None => line.take_bare(item, place + 1)?,
        }
    }
    line.finish(body)
}

/// The text of one value: a fault word, or a number that may carry a unit.
pub(super) fn value(text: &str) -> Result<Value, LineError> {
    if let Some(fault) = fault_word(text) {
        return Ok(Value::Fault(fault));
    }
    let end = number_end(text);
    let number = plain_number(&text[..end])?.ok_or_else(|| LineError::NotAValue { found: text.to_owned() })?;
    let rest = text[end..].trim_start();
    if rest.is_empty() {
        return Ok(number_value(number, None));
    }
    match (TempUnit::named(rest), EmfUnit::named(rest)) {
        (Some(unit), _) => Ok(number_value(number, Some(unit))),
        (None, Some(unit)) => Ok(Value::Emf(unit.millivolts(number))),
        (None, None) => Err(LineError::NotAValue { found: text.to_owned() }),
    }
}

/// The board time that `text` gives.
pub(super) fn time(text: &str) -> Result<Seconds, LineError> {
    let seconds = plain_number(text)?.filter(|seconds| *seconds >= 0.0 && *seconds < 1e10);
    seconds.map(Seconds).ok_or_else(|| LineError::Time { found: text.to_owned() })
}

/// What has been read of a line so far.
#[derive(Default)]
struct Gathered {
    board_time: Option<Seconds>,
    bare: Vec<Value>,
    labelled: Vec<(String, Value)>,
}

impl Gathered {
    fn take_pair(&mut self, label: &str, text: &str) -> Result<(), LineError> {
        if !is_label(label) {
            return Err(LineError::NotALabel { found: label.to_owned() });
        }
        if text.is_empty() {
            return Err(LineError::CutShort { after: label.to_owned() });
        }
        let twice = || LineError::Twice { label: label.to_owned() };
        if label == TIME_KEY {
            return match self.board_time.replace(time(text)?) {
                None => Ok(()),
                Some(_) => Err(twice()),
            };
        }
        if self.labelled.iter().any(|(known, _)| known == label) {
            return Err(twice());
        }
        let value = value(text)?;
        self.labelled.push((label.to_owned(), value));
        Ok(())
    }

    fn take_bare(&mut self, text: &str, place: usize) -> Result<(), LineError> {
        if text.is_empty() {
            return Err(LineError::EmptyPlace { place });
        }
        let value = value(text)?;
        if !self.labelled.is_empty() {
            return Err(LineError::MixedLabels { found: text.to_owned() });
        }
        self.bare.push(value);
        Ok(())
    }

    fn finish(self, body: &str) -> Result<Line, LineError> {
        let items = match (self.bare.is_empty(), self.labelled.is_empty()) {
            (true, true) => return Err(LineError::CutShort { after: body.to_owned() }),
            (true, false) => Items::Labelled(self.labelled),
            (false, true) => Items::Numbered(self.bare),
            (false, false) => return Err(LineError::MixedLabels { found: body.to_owned() }),
        };
        Ok(Line { board_time: self.board_time, items })
    }
}

/// The items of a line, each without blanks round it.
///
/// Commas, semicolons and tabs part items, with blanks beside them or not; where there are none, blanks do. A comma
/// together with another separator is refused: "345,2;101,3" has decimal commas and would read as four numbers.
fn items(body: &str) -> Result<Vec<&str>, LineError> {
    let has = |c| body.contains(c);
    if has(',') && (has(';') || has('\t')) {
        return Err(LineError::MixedSeparators { other: if has(';') { ';' } else { '\t' } });
    }
    if has(';') && has('\t') {
        return Err(LineError::MixedSeparators { other: '\t' });
    }
    let Some(separator) = [',', ';', '\t'].into_iter().find(|c| has(*c)) else {
        return Ok(blank_parted(body));
    };
    let items: Vec<&str> = body.split(separator).map(str::trim).collect();
    let has_two_values = |item: &&str| item.split_ascii_whitespace().filter(|word| begins_a_number(word)).count() > 1;
    if separator == ',' && items.iter().any(has_two_values) {
        return Err(LineError::MixedSeparators { other: ' ' });
    }
    Ok(items)
}

fn begins_a_number(word: &str) -> bool {
    word.trim_start_matches(['+', '-']).starts_with(|c: char| c.is_ascii_digit())
}

fn is_unit(word: &str) -> bool {
    TempUnit::named(word).is_some() || EmfUnit::named(word).is_some()
}

/// Items with nothing but blanks between. A unit, or a label's `=` or `:`, may stand apart from what it belongs to.
fn blank_parted(body: &str) -> Vec<&str> {
    let mut items: Vec<&str> = Vec::new();
    let mut start = 0;
    let mut end = 0;
    for word in body.split_ascii_whitespace() {
        let at = word.as_ptr() as usize - body.as_ptr() as usize;
        let open_pair = body[start..end].ends_with(['=', ':']);
        let goes_on = end > 0 && (open_pair || word.starts_with(['=', ':']) || is_unit(word));
        if !goes_on {
            if end > 0 {
                items.push(&body[start..end]);
            }
            start = at;
        }
        end = at + word.len();
    }
    items.push(&body[start..end]);
    items
}

pub(in crate::probe) fn is_label(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_alphanumeric())
        && text.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '_' | '-' | '.' | '#' | '/'))
}

/// Length of the number at the start of `text`, sign and exponent included.
fn number_end(text: &str) -> usize {
    let bytes = text.as_bytes();
    let digits_from = |at: usize| at + bytes[at..].iter().take_while(|b| b.is_ascii_digit()).count();
    let sign_from = |at: usize| at + usize::from(matches!(bytes.get(at), Some(b'+' | b'-')));
    let mut end = digits_from(sign_from(0));
    if bytes.get(end) == Some(&b'.') {
        end = digits_from(end + 1);
    }
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let exponent = sign_from(end + 1);
        let exponent_end = digits_from(exponent);
        if exponent_end > exponent {
            end = exponent_end;
        }
    }
    end
}

/// `text` as a finite number; `None` when it is none at all.
fn plain_number(text: &str) -> Result<Option<f64>, LineError> {
    if text.is_empty() || number_end(text) != text.len() || !text.contains(|c: char| c.is_ascii_digit()) {
        return Ok(None);
    }
    let mantissa = text.split(['e', 'E']).next().unwrap_or(text).trim_start_matches(['+', '-']);
    if mantissa.starts_with('.') || mantissa.ends_with('.') {
        return Err(LineError::TornNumber { found: text.to_owned() });
    }
    Ok(text.parse::<f64>().ok().filter(|number| number.is_finite()))
}
