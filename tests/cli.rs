//! What the command line answers: help, exit codes, and each refusal in words that help.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;

use assert_cmd::Command;

fn firstheat(dir: &Path, args: &[&str]) -> (i32, String, String) {
    let out = Command::cargo_bin("firstheat").unwrap().current_dir(dir).args(args).output().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (out.status.code().unwrap(), text(out.stdout), text(out.stderr))
}

fn here() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

#[test]
fn help_goes_to_standard_output_with_an_example_for_each_command() {
    for command in ["new", "cuts", "wall", "plan", "simulate", "follow", "replay", "report", "trend", "try", "check"] {
        let (code, out, err) = firstheat(here(), &[command, "--help"]);
        assert_eq!((code, err.as_str()), (0, ""), "{command}");
        assert!(out.contains("Example") && out.contains(&format!("firstheat {command}")), "{out}");
    }
}

#[test]
fn the_version_is_that_of_the_package() {
    let (code, out, _) = firstheat(here(), &["--version"]);
    assert_eq!((code, out.trim()), (0, concat!("firstheat ", env!("CARGO_PKG_VERSION"))));
}

#[test]
fn wrong_arguments_end_with_two_and_say_what_there_is() {
    let (code, out, err) = firstheat(here(), &["folow"]);
    assert_eq!((code, out.as_str()), (2, ""));
    assert!(err.contains("follow"), "{err}");
}

#[test]
fn headless_and_plain_exclude_each_other() {
    let args = ["follow", "a", "--plan", "b", "--probes", "c", "--headless", "--plain"];
    assert_eq!(firstheat(here(), &args).0, 2);
}

#[test]
fn a_missing_lining_is_named_with_its_cause() {
    let dir = tempfile::tempdir().unwrap();
    let (code, _, err) = firstheat(dir.path(), &["follow", "no.toml", "--plan", "p.toml", "--probes", "q.toml"]);
    assert_eq!(
        (code, err.as_str()),
        (2, "firstheat: could not read no.toml: No such file or directory (os error 2)\n")
    );
}

#[test]
fn check_says_what_the_shipped_linings_mean() {
    let (code, out, _) = firstheat(here(), &["check", "schedules/school-foundry-melter.toml"]);
    assert_eq!(code, 0);
    assert!(out.contains("section wall: 25 mm dense-castable, 40 mm insulating-castable"), "{out}");
}

#[test]
fn check_refuses_a_file_that_is_none_of_ours() {
    let dir = tempfile::tempdir().unwrap();
    fs::write(dir.path().join("letter.txt"), "Dear founder,\n").unwrap();
    let (code, out, _) = firstheat(dir.path(), &["check", "letter.txt"]);
    assert_eq!(code, 2);
    assert!(out.starts_with("letter.txt is none of our files"), "{out}");
}

#[test]
fn check_names_line_and_key_of_a_wrong_plan() {
    let (code, out, _) = firstheat(here(), &["check", "tests/malformed/plan/negative-pulse.toml"]);
    assert_eq!(code, 2);
    assert!(out.contains("line 14: `round 1 on_s` is -30, expected 1 to 604800 s"), "{out}");
}

#[test]
fn a_file_that_is_no_log_is_not_replayed() {
    let (code, _, err) = firstheat(here(), &["replay", "Cargo.toml"]);
    assert_eq!(code, 2);
    assert!(err.contains("Cargo.toml is not the log of a heat-up"), "{err}");
}

#[test]
fn a_port_that_is_not_there_is_refused_before_a_log_is_begun() {
    let dir = tempfile::tempdir().unwrap();
    let plan = fs::read_to_string(here().join("tests/malformed/plan/negative-pulse.toml")).unwrap();
    fs::write(dir.path().join("plan.toml"), plan.replace("-30.0", "30.0")).unwrap();
    let probes = "format = \"firstheat probes 1\"\n[[port]]\npath = \"/dev/no-board\"\n[[port.channel]]\nname = \"hot\"\n\
                  place = \"hot-face\"\nsection = \"wall\"\ntype = \"K\"\n";
    fs::write(dir.path().join("probes.toml"), probes).unwrap();
    let lining = here().join("schedules/school-foundry-melter.toml");
    let args =
        ["follow", lining.to_str().unwrap(), "--plan", "plan.toml", "--probes", "probes.toml", "--log", "log.csv"];
    let (code, _, err) = firstheat(dir.path(), &[&args[..], &["--headless", "--members", "1"]].concat());
    assert_eq!(code, 2);
    assert!(err.contains("found nothing at /dev/no-board, expected a serial port"), "{err}");
    assert!(!dir.path().join("log.csv").exists());
}
