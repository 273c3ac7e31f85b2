//! Queries to an instrument and its answers in text (IEEE 488.2; SCPI-99).
//!
//! One query at a time, ended by a line feed; the answer is one line. `9.91E37` means "not a number", `±9.9E37` "too
//! large" (SCPI-99, volume 1, 7.2.1): faults. `*IDN?` answers four fields with commas between (IEEE 488.2, 10.14).

use super::ask::{FenceAnswers, Heard};
use super::lines::{self, Items, LineCheck};
use super::set::Column;

/// The query that every instrument answers (IEEE 488.2, 10.14).
pub(super) const IDENTIFY: &str = "*IDN?";

/// What stands for a number that there is none (SCPI-99, volume 1, 7.2.1).
pub(super) const NO_NUMBER: &str = "9.91E37";

/// The bytes of a query.
pub(super) fn query(query: &str) -> Vec<u8> {
    format!("{query}\n").into_bytes()
}

/// What the bytes since `query` amount to. An echo of the query is passed over.
pub(super) fn answer(query: &str, positions: &[usize], held: &[u8]) -> Heard {
    let mut answers = whole_lines(held).filter(|line| *line != query.as_bytes());
    let Some(line) = answers.next() else { return Heard::More };
    if answers.next().is_some() {
        return Heard::Wrong("found two answers to one query, expected one; an earlier one came late".to_owned());
    }
    let values = match lines::parse(line, LineCheck::None) {
        Ok(Some(read)) => match read.items {
            Items::Numbered(values) => values,
            Items::Labelled(_) => return unexpected(line),
        },
        Ok(None) | Err(_) => return unexpected(line),
    };
    let wanted = |&position: &usize| {
        let value = values.get(position.checked_sub(1)?)?;
        Some((Column::Answer { query: query.to_owned(), position }, *value))
    };
    if let Some(values) = positions.iter().map(wanted).collect() {
        return Heard::Answer(values);
    }
    let most = positions.iter().max().copied().unwrap_or(1);
    Heard::Wrong(format!(
        "found {} values in the answer, expected at least {most}; correct `position` or `query` in the probe file",
        values.len()
    ))
}

fn unexpected(line: &[u8]) -> Heard {
    let line = line.escape_ascii();
    Heard::Wrong(format!("found the answer \"{line}\", expected a number; correct `query` in the probe file"))
}

/// The answers to `*IDN?` among the lines held: lines of four fields, the first no number.
pub(super) fn fence_answers(held: &[u8]) -> FenceAnswers {
    let is_identity = |line: &&str| {
        let fields: Vec<&str> = line.split(',').collect();
        fields.len() >= 4 && fields[0].trim().parse::<f64>().is_err()
    };
    let mut found = FenceAnswers::default();
    for line in whole_lines(held).filter_map(|line| std::str::from_utf8(line).ok()).filter(is_identity) {
        found.count += 1;
        found.identity = Some(line.trim().to_owned());
    }
    found
}

/// The lines that have ended, without their ends and without blank ones.
fn whole_lines(held: &[u8]) -> impl Iterator<Item = &[u8]> {
    let is_end = |byte: &u8| matches!(byte, b'\n' | b'\r');
    let end = held.iter().rposition(is_end).unwrap_or(0);
    held[..end].split(move |byte| is_end(byte)).filter(|line| !line.is_empty())
}
