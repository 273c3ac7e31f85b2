//! Heat-ups to log, for the tests of the log: a potter's kiln arch with four probes.

#![allow(dead_code, clippy::unwrap_used)]

use std::path::Path;
use std::time::Duration;

use chrono::DateTime;
use firstheat::log::{Document, Head, LogOptions, Step, WallClock};
use firstheat::plan::Flame;
use firstheat::reading::{Channel, Fault, Reading};
use firstheat::run::{Advice, Event, Input, Range, SectionEstimate, TimeSource, Verdict, WarningCause, Word};
use firstheat::units::{Celsius, Seconds};

/// The head of the kiln's log. Its texts hold what is hard on a CSV file.
pub fn head() -> Head {
    let document = |text: &str, digest: &str| Document { text: text.to_owned(), digest: digest.to_owned() };
    Head {
        program: "firstheat 0.1.0".to_owned(),
        seed: u64::MAX,
        time_source: TimeSource::Computer,
        estimates_every: Seconds(10.0),
        options: vec![("ahead".to_owned(), "-5 s = early".to_owned()), ("quiet".to_owned(), String::new())],
        lining: document("name = \"kiln arch, small\"\n# 25 mm; =not a formula\r\nroof = 0.05\n", "0d4a1185"),
        plan: document("[[rounds]]\ncount = 6\n\non_s = 30\n", "00123e45"),
        probes: document("- arch °C, Gewölbe", "ffffffff"),
    }
}

/// Options with a wall clock that stands still, so that rows come out the same every time.
pub fn options() -> LogOptions {
    let time = DateTime::parse_from_rfc3339("2026-03-14T09:30:00.250+01:00").unwrap();
    LogOptions {
        wall_clock: WallClock::new(move || time),
        retry_after: Duration::from_millis(2),
        sync_every: Duration::from_millis(5),
        ..LogOptions::default()
    }
}

/// What the log calls the file in these tests.
pub fn name() -> &'static Path {
    Path::new("kiln.csv")
}

pub fn input(elapsed_s: f64, event: Event) -> Input {
    Input { elapsed: Seconds(elapsed_s), event }
}

pub fn reading(channel: &str, value: Result<f64, Fault>) -> Reading {
    Reading { channel: Channel::new(channel), value: value.map(Celsius) }
}

pub fn notice(elapsed_s: f64, text: &str) -> Verdict {
    Verdict::Notice { elapsed_s, text: text.to_owned(), about: None }
}

/// A heat-up in which everything that can be logged happens.
pub fn heat_up() -> Vec<(Input, Vec<Verdict>)> {
    let range = |mid: f64| Range { low: mid * 0.9, mid, high: mid * 1.3 };
    let section = |name: &str, mid| SectionEstimate {
        section: name.to_owned(),
        danger: range(mid),
        water_left_kg: range(mid + 1.0),
    };
    let channel = || Some(Channel::new("arch"));
    let probe_line = Event::Readings(vec![
        reading("arch", Ok(104.25)),
        reading("=floor", Ok(-0.0)),
        reading("shell, \"door\"", Err(Fault::Open)),
        reading("", Ok(0.1 + 0.2)),
    ]);
    vec![
        (
            input(0.0, Event::Tick),
            vec![Verdict::Ready {
                elapsed_s: 0.0,
                lining: "kiln arch".to_owned(),
                planned_s: 31_000.0,
                time_from_probe: false,
            }],
        ),
        (
            input(0.1, Event::Operator(Word::On)),
            vec![Verdict::Cue { elapsed_s: 0.1, burner: Flame::On, in_s: 5.0, set: None }],
        ),
        (
            input(1.000_000_000_1, probe_line),
            vec![
                Verdict::Estimate {
                    elapsed_s: 1.000_000_000_1,
                    sections: vec![section("arch", 0.4), section("-door", 1e-9)],
                },
                Verdict::Warning {
                    elapsed_s: 1.000_000_000_1,
                    cause: WarningCause::Ramp,
                    channel: channel(),
                    section: None,
                    lead_s: Some(40.0),
                    advice: Advice {
                        action: "shut the burner for 2 min".to_owned(),
                        reason: "hot face rises 96 K/h, the coat stands 56".to_owned(),
                    },
                },
            ],
        ),
        (input(2.0, Event::Readings(Vec::new())), vec![notice(2.0, "two lines\nof \\ text; +1")]),
        (
            input(3.0, Event::PortLost("probe port: cable out".to_owned())),
            vec![Verdict::Fault { elapsed_s: 3.0, channel: None, text: "no readings".to_owned(), over: false }],
        ),
        (
            input(4.0, Event::PortBack("probe port".to_owned())),
            vec![Verdict::Fault { elapsed_s: 4.0, channel: channel(), text: "readings again".to_owned(), over: true }],
        ),
        (input(5.0, Event::LogFailing("no room".to_owned())), Vec::new()),
        (input(6.0, Event::LogBack), vec![Verdict::Cue { elapsed_s: 6.0, burner: Flame::Off, in_s: 0.0, set: None }]),
        (
            input(20.0, Event::Tick),
            vec![
                Verdict::Estimate { elapsed_s: 20.0, sections: Vec::new() },
                Verdict::Warning {
                    elapsed_s: 20.0,
                    cause: WarningCause::Danger,
                    channel: None,
                    section: Some("arch".to_owned()),
                    lead_s: None,
                    advice: Advice { action: "+shut".to_owned(), reason: String::new() },
                },
            ],
        ),
        (
            input(21.5, Event::Operator(Word::Quit)),
            vec![Verdict::End { elapsed_s: 21.5, reason: "operator".to_owned(), ending: None }],
        ),
    ]
}

/// Steps as inputs and verdicts, without their row numbers.
pub fn said(steps: &[Step]) -> Vec<(Input, Vec<Verdict>)> {
    steps.iter().map(|step| (step.input.clone(), step.verdicts.clone())).collect()
}
