//! Plots over the hours of a heat-up or over a series of heat-ups, as SVG that takes its colours from the page.

use svg::Document;
use svg::node::Text as Words;
use svg::node::element::path::Data;
use svg::node::element::{Group, Line as Stroke, Path, Rectangle, Text};

/// For which width a plot is drawn. The page shows the one that fits, so that the lettering keeps its size.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Width {
    /// A desk or a sheet of paper.
    Wide,
    /// A telephone.
    Narrow,
}

/// What stands along the bottom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Along {
    /// Hours since the heat-up began, as 3:00.
    Hours,
    /// Number of a heat-up.
    Count,
}

/// A line with its name. Colour and dashes go by `series`, so that neither alone tells lines apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Which colour and dashes, from 0.
    pub series: usize,
    /// Its name.
    pub label: String,
    /// Points in order of time.
    pub points: Vec<(f64, f64)>,
}

/// What lies between a low and a high line.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// Which colour; `None` for what was planned or expected.
    pub series: Option<usize>,
    /// Its name.
    pub label: String,
    /// Time, low and high, in order of time.
    pub points: Vec<(f64, f64, f64)>,
}

/// A plot.
#[derive(Clone, Debug, PartialEq)]
pub struct Plot {
    /// What a reader who does not see it is told.
    pub told: String,
    /// What stands along the bottom.
    pub along: Along,
    /// Lowest value along the bottom.
    pub from: f64,
    /// Highest value along the bottom.
    pub to: f64,
    /// The vertical axis begins here or lower.
    pub low: f64,
    /// The vertical axis reaches at least this.
    pub high: f64,
    /// Areas, drawn first.
    pub bands: Vec<Band>,
    /// Lines.
    pub lines: Vec<Line>,
    /// Limits: drawn thick and dashed.
    pub limits: Vec<Line>,
    /// Single points instead of lines.
    pub dots: Vec<Line>,
    /// Times in which the burner burnt, drawn as a strip along the bottom.
    pub strip: Vec<(f64, f64)>,
}

/// Number of colours that the page knows.
pub const SERIES: usize = 6;

const LEFT: f64 = 46.0;
const RIGHT: f64 = 14.0;
const TOP: f64 = 10.0;
const BOTTOM: f64 = 26.0;
const STRIP: f64 = 9.0;

/// Where values come to lie on the sheet.
struct Frame {
    width: f64,
    height: f64,
    from: f64,
    to: f64,
    low: f64,
    high: f64,
}

impl Plot {
    /// An empty plot over the hours of a heat-up.
    #[must_use]
    pub fn over_hours(told: &str, length_s: f64) -> Self {
        Self {
            told: told.to_owned(),
            along: Along::Hours,
            from: 0.0,
            to: (length_s / 3600.0).max(1e-3),
            low: 0.0,
            high: 0.0,
            bands: Vec::new(),
            lines: Vec::new(),
            limits: Vec::new(),
            dots: Vec::new(),
            strip: Vec::new(),
        }
    }

    /// The SVG element.
    #[must_use]
    pub fn svg(&self, width: Width) -> String {
        let (size, class) = match width {
            Width::Wide => ((720.0, 280.0), "plot wide"),
            Width::Narrow => ((350.0, 260.0), "plot narrow"),
        };
        let frame = self.frame(size);
        let mut document = Document::new()
            .set("viewBox", (0, 0, size.0 as i32, size.1 as i32))
            .set("class", class)
            .set("role", "img")
            .set("aria-label", self.told.clone());
        document = document.add(self.axes(&frame));
        for band in &self.bands {
            document = document.add(frame.band(band));
        }
        for (from, to) in &self.strip {
            document = document.add(frame.burnt(*from, *to));
        }
        for line in &self.limits {
            document = document.add(frame.line(line, "limit"));
        }
        for line in &self.lines {
            document = document.add(frame.line(line, &format!("line s{}", line.series % SERIES)));
        }
        for line in &self.dots {
            document = document.add(frame.dots(line));
        }
        document.to_string()
    }

    /// Whether there is anything to see.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        let seen = self.lines.iter().chain(&self.dots).any(|line| !line.points.is_empty());
        !seen && self.bands.iter().all(|band| band.points.is_empty())
    }

    fn frame(&self, (width, height): (f64, f64)) -> Frame {
        let lines = self.lines.iter().chain(&self.limits).chain(&self.dots);
        let values = lines.flat_map(|line| line.points.iter().map(|point| point.1));
        let bands = self.bands.iter().flat_map(|band| band.points.iter().flat_map(|point| [point.1, point.2]));
        let all: Vec<f64> = values.chain(bands).filter(|value| value.is_finite()).collect();
        let high = all.iter().copied().fold(self.high, f64::max);
        let low = all.iter().copied().fold(self.low, f64::min);
        let step = nice_step((high - low).max(1e-9), 5.0);
        Frame {
            width,
            height,
            from: self.from,
            to: self.to.max(self.from + 1e-9),
            low: (low / step).floor() * step,
            high: ((high / step + 0.02).ceil() * step).max(low + step),
        }
    }

    fn axes(&self, frame: &Frame) -> Group {
        let mut axes = Group::new().set("class", "axes");
        let step = nice_step(frame.high - frame.low, 5.0);
        for index in 0..=((frame.high - frame.low) / step).round() as i32 {
            let value = frame.low + f64::from(index) * step;
            let y = frame.y(value);
            axes = axes.add(stroke((LEFT, y), (frame.width - RIGHT, y))).add(words(
                &number(value, step),
                (LEFT - 6.0, y + 4.0),
                "end",
            ));
        }
        let most = if frame.width > 500.0 { 9.0 } else { 5.0 };
        let step = match self.along {
            Along::Hours => hour_step(frame.to - frame.from, most),
            Along::Count => nice_step(frame.to - frame.from, most).max(1.0),
        };
        let mut value = (frame.from / step).ceil() * step;
        while value <= frame.to + 1e-9 {
            let x = frame.x(value);
            let label = match self.along {
                Along::Hours => super::clock(value * 3600.0),
                Along::Count => format!("{value:.0}"),
            };
            axes = axes.add(stroke((x, frame.height - BOTTOM), (x, frame.height - BOTTOM + 4.0))).add(words(
                &label,
                (x, frame.height - 8.0),
                "middle",
            ));
            value += step;
        }
        axes
    }
}

impl Frame {
    fn x(&self, value: f64) -> f64 {
        LEFT + (value - self.from) / (self.to - self.from) * (self.width - LEFT - RIGHT)
    }

    fn y(&self, value: f64) -> f64 {
        let room = self.height - TOP - BOTTOM - STRIP;
        TOP + (self.high - value.clamp(self.low, self.high)) / (self.high - self.low) * room
    }

    fn at(&self, (x, y): (f64, f64)) -> (f32, f32) {
        (tenth(self.x(x)), tenth(self.y(y)))
    }

    fn line(&self, line: &Line, class: &str) -> Path {
        let mut data = Data::new();
        for (index, point) in line.points.iter().enumerate() {
            data = if index == 0 { data.move_to(self.at(*point)) } else { data.line_to(self.at(*point)) };
        }
        Path::new().set("class", class).set("d", data)
    }

    fn dots(&self, line: &Line) -> Group {
        let class = format!("dot s{}", line.series % SERIES);
        line.points.iter().fold(Group::new().set("class", class), |group, point| {
            let (x, y) = self.at(*point);
            // Shapes differ as well as colours.
            let dot = if line.series.is_multiple_of(2) {
                Data::new()
                    .move_to((x - 4.0, y))
                    .elliptical_arc_by((4, 4, 0, 1, 0, 8, 0))
                    .elliptical_arc_by((4, 4, 0, 1, 0, -8, 0))
            } else {
                Data::new().move_to((x, y - 5.0)).line_by((5, 5)).line_by((-5, 5)).line_by((-5, -5))
            };
            group.add(Path::new().set("d", dot.close()))
        })
    }

    fn band(&self, band: &Band) -> Path {
        let mut data = Data::new();
        let there = band.points.iter().map(|point| (point.0, point.1));
        let back = band.points.iter().rev().map(|point| (point.0, point.2));
        for (index, point) in there.chain(back).enumerate() {
            data = if index == 0 { data.move_to(self.at(point)) } else { data.line_to(self.at(point)) };
        }
        let class = band.series.map_or("band planned".to_owned(), |series| format!("band s{}", series % SERIES));
        Path::new().set("class", class).set("d", data.close())
    }

    fn burnt(&self, from: f64, to: f64) -> Rectangle {
        let (x, end) = (self.x(from), self.x(to));
        Rectangle::new()
            .set("class", "burnt")
            .set("x", tenth(x))
            .set("y", tenth(self.height - BOTTOM - STRIP + 2.0))
            .set("width", tenth((end - x).max(0.8)))
            .set("height", STRIP - 3.0)
    }
}

fn tenth(value: f64) -> f32 {
    ((value * 10.0).round() / 10.0) as f32
}

fn stroke((x1, y1): (f64, f64), (x2, y2): (f64, f64)) -> Stroke {
    Stroke::new().set("x1", tenth(x1)).set("y1", tenth(y1)).set("x2", tenth(x2)).set("y2", tenth(y2))
}

fn words(text: &str, (x, y): (f64, f64), anchor: &str) -> Text {
    Text::new("").set("x", tenth(x)).set("y", tenth(y)).set("text-anchor", anchor).add(Words::new(text))
}

/// A step of 1, 2 or 5 times a power of ten that cuts `span` into at most about `most` parts.
fn nice_step(span: f64, most: f64) -> f64 {
    let rough = span / most;
    let power = 10_f64.powf(rough.log10().floor());
    [1.0, 2.0, 5.0, 10.0].map(|part| part * power).into_iter().find(|step| *step >= rough - 1e-12).unwrap_or(power)
}

/// A step of whole parts of a day, h, that cuts `span_h` into at most `most` parts.
fn hour_step(span_h: f64, most: f64) -> f64 {
    let steps = [1.0 / 60.0, 1.0 / 12.0, 0.25, 0.5, 1.0, 2.0, 3.0, 4.0, 6.0, 12.0, 24.0, 48.0, 96.0, 168.0];
    steps.into_iter().find(|step_h| span_h / step_h <= most).unwrap_or(336.0)
}

/// A value of an axis with as many decimals as its step needs.
fn number(value: f64, step: f64) -> String {
    let decimals = (-step.log10()).ceil().clamp(0.0, 6.0) as usize;
    let text = format!("{value:.decimals$}");
    if text.trim_start_matches(['-', '0', '.']).is_empty() { "0".to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_of_an_axis_are_one_two_or_five_times_a_power_of_ten() {
        let steps = [7.0, 12.0, 23.0, 980.0, 0.31].map(|span| number(nice_step(span, 5.0), nice_step(span, 5.0)));
        assert_eq!(steps, ["2", "5", "5", "200", "0.1"]);
    }

    #[test]
    fn a_day_has_a_mark_every_three_hours() {
        assert_eq!(super::super::clock(hour_step(24.0, 9.0) * 3600.0), "3:00");
    }

    #[test]
    fn the_highest_value_lies_inside_the_frame_with_room_above() {
        let mut plot = Plot::over_hours("", 3600.0);
        plot.lines.push(Line { series: 0, label: String::new(), points: vec![(0.0, 20.0), (1.0, 1000.0)] });
        let frame = plot.frame((720.0, 280.0));
        assert!(frame.y(1000.0) > TOP && frame.high > 1000.0);
    }
}
