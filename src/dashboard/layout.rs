//! Which panel stands where, for every size of screen.

use ratatui::layout::Rect;

use crate::run::Snapshot;

use super::big;
use super::panel::strip;
use super::view::{Open, ViewState};

/// Fewest columns on which the usual panels are shown.
pub const LEAST_WIDTH: u16 = 60;
/// Fewest rows on which the usual panels are shown.
pub const LEAST_HEIGHT: u16 = 20;

/// Rows of the cue: a line, the big letters, a line.
const CUE: u16 = big::HEIGHT + 2;
/// Rows at the bottom: log and keys.
const FOOT: u16 = 2;
/// Columns of the probe and section tables beside the curve.
const TABLE: u16 = 40;

/// A part of the screen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Panel {
    /// Furnace, elapsed, left.
    Head,
    /// What to do next with the burner.
    Cue,
    /// The same in one row.
    CueLine,
    /// Warnings that stand, lost ports, a failing log.
    Strip,
    /// What limit comes how soon on each way of the burner.
    Ahead,
    /// The plan's curve with the readings on it.
    Curve,
    /// One row per probe.
    Probes,
    /// One row per section.
    Sections,
    /// Two rows per section.
    SectionsInFull,
    /// What was said last.
    Spoken,
    /// The help.
    Help,
    /// The wall from the fire to its outside.
    Wall,
    /// Log, time source, keys; or the question whether to quit.
    Foot,
    /// All there is room for on a small screen.
    Small,
}

/// How much room there is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Room {
    /// Below 60x20.
    Small,
    /// From 60x20: no curve, tables without titles.
    Compact,
    /// From 80x24.
    Usual,
    /// From 110x34: sections with their reasons, probes with their places.
    Wide,
}

impl Room {
    /// The room that `area` gives.
    pub(super) fn of(area: Rect) -> Self {
        match (area.width, area.height) {
            (width, height) if width < LEAST_WIDTH || height < LEAST_HEIGHT => Self::Small,
            (width, height) if width < 80 || height < 24 => Self::Compact,
            (width, height) if width < 110 || height < 34 => Self::Usual,
            _ => Self::Wide,
        }
    }
}

/// The panels of a screen and their places. They never overlap and never leave `area`.
#[must_use]
pub fn panels(area: Rect, snapshot: &Snapshot, state: &ViewState) -> Vec<(Panel, Rect)> {
    let room = Room::of(area);
    if room == Room::Small {
        return vec![(Panel::Small, area)];
    }
    let over = match state.open {
        Open::Help { .. } => Some(Panel::Help),
        Open::Wall { .. } => Some(Panel::Wall),
        Open::Nothing | Open::Quit => None,
    };
    let cue = if over.is_some() { 1 } else { CUE };
    let rest = area.height - 1 - cue - FOOT;
    let strip = strip::height(snapshot, area.width).clamp(1, rest.saturating_sub(least_body(room)));
    let ahead = u16::from(over.is_none() && !snapshot.courses.is_empty() && rest > strip + least_body(room));
    let body = rest - strip - ahead;
    let mut stack = Stack { area, used: 0, panels: Vec::new() };
    stack.put(Panel::Head, 1);
    stack.put(if over.is_some() { Panel::CueLine } else { Panel::Cue }, cue);
    stack.put(Panel::Strip, strip);
    stack.put(Panel::Ahead, ahead);
    if let Some(panel) = over {
        stack.put(panel, body);
    } else {
        match room {
            Room::Compact | Room::Small => stack.compact(snapshot, body),
            Room::Usual => stack.usual(snapshot, body),
            Room::Wide => stack.wide(snapshot, body),
        }
    }
    stack.put(Panel::Foot, FOOT);
    stack.panels
}

/// Rows that warnings leave to the rest, however many there are.
fn least_body(room: Room) -> u16 {
    match room {
        Room::Small | Room::Compact => 3,
        Room::Usual => 5,
        Room::Wide => 12,
    }
}

/// Panels put one below the other.
struct Stack {
    area: Rect,
    used: u16,
    panels: Vec<(Panel, Rect)>,
}

impl Stack {
    /// Takes the next `rows` rows.
    fn take(&mut self, rows: u16) -> Rect {
        let rows = rows.min(self.area.height - self.used);
        let taken = Rect { y: self.area.y + self.used, height: rows, ..self.area };
        self.used += rows;
        taken
    }

    fn put(&mut self, panel: Panel, rows: u16) {
        let taken = self.take(rows);
        if taken.height > 0 {
            self.panels.push((panel, taken));
        }
    }

    fn compact(&mut self, snapshot: &Snapshot, body: u16) {
        let sections = count(&snapshot.sections).min(body.saturating_sub(2).max(1));
        let probes = count(&snapshot.channels).min(body - sections);
        self.put(Panel::Probes, probes);
        self.put(Panel::Sections, sections);
        self.put(Panel::Spoken, body - sections - probes);
    }

    fn usual(&mut self, snapshot: &Snapshot, body: u16) {
        let spoken = (body / 4).min(8);
        let middle = self.take(body - spoken);
        let table = Rect { x: middle.right() - TABLE, width: TABLE, ..middle };
        let sections = (count(&snapshot.sections) + 1).min(middle.height.saturating_sub(3));
        let probes = (count(&snapshot.channels) + 1).min(middle.height - sections);
        self.panels.push((Panel::Curve, Rect { width: middle.width - TABLE - 2, ..middle }));
        self.panels.push((Panel::Probes, Rect { height: probes, ..table }));
        let under = Rect { y: table.y + probes, height: sections, ..table };
        self.panels.push((Panel::Sections, under));
        self.put(Panel::Spoken, spoken);
    }

    fn wide(&mut self, snapshot: &Snapshot, body: u16) {
        let sections = (2 * count(&snapshot.sections) + 1).min(body / 3);
        let spoken = (body - sections) / 3;
        let middle = self.take(body - sections - spoken - 2);
        self.take(1);
        let table = Rect { x: middle.right() - TABLE, width: TABLE, ..middle };
        self.panels.push((Panel::Curve, Rect { width: middle.width - TABLE - 2, ..middle }));
        self.panels.push((Panel::Probes, table));
        self.put(Panel::SectionsInFull, sections);
        self.take(1);
        self.put(Panel::Spoken, spoken);
    }
}

fn count<T>(list: &[T]) -> u16 {
    u16::try_from(list.len()).unwrap_or(u16::MAX - 1)
}
