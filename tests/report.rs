//! The report of a heat-up: what it says, and that its page is right in a browser, on a telephone and on paper.

#![allow(clippy::unwrap_used)]

mod browser;
mod made_heat_up;

use std::fs;
use std::path::PathBuf;
use std::sync::OnceLock;

use assert_cmd::Command;
use serde_json::Value;

/// The made heat-up with its report in both forms, made once.
struct Made {
    _dir: tempfile::TempDir,
    log: PathBuf,
    page: PathBuf,
    code: i32,
    text: String,
    json: Value,
}

const SECTIONS: [&str; 12] = [
    "What to do next",
    "The heat-up in short",
    "Dryness:",
    "Plan against reality",
    "Ramps and their limits",
    "Danger",
    "Steam pressure",
    "Water",
    "Pulses done",
    "Warnings and answers",
    "Interruptions",
    "Probe health",
];

fn made() -> &'static Made {
    static MADE: OnceLock<Made> = OnceLock::new();
    MADE.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap();
        let log = made_heat_up::log(dir.path(), 12);
        let (code, text) = firstheat(&["report", log.to_str().unwrap()]);
        let json = firstheat(&["report", log.to_str().unwrap(), "--json"]).1;
        let page = dir.path().join("heat-up-report.html");
        Made { log, page, code, text, json: serde_json::from_str(&json).unwrap(), _dir: dir }
    })
}

fn firstheat(args: &[&str]) -> (i32, String) {
    let out = Command::cargo_bin("firstheat").unwrap().args(args).output().unwrap();
    let both = [out.stdout, out.stderr].concat();
    (out.status.code().unwrap(), String::from_utf8(both).unwrap())
}

#[test]
fn a_browser_opens_the_page_without_a_complaint() {
    assert_eq!(browser::complaints(&made().page), [""; 0]);
}

#[test]
fn the_page_asks_for_nothing_outside_itself() {
    let page = fs::read_to_string(&made().page).unwrap();
    assert_eq!(browser::fetches(&page), [""; 0]);
    assert!(page.contains("default-src 'none'"));
}

#[test]
fn the_page_fits_a_telephone_of_400_px() {
    assert!(browser::width_needed_px(&made().page, 400) <= 400);
}

#[test]
fn the_page_prints_on_a4_with_every_section() {
    let (size, words) = browser::on_paper(&made().page);
    assert!(size.contains("A4"), "{size}");
    let missing: Vec<&str> = SECTIONS.into_iter().filter(|section| !words.contains(section)).collect();
    assert_eq!(missing, [""; 0]);
}

#[test]
fn a_dry_lining_ends_with_zero_and_the_next_heat() {
    assert_eq!((made().code, made().json["dryness"]["verdict"].as_str()), (0, Some("dry")), "{}", made().text);
    let next = made().json["next"].to_string();
    assert!(next.contains("baseline"), "{next}");
}

#[test]
fn every_pulse_and_the_gas_of_all_of_them_are_told() {
    let burner = &made().json["burner"];
    assert_eq!(burner["pulses"].as_array().unwrap().len(), 12);
    // 12 pulses of 30 s and one minute too much.
    assert!((burner["on_s"].as_f64().unwrap() - 420.0).abs() < 1e-6);
}

#[test]
fn the_gas_is_that_of_the_jet_by_the_trade_s_table() {
    // A jet of 0.035 in gives 1.9 lb/h of propane at 10 psi (table of the trade, from memory): the lining file has 0.9 mm at 0.7 bar.
    let burner = &made().json["burner"];
    let lb_h = burner["gas_kg"].as_f64().unwrap() / 0.453_592 / (burner["on_s"].as_f64().unwrap() / 3600.0);
    assert!((lb_h - 1.9).abs() < 0.15, "{lb_h} lb/h");
}

#[test]
fn a_pulse_that_ran_long_is_named_with_its_excess() {
    let page = fs::read_to_string(&made().page).unwrap();
    assert!(page.contains("11 pulses as asked") && page.contains("1 min late"));
}

#[test]
fn a_warning_stands_with_its_answer_and_its_end() {
    let warning = &made().json["warnings"][0];
    assert_eq!(warning["answer"], serde_json::json!(["off", 20.0]));
    assert_eq!(warning["over_s"].as_f64(), Some(1950.0));
}

#[test]
fn a_pause_is_an_interruption_with_its_length() {
    let pause = &made().json["interruptions"][0];
    assert_eq!((pause["from_s"].as_f64(), pause["to_s"].as_f64()), (Some(3200.0), Some(3320.0)));
}

#[test]
fn a_broken_probe_is_told_with_the_time_it_was_broken_and_what_to_do() {
    assert!(made().text.contains("shell: open: a wire is off from 1:07 until 1:12"), "{}", made().text);
    assert!(made().json["next"].to_string().contains("Probe shell"));
}

#[test]
fn the_ramp_is_that_of_the_readings() {
    // The made hot face rises 400 K in 0.9 of two hours.
    let ramps = made().json["channels"][0]["ramp"].as_array().unwrap();
    let middle = &ramps[ramps.len() / 2];
    let ramp_k_h = middle["ramp_k_h"].as_f64().unwrap();
    assert!((ramp_k_h - 400.0 / 1.8).abs() < 25.0, "{ramp_k_h} K/h");
}

#[test]
fn a_page_that_is_there_is_not_overwritten_unasked() {
    let (code, said) = firstheat(&["report", made().log.to_str().unwrap()]);
    assert!(code == 2 && said.contains("heat-up-report.html"), "{said}");
}

#[test]
fn a_log_that_breaks_off_is_reported_as_far_as_it_goes() {
    let dir = tempfile::tempdir().unwrap();
    let whole = fs::read(&made().log).unwrap();
    let path = dir.path().join("torn.csv");
    fs::write(&path, &whole[..whole.len() * 2 / 3]).unwrap();
    let (code, said) = firstheat(&["report", path.to_str().unwrap()]);
    assert_eq!(code, 1, "{said}");
    assert!(said.contains("the log stops without an end") && said.contains("breaks off after line"), "{said}");
}

#[test]
fn no_name_in_the_log_becomes_markup() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("a<b>&c.csv");
    fs::copy(&made().log, &path).unwrap();
    let page = dir.path().join("page.html");
    firstheat(&["report", path.to_str().unwrap(), "-o", page.to_str().unwrap()]);
    let page = fs::read_to_string(page).unwrap();
    assert!(page.contains("a&lt;b&gt;&amp;c.csv") && !page.contains("<b>&"));
}

#[test]
fn the_report_in_us_units_says_fahrenheit_psi_and_pounds() {
    let dir = tempfile::tempdir().unwrap();
    let page = dir.path().join("us.html");
    let args = ["report", made().log.to_str().unwrap(), "--units", "us", "-o", page.to_str().unwrap()];
    let (_, text) = firstheat(&args);
    let page = fs::read_to_string(page).unwrap();
    assert!(text.contains(" psi, at ") && text.contains("°F/h while wet") && text.contains(" oz of propane"), "{text}");
    assert!(page.contains("°F over hours") && page.contains("pores, psi") && page.contains("Water left, lb"));
    assert!(!page.contains("°C") && !page.contains("MPa"), "{page}");
}

#[test]
fn the_page_is_dark_where_the_readers_system_is() {
    let [dark, light] = [0, 1].map(|scheme| browser::paper_and_ink(&made().page, scheme));
    assert_eq!(
        (dark.as_str(), light.as_str()),
        ("rgb(27, 26, 24) rgb(233, 229, 221)", "rgb(251, 250, 247) rgb(35, 33, 30)")
    );
}

/// Relative luminance of a colour written as `#rrggbb` (WCAG 2.1).
fn luminance(colour: &str) -> f64 {
    let part = |at: usize| {
        let value = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).unwrap()) / 255.0;
        if value <= 0.03928 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
}

/// Contrast of two colours, 1 to 21 (WCAG 2.1).
fn contrast(one: &str, other: &str) -> f64 {
    let (one, other) = (luminance(one), luminance(other));
    (one.max(other) + 0.05) / (one.min(other) + 0.05)
}

/// WCAG 2.1, 1.4.3 and 1.4.11: 4.5 for text, 3 for the lines of a plot, against the paper in light and in dark.
#[test]
fn words_and_lines_stand_out_from_the_paper_in_light_and_dark() {
    let css = include_str!("../src/report/page.css");
    let palettes: Vec<&str> = css.split("--paper:").skip(1).map(|rest| rest.split('}').next().unwrap()).collect();
    assert_eq!(palettes.len(), 3, "light, dark, print");
    for palette in &palettes[..2] {
        let paper = &palette[..7];
        for pair in palette.split(';').skip(1) {
            let (name, colour) = pair.split_once(':').unwrap();
            let least = match name {
                "--rule" | "--box" | "--band" => continue,
                line if line.starts_with("--c") || line == "--burnt" => 3.0,
                _ => 4.5,
            };
            let found = contrast(paper, colour);
            assert!(found >= least, "{name} {colour} on {paper}: {found:.2}, expected {least}");
        }
    }
}

/// The picture in the README is small enough for a page of words.
#[test]
fn the_picture_of_the_report_is_small() {
    let picture = fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/browser/report.png")).unwrap();
    assert_eq!(&picture[1..4], b"PNG");
    assert!(picture.len() < 150_000, "{} bytes", picture.len());
}
