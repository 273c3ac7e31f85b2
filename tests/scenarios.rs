//! Golden scenarios: lining, plan, readings and words in; verdicts with their times out.
//!
//! Each file of `tests/scenarios/` says what happens (`curve`, `fault`, `silence`, `word`) and what has to be said
//! (`expect`: so many verdicts that hold `is` between two times). The expectations are facts of the trade or of TRADE
//! rules named in the file, never copies of what the program said.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;

use firstheat::lining::material::Materials;
use firstheat::lining::text::parse_lining;
use firstheat::physics::Belief;
use firstheat::plan::firing::Firing;
use firstheat::plan::{Limits, Plan, Round};
use firstheat::reading::{Channel, Fault, Place, Reading};
use firstheat::run::{Event, Input, Probe, Run, Setup, TimeSource, Verdict, Word};
use firstheat::thermocouple::Thermocouple;
use firstheat::units::{Celsius, KelvinPerHour, Metres, Seconds};
use serde::Deserialize;
use serde_json::Value;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Scenario {
    #[allow(dead_code, reason = "for people")]
    about: String,
    lining: String,
    members: usize,
    step_s: f64,
    until_s: f64,
    round: Vec<RoundText>,
    probe: Vec<ProbeText>,
    curve: Vec<CurveText>,
    #[serde(default)]
    fault: Vec<FaultText>,
    #[serde(default)]
    silence: Vec<SilenceText>,
    #[serde(default)]
    word: Vec<WordText>,
    expect: Vec<ExpectText>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RoundText {
    count: u32,
    on_s: f64,
    off_s: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ProbeText {
    channel: String,
    place: Place,
    #[serde(rename = "type")]
    couple: Option<Thermocouple>,
    sheath_mm: Option<f64>,
}

/// Straight lines between points of time, s, and temperature, °C.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct CurveText {
    channel: String,
    points: Vec<[f64; 2]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct FaultText {
    channel: String,
    fault: Fault,
    from_s: f64,
    to_s: f64,
    /// Present each so many seconds only.
    every_s: Option<f64>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SilenceText {
    channel: String,
    from_s: f64,
    to_s: f64,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WordText {
    at_s: f64,
    word: Word,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ExpectText {
    from_s: f64,
    to_s: f64,
    count: usize,
    is: toml::Table,
    /// Text that must stand in the verdict's JSON.
    #[serde(default)]
    says: String,
}

impl Scenario {
    fn run(&self) -> Run {
        let lining = parse_lining(&fs::read_to_string(&self.lining).unwrap(), Materials::built_in()).unwrap();
        let round = |text: &RoundText| Round {
            count: text.count,
            on: Seconds(text.on_s),
            off: Seconds(text.off_s),
            firing: Firing::OnOff,
            binds: String::new(),
        };
        let plan = Plan {
            lining: lining.name.clone(),
            lining_digest: String::new(),
            limits: Limits {
                danger_ceiling: 0.5,
                ramp: KelvinPerHour(56.0),
                service: Celsius(1200.0),
                soak_temp: Celsius(650.0),
                soak: Seconds(3600.0),
            },
            rounds: self.round.iter().map(round).collect(),
            expected: Vec::new(),
        };
        let probe = |text: &ProbeText| Probe {
            channel: Channel::new(&text.channel),
            place: text.place.clone(),
            limit: None,
            couple: text.couple,
            sheath: text.sheath_mm.map(Metres::from_mm),
        };
        let probes = self.probe.iter().map(probe).collect();
        let belief = Belief { members: self.members, seed: 1 };
        Run::new(Setup { lining, plan, probes, belief, time_source: TimeSource::ProbeLine }).unwrap()
    }

    fn readings(&self, now_s: f64) -> Vec<Reading> {
        let speaks = |curve: &&CurveText| {
            !self
                .silence
                .iter()
                .any(|silence| silence.channel == curve.channel && (silence.from_s..silence.to_s).contains(&now_s))
        };
        let reading = |curve: &CurveText| Reading {
            channel: Channel::new(&curve.channel),
            value: self.fault(&curve.channel, now_s).map_or_else(|| Ok(Celsius(curve.at(now_s))), Err),
        };
        self.curve.iter().filter(speaks).map(reading).collect()
    }

    fn fault(&self, channel: &str, now_s: f64) -> Option<Fault> {
        let is_there = |text: &&FaultText| {
            let in_turn = text.every_s.is_none_or(|every_s| (now_s - text.from_s) % every_s < 0.5 * self.step_s);
            text.channel == channel && (text.from_s..text.to_s).contains(&now_s) && in_turn
        };
        self.fault.iter().find(is_there).map(|text| text.fault)
    }

    fn play(&self) -> Vec<Verdict> {
        let mut run = self.run();
        let mut said = Vec::new();
        let (mut now_s, mut words) = (0.0, self.word.iter().peekable());
        while now_s <= self.until_s {
            while let Some(word) = words.next_if(|word| word.at_s <= now_s) {
                said.extend(run.step(&Input { elapsed: Seconds(now_s), event: Event::Operator(word.word) }));
            }
            let readings = self.readings(now_s);
            said.extend(run.step(&Input { elapsed: Seconds(now_s), event: Event::Readings(readings) }));
            now_s += self.step_s;
        }
        said
    }
}

impl CurveText {
    fn at(&self, now_s: f64) -> f64 {
        let after = self.points.partition_point(|point| point[0] <= now_s);
        match (after.checked_sub(1).map(|before| self.points[before]), self.points.get(after).copied()) {
            (Some([from_s, from_c]), Some([to_s, to_c])) => {
                from_c + (to_c - from_c) * (now_s - from_s) / (to_s - from_s)
            }
            (Some([_, only_c]), None) | (None, Some([_, only_c])) => only_c,
            (None, None) => panic!("a curve has points"),
        }
    }
}

impl ExpectText {
    fn fits(&self, verdict: &Verdict) -> bool {
        let json = serde_json::to_value(verdict).unwrap();
        let holds = |(key, value): (&String, &toml::Value)| json[key] == serde_json::to_value(value).unwrap();
        let in_time = (self.from_s..=self.to_s).contains(&verdict.elapsed_s());
        in_time && self.is.iter().all(holds) && json.to_string().contains(&self.says)
    }
}

fn faults_of(path: &Path) -> Vec<String> {
    let scenario: Scenario = toml::from_str(&fs::read_to_string(path).unwrap())
        .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    let said = scenario.play();
    let name = path.file_stem().unwrap().to_string_lossy();
    let wrong = scenario.expect.iter().filter_map(|expect| {
        let found: Vec<Value> = said
            .iter()
            .filter(|verdict| expect.fits(verdict))
            .map(|verdict| serde_json::to_value(verdict).unwrap())
            .collect();
        let (from_s, to_s, count) = (expect.from_s, expect.to_s, expect.count);
        (found.len() != count).then(|| {
            format!("{name}: {count} of {:?} {:?} from {from_s} to {to_s} s, found {found:#?}", expect.is, expect.says)
        })
    });
    let mut wrong: Vec<String> = wrong.collect();
    if !wrong.is_empty() {
        let heard =
            said.iter().filter(|verdict| !matches!(verdict, Verdict::Reading { .. } | Verdict::Estimate { .. }));
        wrong.extend(heard.map(|verdict| serde_json::to_string(verdict).unwrap()));
    }
    wrong
}

#[test]
fn every_scenario_says_what_it_should() {
    let mut paths: Vec<_> = fs::read_dir("tests/scenarios").unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    assert!(paths.len() >= 8);
    let wrong: Vec<String> = paths.iter().flat_map(|path| faults_of(path)).collect();
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn the_same_inputs_give_the_same_verdicts() {
    let text = fs::read_to_string("tests/scenarios/left-on.toml").unwrap();
    let play = || toml::from_str::<Scenario>(&text).unwrap().play();
    assert_eq!(play(), play());
}
