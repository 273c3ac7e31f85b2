//! A section from the fire to its outside: temperature, steam and water over depth, each as what is believed possible.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Span;

use crate::run::{DepthNow, Range, SectionNow, Snapshot};

use super::write;
use crate::dashboard::{ink, words};

/// Cells of a depth.
const DEPTH: usize = 8;
/// Cells of a range in figures.
const FIGURES: usize = 14;
/// Narrower bars say nothing.
const LEAST_BAR: usize = 8;

/// Draws the section with this number, counted round.
pub(in crate::dashboard) fn draw(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot, section: usize) {
    let Some(section) = snapshot.sections.get(section % snapshot.sections.len().max(1)) else {
        write(area, 0, vec![Span::raw("no section")], buffer);
        return;
    };
    let (mid, range) = words::danger(section.danger);
    let title = vec![
        Span::styled(section.section.clone(), ink::strong()),
        Span::styled(format!("  danger {mid} ({range}) of {:.2}; {}", section.ceiling, section.worst), ink::quiet()),
    ];
    write(area, 0, title, buffer);
    write(area, 1, heads(), buffer);
    let drying = drying_lines(snapshot, section);
    let rows = usize::from(area.height).saturating_sub(2 + drying.len());
    let bar = usize::from(area.width).saturating_sub(DEPTH + 3 * FIGURES + 2);
    let most_kg_m3 = section.depths.iter().map(|depth| depth.water_kg_m3.high).fold(1e-9, f64::max);
    let mut at = 2;
    for depth in spread(&section.depths, rows) {
        write(area, at, row(depth, bar, most_kg_m3), buffer);
        at += 1;
    }
    for line in drying {
        write(area, at, vec![Span::styled(words::fit(&line, area.width.into()), ink::text())], buffer);
        at += 1;
    }
}

fn heads() -> Vec<Span<'static>> {
    let figures = ["°C", "steam, MPa", "water, kg/m³"].map(|head| words::right(head, FIGURES));
    vec![Span::styled(format!("{}{}", words::right("mm deep", DEPTH), figures.concat()), ink::quiet())]
}

/// At most `rows` of the depths, evenly, with the first and the last.
fn spread(depths: &[DepthNow], rows: usize) -> Vec<&DepthNow> {
    if depths.len() <= rows {
        return depths.iter().collect();
    }
    let last = depths.len() - 1;
    (0..rows).filter_map(|row| depths.get(row * last / rows.saturating_sub(1).max(1))).collect()
}

fn row(depth: &DepthNow, bar: usize, most_kg_m3: f64) -> Vec<Span<'static>> {
    let figures =
        |range: Range, digits: usize| words::right(&format!("{:.digits$}–{:.digits$}", range.low, range.high), FIGURES);
    let mut spans = vec![
        Span::styled(words::right(&format!("{:.0}", depth.depth.mm()), DEPTH), ink::quiet()),
        Span::raw(figures(depth.temp_c, 0)),
        Span::raw(figures(depth.steam_mpa, 2)),
        Span::raw(figures(depth.water_kg_m3, 0)),
    ];
    if bar >= LEAST_BAR {
        spans.push(Span::styled(format!("  {}", water_bar(depth.water_kg_m3, bar, most_kg_m3)), ink::plan()));
    }
    spans
}

/// What is there for sure in full, what may be there lighter.
fn water_bar(water: Range, cells: usize, most_kg_m3: f64) -> String {
    let cell = |kg_m3: f64| (kg_m3 / most_kg_m3 * cells as f64).round().clamp(0.0, cells as f64) as usize;
    let (low, high) = (cell(water.low), cell(water.high));
    "█".repeat(low) + &"░".repeat(high.saturating_sub(low))
}

/// What the probes inside the section say of its drying.
fn drying_lines(snapshot: &Snapshot, section: &SectionNow) -> Vec<String> {
    let of_section = |place: &str| place.split(',').next() == Some(section.section.as_str());
    let channels = snapshot.channels.iter().filter(|channel| of_section(&channel.place));
    let line = |channel: &crate::run::ChannelNow| {
        let drying = channel.drying?;
        let boils = drying.plateau.map_or_else(String::new, |temp| format!("water boils at {:.0} °C, ", temp.0));
        let deep = channel.place.rsplit(", ").next().unwrap_or_default();
        Some(format!("{}, {deep}: {boils}dry there: {:.0} % sure", channel.channel, 100.0 * drying.dry_share))
    };
    channels.filter_map(line).collect()
}
