//! The README holds: every command block runs and prints what it says, and its screens are those that the program draws.
//!
//! A fenced block marked `console` is a dialogue with a shell: `$ ` begins a command, `> ` goes on with it, and the lines
//! below are what it prints. `...` in a line stands for anything, alone on a line for any number of lines. Figures that
//! the engine works out (of `plan` and `try`) are compared without their digits, so that they may move when it is
//! refined. The blocks run in order in one directory that holds nothing but the repository's `schedules`.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;
use std::process::{Command, Stdio};

const README: &str = include_str!("../README.md");

/// The first command a reader meets; it takes a minute, so it runs by itself.
const TRY: &str = "cargo run --release -- try";

/// A fenced block: the words after its fence, and its lines.
struct Block<'a> {
    mark: &'a str,
    lines: Vec<&'a str>,
}

/// A command and what it is said to print.
struct Exchange {
    command: String,
    printed: Vec<String>,
}

fn blocks() -> Vec<Block<'static>> {
    let (mut blocks, mut open): (Vec<Block<'_>>, Option<Block<'_>>) = (Vec::new(), None);
    for line in README.lines() {
        match (line.strip_prefix("```"), &mut open) {
            (Some(mark), None) => open = Some(Block { mark, lines: Vec::new() }),
            (Some(_), Some(_)) => blocks.extend(open.take()),
            (None, Some(block)) => block.lines.push(line),
            (None, None) => {}
        }
    }
    assert!(open.is_none(), "the last fence of the README is not closed");
    blocks
}

fn exchanges() -> Vec<Exchange> {
    let mut exchanges: Vec<Exchange> = Vec::new();
    for line in blocks().iter().filter(|block| block.mark == "console").flat_map(|block| &block.lines) {
        if let Some(command) = line.strip_prefix("$ ") {
            exchanges.push(Exchange { command: command.to_owned(), printed: Vec::new() });
            continue;
        }
        let last = exchanges.last_mut().expect("a console block begins with a command");
        match line.strip_prefix("> ").or((*line == ">").then_some("")) {
            Some(more) if last.printed.is_empty() => last.command.extend(["\n", more]),
            _ => last.printed.push((*line).to_owned()),
        }
    }
    exchanges
}

/// Runs a command as a shell in `dir` would, and gives all that it prints.
fn printed(dir: &Path, command: &str) -> Vec<String> {
    let binary = Path::new(env!("CARGO_BIN_EXE_firstheat"));
    let path = format!("{}:{}", binary.parent().unwrap().display(), std::env::var("PATH").unwrap());
    let command = command.replace("cargo run --release --", "firstheat");
    let out = Command::new("sh")
        .args(["-c", &format!("exec 2>&1\n{command}")])
        .current_dir(dir)
        .env("PATH", path)
        .stdin(Stdio::null())
        .output()
        .unwrap();
    String::from_utf8(out.stdout).unwrap().lines().map(|line| line.trim_start_matches('\u{feff}').to_owned()).collect()
}

fn directory() -> tempfile::TempDir {
    let dir = tempfile::tempdir().unwrap();
    symlink(Path::new(env!("CARGO_MANIFEST_DIR")).join("schedules"), dir.path().join("schedules")).unwrap();
    dir
}

/// Whether lines are as said.
fn fits(said: &[String], lines: &[String]) -> bool {
    match said.split_first() {
        None => lines.is_empty(),
        Some((any, rest)) if any.trim() == "..." => (0..=lines.len()).any(|gone| fits(rest, &lines[gone..])),
        Some((first, rest)) => lines.split_first().is_some_and(|(line, more)| is_like(first, line) && fits(rest, more)),
    }
}

/// Whether a line is as said, with `...` for anything.
fn is_like(said: &str, line: &str) -> bool {
    let Some((before, rest)) = said.split_once("...") else { return said.trim_end() == line.trim_end() };
    let Some(line) = line.strip_prefix(before) else { return false };
    line.char_indices().map(|(at, _)| at).chain([line.len()]).any(|at| is_like(rest, &line[at..]))
}

/// Lines with `#` for every number and one blank for several, when the engine works out the figures of the command.
fn comparable(command: &str, lines: &[String]) -> Vec<String> {
    if command != TRY && !command.contains("firstheat plan") {
        return lines.to_vec();
    }
    let masked = |line: &String| {
        let mut shape = String::new();
        for letter in line.trim().chars() {
            let letter = if letter.is_ascii_digit() { '#' } else { letter };
            let repeats = shape.ends_with(letter) && (letter == '#' || letter == ' ');
            if !repeats {
                shape.push(letter);
            }
        }
        shape.replace("#.#", "#")
    };
    lines.iter().map(masked).collect()
}

fn holds(exchange: &Exchange, dir: &Path) {
    let lines = printed(dir, &exchange.command);
    let (said, found) = (exchange.printed.join("\n"), lines.join("\n"));
    let (shape, seen) = (comparable(&exchange.command, &exchange.printed), comparable(&exchange.command, &lines));
    assert!(fits(&shape, &seen), "$ {}\nREADME:\n{said}\n\nprinted:\n{found}\n", exchange.command);
}

#[test]
fn every_command_prints_what_the_readme_says() {
    let dir = directory();
    let quick: Vec<Exchange> = exchanges().into_iter().filter(|exchange| exchange.command != TRY).collect();
    assert!(quick.len() >= 8, "only {} commands", quick.len());
    for exchange in &quick {
        holds(exchange, dir.path());
    }
}

#[test]
fn the_first_command_shows_the_whole_job() {
    let all = exchanges();
    let shown = all.iter().find(|exchange| exchange.command == TRY).expect("the README begins with `try`");
    holds(shown, directory().path());
}

#[test]
fn the_screens_are_those_that_the_program_draws() {
    let blocks = blocks();
    let screens: Vec<_> =
        blocks.iter().filter_map(|block| Some((block.mark.strip_prefix("text screen=")?, block))).collect();
    assert!(screens.len() >= 2, "only {} screens", screens.len());
    for (name, block) in screens {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("tests/snapshots/screens__{name}.snap"));
        let text = fs::read_to_string(path).unwrap();
        let drawn = text.split("--- ").find_map(|part| part.strip_prefix("80x24\n")).unwrap();
        assert_eq!(block.lines.join("\n"), drawn.trim_end(), "screen {name}");
    }
}

#[test]
fn json_examples_are_whole_objects_with_kind_and_time() {
    let blocks = blocks();
    let lines: Vec<&str> =
        blocks.iter().filter(|block| block.mark == "json").flat_map(|block| block.lines.clone()).collect();
    let kinds: Vec<String> = lines
        .iter()
        .map(|line| {
            let object: serde_json::Value = serde_json::from_str(line).unwrap();
            assert!(object["elapsed_s"].is_f64(), "{line}");
            object["kind"].as_str().unwrap().to_owned()
        })
        .collect();
    assert_eq!(kinds, ["ready", "cue", "reading", "estimate", "warning", "notice", "fault", "end"]);
}

#[test]
fn the_integration_script_runs_the_test_command() {
    assert!(README.contains("`cargo test`"));
    let script = fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(".ci/run")).unwrap();
    assert!(script.lines().any(|line| line.starts_with("phase cargo test")));
}
