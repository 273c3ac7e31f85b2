//! Cut lists against circles worked by hand, handbook formulas and figures of the trade.

#![allow(clippy::unwrap_used)]

use std::f64::consts::PI;
use std::fs;

use assert_cmd::Command;
use firstheat::lining::Lining;
use firstheat::lining::cuts::{CutList, Form, Piece, Ring, Sheet, drawing, lay_out, page, place_joints, table};
use firstheat::lining::make::{Lie, Port, PortPlace};
use firstheat::lining::material::Materials;
use firstheat::lining::outline::segment_m2;
use firstheat::lining::text::{LiningError, parse_lining};
use firstheat::units::quantity::UnitSystem;
use firstheat::units::{Degrees, Metres};
use proptest::prelude::*;

#[track_caller]
fn assert_near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "found {found}, expected {expected} within {tolerance}");
}

const TOP: &str = "format = \"firstheat lining 1\"\nname = \"test\"\n[place]\ntemperature = \"20 C\"\nhumidity = \"50 %\"\n[burner]\n\
                   power = \"12 kW\"\n[[chamber.opening]]\narea = \"10 cm2\"\n[goal]\nsoak-temperature = \"650 C\"\n\
                   soak-time = \"1 h\"\n";

fn text_of(rest: &str) -> String {
    format!("{TOP}{rest}")
}

fn lining_of(rest: &str) -> Lining {
    parse_lining(&text_of(rest), Materials::built_in()).unwrap_or_else(|error| panic!("{error}"))
}

fn section(shape: &str, layers: &[(&str, &str)]) -> String {
    let each =
        layers.iter().map(|(key, thick)| format!("[[section.layer]]\nmaterial = \"{key}\"\nthickness = \"{thick}\"\n"));
    format!(
        "[[section]]\nname = \"wall\"\nback = \"sealed steel\"\nsteel = \"3 mm\"\n{shape}\n{}",
        each.collect::<String>()
    )
}

fn cut(rest: &str) -> CutList {
    CutList::of(&lining_of(rest))
}

/// Two blankets of 25 mm in a pipe of 254 mm.
fn two_wraps() -> Vec<Sheet> {
    let shape = "shape = \"barrel\"\nshell-inside-diameter = \"254 mm\"\nlength = \"350 mm\"";
    cut(&section(shape, &[("fibre-blanket-128", "50 mm")])).sheets
}

fn outermost(sheets: &[Sheet]) -> &Sheet {
    sheets.last().unwrap()
}

/// The circle at mid thickness has the diameter D - t, so its length is pi (D - t): geometry.
#[test]
fn the_layer_on_the_shell_is_pi_times_diameter_less_thickness() {
    let sheets = two_wraps();
    assert_near(outermost(&sheets).length.mm() - outermost(&sheets).compression.mm(), PI * (254.0 - 25.0), 1e-9);
}

/// Layer n of thickness t: pi (D - (2n - 1) t), geometry.
#[test]
fn each_layer_further_in_is_two_pi_thicknesses_shorter() {
    let sheets = two_wraps();
    assert_eq!(sheets.len(), 2);
    assert_near(sheets[0].length.mm() - 10.0, PI * (254.0 - 3.0 * 25.0), 1e-9);
}

/// "Measure the diameter and take off one thickness", then times 22 / 7: common practice, no source.
#[test]
fn the_cut_length_is_that_of_the_trades_rule() {
    for (inside_mm, thick_mm) in [(200.0, 25.0), (254.0, 25.0), (304.8, 25.4), (400.0, 50.0)] {
        let shape = format!("shape = \"barrel\"\nshell-inside-diameter = \"{inside_mm} mm\"\nlength = \"350 mm\"");
        let layers = section(&shape, &[("fibre-blanket-128", &format!("{thick_mm} mm"))]);
        let sheets = cut(&layers.replace("thickness", "plies = 1\nthickness")).sheets;
        let rule_mm = 22.0 / 7.0 * (inside_mm - thick_mm);
        assert_near(sheets[0].length.mm() - 10.0, rule_mm, 0.001 * rule_mm);
    }
}

#[test]
fn a_wall_given_in_inches_is_cut_like_the_same_wall_in_millimetres() {
    let of = |inside: &str, thick: &str| {
        let shape = format!("shape = \"barrel\"\nshell-inside-diameter = \"{inside}\"\nlength = \"350 mm\"");
        cut(&section(&shape, &[("fibre-blanket-128", thick)]))
    };
    let (inches, metric) = (of("10 in", "1 in"), of("254 mm", "25.4 mm"));
    assert_near(inches.sheets[0].length.0, metric.sheets[0].length.0, 1e-12);
    assert!(page(&inches, UnitSystem::Us).contains("28.67 in"), "{}", page(&inches, UnitSystem::Us));
    assert_near(inches.sheets[0].length.0 / 0.0254, PI * 9.0 + 10.0 / 25.4, 1e-9);
}

#[test]
fn the_inner_joint_of_a_lying_barrel_is_where_the_floor_covers_it() {
    let Form::Wrap { joint, .. } = two_wraps()[0].form else { panic!("not a wrap") };
    assert_eq!((joint.at, joint.is_clear), (Degrees(0.0), true));
}

fn port(around: f64, mm: f64) -> Port {
    let name = "burner port".to_owned();
    Port { name, diameter: Metres(mm / 1e3), along: Metres(0.1), place: PortPlace::Around(Degrees(around)) }
}

fn rings(radii_mm: &[f64]) -> Vec<Ring> {
    radii_mm.iter().map(|mm| Ring { mid_radius: Metres(mm / 1e3) }).collect()
}

proptest! {
    /// At least 100 mm between joints of neighbouring layers: common practice, no source.
    #[test]
    fn joints_are_staggered_and_clear_of_ports(
        inner_mm in 60.0..400.0_f64, count in 1_usize..5, around in 0.0..360.0_f64, hole_mm in 5.0..60.0_f64, upright: bool,
    ) {
        let radii: Vec<f64> = (0..count).map(|ring| inner_mm + 25.0 * ring as f64).collect();
        let lie = if upright { Lie::Upright } else { Lie::Level };
        let joints = place_joints(&rings(&radii), lie, &[port(around, hole_mm)]);
        let arc_mm = |a: f64, b: f64, r: f64| {
            let apart = (a - b).rem_euclid(360.0);
            apart.min(360.0 - apart).to_radians() * r
        };
        for (index, joint) in joints.iter().enumerate() {
            prop_assert!(joint.is_clear, "{joints:?}");
            prop_assert!(arc_mm(joint.at.0, around, radii[index]) >= hole_mm / 2.0 + 50.0 - 1e-6);
            if index > 0 {
                prop_assert!(arc_mm(joint.at.0, joints[index - 1].at.0, radii[index - 1]) >= 100.0 - 1e-6);
            }
        }
    }

    #[test]
    fn sheets_on_a_roll_neither_overlap_nor_stick_out(sizes in prop::collection::vec((50_u32..900, 50_u32..600), 1..9)) {
        let piece = |(sheet, &(long, wide)): (usize, &(u32, u32))| {
            Piece { sheet, length: Metres(f64::from(long) / 1e3), width: Metres(f64::from(wide) / 1e3) }
        };
        let pieces: Vec<Piece> = sizes.iter().enumerate().map(piece).collect();
        let rolls = lay_out(&pieces, Metres(0.610), Metres(7.3));
        let placed: usize = rolls.iter().map(Vec::len).sum();
        prop_assert_eq!(placed, pieces.len());
        for roll in &rolls {
            for (index, a) in roll.iter().enumerate() {
                prop_assert!(a.from.0 + a.along.0 <= 7.3 + 1e-9 && a.aside.0 + a.across.0 <= 0.610 + 1e-9);
                for b in &roll[index + 1..] {
                    let apart = a.from.0 + a.along.0 <= b.from.0 + 1e-9 || b.from.0 + b.along.0 <= a.from.0 + 1e-9
                        || a.aside.0 + a.across.0 <= b.aside.0 + 1e-9 || b.aside.0 + b.across.0 <= a.aside.0 + 1e-9;
                    prop_assert!(apart, "{a:?} {b:?}");
                }
            }
        }
    }
}

#[test]
fn a_ring_full_of_ports_says_that_its_joint_is_crowded() {
    let ports: Vec<Port> = (0..12).map(|at| port(30.0 * f64::from(at), 40.0)).collect();
    assert!(!place_joints(&rings(&[100.0]), Lie::Level, &ports)[0].is_clear);
}

/// Four sheets that tile the width exactly leave nothing (arithmetic): 2 x 305 = 610 mm.
#[test]
fn sheets_that_tile_the_roll_leave_no_waste() {
    let pieces: Vec<Piece> = (0..4).map(|sheet| Piece { sheet, length: Metres(0.400), width: Metres(0.305) }).collect();
    let rolls = lay_out(&pieces, Metres(0.610), Metres(7.3));
    assert_eq!(rolls.len(), 1);
    let used = rolls[0].iter().map(|placed| placed.from.0 + placed.along.0).fold(0.0, f64::max);
    assert_near(used, 0.800, 1e-9);
}

const WITH_PORT: &str = "shape = \"barrel\"\nshell-inside-diameter = \"300 mm\"\nlength = \"400 mm\"\n[[section.port]]\n\
                         name = \"burner port\"\ndiameter = \"50 mm\"\nalong = \"200 mm\"\naround = \"90 deg\"";

/// A quarter of the way round from a joint on the lowest line is a quarter of the cut length: geometry.
#[test]
fn a_port_at_a_right_angle_is_a_quarter_along_the_flat_sheet() {
    let sheets = cut(&section(WITH_PORT, &[("fibre-blanket-128", "25 mm")])).sheets;
    let hole = &sheets[0].holes[0];
    assert_near(hole.along.0, sheets[0].length.0 / 4.0, 1e-9);
    assert_near(hole.across.0, 0.200, 1e-12);
}

#[test]
fn a_sheet_wider_than_the_roll_is_cut_in_pieces_that_cover_it() {
    let shape = "shape = \"flat\"\nwidth = \"1.5 m\"\nlength = \"9 m\"";
    let list = cut(&section(shape, &[("fibre-blanket-128", "25 mm")]));
    assert!(list.sheets.iter().all(|sheet| sheet.width.0 <= 0.610 && sheet.length.0 <= 7.3));
    let area: f64 = list.sheets.iter().map(|sheet| sheet.length.0 * sheet.width.0).sum();
    assert!(area > 1.5 * 9.0);
    let placed: usize = list.rolls.iter().flat_map(|plan| &plan.rolls).map(Vec::len).sum();
    assert_eq!(placed, list.sheets.len());
}

/// Handbook values of circular segments of radius 1 (table of segments in Bronstein, and Machinery's Handbook, "Segments of
/// circles for radius = 1"): at a central angle of 60 deg the height is 0.13397 and the area 0.0906; 90 deg: 0.29289, 0.2854;
/// 120 deg: 0.5, 0.6142; 180 deg: 1, pi / 2. Recalled from memory, and the same as (angle - sin angle) / 2.
#[test]
fn segments_are_those_of_the_handbook_table() {
    for (height, area) in [(0.133_97, 0.0906), (0.292_89, 0.2854), (0.5, 0.6142), (1.0, PI / 2.0)] {
        assert_near(segment_m2(Metres(2.0), Metres(height)), area, 1e-4);
    }
}

/// (angle - sin angle) r² / 2 times the length; a floor 30 mm deep in a bore of 180 mm: half angle acos(60/90).
#[test]
fn a_floor_cast_to_a_level_is_a_segment_of_the_bore() {
    let shape = "shape = \"flat\"\ncast-in-bore = \"180 mm\"\nlength = \"400 mm\"";
    let list = cut(&section(shape, &[("bubble-alumina-castable", "30 mm"), ("fibre-blanket-128", "50 mm")]));
    let angle = 2.0 * (60.0_f64 / 90.0).acos();
    let volume_m3 = 0.090 * 0.090 * (angle - angle.sin()) / 2.0 * 0.400;
    assert_near(list.mixes[0].volume_m3, volume_m3, 1e-9);
    assert_near(list.mixes[0].dry.0, 1500.0 * volume_m3, 1e-6);
    assert!(list.sheets.is_empty(), "what lies behind belongs to the round wall");
    assert!(list.cautions.iter().any(|caution| caution.contains("cast it to its level last")));
}

/// As above: 1500 kg/m³ and 9.4 % of water in a segment of the bore; the blanket behind it is the round wall's.
#[test]
fn a_floor_cast_to_a_level_holds_the_water_of_its_segment() {
    let shape = "shape = \"flat\"\ncast-in-bore = \"180 mm\"\nlength = \"400 mm\"";
    let lining = lining_of(&section(shape, &[("bubble-alumina-castable", "30 mm"), ("fibre-blanket-128", "50 mm")]));
    let angle = 2.0 * (60.0_f64 / 90.0).acos();
    let dry_kg = 1500.0 * 0.090 * 0.090 * (angle - angle.sin()) / 2.0 * 0.400;
    assert_near(lining.dry_mass().0, dry_kg, 1e-6);
    assert_near(lining.water_kg().0, 0.094 * dry_kg, 1e-6);
}

/// The mean of its inner and outer arc times its thickness: geometry (Pappus). Span 600 mm and rise 300 mm are a half circle.
#[test]
fn a_cast_arch_weighs_as_much_as_its_batches() {
    let shape = "shape = \"arch\"\nspan = \"600 mm\"\nrise = \"300 mm\"\nlength = \"500 mm\"";
    let lining = lining_of(&section(shape, &[("dense-castable", "100 mm")]));
    let dry_kg = 2200.0 * PI * 0.350 * 0.100 * 0.500;
    assert_near(lining.dry_mass().0, dry_kg, 1e-6);
    assert_near(CutList::of(&lining).mixes[0].dry.0, dry_kg, 1e-6);
}

/// Makers' general sheets, computed: a bore of 200 x 300 mm with 12 mm of insulating castable is 3.4 kg and holds 0.64 kg.
#[test]
fn a_hard_face_weighs_and_holds_what_the_trade_reckons() {
    let shape = "shape = \"barrel\"\nbore = \"200 mm\"\nlength = \"300 mm\"";
    let mix = cut(&section(shape, &[("forge-castable", "12 mm")])).mixes.remove(0);
    assert_near(mix.dry.0, 3.4, 0.05);
    assert_near(mix.dry.0 * mix.water[1], 0.64, 0.005);
    assert_near(mix.batch_water()[1].0, 1.10 * 0.64, 0.006);
}

/// Makers' general sheets: 3.6 L/m² on a bore of 200 x 300 mm (0.1885 m²) is 0.68 L; one part of powder to four of water.
#[test]
fn rigidiser_is_what_the_trade_reckons() {
    let shape = "shape = \"barrel\"\nbore = \"200 mm\"\nlength = \"300 mm\"";
    let soak = cut(&section(shape, &[("rigidised-fibre", "50 mm")])).soaks.remove(0);
    assert_near(soak.water_l, 0.68, 0.005);
    assert_near(soak.powder_l, 0.17, 0.002);
}

/// By hand: 1 m x 0.5 m x 40 mm of dense castable is 20 L, 44 kg; with a tenth to spare 48.4 kg, ten batches of 4.84 kg, with 11.5 %
/// 556.6 g of water each; the sheet says 10 to 13 %, a trim of a tenth 10.35 to 12.65 %; two bags of 25 kg.
#[test]
fn a_batch_is_weighed_as_worked_by_hand() {
    let shape = "shape = \"flat\"\nwidth = \"1 m\"\nlength = \"500 mm\"";
    let list = cut(&section(shape, &[("dense-castable", "40 mm")]));
    let mix = &list.mixes[0];
    assert_eq!((mix.batches, list.packs[0].count), (10, 2));
    assert_near(mix.batch().0, 4.84, 1e-9);
    let [least, decided, most] = mix.batch_water();
    assert_near(decided.0, 0.5566, 1e-9);
    assert_near(least.0, 4.84 * 0.1035, 1e-9);
    assert_near(most.0, 4.84 * 0.1265, 1e-9);
}

/// An arch over half a circle is half a tube: pi (R² - r²) / 2 times the length, geometry.
#[test]
fn a_half_round_arch_is_half_a_tube() {
    let shape = "shape = \"arch\"\nspan = \"600 mm\"\nrise = \"300 mm\"\nlength = \"650 mm\"";
    let list = cut(&section(shape, &[("dense-castable", "100 mm"), ("fibre-blanket-96", "25 mm")]));
    assert_near(list.mixes[0].volume_m3, PI * (0.16 - 0.09) / 2.0 * 0.650, 1e-9);
    assert_near(list.sheets[0].length.mm() - 10.0, PI * 412.5, 1e-6);
}

#[test]
fn prices_add_up_over_rolls_and_bags() {
    let stock = "[stock.dense-castable]\nprice = 40\nbag = \"20 kg\"\n[stock.fibre-blanket-128]\nprice = 60.5\n";
    let shape = "shape = \"flat\"\nwidth = \"1 m\"\nlength = \"500 mm\"";
    let list =
        cut(&format!("{stock}{}", section(shape, &[("dense-castable", "40 mm"), ("fibre-blanket-128", "25 mm")])));
    // 48.4 kg in bags of 20 kg are three; one roll.
    assert_near(list.cost().unwrap(), 3.0 * 40.0 + 60.5, 1e-9);
}

#[test]
fn one_price_that_is_not_given_leaves_the_cost_open() {
    let shape = "shape = \"flat\"\nwidth = \"1 m\"\nlength = \"500 mm\"";
    assert_eq!(cut(&section(shape, &[("dense-castable", "40 mm")])).cost(), None);
}

#[test]
fn fibre_and_dry_mix_bring_their_cautions_and_brick_brings_neither() {
    let shape = "shape = \"flat\"\nwidth = \"1 m\"\nlength = \"500 mm\"";
    let cautions = |key| cut(&section(shape, &[(key, "64 mm")])).cautions.join("\n");
    assert!(cautions("fibre-blanket-128").contains("P100") && !cautions("fibre-blanket-128").contains("silica"));
    assert!(cautions("dense-castable").contains("crystalline silica"));
    assert!(!cautions("dense-firebrick").contains("P100"));
}

#[test]
fn every_shipped_lining_has_a_cut_list_that_covers_all_its_layers() {
    for entry in fs::read_dir("schedules").unwrap() {
        let path = entry.unwrap().path();
        let text = fs::read_to_string(&path).unwrap();
        if !text.contains("firstheat lining 1") {
            continue;
        }
        let lining = parse_lining(&text, Materials::built_in()).unwrap();
        let list = CutList::of(&lining);
        for section in &lining.sections {
            for layer in 1..=section.layers.len() {
                let there = list.sheets.iter().any(|sheet| sheet.section == section.name && sheet.layer == layer)
                    || list.mixes.iter().any(|mix| mix.section == section.name && mix.layer == layer)
                    || list.others.iter().any(|other| other.section == section.name && other.layer == layer);
                assert!(there, "{}: {} {layer}", path.display(), section.name);
            }
        }
    }
}

#[test]
fn the_table_reads_back_with_a_csv_reader() {
    let list = cut(&section(WITH_PORT, &[("air-setting-mortar", "3 mm"), ("rigidised-fibre", "50 mm")]));
    let text = table(&list).unwrap();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let of = |item: &str| rows.iter().filter(|row| &row[0] == item).count();
    assert_eq!([of("sheet"), of("hole"), of("place"), of("batch"), of("rigidiser"), of("buy")], [2, 2, 2, 1, 1, 2]);
    let length: f64 = rows.iter().find(|row| &row[0] == "sheet").unwrap()[7].parse().unwrap();
    assert_near(length, list.sheets[0].length.mm(), 0.05);
}

/// The first number in a piece of XML after `name="`.
fn attribute(element: &str, name: &str) -> f64 {
    let from = element.split(&format!(" {name}=\"")).nth(1).unwrap();
    from.split(['"', 'm']).next().unwrap().parse().unwrap()
}

/// SVG 1.1: with width in mm equal to that of the view box, one user unit is one millimetre on paper.
#[test]
fn the_drawing_is_to_the_scale_that_it_says() {
    let list = cut(&section(WITH_PORT, &[("fibre-blanket-128", "25 mm")]));
    let svg = drawing(&list, UnitSystem::Metric);
    let scale: f64 = svg.split("scale 1:").nth(1).unwrap().split(',').next().unwrap().parse().unwrap();
    let box_mm: Vec<f64> = svg
        .split("viewBox=\"")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap()
        .split(' ')
        .map(|n| n.parse().unwrap())
        .collect();
    assert_near(attribute(svg.split("<svg").nth(1).unwrap(), "width"), box_mm[2], 0.051);
    let rectangle = svg.split("<rect").nth(1).unwrap();
    assert_near(attribute(rectangle, "width") * scale, list.sheets[0].length.mm(), 0.01 * scale);
    assert_near(attribute(rectangle, "height") * scale, list.sheets[0].width.mm(), 0.01 * scale);
    let hole = svg.split("<circle").nth(1).unwrap();
    assert_near(attribute(hole, "r") * scale, 25.0, 0.01 * scale);
    assert_near(attribute(hole, "cx") * scale, list.sheets[0].holes[0].along.mm(), 0.01 * scale);
}

/// What is wrong, and the text that the refusal points at.
fn refused(text: &str) -> (String, String) {
    let error = parse_lining(text, Materials::built_in()).unwrap_err();
    let LiningError::Refused(refusals) = &error else { panic!("{error}") };
    let place = refusals[0].place;
    let line = text.lines().nth(place.line - 1).unwrap();
    (refusals[0].fault.to_string(), line.chars().skip(place.column - 1).collect())
}

#[test]
fn a_port_that_sticks_out_is_pointed_at() {
    let layers = section(WITH_PORT, &[("fibre-blanket-128", "25 mm")]);
    let (fault, at) = refused(&text_of(&layers.replace("along = \"200 mm\"", "along = \"390 mm\"")));
    assert_eq!(at, "\"390 mm\"");
    assert!(fault.contains("expected a hole that lies wholly within the length of the part"), "{fault}");
}

#[test]
fn a_port_across_a_round_wall_is_pointed_at() {
    let layers = section(WITH_PORT, &[("fibre-blanket-128", "25 mm")]);
    let (fault, at) = refused(&text_of(&layers.replace("around = \"90 deg\"", "across = \"90 mm\"")));
    assert_eq!(at, "\"90 mm\"");
    assert!(fault.contains("and give `around`"), "{fault}");
}

#[test]
fn a_roll_of_castable_is_pointed_at() {
    let shape = "shape = \"flat\"\nwidth = \"1 m\"\nlength = \"500 mm\"";
    let layers = section(shape, &[("dense-castable", "40 mm")]);
    let (fault, at) = refused(&text_of(&format!("[stock.dense-castable]\nroll-width = \"610 mm\"\n{layers}")));
    assert_eq!(at, "\"610 mm\"");
    assert!(fault.contains("expected it only for fibre"), "{fault}");
    let (fault, _) = refused(&text_of(&format!("[stock.dense-castible]\nprice = 3\n{layers}")));
    assert!(fault.contains("did you mean `dense-castable`?"), "{fault}");
}

#[test]
fn a_floor_too_deep_for_its_bore_is_pointed_at() {
    let shape = "shape = \"flat\"\ncast-in-bore = \"50 mm\"\nlength = \"400 mm\"";
    let (fault, at) = refused(&text_of(&section(shape, &[("bubble-alumina-castable", "30 mm")])));
    assert_eq!(at, "\"50 mm\"");
    assert!(fault.contains("twice as wide"), "{fault}");
}

#[test]
fn half_a_blanket_and_plies_of_castable_are_pointed_at() {
    let shape = "shape = \"flat\"\nwidth = \"1 m\"\nlength = \"500 mm\"";
    let with = |key, plies| {
        text_of(&section(shape, &[(key, "40 mm")]).replace("thickness", &format!("plies = {plies}\nthickness")))
    };
    assert!(refused(&with("fibre-blanket-128", "1.5")).0.contains("a whole number of blankets"));
    assert!(refused(&with("dense-castable", "2")).0.contains("expected it only for fibre"));
}

#[test]
fn the_command_writes_drawing_and_table_and_overwrites_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let lining = dir.path().join("lining.toml");
    fs::write(&lining, text_of(&section(WITH_PORT, &[("fibre-blanket-128", "25 mm")]))).unwrap();
    let run = || {
        let args = ["cuts", "lining.toml", "--svg", "sheets.svg", "--csv", "sheets.csv"];
        let out = Command::cargo_bin("firstheat").unwrap().current_dir(dir.path()).args(args).output().unwrap();
        (out.status.code().unwrap(), String::from_utf8(out.stderr).unwrap())
    };
    assert_eq!(run().0, 0);
    assert!(fs::read_to_string(dir.path().join("sheets.svg")).unwrap().contains("</svg>"));
    let (code, err) = run();
    assert_eq!(code, 2);
    assert!(err.contains("sheets.csv is there already"), "{err}");
}

#[test]
fn a_long_roll_does_not_make_the_sheets_small() {
    let shape = "shape = \"flat\"\nwidth = \"300 mm\"\nlength = \"400 mm\"";
    let long = "shape = \"flat\"\nwidth = \"500 mm\"\nlength = \"7 m\"";
    let of = |shape| section(shape, &[("fibre-blanket-128", "25 mm")]);
    let svg = drawing(&cut(&format!("{}{}", of(shape), of(long).replace("\"wall\"", "\"roof\""))), UnitSystem::Metric);
    let scales: Vec<f64> =
        svg.split("scale 1:").skip(1).map(|rest| rest.split(',').next().unwrap().parse().unwrap()).collect();
    // 400 mm is 80 mm on paper at 1:5, 7 m is 140 mm at 1:50; the two sheets take a roll each.
    assert_eq!(scales, [5.0, 50.0, 5.0, 50.0]);
}

fn as_json(rest: &str) -> serde_json::Value {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("lining.toml"), text_of(rest)).unwrap();
    let args = ["cuts", "lining.toml", "--json"];
    let out = Command::cargo_bin("firstheat").unwrap().current_dir(dir.path()).args(args).output().unwrap();
    serde_json::from_slice(&out.stdout).unwrap()
}

#[test]
fn the_cut_list_as_json_says_what_the_text_says() {
    let list = as_json(&section(WITH_PORT, &[("forge-castable", "12 mm"), ("fibre-blanket-128", "25 mm")]));
    let sheet = &list["sheets"][0];
    assert_near(sheet["length_m"].as_f64().unwrap(), PI * 0.275 + 0.010, 1e-9);
    assert_near(sheet["holes"][0]["across_m"].as_f64().unwrap(), 0.200, 1e-12);
    assert_eq!(sheet["form"]["wrap"]["joint"]["at_deg"].as_f64(), Some(0.0));
    assert!(list["mixes"][0]["dry_kg"].as_f64().unwrap() > 0.0 && list["packs"][0]["size"]["roll"]["width_m"].is_f64());
}

#[test]
fn a_cut_list_in_us_units_says_fahrenheit_and_inches() {
    let list = cut(&section(WITH_PORT, &[("forge-castable", "12 mm"), ("fibre-blanket-128", "25 mm")]));
    let text = page(&list, UnitSystem::Us);
    let work = text.split("Look out").next().unwrap();
    assert!(work.contains("50 to 70 °F") && !work.contains("°C") && !work.contains(" mm"), "{work}");
}
