//! The real binary in lockstep with an independent furnace behind a pseudo-terminal.
//!
//! The furnace and its operator are `tests/feeder/feeder.py`, which shares nothing with the program but the text on the
//! line and the words. What is checked are facts of the contract and of the trade (common practice, no source): an
//! obedient operator gets no ramp warning; one who leaves the burner on is warned before the lining can spall.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::io::{BufRead as _, BufReader, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::thread;
use std::time::Duration;

use serde_json::Value;

/// Nothing here takes longer, or something hangs.
const LIMIT: Duration = Duration::from_secs(240);

const PROBES: &str = r#"
format = "firstheat probes 1"
[[port]]
path = "PORT"
[[port.channel]]
name = "hot"
place = "hot-face"
section = "wall"
type = "K"
[[port.channel]]
name = "shell"
place = "shell"
section = "wall"
type = "K"
"#;

/// Gentle pulses for the feeder's furnace, which has a tenth of the mass of a real one.
const PLAN: &str = include_str!("plans/melter-pulses.toml");

/// The same heat by fires of a burner that is turned down and not shut.
const MARKS: &str = include_str!("plans/melter-marks.toml");

/// What a lockstep heat-up left.
struct Heard {
    lines: Vec<Value>,
    exit: i32,
    _dir: tempfile::TempDir,
    log: PathBuf,
}

impl Heard {
    fn of_kind<'a>(&'a self, kind: &'a str) -> impl Iterator<Item = &'a Value> {
        self.lines.iter().filter(move |line| line["kind"] == kind)
    }

    fn warnings(&self, cause: &str) -> Vec<&Value> {
        self.of_kind("warning").filter(|line| line["cause"] == cause).collect()
    }
}

fn firstheat() -> Command {
    Command::new(env!("CARGO_BIN_EXE_firstheat"))
}

/// Follows the feeder's furnace in lockstep, each one's output being the other's input.
fn follow(feeder_options: &[&str]) -> Heard {
    follow_plan(PLAN, feeder_options)
}

fn follow_plan(plan: &str, feeder_options: &[&str]) -> Heard {
    let dir = tempfile::tempdir().unwrap();
    let mut feeder = Command::new("python3")
        .args(["tests/feeder/feeder.py", "--lockstep", "--quit", "--power", "3000"])
        .args(feeder_options)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    // The operator's words go straight from pipe to pipe: a word said before a probe line is there before it.
    let mut words = feeder.stdout.take().unwrap();
    let port = first_line(&mut words);
    let mut program = start(dir.path(), (plan, &port), words.into());
    let lines = pass_on(&mut program, feeder.stdin.take().unwrap());
    let exit = program.wait().unwrap().code().unwrap();
    feeder.wait().unwrap();
    Heard { lines, exit, log: dir.path().join("log.csv"), _dir: dir }
}

/// The first line of a stream, byte by byte so that nothing behind it is taken.
fn first_line(from: &mut impl Read) -> String {
    let mut line = Vec::new();
    let mut byte = [0];
    while from.read(&mut byte).unwrap() == 1 && byte != *b"\n" {
        line.extend(byte);
    }
    String::from_utf8(line).unwrap()
}

fn start(dir: &Path, (plan, port): (&str, &str), words: Stdio) -> Child {
    fs::write(dir.join("plan.toml"), plan).unwrap();
    fs::write(dir.join("probes.toml"), PROBES.replace("PORT", port)).unwrap();
    let lining = fs::canonicalize("schedules/school-foundry-melter.toml").unwrap();
    firstheat()
        .current_dir(dir)
        .arg("follow")
        .arg(lining)
        .args(["--plan", "plan.toml", "--probes", "probes.toml", "--log", "log.csv"])
        .args(["--headless", "--time-from-probe", "--members", "8"])
        .stdin(words)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap()
}

/// Passes the program's lines on to the feeder, and gathers them.
fn pass_on(program: &mut Child, mut to_feeder: impl std::io::Write) -> Vec<Value> {
    let out = BufReader::new(program.stdout.take().unwrap());
    let (sender, receiver) = mpsc::channel();
    thread::spawn(move || out.lines().map_while(Result::ok).try_for_each(|line| sender.send(line)));
    let mut lines = Vec::new();
    loop {
        match receiver.recv_timeout(LIMIT) {
            Ok(line) => {
                lines.push(serde_json::from_str(&line).unwrap_or_else(|error| panic!("{error}: {line}")));
                // The feeder may be over already.
                let _ = writeln!(to_feeder, "{line}");
            }
            Err(mpsc::RecvTimeoutError::Disconnected) => return lines,
            Err(mpsc::RecvTimeoutError::Timeout) => panic!("nothing said for {LIMIT:?}, last {:?}", lines.last()),
        }
    }
}

fn replay(log: &Path) -> (i32, String) {
    let out = firstheat().arg("replay").arg(log).output().unwrap();
    (out.status.code().unwrap(), String::from_utf8(out.stdout).unwrap())
}

#[test]
fn an_obedient_heat_up_is_cued_pulse_by_pulse_without_a_ramp_warning() {
    let heard = follow(&["--until", "3100"]);
    let mut on: Vec<f64> = heard
        .of_kind("cue")
        .filter(|cue| cue["burner"] == "on")
        .map(|cue| cue["elapsed_s"].as_f64().unwrap() + cue["in_s"].as_f64().unwrap())
        .collect();
    // The same light-up may be cued ahead and again when it is due.
    on.dedup_by(|later, earlier| (*later - *earlier).abs() <= 2.0);
    let planned: Vec<f64> = (0..=10).map(|pulse| 300.0 * f64::from(pulse)).collect();
    assert_eq!(on.len(), planned.len(), "light-ups at {on:?}");
    assert!(on.iter().zip(&planned).all(|(on, planned)| (on - planned).abs() <= 2.0), "light-ups at {on:?}");
    assert_eq!(heard.warnings("ramp"), Vec::<&Value>::new());
    assert_eq!(heard.exit, 0);
}

/// Marks that are due at 0, 100, 300, 400 s and so on, with the shares that the plan file gives them.
#[test]
fn a_burner_that_is_turned_down_is_told_each_mark_and_its_log_replays_the_same() {
    let heard = follow_plan(MARKS, &["--until", "1500"]);
    // The feeder turns at the whole second before a change that is told ahead.
    let told: Vec<(f64, &str, f64)> = heard
        .of_kind("cue")
        .map(|cue| {
            let (at_s, mark) =
                (cue["elapsed_s"].as_f64().unwrap() + cue["in_s"].as_f64().unwrap(), &cue["set"]["mark"]);
            (at_s, mark["mark"].as_str().unwrap(), mark["share"].as_f64().unwrap())
        })
        .collect();
    let planned = [0.0, 100.0, 300.0, 400.0, 600.0, 700.0, 900.0, 1000.0, 1200.0];
    assert_eq!(told.len(), planned.len(), "{told:?}");
    for (index, (at_s, told)) in planned.iter().zip(&told).enumerate() {
        let (mark, share) = if index % 2 == 0 { ("low", 0.04) } else { ("pilot", 0.01) };
        assert!((told.0 - at_s).abs() <= 2.0 && told.1 == mark && (told.2 - share).abs() < 1e-12, "{told:?}, {at_s} s");
    }
    assert!(heard.of_kind("cue").all(|cue| cue["burner"] == "on"), "it is never shut");
    assert_eq!(heard.warnings("ramp"), Vec::<&Value>::new());
    let (code, said) = replay(&heard.log);
    assert_eq!((heard.exit, code), (0, 0), "{said}");
}

#[test]
fn each_probe_line_is_closed_by_its_reading_and_says_no_nan() {
    let heard = follow(&["--until", "120"]);
    let times: Vec<f64> = heard.of_kind("reading").map(|line| line["elapsed_s"].as_f64().unwrap()).collect();
    assert!(times.windows(2).all(|pair| pair[1] > pair[0]) && times.len() >= 120, "{times:?}");
    assert!(heard.of_kind("reading").all(|line| line["values"]["hot"].is_f64() && line["values"]["shell"].is_f64()));
    assert!(heard.lines.iter().all(|line| line["elapsed_s"].is_f64()));
    assert_eq!(
        (heard.lines[0]["kind"].as_str(), heard.lines[0]["time_from_probe"].as_bool()),
        (Some("ready"), Some(true))
    );
}

#[test]
fn a_burner_left_on_draws_a_ramp_warning_before_danger_passes_one_and_its_log_replays_the_same() {
    let heard = follow(&["--until", "1500", "--overheat"]);
    let warned_s = heard.warnings("ramp").first().map(|line| line["elapsed_s"].as_f64().unwrap());
    let spalls = |line: &&Value| {
        line["sections"].as_array().unwrap().iter().any(|section| section["danger"]["high"].as_f64().unwrap() >= 1.0)
    };
    let danger_s = heard.of_kind("estimate").find(spalls).map(|line| line["elapsed_s"].as_f64().unwrap());
    let warned_s = warned_s.expect("a ramp warning");
    assert!(danger_s.is_none_or(|danger_s| warned_s < danger_s), "warned at {warned_s}, danger at {danger_s:?}");
    assert!(warned_s < 120.0, "warned at {warned_s} s of a pulse of 6 s");
    assert_eq!(heard.exit, i32::from(danger_s.is_some()), "danger is the answer no");
    let (code, said) = replay(&heard.log);
    assert_eq!(code, 0, "{said}");
}

#[test]
fn a_probe_that_breaks_is_a_fault_when_it_begins_and_following_goes_on() {
    let heard = follow(&["--until", "200", "--fault", "shell=open@60"]);
    let faults: Vec<&Value> = heard.of_kind("fault").filter(|line| line["channel"] == "shell").collect();
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert_eq!((faults[0]["elapsed_s"].as_f64(), faults[0]["over"].as_bool()), (Some(60.0), Some(false)));
    let last = heard.of_kind("reading").last().unwrap();
    assert_eq!((last["faults"]["shell"].as_str(), last["values"].get("shell")), (Some("open"), None));
}

#[test]
fn a_log_that_was_tampered_with_does_not_replay_as_if_it_were_whole() {
    let heard = follow(&["--until", "60"]);
    let text = fs::read_to_string(&heard.log).unwrap();
    let changed = text.replacen(",hot,", ",hat,", 1);
    assert_ne!(text, changed);
    fs::write(&heard.log, changed).unwrap();
    let (code, said) = replay(&heard.log);
    assert!(said.contains("damage"), "{code}: {said}");
}

#[test]
fn a_signal_ends_following_with_its_log_whole() {
    let dir = tempfile::tempdir().unwrap();
    let mut feeder = Command::new("python3")
        .args(["tests/feeder/feeder.py"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut port = String::new();
    BufReader::new(feeder.stdout.take().unwrap()).read_line(&mut port).unwrap();
    let mut program = start(dir.path(), (PLAN, port.trim()), Stdio::piped());
    let mut out = BufReader::new(program.stdout.take().unwrap());
    let mut first = String::new();
    out.read_line(&mut first).unwrap();
    let pid = rustix::process::Pid::from_child(&program);
    rustix::process::kill_process(pid, rustix::process::Signal::TERM).unwrap();
    let code = program.wait().unwrap().code();
    drop(feeder.stdin.take());
    feeder.kill().unwrap();
    feeder.wait().unwrap();
    let last = out.lines().map_while(Result::ok).last().unwrap();
    assert!(first.contains("\"ready\"") && last.contains("\"end\""), "{first} {last}");
    assert_eq!((code, replay(&dir.path().join("log.csv")).0), (Some(0), 0));
}
