//! One row per probe: its mark on the curve, what it says or why it says nothing, how fast it rises and how fast it may.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::text::Span;

use crate::reading::Fault;
use crate::run::ChannelNow;
use crate::units::{Celsius, Seconds};

use super::write;
use crate::dashboard::layout::Room;
use crate::dashboard::{ink, words};

/// A value older than this is shown with its age.
const FRESH: Seconds = Seconds(5.0);
/// Cells of a name.
const NAME: usize = 11;
/// Marks on the curve, in the order of the channels. Warnings have the triangle to themselves.
const MARKS: [&str; 6] = ["●", "◆", "○", "◇", "■", "□"];

/// The mark of channel number `index` on the curve.
pub(in crate::dashboard) fn mark(index: usize) -> &'static str {
    MARKS[index % MARKS.len()]
}

/// Draws the table. When it is too low, probes with a fault stay, then those that rise too fast, and the
/// last row counts the others.
pub(in crate::dashboard) fn draw(area: Rect, buffer: &mut Buffer, channels: &[ChannelNow], room: Room) {
    let titled = u16::from(room != Room::Compact);
    if titled == 1 {
        let title = format!("  {}{}  rise of allowed", words::left("probe", NAME), words::right("now", 8));
        write(area, 0, vec![Span::styled(title, ink::quiet())], buffer);
    }
    let per_channel = if room == Room::Wide && 2 * channels.len() < area.height.into() { 2 } else { 1 };
    let rows = usize::from(area.height.saturating_sub(titled)) / per_channel;
    let shown = choose(channels, rows);
    let mut at = titled;
    for &index in &shown {
        let channel = &channels[index];
        write(area, at, line(index, channel), buffer);
        if per_channel == 2 {
            write(area, at + 1, vec![Span::styled(format!("  {}", channel.place), ink::quiet())], buffer);
        }
        at += per_channel as u16;
    }
    if shown.len() < channels.len() {
        let more = format!("  and {} more", channels.len() - shown.len());
        write(area, at, vec![Span::styled(more, ink::quiet())], buffer);
    }
}

/// Which channels get a row when there are `rows`: all, or the worst with one row kept for the count of the others.
fn choose(channels: &[ChannelNow], rows: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..channels.len()).collect();
    if channels.len() > rows {
        order.sort_by_key(|&index| match &channels[index] {
            channel if matches!(channel.value, Some(Err(_))) => 0,
            channel if is_over(channel) => 1,
            _ => 2,
        });
        order.truncate(rows.saturating_sub(1));
        order.sort_unstable();
    }
    order
}

fn line(index: usize, channel: &ChannelNow) -> Vec<Span<'static>> {
    let mut spans = vec![Span::raw(format!("{} ", mark(index))), Span::raw(words::left(&channel.channel.0, NAME))];
    match channel.value {
        None => spans.push(Span::styled("  has not spoken yet", ink::quiet())),
        Some(Err(fault)) => spans.extend(faulty(fault, channel.age)),
        Some(Ok(temp)) => spans.extend(well(temp, channel)),
    }
    spans
}

fn faulty(fault: Fault, age: Option<Seconds>) -> Vec<Span<'static>> {
    let age = age.filter(|age| age.0 > FRESH.0).map(|age| format!("for {}", words::age(age)));
    vec![
        Span::raw("  "),
        Span::styled(format!("■ {}", words::fault(fault)), ink::loud()),
        Span::raw(format!(" {}", age.unwrap_or_else(|| words::fault_cause(fault).to_owned()))),
    ]
}

/// Whether the probe rises faster than it may.
fn is_over(channel: &ChannelNow) -> bool {
    matches!((channel.ramp, channel.ramp_limit), (Some(ramp), Some(limit)) if ramp.0 > limit.0)
}

fn well(temp: Celsius, channel: &ChannelNow) -> Vec<Span<'static>> {
    let mut spans = vec![Span::styled(words::right(&words::temp(temp), 8), ink::strong()), Span::raw("  ")];
    let over = is_over(channel);
    let ramp = channel.ramp.map_or_else(|| "-".to_owned(), words::rate);
    let ramp = words::right(&if over { format!("▲ {ramp}") } else { ramp }, 6);
    spans.push(Span::styled(ramp, if over { ink::loud() } else { ink::text() }));
    if let Some(limit) = channel.ramp_limit {
        spans.push(Span::styled(format!(" of {} K/h", words::whole(limit.0)), ink::quiet()));
    } else if channel.ramp.is_some() {
        spans.push(Span::styled(" K/h", ink::quiet()));
    }
    if let Some(age) = channel.age.filter(|age| age.0 > FRESH.0) {
        spans.push(Span::raw(format!(" {} ago", words::age(age))));
    }
    spans
}
