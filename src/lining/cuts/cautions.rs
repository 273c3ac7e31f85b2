//! What to look out for with this work: dust, water, anchors, floors. Only what the lining at hand needs.

use super::{CutList, Form};
use crate::lining::make::Size;
use crate::lining::material::Kind;
use crate::lining::{Back, Lining};

/// Sources: NIOSH REL for refractory ceramic fibre; Directive (EU) 2017/2398; respirator by exposure: industry guidance.
const FIBRE: &str = "Fibre dust harms the lungs. Wear a half mask with P100 filters (full-face above 5 f/cc; limits are 0.5 f/cc in \
the NIOSH REL, 0.3 f/ml in Directive (EU) 2017/2398), gloves and long sleeves. Cut with a knife on a board, not with a saw; mist \
the offcuts with water, bag and label them; no dry sweeping, no compressed air.";

/// Source: OSHA respirable crystalline silica.
const SILICA: &str = "Dry mixes and rigidiser powder hold silica dust: OSHA's limit for respirable crystalline silica is 50 \
micrograms per m3, action at 25. Open bags and mix outdoors or with a P100 mask, powder into water, no dry sweeping.";

/// Source: alkaline cement and silicate: common practice, no source.
const ALKALI: &str = "Wet castable and mortar burn the skin: gloves and goggles, rinse at once.";

/// Sources: makers' general sheets (water and trim, its temperature, working time).
const WATER: &str = "Weigh the water; do not judge it by eye. Begin with the least, trim up to the most and no further: more water \
means less strength and more steam. Clean water of 10 to 21 °C (50 to 70 °F).";

/// Source: makers' general sheets, from 16 °C; below about 21 °C denser hydrates form.
const CURE: &str = "Cure castable damp for 24 h or more at 16 to 32 °C (60 to 90 °F): below about 21 °C (70 °F) it sets denser and spalls more readily. \
Never let it freeze wet.";

/// Source: anchors common in the trade: length 66 to 75 % of the thickness, tip 25 mm or more under the face, spacing 3 times.
const ANCHOR_LEAST_M: f64 = 0.025;

/// Weep holes. Source: 3 to 6 mm, low in the shell; common practice, no source.
const WEEP: &str = "The shell lets no steam out. Drill weep holes of 3 to 6 mm (1/8 to 1/4 in) low in it before lining, and plan again with \
back = \"steel with weep holes\".";

pub(super) fn cautions(lining: &Lining, list: &CutList) -> Vec<String> {
    let mut cautions = Vec::new();
    let layers = || lining.sections.iter().flat_map(|section| &section.layers);
    let has = |kind: Kind| layers().any(|layer| layer.material.kind == kind);
    let mut say = |there: bool, words: &str| {
        if there {
            cautions.push(words.to_owned());
        }
    };
    say(has(Kind::Fibre), FIBRE);
    say(!list.mixes.is_empty() || !list.soaks.is_empty(), SILICA);
    say(!list.mixes.is_empty(), ALKALI);
    say(!list.mixes.is_empty(), WATER);
    say(has(Kind::Castable), CURE);
    for anchored in anchored(lining) {
        say(true, &anchored);
    }
    let sealed = lining.sections.iter().any(|section| {
        matches!(section.back, Back::SealedSteel { .. })
            && section.layers.iter().any(|layer| layer.water.mix_fraction > 0.0)
    });
    say(sealed, WEEP);
    say(
        has_ports(lining),
        "Cut burner port and probe holes before the coat goes on, and keep formers in them while casting.",
    );
    for floor in floors_in_bores(lining) {
        say(true, &floor);
    }
    for crowded in crowded(list) {
        say(true, &crowded);
    }
    for wet in over_watered(lining) {
        say(true, &wet);
    }
    cautions
}

/// A length in whole millimetres and in inches.
fn both(length_m: f64) -> String {
    format!("{:.0} mm ({:.1} in)", length_m * 1e3, length_m / 0.0254)
}

fn has_ports(lining: &Lining) -> bool {
    lining.sections.iter().any(|section| !section.make.ports.is_empty())
}

/// Cast layers thick enough for anchors.
fn anchored(lining: &Lining) -> Vec<String> {
    let mut words = Vec::new();
    for section in &lining.sections {
        for layer in &section.layers {
            let thickness_m = layer.thickness.0;
            if layer.material.kind == Kind::Castable && thickness_m >= 2.0 * ANCHOR_LEAST_M {
                words.push(format!(
                    "{}: {} of castable wants anchors {} to {} long, tips 25 mm (1 in) or more under the face, about {} \
                     apart; a cast floor that lies on its base needs none.",
                    section.name,
                    both(thickness_m),
                    both(0.66 * thickness_m),
                    both((0.75 * thickness_m).min(thickness_m - ANCHOR_LEAST_M).max(0.66 * thickness_m)),
                    both(3.0 * thickness_m)
                ));
            }
        }
    }
    words
}

/// Floors cast in a round bore: what lies behind them is cut with the wall.
fn floors_in_bores(lining: &Lining) -> Vec<String> {
    let floors = lining.sections.iter().filter(|section| matches!(section.make.size, Size::InBore { .. }));
    let words = floors.map(|section| {
        format!(
            "{}: cast it to its level last, on the finished wall; only its first layer is counted here, what lies behind it \
             belongs to the round wall.",
            section.name
        )
    });
    words.collect()
}

/// Joints that could not keep their distance.
fn crowded(list: &CutList) -> Vec<String> {
    let is_crowded = |form: Form| matches!(form, Form::Wrap { joint, .. } if !joint.is_clear);
    let sheets = list.sheets.iter().filter(|sheet| is_crowded(sheet.form));
    let words = sheets.map(|sheet| {
        format!(
            "{}, layer {}, blanket {}: no place for its joint that is 50 mm (2 in) from every port and 100 mm (4 in) from the joint inside it; \
             it stands where it is least in the way.",
            sheet.section, sheet.layer, sheet.ply
        )
    });
    words.collect()
}

/// Layers whose file asks for more water than the sheet allows.
fn over_watered(lining: &Lining) -> Vec<String> {
    let mut words = Vec::new();
    for section in &lining.sections {
        for layer in &section.layers {
            let [_, _, most] = layer.material.mix_water;
            if layer.material.kind.is_mixed_with_water() && layer.water.mix_fraction > most * 1.001 {
                words.push(format!(
                    "{}: {} is to get {:.1} % of water, and its sheet says {:.1} % at most.",
                    section.name,
                    layer.material.key,
                    layer.water.mix_fraction * 100.0,
                    most * 100.0
                ));
            }
        }
    }
    words
}
