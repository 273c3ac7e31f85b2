//! What was said last, the newest on top, each with its reason.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Span;

use crate::run::{Snapshot, Spoken, Weight};

use super::{wrap, write};
use crate::dashboard::{ink, words};

/// Cells of the time before the text.
const TIME: usize = 9;

/// Draws as many entries as fit, the newest first.
pub(in crate::dashboard) fn draw(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot) {
    let width = usize::from(area.width).saturating_sub(TIME + 2);
    let mut at = 0;
    for spoken in snapshot.spoken.iter().rev() {
        let room = usize::from(area.height - at);
        if room == 0 {
            return;
        }
        let mut lines = wrap(&spoken.text, width);
        if lines.len() > room {
            let rest = lines.split_off(room - 1).join(" ");
            lines.push(words::fit(&rest, width));
        }
        for (index, line) in lines.into_iter().enumerate() {
            write(area, at, entry(spoken, index, line), buffer);
            at += 1;
        }
    }
}

fn entry(spoken: &Spoken, index: usize, line: String) -> Vec<Span<'static>> {
    let (glyph, style) = match spoken.weight {
        Weight::Notice => ("·", ink::quiet()),
        Weight::Cue => ("▮", ink::quiet()),
        Weight::Fault => ("■", ink::text()),
        Weight::Warning => ("▲", ink::strong()),
    };
    let (time, glyph) = if index == 0 { (words::clock(spoken.elapsed), glyph) } else { (String::new(), " ") };
    vec![
        Span::styled(words::right(&time, TIME - 1), ink::quiet()),
        Span::styled(format!(" {glyph} "), style),
        Span::styled(line, style),
    ]
}
