//! Every command explains itself: its help has examples, and each of them is one that the program takes.

#![allow(clippy::unwrap_used)]

use assert_cmd::Command as Program;
use clap::{Command, CommandFactory as _, Parser as _};
use firstheat::cli::Cli;

/// Commands that do something, with the words that lead to each.
fn commands() -> Vec<(String, Command)> {
    fn walk(words: &str, command: &Command, into: &mut Vec<(String, Command)>) {
        into.push((words.to_owned(), command.clone()));
        for below in command.get_subcommands() {
            walk(&format!("{words} {}", below.get_name()), below, into);
        }
    }
    let mut all = Vec::new();
    walk("firstheat", &Cli::command(), &mut all);
    all
}

/// Lines of a help that are commands to type.
fn examples(command: &Command) -> Vec<String> {
    let help = command.get_after_help().map_or_else(String::new, ToString::to_string);
    help.lines().map(str::trim).filter(|line| line.starts_with("firstheat ")).map(str::to_owned).collect()
}

/// A command line as a shell parts it, without what it sends elsewhere.
fn words(line: &str) -> Vec<String> {
    let typed = line.split(" > ").next().unwrap().split(" < ").next().unwrap();
    shlex::split(typed).unwrap()
}

#[test]
fn every_command_has_an_example_of_itself() {
    let all = commands();
    assert!(all.len() > 15, "{}", all.len());
    for (words, command) in all {
        let own = examples(&command);
        assert!(own.iter().any(|example| example.starts_with(&words)), "`{words} --help` has {own:?}");
    }
}

#[test]
fn every_example_is_one_that_the_program_takes() {
    for (_, command) in commands() {
        for example in examples(&command) {
            let parsed = Cli::try_parse_from(words(&example));
            assert!(parsed.is_ok(), "{example}\n{}", parsed.unwrap_err());
        }
    }
}

#[test]
fn every_option_says_what_it_is_for() {
    for (words, command) in commands() {
        let silent: Vec<_> = command.get_arguments().filter(|argument| argument.get_help().is_none()).collect();
        assert!(silent.is_empty(), "{words}: {silent:?}");
    }
}

fn printed(args: &[&str]) -> String {
    let out = Program::cargo_bin("firstheat").unwrap().args(args).output().unwrap();
    assert_eq!(out.status.code(), Some(0), "{args:?}");
    String::from_utf8(out.stdout).unwrap()
}

#[test]
fn completions_know_every_command_in_every_shell() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = printed(&["completions", shell]);
        let missing: Vec<String> = Cli::command()
            .get_subcommands()
            .map(|command| command.get_name().to_owned())
            .filter(|name| !script.contains(name.as_str()))
            .collect();
        assert!(missing.is_empty(), "{shell}: {missing:?}");
    }
}

/// What bash offers for the words typed so far.
fn bash_offers(typed: &str) -> String {
    let script = printed(&["completions", "bash"]);
    let asked = format!(
        "{script}\nCOMP_WORDS=({typed} \"\")\nCOMP_CWORD={}\n_firstheat firstheat \"\" \"\"\necho \"${{COMPREPLY[*]}}\"",
        typed.split(' ').count()
    );
    let out = std::process::Command::new("bash").args(["-c", &asked]).output().unwrap();
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

#[test]
fn bash_offers_the_commands_and_their_options() {
    let offered = bash_offers("firstheat");
    assert!(["new", "cuts", "report", "trend"].iter().all(|name| offered.split_whitespace().any(|word| word == *name)));
    assert!(bash_offers("firstheat trend").contains("--heated-before"));
}

#[test]
fn the_manual_page_names_every_command() {
    let page = printed(&["man"]);
    assert!(page.contains(".TH firstheat 1"), "{}", page.lines().take(4).collect::<String>());
    for command in Cli::command().get_subcommands() {
        assert!(page.contains(&format!("firstheat\\-{}(1)", command.get_name())), "{}", command.get_name());
    }
}

#[test]
fn one_page_for_each_command_is_written_and_none_over_another() {
    let dir = tempfile::tempdir().unwrap();
    let into = dir.path().to_str().unwrap();
    printed(&["man", "--all", into]);
    let page = std::fs::read_to_string(dir.path().join("firstheat-probes-bath.1")).unwrap();
    assert!(page.contains("firstheat probes bath") && page.contains("Examples"), "{page}");
    assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), commands().len());
    let again = Program::cargo_bin("firstheat").unwrap().args(["man", "--all", into]).output().unwrap();
    assert_eq!(again.status.code(), Some(2));
}
