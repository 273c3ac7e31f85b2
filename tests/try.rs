//! `try`, watched by nobody: what it leaves, what it says, and that its log replays.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use assert_cmd::Command;
use firstheat::log;
use firstheat::run::{Verdict, WarningCause};
use tempfile::TempDir;

/// A directory in which the show was run once, and what it printed.
fn shown() -> &'static (TempDir, String) {
    static SHOWN: OnceLock<(TempDir, String)> = OnceLock::new();
    SHOWN.get_or_init(|| {
        let dir = tempfile::tempdir().unwrap();
        let (code, out) = firstheat(dir.path(), &["try", "--plain"]);
        assert_eq!(code, 0, "{out}");
        (dir, out)
    })
}

fn firstheat(dir: &Path, args: &[&str]) -> (i32, String) {
    let out = Command::cargo_bin("firstheat").unwrap().current_dir(dir).args(args).output().unwrap();
    let text = String::from_utf8(out.stdout).unwrap() + &String::from_utf8(out.stderr).unwrap();
    (out.status.code().unwrap(), text)
}

/// The directory that the show made.
fn made() -> PathBuf {
    let mut made = fs::read_dir(shown().0.path()).unwrap().map(|entry| entry.unwrap().path());
    let only = made.next().unwrap();
    assert_eq!(made.next(), None);
    only
}

#[test]
fn the_show_names_all_that_it_leaves() {
    let out = &shown().1;
    let name = made().file_name().unwrap().to_string_lossy().into_owned();
    assert!(out.contains(&format!("In {name}:")), "{out}");
    for file in ["lining.toml", "plan.toml", "card.txt", "probes.toml", "heat-up.csv"] {
        assert!(made().join(file).is_file() && out.contains(file), "{file}");
    }
}

#[test]
fn the_forgotten_burner_is_warned_of_before_anything_is_in_danger() {
    let book = log::read(&made().join("heat-up.csv")).unwrap();
    let causes: Vec<_> = book
        .verdicts()
        .filter_map(|verdict| match verdict {
            Verdict::Warning { cause, .. } => Some(*cause),
            _ => None,
        })
        .collect();
    assert!(causes.contains(&WarningCause::Pulse), "{causes:?}");
    assert!(shown().1.contains("WARNING  shut the burner"), "{}", shown().1);
}

#[test]
fn the_whole_heat_up_is_shown_to_a_dry_lining() {
    assert!(shown().1.contains("the lining is dry and has soaked"), "{}", shown().1);
}

#[test]
fn the_log_of_the_show_replays_to_the_same_words() {
    let (code, out) = firstheat(&made(), &["replay", "heat-up.csv"]);
    assert_eq!(code, 0, "{out}");
    assert!(out.contains("the engine says the same as it did then"), "{out}");
}
