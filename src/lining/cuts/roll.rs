//! Where the sheets go on the rolls, so that little is wasted.
//!
//! Pieces are packed by straight cuts (the crate guillotiere, in whole millimetres) in several orders and turned both ways;
//! the shortest stretch of roll wins.

use guillotiere::{SimpleAtlasAllocator, size2};
use serde::Serialize;

use super::sheet::Sheet;
use crate::lining::Lining;
use crate::lining::make::{Stock, usual_roll_length};
use crate::lining::material::Materials;
use crate::units::Metres;

/// What rigidised fibre is cut from: the plain blanket that it is before it is wetted.
const RIGIDISED: (&str, &str) = ("rigidised-fibre", "fibre-blanket-128");

/// Most distinct sizes for which every way of turning is tried.
const MOST_TURNED: usize = 6;

/// A piece to be cut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Index of the sheet.
    pub sheet: usize,
    /// One side.
    pub length: Metres,
    /// The other.
    pub width: Metres,
}

/// A piece on a roll.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Placed {
    /// Index of the sheet.
    pub sheet: usize,
    /// From the beginning of the roll.
    #[serde(rename = "from_m")]
    pub from: Metres,
    /// From its left edge.
    #[serde(rename = "aside_m")]
    pub aside: Metres,
    /// Along the roll.
    #[serde(rename = "along_m")]
    pub along: Metres,
    /// Across the roll.
    #[serde(rename = "across_m")]
    pub across: Metres,
}

/// Rolls of one kind of blanket and what is cut from each.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RollPlan {
    /// Words for a person.
    pub title: String,
    /// Of the blanket.
    #[serde(rename = "thickness_m")]
    pub thickness: Metres,
    /// Across the roll.
    #[serde(rename = "width_m")]
    pub width: Metres,
    /// Along the roll.
    #[serde(rename = "length_m")]
    pub length: Metres,
    /// Price of a roll.
    pub price: Option<f64>,
    /// What is cut from each roll.
    pub rolls: Vec<Vec<Placed>>,
}

impl RollPlan {
    /// How much of roll `index` is used up, from its beginning.
    #[must_use]
    pub fn used(&self, index: usize) -> Metres {
        let ends = self.rolls.get(index).into_iter().flatten().map(|placed| placed.from.0 + placed.along.0);
        Metres(ends.fold(0.0, f64::max))
    }

    /// Share of the used stretches that is no piece.
    #[must_use]
    pub fn waste(&self) -> f64 {
        let used_m2: f64 = (0..self.rolls.len()).map(|index| self.used(index).0 * self.width.0).sum();
        let pieces_m2: f64 = self.rolls.iter().flatten().map(|placed| placed.along.0 * placed.across.0).sum();
        if used_m2 > 0.0 { 1.0 - pieces_m2 / used_m2 } else { 0.0 }
    }
}

/// One plan for each kind and thickness of blanket.
pub(super) fn plans(lining: &Lining, sheets: &[Sheet]) -> Vec<RollPlan> {
    let mut plans: Vec<(String, i64, RollPlan)> = Vec::new();
    for (index, sheet) in sheets.iter().enumerate() {
        let Some((blanket, title, stock)) = blanket_of(lining, &sheet.material) else { continue };
        let thickness_mm = sheet.thickness.mm().round() as i64;
        if plans.iter().any(|(key, thick_mm, _)| *key == blanket && *thick_mm == thickness_mm) {
            continue;
        }
        let alike = |other: &Sheet| {
            let same = blanket_of(lining, &other.material).is_some_and(|(key, ..)| key == blanket);
            same && other.thickness.mm().round() as i64 == thickness_mm
        };
        let pieces: Vec<Piece> = (index..sheets.len())
            .filter(|&other| alike(&sheets[other]))
            .map(|other| Piece { sheet: other, length: sheets[other].length, width: sheets[other].width })
            .collect();
        let length = stock.roll.length.unwrap_or_else(|| usual_roll_length(sheet.thickness));
        let rolls = lay_out(&pieces, stock.roll.width, length);
        let plan =
            RollPlan { title, thickness: sheet.thickness, width: stock.roll.width, length, price: stock.price, rolls };
        plans.push((blanket, thickness_mm, plan));
    }
    plans.into_iter().map(|(.., plan)| plan).collect()
}

/// Key, words and stock of the blanket that `material` is cut from.
pub(super) fn blanket_of(lining: &Lining, material: &str) -> Option<(String, String, Stock)> {
    let layers = || lining.sections.iter().flat_map(|section| &section.layers);
    let used = |key: &str| layers().find(|layer| layer.material.key == key).map(|layer| &layer.material);
    let from = if material == RIGIDISED.0 { RIGIDISED.1 } else { material };
    let built_in = Materials::built_in().get(from).map(|entry| &entry.material);
    let blanket = used(from).or(built_in).or_else(|| used(material))?;
    let said = |key: &str| lining.stock.iter().find(|stock| stock.material == key).cloned();
    // What is said of the rigidised layer holds where nothing is said of its blanket.
    let stock = said(from).or_else(|| said(material)).unwrap_or_else(|| Stock::usual(blanket));
    Some((blanket.key.clone(), blanket.title.clone(), stock))
}

/// Lays `pieces` on as few rolls as it finds, each used up as little as it finds. A piece that fits no roll is left out;
/// sheets are cut up beforehand so that there is none.
#[must_use]
pub fn lay_out(pieces: &[Piece], width: Metres, length: Metres) -> Vec<Vec<Placed>> {
    let room = [whole_mm_down(length), whole_mm_down(width)];
    let mut left: Vec<Block> = pieces.iter().map(Block::of).filter(|block| block.fits(room)).collect();
    let mut rolls = Vec::new();
    while !left.is_empty() {
        let Some(packed) = best(&left, room) else { break };
        left.retain(|block| !packed.iter().any(|placed| placed.sheet == block.sheet));
        rolls.push(packed);
    }
    rolls
}

/// A piece in whole millimetres, rounded up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Block {
    sheet: usize,
    sides: [i32; 2],
}

fn whole_mm_down(length: Metres) -> i32 {
    (length.mm() + 1e-6).floor().clamp(1.0, 1e6) as i32
}

impl Block {
    fn of(piece: &Piece) -> Self {
        let whole_mm = |side: Metres| (side.mm() - 1e-6).ceil().clamp(1.0, 1e6) as i32;
        Self { sheet: piece.sheet, sides: [whole_mm(piece.length), whole_mm(piece.width)] }
    }

    fn turned(self) -> [i32; 2] {
        [self.sides[1], self.sides[0]]
    }

    fn fits(&self, room: [i32; 2]) -> bool {
        let inside = |sides: [i32; 2]| sides[0] <= room[0] && sides[1] <= room[1];
        inside(self.sides) || inside(self.turned())
    }

    fn area(&self) -> i64 {
        i64::from(self.sides[0]) * i64::from(self.sides[1])
    }
}

/// The packing of most area, and among those of least used length.
fn best(blocks: &[Block], room: [i32; 2]) -> Option<Vec<Placed>> {
    let mut best: Option<(i64, i32, Vec<Placed>)> = None;
    for order in orders(blocks) {
        for turns in ways_to_turn(&order) {
            let sides: Vec<[i32; 2]> =
                order.iter().zip(&turns).map(|(block, turn)| turned_if(*block, *turn, room)).collect();
            let full = pack(&order, &sides, room);
            let area: i64 = full.iter().map(placed_mm2).sum();
            if best.as_ref().is_some_and(|(most, ..)| area < *most) {
                continue;
            }
            let (used, packed) = shortest(&order, &sides, room, full);
            let better = best.as_ref().is_none_or(|(most, least, _)| area > *most || used < *least);
            if better && !packed.is_empty() {
                best = Some((area, used, packed));
            }
        }
    }
    best.map(|(.., packed)| packed)
}

fn placed_mm2(placed: &Placed) -> i64 {
    (placed.along.mm().round() * placed.across.mm().round()) as i64
}

/// The same packing squeezed into the shortest room that still takes as many pieces.
fn shortest(order: &[Block], sides: &[[i32; 2]], room: [i32; 2], full: Vec<Placed>) -> (i32, Vec<Placed>) {
    let used = |packed: &[Placed]| {
        packed.iter().map(|placed| (placed.from.mm() + placed.along.mm()).round() as i32).max().unwrap_or(0)
    };
    let area: i64 = full.iter().map(placed_mm2).sum();
    let least = (area / i64::from(room[1])).clamp(1, 1_000_000) as i32;
    let (mut low, mut high, mut packed) = (least, used(&full), full);
    while low < high {
        let middle = i32::midpoint(low, high);
        let tried = pack(order, sides, [middle, room[1]]);
        if tried.len() == packed.len() {
            high = used(&tried).min(middle);
            packed = tried;
        } else {
            low = middle + 1;
        }
    }
    (used(&packed), packed)
}

fn turned_if(block: Block, turn: bool, room: [i32; 2]) -> [i32; 2] {
    let (straight, turned) = (block.sides, block.turned());
    let inside = |sides: [i32; 2]| sides[0] <= room[0] && sides[1] <= room[1];
    match (turn, inside(straight), inside(turned)) {
        (true, _, true) | (false, false, true) => turned,
        _ => straight,
    }
}

fn pack(order: &[Block], sides: &[[i32; 2]], room: [i32; 2]) -> Vec<Placed> {
    let mut roll = SimpleAtlasAllocator::new(size2(room[0], room[1]));
    let mm = |whole: i32| Metres::from_mm(f64::from(whole));
    let mut packed = Vec::new();
    for (block, [along, across]) in order.iter().zip(sides) {
        if let Some(place) = roll.allocate(size2(*along, *across)) {
            packed.push(Placed {
                sheet: block.sheet,
                from: mm(place.min.x),
                aside: mm(place.min.y),
                along: mm(*along),
                across: mm(*across),
            });
        }
    }
    packed
}

/// Orders that are tried: by area, by the longer side, by the shorter side, by length; the largest first.
fn orders(blocks: &[Block]) -> Vec<Vec<Block>> {
    let keys: [fn(&Block) -> i64; 4] = [
        Block::area,
        |block| i64::from(block.sides[0].max(block.sides[1])),
        |block| i64::from(block.sides[0].min(block.sides[1])),
        |block| i64::from(block.sides[0]),
    ];
    let sorted = |key: fn(&Block) -> i64| {
        let mut order = blocks.to_vec();
        order.sort_by_key(|block| (-key(block), -block.area(), block.sheet));
        order
    };
    keys.into_iter().map(sorted).collect()
}

/// Which blocks of `order` are turned: every way for each distinct size, or none and all when there are too many sizes.
fn ways_to_turn(order: &[Block]) -> Vec<Vec<bool>> {
    let mut sizes: Vec<[i32; 2]> = Vec::new();
    for block in order {
        if !sizes.contains(&block.sides) {
            sizes.push(block.sides);
        }
    }
    if sizes.len() > MOST_TURNED {
        return vec![vec![false; order.len()], vec![true; order.len()]];
    }
    let way = |bits: u32| {
        let turn = |block: &Block| {
            sizes.iter().position(|sides| *sides == block.sides).is_some_and(|at| bits & (1 << at) != 0)
        };
        order.iter().map(turn).collect()
    };
    (0..1_u32 << sizes.len()).map(way).collect()
}
