//! Each section's danger number and water left, with what the ensemble believes possible.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Span;

use crate::run::{SectionNow, Snapshot};

use super::write;
use crate::dashboard::layout::Room;
use crate::dashboard::{ink, words};

/// Cells of a name.
const NAME: usize = 8;
/// Cells of a bar.
const BAR: usize = 24;

/// Draws one row per section; when there are too few rows, the most endangered stay.
pub(in crate::dashboard) fn draw(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot, room: Room) {
    let titled = u16::from(room != Room::Compact);
    if titled == 1 {
        let title = format!("{} danger of {}  water left", words::left("section", NAME), ceiling(&snapshot.sections));
        write(area, 0, vec![Span::styled(title, ink::quiet())], buffer);
    }
    for (at, section) in (titled..).zip(choose(&snapshot.sections, area.height.saturating_sub(titled).into())) {
        let spans = if room == Room::Compact { in_words(section) } else { in_columns(section) };
        write(area, at, spans, buffer);
    }
}

/// Draws two rows per section: the figures with a bar, and where and what the danger is.
pub(in crate::dashboard) fn draw_in_full(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot) {
    let title = format!("{} danger, with ceiling at the bar's end", words::left("section", NAME));
    write(area, 0, vec![Span::styled(title, ink::quiet())], buffer);
    let rows = usize::from(area.height.saturating_sub(1) / 2);
    for (index, section) in (0_u16..).zip(choose(&snapshot.sections, rows)) {
        let mut spans = in_words(section);
        spans.insert(1, Span::raw(" "));
        spans.insert(1, Span::styled(bar(section), ink::text()));
        let left = section.water_left_kg.mid;
        let of = format!(": {left:.1} of {:.1} kg", section.water_initial_kg);
        spans.push(Span::styled(of, ink::quiet()));
        write(area, 1 + 2 * index, spans, buffer);
        let worst = format!("{} {}", " ".repeat(NAME), section.worst);
        write(area, 2 + 2 * index, vec![Span::styled(words::fit(&worst, area.width.into()), ink::quiet())], buffer);
    }
}

fn choose(sections: &[SectionNow], rows: usize) -> Vec<&SectionNow> {
    let mut chosen: Vec<(usize, &SectionNow)> = sections.iter().enumerate().collect();
    if chosen.len() > rows {
        chosen.sort_by(|(_, a), (_, b)| b.danger.high.total_cmp(&a.danger.high));
        chosen.truncate(rows);
        chosen.sort_by_key(|(index, _)| *index);
    }
    chosen.into_iter().map(|(_, section)| section).collect()
}

/// The middle of the danger number, loud with a glyph once the pessimists are above the ceiling.
fn number(section: &SectionNow) -> Span<'static> {
    let (mid, _) = words::danger(section.danger);
    let (glyph, style) = if is_over(section) { ("▲", ink::loud()) } else { (" ", ink::strong()) };
    Span::styled(format!("{glyph}{mid}"), style)
}

fn is_over(section: &SectionNow) -> bool {
    section.danger.high > section.ceiling
}

/// The ceiling, the lowest where sections differ.
fn ceiling(sections: &[SectionNow]) -> String {
    let lowest = sections.iter().map(|section| section.ceiling).fold(f64::INFINITY, f64::min);
    if lowest.is_finite() { format!("{lowest:.2}") } else { "-".to_owned() }
}

fn in_columns(section: &SectionNow) -> Vec<Span<'static>> {
    let (_, danger_range) = words::danger(section.danger);
    let (water, water_range) = words::share(section.water_left_kg, section.water_initial_kg);
    vec![
        Span::raw(words::left(&section.section, NAME)),
        number(section),
        Span::styled(words::left(&format!(" {danger_range}"), 11), ink::quiet()),
        Span::styled(words::right(&water, 7), ink::strong()),
        Span::styled(format!(" {water_range}"), ink::quiet()),
    ]
}

fn in_words(section: &SectionNow) -> Vec<Span<'static>> {
    let (_, danger_range) = words::danger(section.danger);
    let (water, water_range) = words::share(section.water_left_kg, section.water_initial_kg);
    vec![
        Span::raw(words::left(&section.section, NAME)),
        Span::styled("danger", ink::quiet()),
        number(section),
        Span::styled(format!(" ({danger_range}) of {:.2} water ", section.ceiling), ink::quiet()),
        Span::styled(water, ink::strong()),
        Span::styled(format!(" ({water_range})"), ink::quiet()),
    ]
}

/// The believed range from 0 to the ceiling at the right end; what is beyond the ceiling presses against it as a triangle.
fn bar(section: &SectionNow) -> String {
    let cell = |number: f64| (number / section.ceiling * BAR as f64).floor().clamp(0.0, BAR as f64) as usize;
    let danger = section.danger;
    let mut cells: Vec<char> = vec!['·'; BAR];
    for cell in cells.iter_mut().take(cell(danger.high)).skip(cell(danger.low)) {
        *cell = '▒';
    }
    if let Some(cell) = cells.get_mut(cell(danger.mid).min(BAR - 1)) {
        *cell = '█';
    }
    let end = if is_over(section) { '▲' } else { '│' };
    cells.into_iter().chain([end]).collect()
}
