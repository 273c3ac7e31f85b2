//! One file per panel. Each fills its own area and nothing else.

pub(super) mod ahead;
pub(super) mod cue;
pub(super) mod curve;
pub(super) mod foot;
pub(super) mod head;
pub(super) mod help;
pub(super) mod probes;
pub(super) mod sections;
pub(super) mod small;
pub(super) mod spoken;
pub(super) mod strip;
pub(super) mod wall;

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::{Line, Span};

/// Row `index` of `area`, empty when there is none.
fn row(area: Rect, index: u16) -> Rect {
    if index < area.height { Rect { y: area.y + index, height: 1, ..area } } else { Rect::ZERO }
}

/// Writes `spans` from the left of row `index`.
fn write(area: Rect, index: u16, spans: Vec<Span>, buffer: &mut Buffer) {
    let at = row(area, index);
    if !at.is_empty() {
        buffer.set_line(at.x, at.y, &Line::from(spans), at.width);
    }
}

/// Writes `start` from the left and `end` up to the right of row `index`; where both do not fit, `end` wins.
fn write_both(area: Rect, index: u16, (start, end): (Vec<Span>, Vec<Span>), buffer: &mut Buffer) {
    let at = row(area, index);
    if at.is_empty() {
        return;
    }
    let end = Line::from(end);
    let end_width = (end.width() as u16).min(at.width);
    let room = (at.width - end_width).saturating_sub(u16::from(end_width > 0));
    let start = Line::from(start);
    if start.width() as u16 > room {
        let cut: String = start.spans.iter().map(|span| span.content.as_ref()).collect();
        let style = start.spans.first().map_or_else(crate::dashboard::ink::text, |span| span.style);
        buffer.set_string(at.x, at.y, crate::dashboard::words::fit(&cut, room.into()), style);
    } else {
        buffer.set_line(at.x, at.y, &start, room);
    }
    buffer.set_line(at.right() - end_width, at.y, &end, end_width);
}

/// `text` broken into lines of at most `width` cells.
fn wrap(text: &str, width: usize) -> Vec<String> {
    textwrap::wrap(text, width.max(1)).into_iter().map(std::borrow::Cow::into_owned).collect()
}
