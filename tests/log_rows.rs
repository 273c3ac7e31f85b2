//! Rows go into the file and come back the same, whatever is in them, and a spreadsheet can use the file.

#![allow(clippy::unwrap_used)]

mod log_trials;

use chrono::DateTime;
use firstheat::log::trial_disk::TrialDisk;
use firstheat::log::{Document, Entry, Head, LogBook, LogWriter, Row};
use firstheat::plan::Flame;
use firstheat::plan::firing::{Fire, Setting};
use firstheat::reading::{Channel, Fault, Reading};
use firstheat::run::{About, Advice, Ending, Event, Range, SectionEstimate, TimeSource, Verdict, WarningCause, Word};
use firstheat::units::{Celsius, KelvinPerHour, Seconds};
use log_trials::{head, heat_up, input, name, options, said};
use proptest::prelude::*;
use proptest::sample::select;

/// Any number: every bit pattern, and those on the edges more often.
fn any_number() -> impl Strategy<Value = f64> {
    let edges = vec![0.0, -0.0, 5e-324, -5e-324, f64::MIN_POSITIVE, f64::MAX, f64::MIN, f64::EPSILON, 0.1 + 0.2];
    prop_oneof![any::<u64>().prop_map(f64::from_bits), select(edges), -300.0..2000.0]
}

/// Any number that equals itself, for what is compared with `==`.
fn finite() -> impl Strategy<Value = f64> {
    any_number().prop_filter("a number", |value| value.is_finite())
}

/// Any text, and text that is hard on a CSV file more often.
fn any_text() -> impl Strategy<Value = String> {
    let hard = vec![
        "=1+1",
        "+2",
        "-3",
        "@x",
        "\"",
        "a,b",
        "a\nb\r\n",
        "\t",
        "\\",
        "\\n",
        "'",
        ";=1",
        "\u{feff}",
        "°ü\u{2028}",
        "",
    ];
    prop_oneof![any::<String>(), prop::collection::vec(select(hard), 0..5).prop_map(|parts| parts.concat())]
}

fn channel() -> impl Strategy<Value = Channel> {
    any_text().prop_map(|text| Channel::new(&text))
}

fn range() -> impl Strategy<Value = Range> {
    (finite(), finite(), finite()).prop_map(|(low, mid, high)| Range { low, mid, high })
}

fn fault() -> impl Strategy<Value = Fault> {
    use Fault::{Frozen, Garbled, Open, OutOfRange, Reversed, Short, Stale};
    select(vec![Open, Short, Reversed, Frozen, Stale, OutOfRange, Garbled])
}

fn any_reading() -> impl Strategy<Value = Reading> {
    let value = prop_oneof![finite().prop_map(|temp| Ok(Celsius(temp))), fault().prop_map(Err)];
    (channel(), value).prop_map(|(channel, value)| Reading { channel, value })
}

fn any_event() -> impl Strategy<Value = Event> {
    use Word::{Off, On, Pause, Quit, Resume, Silence};
    prop_oneof![
        Just(Event::Tick),
        prop::collection::vec(any_reading(), 0..5).prop_map(Event::Readings),
        select(vec![On, Off, Pause, Resume, Silence, Quit]).prop_map(Event::Operator),
        any_text().prop_map(Event::PortLost),
        any_text().prop_map(Event::PortBack),
        any_text().prop_map(Event::LogFailing),
        Just(Event::LogBack),
        finite().prop_map(|missed_s| Event::TakenUp { missed: Seconds(missed_s) }),
        any_text().prop_map(Event::NotReplanned),
    ]
}

fn any_set() -> impl Strategy<Value = Option<Setting>> {
    let mark = (any_text(), finite()).prop_map(|(mark, share)| Setting::Mark(Fire { mark, share }));
    let ramp = (finite(), finite()).prop_map(|(to, ramp)| Setting::Ramp { to: Celsius(to), ramp: KelvinPerHour(ramp) });
    prop::option::of(prop_oneof![mark, ramp])
}

fn any_verdict() -> impl Strategy<Value = Verdict> {
    let section = (any_text(), range(), range()).prop_map(|(section, danger, water_left_kg)| SectionEstimate {
        section,
        danger,
        water_left_kg,
    });
    let cause = select(vec![WarningCause::Ramp, WarningCause::Danger, WarningCause::Service]);
    let advice = (any_text(), any_text()).prop_map(|(action, reason)| Advice { action, reason });
    let seen = (prop::option::of(channel()), prop::option::of(any_text()), prop::option::of(finite()));
    prop_oneof![
        (finite(), any_text(), finite(), any::<bool>()).prop_map(|(elapsed_s, lining, planned_s, time_from_probe)| {
            Verdict::Ready { elapsed_s, lining, planned_s, time_from_probe }
        }),
        (finite(), select(vec![Flame::On, Flame::Off]), finite(), any_set())
            .prop_map(|(elapsed_s, burner, in_s, set)| Verdict::Cue { elapsed_s, burner, in_s, set }),
        (finite(), prop::collection::vec(section, 0..4))
            .prop_map(|(elapsed_s, sections)| Verdict::Estimate { elapsed_s, sections }),
        (finite(), cause, seen, advice).prop_map(|(elapsed_s, cause, (channel, section, lead_s), advice)| {
            Verdict::Warning { elapsed_s, cause, channel, section, lead_s, advice }
        }),
        (finite(), any_text(), any_about()).prop_map(|(elapsed_s, text, about)| Verdict::Notice {
            elapsed_s,
            text,
            about
        }),
        (finite(), prop::option::of(channel()), any_text(), any::<bool>())
            .prop_map(|(elapsed_s, channel, text, over)| Verdict::Fault { elapsed_s, channel, text, over }),
        (finite(), any_text(), any_ending()).prop_map(|(elapsed_s, reason, ending)| Verdict::End {
            elapsed_s,
            reason,
            ending
        }),
    ]
}

fn any_ending() -> impl Strategy<Value = Option<Ending>> {
    let endings = [Ending::DryAndSoaked, Ending::Wet, Ending::NotSoaked, Ending::Stopped];
    prop::option::of(select(endings.to_vec()))
}

fn any_about() -> impl Strategy<Value = Option<About>> {
    let cause = select(vec![WarningCause::Ramp, WarningCause::Pulse, WarningCause::FlameOut]);
    let over = (cause, prop::option::of(channel()), prop::option::of(any_text()));
    let about = prop_oneof![
        over.prop_map(|(cause, channel, section)| About::Over { cause, channel, section }),
        any::<u32>().prop_map(|round| About::BackToRound { round }),
        select(vec![About::LitLate, About::LitEarly]),
    ];
    prop::option::of(about)
}

fn any_document() -> impl Strategy<Value = Document> {
    (any_text(), any_text()).prop_map(|(text, digest)| Document { text, digest })
}

fn any_head() -> impl Strategy<Value = Head> {
    let options = prop::collection::vec(("[a-z-]{1,8}", any_text()), 0..4);
    let time_source = select(vec![TimeSource::Computer, TimeSource::ProbeLine]);
    let documents = (any_document(), any_document(), any_document());
    // Every estimate is kept, so that what was said can be compared with what is read.
    (any_text(), any::<u64>(), time_source, options, documents).prop_map(
        |(program, seed, time_source, options, (lining, plan, probes))| Head {
            program,
            seed,
            time_source,
            estimates_every: Seconds(f64::NEG_INFINITY),
            options,
            lining,
            plan,
            probes,
        },
    )
}

/// Whether a spreadsheet could take this cell for a formula.
fn looks_like_a_formula(cell: &str) -> bool {
    let is_number = cell.parse::<f64>().is_ok_and(f64::is_finite);
    !is_number
        && cell.split(';').any(|part| part.trim_start().starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠']))
}

proptest! {
    #[test]
    fn inputs_and_verdicts_come_back_to_the_last_bit(
        head in any_head(),
        steps in prop::collection::vec((finite(), any_event(), prop::collection::vec(any_verdict(), 0..3)), 0..6),
    ) {
        let steps: Vec<_> = steps.into_iter().map(|(at, event, verdicts)| (input(at, event), verdicts)).collect();
        let disk = TrialDisk::default();
        let mut writer = LogWriter::create_on(disk.clone(), name(), &head, options()).unwrap();
        for (input, verdicts) in &steps {
            writer.record(input, verdicts);
        }
        writer.finish().unwrap();
        let book = LogBook::from_bytes(name(), &disk.live()).unwrap();
        prop_assert_eq!(book.head().unwrap(), &head);
        // `==` takes -0 for 0; the printed form does not.
        prop_assert_eq!(format!("{:?}", said(&book.steps)), format!("{steps:?}"));
        prop_assert!(book.is_whole());
    }

    #[test]
    fn a_temperature_comes_back_with_every_bit_even_when_it_is_no_number(value in any_number(), at in any_number()) {
        let reading = Reading { channel: Channel::new("arch"), value: Ok(Celsius(value)) };
        let row = Row {
            number: u64::MAX, elapsed: Seconds(at), wall_time: None, part: 1, of: 1, entry: Entry::Reading(reading),
        };
        let line = row.to_line();
        let back = Row::from_line(line.trim_end_matches('\n').as_bytes()).unwrap();
        prop_assert_eq!(back.elapsed.0.to_bits(), at.to_bits());
        let Entry::Reading(Reading { value: Ok(temp), .. }) = back.entry else { panic!("{:?}", back.entry) };
        prop_assert_eq!(temp.0.to_bits(), value.to_bits());
    }

    #[test]
    fn no_cell_can_be_taken_for_a_formula(event in any_event(), verdict in any_verdict()) {
        let disk = TrialDisk::default();
        let mut writer = LogWriter::create_on(disk.clone(), name(), &head(), options()).unwrap();
        writer.record(&input(1.0, event), &[verdict]);
        writer.finish().unwrap();
        for record in csv::Reader::from_reader(&disk.live()[..]).records() {
            let record = record.unwrap();
            prop_assert!(!record.iter().any(looks_like_a_formula), "{:?}", record);
        }
    }

    #[test]
    fn one_row_is_one_line(text in any_text()) {
        let row = Row {
            number: 1, elapsed: Seconds(0.0), wall_time: None, part: 1, of: 1, entry: Entry::Notice { text, about: None },
        };
        prop_assert_eq!(row.to_line().lines().count(), 1);
    }

    #[test]
    fn a_log_changed_anywhere_in_any_way_never_makes_a_step_up(
        changes in prop::collection::vec((any::<prop::sample::Index>(), 0..80_usize, prop::collection::vec(any::<u8>(), 0..8)), 1..5),
    ) {
        let mut bytes = include_bytes!("old_logs/format_1.csv").to_vec();
        for (at, removed, put) in changes {
            let at = at.index(bytes.len());
            let end = (at + removed).min(bytes.len());
            bytes.splice(at..end, put);
        }
        if let Ok(book) = LogBook::from_bytes(name(), &bytes) {
            let all = heat_up();
            prop_assert!(said(&book.steps).iter().all(|step| all.contains(step)));
            prop_assert!(book.steps.is_sorted_by(|one, next| one.row < next.row), "a step stands twice");
        }
    }

    #[test]
    fn no_bytes_make_reading_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let sound = [firstheat::log::row::HEADER.as_bytes(), b"\n", &bytes[..]].concat();
        prop_assert!(LogBook::from_bytes(name(), &sound).is_err());
        let _ = Row::from_line(&bytes);
    }
}

#[test]
fn a_row_of_a_later_kind_is_kept_and_reported() {
    let row = |number, entry| Row { number, elapsed: Seconds(1.0), wall_time: None, part: 1, of: 1, entry };
    let known = row(1, Entry::Tick).to_line();
    // `tick` and `tock` are as long as each other; only the check must be made anew.
    let bytes = known.replace("tick", "tock");
    let bytes = &bytes[..bytes.len() - 9];
    let later = format!("{bytes}{:08x}", crc32fast::hash(bytes.as_bytes()));
    let read = Row::from_line(later.as_bytes()).unwrap();
    let Entry::Strange { cells, why } = &read.entry else { panic!("{:?}", read.entry) };
    assert_eq!(cells.kind, "tock");
    assert_eq!(why.found, "tock");
    assert_eq!(read.to_line(), format!("{later}\n"));
}

#[test]
fn a_wall_time_keeps_its_offset() {
    let wall_time = DateTime::parse_from_rfc3339("2026-12-31T23:59:59.999-03:30").unwrap();
    let row =
        Row { number: 1, elapsed: Seconds(1.0), wall_time: Some(wall_time), part: 1, of: 1, entry: Entry::LogBack };
    let line = row.to_line();
    assert!(line.contains(",2026-12-31T23:59:59.999-03:30,"), "{line}");
    assert_eq!(Row::from_line(line.trim_end().as_bytes()).unwrap(), row);
}

#[test]
fn a_spreadsheet_user_can_filter_the_temperatures_of_a_channel() {
    let disk = TrialDisk::default();
    let mut writer = LogWriter::create_on(disk.clone(), name(), &head(), options()).unwrap();
    for (input, verdicts) in heat_up() {
        writer.record(&input, &verdicts);
    }
    writer.finish().unwrap();
    let bytes = disk.live();
    let mut reader = csv::Reader::from_reader(&bytes[..]);
    let column =
        |name: &str| csv::Reader::from_reader(&bytes[..]).headers().unwrap().iter().position(|c| c == name).unwrap();
    let (kind, channel, value, elapsed) = (column("kind"), column("channel"), column("value"), column("elapsed_s"));
    let points: Vec<(f64, f64)> = reader
        .records()
        .map(Result::unwrap)
        .filter(|row| &row[kind] == "reading" && &row[channel] == "arch")
        .map(|row| (row[elapsed].parse().unwrap(), row[value].parse().unwrap()))
        .collect();
    assert_eq!(points, [(1.000_000_000_1, 104.25)]);
}

#[test]
fn the_check_is_the_crc_of_a_published_example() {
    // CRC-32/ISO-HDLC of "123456789" is cbf43926 (catalogue of parametrised CRC algorithms).
    assert_eq!(format!("{:08x}", crc32fast::hash(b"123456789")), "cbf43926");
    let row = Row { number: 1, elapsed: Seconds(0.5), wall_time: None, part: 1, of: 1, entry: Entry::Tick };
    // Check by Python's zlib.crc32 over the bytes before it.
    assert_eq!(row.to_line(), "1,0.5,,tick,,,,,,,,,1,1,2757cf62\n");
}
