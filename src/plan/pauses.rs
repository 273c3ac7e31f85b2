//! Hours in which nobody is at the furnace, and so no pulse may fall.
//!
//! A watch is written as people say it: `08:00-18:00`, or `08:00-12:00,13:00-18:00`, or `18:00-02:00` over midnight. It holds
//! for every day, or for the days named before it: `Mon-Fri 08:00-16:00`. Clock times are those of the place; a change to or
//! from summer time on the way is not reckoned with.

use chrono::{Datelike, Duration, NaiveDate, NaiveDateTime, NaiveTime, Weekday};
use thiserror::Error;

use super::Round;
use crate::units::Seconds;

/// Days ahead for which pauses are worked out: a day more than the longest heat-up that is searched for.
const DAYS: i64 = 8;
/// From here on an off time is a pause to a person, not a part of a pulse.
pub const PAUSE: Seconds = Seconds(3600.0);

/// Why a start or a watch cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum WatchError {
    /// The start is no date and time.
    #[error("found the start `{found}`, expected a date and a time of day such as `2026-05-02 08:00`")]
    Start {
        /// As given.
        found: String,
    },
    /// A part of the watch is no span of hours.
    #[error(
        "found `{found}` in the watch, expected hours such as `08:00-18:00`, `08:00-12:00,13:00-18:00` or `Mon-Fri 08:00-16:00`"
    )]
    Hours {
        /// As given.
        found: String,
    },
    /// The heat-up would begin while nobody is there.
    #[error("found the start on {start}, outside the watch `{watch}`: begin when somebody is there")]
    Unwatched {
        /// When it would begin.
        start: String,
        /// The watch as given.
        watch: String,
    },
}

/// When somebody is at the furnace.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Watch {
    given: String,
    spans: Vec<Span>,
}

/// Hours of some days; they go over midnight when they end before they begin.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Span {
    /// For Monday to Sunday, whether it holds.
    days: [bool; 7],
    from: NaiveTime,
    to: NaiveTime,
}

/// Spans of a heat-up in which the burner stays off.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pauses {
    rests: Vec<Rest>,
}

#[derive(Clone, Debug, PartialEq)]
struct Rest {
    from: Seconds,
    to: Seconds,
    why: String,
}

/// Reads a date and time of day.
///
/// # Errors
/// When it is none.
pub fn parse_start(text: &str) -> Result<NaiveDateTime, WatchError> {
    let forms = ["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M:%S", "%Y-%m-%dT%H:%M:%S"];
    let read = forms.iter().find_map(|form| NaiveDateTime::parse_from_str(text.trim(), form).ok());
    read.ok_or_else(|| WatchError::Start { found: text.to_owned() })
}

impl Watch {
    /// Reads a watch.
    ///
    /// # Errors
    /// When a part of it is no span of hours.
    ///
    /// # Examples
    /// ```
    /// use firstheat::plan::pauses::Watch;
    ///
    /// assert!(Watch::parse("08:00-12:00, 13:00-18:00").is_ok());
    /// assert!(Watch::parse("in the morning").is_err());
    /// ```
    pub fn parse(text: &str) -> Result<Self, WatchError> {
        let spans = text.split(',').map(Span::parse).collect::<Result<_, _>>()?;
        Ok(Self { given: text.trim().to_owned(), spans })
    }

    /// Every moment from which somebody is there and until when, in order and joined where they touch, for days enough.
    fn hours(&self, first: NaiveDate) -> Vec<(NaiveDateTime, NaiveDateTime)> {
        let days = (-1..=DAYS).map(|day| first + Duration::days(day));
        let mut hours: Vec<_> = days.flat_map(|day| self.spans.iter().filter_map(move |span| span.on(day))).collect();
        hours.sort();
        let mut joined: Vec<(NaiveDateTime, NaiveDateTime)> = Vec::new();
        for (from, to) in hours {
            match joined.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => joined.push((from, to)),
            }
        }
        joined
    }
}

impl Span {
    fn parse(text: &str) -> Result<Self, WatchError> {
        let wrong = || WatchError::Hours { found: text.trim().to_owned() };
        let (days, hours) = match text.trim().rsplit_once(' ') {
            Some((days, hours)) => (days_of(days).ok_or_else(wrong)?, hours),
            None => ([true; 7], text.trim()),
        };
        let (from, to) = hours.split_once(['-', '–']).ok_or_else(wrong)?;
        let time = |text: &str| time_of(text.trim()).ok_or_else(wrong);
        let (from, to) = (time(from)?, time(to)?);
        if from == to { Err(wrong()) } else { Ok(Self { days, from, to }) }
    }

    /// When it begins and ends on `day`, if it holds then.
    fn on(&self, day: NaiveDate) -> Option<(NaiveDateTime, NaiveDateTime)> {
        let holds = self.days[day.weekday().num_days_from_monday() as usize];
        let end = if self.to > self.from { day } else { day + Duration::days(1) };
        holds.then(|| (day.and_time(self.from), end.and_time(self.to)))
    }
}

/// "18:00", or "24:00" for midnight.
fn time_of(text: &str) -> Option<NaiveTime> {
    if text == "24:00" {
        return Some(NaiveTime::MIN);
    }
    NaiveTime::parse_from_str(text, "%H:%M").ok()
}

/// "Mon-Fri" or "Sat".
fn days_of(text: &str) -> Option<[bool; 7]> {
    let day = |text: &str| Some(text.trim().parse::<Weekday>().ok()?.num_days_from_monday());
    let (first, last) = match text.split_once('-') {
        Some((first, last)) => (day(first)?, day(last)?),
        None => (day(text)?, day(text)?),
    };
    let mut days = [false; 7];
    let count = (last + 7 - first) % 7;
    (0..=count).for_each(|step| days[((first + step) % 7) as usize] = true);
    Some(days)
}

impl Pauses {
    /// Somebody is always there.
    pub const NONE: Self = Self { rests: Vec::new() };

    /// The pauses of a heat-up that begins at `start`, for somebody who is there in the hours of `watch`.
    ///
    /// # Errors
    /// When the start is not within the watch.
    pub fn of(watch: &Watch, start: NaiveDateTime) -> Result<Self, WatchError> {
        let hours = watch.hours(start.date());
        if !hours.iter().any(|(from, to)| (*from..*to).contains(&start)) {
            let start = start.format("%a %-d %B at %H:%M").to_string();
            return Err(WatchError::Unwatched { start, watch: watch.given.clone() });
        }
        let since = |moment: NaiveDateTime| Seconds((moment - start).num_seconds() as f64);
        let rests = hours.windows(2).filter(|pair| pair[0].1 > start).map(|pair| Rest {
            from: since(pair[0].1),
            to: since(pair[1].0),
            why: format!("nobody is there from {} to {}", pair[0].1.format("%H:%M"), words_of(pair[1].0, pair[0].1)),
        });
        Ok(Self { rests: rests.collect() })
    }

    /// Whether somebody is always there.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rests.is_empty()
    }

    /// Until when the burner has to stay off, if it has to be shut now or within `window`.
    #[must_use]
    pub fn before(&self, now: Seconds, window: Seconds) -> Option<Seconds> {
        let ahead = self.rests.iter().find(|rest| rest.to > now)?;
        (ahead.from < now + window).then_some(ahead.to)
    }

    /// Lengthens the last pulse's off time by `span`, so that the burner stays off until the pause is over.
    pub fn rest(&self, rounds: &mut Vec<Round>, span: Seconds) {
        let end = rounds.iter().map(|round| f64::from(round.count) * (round.on.0 + round.off.0)).sum::<f64>() + span.0;
        let why = self.rests.iter().find(|rest| (rest.to.0 - end).abs() < 1.0).map(|rest| rest.why.clone());
        let Some(last) = rounds.last_mut() else { return };
        let (firing, binds) = (last.firing.then_shut(), why.unwrap_or_default());
        let alone = Round { count: 1, on: last.on, off: last.off + span, firing, binds };
        if last.count > 1 {
            last.count -= 1;
            rounds.push(alone);
        } else {
            *last = alone;
        }
    }
}

/// A time of day, with its weekday when that is not the day after `before`'s or the same.
fn words_of(moment: NaiveDateTime, before: NaiveDateTime) -> String {
    let is_near = (moment.date() - before.date()).num_days() <= 1;
    moment.format(if is_near { "%H:%M" } else { "%a %H:%M" }).to_string()
}

/// Lengths into which a pause is cut to see how the lining cools: short at first, when it cools quickly.
pub fn cooling_steps(span: Seconds) -> impl Iterator<Item = Seconds> {
    let mut left_s = span.0;
    let mut step_s = 900.0;
    std::iter::from_fn(move || {
        let now_s = if left_s > 1.5 * step_s { step_s } else { left_s };
        left_s -= now_s;
        step_s *= 1.5;
        (now_s > 0.0).then_some(Seconds(now_s))
    })
}

/// Spans in which a person has to be at the furnace: from a light-up to the end of the last pulse before a pause.
#[must_use]
pub fn attended(rounds: &[Round]) -> Vec<(Seconds, Seconds)> {
    let mut spans: Vec<(Seconds, Seconds)> = Vec::new();
    let (mut at_s, mut from_s) = (0.0, None);
    for round in rounds {
        let from = *from_s.get_or_insert(at_s);
        let length_s = f64::from(round.count) * (round.on.0 + round.off.0);
        if round.off > PAUSE {
            let shut_s = at_s + length_s - round.off.0;
            spans.push((Seconds(from), Seconds(shut_s)));
            from_s = None;
        }
        at_s += length_s;
    }
    spans.extend(from_s.map(|from_s| (Seconds(from_s), Seconds(at_s))));
    spans
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::firing::Firing;

    fn pauses(watch: &str, start: &str) -> Result<Pauses, WatchError> {
        Pauses::of(&Watch::parse(watch)?, parse_start(start)?)
    }

    fn hours(pauses: &Pauses, count: usize) -> Vec<(f64, f64)> {
        pauses.rests.iter().take(count).map(|rest| (rest.from.hours(), rest.to.hours())).collect()
    }

    #[test]
    fn nights_are_pauses_of_a_watch_by_day() {
        let pauses = pauses("08:00-18:00", "2026-05-02 09:00").expect("a watch");
        assert_eq!(hours(&pauses, 2), [(9.0, 23.0), (33.0, 47.0)]);
    }

    #[test]
    fn a_watch_over_midnight_and_one_that_touches_the_next_are_one() {
        let night = pauses("18:00-02:00", "2026-05-02 19:00").expect("a watch");
        assert_eq!(hours(&night, 1), [(7.0, 23.0)]);
        let joined = pauses("08:00-24:00,00:00-06:00", "2026-05-02 08:00").expect("a watch");
        assert_eq!(hours(&joined, 1), [(22.0, 24.0)]);
    }

    /// 1 May 2026 is a Friday (any calendar).
    #[test]
    fn a_weekend_is_one_long_pause() {
        let pauses = pauses("Mon-Fri 08:00-16:00", "2026-05-01 08:00").expect("a watch");
        assert_eq!(hours(&pauses, 1), [(8.0, 72.0)]);
        assert_eq!(pauses.rests[0].why, "nobody is there from 16:00 to Mon 08:00");
    }

    #[test]
    fn what_is_no_watch_is_refused_with_what_was_found() {
        for (watch, start, said) in [
            ("morning", "2026-05-02 09:00", "found `morning` in the watch"),
            ("08:00-08:00", "2026-05-02 09:00", "found `08:00-08:00` in the watch"),
            ("Moon 08:00-09:00", "2026-05-02 09:00", "found `Moon 08:00-09:00` in the watch"),
            ("08:00-18:00", "tomorrow", "found the start `tomorrow`"),
            ("08:00-18:00", "2026-05-02 07:59", "found the start on Sat 2 May at 07:59, outside the watch"),
        ] {
            let refused = pauses(watch, start).expect_err("refused").to_string();
            assert!(refused.starts_with(said), "{refused}");
        }
    }

    #[test]
    fn a_pause_lengthens_the_last_pulse_and_no_other() {
        let pauses = pauses("08:00-18:00", "2026-05-02 08:00").expect("a watch");
        let (firing, binds) = (Firing::OnOff, "ramp".into());
        let round = Round { count: 3, on: Seconds(30.0), off: Seconds(270.0), firing, binds };
        let mut rounds = vec![round];
        pauses.rest(&mut rounds, Seconds(86_400.0 - 900.0));
        let told: Vec<_> = rounds.iter().map(|round| (round.count, round.off.0, round.binds.as_str())).collect();
        assert_eq!(told, [(2, 270.0, "ramp"), (1, 85_770.0, "nobody is there from 18:00 to 08:00")]);
        assert_eq!(attended(&rounds), [(Seconds(0.0), Seconds(630.0))]);
    }

    #[test]
    fn the_steps_of_a_pause_add_up_to_it() {
        for span_s in [60.0, 3600.0, 50_400.0, 230_400.0] {
            let sum_s: f64 = cooling_steps(Seconds(span_s)).map(|step| step.0).sum();
            assert!((sum_s - span_s).abs() < 1e-6, "{sum_s} of {span_s}");
        }
    }
}
