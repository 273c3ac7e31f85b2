//! `plan` and `check --lining` as a person runs them: files, exit codes, and a card that fits a page.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;
use std::sync::OnceLock;

use assert_cmd::Command;
use firstheat::plan::text::parse_plan;
use tempfile::TempDir;

/// A thin coat on fibre that need not get hot: a plan is found in seconds.
const LINING: &str = r#"
format = "firstheat lining 1"
name = "box forge roof"

[place]
temperature = "20 C"
humidity = "50 %"

[burner]
jet = "0.035 in"
pressure = "10 psi"

[[chamber.opening]]
name = "mouth"
diameter = "100 mm"

[goal]
soak-temperature = "200 C"
soak-time = "1 min"

[[section]]
name = "roof"
shape = "disc"
diameter = "300 mm"
back = "sealed steel"
steel = "2 mm"

[[section.layer]]
material = "air-setting-mortar"
thickness = "3 mm"
air-dried = "7 days"

[[section.layer]]
material = "fibre-blanket-128"
thickness = "50 mm"
"#;

struct Told {
    code: i32,
    out: String,
    err: String,
}

fn firstheat(dir: &Path, args: &[&str]) -> Told {
    let out = Command::cargo_bin("firstheat").unwrap().current_dir(dir).args(args).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    Told { code: out.status.code().unwrap(), out: text(out.stdout), err: text(out.stderr) }
}

fn bench() -> TempDir {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("roof.toml"), LINING).unwrap();
    dir
}

/// A directory in which a plan was made once, and what was told of it.
fn planned() -> &'static (TempDir, Told) {
    static PLANNED: OnceLock<(TempDir, Told)> = OnceLock::new();
    PLANNED.get_or_init(|| {
        let dir = bench();
        let told = firstheat(dir.path(), &["plan", "roof.toml", "--members", "8"]);
        (dir, told)
    })
}

fn plan_text() -> String {
    fs::read_to_string(planned().0.path().join("roof-plan.toml")).unwrap()
}

#[test]
fn a_plan_goes_to_a_file_named_after_the_lining() {
    let told = &planned().1;
    assert_eq!(told.code, 0, "{}", told.err);
    assert!(told.err.contains("plan file: roof-plan.toml"), "{}", told.err);
    assert_eq!(parse_plan(&plan_text()).unwrap().lining, "box forge roof");
}

#[test]
fn nothing_of_the_progress_is_left_where_there_is_no_terminal() {
    assert_eq!(planned().1.err.lines().count(), 2, "{}", planned().1.err);
}

/// A page of a common printer: 80 columns; 66 lines (common practice, no source).
#[test]
fn the_card_of_a_short_plan_fits_a_page() {
    let card = &planned().1.out;
    let widest = card.lines().map(|line| line.chars().count()).max().unwrap();
    assert!(widest <= 80 && card.lines().count() <= 66, "{widest} columns, {} lines\n{card}", card.lines().count());
}

#[test]
fn the_card_has_a_line_for_each_round_and_the_cautions() {
    let card = &planned().1.out;
    let plan = parse_plan(&plan_text()).unwrap();
    let rounds = card.lines().filter(|line| line.contains(" s on, ") || line.contains(" min on, ")).count();
    assert_eq!(rounds, plan.rounds.len(), "{card}");
    for word in ["Carbon monoxide", "Every pulse is a light-up", "57 to 87 %", "When to stop", "Local codes"] {
        assert!(card.contains(word), "no {word:?} in\n{card}");
    }
}

#[test]
fn a_plan_that_is_there_is_not_overwritten_and_no_time_is_lost_on_it() {
    let dir = bench();
    fs::write(dir.path().join("mine.toml"), "mine").unwrap();
    let told = firstheat(dir.path(), &["plan", "roof.toml", "-o", "mine.toml"]);
    assert_eq!(told.code, 2);
    assert!(told.err.contains("mine.toml is there already"), "{}", told.err);
    assert_eq!(fs::read_to_string(dir.path().join("mine.toml")).unwrap(), "mine");
}

#[test]
fn force_replaces_a_plan_and_json_says_the_same_as_the_file() {
    let dir = bench();
    fs::write(dir.path().join("mine.toml"), "mine").unwrap();
    let args = ["plan", "roof.toml", "-o", "mine.toml", "--force", "--json", "--members", "8"];
    let told = firstheat(dir.path(), &args);
    assert_eq!(told.code, 0, "{}", told.err);
    let json: serde_json::Value = serde_json::from_str(&told.out).unwrap();
    let plan = parse_plan(&fs::read_to_string(dir.path().join("mine.toml")).unwrap()).unwrap();
    assert_eq!(json["rounds"].as_array().unwrap().len(), plan.rounds.len());
    assert!((json["length_s"].as_f64().unwrap() - plan.length().0).abs() < 1e-6, "{}", json["length_s"]);
    let (danger, ceiling) = (json["findings"]["danger"].as_f64().unwrap(), plan.limits.danger_ceiling);
    assert!(danger > 0.0 && danger <= ceiling, "{danger} of {ceiling}");
    assert_eq!(fs::read_dir(dir.path()).unwrap().count(), 2, "a file is left over");
}

#[test]
fn the_same_lining_and_seed_give_the_same_plan_to_the_last_bit() {
    let dir = bench();
    firstheat(dir.path(), &["plan", "roof.toml", "-o", "again.toml", "--members", "8", "--units", "us"]);
    assert_eq!(fs::read_to_string(dir.path().join("again.toml")).unwrap(), plan_text());
}

/// A degree an hour is less than the gentlest pulse of any burner by hand brings.
#[test]
fn a_lining_without_a_safe_heat_up_ends_with_one_and_says_what_to_change() {
    let dir = bench();
    fs::write(dir.path().join("roof.toml"), LINING.replace("[goal]", "[goal]\nramp = \"1 C/h\"")).unwrap();
    let told = firstheat(dir.path(), &["plan", "roof.toml", "-o", "plan.toml", "--members", "8"]);
    assert_eq!((told.code, told.out.as_str()), (1, ""), "{}", told.err);
    assert!(told.err.contains("box forge roof") && told.err.contains("dry the lining longer"), "{}", told.err);
    assert!(!dir.path().join("plan.toml").exists());
}

#[test]
fn a_plan_as_it_was_found_keeps_its_limits_when_it_is_checked() {
    let dir = bench();
    fs::write(dir.path().join("plan.toml"), plan_text()).unwrap();
    let told = firstheat(dir.path(), &["check", "plan.toml", "--lining", "roof.toml", "--members", "8"]);
    assert_eq!(told.code, 0, "{}{}", told.out, told.err);
    assert!(!told.out.contains("note:"), "{}", told.out);
}

#[test]
fn a_plan_that_was_made_too_strong_by_hand_is_not_safe_whatever_limits_it_gives() {
    let dir = bench();
    let mut plan = parse_plan(&plan_text()).unwrap();
    plan.rounds[0].on.0 *= 6.0;
    plan.limits.ramp.0 *= 100.0;
    fs::write(dir.path().join("plan.toml"), firstheat::plan::text::write_plan(&plan)).unwrap();
    let told = firstheat(dir.path(), &["check", "plan.toml", "--lining", "roof.toml", "--members", "8"]);
    assert_eq!(told.code, 1, "{}{}", told.out, told.err);
    assert!(
        told.out.contains("NOT SAFE: ") && told.out.contains("note: the plan file gives other limits"),
        "{}",
        told.out
    );
}
