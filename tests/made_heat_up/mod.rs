//! The log of a made heat-up: a school foundry's crucible furnace, one reading every other second, with a pulse that ran long, a
//! shell probe that broke for a while, a pause, and the verdicts that following would have recorded.

#![allow(dead_code, clippy::unwrap_used)]

use std::path::{Path, PathBuf};
use std::time::Duration;

use firstheat::log::{Document, Head, LogOptions, LogWriter, PROGRAM, Recorded};
use firstheat::plan::Flame;
use firstheat::reading::{Channel, Fault, Reading};
use firstheat::run::{
    About, Advice, Ending, Event, Input, Range, SectionEstimate, TimeSource, Verdict, WarningCause, Word,
};
use firstheat::units::{Celsius, Seconds};

pub const LINING: &str = include_str!("../../schedules/school-foundry-crucible.toml");

pub const PROBES: &str = r#"format = "firstheat probes 1"
[[port]]
path = "/dev/ttyUSB0"
[[port.channel]]
name = "hot"
place = "hot-face"
section = "wall"
type = "K"
[[port.channel]]
name = "gas"
place = "chamber-gas"
type = "K"
[[port.channel]]
name = "shell"
place = "shell"
section = "wall"
type = "K"
"#;

/// One pulse with its pause, s.
const CYCLE_S: f64 = 600.0;

/// The burner is on for so long in a pulse, s.
const ON_S: f64 = 30.0;

/// The pulse, from 0, that runs a minute too long.
const LONG: u32 = 3;

/// Temperature of the hot face at the end, °C.
const END_C: f64 = 420.0;

/// Writes the log of a heat-up of `pulses` pulses into `dir`.
pub fn log(dir: &Path, pulses: u32) -> PathBuf {
    let path = dir.join("heat-up.csv");
    let options = LogOptions { finish_within: Duration::from_secs(60), ..LogOptions::default() };
    let mut writer = LogWriter::create(&path, &head(pulses), options).unwrap();
    let length_s = f64::from(pulses) * CYCLE_S;
    for second in (0..=length_s as u32).step_by(2) {
        for (event, verdicts) in at(f64::from(second), length_s) {
            let input = Input { elapsed: Seconds(f64::from(second)), event };
            while !matches!(writer.record(&input, &verdicts), Recorded::Row(_)) {
                std::thread::sleep(Duration::from_millis(1));
            }
        }
    }
    writer.finish().unwrap();
    path
}

fn head(pulses: u32) -> Head {
    let document = |text: &str| Document { text: text.to_owned(), digest: firstheat::lining::text::digest(text) };
    Head {
        program: PROGRAM.to_owned(),
        seed: 1,
        time_source: TimeSource::Computer,
        estimates_every: Seconds(60.0),
        options: vec![("members".to_owned(), "8".to_owned())],
        lining: document(LINING),
        plan: document(&plan(pulses)),
        probes: document(PROBES),
    }
}

/// A plan of `pulses` equal pulses.
pub fn plan(pulses: u32) -> String {
    let length_s = f64::from(pulses) * CYCLE_S;
    let point = |part: f64| {
        let temp_c = 20.0 + part * (END_C - 20.0);
        format!(
            "[[expected]]\nelapsed_s = {:.1}\nhot_face_c = [{:.1}, {temp_c:.1}, {:.1}]\ndanger = [0.0, 0.1, 0.2]\nwater_left_kg = [0.1, 0.2, 0.3]\n",
            part * length_s,
            temp_c * 0.9,
            temp_c * 1.1
        )
    };
    let points: String = (0..=20).map(|step| point(f64::from(step) / 20.0)).collect();
    format!(
        "format = \"firstheat plan 1\"\nlining = \"school foundry crucible furnace\"\nlining_digest = \"{}\"\n\
         [limits]\ndanger_ceiling = 0.5\nramp_k_per_h = 600.0\nservice_c = 1200.0\nsoak_c = 400.0\nsoak_s = 300.0\n\
         [[round]]\ncount = {pulses}\non_s = {ON_S}\noff_s = {}\nbinds = \"ramp\"\n{points}",
        firstheat::lining::text::digest(LINING),
        CYCLE_S - ON_S
    )
}

/// What happens at one moment, each with what is said to it.
fn at(now_s: f64, length_s: f64) -> Vec<(Event, Vec<Verdict>)> {
    let pulse = (now_s / CYCLE_S) as u32;
    let into_s = now_s - f64::from(pulse) * CYCLE_S;
    let shut_s = if pulse == LONG { ON_S + 60.0 } else { ON_S };
    let is = |moment_s: f64| (into_s - moment_s).abs() < 0.5;
    let mut said = said(now_s, length_s);
    let mut all = Vec::new();
    if is(0.0) && now_s < length_s {
        said.push(Verdict::Cue { elapsed_s: now_s, burner: Flame::On, in_s: 0.0, set: None });
    }
    if is(ON_S) {
        said.push(Verdict::Cue { elapsed_s: now_s, burner: Flame::Off, in_s: 0.0, set: None });
    }
    if pulse == LONG && is(ON_S + 40.0) {
        said.push(warning(now_s));
    }
    all.push((Event::Readings(readings(now_s, length_s)), said));
    if is(0.0) && now_s < length_s {
        all.push((Event::Operator(Word::On), Vec::new()));
    }
    if is(shut_s) {
        all.push((Event::Operator(Word::Off), Vec::new()));
    }
    if pulse == LONG && is(ON_S + 120.0) {
        let text = "over: ramp too steep of wall".to_owned();
        all.push((Event::Tick, vec![Verdict::Notice { elapsed_s: now_s, text, about: Some(over_ramp()) }]));
    }
    if pulse == 5 && is(200.0) {
        all.push((Event::Operator(Word::Pause), Vec::new()));
    }
    if pulse == 5 && is(320.0) {
        all.push((Event::Operator(Word::Resume), Vec::new()));
    }
    all
}

fn said(now_s: f64, length_s: f64) -> Vec<Verdict> {
    let mut said = Vec::new();
    if now_s < 0.5 {
        let lining = "school foundry crucible furnace".to_owned();
        said.push(Verdict::Ready { elapsed_s: now_s, lining, planned_s: length_s, time_from_probe: false });
    }
    if now_s % 60.0 < 0.5 {
        let part = now_s / length_s;
        let range = |mid: f64| Range { low: 0.8 * mid, mid, high: 1.2 * mid };
        let section = |name: &str, water_kg: f64| SectionEstimate {
            section: name.to_owned(),
            danger: range(0.3 * (4.0 * part * (1.0 - part)).powi(2)),
            water_left_kg: range(water_kg * (1.0 - 0.98 * part)),
        };
        said.push(Verdict::Estimate { elapsed_s: now_s, sections: vec![section("wall", 0.45), section("lid", 0.02)] });
    }
    let channel = Some(Channel::new("shell"));
    let text = "open: a wire is off".to_owned();
    if (now_s - 4000.0).abs() < 0.5 {
        said.push(Verdict::Fault { elapsed_s: now_s, channel: channel.clone(), text: text.clone(), over: false });
    }
    if (now_s - 4300.0).abs() < 0.5 {
        said.push(Verdict::Fault { elapsed_s: now_s, channel, text, over: true });
    }
    if now_s >= length_s - 0.5 {
        let reason = "the plan is done, the lining is dry and has soaked: shut the gas at the cylinder".to_owned();
        said.push(Verdict::End { elapsed_s: now_s, reason, ending: Some(Ending::DryAndSoaked) });
    }
    said
}

fn over_ramp() -> About {
    About::Over { cause: WarningCause::Ramp, channel: Some(Channel::new("hot")), section: Some("wall".to_owned()) }
}

fn warning(now_s: f64) -> Verdict {
    Verdict::Warning {
        elapsed_s: now_s,
        cause: WarningCause::Ramp,
        channel: Some(Channel::new("hot")),
        section: Some("wall".to_owned()),
        lead_s: None,
        advice: Advice {
            action: "shut the burner for 1 min".to_owned(),
            reason: "the hot face rises 700 K/h".to_owned(),
        },
    }
}

fn readings(now_s: f64, length_s: f64) -> Vec<Reading> {
    let part = (now_s / length_s / 0.9).min(1.0);
    let ripple_k = 60.0 * part * (-(now_s % CYCLE_S) / 120.0).exp();
    let is_burning = now_s % CYCLE_S < ON_S;
    let hot_c = 20.0 + part * (END_C - 20.0) + ripple_k;
    let gas_c = if is_burning { hot_c + 300.0 } else { hot_c - 10.0 * part };
    let shell = if (4000.0..4300.0).contains(&now_s) { Err(Fault::Open) } else { Ok(Celsius(20.0 + 40.0 * part)) };
    vec![
        Reading { channel: Channel::new("hot"), value: Ok(Celsius(hot_c)) },
        Reading { channel: Channel::new("gas"), value: Ok(Celsius(gas_c)) },
        Reading { channel: Channel::new("shell"), value: shell },
    ]
}
