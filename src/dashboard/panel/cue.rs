//! What to do next with the burner, in letters that read from 3 m.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Modifier;
use ratatui::text::Span;

use crate::plan::Flame;
use crate::plan::firing::Setting;
use crate::run::{CueNow, FiresNow, PlanClock, Snapshot, ToldBy};
use crate::units::Seconds;
use crate::units::quantity::UnitSystem;

use super::{write, write_both};
use crate::dashboard::next::{Next, deed};
use crate::dashboard::{big, ink, words};

/// Cells of the bar at the left that shows a burning burner.
const BAR: u16 = 2;
/// Cells between pieces of a cue.
const BETWEEN: usize = 1;
/// From this width on it is said how the burner's state is known.
const WITH_SOURCE: u16 = 70;
/// Most pulses of a round that are drawn one by one.
const PIPS: u32 = 12;

/// Draws the panel: a line on the burner, the big words, a line with the reason.
pub(in crate::dashboard) fn draw(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot) {
    let next = Next::of(snapshot);
    let inner = Rect { x: area.x + BAR, width: area.width - BAR, ..area };
    draw_bar(area, buffer, snapshot);
    write_both(inner, 0, (burner(snapshot, inner.width), progress(snapshot)), buffer);
    draw_big(Rect { y: area.y + 1, height: big::HEIGHT, ..inner }, buffer, next, snapshot);
    write(
        inner,
        area.height - 1,
        vec![Span::styled(words::fit(&reason(next, snapshot), inner.width.into()), ink::quiet())],
        buffer,
    );
    if next.is_loud() {
        make_loud(Rect { height: area.height - 1, ..area }, buffer);
    }
}

/// Draws what matters of it in one row.
pub(in crate::dashboard) fn draw_line(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot) {
    let next = Next::of(snapshot);
    let style = if next.is_loud() { ink::loud() } else { ink::strong() };
    write_both(area, 0, (vec![Span::styled(in_full(next, snapshot), style)], burner(snapshot, area.width)), buffer);
    if next.is_loud() {
        make_loud(area, buffer);
    }
}

/// Fills `area`, so that it is seen from afar that something is due. Of a burning burner's colour, where there are colours.
fn make_loud(area: Rect, buffer: &mut Buffer) {
    buffer.set_style(area, ink::flame().patch(ink::loud()).remove_modifier(Modifier::DIM));
}

/// The next thing to do as a line.
pub(in crate::dashboard) fn in_words(next: Next) -> String {
    match next {
        Next::Begin => "LIGHT the burner when all is ready".to_owned(),
        Next::In(flame, span) => format!("{} the burner in {}", deed(flame), words::until(span)),
        Next::Now(flame) => format!("{} the burner NOW", deed(flame)),
        Next::SetIn(span) => format!("SET the fire in {}", words::until(span)),
        Next::SetNow => "SET the fire NOW".to_owned(),
        Next::Paused => "PAUSED: the plan's clock stands".to_owned(),
        Next::Stay(flame) => format!("STAY {}", words::flame(flame)),
        Next::Done => "DONE: the last pulse is over".to_owned(),
        Next::Ended => "ENDED".to_owned(),
    }
}

/// The next thing to do as a line, with what the fire or the control is to be set to.
pub(in crate::dashboard) fn in_full(next: Next, snapshot: &Snapshot) -> String {
    let to_set = match next {
        Next::Begin | Next::SetIn(_) | Next::SetNow | Next::In(Flame::On, _) | Next::Now(Flame::On) => fires(snapshot),
        _ => None,
    };
    let set = to_set.map_or_else(String::new, |fires| aimed(next, fires));
    if set.is_empty() { in_words(next) } else { format!("{}: {set}", in_words(next)) }
}

/// A burning burner has a solid bar, a shut one a thin line.
fn draw_bar(area: Rect, buffer: &mut Buffer, snapshot: &Snapshot) {
    let burns = snapshot.burner.is_some_and(|burner| burner.flame == Flame::On);
    let (symbol, style) = if burns { ("█", ink::flame()) } else { ("│", ink::quiet()) };
    for y in area.top()..area.bottom() {
        buffer[(area.x, y)].set_symbol(symbol).set_style(style);
    }
}

/// What is believed of the burner, and on a wide row how that is known.
fn burner(snapshot: &Snapshot, width: u16) -> Vec<Span<'static>> {
    let Some(burner) = snapshot.burner else {
        let not_yet = if snapshot.clock == PlanClock::Waiting { "not lit yet" } else { "nobody said" };
        return vec![Span::styled("burner ", ink::quiet()), Span::styled(not_yet, ink::strong())];
    };
    let by = match burner.told_by {
        _ if width < WITH_SOURCE => "",
        ToldBy::Operator => ", you said so",
        ToldBy::Readings => ", seen in the readings",
        ToldBy::Plan => ", as planned",
    };
    let since = Seconds(snapshot.elapsed.0 - burner.since.0);
    vec![
        Span::styled("burner ", ink::quiet()),
        Span::styled(format!("{}{}", words::flame(burner.flame), at_fire(snapshot)), ink::strong()),
        Span::styled(format!(" for {}{by}", words::clock(since)), ink::quiet()),
    ]
}

/// What a burning burner is set to: " at low", " at 85 °C".
fn at_fire(snapshot: &Snapshot) -> String {
    match fires(snapshot) {
        Some(FiresNow { set_point: Some(at), .. }) => format!(" at {:.0} °C", at.0),
        Some(FiresNow { set: Setting::Mark(fire), .. }) => format!(" at {}", fire.mark),
        _ => String::new(),
    }
}

/// Round and pulse.
fn progress(snapshot: &Snapshot) -> Vec<Span<'static>> {
    let Some(cue) = &snapshot.cue else { return Vec::new() };
    vec![
        Span::styled("round ", ink::quiet()),
        Span::styled(format!("{} of {}", cue.round, cue.rounds), ink::strong()),
        Span::styled("  pulse ", ink::quiet()),
        Span::styled(format!("{} of {}", cue.pulse, cue.pulses), ink::strong()),
        Span::styled(pips(cue), ink::text()),
    ]
}

/// One mark per pulse of the round, those begun filled.
fn pips(cue: &CueNow) -> String {
    if cue.pulses > PIPS {
        return String::new();
    }
    let mark = |pulse| if pulse <= cue.pulse { '▮' } else { '▯' };
    std::iter::once(' ').chain((1..=cue.pulses).map(mark)).collect()
}

/// Why it is so.
fn reason(next: Next, snapshot: &Snapshot) -> String {
    match next {
        Next::Begin => {
            let set = fires(snapshot).map_or_else(String::new, |fires| aimed(next, fires) + "; ");
            format!("{set}flame before gas, door open, nobody in line; then press o")
        }
        Next::Ended => "following is over; q leaves".to_owned(),
        Next::Done => "let it cool shut and slowly; q ends following and closes the log".to_owned(),
        Next::Paused => match snapshot.clock {
            PlanClock::Paused { since } => {
                format!("the plan's clock stands since {}; p lets it go on", words::clock(since))
            }
            _ => String::new(),
        },
        Next::Now(flame) | Next::Stay(flame) => warned(flame, snapshot).unwrap_or_else(|| {
            let set = fires(snapshot).map_or_else(String::new, |fires| aimed(next, fires));
            [set, overdue(next, flame)].into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join("; ")
        }),
        Next::SetIn(_) | Next::SetNow => match fires(snapshot) {
            Some(fires) if next.is_loud() => format!("{}; then press o", aimed(next, fires)),
            Some(fires) => aimed(next, fires),
            None => String::new(),
        },
        Next::In(..) if fires(snapshot).is_some() => {
            fires(snapshot).map_or_else(String::new, |fires| aimed(next, fires))
        }
        Next::In(..) => match &snapshot.cue {
            Some(cue) if !cue.binds.is_empty() => format!("held back by {}", cue.binds),
            _ => String::new(),
        },
    }
}

fn fires(snapshot: &Snapshot) -> Option<&FiresNow> {
    snapshot.cue.as_ref()?.fires.as_ref()
}

/// What the burner or its control is to be set to: "set it to low", "set 50 °C/h to 120 °C".
fn aimed(next: Next, fires: &FiresNow) -> String {
    let set = match next {
        Next::In(..) | Next::SetIn(_) => &fires.next,
        _ => &fires.wanted,
    };
    match set {
        Setting::Shut => String::new(),
        Setting::Full | Setting::Mark(_) => format!("set it to {}", set.words(UnitSystem::Metric)),
        Setting::Ramp { .. } => format!("set {}", set.words(UnitSystem::Metric)),
    }
}

fn warned(flame: Flame, snapshot: &Snapshot) -> Option<String> {
    let warning = snapshot.warnings.iter().find(|warning| warning.burner == Some(flame))?;
    Some(format!("because {}", warning.advice.reason))
}

fn overdue(next: Next, flame: Flame) -> String {
    match (next, flame) {
        (Next::Now(_), Flame::On) => "then press o",
        (Next::Now(_), Flame::Off) => "then press f",
        _ => "",
    }
    .to_owned()
}

/// A piece of a cue.
enum Piece {
    Big(String),
    Small(&'static str),
}

impl Piece {
    fn width(&self) -> usize {
        match self {
            Self::Big(text) => big::width(text),
            Self::Small(text) => words::width(text),
        }
    }
}

/// The first way to say it that fits, in the middle of `area`.
fn draw_big(area: Rect, buffer: &mut Buffer, next: Next, snapshot: &Snapshot) {
    let style = match snapshot.burner.map(|burner| burner.flame) {
        Some(Flame::On) => ink::flame(),
        _ => ink::text(),
    };
    let room = usize::from(area.width);
    let cells = |pieces: &[Piece]| pieces.iter().map(Piece::width).sum::<usize>() + BETWEEN * (pieces.len() - 1);
    let ways = ways(next);
    let Some(pieces) = ways.iter().find(|pieces| cells(pieces) <= room) else {
        buffer.set_stringn(area.x, area.y + big::HEIGHT / 2, in_words(next), room, ink::strong());
        return;
    };
    let mut x = area.x + ((room - cells(pieces)) / 2) as u16;
    for piece in pieces {
        match piece {
            Piece::Big(text) => big::write(text, Rect { x, width: area.right() - x, ..area }, style, buffer),
            Piece::Small(text) => {
                buffer.set_string(x, area.y + big::HEIGHT / 2, text, ink::strong());
            }
        }
        x += (piece.width() + BETWEEN) as u16;
    }
}

/// Ways to say `next`, the best to read first.
fn ways(next: Next) -> Vec<Vec<Piece>> {
    let big = |text: &str| Piece::Big(text.to_owned());
    match next {
        Next::Begin => vec![vec![big("LIGHT")]],
        Next::In(flame, span) => {
            let time = words::until_big(span);
            vec![
                vec![Piece::Big(format!("{} IN {time}", deed(flame)))],
                vec![big(deed(flame)), Piece::Small("in"), big(&time)],
                vec![Piece::Small(deed(flame)), Piece::Small("in"), big(&time)],
            ]
        }
        Next::Now(flame) => vec![vec![Piece::Big(format!("{} NOW", deed(flame)))]],
        Next::SetIn(span) => {
            let time = words::until_big(span);
            vec![
                vec![Piece::Big(format!("SET IN {time}"))],
                vec![big("SET"), Piece::Small("in"), big(&time)],
                vec![Piece::Small("SET"), Piece::Small("in"), big(&time)],
            ]
        }
        Next::SetNow => vec![vec![big("SET NOW")]],
        Next::Paused => vec![vec![big("PAUSED")]],
        Next::Stay(Flame::On) => vec![vec![big("STAY LIT")]],
        Next::Stay(Flame::Off) => vec![vec![big("STAY SHUT")]],
        Next::Done => vec![vec![big("DONE")]],
        Next::Ended => vec![vec![big("ENDED")]],
    }
}
