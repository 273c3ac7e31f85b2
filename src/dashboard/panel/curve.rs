//! The plan's curve with the readings on it, and where it goes if the burner stays as it is. Each has its own mark.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Color;
use ratatui::symbols::Marker;
use ratatui::text::Span as Text;
use ratatui::widgets::Widget;
use ratatui::widgets::canvas::{Canvas, Context, Line, Points};

use crate::plan::Flame;
use crate::run::{PlanPoint, Snapshot, TracePoint};
use crate::units::Seconds;

use super::{probes, write};
use crate::dashboard::view::Span;
use crate::dashboard::{ink, words};

/// Cells of a temperature at the left.
const SCALE: u16 = 5;
/// What the near curve shows before and after now.
const NEAR: (Seconds, Seconds) = (Seconds(1800.0), Seconds(900.0));
/// The plan's range.
const BAND: char = '░';
/// Where the plan before a new one led.
const BEFORE: char = '∙';
/// The range if the burner stays as it is.
const AHEAD: char = '╱';

/// What is seen: from and to, seconds and degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Window {
    times_s: [f64; 2],
    temps_c: [f64; 2],
    rungs: Rungs,
}

/// Round temperatures at whole rows.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Rungs {
    /// From one to the next, degrees.
    step_c: f64,
    /// From one to the next, rows.
    step_rows: u16,
}

/// Draws the panel.
pub(in crate::dashboard) fn draw(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot, span: Span) {
    if area.width <= 2 * SCALE || area.height < 4 {
        return;
    }
    write(area, 0, legend(snapshot), buffer);
    let plot = Rect { x: area.x + SCALE, y: area.y + 1, width: area.width - SCALE, height: area.height - 2 };
    let window = window(snapshot, span, plot.height);
    draw_temps(area, plot, buffer, window);
    draw_times(plot, buffer, window);
    draw_curves(plot, buffer, (snapshot, window));
    draw_now(plot, buffer, (snapshot.elapsed, window));
}

fn legend(snapshot: &Snapshot) -> Vec<Text<'static>> {
    let mut spans = vec![
        Text::styled("°C  ", ink::quiet()),
        Text::styled(BAND.to_string(), ink::plan()),
        Text::styled(" plan", ink::quiet()),
    ];
    if !snapshot.old_plan_curve.is_empty() {
        spans.push(Text::raw(format!("  {BEFORE}")));
        spans.push(Text::styled(" plan before", ink::quiet()));
    }
    if !snapshot.forecast.is_empty() {
        let stays = match snapshot.burner.map(|burner| burner.flame) {
            Some(Flame::On) => " if it stays ON",
            _ => " if it stays SHUT",
        };
        spans.push(Text::raw(format!("  {AHEAD}")));
        spans.push(Text::styled(stays, ink::quiet()));
    }
    spans
}

/// The part of the heat-up that `span` asks for, and the temperatures that occur in it, on `rows` rows.
fn window(snapshot: &Snapshot, span: Span, rows: u16) -> Window {
    let now_s = finite(snapshot.elapsed.0).max(0.0);
    let times_s = match span {
        Span::Whole => [0.0, finite(snapshot.planned.0).max(now_s).max(60.0)],
        Span::Near => {
            let from_s = (now_s - NEAR.0.0).max(0.0);
            [from_s, from_s + NEAR.0.0 + NEAR.1.0]
        }
    };
    let (low_c, high_c) = extremes(snapshot, times_s);
    let low_c = if span == Span::Whole { low_c.min(0.0) } else { low_c };
    let (temps_c, rungs) = scale([low_c, high_c.max(low_c + 10.0)], rows);
    Window { times_s, temps_c, rungs }
}

/// The tightest scale round `[low_c, high_c]` that begins at a round number and has one at every second, third or fourth
/// of `rows` rows. With too few rows for that it has its ends only.
fn scale([low_c, high_c]: [f64; 2], rows: u16) -> ([f64; 2], Rungs) {
    let spaces = f64::from(rows.max(2) - 1);
    let candidates = (2..=4_u16).filter(|step_rows| step_rows + 1 < rows).map(|step_rows| {
        let share = f64::from(step_rows) / spaces;
        let mut step_c = round_step((high_c - low_c) * share);
        let mut bottom_c = (low_c / step_c).floor() * step_c;
        while bottom_c + step_c / share < high_c {
            step_c = round_step(step_c * 1.01);
            bottom_c = (low_c / step_c).floor() * step_c;
        }
        ([bottom_c, bottom_c + step_c / share], Rungs { step_c, step_rows })
    });
    let height_c = |([bottom_c, top_c], _): &([f64; 2], Rungs)| top_c - bottom_c;
    let tightest = candidates.min_by(|a, b| height_c(a).total_cmp(&height_c(b)));
    tightest.unwrap_or(([low_c, high_c], Rungs { step_c: high_c - low_c, step_rows: rows.max(2) - 1 }))
}

/// Lowest and highest temperature between two times.
fn extremes(snapshot: &Snapshot, times_s: [f64; 2]) -> (f64, f64) {
    let seen = |time_s: f64| (times_s[0]..=times_s[1]).contains(&time_s);
    let planned = snapshot.plan_curve.iter().chain(&snapshot.forecast);
    let planned = planned.filter(|point| seen(point.elapsed.0)).flat_map(|point| [point.low.0, point.high.0]);
    let traces = snapshot.channels.iter().flat_map(|channel| channel.trace.points());
    let read = traces.filter(|point| seen(point.elapsed.0)).map(|point| point.temp.0);
    let (low_c, high_c) = planned
        .chain(read)
        .filter(|temp_c| temp_c.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), temp_c| (low.min(temp_c), high.max(temp_c)));
    if low_c <= high_c { (low_c, high_c) } else { (0.0, 100.0) }
}

fn finite(number: f64) -> f64 {
    if number.is_finite() { number } else { 0.0 }
}

/// The smallest of 1, 2, 2.5, 5 times a power of ten that is not below `step`.
fn round_step(step: f64) -> f64 {
    let decade = 10_f64.powf(step.log10().floor());
    [1.0, 2.0, 2.5, 5.0, 10.0]
        .into_iter()
        .map(|times| times * decade)
        .find(|round| *round >= step)
        .unwrap_or(10.0 * decade)
}

/// Round times below the plot.
fn draw_times(plot: Rect, buffer: &mut Buffer, window: Window) {
    let [from_s, to_s] = window.times_s;
    let step_s = time_step((to_s - from_s) / (f64::from(plot.width) / 9.0));
    let mut time_s = (from_s / step_s).ceil() * step_s;
    while time_s <= to_s {
        let x = ((time_s - from_s) / (to_s - from_s) * f64::from(plot.width - 1)).round() as u16;
        let text = format!("{}:{:02}", (time_s / 3600.0).floor(), (time_s / 60.0).round() as i64 % 60);
        if x + words::width(&text) as u16 <= plot.width {
            buffer.set_string(plot.x + x, plot.bottom(), text, ink::quiet());
        }
        time_s += step_s;
    }
}

/// Round temperatures beside their rows.
fn draw_temps(area: Rect, plot: Rect, buffer: &mut Buffer, window: Window) {
    let rungs = (0..plot.height).rev().step_by(window.rungs.step_rows.max(1).into());
    for (count, row) in (0_u32..).zip(rungs) {
        let temp_c = window.temps_c[0] + f64::from(count) * window.rungs.step_c;
        let text = words::right(&words::whole(temp_c), usize::from(SCALE) - 1);
        buffer.set_string(area.x, plot.y + row, text, ink::quiet());
    }
}

/// The smallest step of the clock that is not below `step_s`.
fn time_step(step_s: f64) -> f64 {
    const MINUTES: [f64; 11] = [5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 180.0, 360.0, 720.0, 1440.0, 2880.0];
    let fits = MINUTES.into_iter().map(|minutes| minutes * 60.0).find(|candidate_s| *candidate_s >= step_s);
    fits.unwrap_or_else(|| (step_s / 86_400.0).ceil() * 86_400.0)
}

/// A thin line at now, so that what is ahead is told from what was.
fn draw_now(plot: Rect, buffer: &mut Buffer, (elapsed, window): (Seconds, Window)) {
    let [from_s, to_s] = window.times_s;
    let share = (elapsed.0 - from_s) / (to_s - from_s);
    if (0.0..=1.0).contains(&share) {
        let x = plot.x + (share * f64::from(plot.width - 1)).round() as u16;
        for y in plot.top()..plot.bottom() {
            let cell = &mut buffer[(x, y)];
            if cell.symbol() == " " {
                cell.set_symbol("┊").set_style(ink::quiet());
            }
        }
    }
}

fn draw_curves(plot: Rect, buffer: &mut Buffer, (snapshot, window): (&Snapshot, Window)) {
    let plan_colour = ink::plan().fg.unwrap_or(Color::Reset);
    Canvas::default()
        .x_bounds(window.times_s)
        .y_bounds(window.temps_c)
        .paint(|context| {
            context.marker(Marker::Custom(BAND));
            draw_range(context, &snapshot.plan_curve, (plot.width, window, plan_colour));
            if is_wide(&snapshot.plan_curve, (plot.height, window)) {
                context.marker(Marker::Braille);
                draw_middle(context, &snapshot.plan_curve, (window, plan_colour));
            }
            context.marker(Marker::Custom(BEFORE));
            context.draw(&Points { coords: &middles(&snapshot.old_plan_curve, window), color: Color::Reset });
            context.marker(Marker::Custom(AHEAD));
            draw_range(context, &snapshot.forecast, (plot.width, window, Color::Reset));
            for (index, channel) in snapshot.channels.iter().enumerate().rev() {
                let mark = probes::mark(index).chars().next().unwrap_or('·');
                context.marker(Marker::Custom(mark));
                let coords = seen(channel.trace.points(), window);
                context.draw(&Points { coords: &coords, color: Color::Reset });
            }
        })
        .render(plot, buffer);
}

/// One upright line per column from low to high.
fn draw_range(context: &mut Context, points: &[PlanPoint], (columns, window, color): (u16, Window, Color)) {
    let [from_s, to_s] = window.times_s;
    let [bottom_c, top_c] = window.temps_c;
    for column in 0..columns {
        let time_s = from_s + (to_s - from_s) * f64::from(column) / f64::from(columns.max(2) - 1);
        if let Some([low_c, high_c]) = at(points, time_s) {
            let (y1, y2) = (low_c.clamp(bottom_c, top_c), high_c.clamp(bottom_c, top_c));
            context.draw(&Line { x1: time_s, y1, x2: time_s, y2, color });
        }
    }
}

/// Whether the plan's range takes more than two rows where it is seen, so that its middle can be told from its edges.
fn is_wide(points: &[PlanPoint], (rows, window): (u16, Window)) -> bool {
    let [from_s, to_s] = window.times_s;
    let Some([low_c, high_c]) = at(points, f64::midpoint(from_s, to_s)) else { return false };
    (high_c - low_c) * f64::from(rows) > 2.0 * (window.temps_c[1] - window.temps_c[0])
}

fn draw_middle(context: &mut Context, points: &[PlanPoint], (window, color): (Window, Color)) {
    let inside = |point: &PlanPoint| {
        let (time_s, temp_c) = (point.elapsed.0, point.mid.0);
        (window.times_s[0]..=window.times_s[1]).contains(&time_s)
            && (window.temps_c[0]..=window.temps_c[1]).contains(&temp_c)
    };
    for pair in points.windows(2).filter(|pair| pair.iter().any(inside)) {
        let [from, to] = [&pair[0], &pair[1]].map(|point| (point.elapsed.0, point.mid.0));
        context.draw(&Line { x1: from.0, y1: from.1, x2: to.0, y2: to.1, color });
    }
}

/// Low and high between the points round `time_s`; `None` outside of them.
fn at(points: &[PlanPoint], time_s: f64) -> Option<[f64; 2]> {
    let after = points.partition_point(|point| point.elapsed.0 < time_s);
    let to = points.get(after)?;
    let from = points.get(after.saturating_sub(1))?;
    if from.elapsed.0 > time_s {
        return None;
    }
    let span_s = to.elapsed.0 - from.elapsed.0;
    let share = if span_s > 0.0 { (time_s - from.elapsed.0) / span_s } else { 0.0 };
    let between = |from_c: f64, to_c: f64| from_c + share * (to_c - from_c);
    let ends = [between(from.low.0, to.low.0), between(from.high.0, to.high.0)];
    ends.iter().all(|end| end.is_finite()).then_some(ends)
}

/// The middle of a curve at its points that are seen.
fn middles(points: &[PlanPoint], window: Window) -> Vec<(f64, f64)> {
    let coords = points.iter().map(|point| (point.elapsed.0, point.mid.0));
    coords
        .filter(|(time_s, temp_c)| temp_c.is_finite() && (window.times_s[0]..=window.times_s[1]).contains(time_s))
        .collect()
}

fn seen(points: &[TracePoint], window: Window) -> Vec<(f64, f64)> {
    let coords = points.iter().map(|point| (point.elapsed.0, point.temp.0));
    coords.filter(|(time_s, temp_c)| time_s.is_finite() && temp_c.is_finite() && *time_s >= window.times_s[0]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Celsius;

    fn point(elapsed_s: f64, mid_c: f64) -> PlanPoint {
        let temp = |shift_c: f64| Celsius(mid_c + shift_c);
        PlanPoint { elapsed: Seconds(elapsed_s), low: temp(-10.0), mid: temp(0.0), high: temp(10.0) }
    }

    #[test]
    fn the_plan_is_read_between_its_points() {
        let ends = at(&[point(0.0, 20.0), point(100.0, 120.0)], 25.0);
        assert_eq!(ends.map(|ends| ends.map(f64::round)), Some([35.0, 55.0]));
    }

    #[test]
    fn there_is_no_plan_before_its_first_and_after_its_last_point() {
        let points = [point(10.0, 20.0), point(100.0, 120.0)];
        assert_eq!((at(&points, 5.0), at(&points, 101.0), at(&[], 0.0)), (None, None, None));
    }

    #[test]
    fn a_scale_holds_what_it_shows_with_round_numbers_on_whole_rows() {
        for (low_c, high_c) in [(0.0, 603.0), (-3.0, 20.0), (97.0, 113.0), (20.0, 1250.0), (0.0, 10.0)] {
            for rows in 2..60 {
                let ([bottom_c, top_c], rungs) = scale([low_c, high_c], rows);
                assert!(bottom_c <= low_c && top_c >= high_c, "{low_c} to {high_c} on {rows}");
                let per_row_c = (top_c - bottom_c) / f64::from(rows - 1);
                assert!((per_row_c * f64::from(rungs.step_rows) - rungs.step_c).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn steps_of_a_scale_are_round() {
        assert_eq!([0.7, 13.0, 20.0, 260.0].map(|step| round_step(step).round() as i64), [1, 20, 20, 500]);
    }
}
