//! Sheets of fibre to cut: their sizes at mid thickness, joints, and holes where they are on the flat sheet.

use std::f64::consts::PI;

use serde::Serialize;

use super::joints::{Joint, Ring, place_joints};
use super::roll::blanket_of;
use super::{Part, parts};
use crate::lining::make::{Laying, Lie, PortPlace, Size, usual_roll_length};
use crate::lining::material::Kind;
use crate::lining::outline::{Outline, arch_m};
use crate::lining::{Lining, Section, Shape};
use crate::units::{Degrees, Metres};

/// One sheet to cut from a roll.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Sheet {
    /// Section.
    pub section: String,
    /// Layer, counted from 1 at the hot face.
    pub layer: usize,
    /// Blanket of the layer, counted from 1 at the hot face.
    pub ply: u32,
    /// Piece of the blanket and how many pieces there are; 1 of 1 when the roll is large enough.
    pub piece: (u32, u32),
    /// Key of its class.
    pub material: String,
    /// Thickness of the blanket.
    #[serde(rename = "thickness_m")]
    pub thickness: Metres,
    /// Round the barrel or along the part, with compression.
    #[serde(rename = "length_m")]
    pub length: Metres,
    /// Along the barrel or across the part, with compression and trim.
    #[serde(rename = "width_m")]
    pub width: Metres,
    /// Of the length, added for compression.
    #[serde(rename = "compression_m")]
    pub compression: Metres,
    /// Of the width, to be trimmed off.
    #[serde(rename = "trim_m")]
    pub trim: Metres,
    /// Form in place.
    pub form: Form,
    /// Holes.
    pub holes: Vec<Hole>,
}

/// What a sheet becomes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Form {
    /// It is bent round a barrel.
    Wrap {
        /// Across at mid thickness.
        #[serde(rename = "mid_diameter_m")]
        mid_diameter: Metres,
        /// Where its left end is.
        joint: Joint,
        /// How the barrel lies.
        lie: Lie,
    },
    /// It is bent over an arch.
    Over,
    /// It lies flat.
    Flat,
    /// It is cut round.
    Disc,
}

/// A hole on the flat sheet, seen from its cold side.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Hole {
    /// The builder's name for it.
    pub name: String,
    /// Across.
    #[serde(rename = "diameter_m")]
    pub diameter: Metres,
    /// Its middle along the length, from the left end.
    #[serde(rename = "along_m")]
    pub along: Metres,
    /// Its middle along the width, from the near edge.
    #[serde(rename = "across_m")]
    pub across: Metres,
}

/// Whether the sizes of a section are known well enough to cut for it.
pub(super) fn can_be_cut(section: &Section) -> bool {
    section.make.size != Size::Area
}

/// All sheets of a section, from the hot face outwards.
pub(super) fn sheets_of(lining: &Lining, section: &Section) -> Vec<Sheet> {
    if !can_be_cut(section) {
        return Vec::new();
    }
    let parts = parts(section);
    let plies: Vec<Ply<'_>> =
        parts.iter().filter(|part| part.layer.material.kind == Kind::Fibre).flat_map(plies).collect();
    let rings: Vec<Ring> = plies.iter().filter_map(Ply::ring).collect();
    let mut joints = place_joints(&rings, section.make.lie, &section.make.ports).into_iter();
    plies.iter().flat_map(|ply| ply.sheets(lining, ply.ring().and_then(|_| joints.next()))).collect()
}

/// One blanket of a layer.
struct Ply<'l> {
    part: &'l Part<'l>,
    number: u32,
    /// Mid thickness from the hot face.
    mid: Metres,
    thickness: Metres,
}

fn plies<'l>(part: &'l Part<'l>) -> Vec<Ply<'l>> {
    let count = part.section.make.layings[part.index].plies;
    let thickness = Metres(part.layer.thickness.0 / f64::from(count));
    let ply = |number: u32| Ply {
        part,
        number,
        mid: Metres(part.depth.0 + thickness.0 * (f64::from(number) - 0.5)),
        thickness,
    };
    (1..=count).map(ply).collect()
}

impl Ply<'_> {
    fn laying(&self) -> Laying {
        self.part.section.make.layings[self.part.index]
    }

    /// Its mid line when it goes round a barrel.
    fn ring(&self) -> Option<Ring> {
        match self.part.section.shape {
            Shape::Barrel { bore, .. } => Some(Ring { mid_radius: Metres(bore.0 / 2.0 + self.mid.0) }),
            Shape::Flat { .. } => None,
        }
    }

    /// Length and width without compression and trim, and the form.
    fn flat(&self, joint: Option<Joint>) -> ([Metres; 2], Form) {
        let section = self.part.section;
        match (section.make.size, section.shape, joint) {
            (_, Shape::Barrel { bore, length }, Some(joint)) => {
                let mid_diameter = Metres(bore.0 + 2.0 * self.mid.0);
                let form = Form::Wrap { mid_diameter, joint, lie: section.make.lie };
                ([Metres(PI * mid_diameter.0), length], form)
            }
            (Size::Outline(Outline::Disc { diameter }), ..) => ([diameter, diameter], Form::Disc),
            (Size::Outline(Outline::Sides { width, length }), ..) => ([length, width], Form::Flat),
            (Size::Outline(Outline::Arch { span, rise, length }), ..) => {
                ([arch_m(span, rise, self.mid), length], Form::Over)
            }
            (Size::InBore { length, .. }, shape, _) => {
                ([length, Metres(shape.hot_face_area().0 / length.0)], Form::Flat)
            }
            (Size::Area | Size::Barrel, shape, _) => {
                let side = Metres(shape.hot_face_area().0.sqrt());
                ([side, side], Form::Flat)
            }
        }
    }

    /// The sheets it is made of: one, or several where no roll is large enough.
    fn sheets(&self, lining: &Lining, joint: Option<Joint>) -> Vec<Sheet> {
        let laying = self.laying();
        let ([bare_length, bare_width], form) = self.flat(joint);
        let side_press = if matches!(form, Form::Wrap { .. } | Form::Over) { Metres(0.0) } else { laying.compression };
        let length = Metres(bare_length.0 + laying.compression.0);
        let trim = if form == Form::Disc { Metres(0.0) } else { laying.trim };
        let width = Metres(bare_width.0 + side_press.0 + trim.0);
        let [columns, rows] = self.grid(lining, length, width);
        let holes = self.holes(bare_length, length, form);
        let mut sheets = Vec::new();
        for row in 0..rows {
            for column in 0..columns {
                let more = |count: u32| if count > 1 { laying.compression.0 } else { 0.0 };
                let part = [length.0 / f64::from(columns), width.0 / f64::from(rows)];
                let corner = [part[0] * f64::from(column), part[1] * f64::from(row)];
                sheets.push(Sheet {
                    section: self.part.section.name.clone(),
                    layer: self.part.index + 1,
                    ply: self.number,
                    piece: (row * columns + column + 1, rows * columns),
                    material: self.part.layer.material.key.clone(),
                    thickness: self.thickness,
                    length: Metres(part[0] + more(columns)),
                    width: Metres(part[1] + more(rows)),
                    compression: laying.compression,
                    trim: if row + 1 == rows { trim } else { Metres(0.0) },
                    form: turned(form, column, columns),
                    holes: holes.iter().filter_map(|hole| on_piece(hole, corner, part)).collect(),
                });
            }
        }
        sheets
    }

    /// Pieces along the length and across the width that the roll asks for.
    fn grid(&self, lining: &Lining, length: Metres, width: Metres) -> [u32; 2] {
        let Some((.., stock)) = blanket_of(lining, &self.part.layer.material.key) else { return [1, 1] };
        let roll = [stock.roll.length.unwrap_or_else(|| usual_roll_length(self.thickness)), stock.roll.width];
        let fits = |along: Metres, across: Metres| along.0 <= roll[0].0 && across.0 <= roll[1].0;
        if fits(length, width) || fits(width, length) {
            return [1, 1];
        }
        let press_m = self.laying().compression.0;
        let pieces = |whole: Metres, room: Metres| {
            if whole.0 <= room.0 { 1 } else { (whole.0 / (room.0 - press_m).max(0.01)).ceil().min(1000.0) as u32 }
        };
        [pieces(length, roll[0]), pieces(width, roll[1])]
    }

    fn holes(&self, bare_length: Metres, length: Metres, form: Form) -> Vec<Hole> {
        let section = self.part.section;
        let hot_m = match section.make.size {
            Size::Outline(Outline::Arch { span, rise, .. }) => arch_m(span, rise, Metres(0.0)).0,
            _ => bare_length.0,
        };
        let place = |port: &crate::lining::make::Port| match (port.place, form) {
            (PortPlace::Around(around), Form::Wrap { joint, .. }) => {
                let on_m = (around.0 - joint.at.0).rem_euclid(360.0) / 360.0 * length.0;
                (Metres(on_m), port.along)
            }
            (PortPlace::Across(across), Form::Over) => (Metres(across.0 / hot_m * length.0), port.along),
            (PortPlace::Across(across), _) => (port.along, across),
            (PortPlace::Around(_), _) => (port.along, Metres(0.0)),
        };
        let hole = |port: &crate::lining::make::Port| {
            let (along, across) = place(port);
            Hole { name: port.name.clone(), diameter: port.diameter, along, across }
        };
        section.make.ports.iter().map(hole).collect()
    }
}

/// The form of piece `column` of a ring in several pieces: its own joint is further on.
fn turned(form: Form, column: u32, columns: u32) -> Form {
    match form {
        Form::Wrap { mid_diameter, joint, lie } => {
            let on = 360.0 * f64::from(column) / f64::from(columns);
            let at = Degrees((joint.at.0 + on) % 360.0);
            Form::Wrap { mid_diameter, joint: Joint { at, ..joint }, lie }
        }
        other => other,
    }
}

/// `hole` as it is on the piece of size `part` whose corner is at `corner`, if any of it is.
fn on_piece(hole: &Hole, corner: [f64; 2], part: [f64; 2]) -> Option<Hole> {
    let at = [hole.along.0 - corner[0], hole.across.0 - corner[1]];
    let radius_m = hole.diameter.0 / 2.0;
    let touches = (0..2).all(|axis| at[axis] + radius_m > 0.0 && at[axis] - radius_m < part[axis]);
    touches.then(|| Hole { along: Metres(at[0]), across: Metres(at[1]), ..hole.clone() })
}
