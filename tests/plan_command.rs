//! `plan` and `check --lining` as a person runs them: files, exit codes, and a card that fits a page.

#![allow(clippy::unwrap_used)]

mod browser;

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
    let words = [
        "Carbon monoxide",
        "Every pulse is a light-up",
        "57 to 87 %",
        "When to stop",
        "Local codes",
        "silica dust",
        "Emergency",
    ];
    for word in words {
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
    let in_one_line = told.err.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(in_one_line.contains("nearest change: a ramp limit of "), "{}", told.err);
    assert!(in_one_line.contains("then a heat-up of about"), "{}", told.err);
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
    assert!(told.out.contains("note: the plan file gives other limits"), "{}", told.out);
}

#[test]
fn a_limit_that_is_passed_is_told_with_its_round_its_time_and_a_change_that_keeps_it() {
    let dir = bench();
    let mut plan = parse_plan(&plan_text()).unwrap();
    let at = plan.rounds.len() / 2;
    plan.rounds[at].on.0 *= 4.0;
    fs::write(dir.path().join("plan.toml"), firstheat::plan::text::write_plan(&plan)).unwrap();
    let told = firstheat(dir.path(), &["check", "plan.toml", "--lining", "roof.toml", "--members", "8"]);
    assert_eq!(told.code, 1, "{}", told.out);
    let found = told.out.lines().find(|line| line.contains("NOT SAFE: ")).unwrap();
    let round: usize = found.split("round ").nth(1).unwrap().split(',').next().unwrap().parse().unwrap();
    assert!(
        (at + 1..at + 4).contains(&round) && found.contains(" after the first flame: "),
        "round {}: {found}",
        at + 1
    );
    assert!(told.out.contains("  change: "), "{}", told.out);
}

/// A plan with somebody there from 8:00 to 8:10 and again from 10:00 on.
fn with_a_pause() -> &'static (TempDir, Told) {
    static PAUSED: OnceLock<(TempDir, Told)> = OnceLock::new();
    PAUSED.get_or_init(|| {
        let dir = bench();
        let watch = ["--start", "2026-05-02 08:00", "--watch", "08:00-08:10,10:00-18:00"];
        let args = ["plan", "roof.toml", "--members", "8", "-o", "plan.toml", "--page", "card.html"];
        let told = firstheat(dir.path(), &[&args[..], &watch[..]].concat());
        (dir, told)
    })
}

/// When pulses begin and end, min.
fn pulses(plan: &firstheat::plan::Plan) -> Vec<(f64, f64)> {
    let (mut at_s, mut pulses) = (0.0, Vec::new());
    for round in &plan.rounds {
        for _ in 0..round.count {
            pulses.push((at_s / 60.0, (at_s + round.on.0) / 60.0));
            at_s += round.on.0 + round.off.0;
        }
    }
    pulses
}

#[test]
fn no_pulse_falls_into_hours_in_which_nobody_is_there() {
    let (dir, told) = with_a_pause();
    assert_eq!(told.code, 0, "{}", told.err);
    let plan = parse_plan(&fs::read_to_string(dir.path().join("plan.toml")).unwrap()).unwrap();
    let pulses = pulses(&plan);
    assert!(pulses.iter().all(|&(from, to)| to <= 10.0 || from >= 120.0 - 1e-6), "{pulses:?}");
    assert!(pulses.iter().any(|pulse| pulse.1 <= 10.0) && pulses.iter().any(|pulse| pulse.0 >= 120.0));
    let check = firstheat(dir.path(), &["check", "plan.toml", "--lining", "roof.toml", "--members", "8"]);
    assert_eq!(check.code, 0, "{}", check.out);
}

#[test]
fn what_cooled_in_a_pause_is_heated_anew_from_where_it_is() {
    let plan = parse_plan(&fs::read_to_string(with_a_pause().0.path().join("plan.toml")).unwrap()).unwrap();
    let hot_c = |min: f64| {
        let near = plan
            .expected
            .iter()
            .min_by(|a, b| (a.elapsed.0 / 60.0 - min).abs().total_cmp(&(b.elapsed.0 / 60.0 - min).abs()));
        near.unwrap().hot_face[1].0
    };
    let (before, after) = (hot_c(10.0), hot_c(120.0));
    assert!(after < 0.6 * before && after > 20.0, "{before} then {after}");
}

#[test]
fn the_card_with_a_start_has_clock_times_and_says_which_hours_need_a_person() {
    let card = &with_a_pause().1.out;
    for words in
        ["begin    Sat 2 May 2026, 08:00; done Sat 2 May 2026, ", "people   needed for ", "then OFF until 10:0", "08:0"]
    {
        assert!(card.contains(words), "no {words:?} in\n{card}");
    }
    assert!(card.lines().all(|line| line.chars().count() <= 80), "{card}");
}

#[test]
fn a_start_at_which_nobody_is_there_is_refused() {
    let args = ["plan", "roof.toml", "--start", "2026-05-02 07:00", "--watch", "08:00-18:00"];
    let told = firstheat(bench().path(), &args);
    assert_eq!(told.code, 2);
    assert!(told.err.contains("outside the watch `08:00-18:00`"), "{}", told.err);
}

#[test]
fn the_page_opens_without_a_complaint_and_asks_for_nothing() {
    let page = with_a_pause().0.path().join("card.html");
    assert_eq!(browser::complaints(&page), [""; 0]);
    assert_eq!(browser::fetches(&fs::read_to_string(&page).unwrap()), [""; 0]);
    assert!(browser::width_needed_px(&page, 400) <= 400);
}

#[test]
fn the_page_prints_on_one_sheet_of_a4_with_all_that_the_card_says() {
    let page = with_a_pause().0.path().join("card.html");
    let (size, words) = browser::on_paper(&page);
    assert!(size.contains("A4"), "{size}");
    assert_eq!(browser::sheets(&page), 1);
    for said in ["First heat of: box forge roof", "then OFF until 10:0", "Signs of trouble", "Emergency number"] {
        assert!(words.contains(said), "no {said:?} in {words}");
    }
}

/// What is said to be saved is the difference of the two lengths, and drying in warm air leaves less water than in cool.
#[test]
fn advice_is_computed_and_adds_up() {
    let dir = bench();
    let told = firstheat(dir.path(), &["plan", "roof.toml", "--members", "8", "--json", "--why", "--dry"]);
    assert_eq!(told.code, 0, "{}", told.err);
    let json: serde_json::Value = serde_json::from_str(&told.out).unwrap();
    for advice in [&json["changes"]["effects"], &json["drying"]["ways"]] {
        let whole = if advice == &json["changes"]["effects"] { &json["changes"] } else { &json["drying"] };
        let as_it_is = whole["as_it_is"].as_f64().unwrap();
        assert!(advice.as_array().unwrap().len() >= 4, "{advice}");
        for one in advice.as_array().unwrap() {
            if let Some(length) = one["length"].as_f64() {
                assert!((as_it_is - length - one["saves"].as_f64().unwrap()).abs() < 1e-6, "{one}");
            }
        }
    }
    let gone = |way: usize| json["drying"]["ways"][way]["water_gone"].as_f64().unwrap();
    assert!(gone(2) > gone(0) && gone(8) > gone(2), "a week more than a day, warm more than cool");
    assert!(!json["why"].as_array().unwrap().is_empty());
}
