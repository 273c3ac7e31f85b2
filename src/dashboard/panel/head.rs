//! The top row: which furnace, how long it has been going, how long it will.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Span;

use crate::run::Snapshot;

use super::write_both;
use crate::dashboard::{ink, words};

/// From this width on the planned length stands there too.
const WITH_PLANNED: u16 = 72;

/// Draws the top row.
pub(in crate::dashboard) fn draw(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot) {
    let mut end = vec![
        Span::styled("elapsed ", ink::quiet()),
        Span::styled(words::clock(snapshot.elapsed), ink::strong()),
        Span::styled("   left ", ink::quiet()),
        Span::styled(words::until(snapshot.remaining), ink::strong()),
    ];
    if area.width >= WITH_PLANNED {
        end.push(Span::styled(format!(" of {}", words::clock(snapshot.planned)), ink::quiet()));
    }
    write_both(area, 0, (vec![Span::styled(snapshot.lining.clone(), ink::strong())], end), buffer);
}
