//! Every wall file under `tests/walls` and the documented example, run by the program and held to its expected values: closed
//! forms of Carslaw and Jaeger, Incropera and De Witt, Crank and Bear, an exact similarity solution, a published benchmark
//! and walls computed by an independent code. Each file names its source.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;

fn simulate(args: &[&str]) -> (i32, String, String) {
    let out = Command::cargo_bin("firstheat").unwrap().arg("simulate").args(args).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (out.status.code().unwrap(), text(out.stdout), text(out.stderr))
}

fn wall_files() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir("tests/walls").unwrap().map(|entry| entry.unwrap().path()).collect();
    files.push(PathBuf::from("schedules/wall-r.toml"));
    files.sort();
    files
}

#[test]
fn every_wall_meets_what_is_expected_of_it() {
    let files = wall_files();
    assert!(files.len() >= 28, "{} wall files", files.len());
    let mut wrong = Vec::new();
    for path in &files {
        let (code, out, err) = simulate(&["--wall", path.to_str().unwrap()]);
        if code != 0 || !out.contains("\nexpected ") {
            let missed: Vec<&str> = out.lines().filter(|line| line.ends_with("NOT MET")).collect();
            wrong.push(format!("{}: {code} {err}{}", path.display(), missed.join("\n  ")));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn an_expected_value_that_is_not_met_ends_with_one_and_is_marked() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("wall.toml");
    let text = fs::read_to_string("tests/walls/steel-plate.toml").unwrap().replace("value = 56.788", "value = 66.788");
    fs::write(&path, text).unwrap();
    let (code, out, _) = simulate(&["--wall", path.to_str().unwrap()]);
    assert_eq!(code, 1);
    assert!(out.contains("NOT MET"), "{out}");
}

#[test]
fn a_wall_as_json_holds_the_same_numbers() {
    let (code, out, _) = simulate(&["--wall", "schedules/wall-r.toml", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(code, 0);
    let back_c = json["moments"][3]["temperature_c"][5].as_f64().unwrap();
    assert!((back_c - 353.02).abs() < 1.0, "{back_c}");
    assert!(json["expected"].as_array().unwrap().iter().all(|one| one["met"] == true));
    assert!(json["caution"].as_str().unwrap().contains("57 to 87 %"));
}

/// A slip in the documented example, and the words it is refused in.
fn refusal(from: &str, to: &str) -> String {
    let text = fs::read_to_string("schedules/wall-r.toml").unwrap();
    assert!(text.contains(from), "{from}");
    let dir = tempfile::tempdir().unwrap();
    let path: &Path = &dir.path().join("wall.toml");
    fs::write(path, text.replacen(from, to, 1)).unwrap();
    let (code, out, err) = simulate(&["--wall", path.to_str().unwrap()]);
    assert_eq!((code, out.as_str()), (2, ""), "{err}");
    err.split_once("no usable wall file: ").unwrap_or_else(|| panic!("{err}")).1.to_owned()
}

#[test]
fn every_malformed_wall_is_refused_with_line_and_key() {
    let slips = [
        ("firstheat wall 1", "firstheat wall 9"),
        ("gas-c = [[0, 20], [20880, 600]]", "gas-c = [[0, 20], [0, 600]]"),
        ("gas-c = [[0, 20], [20880, 600]]", ""),
        ("thickness-m = 0.075", "thickness-m = \"75 mm\""),
        ("thickness-m = 0.075", "thickness-m = -0.075"),
        ("porosity = 0.20", "porosity = 20"),
        ("porosity = 0.20", "porosty = 0.20"),
        ("permeability-log10-m2 = [[100, -16]", "permeability-log10-m2 = [[100, 1e-16]"),
        ("permeability-log10-m2 = [[100, -16]", "permeability-log10-m2 = [[100]"),
        ("start-water-kg-m3 = 130", "start-water-kg-m3 = 130\nstart-pressure-pa = 1000"),
        ("vapour = \"leaves\"", "vapour = \"leaks\""),
        ("[cold-face]", "[colder-face]"),
        ("times-s = [7200, 14400", "times-s = [7200, 7200"),
        ("time-s = 7200", "time-s = 7201"),
        ("quantity = \"peak-mpa\"", "quantity = \"peak\""),
        ("density-kg-m3 = 2200", "density-kg-m3 = nan"),
        ("carries-heat = true", "carries-heat = 1"),
    ];
    let words: Vec<String> = slips.iter().map(|(from, to)| format!("{from} -> {to}\n{}", refusal(from, to))).collect();
    insta::assert_snapshot!(words.join("\n"));
}
