use proptest::prelude::*;

use super::*;
use crate::probe::file;
use crate::units::Celsius;

const STEP: Duration = Duration::from_millis(5);

/// A device that takes questions in turn: gives the bytes of each answer, and how long it thinks.
type Device<'a> = Box<dyn FnMut(usize, &[u8]) -> (Duration, Vec<u8>) + 'a>;

/// Plays a conversation for `span` and gives what was told, with times.
fn play(spec: &PortSpec, span: Duration, mut device: Device<'_>) -> Vec<(Duration, PortEvent)> {
    let mut dialogue = Dialogue::new(spec.clone(), Duration::ZERO);
    let (mut now, mut asked, mut told) = (Duration::ZERO, 0, Vec::new());
    let mut coming: Vec<(Duration, Vec<u8>)> = Vec::new();
    while now < span {
        let here: Vec<u8> = coming.extract_if(.., |(at, _)| *at <= now).flat_map(|(_, bytes)| bytes).collect();
        let turn = dialogue.advance(now, &here);
        told.extend(turn.events.into_iter().map(|event| (now, event)));
        if !turn.send.is_empty() {
            let (thinks, bytes) = device(asked, &turn.send);
            asked += 1;
            // In turn: an answer never overtakes the one before.
            let at = coming.iter().map(|(at, _)| *at).max().unwrap_or_default().max(now + thinks);
            coming.push((at, bytes));
        }
        now += STEP;
    }
    told
}

fn modbus_port() -> PortSpec {
    port("protocol = \"modbus-rtu\"", ["register = 1", "register = 2"])
}

fn scpi_port(more: &str) -> PortSpec {
    let head = format!("protocol = \"scpi\"\n{more}");
    port(&head, ["query = \"MEAS:TEMP? (@1)\"", "query = \"MEAS:TEMP? (@2)\""])
}

fn port(head: &str, keys: [&str; 2]) -> PortSpec {
    let channel = |name: &str, keys: &str| {
        format!("[[port.channel]]\nname = \"{name}\"\nplace = \"chamber-gas\"\ntype = \"K\"\n{keys}\n")
    };
    let head = format!("format = \"firstheat probes 1\"\n[[port]]\npath = \"/dev/ttyUSB0\"\n{head}\n");
    let text = format!("{head}{}{}", channel("one", keys[0]), channel("two", keys[1]));
    file::parse(&text).unwrap_or_else(|wrong| panic!("{wrong}")).ports.remove(0)
}

/// A bus device whose register n holds 100 n, and which gives the loopback back if it knows it.
fn bus_device(question: &[u8], knows_loopback: bool) -> Vec<u8> {
    let sum = |body: &[u8]| {
        let [low, high] = crc::Crc::<u16>::new(&crc::CRC_16_MODBUS).checksum(body).to_le_bytes();
        [body, &[low, high]].concat()
    };
    match question[1] {
        8 if knows_loopback => question.to_vec(),
        8 => Vec::new(),
        function => {
            sum(&[[question[0], function, 2].as_slice(), &(100 * u16::from(question[3])).to_be_bytes()].concat())
        }
    }
}

fn instrument(question: &[u8]) -> Vec<u8> {
    match question {
        b"*IDN?\n" => b"SCHOOL,READER,7,1.0\r\n".to_vec(),
        b"MEAS:TEMP? (@1)\n" => b"+1.00000E+02\r\n".to_vec(),
        b"MEAS:TEMP? (@2)\n" => b"+2.00000E+02\r\n".to_vec(),
        other => panic!("asked {}", other.escape_ascii()),
    }
}

fn readings(told: &[(Duration, PortEvent)]) -> Vec<(String, Result<Celsius, Fault>)> {
    let of = |(_, event): &(Duration, PortEvent)| match event {
        PortEvent::Line { readings, .. } => readings.clone(),
        _ => Vec::new(),
    };
    told.iter().flat_map(of).map(|reading| (reading.channel.to_string(), reading.value)).collect()
}

fn remarks(told: &[(Duration, PortEvent)]) -> Vec<String> {
    let of = |(_, event): &(Duration, PortEvent)| match event {
        PortEvent::Remark { text } => Some(text.clone()),
        _ => None,
    };
    told.iter().filter_map(of).collect()
}

/// No channel is ever given the value of the other.
fn is_right((name, value): &(String, Result<Celsius, Fault>)) -> bool {
    value.is_err() || *value == Ok(Celsius(if name == "one" { 100.0 } else { 200.0 }))
}

const SECONDS: fn(u64) -> Duration = Duration::from_secs;
const MS: fn(u64) -> Duration = Duration::from_millis;

#[test]
fn each_round_gives_all_channels_once_a_second() {
    for (spec, is_bus) in [(modbus_port(), true), (scpi_port(""), false)] {
        let device = |_: usize, question: &[u8]| {
            (MS(20), if is_bus { bus_device(question, true) } else { instrument(question) })
        };
        let told = readings(&play(&spec, SECONDS(10), Box::new(device)));
        assert!((18..=22).contains(&told.len()) && told.iter().all(is_right), "{told:?}");
    }
}

#[test]
fn an_answer_that_is_always_late_is_never_taken_for_the_next() {
    for late_ms in [480, 520, 700, 990, 1010, 1200, 1490, 1600, 2100, 2600, 3100] {
        for knows_loopback in [true, false] {
            let device = |_: usize, question: &[u8]| (MS(late_ms), bus_device(question, knows_loopback));
            let told = readings(&play(&modbus_port(), SECONDS(60), Box::new(device)));
            assert!(told.iter().all(is_right), "{late_ms} ms, loopback {knows_loopback}: {told:?}");
        }
        let told =
            readings(&play(&scpi_port(""), SECONDS(60), Box::new(|_, question| (MS(late_ms), instrument(question)))));
        assert!(told.iter().all(is_right), "{late_ms} ms, queries: {told:?}");
    }
}

#[test]
fn a_single_late_answer_costs_less_than_ten_seconds() {
    for knows_loopback in [true, false] {
        let device = |asked: usize, question: &[u8]| {
            (if asked == 6 { MS(900) } else { MS(20) }, bus_device(question, knows_loopback))
        };
        let told = play(&modbus_port(), SECONDS(20), Box::new(device));
        let times: Vec<Duration> = told
            .iter()
            .filter(|(_, event)| matches!(event, PortEvent::Line { readings, .. } if readings.len() == 2))
            .map(|(at, _)| *at)
            .collect();
        let longest = times.windows(2).map(|pair| pair[1].saturating_sub(pair[0])).max();
        assert!(longest.is_some_and(|longest| longest < SECONDS(10)), "loopback {knows_loopback}: {times:?}");
        assert!(readings(&told).iter().all(is_right));
    }
}

#[test]
fn a_silent_device_is_told_once_and_gives_no_reading() {
    let told = play(&modbus_port(), SECONDS(30), Box::new(|_, _| (Duration::ZERO, Vec::new())));
    assert!(readings(&told).is_empty());
    let remarks = remarks(&told);
    assert!(remarks.len() == 2 && remarks[0].contains("no answer within 0.5 s"), "{remarks:?}");
}

#[test]
fn a_device_that_comes_back_is_told_and_read_again() {
    let device = |asked: usize, question: &[u8]| {
        (MS(20), if (10..14).contains(&asked) { Vec::new() } else { bus_device(question, true) })
    };
    let told = play(&modbus_port(), SECONDS(20), Box::new(device));
    assert!(remarks(&told).iter().any(|text| text.ends_with("answers again")), "{:?}", remarks(&told));
    assert!(matches!(told.last(), Some((_, PortEvent::Line { readings, .. })) if readings.len() == 2));
}

#[test]
fn one_dead_device_does_not_silence_the_other() {
    let spec = port("protocol = \"modbus-rtu\"", ["register = 1\ndevice = 1", "register = 2\ndevice = 2"]);
    let device =
        |_: usize, question: &[u8]| (MS(20), if question[0] == 1 { Vec::new() } else { bus_device(question, true) });
    let told = readings(&play(&spec, SECONDS(30), Box::new(device)));
    assert!(
        told.len() >= 9 && told.iter().all(|(name, value)| name == "two" && *value == Ok(Celsius(200.0))),
        "{told:?}"
    );
}

#[test]
fn a_wrong_check_sum_is_a_garbled_reading() {
    let device = |_: usize, question: &[u8]| {
        let mut bytes = bus_device(question, true);
        if question[1] != 8 && question[3] == 1 {
            bytes[3] ^= 1;
        }
        (MS(20), bytes)
    };
    let told = readings(&play(&modbus_port(), SECONDS(10), Box::new(device)));
    assert!(told.contains(&("one".to_owned(), Err(Fault::Garbled))), "{told:?}");
    assert!(told.contains(&("two".to_owned(), Ok(Celsius(200.0)))), "{told:?}");
}

#[test]
fn an_exception_is_a_fault_of_its_channel_alone() {
    let device = |_: usize, question: &[u8]| {
        let is_one = question[1] == 3 && question[3] == 1;
        (MS(20), if is_one { vec![1, 0x83, 2, 0xC0, 0xF1] } else { bus_device(question, true) })
    };
    let told = play(&modbus_port(), SECONDS(10), Box::new(device));
    let readings = readings(&told);
    assert!(readings.contains(&("one".to_owned(), Err(Fault::Unnamed))), "{readings:?} {:?}", remarks(&told));
    assert!(readings.contains(&("two".to_owned(), Ok(Celsius(200.0)))), "{readings:?}");
}

#[test]
fn the_wrong_instrument_is_never_believed() {
    let told =
        play(&scpi_port("identity = \"KILN\""), SECONDS(10), Box::new(|_, question| (MS(20), instrument(question))));
    assert!(readings(&told).is_empty());
    assert!(remarks(&told)[0].contains("\"SCHOOL,READER,7,1.0\", expected one with \"KILN\""), "{:?}", remarks(&told));
}

#[test]
fn the_right_instrument_that_first_said_nothing_is_believed_in_the_end() {
    let device = |asked: usize, question: &[u8]| (MS(20), if asked < 2 { Vec::new() } else { instrument(question) });
    let told = readings(&play(&scpi_port("identity = \"SCHOOL\""), SECONDS(20), Box::new(device)));
    assert!(told.len() > 10 && told.iter().all(is_right), "{told:?}");
}

#[test]
fn an_instrument_that_has_no_name_is_read_all_the_same() {
    let device = |_: usize, question: &[u8]| {
        (MS(20), if question.starts_with(b"*") { Vec::new() } else { instrument(question) })
    };
    let told = readings(&play(&scpi_port(""), SECONDS(20), Box::new(device)));
    assert!(told.len() > 10 && told.iter().all(is_right), "{told:?}");
}

#[test]
fn the_numbers_of_an_instrument_that_mean_no_reading_are_faults() {
    let device = |_: usize, question: &[u8]| {
        let is_query = question.starts_with(b"MEAS");
        let value: &[u8] = if question.ends_with(b"1)\n") { b"9.91E37\n" } else { b"+9.9E37\n" };
        (MS(20), if is_query { value.to_vec() } else { instrument(question) })
    };
    let told = readings(&play(&scpi_port(""), SECONDS(3), Box::new(device)));
    assert_eq!(told[..2], [("one".to_owned(), Err(Fault::Unnamed)), ("two".to_owned(), Err(Fault::OutOfRange))]);
}

/// 19.644 mV with terminals at 25 °C is type K at 500 °C (printed tables: 20.644 - 1.000).
#[test]
fn millivolts_in_registers_are_compensated_by_the_junction_in_another() {
    let emf = "register = 1\nscale = 0.001\nsends = \"emf\"\njunction = { register = 2, scale = 0.1 }";
    let spec = port("protocol = \"modbus-rtu\"", [emf, "register = 3"]);
    let device = |_: usize, question: &[u8]| {
        let value: u16 = [0, 19_644, 250, 20][usize::from(question[3])];
        let body = [[1, 3, 2].as_slice(), &value.to_be_bytes()].concat();
        let [low, high] = crc::Crc::<u16>::new(&crc::CRC_16_MODBUS).checksum(&body).to_le_bytes();
        (MS(20), [body.as_slice(), &[low, high]].concat())
    };
    let told = readings(&play(&spec, SECONDS(2), Box::new(device)));
    let temp = told[0].1.expect("a temperature");
    assert!((temp.0 - 500.0).abs() < 0.02, "{told:?}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever the lateness of each answer, as long as they come in turn.
    #[test]
    fn no_lateness_swaps_two_channels(late in prop::collection::vec(prop_oneof![0_u64..100, 0_u64..4000], 64)) {
        let think = |asked: usize| MS(late[asked % late.len()]);
        let told = play(&modbus_port(), SECONDS(40), Box::new(|asked, question| (think(asked), bus_device(question, true))));
        prop_assert!(readings(&told).iter().all(is_right), "{told:?}");
        let told = play(&scpi_port(""), SECONDS(40), Box::new(|asked, question| (think(asked), instrument(question))));
        prop_assert!(readings(&told).iter().all(is_right), "{told:?}");
    }

    #[test]
    fn any_bytes_are_taken_without_a_reading_or_a_panic(noise in prop::collection::vec(any::<u8>(), 0..200)) {
        let told = play(&modbus_port(), SECONDS(5), Box::new(|_, _| (MS(10), noise.clone())));
        prop_assert!(readings(&told).iter().all(|(_, value)| value.is_err()), "{told:?}");
        play(&scpi_port(""), SECONDS(5), Box::new(|_, _| (MS(10), noise.clone())));
    }
}
