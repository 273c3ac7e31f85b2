use proptest::prelude::*;

use super::*;

fn read(text: &str) -> Result<Line, LineError> {
    parse(text.as_bytes(), LineCheck::None).map(|line| line.expect("a line that says something"))
}

fn refused(text: &str) -> String {
    read(text).expect_err("a line to refuse").to_string()
}

fn plain(number: f64) -> Value {
    Value::Number { number, unit: None }
}

fn with(number: f64, unit: TempUnit) -> Value {
    Value::Number { number, unit: Some(unit) }
}

fn labelled(pairs: &[(&str, Value)]) -> Items {
    Items::Labelled(pairs.iter().map(|&(label, value)| (label.to_owned(), value)).collect())
}

#[test]
fn bare_numbers_are_parted_by_comma_semicolon_tab_or_blanks() {
    for text in ["345.2,101.3,-3", "345.2; 101.3; -3", "345.2\t101.3\t-3", "  345.2  101.3 -3 ", "345.2, 101.3, -3"] {
        let line = read(text).expect("three numbers");
        assert_eq!(line.items, Items::Numbered(vec![plain(345.2), plain(101.3), plain(-3.0)]), "{text:?}");
    }
}

#[test]
fn pairs_take_equals_or_colon_with_blanks_or_not() {
    let expected = labelled(&[("hot", plain(345.2)), ("core-2", plain(101.3))]);
    for text in
        ["hot=345.2 core-2=101.3", "hot: 345.2, core-2: 101.3", "hot = 345.2 core-2 = 101.3", "hot:345.2;core-2:101.3"]
    {
        assert_eq!(read(text).expect("two pairs").items, expected, "{text:?}");
    }
}

#[test]
fn units_stand_behind_the_number_in_many_spellings() {
    let expected =
        labelled(&[("a", with(70.0, TempUnit::F)), ("b", with(20.5, TempUnit::C)), ("c", with(293.0, TempUnit::K))]);
    for text in ["a=70F b=20.5C c=293K", "a=70 F b=20.5 degC c=293 K", "a: 70°F, b: 20.5 °C, c: 293k"] {
        assert_eq!(read(text).expect("three pairs").items, expected, "{text:?}");
    }
}

/// Fixed points by definition: 32 °F is 0 °C, 212 °F is 100 °C, 273.15 K is 0 °C (SI brochure, 9th edition).
#[test]
fn units_convert_as_defined() {
    for (unit, number, celsius) in [(TempUnit::F, 32.0, 0.0), (TempUnit::F, 212.0, 100.0), (TempUnit::K, 273.15, 0.0)] {
        assert!((unit.celsius(number).0 - celsius).abs() < 1e-9, "{number} {unit}: {:?}", unit.celsius(number));
    }
}

#[test]
fn the_board_time_is_taken_from_t_in_text_and_json() {
    for text in ["t=12.5 hot=1", "hot=1,t=12.5", "t=12.5 345.2 101.3", r#"{"t":12.5,"hot":1}"#] {
        assert_eq!(read(text).expect("a line with a time").board_time, Some(Seconds(12.5)), "{text}");
    }
}

#[test]
fn json_gives_numbers_words_null_and_a_unit_for_all() {
    let line = read(r#"{"t":1,"hot":345.2,"core":"open","shell":null,"gas":"70F","unit":"K"}"#).expect("an object");
    let expected = labelled(&[
        ("hot", with(345.2, TempUnit::K)),
        ("core", Value::Fault(Fault::Open)),
        ("shell", Value::Fault(Fault::Unnamed)),
        ("gas", with(70.0, TempUnit::F)),
    ]);
    assert_eq!(line.items, expected);
}

#[test]
fn fault_words_are_known_in_any_case() {
    for (word, fault) in FAULT_WORDS {
        for spelling in [word.to_lowercase(), word.to_uppercase()] {
            let line = read(&format!("hot={spelling}")).expect("a fault word");
            assert_eq!(line.items, labelled(&[("hot", Value::Fault(*fault))]), "{spelling}");
        }
    }
}

/// SCPI-99, volume 1, 7.2.1: 9.91E37 is not a number, 9.9E37 infinity, -9.9E37 negative infinity.
#[test]
fn instrument_numbers_that_mean_no_number_are_faults() {
    let line = read("9.91E37,9.9E+37,-9.90000000E+37,1.5E+02").expect("four values");
    let fault = Value::Fault;
    let expected = vec![fault(Fault::Unnamed), fault(Fault::OutOfRange), fault(Fault::OutOfRange), plain(150.0)];
    assert_eq!(line.items, Items::Numbered(expected));
}

#[test]
fn blank_lines_and_notes_say_nothing() {
    for text in ["", "  \t ", "# board ready, version 3"] {
        assert_eq!(parse(text.as_bytes(), LineCheck::None), Ok(None), "{text:?}");
    }
}

#[test]
fn what_is_not_understood_is_refused_with_the_reason() {
    let cases = [
        "hello",
        "345.2x",
        "hot=345.2 core",
        "hot=345,2;101,3",
        "345,2 101,3",
        "hot=",
        "hot=1 hot=2",
        "345..2",
        "345.",
        ".2",
        "1,,3",
        "=5",
        "hot=12:30",
        "t=-1 hot=3",
        "t=5",
        "{\"hot\":[1]}",
        "{\"hot\":1",
        "{\"hot\":1}x",
        "{\"hot\":1,\"hot\":2}",
        "{}",
        "345.2 hot=1",
        "inf5",
        "0x1f",
        "1e999",
        "hot=345.2mW",
    ];
    let told: Vec<String> = cases.iter().map(|case| format!("{case}\n    {}", refused(case))).collect();
    insta::assert_snapshot!(told.join("\n"));
}

#[test]
fn bytes_that_are_no_text_are_refused_with_their_place() {
    let wrong = parse(b"hot=34\xff5.2", LineCheck::None);
    assert_eq!(wrong, Err(LineError::NotText { byte: 0xff, place: 7 }));
    let wrong = parse(b"hot=512\x7f.25", LineCheck::None);
    assert_eq!(wrong, Err(LineError::NotText { byte: 0x7f, place: 8 }));
}

/// Check value of CRC-16 with start FFFF and polynomial A001 reflected over "123456789": 4B37 (Modbus over serial line
/// specification 1.02, 6.2.2, and the usual nine-digit check string).
#[test]
fn check_characters_are_verified_when_they_stand_there() {
    assert!(parse(b"123456789*4B37", LineCheck::Crc16).is_ok_and(|line| line.is_some()));
    assert!(parse(b"123456789*4b37", LineCheck::None).is_ok_and(|line| line.is_some()));
    assert!(matches!(parse(b"123456788*4B37", LineCheck::None), Err(LineError::WrongCheck { .. })));
    // 0x31 ^ 0x32 ^ ... ^ 0x39 by hand: 0x31.
    assert!(parse(b"123456789*31", LineCheck::Xor8).is_ok_and(|line| line.is_some()));
}

#[test]
fn a_line_without_the_check_it_should_have_is_refused() {
    for (text, check) in [("hot=1", LineCheck::Xor8), ("hot=1*31", LineCheck::Crc16), ("hot=1*", LineCheck::None)] {
        assert!(matches!(parse(text.as_bytes(), check), Err(LineError::NoCheck { .. })), "{text}");
    }
}

fn pieces(bytes: &[u8], start: Start) -> Vec<Piece> {
    LineSplitter::new(start).push(bytes)
}

const STREAM: &[u8] = b"tail of a line\r\nt=1 a=2\r\n\r\nt=2 a=3\nt=3 a=4\rt=4 a=5\r\nt=5";

#[test]
fn a_stream_cut_at_every_byte_gives_the_same_lines() {
    let whole = pieces(STREAM, Start::MidLine);
    assert_eq!(whole.len(), 4);
    for cut in 0..=STREAM.len() {
        let mut splitter = LineSplitter::new(Start::MidLine);
        let mut found = splitter.push(&STREAM[..cut]);
        found.extend(splitter.push(&STREAM[cut..]));
        assert_eq!((&found, splitter.unfinished()), (&whole, &b"t=5"[..]), "cut at {cut}");
    }
}

#[test]
fn the_torn_first_line_is_never_taken() {
    assert_eq!(pieces(b"5.2\n345.2\n", Start::MidLine), [Piece::Line(b"345.2".to_vec())]);
}

#[test]
fn a_line_without_end_is_told_once_and_reading_goes_on_after_its_end() {
    let mut bytes = vec![b'x'; 3 * MAX_LINE_BYTES];
    bytes.extend_from_slice(b"\nhot=1\n");
    assert_eq!(pieces(&bytes, Start::OnALine), [Piece::TooLong, Piece::Line(b"hot=1".to_vec())]);
}

#[test]
fn the_longest_line_is_still_a_line() {
    let mut bytes = vec![b'7'; MAX_LINE_BYTES];
    bytes.push(b'\n');
    assert!(matches!(&pieces(&bytes, Start::OnALine)[..], [Piece::Line(line)] if line.len() == MAX_LINE_BYTES));
}

proptest! {
    #[test]
    fn any_bytes_are_read_without_panic_and_numbers_are_finite(bytes in proptest::collection::vec(any::<u8>(), 0..80)) {
        for check in [LineCheck::None, LineCheck::Xor8, LineCheck::Crc16] {
            if let Ok(Some(line)) = parse(&bytes, check) {
                prop_assert!(numbers(&line.items).iter().all(|number| number.is_finite()));
            }
        }
    }

    #[test]
    fn text_like_a_line_is_read_without_panic(text in "[-+0-9.,;:= \tthCFKeE{}\"*#°]{0,40}") {
        if let Ok(Some(line)) = parse(text.as_bytes(), LineCheck::None) {
            prop_assert!(numbers(&line.items).iter().all(|number| number.is_finite()));
        }
    }

    #[test]
    fn what_is_sent_comes_back_in_every_shape(temps in proptest::collection::vec(-5000_i32..20000, 1..9)) {
        let sent: Vec<f64> = temps.iter().map(|tenth| f64::from(*tenth) / 10.0).collect();
        let bare: Vec<String> = sent.iter().map(|temp| format!("{temp:.1}")).collect();
        let pairs: Vec<String> = bare.iter().enumerate().map(|(at, temp)| format!("p{at}={temp}")).collect();
        let members: Vec<String> = bare.iter().enumerate().map(|(at, temp)| format!("\"p{at}\":{temp}")).collect();
        for text in [bare.join(","), bare.join(" "), pairs.join(" "), format!("{{{}}}", members.join(","))] {
            let line = read(&text);
            prop_assert!(line.is_ok(), "{text}: {line:?}");
            prop_assert_eq!(&numbers(&line.expect("checked above").items), &sent, "{}", text);
        }
    }

    #[test]
    fn any_chunking_of_any_bytes_gives_the_same_pieces(
        bytes in proptest::collection::vec(prop_oneof![Just(b'\n'), Just(b'\r'), any::<u8>()], 0..200),
        step in 1_usize..20,
    ) {
        let mut splitter = LineSplitter::new(Start::OnALine);
        let found: Vec<Piece> = bytes.chunks(step).flat_map(|chunk| splitter.push(chunk)).collect();
        prop_assert_eq!(found, pieces(&bytes, Start::OnALine));
    }
}

fn numbers(items: &Items) -> Vec<f64> {
    let values: Vec<Value> = match items {
        Items::Numbered(values) => values.clone(),
        Items::Labelled(pairs) => pairs.iter().map(|(_, value)| *value).collect(),
    };
    let number = |value: Value| match value {
        Value::Number { number, .. } => Some(number),
        Value::Emf(emf) => Some(emf.0),
        Value::Fault(_) => None,
    };
    values.into_iter().filter_map(number).collect()
}
