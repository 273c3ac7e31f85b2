//! Probe files that are wrong, and what is said about each. The files stand in `tests/probes/`.

#![allow(clippy::unwrap_used)]

use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};

use firstheat::probe::file;
use proptest::prelude::*;

fn files(kind: &str) -> Vec<PathBuf> {
    let shelf = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/probes").join(kind);
    let mut files: Vec<PathBuf> = fs::read_dir(shelf).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    files
}

#[test]
fn every_malformed_probe_file_is_refused_with_line_and_key() {
    let mut told = String::new();
    for path in files("malformed") {
        let wrong = file::parse(&fs::read_to_string(&path).unwrap());
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let wrong = wrong.expect_err(&name);
        writeln!(told, "{name}\n    {wrong}").unwrap();
    }
    insta::assert_snapshot!(told);
}

#[test]
fn every_message_points_at_a_line_and_says_what_was_expected() {
    for path in files("malformed") {
        let wrong = file::parse(&fs::read_to_string(&path).unwrap()).unwrap_err().to_string();
        assert!(wrong.starts_with("line ") && wrong.contains("found "), "{}: {wrong}", path.display());
    }
}

#[test]
fn every_good_probe_file_is_read() {
    for path in files("good") {
        let set = file::parse(&fs::read_to_string(&path).unwrap()).unwrap_or_else(|wrong| panic!("{path:?}: {wrong}"));
        assert!(set.channels().count() > 0, "{path:?}");
    }
}

#[test]
fn a_good_probe_file_is_read_in_full() {
    let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/probes/good/two-boards.toml"));
    insta::assert_debug_snapshot!(file::parse(&text.unwrap()).unwrap());
}

#[test]
fn a_probe_file_of_boards_that_are_asked_is_read_in_full() {
    let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/probes/good/asked.toml"));
    insta::assert_debug_snapshot!(file::parse(&text.unwrap()).unwrap());
}

#[test]
fn a_section_that_the_lining_lacks_is_told_with_the_nearest() {
    let text = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/probes/good/two-boards.toml"));
    let set = file::parse(&text.unwrap()).unwrap();
    assert_eq!(set.check_sections(&["wall", "floor", "lid"]), Ok(()));
    insta::assert_snapshot!(set.check_sections(&["walls", "floor"]).unwrap_err());
}

proptest! {
    /// Whatever a slip of the hand does to a good file, it is read or refused with a line that exists.
    #[test]
    fn any_slip_is_read_or_refused_at_a_line_of_the_file(
        at in any::<prop::sample::Index>(),
        length in 0_usize..30,
        instead in "[ -~\n\"=\\[\\]0-9]{0,6}",
    ) {
        let good = include_str!("probes/good/two-boards.toml");
        let from = at.index(good.len());
        let to = good.len().min(from + length);
        let text = format!("{}{instead}{}", &good[..from], &good[to..]);
        if let Err(wrong) = file::parse(&text) {
            let told = wrong.to_string();
            let digits: String = told.trim_start_matches("line ").chars().take_while(char::is_ascii_digit).collect();
            let line: usize = digits.parse().unwrap();
            prop_assert!((1..=text.lines().count() + 1).contains(&line), "{}", told);
        }
    }

    #[test]
    fn any_text_is_read_or_refused(text in "\\PC{0,200}") {
        prop_assert!(file::parse(&text).is_err());
    }
}
