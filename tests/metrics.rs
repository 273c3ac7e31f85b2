//! The figures for time series: `OpenMetrics` text, on this computer alone.

#![allow(clippy::unwrap_used)]

#[path = "screens/sample.rs"]
#[allow(dead_code)]
mod sample;

use std::collections::BTreeMap;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;

use assert_cmd::Command;
use crossterm::event::Event as TerminalEvent;
use firstheat::app::AppError;
use firstheat::app::follow::metrics::{Server, page_of};
use firstheat::app::follow::outlet::{Closing, Now, Outlet};
use firstheat::reading::Channel;
use firstheat::run::{Verdict, Word};

/// Splits a page into its families as the `OpenMetrics` specification 1.0.0 lays it out, and refuses what it forbids.
fn families(page: &str) -> Result<BTreeMap<String, Vec<String>>, String> {
    let body = page.strip_suffix("# EOF\n").ok_or("the last line is not `# EOF`")?;
    let mut families: BTreeMap<String, Vec<String>> = BTreeMap::new();
    let mut current = String::new();
    for line in body.lines() {
        if let Some(rest) = line.strip_prefix("# TYPE ") {
            let (name, kind) = rest.split_once(' ').ok_or("no type")?;
            if kind != "gauge" || families.insert(name.to_owned(), Vec::new()).is_some() {
                return Err(format!("{name} is no gauge, or comes twice"));
            }
            name.clone_into(&mut current);
        } else if let Some(rest) = line.strip_prefix("# UNIT ") {
            // "The unit MUST be a suffix of the metric name", with an underscore before it.
            let (name, unit) = rest.split_once(' ').ok_or("no unit")?;
            if name != current || !name.ends_with(&format!("_{unit}")) {
                return Err(format!("{name} does not end in its unit {unit}"));
            }
        } else if let Some(rest) = line.strip_prefix("# HELP ") {
            if !rest.starts_with(&format!("{current} ")) {
                return Err(format!("help out of its family: {rest}"));
            }
        } else {
            let name = line.split(['{', ' ']).next().unwrap_or_default();
            let value = line.rsplit(' ').next().unwrap_or_default();
            if name != current || value.parse::<f64>().is_err() {
                return Err(format!("no sample of {current}: {line}"));
            }
            families.get_mut(&current).ok_or("no family")?.push(line.to_owned());
        }
    }
    Ok(families)
}

#[test]
fn a_page_has_every_family_once_with_its_type_and_unit() {
    let families = families(&page_of(&sample::warned())).unwrap();
    assert_eq!(families["firstheat_warnings_standing"], ["firstheat_warnings_standing 2"]);
    assert_eq!(families["firstheat_danger_number"].len(), 3 * 3);
    assert_eq!(families["firstheat_elapsed_seconds"], ["firstheat_elapsed_seconds 4360"]);
}

#[test]
fn a_name_with_quotes_and_line_ends_stays_one_label() {
    let mut snapshot = sample::counting();
    snapshot.channels[0].channel = Channel::new("a \"b\"\\\nc");
    let page = page_of(&snapshot);
    families(&page).unwrap();
    // Escapes of the specification: backslash, quote and line feed.
    assert!(page.contains(r#"channel="a \"b\"\\\nc""#), "{page}");
}

#[test]
fn a_probe_that_cannot_be_believed_has_no_temperature() {
    let families = families(&page_of(&sample::probe_fault())).unwrap();
    let faulty = families["firstheat_probe_faulty"].iter().filter(|line| line.ends_with(" 1")).count();
    assert!(faulty > 0 && families["firstheat_probe_celsius"].len() + faulty <= 4, "{families:?}");
}

struct Blank;

impl Outlet for Blank {
    fn say(&mut self, _verdicts: &[Verdict], _now: Now<'_>) -> Result<(), AppError> {
        Ok(())
    }
    fn refresh(&mut self, _now: Now<'_>) -> Result<(), AppError> {
        Ok(())
    }
    fn pressed(&mut self, _event: &TerminalEvent, _now: Now<'_>) -> Option<Word> {
        None
    }
    fn shows_ahead(&self) -> bool {
        false
    }
    fn closing(&self) -> Closing {
        Closing::Silent
    }
}

fn ask(address: std::net::SocketAddr, request: &str) -> String {
    let mut caller = TcpStream::connect(address).unwrap();
    caller.write_all(request.as_bytes()).unwrap();
    let mut answer = String::new();
    caller.read_to_string(&mut answer).unwrap();
    answer
}

#[test]
fn figures_are_served_as_they_were_last_shown() {
    let server = Server::bind("127.0.0.1:0".parse().unwrap()).unwrap();
    let address = server.address().unwrap();
    let mut metered = server.serve(Box::new(Blank)).unwrap();
    metered.refresh(&sample::counting).unwrap();
    let answer = ask(address, "GET /metrics HTTP/1.1\r\nHost: here\r\n\r\n");
    let (head, page) = answer.split_once("\r\n\r\n").unwrap();
    assert!(
        head.starts_with("HTTP/1.1 200 ") && head.contains("application/openmetrics-text; version=1.0.0"),
        "{head}"
    );
    assert_eq!(page, page_of(&sample::counting()));
    assert!(ask(address, "GET /other HTTP/1.1\r\n\r\n").starts_with("HTTP/1.1 404"));
    assert!(ask(address, "POST /metrics HTTP/1.1\r\n\r\n").starts_with("HTTP/1.1 405"));
}

#[test]
fn figures_are_for_this_computer_alone() {
    let refused = Command::cargo_bin("firstheat")
        .unwrap()
        .args(["follow", "a.toml", "--plan", "b.toml", "--probes", "c.toml", "--metrics", "0.0.0.0:9400"])
        .assert()
        .code(2);
    let words = String::from_utf8_lossy(&refused.get_output().stderr).into_owned();
    assert!(words.contains("expected an address of this computer alone"), "{words}");
}
