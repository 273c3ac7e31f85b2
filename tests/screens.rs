//! The screen at every size, with and without colour, in every state a heat-up can be in.

#![allow(clippy::unwrap_used)]

#[path = "screens/sample.rs"]
mod sample;

use std::cell::RefCell;
use std::io::{self, Write};
use std::rc::Rc;

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier};

use firstheat::dashboard::{
    Glyphs, Ink, LEAST_HEIGHT, LEAST_WIDTH, Open, Panel, Plain, Pressed, Screen, Span, ViewState, draw, panels, pressed,
};
use firstheat::plan::Flame;
use firstheat::run::{LogNow, Snapshot, StandingWarning, Weight, Word};
use firstheat::units::Seconds;

const COLOUR: ViewState = ViewState { open: Open::Nothing, span: Span::Whole, ink: Ink::Colour, glyphs: Glyphs::Full };
const PLAIN: ViewState = ViewState { ink: Ink::Plain, ..COLOUR };
const HELP: ViewState = ViewState { open: Open::Help { page: 0 }, ..COLOUR };
const WALL: ViewState = ViewState { open: Open::Wall { section: 1 }, ..COLOUR };
const QUIT: ViewState = ViewState { open: Open::Quit, ..COLOUR };
const SIZES: [(u16, u16); 4] = [(60, 20), (80, 24), (120, 40), (44, 12)];

type State = (&'static str, fn() -> Snapshot);

const STATES: [State; 11] = [
    ("before the start", sample::before_start),
    ("counting down", sample::counting),
    ("burner on", sample::on_pulse),
    ("pulse ending", sample::pulse_ending),
    ("warnings standing", sample::warned),
    ("warnings silenced", sample::silenced),
    ("probe faults", sample::probe_fault),
    ("log failing", sample::log_failing),
    ("paused", sample::paused),
    ("ended", sample::ended),
    ("replanned", sample::replanned),
];

fn rendered(snapshot: &Snapshot, state: &ViewState, (columns, rows): (u16, u16)) -> Buffer {
    let mut terminal = Terminal::new(TestBackend::new(columns, rows)).unwrap();
    terminal.draw(|frame| draw(frame, snapshot, state)).unwrap();
    terminal.backend().buffer().clone()
}

fn row_text(buffer: &Buffer, y: u16) -> String {
    (0..buffer.area.width).map(|x| buffer[(x, y)].symbol()).collect()
}

fn text(buffer: &Buffer) -> String {
    (0..buffer.area.height).map(|y| row_text(buffer, y).trim_end().to_owned() + "\n").collect()
}

/// All of the screen's words with single blanks between them, so that a broken line does not hide one.
fn flowing(buffer: &Buffer) -> String {
    text(buffer).split_whitespace().collect::<Vec<_>>().join(" ")
}

/// One letter per cell: bold, dim, Reversed, flame and plan for the two hues.
fn styles(buffer: &Buffer) -> String {
    let letter = |x, y| {
        let cell = &buffer[(x, y)];
        match (cell.fg, cell.modifier) {
            (Color::Indexed(208), modifier) if modifier.contains(Modifier::REVERSED) => 'F',
            (_, modifier) if modifier.contains(Modifier::REVERSED) => 'R',
            (Color::Indexed(208), _) => 'f',
            (Color::Indexed(74), _) => 'p',
            (_, modifier) if modifier.contains(Modifier::BOLD) => 'b',
            (_, modifier) if modifier.contains(Modifier::DIM) => 'd',
            _ => '.',
        }
    };
    (0..buffer.area.height).map(|y| (0..buffer.area.width).map(|x| letter(x, y)).collect::<String>() + "\n").collect()
}

fn every_size(snapshot: &Snapshot, state: &ViewState) -> String {
    let screen = |size: (u16, u16)| format!("--- {}x{}\n{}", size.0, size.1, text(&rendered(snapshot, state, size)));
    SIZES.map(screen).join("\n")
}

#[test]
fn a_fire_to_be_turned_is_named_with_its_mark_and_a_ramp_with_its_set_point() {
    let shown = |snapshot: Snapshot| flowing(&rendered(&snapshot, &COLOUR, (80, 24)));
    let (turning, due, ramping) = (shown(sample::turning()), shown(sample::turn_due()), shown(sample::ramping()));
    assert!(turning.contains("burner ON at low for") && turning.contains("set it to half"), "{turning}");
    assert!(due.contains("set it to half; then press o"), "{due}");
    assert!(ramping.contains("burner ON at 96 °C for") && ramping.contains("set hold 120 °C"), "{ramping}");
}

#[test]
fn the_screen_in_every_state_at_every_size() {
    for (name, snapshot) in STATES {
        insta::assert_snapshot!(name.replace(' ', "_"), every_size(&snapshot(), &COLOUR));
    }
}

#[test]
fn the_help_the_question_and_the_near_curve() {
    let near = ViewState { span: Span::Near, ..COLOUR };
    let figures = ViewState { open: Open::Help { page: 1 }, ..COLOUR };
    insta::assert_snapshot!("help", every_size(&sample::counting(), &HELP));
    insta::assert_snapshot!("help_second_page", every_size(&sample::counting(), &figures));
    insta::assert_snapshot!("quit_asked", every_size(&sample::counting(), &QUIT));
    insta::assert_snapshot!("wall", every_size(&sample::counting(), &WALL));
    insta::assert_snapshot!(
        "wall_styles",
        styles(&rendered(&sample::counting(), &ViewState { ink: Ink::Plain, ..WALL }, (80, 24)))
    );
    insta::assert_snapshot!("near", every_size(&sample::on_pulse(), &near));
}

#[test]
fn the_styles_with_and_without_colour() {
    for (name, snapshot) in [STATES[2], STATES[4]] {
        let with = styles(&rendered(&snapshot(), &COLOUR, (80, 24)));
        let without = styles(&rendered(&snapshot(), &PLAIN, (80, 24)));
        insta::assert_snapshot!(format!("styles_{}", name.replace(' ', "_")), format!("{with}\n{without}"));
    }
}

#[test]
fn a_screen_of_ascii_has_nothing_else() {
    let ascii = ViewState { glyphs: Glyphs::Ascii, ..PLAIN };
    for (name, snapshot) in STATES {
        let screen = text(&rendered(&snapshot(), &ascii, (120, 40)));
        assert!(screen.is_ascii() && !screen.contains('?'), "{name}:\n{screen}");
    }
    insta::assert_snapshot!("ascii", text(&rendered(&sample::warned(), &ascii, (80, 24))));
}

#[test]
fn panels_never_overlap_nor_leave_the_screen() {
    let views = [COLOUR, HELP, QUIT];
    for (name, snapshot) in STATES {
        let snapshot = snapshot();
        for (columns, rows) in
            (1..=200).step_by(19).flat_map(|columns| (1..=70).step_by(3).map(move |rows| (columns, rows)))
        {
            for view in &views {
                let area = Rect::new(0, 0, columns, rows);
                let placed = panels(area, &snapshot, view);
                for (index, (panel, place)) in placed.iter().enumerate() {
                    assert_eq!(place.intersection(area), *place, "{name} {columns}x{rows} {panel:?}");
                    for (other, elsewhere) in &placed[index + 1..] {
                        let overlap = place.intersection(*elsewhere);
                        assert!(overlap.is_empty(), "{name} {columns}x{rows} {panel:?} {other:?} {overlap:?}");
                    }
                }
            }
        }
    }
}

#[test]
fn every_size_can_be_drawn_down_to_one_cell() {
    for snapshot in [sample::before_start(), sample::warned(), sample::ended()] {
        for (columns, rows) in
            (1..130).step_by(11).flat_map(|columns| (1..45).step_by(3).map(move |rows| (columns, rows)))
        {
            for view in [COLOUR, HELP, QUIT] {
                rendered(&snapshot, &view, (columns, rows));
            }
        }
    }
}

#[test]
fn numbers_that_are_none_can_be_drawn() {
    let mut snapshot = sample::warned();
    snapshot.elapsed = Seconds(f64::NAN);
    snapshot.planned = Seconds(f64::INFINITY);
    snapshot.remaining = Seconds(f64::NAN);
    snapshot.plan_curve[3].low.0 = f64::NAN;
    snapshot.plan_curve[5].elapsed.0 = f64::NAN;
    snapshot.sections[0].danger.high = f64::NAN;
    snapshot.sections[1].ceiling = 0.0;
    snapshot.sections[2].water_initial_kg = 0.0;
    snapshot.warnings[0].lead = Some(Seconds(f64::INFINITY));
    for size in SIZES {
        for span in [Span::Whole, Span::Near] {
            rendered(&snapshot, &ViewState { span, ..COLOUR }, size);
        }
    }
}

#[test]
fn an_empty_heat_up_can_be_drawn() {
    let mut snapshot = sample::before_start();
    snapshot.cue = None;
    snapshot.channels.clear();
    snapshot.sections.clear();
    snapshot.plan_curve.clear();
    snapshot.spoken.clear();
    snapshot.log = LogNow::Off;
    for size in SIZES {
        rendered(&snapshot, &COLOUR, size);
    }
}

#[test]
fn every_warning_is_on_the_screen_in_full() {
    let mut snapshot = sample::warned();
    let third = snapshot.warnings[1].clone();
    snapshot.warnings.push(third);
    snapshot.warnings[2].section = Some("lid".to_owned());
    snapshot.warnings[2].advice.action = "keep away from the lid".to_owned();
    let screen = flowing(&rendered(&snapshot, &COLOUR, (80, 24)));
    for warning in &snapshot.warnings {
        let advice = format!("{}: {}", warning.advice.action, warning.advice.reason);
        assert!(screen.contains(&advice), "{advice}\nnot in\n{screen}");
    }
}

#[test]
fn one_cause_and_action_at_several_places_is_one_warning_that_names_them() {
    let mut snapshot = sample::warned();
    let warning = snapshot.warnings[1].clone();
    snapshot.warnings = ["wall", "floor", "lid"]
        .map(|section| StandingWarning { section: Some(section.to_owned()), ..warning.clone() })
        .to_vec();
    let screen = flowing(&rendered(&snapshot, &COLOUR, (80, 24)));
    assert!(screen.matches("▲ WARNING").count() == 1 && screen.contains("wall, floor, lid: "), "{screen}");
}

#[test]
fn warnings_that_find_no_room_are_counted() {
    let mut snapshot = sample::warned();
    snapshot.warnings = vec![snapshot.warnings[1].clone(); 12];
    for (index, warning) in snapshot.warnings.iter_mut().enumerate() {
        warning.advice.action = format!("do thing {index}");
    }
    let screen = text(&rendered(&snapshot, &COLOUR, (80, 24)));
    let shown = screen.matches("▲ WARNING").count();
    assert!(shown >= 3 && screen.contains(&format!("▲ {} MORE", 12 - shown)), "{screen}");
}

#[test]
fn without_colour_a_warning_still_has_its_glyph_and_is_reversed() {
    let buffer = rendered(&sample::warned(), &PLAIN, (80, 24));
    let y = (0..24).find(|y| row_text(&buffer, *y).contains("▲ WARNING")).unwrap();
    assert!((0..80).all(|x| buffer[(x, y)].modifier.contains(Modifier::REVERSED)));
}

#[test]
fn without_colour_no_cell_has_one() {
    for (name, snapshot) in STATES {
        let buffer = rendered(&snapshot(), &PLAIN, (120, 40));
        assert!(buffer.content.iter().all(|cell| (cell.fg, cell.bg) == (Color::Reset, Color::Reset)), "{name}");
    }
}

#[test]
fn colour_changes_no_character_and_no_emphasis() {
    for (name, snapshot) in STATES {
        let [with, without] = [COLOUR, PLAIN].map(|view| rendered(&snapshot(), &view, (80, 24)));
        let same = with
            .content
            .iter()
            .zip(&without.content)
            .all(|(a, b)| (a.symbol(), a.modifier) == (b.symbol(), b.modifier));
        assert!(same, "{name}");
    }
}

#[test]
fn a_silenced_warning_stays_on_the_screen_and_is_quiet() {
    let buffer = rendered(&sample::silenced(), &COLOUR, (80, 24));
    let y = (0..24).find(|y| row_text(&buffer, *y).contains("△ silenced")).unwrap();
    assert!((0..80).all(|x| !buffer[(x, y)].modifier.contains(Modifier::REVERSED)));
}

#[test]
fn what_to_do_next_is_said_in_words_on_a_tiny_screen() {
    let screen = flowing(&rendered(&sample::counting(), &COLOUR, (44, 12)));
    assert!(screen.contains("LIGHT the burner in 4:04"), "{screen}");
    assert!(screen.contains("60x20 needed"), "{screen}");
}

#[test]
fn a_tiny_screen_still_shows_the_most_urgent_warning() {
    let screen = flowing(&rendered(&sample::warned(), &COLOUR, (44, 12)));
    assert!(screen.contains("SHUT the burner NOW"), "{screen}");
    assert!(screen.contains("shut the burner for 2 min: the hot face rises 96 K/h"), "{screen}");
}

#[test]
fn big_letters_fill_the_cue_and_change_with_every_second() {
    let rows = |countdown_s: f64| {
        let mut snapshot = sample::counting();
        snapshot.cue.as_mut().unwrap().changes_in = Some(Seconds(countdown_s));
        let buffer = rendered(&snapshot, &COLOUR, (80, 24));
        (2..7).map(|y| row_text(&buffer, y)).collect::<Vec<_>>()
    };
    let seconds: Vec<i32> = (11..131).chain(540..660).chain(3540..3600).collect();
    let mut seen: Vec<Vec<String>> = seconds.iter().map(|second| rows(f64::from(*second))).collect();
    assert!(seen[0].iter().all(|row| row.chars().filter(|c| "█▀▄".contains(*c)).count() >= 12));
    seen.sort();
    seen.dedup();
    assert_eq!(seen.len(), seconds.len());
}

#[test]
fn a_warning_that_wants_the_burner_shut_goes_before_a_pulse_that_runs_on() {
    let screen = flowing(&rendered(&sample::warned(), &HELP, (80, 24)));
    assert!(screen.contains("SHUT the burner NOW"), "{screen}");
}

#[test]
fn a_burner_that_is_not_as_the_plan_wants_is_asked_for_at_once() {
    let mut snapshot = sample::on_pulse();
    snapshot.burner.as_mut().unwrap().flame = Flame::Off;
    let screen = flowing(&rendered(&snapshot, &HELP, (80, 24)));
    assert!(screen.contains("LIGHT the burner NOW"), "{screen}");
}

#[test]
fn what_is_due_within_ten_seconds_is_filled() {
    let filled = |snapshot: &Snapshot| {
        let buffer = rendered(snapshot, &PLAIN, (80, 24));
        (1..7).all(|y| (0..80).all(|x| buffer[(x, y)].modifier.contains(Modifier::REVERSED)))
    };
    assert!(filled(&sample::pulse_ending()) && !filled(&sample::on_pulse()));
}

#[test]
fn the_help_says_everything_on_every_screen_it_opens_on() {
    for (columns, rows) in [(60, 20), (80, 24), (120, 40), (200, 60)] {
        let all: String = (0..8)
            .map(|page| {
                flowing(&rendered(
                    &sample::warned(),
                    &ViewState { open: Open::Help { page }, ..COLOUR },
                    (columns, rows),
                ))
            })
            .collect();
        for words in ["Shut the gas at the cylinder", "Step away from the opening", "fresh air", "danger", "you do."] {
            assert!(all.contains(words), "{words} at {columns}x{rows}");
        }
    }
}

#[test]
fn names_with_control_characters_do_not_reach_the_terminal() {
    let mut snapshot = sample::counting();
    snapshot.lining = "melter\u{1b}[2J\u{7}\r\n".to_owned();
    snapshot.channels[0].place = "\u{1b}]0;title\u{7}".to_owned();
    let (mut screen, written) = recorded((120, 40));
    screen.show(&snapshot, &COLOUR).unwrap();
    assert!(!written.borrow().windows(4).any(|bytes| bytes == b"\x1b[2J"));
    assert_eq!(bells(&written), 0);
}

#[test]
fn the_least_size_has_the_usual_panels() {
    let least = Rect::new(0, 0, LEAST_WIDTH, LEAST_HEIGHT);
    let placed: Vec<Panel> = panels(least, &sample::counting(), &COLOUR).into_iter().map(|(panel, _)| panel).collect();
    let expected = [
        Panel::Head,
        Panel::Cue,
        Panel::Strip,
        Panel::Ahead,
        Panel::Probes,
        Panel::Sections,
        Panel::Spoken,
        Panel::Foot,
    ];
    assert_eq!(placed, expected);
}

// The stream of a terminal, read back by a terminal emulator.

/// A writer whose bytes can be looked at.
#[derive(Clone, Default)]
struct Recorder(Rc<RefCell<Vec<u8>>>);

impl Write for Recorder {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.borrow_mut().write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

fn recorded((columns, rows): (u16, u16)) -> (Screen<Recorder>, Rc<RefCell<Vec<u8>>>) {
    let recorder = Recorder::default();
    let written = Rc::clone(&recorder.0);
    (Screen::fixed(recorder, columns, rows).unwrap(), written)
}

fn bells(written: &RefCell<Vec<u8>>) -> usize {
    String::from_utf8_lossy(&written.borrow()).matches('\u{7}').count()
}

fn assert_same_screen(emulator: &vt100::Screen, buffer: &Buffer) {
    for (y, x) in (0..buffer.area.height).flat_map(|y| (0..buffer.area.width).map(move |x| (y, x))) {
        let (seen, meant) = (emulator.cell(y, x).unwrap(), &buffer[(x, y)]);
        let symbol = if seen.has_contents() { seen.contents() } else { " " };
        assert_eq!(symbol, meant.symbol(), "at column {x}, row {y}");
        assert_eq!(seen.inverse(), meant.modifier.contains(Modifier::REVERSED), "reverse at column {x}, row {y}");
        assert_eq!(seen.bold(), meant.modifier.contains(Modifier::BOLD), "bold at column {x}, row {y}");
        let colour = match meant.fg {
            Color::Indexed(index) => vt100::Color::Idx(index),
            _ => vt100::Color::Default,
        };
        assert_eq!(seen.fgcolor(), colour, "colour at column {x}, row {y}");
    }
}

#[test]
fn a_terminal_shows_what_was_drawn_through_every_change() {
    let size = (80, 24);
    for view in [COLOUR, PLAIN] {
        let (mut screen, written) = recorded(size);
        let mut emulator = vt100::Parser::new(size.1.try_into().unwrap(), size.0.try_into().unwrap(), 0);
        for (_, snapshot) in STATES.iter().chain(STATES.iter().rev()) {
            screen.show(&snapshot(), &view).unwrap();
            emulator.process(&written.borrow_mut().split_off(0));
            assert_same_screen(emulator.screen(), &rendered(&snapshot(), &view, size));
        }
    }
}

#[test]
fn a_warning_rings_once() {
    let (mut screen, written) = recorded((80, 24));
    let mut snapshot = sample::warned();
    for second in 0..30 {
        snapshot.elapsed = Seconds(4360.0 + f64::from(second));
        screen.show(&snapshot, &COLOUR).unwrap();
    }
    assert_eq!(bells(&written), 1);
}

#[test]
fn a_warning_that_came_back_rings_again() {
    let (mut screen, written) = recorded((80, 24));
    let mut again = sample::warned();
    again.warnings[0].since = Seconds(4500.0);
    for snapshot in [sample::warned(), sample::on_pulse(), again] {
        screen.show(&snapshot, &COLOUR).unwrap();
    }
    assert_eq!(bells(&written), 2);
}

#[test]
fn a_silenced_warning_does_not_ring() {
    let (mut screen, written) = recorded((80, 24));
    screen.show(&sample::silenced(), &COLOUR).unwrap();
    assert_eq!(bells(&written), 0);
}

#[test]
fn nothing_is_written_when_nothing_changed() {
    let (mut screen, written) = recorded((80, 24));
    screen.show(&sample::counting(), &COLOUR).unwrap();
    written.borrow_mut().clear();
    screen.show(&sample::counting(), &COLOUR).unwrap();
    assert!(written.borrow().is_empty());
}

#[test]
fn a_second_that_passes_writes_a_small_part_of_the_screen() {
    let (mut screen, written) = recorded((80, 24));
    let mut snapshot = sample::counting();
    screen.show(&snapshot, &COLOUR).unwrap();
    let whole = written.borrow_mut().split_off(0).len();
    snapshot.elapsed = Seconds(4361.0);
    snapshot.remaining = Seconds(snapshot.remaining.0 - 1.0);
    snapshot.cue.as_mut().unwrap().changes_in = Some(Seconds(243.0));
    screen.show(&snapshot, &COLOUR).unwrap();
    let second = written.borrow().len();
    assert!(second * 4 < whole, "{second} of {whole} bytes");
}

#[test]
fn a_terminal_that_takes_nothing_is_an_error_and_no_panic() {
    struct Closed;
    impl Write for Closed {
        fn write(&mut self, _: &[u8]) -> io::Result<usize> {
            Err(io::Error::from(io::ErrorKind::BrokenPipe))
        }
        fn flush(&mut self) -> io::Result<()> {
            Err(io::Error::from(io::ErrorKind::BrokenPipe))
        }
    }
    let outcome = Screen::fixed(Closed, 80, 24).and_then(|mut screen| screen.show(&sample::counting(), &COLOUR));
    assert!(outcome.is_err());
}

// Keys.

fn key(code: KeyCode) -> KeyEvent {
    KeyEvent::new(code, KeyModifiers::NONE)
}

fn letter(c: char) -> KeyEvent {
    key(KeyCode::Char(c))
}

#[test]
fn the_burner_keys_work_whatever_stands_open() {
    for view in [COLOUR, HELP, QUIT] {
        assert_eq!(pressed(letter('o'), &sample::counting(), &view), Pressed::Say(Word::On));
        assert_eq!(pressed(letter('f'), &sample::counting(), &view), Pressed::Say(Word::Off));
        assert_eq!(pressed(letter('C'), &sample::counting(), &view), Pressed::Say(Word::Off));
    }
}

#[test]
fn the_space_bar_says_what_is_due_and_nothing_else() {
    assert_eq!(pressed(letter(' '), &sample::pulse_ending(), &COLOUR), Pressed::Say(Word::Off));
    assert_eq!(pressed(letter(' '), &sample::before_start(), &COLOUR), Pressed::Say(Word::On));
    assert_eq!(pressed(letter(' '), &sample::on_pulse(), &COLOUR), Pressed::Nothing);
}

#[test]
fn p_stops_the_clock_and_lets_it_go_on() {
    assert_eq!(pressed(letter('p'), &sample::counting(), &COLOUR), Pressed::Say(Word::Pause));
    assert_eq!(pressed(letter('P'), &sample::paused(), &COLOUR), Pressed::Say(Word::Resume));
}

#[test]
fn quitting_is_asked_before_it_is_done() {
    assert_eq!(pressed(letter('q'), &sample::counting(), &COLOUR), Pressed::Show(QUIT));
    assert_eq!(pressed(letter('q'), &sample::counting(), &QUIT), Pressed::Show(COLOUR));
    assert_eq!(pressed(letter('n'), &sample::counting(), &QUIT), Pressed::Show(COLOUR));
    assert_eq!(pressed(letter('y'), &sample::counting(), &QUIT), Pressed::Say(Word::Quit));
}

#[test]
fn control_c_asks_like_q_and_never_says_that_the_burner_is_shut() {
    let control_c = KeyEvent::new(KeyCode::Char('c'), KeyModifiers::CONTROL);
    assert_eq!(pressed(control_c, &sample::counting(), &COLOUR), Pressed::Show(QUIT));
}

#[test]
fn after_the_end_q_leaves_without_a_question() {
    assert_eq!(pressed(letter('q'), &sample::ended(), &COLOUR), Pressed::Say(Word::Quit));
    assert_eq!(pressed(letter('o'), &sample::ended(), &COLOUR), Pressed::Nothing);
}

#[test]
fn the_help_opens_turns_and_closes() {
    let second = ViewState { open: Open::Help { page: 1 }, ..COLOUR };
    assert_eq!(pressed(letter('?'), &sample::counting(), &COLOUR), Pressed::Show(HELP));
    assert_eq!(pressed(letter('h'), &sample::counting(), &HELP), Pressed::Show(second));
    assert_eq!(pressed(key(KeyCode::Esc), &sample::counting(), &second), Pressed::Show(COLOUR));
}

#[test]
fn silence_needs_something_to_silence() {
    assert_eq!(pressed(letter('s'), &sample::warned(), &COLOUR), Pressed::Say(Word::Silence));
    assert_eq!(pressed(letter('s'), &sample::counting(), &COLOUR), Pressed::Nothing);
}

#[test]
fn letting_a_key_go_says_nothing() {
    let release = KeyEvent { kind: KeyEventKind::Release, ..letter('o') };
    assert_eq!(pressed(release, &sample::counting(), &COLOUR), Pressed::Nothing);
}

#[test]
fn every_key_that_the_screen_names_does_something() {
    for (name, snapshot) in STATES {
        let snapshot = snapshot();
        let foot = row_text(&rendered(&snapshot, &COLOUR, (120, 40)), 39);
        for words in foot.split("   ").filter(|words| !words.trim().is_empty()) {
            let code = match words.trim().split(' ').next().unwrap() {
                "space" => ' ',
                one => one.chars().next().unwrap(),
            };
            assert_ne!(pressed(letter(code), &snapshot, &COLOUR), Pressed::Nothing, "`{code}` {name}");
        }
    }
}

// Without a screen.

#[test]
fn plain_lines_say_each_thing_once() {
    let mut plain = Plain::default();
    let first = plain.lines(&sample::on_pulse());
    assert_eq!(first.len(), sample::on_pulse().spoken.len() + 1);
    let new = plain.lines(&sample::warned());
    assert_eq!(
        new,
        [" 1:12:32  WARNING  barrel face: shut the burner for 2 min: the hot face rises 96 K/h, the coat stands 56"]
    );
}

#[test]
fn plain_lines_tell_every_minute_how_it_stands() {
    let mut plain = Plain::default();
    let mut snapshot = sample::counting();
    plain.lines(&snapshot);
    let mut count = 0;
    for _ in 0..600 {
        snapshot.elapsed = Seconds(snapshot.elapsed.0 + 1.0);
        count += plain.lines(&snapshot).len();
    }
    assert_eq!(count, 10);
}

#[test]
fn a_plain_line_is_one_line() {
    let mut snapshot = sample::counting();
    snapshot.spoken[0].text = "one\ntwo\u{1b}[2J".to_owned();
    snapshot.spoken[0].weight = Weight::Fault;
    let lines = Plain::default().lines(&snapshot);
    assert!(lines.iter().all(|line| !line.contains(char::is_control)), "{lines:?}");
}

#[test]
fn the_plain_status_names_the_next_thing_to_do_and_every_section() {
    let lines = Plain::default().lines(&sample::counting());
    insta::assert_snapshot!("plain_status", lines.last().unwrap());
}
