//! Boards that are asked: a Modbus server not written here, an instrument on a pseudo-terminal, recorded conversations, and
//! the `probes` command.

#![allow(clippy::unwrap_used)]

use std::fs;
use std::io::{Read, Write};
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, OnceLock};
use std::thread::{sleep, spawn};
use std::time::{Duration, Instant};

use assert_cmd::Command as Program;
use firstheat::probe::ask::Dialogue;
use firstheat::probe::feed::channel;
use firstheat::probe::port::PortReader;
use firstheat::probe::set::Protocol;
use firstheat::probe::{PortEvent, PortSpec, Told, file};
use firstheat::reading::{Fault, Reading};
use serialport::{SerialPort, TTYPort};
use tempfile::TempDir;
use tokio::sync::mpsc::Receiver;

/// Flipped bits of an instrument's answer that give another temperature.
const INSTRUMENT_SHARE: &str = "20 %";

const PATIENCE: Duration = Duration::from_secs(20);

/// A pseudo-terminal with a name of its own; the far end is the test's.
struct Line {
    far: TTYPort,
    near: TTYPort,
    shelf: TempDir,
}

impl Line {
    fn new() -> Self {
        let (mut far, near) = TTYPort::pair().unwrap();
        far.set_timeout(Duration::from_millis(20)).unwrap();
        let line = Self { far, near, shelf: tempfile::tempdir().unwrap() };
        symlink(line.near.name().unwrap(), line.shelf.path().join("board")).unwrap();
        line
    }

    fn path(&self) -> String {
        self.shelf.path().join("board").to_str().unwrap().to_owned()
    }
}

fn spec(path: &str, protocol: &str, channels: &[(&str, &str)]) -> PortSpec {
    let channel = |(name, keys): &(&str, &str)| {
        format!("[[port.channel]]\nname = \"{name}\"\nplace = \"chamber-gas\"\ntype = \"K\"\n{keys}\n")
    };
    let head = format!("format = \"firstheat probes 1\"\n[[port]]\npath = \"{path}\"\n{protocol}\nevery = \"0.2 s\"\n");
    file::parse(&(head + &channels.iter().map(channel).collect::<String>())).unwrap().ports.remove(0)
}

fn read(spec: PortSpec) -> (PortReader, Receiver<Told>) {
    let (sender, told) = channel();
    (PortReader::start(spec, sender).unwrap(), told)
}

/// The first event that `is_it`.
fn wait_for(told: &mut Receiver<Told>, is_it: impl Fn(&PortEvent) -> bool) -> PortEvent {
    let began = Instant::now();
    let mut others = Vec::new();
    while began.elapsed() < PATIENCE {
        match told.try_recv() {
            Ok(told) if is_it(&told.event) => return told.event,
            Ok(told) => others.push(told.event),
            Err(_) => sleep(Duration::from_millis(5)),
        }
    }
    panic!("it never came; there was {others:?}");
}

fn wait_for_readings(told: &mut Receiver<Told>) -> Vec<(String, Result<f64, Fault>)> {
    match wait_for(told, |event| matches!(event, PortEvent::Line { .. })) {
        PortEvent::Line { readings, .. } => plain(&readings),
        other => panic!("{other:?}"),
    }
}

fn plain(readings: &[Reading]) -> Vec<(String, Result<f64, Fault>)> {
    let plain =
        |reading: &Reading| (reading.channel.to_string(), reading.value.map(|temp| (temp.0 * 1000.0).round() / 1000.0));
    readings.iter().map(plain).collect()
}

/// Python with pymodbus, in an environment of its own that is made the first time.
fn python() -> &'static Path {
    static PYTHON: OnceLock<PathBuf> = OnceLock::new();
    PYTHON.get_or_init(|| {
        let shelf = Path::new(env!("CARGO_TARGET_TMPDIR")).join("boards-venv");
        let python = shelf.join("bin/python3");
        let has_it = || {
            let check = Command::new(&python).args(["-c", "import pymodbus"]).stderr(Stdio::null()).status();
            check.is_ok_and(|status| status.success())
        };
        if !has_it() {
            let wanted = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/boards/requirements.txt");
            let made = Command::new("python3").args(["-m", "venv"]).arg(&shelf).status();
            assert!(made.is_ok_and(|status| status.success()), "python3 with its module venv is needed");
            let pip = Command::new(&python).args(["-m", "pip", "install", "--quiet", "-r", wanted]).status().unwrap();
            assert!(pip.success() && has_it(), "pip could not install {wanted}");
        }
        python
    })
}

/// A pymodbus server on one pseudo-terminal, joined to another that the program reads.
struct Server {
    program: Child,
    line: Line,
}

/// What the way from the server to the program does to one answer: changes its bytes, and holds it up.
type Trouble = fn(answer: usize, bytes: &mut Vec<u8>) -> Duration;

impl Server {
    fn start() -> Self {
        Self::behind(|_, _| Duration::ZERO)
    }

    fn behind(trouble: Trouble) -> Self {
        let (line, bus) = (Line::new(), Line::new());
        let program = Command::new(python())
            .arg(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/boards/modbus_server.py"))
            .arg(bus.path())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let ends = |from: &TTYPort, to: &TTYPort| (from.try_clone_native().unwrap(), to.try_clone_native().unwrap());
        join(ends(&line.far, &bus.far), |_, _| Duration::ZERO);
        join(ends(&bus.far, &line.far), trouble);
        // The near end of the bus stays open for as long as the test runs.
        std::mem::forget(bus);
        Self { program, line }
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        let _ = self.program.kill();
        let _ = self.program.wait();
    }
}

fn join((mut from, mut to): (TTYPort, TTYPort), trouble: Trouble) {
    spawn(move || {
        let (mut buffer, mut answer) = ([0; 256], 0);
        loop {
            match from.read(&mut buffer) {
                Ok(count) => {
                    let mut bytes = buffer[..count].to_vec();
                    sleep(trouble(answer, &mut bytes));
                    answer += 1;
                    if to.write_all(&bytes).is_err() {
                        return;
                    }
                }
                Err(wrong) if wrong.kind() == std::io::ErrorKind::TimedOut => {}
                Err(_) => return,
            }
        }
    });
}

/// Reads two registers of the server through `trouble` for fifteen readings each, of which none may be wrong, and gives what was
/// told meanwhile.
fn read_through(trouble: Trouble) -> String {
    let server = Server::behind(trouble);
    let channels = [("tenths", "register = 0\nscale = 0.1"), ("below", "register = 1\nscale = 0.1")];
    let (_reader, mut told) = read(spec(&server.line.path(), "protocol = \"modbus-rtu\"", &channels));
    let sound = [("tenths".to_owned(), Ok(345.2)), ("below".to_owned(), Ok(-10.0))];
    let (mut remarks, mut rounds) = (String::new(), 0);
    while rounds < 15 {
        match wait_for(&mut told, |_| true) {
            PortEvent::Line { readings, .. } => {
                let readings = plain(&readings);
                assert!(readings.iter().all(|one| sound.contains(one) || one.1 == Err(Fault::Garbled)), "{readings:?}");
                rounds += usize::from(readings == sound);
            }
            PortEvent::Remark { text } => remarks += &(text + "\n"),
            other => panic!("{other:?}"),
        }
    }
    remarks
}

#[test]
fn a_modbus_answer_with_a_wrong_check_sum_is_refused_and_reading_goes_on() {
    let told = read_through(|answer, bytes| {
        // A value, not the loopback.
        if matches!(bytes[..], [1, 3, 2, ..]) && answer % 10 > 7 {
            bytes[3] ^= 1;
        }
        Duration::ZERO
    });
    assert!(told.contains("wrong check sum") && told.contains("answers again"), "{told}");
}

#[test]
fn a_modbus_answer_that_never_comes_is_told_and_reading_goes_on() {
    let told = read_through(|answer, bytes| {
        if answer % 10 == 9 {
            bytes.clear();
        }
        Duration::ZERO
    });
    assert!(told.contains("no answer within 0.5 s") && told.contains("answers again"), "{told}");
}

#[test]
fn slow_modbus_answers_are_waited_for() {
    let told = read_through(|_, _| Duration::from_millis(150));
    assert!(!told.contains("wrong check sum") && !told.contains("more bytes"), "{told}");
}

#[test]
fn a_late_modbus_answer_is_never_taken_for_the_next() {
    let told = read_through(|answer, _| Duration::from_millis(if answer % 7 == 6 { 700 } else { 0 }));
    assert!(told.contains("no answer within 0.5 s"), "{told}");
}

#[test]
fn a_modbus_server_that_was_not_written_here_is_read_in_every_way() {
    let server = Server::start();
    let channels = [
        ("tenths", "register = 0\nscale = 0.1"),
        ("below", "register = 1\nscale = 0.1\ntable = \"input\""),
        ("float", "register = 2\nnumber = \"float32\""),
        ("swapped", "register = 4\nnumber = \"float32\"\norder = \"CDAB\""),
        ("none", "register = 6\nscale = 0.1"),
        ("absent", "register = 100"),
    ];
    let (_reader, mut told) = read(spec(&server.line.path(), "protocol = \"modbus-rtu\"", &channels));
    // The server takes a second to start, so the first rounds may be silent.
    let line = wait_for(&mut told, |event| matches!(event, PortEvent::Line { readings, .. } if readings.len() == 6));
    let PortEvent::Line { readings, .. } = line else { panic!("{line:?}") };
    let expected = [
        ("tenths", Ok(345.2)),
        ("below", Ok(-10.0)),
        ("float", Ok(345.25)),
        ("swapped", Ok(345.25)),
        ("none", Err(Fault::Unnamed)),
        ("absent", Err(Fault::Unnamed)),
    ];
    assert_eq!(plain(&readings), expected.map(|(name, value)| (name.to_owned(), value)));
}

/// How an instrument behaves.
#[derive(Clone, Copy, PartialEq)]
enum Habit {
    /// It answers at once.
    Good,
    /// Each answer comes in three pieces.
    Slow,
    /// The third value comes 0.3 s late, after the time limit.
    LateOnce,
    /// It says nothing for the first second.
    SilentFirst,
    /// It gives each query back before it answers.
    Echo,
}

/// Plays an instrument whose two inputs are at 100 and 200 °C, until the flag is set.
fn instrument(line: &Line, habit: Habit) -> Arc<AtomicBool> {
    let mut far = line.far.try_clone_native().unwrap();
    let began = Instant::now();
    let stop = Arc::new(AtomicBool::new(false));
    let asked_to_stop = Arc::clone(&stop);
    spawn(move || {
        let (mut held, mut buffer, mut values) = (Vec::new(), [0; 64], 0);
        while !asked_to_stop.load(Ordering::Relaxed) {
            match far.read(&mut buffer) {
                Ok(count) => held.extend_from_slice(&buffer[..count]),
                Err(wrong) if wrong.kind() == std::io::ErrorKind::TimedOut => {}
                Err(_) => return,
            }
            while let Some(end) = held.iter().position(|byte| *byte == b'\n') {
                let query: Vec<u8> = held.drain(..=end).collect();
                if habit == Habit::SilentFirst && began.elapsed() < Duration::from_secs(1) {
                    continue;
                }
                if habit == Habit::Echo && far.write_all(&query).is_err() {
                    return;
                }
                let answer = match query.as_slice() {
                    b"*IDN?\n" => "SCHOOL FOUNDRY,READER,7,1.0\r\n",
                    b"READ? 1\n" => "+1.0000000E+02\r\n",
                    b"READ? 2\n" => "+2.0000000E+02\r\n",
                    _ => panic!("asked {}", query.escape_ascii()),
                };
                values += usize::from(query[0] == b'R');
                let pause = match habit {
                    Habit::LateOnce if values == 3 => Duration::from_millis(600),
                    Habit::Slow => Duration::from_millis(60),
                    _ => Duration::ZERO,
                };
                for piece in answer.as_bytes().chunks(if habit == Habit::Slow { 6 } else { 64 }) {
                    sleep(pause);
                    if far.write_all(piece).is_err() {
                        return;
                    }
                }
            }
        }
    });
    stop
}

fn ask(habit: Habit) -> (Line, PortReader, Receiver<Told>) {
    let line = Line::new();
    instrument(&line, habit);
    let head = "protocol = \"scpi\"\nidentity = \"READER\"\nanswer-within = \"0.3 s\"";
    let channels = [("one", "query = \"READ? 1\""), ("two", "query = \"READ? 2\"")];
    let (reader, told) = read(spec(&line.path(), head, &channels));
    (line, reader, told)
}

fn both() -> Vec<(String, Result<f64, Fault>)> {
    vec![("one".to_owned(), Ok(100.0)), ("two".to_owned(), Ok(200.0))]
}

#[test]
fn an_instrument_that_answers_whole_or_in_pieces_or_after_an_echo_is_read() {
    for habit in [Habit::Good, Habit::Slow, Habit::Echo] {
        let (_line, _reader, mut told) = ask(habit);
        let name = wait_for(&mut told, |event| matches!(event, PortEvent::Remark { .. }));
        assert!(matches!(name, PortEvent::Remark { text } if text.contains("SCHOOL FOUNDRY,READER")));
        for _ in 0..3 {
            assert_eq!(wait_for_readings(&mut told), both());
        }
    }
}

#[test]
fn an_instrument_that_is_silent_at_first_is_read_in_the_end() {
    let (_line, _reader, mut told) = ask(Habit::SilentFirst);
    wait_for(&mut told, |event| matches!(event, PortEvent::Line { readings, .. } if plain(readings) == both()));
}

#[test]
fn a_late_answer_of_an_instrument_is_dropped_and_reading_goes_on() {
    let (_line, _reader, mut told) = ask(Habit::LateOnce);
    let late = wait_for(&mut told, |event| matches!(event, PortEvent::Remark { text } if text.contains("no answer")));
    assert!(matches!(late, PortEvent::Remark { text } if text.contains("READ? 1")));
    for _ in 0..4 {
        let readings = wait_for_readings(&mut told);
        assert!(readings.iter().all(|reading| both().contains(reading)), "{readings:?}");
    }
    wait_for(&mut told, |event| matches!(event, PortEvent::Line { readings, .. } if plain(readings) == both()));
}

#[test]
fn an_instrument_that_is_pulled_and_comes_back_under_another_number_is_read_on() {
    let line = Line::new();
    let stop = instrument(&line, Habit::Good);
    let channels = [("one", "query = \"READ? 1\""), ("two", "query = \"READ? 2\"")];
    let (_reader, mut told) = read(spec(&line.path(), "protocol = \"scpi\"\nidentity = \"READER\"", &channels));
    assert_eq!(wait_for_readings(&mut told), both());
    let name = line.path();
    let Line { far, near, shelf } = line;
    stop.store(true, Ordering::Relaxed);
    fs::remove_file(&name).unwrap();
    drop((far, near));
    wait_for(&mut told, |event| matches!(event, PortEvent::Lost { .. }));
    let (far, near) = TTYPort::pair().unwrap();
    let mut line = Line { far, near, shelf };
    line.far.set_timeout(Duration::from_millis(20)).unwrap();
    symlink(line.near.name().unwrap(), &name).unwrap();
    instrument(&line, Habit::Good);
    wait_for(&mut told, |event| *event == PortEvent::Back);
    assert_eq!(wait_for_readings(&mut told), both());
}

/// A recorded conversation: what was asked, and what was answered.
struct Recording {
    spec: PortSpec,
    pairs: Vec<(Vec<u8>, Vec<u8>)>,
}

fn recordings() -> Vec<Recording> {
    let shelf = Path::new(env!("CARGO_MANIFEST_DIR")).join("hardware-notes/samples");
    let recording = |name: &str| {
        let text = fs::read_to_string(shelf.join(format!("{name}.talk"))).unwrap();
        let spec =
            file::parse(&fs::read_to_string(shelf.join(format!("{name}.toml"))).unwrap()).unwrap().ports.remove(0);
        let bytes = |line: &str| -> Vec<u8> {
            line[1..].split_ascii_whitespace().map(|digits| u8::from_str_radix(digits, 16).unwrap()).collect()
        };
        let lines: Vec<&str> = text.lines().filter(|line| line.starts_with(['>', '<'])).collect();
        Recording { spec, pairs: lines.chunks(2).map(|pair| (bytes(pair[0]), bytes(pair[1]))).collect() }
    };
    ["modbus-rtu", "scpi"].map(recording).into()
}

impl Recording {
    /// Plays it to the program for some seconds and gives what was read. `damaged` changes the answer of that number.
    fn play(&self, damaged: &dyn Fn(usize, &mut Vec<u8>)) -> Vec<(String, Result<f64, Fault>)> {
        let mut dialogue = Dialogue::new(self.spec.clone(), Duration::ZERO);
        let (mut now, mut answer, mut told) = (Duration::ZERO, Vec::new(), Vec::new());
        while now < Duration::from_secs(2) {
            let turn = dialogue.advance(now, &std::mem::take(&mut answer));
            for event in turn.events {
                if let PortEvent::Line { readings, .. } = event {
                    told.extend(plain(&readings));
                }
            }
            // A question that was not recorded (the fence of a bus) is not answered.
            if let Some(place) = self.pairs.iter().position(|(asked, _)| *asked == turn.send) {
                answer.clone_from(&self.pairs[place].1);
                damaged(place, &mut answer);
            }
            now += Duration::from_millis(10);
        }
        told
    }
}

#[test]
fn each_recorded_conversation_gives_the_readings_it_should() {
    let expected: [&[(&str, Result<f64, Fault>)]; 2] = [
        &[("hot", Ok(345.2)), ("core", Ok(345.25)), ("shell", Err(Fault::Unnamed))],
        &[("hot", Ok(345.2)), ("core", Err(Fault::Unnamed))],
    ];
    for (recording, expected) in recordings().iter().zip(expected) {
        let told = recording.play(&|_, _| {});
        let expected: Vec<_> = expected.iter().map(|(name, value)| ((*name).to_owned(), *value)).collect();
        assert_eq!(told[..expected.len()], expected);
    }
}

/// Answers of instruments have no check sum: a digit that became another digit is taken. What is not a number of the standard's
/// form, or no temperature of the type, is not. The figure stands in `hardware-notes/asked.md` too.
#[test]
fn the_share_of_flipped_bits_that_gets_past_an_instrument_is_known() {
    let recording = &recordings()[1];
    let good = recording.play(&|_, _| {});
    // The answer with the number: the first is the name, the third "not a number".
    let bits = recording.pairs[1].1.len() * 8;
    let taken = |bit: &usize| {
        let flip = |at: usize, bytes: &mut Vec<u8>| {
            if at == 1 {
                bytes[bit / 8] ^= 1 << (bit % 8);
            }
        };
        let wrong: Vec<_> =
            recording.play(&flip).into_iter().filter(|one| one.1.is_ok() && !good.contains(one)).collect();
        for (name, value) in &wrong {
            assert!(value.is_ok_and(|temp_c| (-50.0..=1372.0).contains(&temp_c)), "bit {bit}: {name} {value:?}");
        }
        !wrong.is_empty()
    };
    let share = (0..bits).filter(taken).count() as f64 / bits as f64;
    assert_eq!(format!("{:.0} %", 100.0 * share), INSTRUMENT_SHARE);
}

/// Ten megabytes of noise, from a generator that gives the same each time, in place of every answer.
#[test]
fn ten_megabytes_of_noise_from_boards_that_are_asked_give_no_reading_and_hold_no_memory() {
    for recording in recordings() {
        let mut dialogue = Dialogue::new(recording.spec.clone(), Duration::ZERO);
        let mut luck = 1_u64;
        for at in 0..10_240 {
            let noise: Vec<u8> = (0..1024)
                .map(|_| {
                    luck = luck.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                    (luck >> 56) as u8
                })
                .collect();
            let turn = dialogue.advance(Duration::from_millis(300 * at), &noise);
            for event in &turn.events {
                let is_value = |event: &PortEvent| matches!(event, PortEvent::Line { readings, .. } if plain(readings).iter().any(|one| one.1.is_ok()));
                assert!(!is_value(event), "{event:?}");
            }
            assert!(turn.events.len() < 10, "{:?}", turn.events);
        }
    }
}

/// On a bus the check sum can tell; answers of instruments have none, so there a flipped bit may get past.
#[test]
fn no_cut_and_no_flipped_bit_of_a_recorded_conversation_is_taken_on_a_bus() {
    for recording in recordings() {
        let good = recording.play(&|_, _| {});
        for place in 0..recording.pairs.len() {
            let length = recording.pairs[place].1.len();
            for bit in 0..length * 8 {
                let flip = |at: usize, bytes: &mut Vec<u8>| {
                    if at == place {
                        bytes[bit / 8] ^= 1 << (bit % 8);
                    }
                };
                let told = recording.play(&flip);
                let is_bus = recording.pairs[0].0[0] == 1;
                assert!(
                    !is_bus || told.iter().all(|one| one.1.is_err() || good.contains(one)),
                    "{place} {bit}: {told:?}"
                );
            }
            for cut in 0..length {
                let told =
                    recording.play(&|at, bytes: &mut Vec<u8>| bytes.truncate(if at == place { cut } else { 99 }));
                assert!(told.iter().all(|one| one.1.is_err() || good.contains(one)), "{place} cut at {cut}: {told:?}");
            }
        }
    }
}

fn firstheat(arguments: &[&str]) -> Program {
    let mut program = Program::cargo_bin("firstheat").unwrap();
    program.arg("probes").args(arguments);
    program
}

fn out(program: &mut Program) -> String {
    String::from_utf8(program.output().unwrap().stdout).unwrap()
}

fn err(program: &mut Program) -> String {
    String::from_utf8(program.output().unwrap().stderr).unwrap()
}

/// 20.644 mV is printed for type K at 500 °C.
#[test]
fn emf_is_turned_round_both_ways_on_the_command_line() {
    let there = out(&mut firstheat(&["emf", "--type", "k", "500C"]));
    assert!(there.starts_with("type K, terminals at 0.0 °C: 500.00 °C (932.00 °F) is 20.6443 mV\n"), "{there}");
    assert!(there.contains("IEC 60584-1 class 2  ±3.75 K"), "{there}");
    let back =
        out(&mut firstheat(&["emf", "--type", "K", "--cold-junction", "25C", "--json", "--", "19.644mV", "-50C"]));
    let lines: Vec<serde_json::Value> = back.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert!((lines[0]["temp_c"].as_f64().unwrap() - 500.0).abs() < 0.03, "{back}");
    assert!((lines[1]["temp_c"].as_f64().unwrap() + 50.0).abs() < 1e-9, "{back}");
}

#[test]
fn what_cannot_be_turned_round_is_refused_with_the_reason() {
    let refusals = [
        (["emf", "--type", "K", "1500C"], "-270 to 1372 °C"),
        (["emf", "--type", "K", "60mV"], "54.886 mV"),
        (["emf", "--type", "Q", "60mV"], "no thermocouple type `Q`"),
        (["emf", "--type", "K", "60"], "without a unit"),
    ];
    for (arguments, words) in refusals {
        firstheat(&arguments).assert().code(2);
        let told = err(&mut firstheat(&arguments));
        assert!(told.contains(words), "{arguments:?}: {told}");
    }
}

const PROBES: &str = "# the school's reader\nformat = \"firstheat probes 1\"\n\n[[port]]\npath = \"-\"\n\n[[port.channel]]\nname \
                      = \"hot\"\nplace = \"chamber-gas\"\ntype = \"K\"\n";

fn probe_file() -> (TempDir, PathBuf) {
    let shelf = tempfile::tempdir().unwrap();
    let path = shelf.path().join("probes.toml");
    fs::write(&path, PROBES).unwrap();
    (shelf, path)
}

fn lines(temp_c: f64) -> String {
    let lines: Vec<String> =
        (0..20).map(|at| format!("t={at} hot={:.2}\n", temp_c + 0.1 * f64::from(at % 3))).collect();
    lines.concat()
}

#[test]
fn watching_shows_what_came_beside_what_it_means() {
    let (_shelf, path) = probe_file();
    let told = out(firstheat(&["watch", path.to_str().unwrap()]).write_stdin("hot=345.2\nhot=open\nhot=3x\n"));
    assert!(
        told.contains("hot 345.2 °C  <- hot=345.2\n") && told.contains("hot open circuit  <- hot=open\n"),
        "{told}"
    );
    assert!(told.contains("refused: found \"3x\""), "{told}");
}

#[test]
fn an_offset_found_in_ice_is_stored_with_its_date_and_the_rest_of_the_file_stays() {
    let (_shelf, path) = probe_file();
    let name = path.to_str().unwrap();
    firstheat(&["bath", name, "ice", "--store"]).write_stdin(lines(0.7)).assert().code(0);
    let stored = fs::read_to_string(&path).unwrap();
    assert!(stored.starts_with(PROBES) && stored.contains("offset = \"-0.8 K\"\noffset-date = \"20"), "{stored}");
    let told = out(firstheat(&["bath", name, "ice"]).write_stdin(lines(1.7)));
    assert!(told.contains("moved by +1.00 K since its offset was found on 20"), "{told}");
}

#[test]
fn a_probe_far_off_in_boiling_water_gets_no_offset() {
    let (_shelf, path) = probe_file();
    let name = path.to_str().unwrap();
    let assert =
        firstheat(&["bath", name, "boiling", "--altitude", "600m", "--store"]).write_stdin(lines(60.0)).assert();
    let told = String::from_utf8(assert.code(1).get_output().stdout.clone()).unwrap();
    assert!(told.contains("98.0 °C") && told.contains("is no offset"), "{told}");
    assert_eq!(fs::read_to_string(&path).unwrap(), PROBES);
}

/// Ice first and boiling water 600 m up (98.0 °C) next, as on a bench, over a port; a board that is 0.8 K too warm.
#[test]
fn a_walk_through_ice_and_boiling_water_on_a_port_leaves_an_offset_with_its_date() {
    let line = Line::new();
    let file = line.shelf.path().join("probes.toml");
    fs::write(&file, PROBES.replace("\"-\"", &format!("{:?}", line.path()))).unwrap();
    let name = file.to_str().unwrap().to_owned();
    let bath = |arguments: &[&str], bath_c: f64| {
        let mut far = line.far.try_clone_native().unwrap();
        let mut program = firstheat(&["bath", &name, "--for", "3s"]);
        program.args(arguments);
        let listener = spawn(move || out(&mut program));
        for tenth in (0_u32..2).cycle() {
            if listener.is_finished() {
                break;
            }
            far.write_all(format!("hot={:.2}\r\n", bath_c + 0.75 + 0.1 * f64::from(tenth)).as_bytes()).unwrap();
            sleep(Duration::from_millis(100));
        }
        listener.join().unwrap()
    };
    let ice = bath(&["ice", "--store"], 0.0);
    assert!(ice.contains("off by +0.8") && ice.contains("within IEC 60584-1") && ice.contains("stored in"), "{ice}");
    let stored = fs::read_to_string(&file).unwrap();
    assert!(stored.contains("offset = \"-0.8") && stored.contains("offset-date = \"20"), "{stored}");
    let boiling = bath(&["boiling", "--altitude", "600m"], 98.0);
    assert!(
        boiling.contains("98.0 °C") && boiling.contains("moved by") && boiling.contains("within IEC 60584-1"),
        "{boiling}"
    );
    assert_eq!(fs::read_to_string(&file).unwrap(), stored);
}

#[test]
fn a_port_that_is_named_is_listened_to() {
    let mut line = Line::new();
    let path = line.path();
    let listener = spawn(move || out(&mut firstheat(&["ports", &path])));
    sleep(Duration::from_millis(800));
    line.far.write_all(b"hot=345.2\n").unwrap();
    let told = listener.join().unwrap();
    assert!(told.contains("says \"hot=345.2\\n\" at 38400 baud"), "{told}");
}

#[test]
fn a_board_that_sends_lines_is_found_and_its_probe_file_is_read() {
    let mut line = Line::new();
    let (path, output) = (line.path(), line.shelf.path().join("probes.toml"));
    let file_name = output.to_str().unwrap().to_owned();
    let finder = spawn(move || out(&mut firstheat(&["find", &path, "-o", &file_name])));
    while !finder.is_finished() {
        line.far.write_all(b"t=1 hot=345.2C shell=33.0C\r\n").unwrap();
        sleep(Duration::from_millis(300));
    }
    let told = finder.join().unwrap();
    assert!(told.contains("found lines of readings") && told.contains("at 38400 baud"), "{told}");
    let set = file::parse(&fs::read_to_string(output).unwrap()).unwrap();
    assert_eq!(set.channels().map(|spec| spec.channel.to_string()).collect::<Vec<_>>(), ["hot", "shell"]);
}

/// What `probes find` writes about what is on `path`.
fn found_on(path: &str) -> (String, PortSpec) {
    let shelf = tempfile::tempdir().unwrap();
    let output = shelf.path().join("probes.toml");
    let told = out(&mut firstheat(&["find", path, "-o", output.to_str().unwrap()]));
    let spec = file::parse(&fs::read_to_string(output).unwrap()).unwrap().ports.remove(0);
    (told, spec)
}

#[test]
fn an_instrument_is_found_with_its_name() {
    let line = Line::new();
    instrument(&line, Habit::Good);
    let (told, spec) = found_on(&line.path());
    assert!(told.contains("the instrument \"SCHOOL FOUNDRY,READER,7,1.0\""), "{told}");
    assert_eq!((spec.protocol, spec.poll.identity.as_deref()), (Protocol::Scpi, Some("SCHOOL FOUNDRY,READER,7,1.0")));
}

#[test]
fn a_modbus_server_that_was_not_written_here_is_found_with_its_address() {
    let server = Server::start();
    let (told, spec) = found_on(&server.line.path());
    assert!(told.contains("device 1 on a bus"), "{told}");
    assert_eq!((spec.protocol, spec.speed), (Protocol::ModbusRtu, 9600));
}
