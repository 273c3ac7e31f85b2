//! The reference firmware, built and run in a simulated microcontroller with simulated converter chips, read by the program.
//!
//! It needs avr-gcc, libsimavr and a C compiler (Debian: gcc-avr avr-libc libsimavr-dev libelf-dev). Where avr-gcc or
//! libsimavr is absent each test says so on standard error and ends.

#![allow(clippy::unwrap_used)]

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::OnceLock;
use std::time::{Duration, Instant};

use firstheat::probe::feed::channel;
use firstheat::probe::port::PortReader;
use firstheat::probe::{PortEvent, PortSpec, Told, file};
use firstheat::reading::{Fault, Reading};
use firstheat::units::Celsius;
use tokio::sync::mpsc::Receiver;

const PATIENCE: Duration = Duration::from_secs(20);

/// The built firmware and simulator; `None` where their tools are absent.
#[allow(clippy::print_stderr, reason = "whoever runs the tests has to know that these did not run")]
fn built() -> Option<&'static (PathBuf, PathBuf)> {
    static BUILT: OnceLock<Option<(PathBuf, PathBuf)>> = OnceLock::new();
    let found = BUILT.get_or_init(|| {
        let has_compiler = Command::new("avr-gcc").arg("--version").stdout(Stdio::null()).status().is_ok();
        if !has_compiler || !Path::new("/usr/include/simavr/sim_avr.h").exists() {
            return None;
        }
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        let shelf = Path::new(env!("CARGO_TARGET_TMPDIR"));
        let (firmware, simulator) = (shelf.join("board.elf"), shelf.join("board_simulator"));
        run(Command::new("avr-gcc")
            .args([
                "-mmcu=atmega328p",
                "-DF_CPU=16000000UL",
                "-DCONVERTERS=2",
                "-Os",
                "-std=gnu99",
                "-Wall",
                "-Wextra",
                "-Werror",
            ])
            .arg("-o")
            .arg(&firmware)
            .arg(root.join("hardware-notes/firmware/board.c")));
        run(Command::new("cc")
            .args(["-O2", "-Wall", "-Wextra", "-I/usr/include/simavr", "-o"])
            .arg(&simulator)
            .arg(root.join("tests/boards/board_simulator.c"))
            .args(["-lsimavr", "-lelf", "-lutil", "-lm"]));
        Some((firmware, simulator))
    });
    if found.is_none() {
        eprintln!("not tested: avr-gcc or libsimavr is absent (Debian: gcc-avr avr-libc libsimavr-dev libelf-dev)");
    }
    found.as_ref()
}

fn run(command: &mut Command) {
    let out = command.output().unwrap();
    assert!(out.status.success(), "{command:?}\n{}", String::from_utf8_lossy(&out.stderr));
}

/// A simulated board behind the port `board` of a directory: its process, and where it takes words.
fn plugged_in() -> Option<(Child, ChildStdin, tempfile::TempDir)> {
    let (firmware, simulator) = built()?;
    let shelf = tempfile::tempdir().unwrap();
    let mut program = Command::new(simulator)
        .arg(shelf.path().join("board"))
        .arg(firmware)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let words = program.stdin.take().unwrap();
    let mut says = BufReader::new(program.stdout.take().unwrap()).lines();
    assert!(says.any(|line| line.unwrap().starts_with("plugged")), "the simulator never plugged the board in");
    // What it says later is read away, so that it never waits for a reader.
    std::thread::spawn(move || says.for_each(drop));
    Some((program, words, shelf))
}

/// A simulated board that is read by the program.
struct Board {
    program: Child,
    words: ChildStdin,
    told: Receiver<Told>,
    _reader: PortReader,
    _shelf: tempfile::TempDir,
}

impl Board {
    fn start() -> Option<Self> {
        let (program, words, shelf) = plugged_in()?;
        let (sender, told) = channel();
        let reader = PortReader::start(spec(shelf.path().join("board").to_str().unwrap()), sender).unwrap();
        Some(Self { program, words, told, _reader: reader, _shelf: shelf })
    }

    fn say(&mut self, words: &str) {
        writeln!(self.words, "{words}").unwrap();
    }

    /// The first event that `is_it`.
    fn wait_for(&mut self, is_it: impl Fn(&PortEvent) -> bool) -> PortEvent {
        let began = Instant::now();
        let mut others = Vec::new();
        while began.elapsed() < PATIENCE {
            match self.told.try_recv() {
                Ok(told) if is_it(&told.event) => return told.event,
                Ok(told) => others.push(told.event),
                Err(_) => std::thread::sleep(Duration::from_millis(10)),
            }
        }
        panic!("it never came; there was {others:?}");
    }

    fn wait_for_values(&mut self, values: [Result<Celsius, Fault>; 2]) {
        self.wait_for(|event| matches!(event, PortEvent::Line { readings, .. } if values_of(readings) == values));
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

fn values_of(readings: &[Reading]) -> Vec<Result<Celsius, Fault>> {
    readings.iter().map(|reading| reading.value).collect()
}

fn spec(path: &str) -> PortSpec {
    let channel = |name: &str, label: &str| {
        format!("[[port.channel]]\nname = \"{name}\"\nlabel = \"{label}\"\nplace = \"chamber-gas\"\ntype = \"K\"\n")
    };
    let head = format!("format = \"firstheat probes 1\"\n[[port]]\npath = \"{path}\"\ncheck = \"crc16\"\n");
    file::parse(&format!("{head}{}{}", channel("hot", "tc1"), channel("core", "tc2"))).unwrap().ports.remove(0)
}

#[test]
fn temperatures_on_the_chips_are_read_to_their_last_digit() {
    let Some(mut board) = Board::start() else { return };
    board.say("tc 1 1012.25");
    board.say("tc 2 -5.5");
    board.wait_for_values([Ok(Celsius(1012.25)), Ok(Celsius(-5.5))]);
}

#[test]
fn each_fault_of_a_chip_is_read_as_what_it_is() {
    let Some(mut board) = Board::start() else { return };
    for (words, fault) in
        [("open", Fault::Open), ("gnd", Fault::Short), ("vcc", Fault::Short), ("absent", Fault::Unnamed)]
    {
        board.say(&format!("fault 2 {words}"));
        board.wait_for_values([Ok(Celsius(20.0)), Err(fault)]);
    }
}

#[test]
fn a_board_that_restarts_is_read_on() {
    let Some(mut board) = Board::start() else { return };
    board.wait_for_values([Ok(Celsius(20.0)), Ok(Celsius(20.0))]);
    board.say("tc 1 500");
    board.say("reset");
    board.wait_for_values([Ok(Celsius(500.0)), Ok(Celsius(20.0))]);
}

#[test]
fn a_board_that_is_pulled_and_plugged_in_again_is_read_on() {
    let Some(mut board) = Board::start() else { return };
    board.wait_for_values([Ok(Celsius(20.0)), Ok(Celsius(20.0))]);
    board.say("unplug");
    board.wait_for(|event| matches!(event, PortEvent::Lost { .. }));
    board.say("plug");
    board.wait_for(|event| *event == PortEvent::Back);
    board.wait_for_values([Ok(Celsius(20.0)), Ok(Celsius(20.0))]);
}

#[test]
fn no_line_of_the_board_is_ever_refused() {
    let Some(mut board) = Board::start() else { return };
    for line in 0..3 {
        board.say(&format!("tc 1 {}", 300 + line));
        let event = board.wait_for(|event| matches!(event, PortEvent::Line { .. } | PortEvent::Garbled { .. }));
        assert!(matches!(event, PortEvent::Line { .. }), "{event:?}");
    }
}

const FOLLOWED: &str = r#"
format = "firstheat probes 1"
[[port]]
path = "board"
check = "crc16"
[[port.channel]]
name = "hot"
label = "tc1"
place = "hot-face"
section = "wall"
type = "K"
[[port.channel]]
name = "shell"
label = "tc2"
place = "shell"
section = "wall"
type = "K"
"#;

const PLAN: &str = include_str!("plans/melter-pulses.toml");

/// `follow` without a screen on the board's port.
fn followed(dir: &Path) -> Child {
    std::fs::write(dir.join("probes.toml"), FOLLOWED).unwrap();
    std::fs::write(dir.join("plan.toml"), PLAN).unwrap();
    Command::new(env!("CARGO_BIN_EXE_firstheat"))
        .current_dir(dir)
        .arg("follow")
        .arg(std::fs::canonicalize("schedules/school-foundry-melter.toml").unwrap())
        .args(["--plan", "plan.toml", "--probes", "probes.toml", "--log", "log.csv", "--headless", "--members", "4"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap()
}

/// The whole chain: a chip is heated, the firmware says so on its line, the heat-up is followed and logged; a broken and a
/// shorted probe are told within the 10 s that a person may be without it.
#[test]
fn a_heat_up_is_followed_on_the_board_and_its_broken_probes_are_told() {
    let Some((mut board, mut words, shelf)) = plugged_in() else { return };
    let mut follow = followed(shelf.path());
    let mut orders = follow.stdin.take().unwrap();
    let (sender, said) = std::sync::mpsc::channel();
    let out = BufReader::new(follow.stdout.take().unwrap());
    std::thread::spawn(move || out.lines().map_while(Result::ok).try_for_each(|line| sender.send(line)));
    let wait_for = |what: &str, is_it: &dyn Fn(&serde_json::Value) -> bool| {
        let (began, mut others) = (Instant::now(), Vec::new());
        while began.elapsed() < PATIENCE {
            let Ok(line) = said.recv_timeout(PATIENCE) else { break };
            if is_it(&serde_json::from_str(&line).unwrap()) {
                return began.elapsed();
            }
            others.push(line);
        }
        panic!("{what} never came; there was {others:#?}");
    };
    let fault = |channel: &'static str, word: &'static str| {
        move |line: &serde_json::Value| {
            line["kind"] == "fault" && line["channel"] == channel && line["text"].as_str().unwrap().contains(word)
        }
    };
    writeln!(words, "tc 1 41.75").unwrap();
    writeln!(orders, "on").unwrap();
    wait_for("the chip's temperature", &|line| line.to_string().contains("41.75"));
    writeln!(words, "fault 2 open").unwrap();
    assert!(wait_for("the open shell", &fault("shell", "open")) < Duration::from_secs(10));
    writeln!(words, "fault 1 gnd").unwrap();
    assert!(wait_for("the shorted hot face", &fault("hot", "short")) < Duration::from_secs(10));
    writeln!(orders, "quit").unwrap();
    assert!(follow.wait().unwrap().success());
    board.kill().unwrap();
    board.wait().unwrap();
    let log = std::fs::read_to_string(shelf.path().join("log.csv")).unwrap();
    assert!(log.contains("41.75") && log.contains("open") && log.contains("short"), "{log}");
}
