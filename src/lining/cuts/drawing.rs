//! The sheets and the rolls drawn to scale with their dimensions (SVG 1.1), to be printed at its own size. Each has the largest
//! scale that the paper has room for and says it, so that a long roll does not make the sheets too small to read.

use svg::Document;
use svg::node::element::{Circle, Element, Group, Line, Rectangle, Text};

use super::{CutList, Form, Hole, RollPlan, Sheet};
use crate::units::Metres;
use crate::units::quantity::{Shown, UnitSystem};

/// Scales that are tried: one to this.
const SCALES: [f64; 7] = [2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0];

/// Widest drawing on paper, mm: A4 upright with margins.
const PAPER_WIDTH_MM: f64 = 190.0;

/// Largest that one sheet or roll is drawn, mm: its dimension lines have their place beside it.
const ROOM_MM: [f64; 2] = [PAPER_WIDTH_MM - 4.0 * paper::GAP, 130.0];

/// Sizes on paper, mm.
mod paper {
    /// Height of letters.
    pub const LETTER: f64 = 3.2;
    /// Gap between a sheet and its dimension line, and round about.
    pub const GAP: f64 = 7.0;
    /// Pen.
    pub const PEN: f64 = 0.3;
    /// Half a tick at the end of a dimension line.
    pub const TICK: f64 = 1.2;
}

/// What is being drawn: things so far, and how far down the paper they reach.
struct Board {
    group: Group,
    /// Paper millimetres.
    down_mm: f64,
    /// Of what is being drawn: one to this.
    scale: f64,
    units: UnitSystem,
}

/// `list` as a drawing. Lengths on paper are real ones over the scale that it says.
#[must_use]
pub fn drawing(list: &CutList, units: UnitSystem) -> String {
    let mut board = Board { group: Group::new(), down_mm: paper::GAP, scale: 1.0, units };
    board.words(0.0, &format!("{}: sheets and rolls, cold side up, each to the scale that it says", list.name));
    board.down_mm += paper::GAP;
    for (index, sheet) in list.sheets.iter().enumerate() {
        board.sheet(index, sheet);
    }
    for plan in &list.rolls {
        for roll in 0..plan.rolls.len() {
            board.roll(plan, roll);
        }
    }
    let (width_mm, height_mm) = (PAPER_WIDTH_MM + 2.0 * paper::GAP, board.down_mm + paper::GAP);
    let document = Document::new()
        .set("width", format!("{width_mm:.1}mm"))
        .set("height", format!("{height_mm:.1}mm"))
        .set("viewBox", (-paper::GAP, 0.0, round(width_mm), round(height_mm)))
        .set("font-family", "sans-serif")
        .set("font-size", paper::LETTER)
        .add(board.group);
    format!("{document}\n")
}

/// The largest scale at which something of these sizes, mm, has room.
fn scale_for(along_mm: f64, across_mm: f64) -> f64 {
    let fits = |scale: &f64| along_mm / scale <= ROOM_MM[0] && across_mm / scale <= ROOM_MM[1];
    SCALES.into_iter().find(fits).unwrap_or(1000.0)
}

/// To a thousandth, so that the text stays short.
fn round(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

impl Board {
    fn add(&mut self, element: impl Into<Element> + svg::Node) {
        let group = std::mem::replace(&mut self.group, Group::new());
        self.group = group.add(element);
    }

    fn on_paper(&self, length: Metres) -> f64 {
        round(length.mm() / self.scale)
    }

    fn label(&self, length: Metres) -> String {
        Metres((length.0 * 1e4).round() / 1e4).shown(self.units)
    }

    fn words(&mut self, across_mm: f64, words: &str) {
        let down_mm = round(self.down_mm);
        self.add(Text::new(words).set("x", round(across_mm)).set("y", down_mm));
    }

    fn rectangle(&mut self, corner: [f64; 2], size: [f64; 2]) {
        let rectangle = Rectangle::new()
            .set("x", round(corner[0]))
            .set("y", round(corner[1]))
            .set("width", round(size[0]))
            .set("height", round(size[1]))
            .set("fill", "none")
            .set("stroke", "black")
            .set("stroke-width", paper::PEN);
        self.add(rectangle);
    }

    fn line(&mut self, from: [f64; 2], to: [f64; 2]) {
        let line = Line::new()
            .set("x1", round(from[0]))
            .set("y1", round(from[1]))
            .set("x2", round(to[0]))
            .set("y2", round(to[1]))
            .set("stroke", "black")
            .set("stroke-width", paper::PEN / 2.0);
        self.add(line);
    }

    /// A sheet with its dimensions and its holes; the near edge is at the bottom.
    fn sheet(&mut self, index: usize, sheet: &Sheet) {
        self.scale = scale_for(sheet.length.mm(), sheet.width.mm());
        let title = format!(
            "sheet {}, scale 1:{}, {}, layer {}, blanket {}, {} {}",
            index + 1,
            self.scale,
            sheet.section,
            sheet.layer,
            sheet.ply,
            self.label(sheet.thickness),
            sheet.material
        );
        self.words(0.0, &title);
        let top_mm = self.down_mm + paper::LETTER;
        let size = [self.on_paper(sheet.length), self.on_paper(sheet.width)];
        if sheet.form == Form::Disc {
            self.circle([size[0] / 2.0, top_mm + size[1] / 2.0], size[0]);
        } else {
            self.rectangle([0.0, top_mm], size);
        }
        let mut list = [0.0, top_mm + size[1] + 2.5 * paper::GAP];
        for (letter, hole) in ('a'..='z').cycle().zip(&sheet.holes) {
            self.hole((letter, hole), top_mm + size[1], list);
            list[1] += 1.5 * paper::LETTER;
        }
        self.dimension_along([0.0, top_mm + size[1] + paper::GAP], size[0], &self.label(sheet.length));
        self.dimension_up([size[0] + paper::GAP, top_mm + size[1]], size[1], &self.label(sheet.width));
        self.down_mm = list[1] + paper::GAP;
    }

    fn circle(&mut self, middle: [f64; 2], diameter: f64) {
        let circle = Circle::new()
            .set("cx", round(middle[0]))
            .set("cy", round(middle[1]))
            .set("r", round(diameter / 2.0))
            .set("fill", "none")
            .set("stroke", "black")
            .set("stroke-width", paper::PEN);
        self.add(circle);
    }

    /// A hole with its letter; where it is stands below the sheet at `list`.
    fn hole(&mut self, (letter, hole): (char, &Hole), bottom_mm: f64, list: [f64; 2]) {
        let middle = [self.on_paper(hole.along), bottom_mm - self.on_paper(hole.across)];
        let diameter = self.on_paper(hole.diameter);
        self.circle(middle, diameter);
        let (x, y) = (round(middle[0] + diameter / 2.0 + 1.0), round(middle[1] - 1.0));
        self.add(Text::new(letter.to_string()).set("x", x).set("y", y));
        let words = format!(
            "{letter}  {}: {} across, {} from the left, {} up",
            hole.name,
            self.label(hole.diameter),
            self.label(hole.along),
            self.label(hole.across)
        );
        self.add(Text::new(words).set("x", round(list[0])).set("y", round(list[1])));
    }

    fn dimension_along(&mut self, from: [f64; 2], length: f64, label: &str) {
        let to = [from[0] + length, from[1]];
        self.line(from, to);
        for end in [from, to] {
            self.line([end[0], end[1] - paper::TICK], [end[0], end[1] + paper::TICK]);
        }
        let (x, y) = (round(from[0] + length / 2.0), round(from[1] + paper::LETTER + 1.0));
        self.add(Text::new(label).set("x", x).set("y", y).set("text-anchor", "middle"));
    }

    fn dimension_up(&mut self, from: [f64; 2], height: f64, label: &str) {
        let to = [from[0], from[1] - height];
        self.line(from, to);
        for end in [from, to] {
            self.line([end[0] - paper::TICK, end[1]], [end[0] + paper::TICK, end[1]]);
        }
        self.add(Text::new(label).set("x", round(from[0] + 1.5)).set("y", round(from[1] - height / 2.0)));
    }

    /// A roll with the sheets on it, from its beginning at the left.
    fn roll(&mut self, plan: &RollPlan, index: usize) {
        self.scale = scale_for(plan.used(index).mm(), plan.width.mm());
        let title = format!(
            "roll {} of {}, scale 1:{}, {}, {}",
            index + 1,
            plan.rolls.len(),
            self.scale,
            plan.title,
            self.label(plan.thickness)
        );
        self.words(0.0, &title);
        let top_mm = self.down_mm + paper::LETTER;
        let size = [self.on_paper(plan.used(index)), self.on_paper(plan.width)];
        self.rectangle([0.0, top_mm], size);
        for placed in plan.rolls.get(index).into_iter().flatten() {
            let corner = [self.on_paper(placed.from), top_mm + self.on_paper(placed.aside)];
            let part = [self.on_paper(placed.along), self.on_paper(placed.across)];
            self.rectangle(corner, part);
            let number = Text::new(format!("{}", placed.sheet + 1))
                .set("x", round(corner[0] + part[0] / 2.0))
                .set("y", round(corner[1] + part[1] / 2.0))
                .set("text-anchor", "middle");
            self.add(number);
        }
        self.dimension_along([0.0, top_mm + size[1] + paper::GAP], size[0], &self.label(plan.used(index)));
        self.dimension_up([size[0] + paper::GAP, top_mm + size[1]], size[1], &self.label(plan.width));
        self.down_mm = top_mm + size[1] + 3.0 * paper::GAP;
    }
}
