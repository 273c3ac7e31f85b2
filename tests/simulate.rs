//! `simulate` on linings: published schedules, a person's own, and plans, side by side.

#![allow(clippy::unwrap_used)]

use std::fs;

use assert_cmd::Command;
use serde_json::Value;

fn simulate(args: &[&str]) -> (i32, String, String) {
    let out = Command::cargo_bin("firstheat").unwrap().arg("simulate").args(args).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (out.status.code().unwrap(), text(out.stdout), text(out.stderr))
}

fn trials(args: &[&str]) -> (i32, Value) {
    let (code, out, err) = simulate(&[args, &["--members", "8", "--json"]].concat());
    assert!(code < 2, "{err}");
    (code, serde_json::from_str(&out).unwrap())
}

const BARREL: &str = "schedules/cast-barrel-75.toml";

#[test]
fn schedules_stand_side_by_side_with_their_caution() {
    let (code, out, err) = simulate(&[BARREL, "--schedule", "C", "N", "--members", "4"]);
    assert!(code < 2, "{err}");
    let head = out.lines().nth(2).unwrap();
    assert!(head.contains('C') && head.contains('N'), "{out}");
    for words in
        ["danger number", "peak pressure, MPa", "95 % of water out, h", "hottest shell, C", "drives the chamber gas"]
    {
        assert!(out.contains(words), "no {words} in {out}");
    }
    assert!(out.contains("miss measured ones by 57 to 87 %"), "{out}");
}

#[test]
fn holds_are_counted_by_the_thickness_of_the_lining() {
    // Schedule C at 75 mm: 157 K and 363 K at 56 K/h, two holds of 1 h per inch (the trade's table gives 13.2 h at 50 mm).
    let (_, json) = trials(&[BARREL, "--schedule", "C"]);
    let trial = &json["schedules"][0]["trial"];
    let start_c = trial["rows"][0]["gas"].as_f64().unwrap();
    let expected_h = (540.0 - start_c) / 56.0 + 2.0 * 75.0 / 25.4;
    let length_h = trial["length"].as_f64().unwrap() / 3600.0;
    assert!((length_h - expected_h).abs() < 0.01, "{length_h} instead of {expected_h} h");
}

#[test]
fn water_only_leaves_and_ranges_are_in_order() {
    let (_, json) = trials(&[BARREL, "--schedule", "C"]);
    let trial = &json["schedules"][0]["trial"];
    let triple =
        |value: &Value| -> Vec<f64> { value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap()).collect() };
    let out: Vec<f64> = trial["rows"].as_array().unwrap().iter().map(|row| triple(&row["water_out_kg"])[1]).collect();
    assert!(out.len() >= 12 && out.windows(2).all(|pair| pair[1] >= pair[0] - 1e-9), "{out:?}");
    assert!(*out.last().unwrap() <= triple(&trial["water_start_kg"])[2]);
    for key in ["danger", "pressure_pa", "shell_c"] {
        let range = triple(&trial[key]);
        assert!(range[0] <= range[1] && range[1] <= range[2], "{key}: {range:?}");
    }
}

/// Common practice, no source: a schedule that goes at 5000 K/h spalls a thick wet casting; a slow one is gentler.
#[test]
fn a_reckless_schedule_reaches_danger_and_ends_with_one() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("reckless.toml");
    let text = "format = \"firstheat schedule 1\"\ntitle = \"reckless\"\n[[step]]\nramp = \"5000 C/h\"\nto = \"1300 C\"\nhold = \"1 h\"\n";
    fs::write(&path, text).unwrap();
    let (code, json) = trials(&[BARREL, "--schedule", path.to_str().unwrap(), "N"]);
    let danger = |index: usize| json["schedules"][index]["trial"]["danger"][2].as_f64().unwrap();
    assert!(danger(0) > 1.0 && danger(0) > danger(1), "{} and {}", danger(0), danger(1));
    assert_eq!(code, 1);
    assert_eq!(json["schedules"][0]["safe"], false);
}

#[test]
fn gas_use_stands_beside_every_schedule() {
    let (_, json) = trials(&[BARREL, "--schedule", "C", "H"]);
    let fuel_kg = |index: usize| json["schedules"][index]["trial"]["fuel"].as_f64().unwrap();
    assert!(fuel_kg(0) > 0.1 && fuel_kg(1) > fuel_kg(0), "{} and {} kg", fuel_kg(0), fuel_kg(1));
}

#[test]
fn two_schedules_that_contradict_each_other_are_answered_in_one_sentence() {
    let (code, out, err) = simulate(&[BARREL, "--schedule", "C", "--schedule", "H", "--members", "4"]);
    assert!(code < 2, "{err}");
    let said: Vec<&str> = out.lines().filter(|line| line.starts_with("Take ") || line.starts_with("None ")).collect();
    assert_eq!(said.len(), 1, "{out}");
    let (_, json) = trials(&[BARREL, "--schedule", "C", "H"]);
    assert!(json["answer"].as_str().unwrap().ends_with('.'), "{}", json["answer"]);
}

#[test]
fn one_schedule_is_not_held_against_itself() {
    let (_, json) = trials(&[BARREL, "--schedule", "N"]);
    assert!(json["answer"].is_null(), "{}", json["answer"]);
}

#[test]
fn steam_and_thermal_tension_stand_apart_for_each_section() {
    let (_, json) = trials(&[BARREL, "--schedule", "C"]);
    let trial = &json["schedules"][0]["trial"];
    let sections = trial["sections"].as_array().unwrap();
    assert_eq!(sections.len(), 3);
    for section in sections {
        let of = |key: &str| section[key].as_f64().unwrap();
        let danger = section["danger"][2].as_f64().unwrap();
        assert!((of("steam") + of("thermal") - danger).abs() < 1e-9, "{section}");
        assert!(of("steam") > 0.0, "{section}");
        assert!(section["place"].as_str().unwrap().contains("MPa against"), "{section}");
    }
}

#[test]
fn every_cell_of_a_section_is_given_with_both_parts() {
    let (_, json) = trials(&[BARREL, "--schedule", "C"]);
    let cells = json["schedules"][0]["trial"]["sections"][0]["cells"].as_array().unwrap();
    assert!(cells.len() >= 50, "{}", cells.len());
    let depths: Vec<f64> = cells.iter().map(|cell| cell["depth"].as_f64().unwrap()).collect();
    assert!(depths.windows(2).all(|pair| pair[0] < pair[1]) && depths[0] > 0.0, "{depths:?}");
    for cell in cells {
        let of = |key: &str| cell[key].as_f64().unwrap();
        let gauge_pa = (of("pressure") - 101_325.0).max(0.0);
        assert!((of("steam") * of("strength") - gauge_pa).abs() < 1.0 && of("thermal") >= 0.0, "{cell}");
    }
}

#[test]
fn the_table_says_what_of_the_danger_is_steam_and_where() {
    let (_, out, _) = simulate(&[BARREL, "--schedule", "C", "--members", "4"]);
    for words in ["of the high, steam", "and thermal tension", "floor: ", "MPa against"] {
        assert!(out.contains(words), "no {words} in {out}");
    }
}

#[test]
fn all_published_schedules_fit_one_table_with_its_caveats() {
    let (code, out, err) = simulate(&["schedules/yardstick-coat-3.toml", "--published", "--members", "1"]);
    assert_eq!(code, 0, "{err}");
    for letter in "ABCDEFGHIJKLMNOPQ".chars() {
        assert!(out.lines().any(|line| line.starts_with(&format!("{letter}   "))), "no {letter} in {out}");
    }
    for words in ["none is the standard", "cannot follow them", "miss measured ones by 57 to 87 %"] {
        assert!(out.contains(words), "no {words} in {out}");
    }
}

#[test]
fn a_plan_drives_the_burner() {
    let (_, json) = trials(&["schedules/thin-coat-forge.toml", "--schedule", "tests/plans/gentle-pulses.toml"]);
    let tried = &json["schedules"][0];
    assert_eq!(tried["drives"], "burner");
    assert!(tried["trial"]["fuel"].as_f64().unwrap() > 0.0, "{tried}");
}

#[test]
fn the_same_seed_gives_the_same_numbers() {
    let once = trials(&[BARREL, "--schedule", "N", "--seed", "7"]);
    assert_eq!(once, trials(&[BARREL, "--schedule", "N", "--seed", "7"]));
}

#[test]
fn what_is_no_schedule_is_refused_in_words_that_help() {
    let dir = tempfile::tempdir().unwrap();
    let in_dir = |name: &str, text: &str| {
        let path = dir.path().join(name);
        fs::write(&path, text).unwrap();
        path.to_str().unwrap().to_owned()
    };
    let head = "format = \"firstheat schedule 1\"\n";
    let files = [
        in_dir("bare.toml", &format!("{head}title = \"x\"\n[[step]]\nramp = 50\nto = \"100 C\"\n")),
        in_dir("none.toml", &format!("{head}title = \"x\"\n")),
        in_dir(
            "key.toml",
            &format!("{head}title = \"x\"\n[[step]]\nramp = \"50 C/h\"\nto = \"100 C\"\nholds = \"1 h\"\n"),
        ),
        in_dir("hot.toml", &format!("{head}title = \"x\"\n[[step]]\nramp = \"50 C/h\"\nto = \"9000 C\"\n")),
        in_dir("lining.toml", "format = \"firstheat lining 1\"\n"),
    ];
    let mut words = Vec::new();
    for name in files.iter().map(String::as_str).chain(["Z", "no-such.toml"]) {
        let (code, out, err) = simulate(&[BARREL, "--schedule", name]);
        assert_eq!((code, out.as_str()), (2, ""), "{name}: {err}");
        words.push(err.replace(&format!("{}/", dir.path().display()), ""));
    }
    insta::assert_snapshot!(words.concat());
}

#[test]
fn a_lining_without_a_schedule_is_asked_for_one() {
    let (code, _, err) = simulate(&[BARREL]);
    assert_eq!(code, 2);
    assert!(err.contains("--schedule"), "{err}");
}
