//! Quantities as the operator reads them.

use crate::plan::Flame;
use crate::reading::Fault;
use crate::run::Range;
use crate::units::{Celsius, KelvinPerHour, Seconds};
use unicode_truncate::UnicodeTruncateStr;

/// A count of seconds as whole seconds, or `None` when it is no number.
fn whole_s(span: Seconds, round: impl Fn(f64) -> f64) -> Option<u64> {
    span.0.is_finite().then(|| round(span.0.max(0.0)) as u64)
}

/// A time span as `h:mm:ss`, or `m:ss` below an hour.
pub(super) fn clock(span: Seconds) -> String {
    whole_s(span, f64::floor).map_or_else(|| "-:--".to_owned(), clock_of)
}

/// Time left until something: as [`clock`], but 0:00 only when it is over.
pub(super) fn until(span: Seconds) -> String {
    whole_s(span, f64::ceil).map_or_else(|| "-:--".to_owned(), clock_of)
}

fn clock_of(seconds: u64) -> String {
    let (hours, minutes, seconds) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    if hours > 0 { format!("{hours}:{minutes:02}:{seconds:02}") } else { format!("{minutes}:{seconds:02}") }
}

/// Time left in at most five characters for big figures: `m:ss`, `mm:ss`, or `1h05` from an hour on.
pub(super) fn until_big(span: Seconds) -> String {
    match whole_s(span, f64::ceil) {
        None => "-:--".to_owned(),
        Some(seconds) if seconds < 3600 => clock_of(seconds),
        Some(seconds) => format!("{}H{:02}", (seconds / 3600).min(99), seconds / 60 % 60),
    }
}

/// A length of time in loose words: `40 s`, `3 min`, `2 h`.
pub(super) fn age(span: Seconds) -> String {
    match whole_s(span, f64::floor) {
        None => "-".to_owned(),
        Some(seconds) if seconds < 100 => format!("{seconds} s"),
        Some(seconds) if seconds < 6000 => format!("{} min", seconds / 60),
        Some(seconds) => format!("{} h", seconds / 3600),
    }
}

/// A temperature in whole degrees.
pub(super) fn temp(temp: Celsius) -> String {
    format!("{} °C", whole(temp.0))
}

/// A rate with its sign.
pub(super) fn rate(rate: KelvinPerHour) -> String {
    if rate.0 < 0.0 { format!("−{}", whole(-rate.0)) } else { format!("+{}", whole(rate.0)) }
}

/// A number without decimals; never "-0".
pub(super) fn whole(number: f64) -> String {
    if number.is_finite() { format!("{}", number.round() as i64) } else { "-".to_owned() }
}

/// A range of a danger number.
pub(super) fn danger(range: Range) -> (String, String) {
    (format!("{:.2}", range.mid), format!("{:.2}–{:.2}", range.low, range.high))
}

/// A range as per cent of `whole_kg`: middle and span.
pub(super) fn share(range: Range, whole_kg: f64) -> (String, String) {
    let percent = |part_kg: f64| if whole_kg > 0.0 { whole(100.0 * part_kg / whole_kg) } else { "0".to_owned() };
    (format!("{} %", percent(range.mid)), format!("{}–{}", percent(range.low), percent(range.high)))
}

/// The state of a burner.
pub(super) fn flame(flame: Flame) -> &'static str {
    match flame {
        Flame::On => "ON",
        Flame::Off => "SHUT",
    }
}

/// A fault in a word or two for a table.
pub(super) fn fault(fault: Fault) -> &'static str {
    match fault {
        Fault::Open => "OPEN",
        Fault::Short => "SHORT",
        Fault::Reversed => "SWAPPED",
        Fault::Frozen => "STUCK",
        Fault::Stale => "SILENT",
        Fault::OutOfRange => "RANGE",
        Fault::Garbled => "GARBLED",
        Fault::Jumping => "JUMPS",
        Fault::Implausible => "ODD",
        Fault::WrongType => "TYPE",
        Fault::Drifting => "DRIFTS",
        Fault::Unnamed => "FAULT",
    }
}

/// What is behind a fault, for the same table.
pub(super) fn fault_cause(fault: Fault) -> &'static str {
    match fault {
        Fault::Open => "wire off or burnt",
        Fault::Short => "wires touch",
        Fault::Reversed => "wires swapped?",
        Fault::Frozen => "never moves",
        Fault::Stale => "nothing comes",
        Fault::OutOfRange => "impossible",
        Fault::Garbled => "no sense in it",
        Fault::Jumping => "noise or loose",
        Fault::Implausible | Fault::Drifting => "against others",
        Fault::WrongType => "set K or N?",
        Fault::Unnamed => "ask the board",
    }
}

/// Cells that `text` takes.
pub(super) fn width(text: &str) -> usize {
    ratatui::text::Span::raw(text).width()
}

/// `text` cut to `cells` cells, with an ellipsis where something is missing.
pub(super) fn fit(text: &str, cells: usize) -> String {
    if width(text) <= cells {
        return text.to_owned();
    }
    let (kept, _) = text.unicode_truncate(cells.saturating_sub(1));
    if cells == 0 { String::new() } else { format!("{}…", kept.trim_end()) }
}

/// `text` cut or filled with blanks on the right to `cells` cells.
pub(super) fn left(text: &str, cells: usize) -> String {
    let text = fit(text, cells);
    let blanks = cells.saturating_sub(width(&text));
    text + &" ".repeat(blanks)
}

/// `text` cut or filled with blanks on the left to `cells` cells.
pub(super) fn right(text: &str, cells: usize) -> String {
    let text = fit(text, cells);
    " ".repeat(cells.saturating_sub(width(&text))) + &text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_countdown_reaches_zero_only_at_the_change() {
        assert_eq!(until(Seconds(0.2)), "0:01");
        assert_eq!(until(Seconds(0.0)), "0:00");
        assert_eq!(until(Seconds(59.5)), "1:00");
    }

    #[test]
    fn big_figures_never_take_more_than_five_characters() {
        for seconds in [0.0, 59.0, 3599.9, 3600.0, 359_999.0, 1e12, f64::NAN] {
            assert!(until_big(Seconds(seconds)).len() <= 5, "{seconds}");
        }
    }

    #[test]
    fn a_time_that_is_no_number_is_shown_as_unknown() {
        assert_eq!(clock(Seconds(f64::NAN)), "-:--");
    }

    #[test]
    fn wide_characters_are_cut_by_cells() {
        assert_eq!(fit("上炉室", 5), "上炉…");
        assert_eq!(width(&left("上炉室", 4)), 4);
    }

    #[test]
    fn small_negative_numbers_are_zero() {
        assert_eq!(whole(-0.3), "0");
    }
}
