//! Warnings that stand, why following ended, lost ports and a failing log; one quiet row when there is nothing.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

use crate::run::{LogNow, Snapshot, StandingWarning};

use super::{row, wrap};
use crate::dashboard::{ink, words};

/// Cells by which a second line is set in.
const INDENT: usize = 2;

/// One entry of the strip.
struct Entry {
    head: String,
    text: String,
    style: Style,
}

impl Entry {
    /// Its lines, each at most `width` cells.
    fn lines(&self, width: u16) -> Vec<String> {
        let width = usize::from(width);
        let mut lines = wrap(&format!("{}  {}", self.head, self.text), width.saturating_sub(INDENT + 1));
        for line in lines.iter_mut().skip(1) {
            line.insert_str(0, &" ".repeat(INDENT));
        }
        lines
    }
}

/// Rows that the strip wants on a screen of `width` cells.
pub(in crate::dashboard) fn height(snapshot: &Snapshot, width: u16) -> u16 {
    let lines: usize = entries(snapshot).iter().map(|entry| entry.lines(width).len()).sum();
    u16::try_from(lines).unwrap_or(u16::MAX).max(1)
}

/// Draws the strip. When it is too low, the last row counts what is missing.
pub(in crate::dashboard) fn draw(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot) {
    let entries = entries(snapshot);
    if entries.is_empty() {
        buffer.set_stringn(area.x, area.y, "no warning stands", area.width.into(), ink::quiet());
        return;
    }
    let lines: Vec<Vec<String>> = entries.iter().map(|entry| entry.lines(area.width)).collect();
    let shown = how_many(&lines, area.height.into());
    let mut at = 0;
    for (entry, lines) in entries.iter().zip(&lines).take(shown) {
        for line in lines {
            draw_row(area, at, (line, entry.style), buffer);
            at += 1;
        }
    }
    if shown < entries.len() {
        let text = format!("▲ {} MORE: make the window higher", entries.len() - shown);
        draw_row(area, area.height - 1, (&text, ink::loud()), buffer);
    }
}

/// How many entries are shown in `rows`, one row being kept for a count of the others. The first is always shown, cut if
/// need be.
fn how_many(lines: &[Vec<String>], rows: usize) -> usize {
    let fits = |count: &usize| {
        let used: usize = lines[..*count].iter().map(Vec::len).sum();
        used + usize::from(*count < lines.len()) <= rows
    };
    (1..=lines.len()).rev().find(fits).unwrap_or(1)
}

/// The text of what is most urgent, for a screen with a single row for it.
pub(in crate::dashboard) fn most_urgent(snapshot: &Snapshot) -> Option<(String, Style)> {
    let entries = entries(snapshot);
    let first = entries.first()?;
    let more = if entries.len() > 1 { format!(" (+{} more)", entries.len() - 1) } else { String::new() };
    Some((format!("{}{more}  {}", first.head, first.text), first.style))
}

fn draw_row(area: Rect, index: u16, (text, style): (&str, Style), buffer: &mut Buffer) {
    let at = row(area, index);
    if !at.is_empty() {
        buffer.set_style(at, style);
        buffer.set_stringn(at.x, at.y, text, at.width.into(), style);
    }
}

fn entries(snapshot: &Snapshot) -> Vec<Entry> {
    let mut entries = warnings(snapshot, false);
    if let Some(end) = &snapshot.ended {
        entries.push(Entry { head: "END".to_owned(), text: end.reason.clone(), style: ink::strong() });
    }
    let fault = |text: String| Entry { head: "■ FAULT".to_owned(), text, style: ink::strong() };
    if let LogNow::Failing { why, .. } = &snapshot.log {
        entries.push(fault(format!("nothing is being logged: {why}")));
    }
    entries.extend(snapshot.ports_lost.iter().cloned().map(fault));
    entries.extend(warnings(snapshot, true));
    entries
}

/// Warnings that are silenced, or those that are not. The same cause with the same action at several places is one entry: the
/// place with the nearest limit speaks, the others are named.
fn warnings(snapshot: &Snapshot, silenced: bool) -> Vec<Entry> {
    let mut together: Vec<Vec<&StandingWarning>> = Vec::new();
    for warning in snapshot.warnings.iter().filter(|warning| warning.silenced == silenced) {
        let is_same = |known: &&StandingWarning| {
            known.cause == warning.cause
                && known.advice.action == warning.advice.action
                && known.lead.is_none() == warning.lead.is_none()
        };
        match together.iter_mut().find(|known| known.first().is_some_and(is_same)) {
            Some(known) => known.push(warning),
            None => together.push(vec![warning]),
        }
    }
    for places in &mut together {
        places.sort_by(|a, b| lead_s(a).total_cmp(&lead_s(b)));
    }
    together.iter().filter_map(|places| entry(places)).collect()
}

/// What is passed comes before what is ahead.
fn lead_s(warning: &StandingWarning) -> f64 {
    warning.lead.map_or(f64::NEG_INFINITY, |lead| lead.0)
}

fn entry(places: &[&StandingWarning]) -> Option<Entry> {
    let warning = places.first()?;
    let lead = match warning.lead {
        Some(lead) => format!("limit in {}", words::until(lead)),
        None => "limit passed".to_owned(),
    };
    let (head, style) = if warning.silenced {
        (format!("△ silenced, {lead}"), ink::text())
    } else {
        (format!("▲ WARNING, {lead}"), ink::loud())
    };
    let subjects: Vec<String> = places.iter().filter_map(|warning| subject(warning)).collect();
    let whose = if subjects.is_empty() { String::new() } else { format!("{}: ", subjects.join(", ")) };
    let advice = &warning.advice;
    Some(Entry { head, text: format!("{whose}{}: {}", advice.action, advice.reason), style })
}

/// Where it was seen: the section, else the channel.
fn subject(warning: &StandingWarning) -> Option<String> {
    warning.section.clone().or_else(|| warning.channel.as_ref().map(ToString::to_string))
}
