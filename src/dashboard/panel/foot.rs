//! The bottom rows: how the log fares, where time comes from, and the keys; or the question whether to stop.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Span;

use crate::run::{LogNow, PlanClock, Snapshot, TimeSource};

use super::{row, write, write_both};
use crate::dashboard::layout::Room;
use crate::dashboard::next::Next;
use crate::dashboard::view::{self, Open, ViewState};
use crate::dashboard::{ink, words};

/// Draws the bottom rows.
pub(in crate::dashboard) fn draw(
    area: Rect,
    buffer: &mut Buffer,
    snapshot: &Snapshot,
    (state, room): (&ViewState, Room),
) {
    if state.open == Open::Quit {
        draw_question(area, buffer);
        return;
    }
    let time = match snapshot.time_source {
        TimeSource::Computer => "time by this computer",
        TimeSource::ProbeLine => "time by the probe line",
    };
    write_both(area, 0, (log(&snapshot.log), vec![Span::styled(time, ink::quiet())]), buffer);
    draw_keys(row(area, 1), buffer, &keys(snapshot, state, room));
}

/// What the log can promise.
fn log(log: &LogNow) -> Vec<Span<'static>> {
    match log {
        LogNow::Off => vec![Span::styled("no log is kept", ink::quiet())],
        LogNow::Writing { rows } => {
            vec![
                Span::styled("log ", ink::quiet()),
                Span::raw(grouped(*rows)),
                Span::styled(if *rows == 1 { " row safe" } else { " rows safe" }, ink::quiet()),
            ]
        }
        LogNow::Failing { rows, why } => vec![
            Span::styled("■ LOG FAILING", ink::loud()),
            Span::raw(format!("  {} rows safe, none since: {why}", grouped(*rows))),
        ],
    }
}

/// A count with thin gaps every three digits.
fn grouped(count: u64) -> String {
    let digits = count.to_string();
    let mut text = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            text.push(' ');
        }
        text.push(digit);
    }
    text
}

/// Keys that do something now.
fn keys(snapshot: &Snapshot, state: &ViewState, room: Room) -> Vec<(&'static str, &'static str)> {
    if let Open::Help { .. } = state.open {
        return vec![("o", "lit"), ("f", "shut"), ("h", "next page"), ("Esc", "back")];
    }
    if let Open::Wall { .. } = state.open {
        return vec![("o", "lit"), ("f", "shut"), ("x", "next section"), ("Esc", "back")];
    }
    if snapshot.ended.is_some() {
        return vec![("h", "help"), ("q", "leave")];
    }
    let mut keys = vec![("o", "lit"), ("f", "shut")];
    if Next::of(snapshot).due().is_some() {
        keys.push(("space", "done"));
    }
    match snapshot.clock {
        PlanClock::Paused { .. } => keys.push(("p", "go on")),
        PlanClock::Runs => keys.push(("p", "pause")),
        PlanClock::Waiting | PlanClock::Done => {}
    }
    if snapshot.warnings.iter().any(|warning| !warning.silenced) {
        keys.push(("s", "silence"));
    }
    if room != Room::Compact {
        keys.push(("w", if state.span == view::Span::Whole { "near" } else { "whole" }));
    }
    keys.extend([("h", "help"), ("q", "quit")]);
    keys
}

/// The keys, up to three cells apart, nearer where they would not fit.
fn draw_keys(area: Rect, buffer: &mut Buffer, keys: &[(&'static str, &'static str)]) {
    let cells: usize = keys.iter().map(|(key, deed)| key.len() + 1 + deed.len()).sum();
    let gaps = keys.len().saturating_sub(1).max(1);
    let gap = (usize::from(area.width).saturating_sub(cells) / gaps).clamp(1, 3);
    let mut spans = Vec::new();
    for (key, deed) in keys {
        spans.push(Span::styled(*key, ink::strong()));
        spans.push(Span::styled(format!(" {deed}{}", " ".repeat(gap)), ink::quiet()));
    }
    write(area, 0, spans, buffer);
}

fn draw_question(area: Rect, buffer: &mut Buffer) {
    buffer.set_style(area, ink::loud());
    write(area, 0, vec![Span::raw("Stop following? This does not shut the gas. The log stays.")], buffer);
    write(area, 1, vec![Span::raw(words::left("y stop   n go on", area.width.into()))], buffer);
}
