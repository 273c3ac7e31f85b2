//! What to cut, mix, buy and weigh for a lining: sheets of fibre with their joints and holes, a layout on the rolls, batches
//! with their water, packs.
//!
//! Sizes follow from the geometry alone, so they can be told before anything is bought. How a part lies, its ports, how fibre
//! is laid and what comes in what packs is said in the lining file ([`super::make`]).

mod cautions;
mod drawing;
mod joints;
mod mix;
mod page;
mod roll;
mod sheet;
mod table;

use serde::Serialize;

use super::make::{Size, Stock};
use super::material::{Kind, Material};
use super::{Layer, Lining, Section};
use crate::units::{Kilograms, Metres, SquareMetres};

pub use drawing::drawing;
pub use joints::{Joint, Ring, place_joints};
pub use mix::{Mix, Soak};
pub use page::page;
pub use roll::{Piece, Placed, RollPlan, lay_out};
pub use sheet::{Form, Hole, Sheet};
pub use table::table;

/// All of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CutList {
    /// The builder's name for the furnace.
    pub name: String,
    /// Sheets of fibre to cut.
    pub sheets: Vec<Sheet>,
    /// Layers that are not cut or mixed, and fibre that cannot be cut to size yet.
    pub others: Vec<Other>,
    /// Where the sheets go on the rolls, one plan for each kind of blanket.
    pub rolls: Vec<RollPlan>,
    /// What is mixed with water.
    pub mixes: Vec<Mix>,
    /// What is soaked into fibre.
    pub soaks: Vec<Soak>,
    /// What to buy.
    pub packs: Vec<Pack>,
    /// What to look out for.
    pub cautions: Vec<String>,
}

/// A layer that is neither cut from a roll nor mixed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Other {
    /// Section.
    pub section: String,
    /// Layer, counted from 1 at the hot face.
    pub layer: usize,
    /// Words for a person.
    pub title: String,
    /// Thickness.
    #[serde(rename = "thickness_m")]
    pub thickness: Metres,
    /// Area at mid thickness.
    #[serde(rename = "area_m2")]
    pub area: SquareMetres,
    /// What more there is to say.
    pub remark: String,
}

/// Rolls or bags of one material.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pack {
    /// Words for a person.
    pub title: String,
    /// How many to buy.
    pub count: u32,
    /// One of them.
    pub size: PackSize,
    /// Price of one, when it is given.
    pub price: Option<f64>,
}

/// One roll or bag.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum PackSize {
    /// A roll of blanket.
    Roll {
        /// Of the blanket.
        #[serde(rename = "thickness_m")]
        thickness: Metres,
        /// Across the roll.
        #[serde(rename = "width_m")]
        width: Metres,
        /// Along the roll.
        #[serde(rename = "length_m")]
        length: Metres,
    },
    /// A bag, bucket or tub, dry.
    #[serde(rename = "bag_kg")]
    Bag(Kilograms),
}

/// A straight brick of 9 x 4 1/2 x 2 1/2 in, mm. Source: the usual straight of ASTM C1503 sizes, from memory.
const BRICK_MM: [f64; 3] = [230.0, 114.0, 64.0];

/// Bricks bought on top of those that the volume takes, for cuts. Common practice, no source.
const BRICK_SPARE: f64 = 1.1;

impl CutList {
    /// Works it out for `lining`.
    #[must_use]
    pub fn of(lining: &Lining) -> Self {
        let mut list = Self {
            name: lining.name.clone(),
            sheets: Vec::new(),
            others: Vec::new(),
            rolls: Vec::new(),
            mixes: Vec::new(),
            soaks: Vec::new(),
            packs: Vec::new(),
            cautions: Vec::new(),
        };
        for section in &lining.sections {
            list.sheets.extend(sheet::sheets_of(lining, section));
            for part in parts(section) {
                list.take(lining, &part);
            }
        }
        list.rolls = roll::plans(lining, &list.sheets);
        list.packs = packs(lining, &list);
        list.cautions = cautions::cautions(lining, &list);
        list
    }

    fn take(&mut self, lining: &Lining, part: &Part<'_>) {
        match part.layer.material.kind {
            kind if kind.is_mixed_with_water() => self.mixes.push(mix::mix_of(lining, part)),
            Kind::Fibre => {
                self.soaks.extend(mix::soak_of(part));
                if !sheet::can_be_cut(part.section) {
                    let remark = format!(
                        "{} on top of one another; no sizes to cut: give this part `width` and `length`, or one section for \
                         each side, instead of `area`",
                        counted(part.section.make.layings[part.index].plies, "blanket")
                    );
                    self.others.push(other(part, remark));
                }
            }
            Kind::Brick => {
                let brick_m3: f64 = BRICK_MM.iter().product::<f64>() / 1e9;
                let bricks = (part.volume_m3() / brick_m3 * BRICK_SPARE).ceil();
                let [long, wide, high] = BRICK_MM;
                self.others.push(other(
                    part,
                    format!(
                        "about {bricks:.0} straights of {long:.0} x {wide:.0} x {high:.0} mm (9 x 4 1/2 x 2 1/2 in), with a tenth for cuts"
                    ),
                ));
            }
            _ => self.others.push(other(part, "cut boards to fit, joints staggered".to_owned())),
        }
    }

    /// What all packs cost, when the price of every one is given.
    #[must_use]
    pub fn cost(&self) -> Option<f64> {
        let costs: Option<Vec<f64>> =
            self.packs.iter().map(|pack| pack.price.map(|price| price * f64::from(pack.count))).collect();
        costs.filter(|costs| !costs.is_empty()).map(|costs| costs.iter().sum())
    }
}

/// One layer where it stands.
struct Part<'l> {
    section: &'l Section,
    index: usize,
    layer: &'l Layer,
    /// From the hot face to its inner side.
    depth: Metres,
}

impl Part<'_> {
    fn outer(&self) -> Metres {
        Metres(self.depth.0 + self.layer.thickness.0)
    }

    fn volume_m3(&self) -> f64 {
        self.section.volume_m3(self.depth, self.outer())
    }
}

/// Layers of a section that are its own. Behind a floor that is cast in a bore lies what belongs to the round wall.
fn parts(section: &Section) -> Vec<Part<'_>> {
    let own_m = if let Size::InBore { level, .. } = section.make.size { level.0 } else { f64::INFINITY };
    let mut depth = Metres(0.0);
    let mut parts = Vec::new();
    for (index, layer) in section.layers.iter().enumerate() {
        if depth.0 < own_m - 1e-9 {
            parts.push(Part { section, index, layer, depth });
        }
        depth = Metres(depth.0 + layer.thickness.0);
    }
    parts
}

fn other(part: &Part<'_>, remark: String) -> Other {
    let mid = Metres(part.depth.0 + part.layer.thickness.0 / 2.0);
    Other {
        section: part.section.name.clone(),
        layer: part.index + 1,
        title: part.layer.material.title.clone(),
        thickness: part.layer.thickness,
        area: part.section.shape.area_at(mid),
        remark,
    }
}

/// How `material` is bought for `lining`.
fn stock_of(lining: &Lining, material: &Material) -> Stock {
    let said = lining.stock.iter().find(|stock| stock.material == material.key);
    said.cloned().unwrap_or_else(|| Stock::usual(material))
}

fn packs(lining: &Lining, list: &CutList) -> Vec<Pack> {
    let rolls = list.rolls.iter().map(|plan| Pack {
        title: plan.title.clone(),
        count: plan.rolls.len() as u32,
        size: PackSize::Roll { thickness: plan.thickness, width: plan.width, length: plan.length },
        price: plan.price,
    });
    let mut packs: Vec<Pack> = rolls.collect();
    let mut seen: Vec<&str> = Vec::new();
    for mix in &list.mixes {
        if seen.contains(&mix.material.as_str()) {
            continue;
        }
        seen.push(&mix.material);
        let all_kg: f64 =
            list.mixes.iter().filter(|other| other.material == mix.material).map(|other| other.mixed.0).sum();
        let stock = lining.stock.iter().find(|stock| stock.material == mix.material);
        packs.push(Pack {
            title: mix.title.clone(),
            count: (all_kg / mix.bag.0 - 1e-9).ceil().max(1.0) as u32,
            size: PackSize::Bag(mix.bag),
            price: stock.and_then(|stock| stock.price),
        });
    }
    packs
}

/// "1 blanket", "2 blankets".
fn counted(count: u32, what: &str) -> String {
    let plural = match what {
        "batch" => "es",
        _ => "s",
    };
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}{plural}") }
}
