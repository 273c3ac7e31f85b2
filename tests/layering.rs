//! Holds `src/` to the table of which module may use which.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;

/// A module, what it may import, and whether it may touch the world.
const MAY_USE: &[(&str, &[&str], Reach)] = &[
    ("units", &[], Reach::Pure),
    ("thermocouple", &["units"], Reach::Pure),
    ("reading", &["units"], Reach::Pure),
    ("lining", &["units", "reading"], Reach::Pure),
    ("physics", &["units", "lining"], Reach::Pure),
    ("plan", &["units", "lining", "physics"], Reach::Pure),
    ("run", &["units", "thermocouple", "reading", "lining", "physics", "plan"], Reach::Pure),
    ("ageing", &["units", "lining", "physics"], Reach::Pure),
    ("report", &["units", "reading", "lining", "physics", "plan", "run", "ageing"], Reach::Pure),
    ("probe", &["units", "thermocouple", "reading", "lining", "physics"], Reach::World),
    ("log", &["units", "reading", "plan", "run"], Reach::World),
    ("dashboard", &["units", "reading", "plan", "run"], Reach::World),
    ("files", &["units", "reading", "lining", "physics", "plan", "run"], Reach::World),
    ("clock", &["units"], Reach::World),
    ("cli", &["units"], Reach::World),
    (
        "app",
        &[
            "units",
            "thermocouple",
            "reading",
            "lining",
            "physics",
            "plan",
            "run",
            "ageing",
            "report",
            "probe",
            "log",
            "dashboard",
            "files",
            "clock",
            "cli",
        ],
        Reach::World,
    ),
];

#[derive(Clone, Copy, PartialEq)]
enum Reach {
    Pure,
    World,
}

/// Paths that mean a module talks to a clock, a file, a port, a screen or a task.
const WORLD: &[&str] = &[
    "std::fs",
    "std::io",
    "std::net",
    "std::env",
    "std::process",
    "std::thread",
    "std::time::Instant",
    "std::time::SystemTime",
    "Instant::now",
    "SystemTime::now",
    "Utc::now",
    "Local::now",
    "tokio::",
    "serialport::",
    "ratatui::",
    "crossterm::",
    "clap::",
    "println!",
    "print!",
    "dbg!",
];

#[test]
fn modules_use_only_what_the_table_allows() {
    let mut faults = Vec::new();
    each_source(Path::new("src"), &mut |path, text| {
        let module = module_of(path);
        if module != "lib" && module != "main" {
            faults.extend(faults_in(&module, text).iter().map(|f| format!("{}: {f}", path.display())));
        }
    });
    assert!(faults.is_empty(), "\n{}", faults.join("\n"));
}

#[test]
fn the_check_itself_catches_each_kind_of_breach() {
    let breaches = [
        ("probe", "use crate::run::Run;"),
        ("probe", "use crate::{\n    reading::Reading,\n    run::{Input, Run},\n};"),
        ("probe", "fn f() { crate::run::go() }"),
        ("probe", "use super::super::run::Run;"),
        ("run", "use std::{fs, time::Duration};"),
        ("run", "fn f() { let now = std::time::Instant::now(); }"),
        ("run", "fn f() { println!(\"hot\"); }"),
        ("unlisted", "use crate::units::Celsius;"),
    ];
    for (module, source) in breaches {
        assert!(!faults_in(module, source).is_empty(), "missed in `{module}`: {source}");
    }
    assert_eq!(faults_in("log", "use crate::{reading::Reading, run::Run};\nuse std::io;"), [""; 0]);
}

fn faults_in(module: &str, text: &str) -> Vec<String> {
    let Some((_, allowed, reach)) = MAY_USE.iter().find(|(name, ..)| *name == module) else {
        return vec![format!("`{module}` has no row in MAY_USE")];
    };
    let code = code_of(text);
    let mut paths = Vec::new();
    for statement in code.split(';') {
        match statement.split_once("use ") {
            Some((_, tree)) => expand("", tree, &mut paths),
            None => paths.push(statement.to_owned()),
        }
    }
    let mut faults = Vec::new();
    for path in &paths {
        if path.contains("super::super") {
            faults.push(format!("`{module}` climbs out with `super::super`; write `crate::`"));
        }
        for rest in path.split("crate::").skip(1) {
            let used: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
            if used != module && !allowed.contains(&used.as_str()) {
                faults.push(format!("`{module}` may not use `{used}`"));
            }
        }
        if *reach == Reach::Pure {
            let world = WORLD.iter().filter(|word| path.contains(**word));
            faults.extend(world.map(|word| format!("`{module}` is pure and may not use `{word}`")));
        }
    }
    faults
}

/// Appends every path of a `use` tree: `a::{b, c::{d}}` gives `a::b` and `a::c::d`.
fn expand(prefix: &str, tree: &str, paths: &mut Vec<String>) {
    let tree = tree.trim();
    let Some((head, body)) = tree.split_once('{') else {
        paths.push(format!("{prefix}{tree}"));
        return;
    };
    let prefix = format!("{prefix}{}", head.trim());
    let (mut depth, mut start) = (0, 0);
    for (at, c) in body.char_indices() {
        match c {
            '{' => depth += 1,
            '}' if depth > 0 => depth -= 1,
            ',' | '}' if depth == 0 => {
                expand(&prefix, &body[start..at], paths);
                start = at + 1;
            }
            _ => {}
        }
    }
}

/// The code without comments and without the tests at its end.
fn code_of(text: &str) -> String {
    let lines = text.lines().take_while(|line| !line.starts_with("#[cfg(test)]"));
    lines.filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n")
}

fn module_of(path: &Path) -> String {
    let first = path.strip_prefix("src").unwrap().components().next().unwrap();
    first.as_os_str().to_str().unwrap().trim_end_matches(".rs").to_owned()
}

fn each_source(dir: &Path, visit: &mut impl FnMut(&Path, &str)) {
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            each_source(&path, visit);
        } else if path.extension().is_some_and(|kind| kind == "rs") {
            visit(&path, &fs::read_to_string(&path).unwrap());
        }
    }
}
