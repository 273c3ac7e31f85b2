//! What a screen below the least size still shows: what to do next, what stands, and the size that is needed.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;

use crate::run::Snapshot;

use super::{cue, strip, wrap};
use crate::dashboard::layout::{LEAST_HEIGHT, LEAST_WIDTH};
use crate::dashboard::next::Next;
use crate::dashboard::view::{Open, ViewState};
use crate::dashboard::{ink, words};

/// Draws the lines in the order of their weight, as many as fit.
pub(in crate::dashboard) fn draw(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot, state: &ViewState) {
    let next = Next::of(snapshot);
    let width = usize::from(area.width);
    let mut lines = Vec::new();
    if state.open == Open::Quit {
        lines.push(("Stop following? y stop, n go on".to_owned(), ink::loud()));
    }
    lines.push((cue::in_full(next, snapshot), if next.is_loud() { ink::loud() } else { ink::strong() }));
    lines.extend(strip::most_urgent(snapshot));
    let size = format!("{}x{} is too small: {LEAST_WIDTH}x{LEAST_HEIGHT} needed", area.width, area.height);
    lines.push((size, ink::text()));
    lines.push((
        format!("elapsed {}, left {}", words::clock(snapshot.elapsed), words::until(snapshot.remaining)),
        ink::quiet(),
    ));
    lines.push(("o lit  f shut  q quit".to_owned(), ink::quiet()));
    let rows = lines.iter().flat_map(|(text, style)| wrap(text, width).into_iter().map(move |line| (line, *style)));
    for (y, (line, style)) in (area.top()..area.bottom()).zip(rows) {
        buffer.set_stringn(area.x, y, &line, width, style);
    }
}
