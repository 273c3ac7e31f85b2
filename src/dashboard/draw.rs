//! Draws a whole screen.

use ratatui::Frame;

use crate::run::Snapshot;

use super::ink;
use super::layout::{self, Panel, Room};
use super::panel::{ahead, cue, curve, foot, head, help, probes, sections, small, spoken, strip, wall};
use super::view::{Open, ViewState};

/// Draws `snapshot` as `state` asks. The same arguments give the same cells.
pub fn draw(frame: &mut Frame, snapshot: &Snapshot, state: &ViewState) {
    let area = frame.area();
    let room = Room::of(area);
    let buffer = frame.buffer_mut();
    for (panel, area) in layout::panels(area, snapshot, state) {
        match panel {
            Panel::Head => head::draw(area, buffer, snapshot),
            Panel::Cue => cue::draw(area, buffer, snapshot),
            Panel::CueLine => cue::draw_line(area, buffer, snapshot),
            Panel::Strip => strip::draw(area, buffer, snapshot),
            Panel::Ahead => ahead::draw(area, buffer, snapshot, room),
            Panel::Curve => curve::draw(area, buffer, snapshot, state.span),
            Panel::Probes => probes::draw(area, buffer, &snapshot.channels, room),
            Panel::Sections => sections::draw(area, buffer, snapshot, room),
            Panel::SectionsInFull => sections::draw_in_full(area, buffer, snapshot),
            Panel::Spoken => spoken::draw(area, buffer, snapshot),
            Panel::Help => help::draw(area, buffer, help_page(state)),
            Panel::Wall => wall::draw(area, buffer, snapshot, wall_section(state)),
            Panel::Foot => foot::draw(area, buffer, snapshot, (state, room)),
            Panel::Small => small::draw(area, buffer, snapshot, state),
        }
    }
    ink::finish(buffer, state.ink, state.glyphs);
}

fn wall_section(state: &ViewState) -> usize {
    match state.open {
        Open::Wall { section } => section,
        _ => 0,
    }
}

fn help_page(state: &ViewState) -> usize {
    match state.open {
        Open::Help { page } => page,
        _ => 0,
    }
}
