//! The cut list in words, for the bench.

use std::fmt::Write as _;

use super::{CutList, Form, Mix, Pack, PackSize, RollPlan, Sheet, counted};
use crate::lining::make::Lie;
use crate::lining::material::Kind;
use crate::units::quantity::{Shown, UnitSystem, percent};
use crate::units::{Kilograms, Metres};

/// Width of the page, characters.
const WIDTH: usize = 100;

/// Litres in a US fluid gallon: 231 cubic inches (NIST SP 811).
const GALLON_L: f64 = 3.785_411_784;

/// `list` as lines of text.
#[must_use]
pub fn page(list: &CutList, units: UnitSystem) -> String {
    // Writing to a string cannot fail, here and below.
    let mut page = format!("What to cut, mix and buy for: {}\n", list.name);
    if !list.sheets.is_empty() {
        write_sheets(&mut page, list, units);
        write_rolls(&mut page, list, units);
    }
    if !list.mixes.is_empty() || !list.soaks.is_empty() {
        write_mixes(&mut page, list, units);
    }
    if !list.others.is_empty() {
        let _ = writeln!(page, "\nOther layers");
        for other in &list.others {
            let (thickness, area) = (length(other.thickness, units), other.area.shown(units));
            let words = format!(
                "{}, layer {}: {}, {thickness}, {area}; {}",
                other.section, other.layer, other.title, other.remark
            );
            indented(&mut page, "  ", &words);
        }
    }
    write_packs(&mut page, list, units);
    let _ = writeln!(page, "\nLook out");
    for caution in &list.cautions {
        indented(&mut page, "  - ", caution);
    }
    page
}

fn indented(page: &mut String, first: &str, words: &str) {
    let rest = " ".repeat(first.len() + usize::from(first == "  ") * 2);
    let options = textwrap::Options::new(WIDTH).initial_indent(first).subsequent_indent(&rest);
    let _ = writeln!(page, "{}", textwrap::fill(words, options));
}

/// A length to cut by: whole millimetres, or hundredths of an inch.
fn length(length: Metres, units: UnitSystem) -> String {
    match units {
        UnitSystem::Metric if length.mm() >= 20.0 => format!("{:.0} mm", length.mm()),
        _ => length.shown(units),
    }
}

fn write_sheets(page: &mut String, list: &CutList, units: UnitSystem) {
    let _ =
        writeln!(page, "\nSheets to cut, length x width; lengths at mid thickness, compression and trim are in them");
    for (index, sheet) in list.sheets.iter().enumerate() {
        let piece =
            if sheet.piece.1 > 1 { format!(", piece {} of {}", sheet.piece.0, sheet.piece.1) } else { String::new() };
        let _ = writeln!(
            page,
            "  {:>2}  {:>9} x {:<9}  {} {}   {}, layer {}, blanket {}{piece}",
            index + 1,
            length(sheet.length, units),
            length(sheet.width, units),
            length(sheet.thickness, units),
            sheet.material,
            sheet.section,
            sheet.layer,
            sheet.ply
        );
        indented(page, "      ", &placing(sheet, units));
        for hole in &sheet.holes {
            let _ = writeln!(
                page,
                "      hole {}: {} across, {} from the left end, {} from the near edge",
                hole.name,
                length(hole.diameter, units),
                length(hole.along, units),
                length(hole.across, units)
            );
        }
    }
    if list.sheets.iter().any(|sheet| !sheet.holes.is_empty()) {
        indented(
            page,
            "  ",
            "Holes are measured on the sheet lying with its cold side up (the side that will lie on the shell) and \
                 the edge of the mouth or foot towards you. Cut them a little small.",
        );
    }
}

/// Where a sheet goes.
fn placing(sheet: &Sheet, units: UnitSystem) -> String {
    let added = format!("{} for compression, {} to trim", length(sheet.compression, units), length(sheet.trim, units));
    match sheet.form {
        Form::Wrap { mid_diameter, joint, lie } => {
            format!(
                "round {} at mid thickness; joint {}; {added}",
                length(mid_diameter, units),
                joint_words(joint.at.0, lie)
            )
        }
        Form::Over => format!("over the arch; {added}"),
        Form::Flat => format!("flat; {added} (compression both ways)"),
        Form::Disc => {
            let (across, press) = (length(sheet.length, units), length(sheet.compression, units));
            format!("cut it round, {across} across; {press} for compression")
        }
    }
}

fn joint_words(at_deg: f64, lie: Lie) -> String {
    match lie {
        Lie::Level if at_deg.abs() < 0.5 => "on the lowest line, where the floor covers it".to_owned(),
        Lie::Level => format!("{at_deg:.0} deg clockwise from the lowest line, seen through the mouth"),
        Lie::Upright => format!("{at_deg:.0} deg anticlockwise from the front, seen from above"),
    }
}

fn write_rolls(page: &mut String, list: &CutList, units: UnitSystem) {
    let _ = writeln!(page, "\nOn the roll, from its beginning and from its left edge");
    for plan in &list.rolls {
        for index in 0..plan.rolls.len() {
            write_roll(page, plan, index, units);
        }
        let _ = writeln!(page, "  {} of the stretch used up is waste", percent((plan.waste() * 100.0).round() / 100.0));
    }
}

fn write_roll(page: &mut String, plan: &RollPlan, index: usize, units: UnitSystem) {
    let _ = writeln!(
        page,
        "  roll {} of {}, {}, {} wide: {} of {} used",
        index + 1,
        plan.rolls.len(),
        length(plan.thickness, units),
        length(plan.width, units),
        length(plan.used(index), units),
        length(plan.length, units)
    );
    for placed in plan.rolls.get(index).into_iter().flatten() {
        let _ = writeln!(
            page,
            "    sheet {:>2}  from {:>9}, {:>9} in: {} along, {} across",
            placed.sheet + 1,
            length(placed.from, units),
            length(placed.aside, units),
            length(placed.along, units),
            length(placed.across, units)
        );
    }
}

fn write_mixes(page: &mut String, list: &CutList, units: UnitSystem) {
    let _ = writeln!(page, "\nTo mix, in the order of the lining");
    for mix in &list.mixes {
        write_mix(page, mix, units);
    }
    for soak in &list.soaks {
        let words = format!(
            "{}, layer {}: rigidiser, {} of powder ({}) into {} of water, one part to four by volume; brush or spray it on evenly, \
             then dry before the coat",
            soak.section,
            soak.layer,
            volume(soak.powder_l, units),
            soak.powder.shown(units),
            volume(soak.water_l, units)
        );
        indented(page, "  ", &words);
    }
}

fn write_mix(page: &mut String, mix: &Mix, units: UnitSystem) {
    let _ = writeln!(page, "  {}, layer {}: {}", mix.section, mix.layer, mix.title);
    let _ = writeln!(
        page,
        "      {} in the lining, {} dry; mix {} dry",
        volume(mix.volume_m3 * 1000.0, units),
        mix.dry.shown(units),
        mix.mixed.shown(units)
    );
    if mix.kind == Kind::Plastic {
        let _ = writeln!(page, "      it comes ready wetted: ram it as it is, add no water");
        return;
    }
    let [least, decided, most] = mix.batch_water();
    let _ = writeln!(
        page,
        "      {} of {} dry with {} of water at {} ({}; trim from {} to {})",
        counted(mix.batches, "batch"),
        grams(mix.batch()),
        grams(decided),
        match units {
            UnitSystem::Metric => "10 to 21 °C",
            UnitSystem::Us => "50 to 70 °F",
        },
        percent(mix.water[1]),
        grams(least),
        grams(most)
    );
    let minutes = mix.working_time.shown(units);
    let _ = match mix.coats {
        1 => writeln!(page, "      use each batch within {minutes} of wetting"),
        coats => {
            writeln!(page, "      in {}, each dried overnight; use each batch within {minutes}", counted(coats, "coat"))
        }
    };
}

/// Scales show grams; they do so whatever the units of the rest.
fn grams(mass: Kilograms) -> String {
    format!("{:.0} g", mass.0 * 1000.0)
}

fn volume(volume_l: f64, units: UnitSystem) -> String {
    match units {
        UnitSystem::Metric if volume_l < 1.0 => format!("{:.0} mL", volume_l * 1000.0),
        UnitSystem::Metric => format!("{volume_l:.2} L"),
        UnitSystem::Us => format!("{:.2} US gal", volume_l / GALLON_L),
    }
}

fn write_packs(page: &mut String, list: &CutList, units: UnitSystem) {
    if list.packs.is_empty() {
        return;
    }
    let _ = writeln!(page, "\nTo buy");
    for pack in &list.packs {
        let _ = writeln!(page, "  {}", pack_words(pack, units));
    }
    if let Some(cost) = list.cost() {
        let _ = writeln!(page, "  {cost:.2} in all, at the prices in the lining file");
    }
}

fn pack_words(pack: &Pack, units: UnitSystem) -> String {
    let price = pack.price.map_or_else(String::new, |price| format!(", {:.2}", price * f64::from(pack.count)));
    match pack.size {
        PackSize::Roll { thickness, width, length: along } => format!(
            "{} of {}, {} x {} x {}{price}",
            counted(pack.count, "roll"),
            pack.title,
            length(thickness, units),
            length(width, units),
            length(along, units)
        ),
        PackSize::Bag(bag) => format!("{} of {} {}{price}", counted(pack.count, "bag"), bag.shown(units), pack.title),
    }
}
