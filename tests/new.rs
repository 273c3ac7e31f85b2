//! `new`: what it writes reads back, means what was said, and can be checked and planned; what is wrong is said plainly.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use firstheat::lining::material::Materials;
use firstheat::lining::starts::{STARTS, lining_text, questions};
use firstheat::lining::text::parse_lining;
use firstheat::lining::{Lining, Shape};
use firstheat::physics::{Belief, Ensemble, Furnace, Grid};

fn firstheat(dir: &Path, args: &[&str], said: &str) -> (i32, String, String) {
    let mut command = Command::cargo_bin("firstheat").unwrap();
    let out = command.current_dir(dir).args(args).write_stdin(said).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (out.status.code().unwrap(), text(out.stdout), text(out.stderr))
}

fn read(path: &Path) -> Lining {
    parse_lining(&fs::read_to_string(path).unwrap(), Materials::built_in()).unwrap_or_else(|error| panic!("{error}"))
}

#[test]
fn every_starting_point_makes_a_lining_that_the_engine_takes() {
    for (word, start, _) in STARTS {
        let text = lining_text(*start, |_| None).unwrap();
        let lining = parse_lining(&text, Materials::built_in()).unwrap_or_else(|error| panic!("{word}: {error}"));
        let furnace = Furnace::of(&lining, Grid::Usual);
        Ensemble::new(&furnace, Belief { members: 1, seed: 1 }).unwrap_or_else(|error| panic!("{word}: {error}"));
        assert!(text.lines().filter(|line| line.starts_with('#')).count() >= 5, "{word} has few comments");
    }
}

#[test]
fn every_usual_answer_is_an_answer() {
    for (word, start, _) in STARTS {
        for question in questions(*start) {
            question.understood(question.usual).unwrap_or_else(|error| panic!("{word} {}: {error}", question.key));
            assert!(!question.why.is_empty());
        }
    }
}

#[test]
fn flags_alone_write_a_file_that_check_and_cuts_take() {
    let dir = tempfile::tempdir().unwrap();
    let args = [
        "new",
        "--what",
        "barrel-forge",
        "--diameter",
        "10 in",
        "--length",
        "350mm",
        "--name",
        "Test forge",
        "-o",
        "f.toml",
    ];
    let (code, out, err) = firstheat(dir.path(), &args, "");
    assert_eq!((code, err.as_str()), (0, ""), "{out}");
    assert!(out.contains("254 mm (10 in)"), "{out}");
    let lining = read(&dir.path().join("f.toml"));
    let Shape::Barrel { bore, .. } = lining.sections[0].shape else { panic!("not round") };
    assert!((bore.mm() - (254.0 - 106.0)).abs() < 1e-9, "{bore:?}");
    assert_eq!(firstheat(dir.path(), &["check", "f.toml"], "").0, 0);
    assert_eq!(firstheat(dir.path(), &["cuts", "f.toml"], "").0, 0);
}

#[test]
fn a_written_file_can_be_planned() {
    let dir = tempfile::tempdir().unwrap();
    let args = [
        "new",
        "--what",
        "box-forge",
        "--layers",
        "3 mm air-setting-mortar, 25 mm rigidised-fibre",
        "--floor",
        "10 mm bubble-alumina-castable",
        "--drying",
        "7 days",
        "-o",
        "f.toml",
    ];
    assert_eq!(firstheat(dir.path(), &args, "").0, 0);
    let (code, out, err) = firstheat(dir.path(), &["plan", "f.toml", "--members", "1", "-o", "p.toml"], "");
    assert_eq!(code, 0, "{out}{err}");
}

#[test]
fn questions_are_asked_until_the_answers_make_a_lining() {
    let dir = tempfile::tempdir().unwrap();
    // Start by its number; name; a bare number refused, then inches; the rest as usual; written on Enter.
    let said = "2\nOur melter\n380\n15 in\n\n\n\n\n\n\n\n\n\n\n\n";
    let (code, out, err) = firstheat(dir.path(), &["new"], said);
    assert_eq!((code, err.as_str()), (0, ""), "{out}");
    assert!(out.contains("found \"380\" without a unit") && out.contains("381 mm (15 in)"), "{out}");
    let lining = read(&dir.path().join("our-melter.toml"));
    assert_eq!(lining.name, "Our melter");
    assert_eq!(lining.sections.len(), 3);
}

#[test]
fn answers_that_do_not_fit_together_are_asked_again() {
    let dir = tempfile::tempdir().unwrap();
    let first = "1\n\n100 mm\n\n\n\n\n\n\n\n\n\n";
    let second = "\n250 mm\n\n\n\n\n\n\n\n\n\nyes\n";
    let (code, out, err) = firstheat(dir.path(), &["new", "-o", "f.toml"], &format!("{first}{second}"));
    assert_eq!((code, err.as_str()), (0, ""), "{out}");
    assert!(out.contains("which leaves a bore of"), "{out}");
    read(&dir.path().join("f.toml"));
}

#[test]
fn questions_that_end_too_early_write_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let (code, _, err) = firstheat(dir.path(), &["new", "-o", "f.toml"], "1\n\n");
    assert_eq!(code, 2);
    assert!(err.contains("found the end of the answers") && err.contains("--what"), "{err}");
    assert!(!dir.path().join("f.toml").exists());
}

#[test]
fn what_is_wrong_in_a_flag_is_said_with_what_would_do() {
    let dir = tempfile::tempdir().unwrap();
    let new = |more: &[&str]| firstheat(dir.path(), &[&["new", "--what", "barrel-forge"], more].concat(), "");
    for (flags, part) in [
        (&["--diameter", "300"][..], "--diameter cannot be used: found \"300\" without a unit"),
        (&["--diameter", "90 m"], "expected 80 mm (3.15 in) to 3000 mm (118.11 in)"),
        (&["--layers", "50 mm fibre-blanket"], "did you mean `fibre-blanket-"),
        (&["--layers", "dense-castable"], "expected a thickness and a material"),
        (&["--burner", "hot"], "expected a heat flow"),
        (&["--span", "600 mm"], "found --span for a barrel-forge, expected only --name"),
        (&["--diameter", "100 mm"], "these answers do not make a lining"),
    ] {
        let (code, _, err) = new(flags);
        assert_eq!(code, 2, "{flags:?}");
        assert!(err.contains(part), "{flags:?}: {err}");
    }
    let (code, _, err) = firstheat(dir.path(), &["new", "--what", "boat"], "");
    assert_eq!(code, 2);
    assert!(err.contains("expected one of barrel-forge, melter, box-forge, kiln-arch"), "{err}");
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 0);
}

#[test]
fn a_file_that_is_there_is_told_before_the_questions() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("f.toml"), "mine").unwrap();
    let (code, out, err) = firstheat(dir.path(), &["new", "-o", "f.toml"], "1\n");
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("is there already"), "{err}");
}
