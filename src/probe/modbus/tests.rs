use super::*;

fn register(number: Number) -> Register {
    Register { device: 1, table: Table::Holding, address: 0, number, scale_millionths: 1_000_000 }
}

fn frame(body: &[u8]) -> Vec<u8> {
    with_sum(body)
}

fn told(register: &Register, words: &[u8]) -> Value {
    let mut body = vec![register.device, 3, u8::try_from(words.len()).expect("a few")];
    body.extend_from_slice(words);
    match answer(register, &frame(&body)) {
        Heard::Answer(values) => values[0].1,
        other => panic!("{other:?} instead of an answer"),
    }
}

fn number(register: &Register, words: &[u8]) -> f64 {
    match told(register, words) {
        Value::Number { number, .. } => number,
        other => panic!("{other:?} instead of a number"),
    }
}

/// CRC-16/MODBUS has the check value 4B37 (catalogue of parametrised CRC algorithms); 01 03 00 00 00 0A is followed by
/// C5 CD on the wire (common practice).
#[test]
fn check_sums_are_those_of_the_standard() {
    assert_eq!(sum(b"123456789"), 0x4B37);
    assert_eq!(frame(&[1, 3, 0, 0, 0, 10]), [1, 3, 0, 0, 0, 10, 0xC5, 0xCD]);
}

/// The example of the application protocol V1.1b3, 6.3: function 3, starting address 006B.
#[test]
fn a_question_is_framed_as_in_the_standard() {
    let asked = Register { address: 0x6B, ..register(Number::Float32(WordOrder::Abcd)) };
    assert_eq!(request(&asked)[..6], [1, 3, 0, 0x6B, 0, 2]);
    let asked = Register { table: Table::Input, device: 17, address: 8, ..register(Number::Int16) };
    assert_eq!(request(&asked)[..6], [17, 4, 0, 8, 0, 1]);
}

/// Serial line V1.02, 2.5.1.1.
#[test]
fn the_silent_interval_is_three_and_a_half_characters_and_never_below_1750_us() {
    assert_eq!(silent_interval(9600).as_micros(), 4010);
    assert_eq!(silent_interval(115_200).as_micros(), 1750);
}

#[test]
fn whole_numbers_have_their_sign_and_scale() {
    let tenths = Register { scale_millionths: 100_000, ..register(Number::Int16) };
    assert!((number(&tenths, &[0x0D, 0x7C]) - 345.2).abs() < 1e-9);
    assert!((number(&tenths, &[0xFF, 0x9C]) + 10.0).abs() < 1e-9);
    assert!((number(&register(Number::Uint16), &[0xFF, 0x9C]) - 65_436.0).abs() < 1e-9);
}

/// 345.25 is 43ACA000 in IEEE 754 single precision (worked by hand: 1.0101100101 x 2^8).
#[test]
fn a_float_is_read_in_every_word_order() {
    let orders = [
        (WordOrder::Abcd, [0x43, 0xAC, 0xA0, 0x00]),
        (WordOrder::Cdab, [0xA0, 0x00, 0x43, 0xAC]),
        (WordOrder::Badc, [0xAC, 0x43, 0x00, 0xA0]),
        (WordOrder::Dcba, [0x00, 0xA0, 0xAC, 0x43]),
    ];
    for (order, words) in orders {
        assert!((number(&register(Number::Float32(order)), &words) - 345.25).abs() < 1e-9, "{order:?}");
    }
}

#[test]
fn the_values_that_mean_no_reading_are_faults() {
    for words in [[0x7F, 0xFF], [0x80, 0x00], [0x80, 0x01]] {
        assert_eq!(told(&register(Number::Int16), &words), Value::Fault(Fault::Unnamed), "{words:?}");
    }
    for words in [[0x7F, 0xC0, 0, 0], [0x7F, 0x80, 0, 0], [0xFF, 0x80, 0, 0]] {
        let value = told(&register(Number::Float32(WordOrder::Abcd)), &words);
        assert_eq!(value, Value::Fault(Fault::Unnamed), "{words:?}");
    }
}

/// rmodbus takes an answer of one register for a question for eight; here it never comes so far.
#[test]
fn an_answer_of_another_length_device_or_function_is_none() {
    let asked = register(Number::Float32(WordOrder::Abcd));
    let bodies: [&[u8]; 4] =
        [&[1, 3, 2, 0, 1], &[1, 3, 6, 0, 1, 0, 1, 0, 1], &[2, 3, 4, 0, 0, 0, 0], &[1, 4, 4, 0, 0, 0, 0]];
    for body in bodies {
        let heard = answer(&asked, &frame(body));
        assert!(matches!(heard, Heard::Wrong(_)), "{body:?}: {heard:?}");
    }
}

#[test]
fn every_flipped_bit_and_every_cut_of_an_answer_is_noticed() {
    let asked = register(Number::Int16);
    let good = frame(&[1, 3, 2, 0x0D, 0x7C]);
    for bit in 0..good.len() * 8 {
        let mut bytes = good.clone();
        bytes[bit / 8] ^= 1 << (bit % 8);
        let heard = answer(&asked, &bytes);
        assert!(!matches!(heard, Heard::Answer(_)), "bit {bit}: {heard:?}");
    }
    for cut in 0..good.len() {
        assert_eq!(answer(&asked, &good[..cut]), Heard::More, "cut at {cut}");
    }
}

#[test]
fn two_answers_at_once_are_none() {
    let good = frame(&[1, 3, 2, 0x0D, 0x7C]);
    assert!(matches!(answer(&register(Number::Int16), &[good.clone(), good].concat()), Heard::Wrong(_)));
}

#[test]
fn an_echo_of_the_question_is_passed_over() {
    let asked = register(Number::Int16);
    let held = [request(&asked), frame(&[1, 3, 2, 0, 20])].concat();
    assert!(matches!(answer(&asked, &held), Heard::Answer(_)));
    assert_eq!(answer(&asked, &request(&asked)), Heard::More);
}

#[test]
fn an_exception_is_told_with_what_to_do() {
    let heard = answer(&register(Number::Int16), &frame(&[1, 0x83, 2]));
    let Heard::Refused(words) = heard else { panic!("{heard:?}") };
    assert!(words.contains("exception 2") && words.contains("30053"), "{words}");
}

#[test]
fn only_the_answer_to_the_last_fence_is_its_own() {
    let late = fence(1, 7);
    let held = [late, frame(&[1, 3, 2, 0, 20]), fence(1, 8)].concat();
    assert!(fence_answers(1, 8, &held).is_own && !fence_answers(1, 9, &held).is_own);
    assert_eq!(fence_answers(1, 8, &frame(&[1, 0x88, 1])).count, 1);
}
