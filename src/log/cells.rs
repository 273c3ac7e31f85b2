//! The cells of one row as text: numbers that come back to the last bit, and words no spreadsheet takes for a formula.

use crate::units::Celsius;

/// The cells between `kind` and `part`, each exactly as it stands in the file once the CSV quoting is off.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cells {
    /// What sort of row it is.
    pub kind: String,
    /// The word that tells rows of one kind apart.
    pub what: String,
    /// Probe channel.
    pub channel: String,
    /// Section of the lining.
    pub section: String,
    /// The row's number.
    pub value: String,
    /// Low end of its range.
    pub low: String,
    /// High end of its range.
    pub high: String,
    /// Words.
    pub text: String,
    /// The reason behind the words.
    pub why: String,
}

impl Cells {
    /// Empty cells of a row of this kind.
    pub(super) fn of(kind: &str) -> Self {
        Self { kind: kind.to_owned(), ..Self::default() }
    }

    pub(super) fn what(mut self, word: &str) -> Self {
        self.what = guarded(word);
        self
    }

    pub(super) fn channel(mut self, name: Option<&str>) -> Self {
        self.channel = optional(name);
        self
    }

    pub(super) fn section(mut self, name: Option<&str>) -> Self {
        self.section = optional(name);
        self
    }

    pub(super) fn value(mut self, value: f64) -> Self {
        self.value = number(value);
        self
    }

    pub(super) fn temp(self, temp: Celsius) -> Self {
        self.value(temp.0)
    }

    pub(super) fn count(mut self, count: u64) -> Self {
        self.value = count.to_string();
        self
    }

    pub(super) fn low(mut self, low: f64) -> Self {
        self.low = number(low);
        self
    }

    pub(super) fn span(mut self, low: f64, high: f64) -> Self {
        self.low = number(low);
        self.high = number(high);
        self
    }

    pub(super) fn text(mut self, text: &str) -> Self {
        self.text = guarded(text);
        self
    }

    pub(super) fn why(mut self, reason: &str) -> Self {
        self.why = guarded(reason);
        self
    }
}

/// Shortest decimal number that reads back as the same bits; `bits:` and 16 hex digits for what is no number.
pub(super) fn number(value: f64) -> String {
    if !value.is_finite() {
        return format!("bits:{:016x}", value.to_bits());
    }
    let digits = format!("{value:?}");
    digits.strip_suffix(".0").map_or(digits.clone(), str::to_owned)
}

/// The number a cell made by [`number`] stands for.
pub(super) fn number_in(cell: &str) -> Option<f64> {
    match cell.strip_prefix("bits:") {
        Some(bits) => u64::from_str_radix(bits, 16).ok().map(f64::from_bits),
        None => cell.parse().ok().filter(|value: &f64| value.is_finite()),
    }
}

/// Text as it goes into a cell: one line, and never the beginning of a formula.
pub(super) fn guarded(text: &str) -> String {
    let mut cell = String::with_capacity(text.len() + 2);
    let mut may_begin_formula = true;
    for c in text.chars() {
        match c {
            '\\' => cell.push_str("\\\\"),
            '\n' => cell.push_str("\\n"),
            '\r' => cell.push_str("\\r"),
            '\t' => cell.push_str("\\t"),
            c if is_unprintable(c) => cell.extend(c.escape_unicode()),
            c if may_begin_formula && begins_formula(c) => {
                cell.push('\\');
                cell.push(c);
            }
            c => cell.push(c),
        }
        may_begin_formula = c == ';' || (may_begin_formula && c.is_whitespace());
    }
    cell
}

/// The text that [`guarded`] made a cell of.
pub(super) fn unguarded(cell: &str) -> Option<String> {
    let mut text = String::with_capacity(cell.len());
    let mut rest = cell;
    while let Some((plain, escaped)) = rest.split_once('\\') {
        text.push_str(plain);
        let mark = escaped.chars().next()?;
        rest = &escaped[mark.len_utf8()..];
        match mark {
            '\\' => text.push('\\'),
            'n' => text.push('\n'),
            'r' => text.push('\r'),
            't' => text.push('\t'),
            'e' => {}
            'u' => {
                let (code, after) = rest.strip_prefix('{')?.split_once('}')?;
                text.push(char::from_u32(u32::from_str_radix(code, 16).ok()?)?);
                rest = after;
            }
            c if begins_formula(c) => text.push(c),
            _ => return None,
        }
    }
    text.push_str(rest);
    Some(text)
}

/// Text that may be missing: an empty cell is none, `\e` is text of no letters.
fn optional(text: Option<&str>) -> String {
    match text {
        None => String::new(),
        Some("") => "\\e".to_owned(),
        Some(text) => guarded(text),
    }
}

/// Characters that spreadsheets take for the beginning of a formula, in both widths.
fn begins_formula(c: char) -> bool {
    matches!(c, '=' | '+' | '-' | '@' | '\u{ff1d}' | '\u{ff0b}' | '\u{ff0d}' | '\u{ff20}')
}

/// Characters that would break a line or leave no mark on a screen.
fn is_unprintable(c: char) -> bool {
    c.is_control() || matches!(c, '\u{2028}' | '\u{2029}' | '\u{feff}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_that_looks_like_a_formula_is_defused_and_comes_back() {
        for text in ["=1+1", "+2", "-3", "@sum", "  =1", "a;=1", "\u{ff1d}1", "\t=1"] {
            let cell = guarded(text);
            let begins_cell = |part: &str| !part.trim_start().starts_with(begins_formula);
            assert!(cell.split(';').all(begins_cell), "{text:?} became {cell:?}");
            assert_eq!(unguarded(&cell).as_deref(), Some(text));
        }
    }

    #[test]
    fn plain_words_stay_as_they_are() {
        assert_eq!(
            guarded("shut the burner for 2 min - the coat is wet"),
            "shut the burner for 2 min - the coat is wet"
        );
    }

    #[test]
    fn a_stray_backslash_is_refused() {
        for cell in ["\\", "a\\q", "\\u{d800}", "\\u{", "\\ux"] {
            assert_eq!(unguarded(cell), None, "{cell}");
        }
    }

    #[test]
    fn numbers_come_back_to_the_last_bit() {
        for value in [0.0, -0.0, 5e-324, f64::MIN_POSITIVE, f64::MAX, 0.1, 1e22, f64::INFINITY, f64::NAN, -f64::NAN] {
            let cell = number(value);
            assert_eq!(number_in(&cell).map(f64::to_bits), Some(value.to_bits()), "{cell}");
        }
        assert_eq!(number(20.0), "20");
    }
}
